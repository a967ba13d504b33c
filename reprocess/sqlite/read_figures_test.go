package sqlite

import (
	"context"
	"encoding/json"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/figures"
	"handback/reprocess/invent"
)

// inventedBench is a store with so many invented days before now.
func inventedBench(t testing.TB, days int) *bench {
	t.Helper()
	b := &bench{TB: t, clock: newClock()}
	b.Store = open(t, t.TempDir(), b.clock)
	plan, err := invent.History(invent.Options{Now: b.clock.now().UTC, Seed: 5, Days: days, Kits: 30})
	require.NoError(t, err)
	var all []Request
	for _, a := range plan.Acts {
		actor, now := reprocess.Console(), a.Now
		if a.Person != nil {
			actor = reprocess.Actor{Person: a.Person, Signed: a.Signed}
		}
		all = append(all, Request{Cmd: a.Cmd, Actor: actor, Now: &now})
	}
	_, err = b.DoMany(context.Background(), all)
	require.NoError(t, err)
	return b
}

// rawEntry is an entry as whoever has the NDJSON file alone reads it: nothing of this program
// but the names in the file.
type rawEntry struct {
	At, Act, Result, Kit string
	Events               []struct {
		Event string
		Data  json.RawMessage
	}
}

type rawData struct {
	ID, Kit, Loan, Under, Cycle, Piece, State, Reason string
	Came                                              []string
	Cycles                                            json.RawMessage
	Record                                            struct {
		Kind, Lot string
		Answers   []struct{ Ask, Value string }
	}
}

func (e rawEntry) ms(t testing.TB) int64 {
	at, err := time.Parse("2006-01-02T15:04:05.000Z", e.At)
	require.NoError(t, err)
	return at.UnixMilli()
}

// rawCount is the same count made from the lines alone.
type rawCount struct {
	handOuts, cycles, refused, overrides, repairs, losses int
	lots                                                  map[string]bool
	outMS, waitMS                                         int64
	hours                                                 []float64
	holds                                                 int
}

type rawState struct {
	back    map[string]int64 // kit
	out     map[string]int64 // loan
	waits   map[string]map[string]int64
	open    map[string][]string // cycle → lots
	over    map[string]int
	cycleOf map[string]string
}

// countRaw counts within from <= t < to by going through the lines once.
func countRaw(t testing.TB, b *bench, from, to int64) rawCount {
	t.Helper()
	ctx := context.Background()
	n, err := b.Size(ctx)
	require.NoError(t, err)
	c := rawCount{lots: map[string]bool{}}
	s := rawState{back: map[string]int64{}, out: map[string]int64{}, open: map[string][]string{},
		waits: map[string]map[string]int64{}, over: map[string]int{}, cycleOf: map[string]string{}}
	for body, err := range b.Bodies(ctx, 1, n) {
		require.NoError(t, err)
		var e rawEntry
		require.NoError(t, json.Unmarshal(body, &e))
		s.take(t, &c, e, from, to)
	}
	for _, at := range s.out {
		c.outMS += clip(at, to, from, to)
	}
	for _, kit := range s.waits {
		for _, at := range kit {
			c.waitMS += clip(at, to, from, to)
		}
	}
	return c
}

func clip(a, b, from, to int64) int64 { return max(0, min(b, to)-max(a, from)) }

func (s *rawState) take(t testing.TB, c *rawCount, e rawEntry, from, to int64) {
	at := e.ms(t)
	in := at >= from && at < to
	if e.Result == "refused" {
		c.refused += map[bool]int{true: 1}[in]
		return
	}
	for _, x := range e.Events {
		var d rawData
		if x.Event != "kit_registered" && x.Event != "piece_registered" {
			require.NoError(t, json.Unmarshal(x.Data, &d), x.Event)
		}
		switch x.Event {
		case "handed_out":
			s.endWaits(c, d.Kit, at, from, to)
			if d.Under != "" { // who wears it on a ward: the ward's own hand-out counts
				continue
			}
			s.out[d.ID], s.back[d.Kit] = at, 0
			c.handOuts += map[bool]int{true: 1}[in]
		case "taken_back":
			s.endWaits(c, d.Kit, at, from, to)
			if d.Loan != "" {
				c.outMS += clip(s.out[d.Loan], at, from, to)
				delete(s.out, d.Loan)
				s.back[d.Kit] = at
			}
			for _, piece := range d.Came {
				s.endCycle(c, piece, in)
			}
		case "cycle_opened":
			s.cycleOf[d.Piece] = d.Cycle
		case "step_recorded":
			s.open[d.Cycle] = append(s.open[d.Cycle], d.Record.Lot)
			for _, a := range d.Record.Answers {
				if a.Ask == "cell" {
					s.open[d.Cycle] = append(s.open[d.Cycle], a.Value)
				}
			}
			if d.Record.Kind == "override" {
				s.over[d.Cycle]++
			}
		case "kit_released":
			s.release(t, c, d.Kit, d.Cycles, at, from, to)
		case "waiting_set":
			if s.waits[d.Kit] == nil {
				s.waits[d.Kit] = map[string]int64{}
			}
			s.waits[d.Kit][d.Reason] = at
		case "waiting_ended":
			if begun, is := s.waits[d.Kit][d.Reason]; is {
				c.waitMS += clip(begun, at, from, to)
				delete(s.waits[d.Kit], d.Reason)
			}
		case "piece_moved":
			c.repairs += map[bool]int{true: 1}[in && d.State == "out for repair"]
			c.losses += map[bool]int{true: 1}[in && d.State == "missing"]
			s.endCycle(c, d.Piece, in)
		case "held":
			c.holds += map[bool]int{true: 1}[in]
		}
	}
}

