package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Exit codes, the same for all commands: answered whatever the verdict; a difference or a
// failed export; not understood or not readable.
const (
	exitAnswered   = 0
	exitDifference = 1
	exitRefused    = 2
)

// productName is the working name; it appears in help and on screens, never in stored bytes.
const productName = "handback"

// streams are the three standard streams, so that tests run a command in process.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

// command is one row of the command table.
type command struct {
	name  string
	usage string // what stands after the name in help
	about string // one line of help
	run   func(ctx context.Context, args []string, s streams) error
}

// errDifference ends a command with exit 1 after it has already printed what differs.
var errDifference = errors.New("difference")

// failure is an error of exit 1 that still has to be printed: an export that broke off.
type failure struct{ error }

// run finds the command, runs it and turns its error into one line and an exit code.
// A panic would also exit 2, with a stack trace; none may happen, so it is caught and named.
func run(ctx context.Context, args []string, s streams) (code int) {
	defer func() {
		if p := recover(); p != nil {
			fmt.Fprintf(s.err, "%s: internal fault, please report it: %v\n", productName, p)
			code = exitRefused
		}
	}()
	if len(args) == 0 || args[0] == "help" || args[0] == "-h" || args[0] == "--help" {
		printHelp(s.out)
		return exitAnswered
	}
	for _, c := range commands() {
		if c.name == args[0] {
			return runOne(ctx, c, args[1:], s)
		}
	}
	return refuse(s, fmt.Errorf("there is no command %q; 'handback help' lists them", args[0]))
}

// runOne buffers nothing: long-running commands write as they go. A refusal must leave
// standard output empty, so commands print only once they know their answer.
func runOne(ctx context.Context, c command, args []string, s streams) int {
	err := c.run(ctx, args, s)
	var f failure
	switch {
	case err == nil:
		return exitAnswered
	case errors.Is(err, errDifference):
		return exitDifference
	case errors.As(err, &f):
		refuse(s, f.error)
		return exitDifference
	}
	return refuse(s, err)
}

// refuse prints exactly one line on standard error.
func refuse(s streams, err error) int {
	text := strings.Join(strings.Fields(err.Error()), " ")
	fmt.Fprintf(s.err, "%s: %s\n", productName, text)
	return exitRefused
}

func printHelp(w io.Writer) {
	fmt.Fprintf(w, "%s: take back, reprocess, release and hand out lent recorders.\n\n", productName)
	for _, c := range commands() {
		fmt.Fprintf(w, "  %-10s %s\n  %-10s   %s\n", c.name, c.about, "", c.usage)
	}
}

// printJSON writes one object on one line, numbers unrounded, HTML characters as they are.
func printJSON(w io.Writer, v any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}
