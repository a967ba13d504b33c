package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// airClinic runs its recorders on zinc-air cells, 320 h by the maker: change day by hours is
// floor(320 / 1.2 / 24) = 11.
func airClinic(t testT, hours int) *clinic {
	c := newClinic(t)
	m := c.w.Models["M10"]
	m.Cell, m.CellCount, m.RunHours, m.WearDays = "PR44", 1, hours, 0
	c.w.Lots["T17"].Name = "PR44"
	return c
}

func (c *clinic) battery(pairs ...string) RecordStep {
	return RecordStep{Kit: "K18", Pieces: []string{"P18-1"}, Step: StepBattery,
		Answers: answers(append([]string{"cell", "T17", "latched", "yes"}, pairs...)...)}
}

// toBattery brings kit K18 to the battery of its recorder.
func (c *clinic) toBattery() Actor {
	ada := c.toWet()
	c.wetNow(ada)
	c.wait(61 * time.Second)
	c.look(ada, RecLooksWet)
	c.dryDone(ada)
	c.do(ada, RecordStep{Kit: "K18", Step: StepInspection, Answers: answers("sound", "yes")})
	return ada
}

// fromBattery goes on from there to the release.
func (c *clinic) fromBattery() {
	ada := c.actor("ada")
	step := func(pieces []string, s StepID, pairs ...string) {
		c.t.Helper()
		c.wait(30 * time.Second)
		c.do(ada, RecordStep{Kit: "K18", Pieces: pieces, Step: s, Answers: answers(pairs...)})
	}
	step([]string{"P18-2"}, StepBattery, "charge", "93")
	step(nil, StepAssignment, "ended", "yes", "wiped", "yes", "app_there", "yes", "lock", "yes",
		"updates", "yes")
	step([]string{"P18-1"}, StepFunction, "worn_by", "bench", "signal", "usable", "memory", "yes")
	step(nil, StepPacking, "complete", "yes", "sealed", "yes", "label", "CODE17R")
	c.do(ada, ReleaseKit{Kit: "K18"})
}

// A zinc-air cell runs down from the pull of its tab on, 12 to 14 days for size 675 (public care
// pages, function-test reference S37 and S38; the shorter end is planned).
func TestADayOfTheTab(t *testing.T) {
	c := airClinic(t, 320)
	ada := c.toBattery()
	today := c.now.Today()
	asked := func() (ids []string) {
		k, p := c.w.Kits["K18"], c.w.Pieces["P18-1"]
		for _, a := range WantedAsks(c.w, k, p, c.w.Procedures[c.w.InForce["M10"]], StepBattery) {
			ids = append(ids, a.ID)
		}
		return ids
	}
	require.Contains(t, asked(), askOpened)
	c.w.Models["M10"].Cell = "LR03"
	require.NotContains(t, asked(), askOpened, "other cells do not run down unused")
	c.w.Models["M10"].Cell = "PR44"
	c.refused("date", ada, c.battery(askOpened, string(today.AddDays(1))))
	c.refused("date", ada, c.battery(askOpened, "yesterday"))
	p := c.refused("cell_opened", ada, c.battery(askOpened, string(today.AddDays(-12))))
	require.Contains(t, p.Text, "planned for 12 days from then on")
	require.Contains(t, p.Fix, "tab is still on")
	c.do(ada, c.battery(askOpened, string(today.AddDays(-11))))
}

// Released, it is good for 12 days from the tab, whatever the box says; without a day the tab
// was pulled at the step. Other cells are good until the day on the box.
func TestAReleaseEndsWithTheZincAirCell(t *testing.T) {
	for _, x := range []struct {
		cell   string
		opened int // days before the step; 99: not told
		want   func(today, box Date) Date
	}{
		{"PR44", 99, func(today, _ Date) Date { return today.AddDays(11) }},
		{"PR44", 0, func(today, _ Date) Date { return today.AddDays(11) }},
		{"PR44", 5, func(today, _ Date) Date { return today.AddDays(6) }},
		{"LR03", 99, func(_, box Date) Date { return box }},
	} {
		c := airClinic(t, 320)
		c.w.Models["M10"].Cell, c.w.Lots["T17"].Name = x.cell, x.cell
		c.toBattery()
		var told []string
		if x.opened != 99 {
			told = []string{askOpened, string(c.now.Today().AddDays(-x.opened))}
		}
		c.do(c.actor("ada"), c.battery(told...))
		c.fromBattery()
		r := c.w.Kits["K18"].Release
		require.Equal(t, x.want(c.now.Today(), c.w.Lots["T17"].Expiry), r.CellUntil, x.cell)
	}
	// A box that ends before the cell would.
	c := airClinic(t, 320)
	c.toBattery()
	c.w.Lots["T17"].Expiry = c.now.Today().AddDays(3)
	c.do(c.actor("ada"), c.battery())
	c.fromBattery()
	require.Equal(t, c.now.Today().AddDays(3), c.w.Kits["K18"].Release.CellUntil)
}

