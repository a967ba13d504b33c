package main

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestReadmeAndChecksRunTheSameLine: whoever copies the README's test line runs what the
// build machine runs.
func TestReadmeAndChecksRunTheSameLine(t *testing.T) {
	want := installLine(t, "../../README.md")
	require.Equal(t, want, installLine(t, "../../.ci/run"))
	require.True(t, strings.HasSuffix(want, "&& go test ./..."), want)
	for _, check := range []string{"gofmt -l .", "go vet ./...", "go tool staticcheck ./...",
		"go mod tidy -diff", "set -euo pipefail"} {
		require.Contains(t, read(t, "../../.ci/run"), check)
	}
	require.Contains(t, read(t, "../../README.md"), "go run ./cmd/handback demo")
}

// installLine finds the one line that installs packages.
func installLine(t *testing.T, path string) string {
	t.Helper()
	var found []string
	for line := range strings.Lines(read(t, path)) {
		if strings.Contains(line, "apt-get install") {
			found = append(found, strings.TrimSuffix(line, "\n"))
		}
	}
	require.Len(t, found, 1, path)
	return found[0]
}

func read(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(b)
}
