package wear

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func plan(t *testing.T, c Chemistry, mAh, perMille, uA int, d Days, inDevice int) BatteryPlan {
	t.Helper()
	p, err := PlanBattery(BatteryNeed{c, MicroampHours(mAh) * 1000, Microamps(uA),
		Derating(perMille) * 1000, d, inDevice})
	require.NoError(t, err)
	return p
}

// Worked values of run time = capacity × derating / mean current and sets = ceil(wear × 1.2 /
// run time); the formula is common practice, the reserve our own.
func TestRunTime(t *testing.T) {
	p := plan(t, Alkaline, 1000, 800, 2000, 14, 1)
	require.Equal(t, BatteryPlan{400, 2, 2, 13}, p, "403.2 h are needed, 400/1.2/24 = 13.9")
	require.Equal(t, 315.0, plan(t, LithiumCoin, 225, 700, 500, 7, 1).Hours)
	p = plan(t, Alkaline, 400, 800, 1000, 7, 1)
	require.Equal(t, BatteryPlan{320, 1, 1, 0}, p, "201.6 h are needed")
	require.Equal(t, 4, plan(t, Alkaline, 1000, 800, 2000, 14, 2).Cells)
}

func TestRunTimeBoundaries(t *testing.T) {
	require.Equal(t, 1, plan(t, Alkaline, 1008, 800, 2000, 14, 1).Sets, "403.2 h exactly")
	require.Equal(t, 2, plan(t, Alkaline, 1007, 800, 2000, 14, 1).Sets)
	require.Equal(t, 13, plan(t, Alkaline, 936, 800, 2000, 14, 1).ChangeDay, "374.4/28.8")
	require.Equal(t, 12, plan(t, Alkaline, 935, 800, 2000, 14, 1).ChangeDay)
	require.Zero(t, plan(t, Alkaline, 10, 800, 1000, 1, 1).ChangeDay, "8 h: within the day")
}

// Public care pages for size 675: 12 to 14 days once the tab is off, used or not.
func TestZincAirFollowsTheOpeningDay(t *testing.T) {
	p := plan(t, ZincAir, 600, 800, 500, 14, 1)
	require.Equal(t, BatteryPlan{960, 2, 2, 12}, p)
	require.Equal(t, 1, plan(t, ZincAir, 600, 800, 500, 12, 1).Sets)
	require.Equal(t, BatteryPlan{240, 2, 2, 8}, plan(t, ZincAir, 600, 800, 2000, 12, 1))
	require.Equal(t, 12, ZincAirDays())
}

// Worked value: 0.8 mA and 12 mA for 30 s an hour are 0.9 mA.
func TestMeanCurrent(t *testing.T) {
	mean := func(base, burst Microamps, s int) Microamps {
		m, err := MeanCurrent(base, burst, s)
		require.NoError(t, err)
		return m
	}
	require.Equal(t, Microamps(900), mean(800, 12_000, 30))
	require.Equal(t, Microamps(800), mean(800, 12_000, 0))
	require.Equal(t, Microamps(12_800), mean(800, 12_000, 3600))
	require.Equal(t, Microamps(801), mean(800, 1, 1), "rounded up")
	for _, bad := range [][3]int{{-1, 0, 0}, {0, -1, 0}, {0, 0, -1}, {0, 0, 3601},
		{10_000_001, 0, 0}} {
		_, err := MeanCurrent(Microamps(bad[0]), Microamps(bad[1]), bad[2])
		require.Error(t, err, bad)
	}
}

// Our own planning values; worked by hand: 0.8 × 0.85 × 0.9 × 0.9 = 0.5508.
func TestDerating(t *testing.T) {
	of := func(c Chemistry, cold bool, past int) Derating {
		d, err := DeratingOf(c, cold, past)
		require.NoError(t, err)
		return d
	}
	require.Equal(t, Derating(800_000), of(Alkaline, false, 0))
	require.Equal(t, Derating(800_000), of(ZincAir, false, 0))
	require.Equal(t, Derating(700_000), of(LithiumCoin, false, 0))
	require.Equal(t, Derating(700_000), of(LiIon, false, 0))
	require.Equal(t, Derating(900_000), of(Lithium15, false, 0))
	require.Equal(t, Derating(550_800), of(Alkaline, true, 2))
	require.Positive(t, of(Alkaline, true, 50))
	for _, c := range []Chemistry{Silver, NiMH, "wood"} {
		_, err := DeratingOf(c, false, 0)
		require.ErrorContains(t, err, "no derating")
	}
	for _, past := range []int{-1, 51} {
		_, err := DeratingOf(Alkaline, false, past)
		require.ErrorContains(t, err, "shelf life")
	}
}

