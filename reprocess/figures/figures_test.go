package figures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// Cases of our own, reckoned by hand; the formulae behind the charts are checked against the
// NIST/SEMATECH e-Handbook in package sampling.

const hour = reprocess.Instant(hourMS)

func record(seq int64, step reprocess.StepID, effect reprocess.Effect) reprocess.Record {
	return reprocess.Record{Seq: seq, Step: step, Kind: reprocess.RecAnswer,
		Answers: []reprocess.Answer{{Ask: "x", Value: "y", Effect: effect}}}
}

func wet(seq int64, ms int64, kind reprocess.RecordKind) reprocess.Record {
	return reprocess.Record{Seq: seq, Step: reprocess.StepDisinfection, Kind: kind, Product: "D1",
		Container: "C1", NeededS: 60, Mark: reprocess.Mark{At: reprocess.Instant(ms)}}
}

func TestFirstTries(t *testing.T) {
	clean, dry := reprocess.StepCleaning, reprocess.StepDrying
	good := func() []reprocess.Record {
		return []reprocess.Record{record(1, clean, ""), wet(2, 0, reprocess.RecWetNow),
			wet(3, 60_000, reprocess.RecLooksWet), record(4, dry, "")}
	}
	person := record(5, reprocess.StepFunction, "")
	person.Answers[0] = reprocess.Answer{Ask: "worn_by", Value: "person"}
	undone := record(5, clean, reprocess.EffectAgain)
	undone.Undone = true
	for name, c := range map[string]struct {
		records []reprocess.Record
		bad     []reprocess.StepID
	}{
		"all well":          {good(), nil},
		"a remark is well":  {[]reprocess.Record{record(1, clean, reprocess.EffectNote)}, nil},
		"cleaned again":     {append([]reprocess.Record{record(0, clean, reprocess.EffectAgain)}, good()...), []reprocess.StepID{clean}},
		"a hold":            {[]reprocess.Record{record(1, clean, reprocess.EffectHold)}, []reprocess.StepID{clean}},
		"done twice":        {append(good(), record(5, dry, "")), []reprocess.StepID{dry}},
		"tapped by mistake": {append(good(), undone), nil},
		"dried too early": {[]reprocess.Record{wet(1, 0, reprocess.RecWetNow), wet(2, 59_999, reprocess.RecLooksWet),
			wet(3, 60_000, reprocess.RecSeenDry), wet(4, 61_000, reprocess.RecWetNow)},
			[]reprocess.StepID{reprocess.StepDisinfection}},
		"wetted again when done":      {append(good(), wet(5, 90_000, reprocess.RecWetNow)), []reprocess.StepID{reprocess.StepDisinfection}},
		"the loop after a person":     {append(good(), person, wet(6, 90_000, reprocess.RecWetNow), wet(7, 160_000, reprocess.RecLooksWet), record(8, dry, "")), nil},
		"accepted not as written":     {append(good(), reprocess.Record{Step: reprocess.StepBattery, Kind: reprocess.RecOverride}), []reprocess.StepID{reprocess.StepBattery}},
		"a small repair in the house": {append(good(), reprocess.Record{Kind: reprocess.RecRepair}), []reprocess.StepID{reprocess.StepInspection}},
	} {
		var bad []reprocess.StepID
		tries := firstTries(&reprocess.Cycle{Records: c.records})
		for step, ok := range tries {
			if !ok {
				bad = append(bad, step)
			}
		}
		require.Equal(t, c.bad, bad, name)
		require.Equal(t, c.bad == nil, isFirst(&reprocess.Cycle{End: reprocess.EndReleased}, tries), name)
		require.False(t, isFirst(&reprocess.Cycle{End: reprocess.EndBrokenOff}, tries), name)
	}
}

// facts is a world of one kit with a recorder and a phone, lent and back at hour 10.
func facts() (*Facts, Choice) {
	w := reprocess.NewWorld()
	w.Models["M1"] = &reprocess.Model{ID: "M1", Kind: reprocess.Recorder, CycleLimit: 10, PerSet: 3, ElectrodeInterval: "3"}
	w.Models["M2"] = &reprocess.Model{ID: "M2", Kind: reprocess.Phone}
	w.Kits["K1"] = &reprocess.Kit{ID: "K1", Number: "1", Pieces: []string{"P1", "P2"}}
	w.Pieces["P1"] = &reprocess.Piece{ID: "P1", Kind: reprocess.Recorder, Model: "M1", Kit: "K1", Cycles: 9, State: reprocess.Released}
	w.Pieces["P2"] = &reprocess.Piece{ID: "P2", Kind: reprocess.Phone, Model: "M2", Kit: "K1", Cycles: 3, State: reprocess.Released}
	f := &Facts{World: w, Ends: map[string][]reprocess.Instant{}, Registered: map[string]reprocess.Instant{"K1": 1}}
	f.Loans = []*reprocess.Loan{{ID: "L1", Kit: "K1", Pieces: []string{"P1", "P2"}, Out: 1, Back: 10 * hour, Due: "1970-01-01", Days: 14}}
	for _, p := range []string{"P1", "P2"} {
		f.Cycles = append(f.Cycles, &reprocess.Cycle{ID: "C" + p, Piece: p, Kit: "K1", Loan: "L1",
			End: reprocess.EndReleased, Ended: 20 * hour})
	}
	return f, Choice{From: 1, To: 100 * hour, Now: 100 * hour}
}

