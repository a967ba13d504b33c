package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Source of the rows: the electrode table of the function-test reference, section 6; spare is
// one set in five begun. Change days are k × interval.
func TestElectrodesOfTheTable(t *testing.T) {
	for _, x := range []struct {
		days     int
		interval string
		total    int
		changes  []int
	}{{14, "3", 18, []int{3, 6, 9, 12}}, {14, "2", 27, []int{2, 4, 6, 8, 10, 12}},
		{7, "3", 12, []int{3, 6}}, {7, "2", 15, []int{2, 4, 6}}, {1, "3", 6, nil}, {2, "2", 6, nil},
		{30, "3", 36, []int{3, 6, 9, 12, 15, 18, 21, 24, 27}},
		{14, "3.5", 15, []int{3, 7, 10}}} { // half days go to the earlier day
		c := newClinic(t)
		m := c.w.Models["M10"]
		m.ElectrodeInterval, m.PerSet = x.interval, 3
		plan, p := PlanPack(c.w, c.w.Kits["K18"], x.days)
		require.Nil(t, p)
		require.Equal(t, x.total, plan.Electrodes.Total, "%d days at %s", x.days, x.interval)
		require.Equal(t, x.changes, plan.ElectrodeDays(), "%d days at %s", x.days, x.interval)
	}
}

// sets = ceil(wear hours × 1.2 / run time), change day = floor(run time / 1.2 / 24)
// (function-test reference, 5.3). 336 h × 1.2 = 403.2 h.
func TestCellsByTheMakersRunTime(t *testing.T) {
	for _, x := range []struct {
		hours, count, carried int
		changes               []int
	}{{404, 1, 0, nil}, {403, 1, 1, []int{13}}, {202, 1, 1, []int{7}}, {201, 2, 4, []int{6, 12}},
		{20, 1, 20, nil}} { // within a day: no day can be named
		c := newClinic(t)
		m := c.w.Models["M10"]
		m.Cell, m.CellCount, m.RunHours = "LR03", x.count, x.hours
		plan, p := PlanPack(c.w, c.w.Kits["K18"], 14)
		require.Nil(t, p)
		require.Equal(t, x.carried, plan.CarriedCells(), "%d h", x.hours)
		require.Equal(t, x.changes, plan.BatteryDays(), "%d h", x.hours)
	}
}

// Capacity × derating / current: 1000 mAh × 0.8 / 2 mA = 400 h, so 14 days need two sets; the
// maker's run time wins where it is stated.
func TestCellsByCapacityAndCurrent(t *testing.T) {
	c := newClinic(t)
	m := c.w.Models["M10"]
	m.Cell, m.CellCount, m.CapacityMAh, m.CurrentUA = "LR03", 1, 1000, 2000
	plan, p := PlanPack(c.w, c.w.Kits["K18"], 14)
	require.Nil(t, p)
	require.Equal(t, 400.0, plan.Battery.Hours)
	require.Equal(t, 1, plan.CarriedCells())
	require.False(t, plan.Swallow)
	m.RunHours = 404
	plan, _ = PlanPack(c.w, c.w.Kits["K18"], 14)
	require.Zero(t, plan.CarriedCells())
	m.Cell = "CR2032"
	plan, _ = PlanPack(c.w, c.w.Kits["K18"], 14)
	require.True(t, plan.Swallow, "the coin-cell caution goes along")
}

// What the model does not state is not guessed; days outside their bounds are refused.
func TestNothingIsPlannedFromNothing(t *testing.T) {
	c := newClinic(t)
	plan, p := PlanPack(c.w, c.w.Kits["K18"], 14)
	require.Nil(t, p)
	require.Nil(t, plan.Electrodes)
	require.Nil(t, plan.Battery)
	require.Empty(t, plan.PutIn())
	for days, ok := range map[int]bool{0: false, 1: true, 400: true, 401: false} {
		_, p := PlanPack(c.w, c.w.Kits["K18"], days)
		require.Equal(t, ok, p == nil, "%d days", days)
	}
}

// The bounds of what a model may state.
func TestWhatAModelStatesOfWear(t *testing.T) {
	for name, x := range map[string]struct {
		ok  func(*Model)
		bad func(*Model)
	}{
		"cells":     {func(m *Model) { m.CellCount = 12 }, func(m *Model) { m.CellCount = 13 }},
		"capacity":  {func(m *Model) { m.CapacityMAh = 100_000 }, func(m *Model) { m.CapacityMAh = 100_001 }},
		"current":   {func(m *Model) { m.CurrentUA = 1_000_000 }, func(m *Model) { m.CurrentUA = -1 }},
		"run time":  {func(m *Model) { m.RunHours = 10_000 }, func(m *Model) { m.RunHours = 10_001 }},
		"per set":   {func(m *Model) { m.PerSet = 20 }, func(m *Model) { m.PerSet = 21 }},
		"usual":     {func(m *Model) { m.UsualDays = 400 }, func(m *Model) { m.UsualDays = 401 }},
		"interval":  {func(m *Model) { m.ElectrodeInterval = "60" }, func(m *Model) { m.ElectrodeInterval = "60.5" }},
		"no number": {func(m *Model) { m.ElectrodeInterval = "2,5" }, func(m *Model) { m.ElectrodeInterval = "2-3" }},
		"cell":      {func(m *Model) { m.Cell = "LR03" }, func(m *Model) { m.Cell = "big one" }},
	} {
		c := newClinic(t)
		m := *c.w.Models["M10"]
		x.ok(&m)
		c.do(c.actor("boss"), SetModel{m})
		x.bad(&m)
		_, p := c.try(c.actor("boss"), SetModel{m})
		require.NotNil(t, p, name)
		require.Equal(t, Invalid, p.Code, name)
	}
}

// One spare cell is of one lot by itself; several have to be told so.
func TestSpareCellsInWords(t *testing.T) {
	require.Equal(t, "1 spare cell LR03", PackPlan{Cell: "LR03"}.spareCells(1))
	require.Equal(t, "2 spare cells LR03, all from one lot", PackPlan{Cell: "LR03"}.spareCells(2))
}
