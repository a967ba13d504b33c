package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSampleCommand(t *testing.T) {
	got := answer(t, "sample", "--population", "100", "--rate", "5%", "--confidence", "95%", "--json")
	requireKeys(t, got, "n", "tolerated", "review_all")
	require.Equal(t, map[string]any{"n": 45.0, "tolerated": 5.0, "review_all": false}, got)
	got = answer(t, "sample", "--rate", "5%", "--confidence", "95%", "--json")
	require.Equal(t, map[string]any{"n": 59.0, "tolerated": nil, "review_all": false}, got)
	got = answer(t, "sample", "--population", "99", "--rate", "1%", "--confidence", "95%", "--json")
	require.Equal(t, map[string]any{"n": 99.0, "tolerated": 0.0, "review_all": true}, got)
	got = answer(t, "sample", "--rate", "10%", "--confidence", "97.5%", "--failures", "2", "--json")
	require.Equal(t, 70.0, got["n"])
	code, out, _ := call("sample", "--population", "28", "--rate", "5%", "--confidence", "95%")
	require.Zero(t, code)
	require.Equal(t, "read all 28 records\n", out)
	_, out, _ = call("sample", "--rate", "5%", "--confidence", "95%")
	require.Equal(t, "read 59 records\n", out)
}

func TestSampleCommandRefuses(t *testing.T) {
	with := func(rate, confidence string, more ...string) []string {
		return append([]string{"sample", "--rate", rate, "--confidence", confidence}, more...)
	}
	requireRefused(t, "--rate is missing", "sample", "--confidence", "95%")
	for _, bad := range []string{"0%", "100%", "-1%", "5", "0.05", ""} {
		requireRefused(t, "write it like 5%", with(bad, "95%")...)
		requireRefused(t, "write it like 5%", with("5%", bad)...)
	}
	requireRefused(t, "whole number", with("5%", "95%", "--failures", "-1")...)
	requireRefused(t, "failures allowed", with("5%", "95%", "--failures", "101")...)
	requireRefused(t, "whole number", with("5%", "95%", "--population", "1e3")...)
	requireRefused(t, "population must be", with("5%", "95%", "--population", "0")...)
}
