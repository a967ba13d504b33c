package main

import (
	"flag"
	"fmt"
	"io"
	"strings"
)

// flags is a flag set whose flags may also follow the positional arguments, that prints
// nothing by itself and whose every complaint is one sentence.
type flags struct {
	*flag.FlagSet
	command string
}

func newFlags(command string) *flags {
	f := &flags{flag.NewFlagSet(command, flag.ContinueOnError), command}
	f.SetOutput(io.Discard)
	f.Usage = func() {}
	return f
}

// parse reads all arguments and returns the positional ones; more than most is refused.
func (f *flags) parse(args []string, most int) ([]string, error) {
	var rest []string
	for len(args) > 0 {
		if err := f.FlagSet.Parse(args); err != nil {
			return nil, fmt.Errorf("%s: %v; 'handback help' shows how it is called", f.command, err)
		}
		args = f.Args()
		if len(args) > 0 {
			rest, args = append(rest, args[0]), args[1:]
		}
	}
	if len(rest) > most {
		return nil, fmt.Errorf("%s: %q is one argument too many", f.command, rest[most])
	}
	return rest, nil
}

// given tells whether a flag was set at all, for values whose absence means something.
func (f *flags) given(name string) bool {
	found := false
	f.Visit(func(g *flag.Flag) { found = found || g.Name == name })
	return found
}

// textList is a flag that may be given several times, in order.
type textList []string

func (l *textList) String() string     { return strings.Join(*l, " ") }
func (l *textList) Set(s string) error { *l = append(*l, s); return nil }
