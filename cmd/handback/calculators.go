package main

import (
	"fmt"
	"io"
	"strconv"
	"strings"
)

// parseEach reads every text of a repeated flag; the first that cannot be read is the error.
func parseEach[T any](texts []string, read func(string) (T, error)) ([]T, error) {
	out := make([]T, 0, len(texts))
	for _, s := range texts {
		v, err := read(s)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// printText writes the answer for people: a heading line, then one line each.
func printText(w io.Writer, heading string, lines ...string) error {
	_, err := fmt.Fprintln(w, strings.Join(append([]string{heading}, lines...), "\n"))
	return err
}

// demand refuses the first flag that was not given at all.
func (f *flags) demand(names ...string) error {
	for _, name := range names {
		if !f.given(name) {
			return fmt.Errorf("%s: --%s is missing; 'handback help' shows how it is called",
				f.command, name)
		}
	}
	return nil
}

// parseCount reads a whole number of at least 0: ASCII digits only, at most nine of them.
func parseCount(name, s string) (int, error) {
	n, err := strconv.Atoi(s)
	if err != nil || len(s) > 9 || strings.Trim(s, "0123456789") != "" {
		return 0, fmt.Errorf("--%s takes a whole number, not %q", name, s)
	}
	return n, nil
}
