package main

import (
	"fmt"
	"io"
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
