package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestElectrodesCommand(t *testing.T) {
	got := answer(t, "electrodes", "--days", "14", "--interval", "3", "--per-set", "3",
		"--pack", "30", "--json")
	requireKeys(t, got, "sets", "electrodes", "spare", "total", "packs", "change_days")
	require.Equal(t, map[string]any{"sets": 5.0, "electrodes": 15.0, "spare": 3.0,
		"total": 18.0, "packs": 1.0, "change_days": []any{3.0, 6.0, 9.0, 12.0}}, got)
	got = answer(t, "electrodes", "--days", "3,5", "--interval", "3.5", "--per-set", "3", "--json")
	require.Nil(t, got["packs"])
	require.Equal(t, []any{}, got["change_days"])
	code, out, _ := call("electrodes", "--days", "14", "--interval", "3", "--per-set", "3",
		"--pack", "9")
	require.Zero(t, code)
	require.Equal(t, "18 electrodes in the kit\n5 sets, 15 electrodes, and 3 spare.\n"+
		"2 packs of 9.\nChange on day 3, 6, 9, 12.\n", out)
}

func TestElectrodesCommandRefuses(t *testing.T) {
	with := func(days, interval, perSet string) []string {
		return []string{"electrodes", "--days", days, "--interval", interval, "--per-set", perSet}
	}
	requireRefused(t, "--per-set", "electrodes", "--days", "14", "--interval", "3")
	requireRefused(t, "number of days", with("0", "3", "3")...)
	requireRefused(t, "number of days", with("14", "-3", "3")...)
	requireRefused(t, "whole number", with("14", "3", "3.5")...)
	requireRefused(t, "set has from", with("14", "3", "0")...)
	requireRefused(t, "whole number", append(with("14", "3", "3"), "--pack", "")...)
	requireRefused(t, "pack", append(with("14", "3", "3"), "--pack", "0")...)
	requireRefused(t, "10000 sets", with("3660", "0.000001", "3")...)
}

func TestBatteryCommand(t *testing.T) {
	got := answer(t, "battery", "--designation", "LR03", "--capacity", "1000", "--current",
		"2.0", "--days", "14", "--json")
	requireKeys(t, got, "hours", "cells", "change_day")
	require.Equal(t, map[string]any{"hours": 400.0, "cells": 2.0, "change_day": 13.0}, got)
	got = answer(t, "battery", "--designation", "CR2032", "--capacity", "225", "--current",
		"0.5", "--days", "7", "--cells", "2", "--json")
	require.Equal(t, map[string]any{"hours": 315.0, "cells": 2.0, "change_day": nil}, got)
	got = answer(t, "battery", "--designation", "HR03", "--capacity", "800", "--current",
		"2", "--days", "7", "--derating", "0.5", "--json")
	require.Equal(t, 200.0, got["hours"])
	code, out, _ := call("battery", "--designation", "CR2032", "--capacity", "225",
		"--current", "0.5", "--days", "14")
	require.Zero(t, code)
	require.Contains(t, out, "2 cells CR2032 in the kit\nOne set runs about 315.0 h")
	require.Contains(t, out, "Change every 10 days.\nCoin cells: keep away from children")
}

func TestBatteryCommandRefuses(t *testing.T) {
	with := func(more ...string) []string {
		return append([]string{"battery", "--designation", "LR03", "--capacity", "1000",
			"--current", "2.0", "--days", "14"}, more...)
	}
	requireRefused(t, "--capacity", "battery", "--designation", "LR03")
	requireRefused(t, "as printed on the cell", with("--designation", "AAA")...)
	requireRefused(t, "capacity in mAh", with("--capacity", "1000mAh")...)
	requireRefused(t, "current in mA", with("--current", "0")...)
	requireRefused(t, "number of days", with("--days", "two")...)
	requireRefused(t, "whole number", with("--cells", "+1")...)
	requireRefused(t, "from 1 to 24", with("--cells", "0")...)
	requireRefused(t, "derating", with("--derating", "1.1")...)
	requireRefused(t, "state one", with("--designation", "HR03")...)
}
