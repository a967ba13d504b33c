package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/recording"
)

// The edges of wards, of the recorder's clock, of cells and of what is packed. Sources: P4 of
// the practice notes; the function-test reference for the clock; our own bounds of a model.

// A ward's loan, and one of its wearers.
func TestWhatAWardsLoanIs(t *testing.T) {
	ward, wearer, plain := &Loan{Ward: "W"}, &Loan{Ward: "W", Under: "L1"}, &Loan{}
	for _, l := range []*Loan{nil, ward, wearer, plain} {
		require.Equal(t, l == ward, l.ByWard())
		require.Equal(t, l == wearer, l.OnWard())
	}
	back := func(l Loan, worn string) *Loan { l.Back, l.Return = 1, &Return{Worn: worn}; return &l }
	require.False(t, ward.Unaccounted(), "it is still there")
	require.True(t, back(*ward, "1").Unaccounted())
	require.False(t, back(*ward, "0").Unaccounted())
	require.False(t, back(*wearer, "1").Unaccounted(), "one wearer, and recorded")
	require.False(t, back(*plain, "1").Unaccounted())
}

// What no ward keeps is not worn there, and not given back there.
func TestWhatIsNotKeptByAWard(t *testing.T) {
	c := readyKit(t)
	dan := c.actor("dan")
	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 3})
	c.refused("not_on_ward", dan, WearAtWard{Kit: "K18", Wearer: "w2"})
	c.refused("not_on_ward", dan, BackOnWard{Kit: "K18"})
	c.do(dan, TakeBack{Kit: "K18"})
	require.Nil(t, WornOpen(c.w, c.w.Kits["K18"]), "its wearer is known")
	c.refused("already_done", dan, TellWorn{Kit: "K18", Worn: "1"})
	c.refused("not_on_ward", dan, BackOnWard{Kit: "K18"})
}

// The question is asked of an ended loan of a ward that was not undone, and at its return only.
func TestWhenItIsAskedByHowMany(t *testing.T) {
	for _, x := range []struct {
		l    *Loan
		open bool
	}{{&Loan{Ward: "W", Back: 1}, true}, {&Loan{Ward: "W"}, false},
		{&Loan{Ward: "W", Back: 1, Undone: true}, false},
		{&Loan{Back: 1}, false}, {&Loan{Ward: "W", Under: "L1", Back: 1}, false},
		{&Loan{Ward: "W", Back: 1, Return: &Return{Worn: "2"}}, false},
		{&Loan{Ward: "W", Back: 1, Return: &Return{Worn: WornUnknown}}, true}, {nil, false}} {
		w := NewWorld()
		if x.l != nil {
			w.Loans["L"] = x.l
		}
		require.Equal(t, x.open, WornOpen(w, &Kit{Loan: "L"}) != nil, "%+v", x.l)
	}
	text, p := wornAnswer(&Loan{Ward: "W", Back: 1}, "5")
	require.Nil(t, p)
	require.Empty(t, text, "a return that is over has no answer")
	for text, ok := range map[string]bool{"99": true, "100": false, "0": true, "256": false} {
		_, p = wornAnswer(&Loan{Ward: "W"}, text)
		require.Equal(t, ok, p == nil, text)
	}
}

// A wearer's loan ends by itself where the ward's is not known.
func TestGivenBackWhereTheWardsLoanIsNotKnown(t *testing.T) {
	c := onWard(t)
	dan := c.actor("dan")
	c.do(dan, WearAtWard{Kit: "K18", Wearer: "w1"})
	l := c.loan()
	delete(c.w.Loans, l.Under)
	c.do(dan, BackOnWard{Kit: "K18", Flags: []string{"gastro"}})
	require.False(t, c.w.Loans[l.ID].Open())
	require.Equal(t, "Ward 4", c.w.Kits["K18"].Place, "it stays where it was")
}

// --- the recorder's clock ---

// Beyond the tolerance it is told, within it not; whole hours are told as a zone, that edge
// included, up to the fourteen hours that zones lie from UTC.
func TestWhatIsToldOfTheClock(t *testing.T) {
	const zone, ahead, behind = "close to whole hours", "the clock is ahead", "or the clock is behind"
	for off, says := range map[float64]string{0: "", 5: "", -5: "", 5.1: behind, -5.1: ahead,
		29: behind, 54: behind, 55: zone, 65: zone, 66: behind, -65: zone, -66: ahead,
		14*60 + 5: zone, 15 * 60: behind} {
		got := clockSays(off, 5)
		require.Equal(t, says == "", got == "", "%v", off)
		require.Contains(t, got, says, "%v", off)
	}
	require.Contains(t, clockSays(6, 5), "6 min before the upload")
	require.Contains(t, clockSays(-6, 5), "6 min after the upload")
	for minutes, words := range map[float64]string{119: "119 min", 120: "2 h 0 min",
		2879: "47 h 59 min", 2880: "2 days", 4319: "2 days", 4320: "3 days"} {
		require.Equal(t, words, spanWords(minutes))
	}
}

