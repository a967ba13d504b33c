package lookback

import (
	"cmp"
	"maps"
	"slices"
	"time"
)

// Run answers a query from cycles and loans in any order; the arguments are not changed.
// Cost: n log n in the records, and for each exposed episode the records of its device.
func Run(q Query, cycles []Cycle, loans []Loan) (Result, error) {
	if err := q.Check(); err != nil {
		return Result{}, err
	}
	f := &finder{q: q, affected: map[string]bool{}, wearers: map[string]bool{},
		result: Result{Sources: map[string][]string{}}}
	f.devices = histories(cycles, loans, q.AsOf)
	for _, name := range slices.Sorted(maps.Keys(f.devices)) {
		f.device(name, f.devices[name])
	}
	f.result.Wearers = len(f.wearers)
	f.result.tidy()
	return f.result, nil
}

// history is what is known of one device up to the moment asked about, in order of time.
type history struct {
	cycles   []Cycle
	released []Cycle
	loans    []Loan // by issue, or by return where the issue is unknown
}

type finder struct {
	q        Query
	devices  map[string]*history
	affected map[string]bool // by cycle id
	wearers  map[string]bool
	result   Result
}

func histories(cycles []Cycle, loans []Loan, asOf time.Time) map[string]*history {
	all := map[string]*history{}
	of := func(device string) *history {
		if all[device] == nil {
			all[device] = &history{}
		}
		return all[device]
	}
	for _, c := range cycles {
		if c, known := c.until(asOf); known {
			of(c.Device).cycles = append(of(c.Device).cycles, c)
		}
	}
	for _, l := range loans {
		if l, known := l.until(asOf); known {
			of(l.Device).loans = append(of(l.Device).loans, l)
		}
	}
	for _, h := range all {
		h.order()
	}
	return all
}

func (h *history) order() {
	slices.SortStableFunc(h.cycles, func(a, b Cycle) int { return a.last().Compare(b.last()) })
	slices.SortStableFunc(h.loans, func(a, b Loan) int {
		return cmp.Or(a.when().Compare(b.when()), cmp.Compare(a.Episode, b.Episode))
	})
	for _, c := range h.cycles {
		if !c.Released.IsZero() {
			h.released = append(h.released, c)
		}
	}
	slices.SortStableFunc(h.released, func(a, b Cycle) int {
		return a.Released.Compare(b.Released)
	})
}

// until cuts a cycle to what was known at the moment; false: nothing was.
func (c Cycle) until(asOf time.Time) (Cycle, bool) {
	began := len(c.Attempts) == 0 && c.Released.IsZero()
	var kept []Attempt
	for _, a := range c.Attempts {
		if within(a.At, asOf) {
			kept = append(kept, a)
		}
	}
	slices.SortStableFunc(kept, func(a, b Attempt) int { return a.At.Compare(b.At) })
	c.Attempts = kept
	if !within(c.Released, asOf) {
		c.Released = time.Time{}
	}
	return c, began || len(kept) > 0 || !c.Released.IsZero()
}

// until cuts a loan likewise; one with an unknown issue is never cut off, it may be out.
func (l Loan) until(asOf time.Time) (Loan, bool) {
	if !within(l.Issued, asOf) {
		return l, false
	}
	if !within(l.Returned, asOf) {
		l.Returned = time.Time{}
	}
	return l, true
}

func within(t, asOf time.Time) bool { return asOf.IsZero() || !t.After(asOf) }

// last is the newest moment of a cycle.
func (c Cycle) last() time.Time {
	t := c.Released
	for _, a := range c.Attempts {
		if a.At.After(t) {
			t = a.At
		}
	}
	return t
}

// when places a loan in time: by its issue, else by its return.
func (l Loan) when() time.Time {
	if l.Issued.IsZero() {
		return l.Returned
	}
	return l.Issued
}

// device adds what one device contributes.
func (f *finder) device(name string, h *history) {
	any := false
	for _, c := range h.cycles {
		if f.q.Affected(c) {
			any = true
			f.affected[c.ID] = true
			f.result.Cycles = append(f.result.Cycles, c.ID)
			if c.Released.IsZero() {
				f.result.Caught = append(f.result.Caught, name)
			}
		}
		if !c.Released.IsZero() && len(c.Attempts) == 0 && fits(f.q.Piece, name) {
			f.result.Unresolved = append(f.result.Unresolved, c.ID)
		}
	}
	for i, l := range h.loans {
		f.loan(h, i, l, any)
	}
	f.actions(name, h)
}