func (s *rawState) endWaits(c *rawCount, kit string, at, from, to int64) {
	for _, begun := range s.waits[kit] {
		c.waitMS += clip(begun, at, from, to)
	}
	delete(s.waits, kit)
}

func (s *rawState) endCycle(c *rawCount, piece string, in bool) {
	id := s.cycleOf[piece]
	if id == "" {
		return
	}
	delete(s.cycleOf, piece)
	if in {
		for _, lot := range s.open[id] {
			c.lots[lot] = true
		}
		c.overrides += map[bool]int{true: 1}[s.over[id] > 0]
	}
}

func (s *rawState) release(t testing.TB, c *rawCount, kit string, lines json.RawMessage,
	at, from, to int64) {
	var cycles []struct{ Piece, Cycle string }
	require.NoError(t, json.Unmarshal(lines, &cycles))
	s.endWaits(c, kit, at, from, to)
	in := at >= from && at < to
	for _, l := range cycles {
		s.endCycle(c, l.Piece, in)
		c.cycles += map[bool]int{true: 1}[in]
	}
	if in && s.back[kit] > 0 {
		c.hours = append(c.hours, float64(at-s.back[kit])/3_600_000)
	}
}

// The figures of each month equal a count of the NDJSON lines by other means. Source: the
// lines themselves, read without the rules, the fold or the tables of this program.
func TestFiguresCountedAnotherWay(t *testing.T) {
	b := inventedBench(t, 100)
	now := b.clock.now().UTC
	c := figures.Choice{From: figures.Month{Year: 2026, Month: 8}.Start(nil),
		To: figures.Month{Year: 2026, Month: 12}.Start(nil), Now: now}
	months := c.Months()
	require.Len(t, months, 4)
	handOuts := 0
	for _, m := range months {
		f, err := b.Figures(context.Background(), m.From, m.To)
		require.NoError(t, err)
		whole, err := b.Figures(context.Background(), c.From, c.To)
		require.NoError(t, err)
		require.Equal(t, f.Use(m), whole.Use(m), "a longer period says the same of a month in it")
		u, raw := f.Use(m), countRaw(t, b, int64(m.From), int64(min(m.To, now)))
		handOuts += u.HandOuts
		require.Equal(t, raw.handOuts, u.HandOuts)
		require.Equal(t, raw.cycles, u.Cycles)
		require.Equal(t, raw.repairs, u.Repairs)
		require.Equal(t, raw.losses, u.Losses)
		delete(raw.lots, "")
		require.Equal(t, len(raw.lots), u.Lots)
		require.InDelta(t, float64(raw.outMS)/86_400_000, u.WearDays, 1e-6)
		waited := 0.0
		for _, d := range u.WaitDays {
			waited += d
		}
		require.InDelta(t, float64(raw.waitMS)/86_400_000, waited, 1e-6)
		refusals := 0
		for _, r := range f.Refusals(m) {
			refusals += r.N
		}
		require.Equal(t, raw.refused, refusals)
		require.Equal(t, raw.overrides, f.Yield(m).Overridden)
		holds := 0
		for _, h := range f.Holds(m) {
			holds += h.N
		}
		require.Equal(t, raw.holds, holds)
		slices.Sort(raw.hours)
		require.Equal(t, len(raw.hours), u.Turnaround.N)
		if n := len(raw.hours); n > 0 { // the middle value, or the mean of the two
			require.InDelta(t, (raw.hours[(n-1)/2]+raw.hours[n/2])/2, u.Turnaround.Median, 1e-9)
		}
	}
	require.Greater(t, handOuts, 20, "too little happened to mean anything")
	require.Empty(t, verified(t, b.Dir()).Difference, "the lines about events are verified")
}

// BenchmarkFigures is the read and count of a year: for the first time, after one more entry, and
// as long as nothing happens.
func BenchmarkFigures(t *testing.B) {
	b := inventedBench(t, 365)
	now := b.clock.now().UTC
	c := figures.Choice{From: now.Add(-365 * 24 * time.Hour), To: now, Now: now}
	for name, forget := range map[string]func(){
		"first":   func() { b.figures.size, b.figures.facts, b.figures.cycles.kept = 0, nil, nil },
		"entry":   func() { b.figures.size, b.figures.facts = 0, nil },
		"nothing": func() {},
	} {
		t.Run(name, func(t *testing.B) {
			for t.Loop() {
				forget()
				f, err := b.Figures(context.Background(), c.From, c.To)
				require.NoError(t, err)
				f.Use(c)
				f.Yield(c)
			}
		})
	}
}