func TestBatteryRefusals(t *testing.T) {
	good := BatteryNeed{Alkaline, 1_000_000, 2000, 800_000, 14, 1}
	for says, change := range map[string]func(*BatteryNeed){
		"capacity must":    func(n *BatteryNeed) { n.Capacity = 0 },
		"current must":     func(n *BatteryNeed) { n.Current = 0 },
		"derating must":    func(n *BatteryNeed) { n.Derating = million + 1 },
		"planned wear":     func(n *BatteryNeed) { n.Days = Days(math.NaN()) },
		"from 1 to 24":     func(n *BatteryNeed) { n.InDevice = 0 },
		"than 10000 cells": func(n *BatteryNeed) { n.Capacity = 1 },
	} {
		n := good
		change(&n)
		_, err := PlanBattery(n)
		require.ErrorContains(t, err, says)
	}
}

// Acceptance by open voltage: our own limits close to public LR03 and CR2032 sheets.
func TestAccept(t *testing.T) {
	cases := []struct {
		c    Chemistry
		v    Millivolts
		want Verdict
	}{
		{Alkaline, 1520, Remark}, {Alkaline, 1490, Refuse},
		{LithiumCoin, 3020, Use}, {LithiumCoin, 2900, Refuse},
		{Alkaline, 1550, Use}, {Alkaline, 1549, Remark}, {Alkaline, 1500, Remark},
		{Alkaline, 1499, Refuse}, {Alkaline, 1700, Use}, {Alkaline, 1701, Refuse},
		{LithiumCoin, 3000, Use}, {LithiumCoin, 2999, Remark}, {LithiumCoin, 2950, Remark},
		{LithiumCoin, 2949, Refuse}, {Lithium15, 1700, Use}, {Lithium15, 1699, Remark},
		{Lithium15, 1600, Remark}, {Lithium15, 1599, Refuse},
		{ZincAir, 1350, Use}, {ZincAir, 1349, Remark}, {ZincAir, 1300, Remark},
		{ZincAir, 1299, Refuse}, {LiIon, 4100, Use}, {LiIon, 4099, Remark},
		{LiIon, 4000, Remark}, {LiIon, 3999, Refuse}, {LiIon, 4251, Refuse},
		{NiMH, 1300, Use}, {NiMH, 1299, Remark}, {NiMH, 1250, Remark}, {NiMH, 1249, Refuse},
		{Alkaline, -1600, Refuse}, {Alkaline, 0, Refuse}, {Alkaline, 3000, Refuse},
	}
	for _, c := range cases {
		got, why, err := Accept(c.c, c.v)
		require.NoError(t, err)
		require.Equal(t, c.want, got, "%s %s", c.c, c.v)
		require.NotEmpty(t, why)
	}
	_, _, err := Accept(Silver, 1580)
	require.ErrorContains(t, err, "no voltage limits")
}

func TestAcceptSaysWhy(t *testing.T) {
	_, why, _ := Accept(Alkaline, 1520)
	require.Equal(t, "1.520 V is below 1.550 V: usable, but not like new.", why)
	_, why, _ = Accept(Alkaline, -1600)
	require.Contains(t, why, "reversed")
	_, why, _ = Accept(LiIon, 2499)
	require.Contains(t, why, "do not charge")
	_, why, _ = Accept(LiIon, 2500)
	require.NotContains(t, why, "do not charge")
	require.Equal(t, "-0.005 V", Millivolts(-5).String())
}

// A public LR03 specification sheet: at least 1.40 V under 3.9 ohm for 0.3 s.
func TestAcceptLoaded(t *testing.T) {
	for v, want := range map[Millivolts]Verdict{1400: Use, 1399: Refuse, -1500: Refuse} {
		got, why, err := AcceptLoaded("LR03", v)
		require.NoError(t, err)
		require.Equal(t, want, got)
		require.NotEmpty(t, why)
	}
	_, _, err := AcceptLoaded("CR2032", 3000)
	require.ErrorContains(t, err, "only known for LR03")
}
