package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

var lookbackFixture = filepath.Join("..", "..", "testdata", "checks", "lookback")

// The worked example of our own; expected lists worked out by hand.
func TestLookbackCommand(t *testing.T) {
	ask := func(asOf string) map[string]any {
		return answer(t, "lookback", "--records", lookbackFixture, "--lot", "L7", "--from",
			"2027-03-01 09:00", "--to", "2027-03-03T12:00:00Z", "--as-of", asOf, "--json")
	}
	got := ask("2027-03-03 18:00:00")
	want := map[string]any{"cycles": []any{"C2", "C4", "C5"}, "caught": []any{},
		"exposed": []any{"W2", "W4", "W5"}, "unreleased": []any{},
		"sources": map[string]any{"W2": []any{"W1"}, "W4": []any{"Wx"}, "W5": []any{"Wx", "W4"}},
		"recall":  []any{"D2"}, "embargo": []any{}, "restart": []any{}, "unresolved": []any{},
		"wearers": 3.0}
	require.Equal(t, want, got)
	want["recall"] = []any{}
	require.Equal(t, want, ask("2027-03-07 00:00"))
}

func TestLookbackCommandFindsNothing(t *testing.T) {
	got := answer(t, "lookback", "--records", lookbackFixture, "--lot", "L9", "--json")
	requireKeys(t, got, "cycles", "caught", "exposed", "unreleased", "sources", "recall",
		"embargo", "restart", "unresolved", "wearers")
	require.Equal(t, map[string]any{}, got["sources"])
	require.Equal(t, []any{}, got["cycles"])
}

func TestLookbackCommandPlainText(t *testing.T) {
	code, out, _ := call("lookback", "--records", lookbackFixture, "--lot", "L7", "--piece",
		"D2", "--as-of", "2027-03-03 18:00")
	require.Zero(t, code)
	require.Equal(t, "2 cycles affected, 2 loans exposed, 2 wearers\ncycles: C4, C5\n"+
		"call back: D2\nexposed: W4, after Wx\nexposed: W5, after Wx, W4\n"+
		"For infection control; do not contact wearers from this list yourself.\n", out)
}

func TestLookbackCommandRefuses(t *testing.T) {
	with := func(more ...string) []string {
		return append([]string{"lookback", "--records", lookbackFixture}, more...)
	}
	requireRefused(t, "at least one key", with()...)
	requireRefused(t, "--data or --records is missing", "lookback", "--lot", "L7")
	requireRefused(t, "not both", with("--data", "x", "--lot", "L7")...)
	requireRefused(t, "no ledger in x", "lookback", "--data", "x", "--lot", "L7")
	requireRefused(t, "--lot is empty", with("--lot", "")...)
	requireRefused(t, "only lots and devices", with("--person", "p")...)
	requireRefused(t, "not a time", with("--from", "yesterday")...)
	requireRefused(t, "not a time", with("--lot", "L7", "--as-of", "")...)
	requireRefused(t, "window holds nothing", with("--from", "2027-03-02 00:00", "--to",
		"2027-03-01 00:00")...)
	requireRefused(t, "cycles.csv cannot be read", "lookback", "--records", t.TempDir(),
		"--lot", "L7")
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "cycles.csv"), []byte("a,b\n"), 0o600))
	requireRefused(t, "cycles.csv: the first line must be", "lookback", "--records", dir,
		"--lot", "L7")
}