// A file that could not be read says nothing of a clock, and one that was not uploaded either.
func TestNoClockWithoutARecording(t *testing.T) {
	for _, j := range []JudgedTest{{}, {Recording: &recording.Recording{}}} {
		uploaded := dayOne
		if j.Recording != nil {
			uploaded = 0
		}
		j.clock(ClockCheck{Uploaded: uploaded}, recording.Result{})
		require.Empty(t, j.Test.Measures)
	}
	j := JudgedTest{Recording: &recording.Recording{}}
	j.clock(ClockCheck{Uploaded: dayOne}, recording.Result{})
	require.Len(t, j.Test.Measures, 1, "without a time of its own it is listed and not judged")
	require.Empty(t, j.Test.Measures[0].Value)
}

// --- what a model states of cells and electrodes ---

func TestTheFiguresOfAModelAreBounded(t *testing.T) {
	for name, x := range map[string]struct {
		set  func(*Model, int)
		most int
	}{
		"cells":    {func(m *Model, n int) { m.CellCount = n }, 12},
		"capacity": {func(m *Model, n int) { m.CapacityMAh = n }, 100_000},
		"current":  {func(m *Model, n int) { m.CurrentUA = n }, 1_000_000},
		"run time": {func(m *Model, n int) { m.RunHours = n }, 10_000},
		"set":      {func(m *Model, n int) { m.PerSet = n }, 20},
		"days":     {func(m *Model, n int) { m.UsualDays = n }, longestLoan},
	} {
		for n, ok := range map[int]bool{-1: false, 0: true, x.most: true, x.most + 1: false} {
			m := &Model{}
			x.set(m, n)
			require.Equal(t, ok, m.wearFigures() == nil, "%s %d", name, n)
		}
	}
}

// A model that is not known, or states no cell, takes any and carries no caution.
func TestAModelWithoutACell(t *testing.T) {
	for _, m := range []*Model{nil, {}, {Cell: "a big one"}} {
		require.False(t, m.SwallowCaution())
		if m == nil || m.Cell == "" {
			require.Nil(t, m.cellKind(&Lot{Name: "LR03"}))
		}
	}
	require.True(t, (&Model{Cell: "CR2032"}).SwallowCaution())
	c := newClinic(t)
	delete(c.w.Models, "M10")
	a := Answer{Value: "1.20V"}
	require.Nil(t, (&Case{W: c.w}).volts(c.w.Pieces["P18-1"], &a))
	require.Equal(t, Answer{Value: "1.200 V"}, a, "kept as it was read")
}

// --- what is packed ---

// Nothing is planned from half of what a model has to state.
func TestNothingIsPlannedFromHalf(t *testing.T) {
	full := Model{Cell: "LR03", CellCount: 1, CapacityMAh: 1000, CurrentUA: 2000, RunHours: 200,
		ElectrodeInterval: "3", PerSet: 3, UsualDays: 9}
	for name, x := range map[string]struct {
		take        func(*Model)
		pads, cells bool
	}{
		"all":            {func(*Model) {}, true, true},
		"no interval":    {func(m *Model) { m.ElectrodeInterval = "" }, false, true},
		"no set":         {func(m *Model) { m.PerSet = 0 }, false, true},
		"no cell":        {func(m *Model) { m.Cell = "" }, true, false},
		"no count":       {func(m *Model) { m.CellCount = 0 }, true, false},
		"no run time":    {func(m *Model) { m.RunHours = 0 }, true, true},
		"run time alone": {func(m *Model) { m.CapacityMAh, m.CurrentUA = 0, 0 }, true, true},
		"no capacity":    {func(m *Model) { m.RunHours, m.CapacityMAh = 0, 0 }, true, false},
		"no current":     {func(m *Model) { m.RunHours, m.CurrentUA = 0, 0 }, true, false},
	} {
		m := full
		x.take(&m)
		w := NewWorld()
		w.Models["M"], w.Pieces["a"] = &m, &Piece{Kind: Recorder, Model: "M"}
		plan, p := PlanPack(w, &Kit{Pieces: []string{"gone", "a"}}, 9)
		require.Nil(t, p, name)
		require.Equal(t, x.pads, plan.Electrodes != nil, name)
		require.Equal(t, x.cells, plan.Battery != nil, name)
	}
}

// The usual days are the recorder's, whichever piece comes first; 0 when nobody said.
func TestWhoseUsualDays(t *testing.T) {
	w := NewWorld()
	w.Models["M"], w.Models["N"] = &Model{UsualDays: 9}, &Model{UsualDays: 5}
	w.Pieces["a"], w.Pieces["b"] = &Piece{Kind: Recorder, Model: "M"}, &Piece{Kind: Phone, Model: "N"}
	w.Pieces["c"] = &Piece{Kind: Recorder, Model: "gone"}
	for _, x := range []struct {
		pieces []string
		days   int
	}{{[]string{"a", "b"}, 9}, {[]string{"b", "a"}, 9}, {[]string{"b"}, 0}, {[]string{"c"}, 0},
		{[]string{"gone", "c", "a"}, 9}, {nil, 0}} {
		require.Equal(t, x.days, UsualDays(w, &Kit{Pieces: x.pieces}), "%v", x.pieces)
	}
	plan, p := PlanPack(w, &Kit{Pieces: []string{"c"}}, 9)
	require.Nil(t, p)
	require.Nil(t, plan.Battery, "a model that is not known states nothing")
}