// loan sorts one episode: exposed, unreleased, unresolved, or none of these.
func (f *finder) loan(h *history, i int, l Loan, implicated bool) {
	if l.Issued.IsZero() {
		if implicated {
			f.result.Unresolved = append(f.result.Unresolved, l.Episode)
		}
		return
	}
	by, found := h.releaseBefore(l.Issued)
	switch {
	case !found && fits(f.q.Piece, l.Device):
		f.result.Unreleased = append(f.result.Unreleased, l.Episode)
	case found && f.affected[by.ID]:
		f.expose(h, i, l)
	}
}

func (f *finder) expose(h *history, i int, l Loan) {
	f.result.Exposed = append(f.result.Exposed, l.Episode)
	if l.Wearer == "" {
		f.result.Unresolved = append(f.result.Unresolved, l.Episode)
	} else {
		f.wearers[l.Wearer] = true
	}
	since, found := f.conforming(h, l.Issued)
	if !found {
		f.result.Unbounded = append(f.result.Unbounded, l.Episode)
	}
	sources := []string{}
	for _, e := range h.loans[:i] {
		if !found || !e.when().Before(since) {
			sources = append(sources, e.Episode)
		}
	}
	f.result.Sources[l.Episode] = sources
}

// releaseBefore is the latest release at or before a moment: a release and an issue noted in
// the same second happened in that order.
func (h *history) releaseBefore(t time.Time) (Cycle, bool) {
	for i := len(h.released) - 1; i >= 0; i-- {
		if !h.released[i].Released.After(t) {
			return h.released[i], true
		}
	}
	return Cycle{}, false
}

// conforming is the latest release at or before a moment of a cycle that is not affected.
func (f *finder) conforming(h *history, t time.Time) (time.Time, bool) {
	for i := len(h.released) - 1; i >= 0; i-- {
		c := h.released[i]
		if !c.Released.After(t) && !f.affected[c.ID] {
			return c.Released, true
		}
	}
	return time.Time{}, false
}

// actions says what is to be done with the device at the moment asked about.
func (f *finder) actions(name string, h *history) {
	if n := len(h.cycles); n > 0 && f.affected[h.cycles[n-1].ID] &&
		h.cycles[n-1].Released.IsZero() {
		f.result.Restart = append(f.result.Restart, name)
	}
	if len(h.released) == 0 {
		return
	}
	last := h.released[len(h.released)-1]
	f.missingReturns(h, last)
	if !f.affected[last.ID] {
		return
	}
	switch h.place(last.Released) {
	case withWearer:
		f.result.Recall = append(f.result.Recall, name)
	case onShelf:
		f.result.Embargo = append(f.result.Embargo, name)
	}
}

// missingReturns: an exposed loan still open although the device was released again since.
func (f *finder) missingReturns(h *history, last Cycle) {
	for _, l := range h.loans {
		_, exposed := f.result.Sources[l.Episode]
		if exposed && l.Returned.IsZero() && l.Issued.Before(last.Released) {
			f.result.Unresolved = append(f.result.Unresolved, l.Episode)
		}
	}
}

type place uint8

const (
	onShelf place = iota
	withWearer
	cameBack // returned, or already in reprocessing again
)

// place tells where the device is since its last release. A loan whose issue is unknown and
// that never came back may be out now: it is called back rather than left on the shelf.
func (h *history) place(released time.Time) place {
	at := onShelf
	for _, l := range h.loans {
		switch {
		case l.Returned.IsZero() && (l.Issued.IsZero() || !l.Issued.Before(released)):
			return withWearer
		case l.Returned.After(released):
			at = cameBack
		}
	}
	for _, c := range h.cycles {
		if c.Released.IsZero() && c.last().After(released) {
			at = cameBack
		}
	}
	return at
}

// tidy orders the lists and leaves none nil.
func (r *Result) tidy() {
	for _, list := range []*[]string{&r.Cycles, &r.Caught, &r.Exposed, &r.Unreleased,
		&r.Unbounded, &r.Recall, &r.Embargo, &r.Restart, &r.Unresolved} {
		slices.Sort(*list)
		*list = append([]string{}, slices.Compact(*list)...)
	}
}
