package main

import (
	"bytes"
	"context"
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// call runs a command in process.
func call(args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	code = run(context.Background(), args, streams{strings.NewReader(""), &o, &e})
	return code, o.String(), e.String()
}

// answer runs a command that must answer with one JSON object and nothing else.
func answer(t *testing.T, args ...string) map[string]any {
	t.Helper()
	code, out, errs := call(args...)
	require.Zero(t, code, errs)
	require.Empty(t, errs)
	var got map[string]any
	require.NoError(t, json.Unmarshal([]byte(out), &got), out)
	return got
}

// requireKeys compares the exact set of keys.
func requireKeys(t *testing.T, got map[string]any, keys ...string) {
	t.Helper()
	require.ElementsMatch(t, keys, slices.Collect(maps.Keys(got)))
}

// requireRefused wants exit 2, an empty standard output and exactly one line that says so.
func requireRefused(t *testing.T, says string, args ...string) {
	t.Helper()
	code, out, errs := call(args...)
	require.Equal(t, exitRefused, code, "%v", args)
	require.Empty(t, out)
	require.Equal(t, 1, strings.Count(errs, "\n"), errs)
	require.Contains(t, errs, says)
}