func mark(seq int64, at reprocess.Instant, event reprocess.Event) *reprocess.Entry {
	return &reprocess.Entry{Seq: seq, At: at, Events: []reprocess.Box{{Event: event}}}
}

// Hold from 12 to 15, waiting from 14 to 16: 10 hours in all, 3 on hold, 2 waiting, 6 at the
// bench, since the hour from 14 to 15 is taken off once.
func TestTurnaroundApartFromHoldAndWaiting(t *testing.T) {
	f, c := facts()
	f.Marks = []*reprocess.Entry{mark(1, 12*hour, reprocess.Held{Piece: "P2", Reason: "other"}),
		mark(2, 14*hour, reprocess.WaitingSet{Kit: "K1", Reason: "part"}),
		mark(3, 15*hour, reprocess.HoldEnded{Piece: "P2", Hold: 1}),
		mark(4, 16*hour, reprocess.WaitingEnded{Kit: "K1", Reason: "part"})}
	got := f.Turnaround(c)
	require.Equal(t, Spread{1, 10, 10}, got.All)
	require.Equal(t, Spread{1, 3, 3}, got.Hold)
	require.Equal(t, Spread{1, 2, 2}, got.Wait)
	require.Equal(t, Spread{1, 6, 6}, got.Bench)
	require.Equal(t, []Held{{"other", 1}}, f.Holds(c))

	f.World.Settings.TargetHours = 10
	require.Zero(t, f.Turnaround(c).Over, "exactly the target is not longer")
	f.World.Settings.TargetHours = 9
	require.Equal(t, 1, f.Turnaround(c).Over)
}

func TestAHoldTakenBackNeverWas(t *testing.T) {
	f, c := facts()
	f.Marks = []*reprocess.Entry{mark(1, 12*hour, reprocess.Held{Piece: "P2", Reason: "other"}),
		mark(2, 13*hour, reprocess.Undone{Of: 1, Kit: "K1"})}
	require.Zero(t, f.Turnaround(c).Hold.N)
	require.Empty(t, f.Holds(c))
}

func TestWaitingEndsWithTheRelease(t *testing.T) {
	f, c := facts()
	f.Marks = []*reprocess.Entry{mark(1, 18*hour, reprocess.WaitingSet{Kit: "K1", Reason: "wearer"})}
	f.Ends["K1"] = []reprocess.Instant{5 * hour, 20 * hour, 30 * hour}
	require.Equal(t, map[string]float64{"wearer": 2.0 / 24}, f.Use(c).WaitDays)
	f, c = facts()
	f.Marks = []*reprocess.Entry{mark(1, 18*hour, reprocess.WaitingSet{Kit: "K1", Reason: "wearer"})}
	require.Equal(t, map[string]float64{"wearer": 82.0 / 24}, f.Use(c).WaitDays, "still waiting")
}

func TestAReleaseWithoutAReturnIsSaid(t *testing.T) {
	f, c := facts()
	f.Loans = nil
	got := f.Turnaround(c)
	require.Zero(t, got.All.N)
	require.Equal(t, 1, got.Unknown)
}

func TestReturnsByTheDueDay(t *testing.T) {
	f, c := facts()
	day := func(n int) reprocess.Instant { return reprocess.Instant(n) * 24 * hour }
	loan := func(due reprocess.Date, back reprocess.Instant) *reprocess.Loan {
		return &reprocess.Loan{Kit: "K1", Due: due, Back: back}
	}
	f.Loans = []*reprocess.Loan{loan("1970-01-02", day(2)-1), loan("1970-01-02", day(2)),
		loan("1970-01-03", 0), loan("1970-01-05", 0), loan("", 0),
		{Kit: "K1", Due: "1970-01-02", Undone: true},
		{Kit: "K1", Due: "1970-01-02", Ward: "Ward 4", Under: "L9", Back: day(2)}}
	require.Equal(t, Returns{Due: 3, OnTime: 1, Later: 1, Still: 1}, f.Returns(c),
		"due on the day counted to is not late yet")
}