// A loan may be longer than the fitted cell: it is changed by the plan. The cell has to have a
// day or more, and the box has to be good beyond the loan.
func TestHandingOutAZincAirCell(t *testing.T) {
	c := airClinic(t, 320)
	c.toBattery()
	c.do(c.actor("ada"), c.battery())
	c.fromBattery()
	dan, hand := c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 14}
	c.wait(11 * 24 * time.Hour)
	c.w.Lots["T17"].Expiry = c.now.Today().AddDays(13)
	p := c.refused("cell_expiry", dan, hand)
	require.Contains(t, p.Text, "The cells are good until")
	c.w.Lots["T17"].Expiry = c.now.Today().AddDays(14)
	c.do(dan, hand) // one day is left of the fitted cell
	plan, p := PlanLoan(c.w, c.w.Kits["K18"], 14, c.now.Today())
	require.Nil(t, p)
	require.Equal(t, []int{1, 12}, plan.BatteryDays())
}

// After the twelfth day it is not ready any more; a fresh cell at the counter, where the
// procedure allows it, counts from the day it is fitted.
func TestAZincAirCellEndsOnTheShelf(t *testing.T) {
	c := airClinic(t, 320)
	c.toBattery()
	c.do(c.actor("ada"), c.battery())
	c.fromBattery()
	opened := c.now.Today()
	c.wait(11 * 24 * time.Hour)
	require.True(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
	c.wait(24 * time.Hour)
	a := CanHandOut(c.w, c.w.Kits["K18"], c.now)
	require.Equal(t, "cell_expired", a.Rule)
	require.Contains(t, a.Reason, "planned until "+Day(opened.AddDays(11))+", by the day its tab was pulled")

	c.refused("not_released", c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 14})
	c.w.Procedures[c.w.InForce["M10"]].CellAtOut = true
	require.True(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released, "a fresh one is fitted there")
	p := c.refused("cell_expired", c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 14})
	require.Contains(t, p.Fix, "choose its box")
	c.do(c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 14, Cell: "T17"})
	plan, p := PlanLoan(c.w, c.w.Kits["K18"], 14, c.now.Today())
	require.Nil(t, p)
	require.Equal(t, []int{11}, plan.BatteryDays(), "not the days of the one that was taken out")
}

// The plan of a loan goes by the opening: what is left of the fitted cell, then a whole set each
// time. 14 days at 11 a set: 2 sets; with 3 days left: 3, then 11 more: 2; with 2 left: 2, 13: 3.
// At 240 h a set lasts floor(240 / 1.2 / 24) = 8 days, so 9 left change nothing.
func TestThePlanOfALoanGoesByTheOpening(t *testing.T) {
	for _, x := range []struct {
		hours, left, days int
		want              []int
		cells             int
	}{
		{320, 12, 14, []int{11}, 2}, {320, 11, 14, []int{11}, 2}, {320, 10, 14, []int{10}, 2},
		{320, 3, 14, []int{3}, 2}, {320, 2, 14, []int{2, 13}, 3}, {320, 1, 1, nil, 1},
		{320, 6, 7, []int{6}, 2}, {320, 7, 7, nil, 1}, {240, 9, 14, []int{8}, 2},
		{240, 8, 14, []int{8}, 2}, {240, 7, 14, []int{7}, 2}, {240, 5, 14, []int{5, 13}, 3},
	} {
		c := airClinic(t, x.hours)
		k, begin := c.w.Kits["K18"], c.now.Today()
		k.Release = &Release{CellUntil: begin.AddDays(x.left - 1)}
		plan, p := PlanLoan(c.w, k, x.days, begin)
		require.Nil(t, p)
		require.Equal(t, x.want, plan.BatteryDays(), "%+v", x)
		require.Equal(t, x.cells, plan.Battery.Cells, "%+v", x)
		require.Equal(t, x.cells-1, plan.CarriedCells(), "%+v", x)
	}
	c := airClinic(t, 320)
	c.w.Models["M10"].Cell = "LR03"
	c.w.Kits["K18"].Release = &Release{CellUntil: c.now.Today().AddDays(2)}
	plan, p := PlanLoan(c.w, c.w.Kits["K18"], 14, c.now.Today())
	require.Nil(t, p)
	require.Equal(t, []int{11}, plan.BatteryDays(), "the day on the box is no day of opening")
}
