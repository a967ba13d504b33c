// Package figures counts what the record says about a period: how long kits take from return
// to release, how many cycles pass at the first try, what was refused or accepted not as
// written, what came back late, and how the pool was used. It ranks no person and names none.
//
// The package is pure: what it counts comes as Facts, moments are values, days and months are
// those of the clinic's zone. Durations are hours or days as floats, rounded only when shown.
package figures

import (
	"fmt"
	"slices"
	"sync"
	"time"

	"handback/reprocess"
	"handback/reprocess/sampling"
)

// Facts is what is counted, loaded for one period.
type Facts struct {
	World      *reprocess.World               // settings, models, procedures, kits, pieces
	Cycles     []*reprocess.Cycle             // that ended within the period, by the time they ended
	Loans      []*reprocess.Loan              // open at some moment of it, due in it, or named by a cycle
	Marks      []*reprocess.Entry             // entries with an event of Marked, oldest first
	Ends       map[string][]reprocess.Instant // kit → when it was released, taken back, handed out
	Refused    []Refused                      // within the period
	Registered map[string]reprocess.Instant   // kit → when it was registered

	// Tries is what was worked out of these very cycles for other facts before; nil: nothing.
	Tries *Tries

	mu    sync.Mutex // the same facts may be counted by several readers at once
	still *spans     // folded once
}

// Tries keeps what firstTries finds of cycles, by the cycle itself, which must not be changed: it
// folds the cycle as often as the cycle has records, and three figures ask for it.
type Tries struct {
	mu    sync.Mutex
	known map[*reprocess.Cycle]map[reprocess.StepID]bool
}

// firstTries is firstTries of a cycle of these facts, worked out once.
func (f *Facts) firstTries(x *reprocess.Cycle) map[reprocess.StepID]bool {
	f.mu.Lock()
	if f.Tries == nil {
		f.Tries = new(Tries)
	}
	t := f.Tries
	f.mu.Unlock()
	return t.of(x)
}

func (t *Tries) of(x *reprocess.Cycle) map[reprocess.StepID]bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	steps, known := t.known[x]
	if !known {
		if t.known == nil {
			t.known = map[*reprocess.Cycle]map[reprocess.StepID]bool{}
		}
		steps = firstTries(x)
		t.known[x] = steps
	}
	return steps
}

// Refused is one refused act.
type Refused struct {
	At        reprocess.Instant
	Act       reprocess.Act
	Rule, Kit string
}

// Marked lists the events whose entries Facts.Marks holds: they are rare, and no read table
// keeps what they once said. See Marks.
func Marked() []string {
	return []string{"held", "hold_ended", "waiting_set", "waiting_ended", "undone", "piece_moved",
		"taken_back"}
}

// Marks tells whether an event is one of Marked. Of the returns only those are rare in which a
// piece may have stayed away: fewer than two came.
func Marks(event reprocess.Event) bool {
	if back, ok := event.(reprocess.TakenBack); ok {
		return len(back.Came) < 2
	}
	return slices.Contains(Marked(), event.EventName())
}

// Choice is the period and the model that are counted.
type Choice struct {
	From, To reprocess.Instant // From <= t < To
	Model    string            // id; empty: all
	Now      reprocess.Instant // what is still open counts up to here
	Zone     *time.Location    // of the clinic; nil is UTC
}

// end is where counting stops: the end of the period, or now when that is earlier.
func (c Choice) end() reprocess.Instant { return min(c.To, c.Now) }

func (c Choice) within(at reprocess.Instant) bool { return at >= c.From && at < c.To }

// piece tells whether a piece is of the chosen model.
func (f *Facts) piece(c Choice, id string) bool {
	p := f.World.Pieces[id]
	return c.Model == "" || p != nil && p.Model == c.Model
}

// kit tells whether a kit has a piece of the chosen model.
func (f *Facts) kit(c Choice, id string) bool {
	if c.Model == "" {
		return true
	}
	k := f.World.Kits[id]
	return k != nil && slices.ContainsFunc(k.Pieces, func(p string) bool { return f.piece(c, p) })
}

func (f *Facts) loan(c Choice, l *reprocess.Loan) bool {
	return c.Model == "" || slices.ContainsFunc(l.Pieces, func(p string) bool { return f.piece(c, p) })
}

// cycles are the chosen cycles that ended within the choice.
func (f *Facts) cycles(c Choice) []*reprocess.Cycle {
	var list []*reprocess.Cycle
	for _, x := range f.Cycles {
		if c.within(x.Ended) && f.piece(c, x.Piece) {
			list = append(list, x)
		}
	}
	return list
}

// Spread is a middle and a far value, in the unit of what was measured.
type Spread struct {
	N           int
	Median, P90 float64 // 0 when N is 0
}

// spread sums up values; the percentile is that of NIST/SEMATECH 7.2.6.2.
func spread(values []float64) Spread {
	s := Spread{N: len(values)}
	if s.N > 0 {
		s.Median, _ = sampling.Median(values) // there are values
		s.P90, _ = sampling.Percentile(values, 90*sampling.Percent)
	}
	return s
}

// Month is a calendar month at the clinic.
type Month struct {
	Year  int
	Month time.Month
}

// ParseMonth reads a month such as 2026-11.
func ParseMonth(s string) (Month, error) {
	t, err := time.Parse("2006-01", s)
	if err != nil || t.Format("2006-01") != s || t.Year() < 1990 || t.Year() > 2199 {
		return Month{}, fmt.Errorf("%q is not a month like 2026-11", s)
	}
	return Month{t.Year(), t.Month()}, nil
}

// MonthOf is the month of a moment at the clinic.
func MonthOf(at reprocess.Instant, zone *time.Location) Month {
	if zone == nil {
		zone = time.UTC
	}
	t := at.Time().In(zone)
	return Month{t.Year(), t.Month()}
}

// String is the month as ParseMonth reads it.
func (m Month) String() string { return fmt.Sprintf("%04d-%02d", m.Year, int(m.Month)) }

// Words is the month as people read it: Nov 2026.
func (m Month) Words() string { return m.time(nil).Format("Jan 2006") }

// Short is the month without its year.
func (m Month) Short() string { return m.time(nil).Format("Jan") }

func (m Month) time(zone *time.Location) time.Time {
	if zone == nil {
		zone = time.UTC
	}
	return time.Date(m.Year, m.Month, 1, 0, 0, 0, 0, zone)
}

// Start is the first moment of the month at the clinic.
func (m Month) Start(zone *time.Location) reprocess.Instant {
	return reprocess.InstantOf(m.time(zone))
}

// Add goes n months on.
func (m Month) Add(n int) Month {
	t := m.time(nil).AddDate(0, n, 0)
	return Month{t.Year(), t.Month()}
}

// Months cuts a choice into its calendar months, each clipped to the choice.
func (c Choice) Months() []Choice {
	var all []Choice
	for m := MonthOf(c.From, c.Zone); m.Start(c.Zone) < c.To; m = m.Add(1) {
		part := c
		part.From = max(c.From, m.Start(c.Zone))
		part.To = min(c.To, m.Add(1).Start(c.Zone))
		all = append(all, part)
	}
	return all
}

// month is the month a part of Months stands for.
func (c Choice) month() Month { return MonthOf(c.From, c.Zone) }

const hourMS, dayMS = 60 * 60 * 1000, 24 * 60 * 60 * 1000
