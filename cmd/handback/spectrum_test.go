package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSpectrumCommand(t *testing.T) {
	got := answer(t, "spectrum", "--flag", "gastro", "--claim", "BAC:30", "--claim", "FUN:60",
		"--claim", "VIR-F:90", "--json")
	requireKeys(t, got, "needed", "covered", "missing", "contact_seconds", "verdict", "why")
	require.Equal(t, []any{"BAC", "YEA", "VIR-L"}, got["needed"])
	require.Equal(t, map[string]any{
		"BAC":   map[string]any{"by": "BAC", "seconds": 30.0},
		"YEA":   map[string]any{"by": "FUN", "seconds": 60.0},
		"VIR-L": map[string]any{"by": "VIR-F", "seconds": 90.0},
	}, got["covered"])
	require.Equal(t, []any{}, got["missing"])
	require.Equal(t, 90.0, got["contact_seconds"])
	require.Equal(t, "pass", got["verdict"])
	require.NotEmpty(t, got["why"])
}

func TestSpectrumCommandFailAndStop(t *testing.T) {
	got := answer(t, "spectrum", "--flag", "c-difficile", "--claim", "BAC:60",
		"--claim", "YEA:60", "--json")
	require.Equal(t, "fail", got["verdict"])
	require.Equal(t, []any{"SPO"}, got["missing"])
	require.Nil(t, got["contact_seconds"])

	got = answer(t, "spectrum", "--flag", "prion", "--claim", "SPO:60", "--json")
	require.Equal(t, "stop", got["verdict"])
	require.Nil(t, got["contact_seconds"])

	got = answer(t, "spectrum", "--flag", "none", "--json")
	require.Equal(t, "fail", got["verdict"])
	require.Equal(t, map[string]any{}, got["covered"])
	require.Equal(t, []any{"BAC", "YEA"}, got["missing"])
}

func TestSpectrumCommandPlainText(t *testing.T) {
	code, out, errs := call("spectrum", "--claim", "BAC:60", "--claim", "YEA:30")
	require.Zero(t, code)
	require.Empty(t, errs)
	require.Equal(t, "pass\nBAC is claimed at 60 s.\nYEA is claimed at 30 s.\n"+
		"Keep the surface wet for 60 s without a break.\n", out)
}

func TestSpectrumCommandRefuses(t *testing.T) {
	requireRefused(t, "not a flag of a return", "spectrum", "--flag", "cholera")
	requireRefused(t, "cannot stand beside", "spectrum", "--flag", "none", "--flag", "tb")
	requireRefused(t, "whole seconds", "spectrum", "--claim", "BAC:0")
	requireRefused(t, "write it like BAC:60", "spectrum", "--claim", "BAC")
	requireRefused(t, "one argument too many", "spectrum", "BAC:60")
	requireRefused(t, "flag provided but not defined", "spectrum", "--clam", "BAC:60")
}