func TestLimitsTheNearestFirst(t *testing.T) {
	f, c := facts()
	f.World.Pieces["P3"] = &reprocess.Piece{ID: "P3", Model: "M1", Cycles: 10}
	f.World.Pieces["P4"] = &reprocess.Piece{ID: "P4", Model: "M1", Cycles: 10, State: reprocess.Retired}
	list, open := f.Limits(c)
	require.Equal(t, []Limit{{"P3", 10, 10, false}, {"P1", 9, 10, false}}, list)
	require.Equal(t, 1, open)
}

func TestUseOfAMonth(t *testing.T) {
	f, c := facts()
	f.Cycles[0].Records = []reprocess.Record{{Lot: "A"}, {Lot: "A"}, {Lot: "B", Undone: true},
		{Answers: []reprocess.Answer{{Ask: "cell", Value: "Z"}}}}
	f.Marks = []*reprocess.Entry{
		mark(1, 2*hour, reprocess.PieceMoved{Piece: "P1", State: reprocess.OutForRepair}),
		mark(2, 3*hour, reprocess.PieceMoved{Piece: "P2", State: reprocess.Missing}),
		mark(3, 10*hour, reprocess.TakenBack{Kit: "K1", Came: []string{"P1"}, Loan: "L1"}),
		mark(4, 101*hour, reprocess.PieceMoved{Piece: "P2", State: reprocess.Missing})}
	u := f.Use(c)
	require.Equal(t, 1, u.HandOuts)
	require.InDelta(t, 10.0/24, u.WearDays, 1e-6)
	require.InDelta(t, 0.1, u.OutShare(), 1e-6)
	require.Equal(t, []int{1, 2, 2, 2}, []int{u.Repairs, u.Losses, u.Cycles, u.Lots})
	require.Equal(t, 18, u.Electrodes, "14 days at 3 a set: 5 sets and 1 spare, of 3 each")
	l := f.Loans[0]
	l.Ward = "Ward 4" // it keeps the kit; who wears it there adds no day, no hand-out, no electrode
	f.Loans = append(f.Loans, &reprocess.Loan{ID: "L2", Kit: "K1", Pieces: l.Pieces, Out: 2 * hour,
		Back: 9 * hour, Days: 14, Ward: "Ward 4", Under: "L1"})
	require.Equal(t, u, f.Use(c))
	c.Model = "M2"
	u = f.Use(c)
	require.Equal(t, []int{0, 2, 1}, []int{u.Repairs, u.Losses, u.Cycles})
	c.Model = "none"
	require.Zero(t, f.Use(c).PoolDays)
}

func TestYieldOfNothing(t *testing.T) {
	y := (&Facts{World: reprocess.NewWorld()}).Yield(Choice{})
	require.Zero(t, y.FirstShare())
	require.Equal(t, 1.0, y.Rolled)
}

// Rolled yield: 0.98·0.97·0.99·0.95·0.995 = 0.8896 (our own arithmetic, as in any handbook of
// quality: the product of the step yields).
func TestRolledYieldIsTheProduct(t *testing.T) {
	f, c := facts()
	steps := []struct {
		step reprocess.StepID
		bad  int // of 1000
	}{{reprocess.StepReceipt, 20}, {reprocess.StepCleaning, 30}, {reprocess.StepDrying, 10},
		{reprocess.StepInspection, 50}, {reprocess.StepPacking, 5}}
	f.Cycles = nil
	for i := range 1000 {
		x := &reprocess.Cycle{Piece: "P1", Ended: hour, End: reprocess.EndReleased}
		for _, s := range steps {
			effect := reprocess.EffectOK
			if i < s.bad {
				effect = reprocess.EffectAgain
			}
			x.Records = append(x.Records, record(1, s.step, effect))
		}
		f.Cycles = append(f.Cycles, x)
	}
	y := f.Yield(c)
	require.InDelta(t, 0.8896, y.Rolled, 5e-5)
	require.Equal(t, 950, y.First)
	require.InDelta(t, 0.95, y.FirstShare(), 1e-12)
}

func TestMonths(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	m, err := ParseMonth("2026-03")
	require.NoError(t, err)
	c := Choice{From: m.Start(zone), To: m.Add(2).Start(zone), Zone: zone}
	parts := c.Months()
	require.Len(t, parts, 2)
	require.Equal(t, 31*24-1, int(parts[0].To-parts[0].From)/hourMS, "the clocks go forward in March")
	require.Equal(t, parts[0].To, parts[1].From)
	require.Equal(t, "Apr 2026", parts[1].month().Words())
	for _, bad := range []string{"", "2026", "2026-13", "2026-3", "26-03", "1989-12", "2026-03-01"} {
		_, err := ParseMonth(bad)
		require.Error(t, err, bad)
	}
	for _, good := range []string{"1990-01", "2199-12"} {
		m, err := ParseMonth(good)
		require.NoError(t, err)
		require.Equal(t, good, m.String())
	}
}
