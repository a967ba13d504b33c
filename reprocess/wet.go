package reprocess

// Wet folds the looks at a wetted surface into contact time. An interval runs from "wet now"
// to the last moment somebody recorded it wet; seen dry, or not watched, ends it there:
// walking away earns nothing. Another container of the same product continues an interval,
// another product starts a new one. The longest unbroken interval counts.
type Wet struct {
	Open      bool
	Start     Mark   // of the running or last interval
	LastLook  Mark   // last moment it was recorded wet in it
	Product   string // of the running or last interval
	NeededS   int    // contact time its product needs here, s
	Intervals []Interval
	Exact     bool // every difference so far was measured within one run of the server
	Looks     int
}

// Interval is one unbroken watched stretch.
type Interval struct {
	From, To   Mark
	MS         int64 // contact time, ms
	NeededS    int
	Product    string
	Containers []string
	Lots       []string
	DryMS      int64 // when it was seen dry, ms from the start; 0: it was not
	Exact      bool
	Paper      bool // as a sheet says it: never measured
	Counts     bool // a paper one that the procedure lets count
}

// Conforms tells whether this interval alone is long enough. A needed time of zero is
// unknown, and unknown is never enough.
func (i Interval) Conforms() bool {
	return i.NeededS > 0 && i.MS >= int64(i.NeededS)*1000 && (!i.Paper || i.Counts)
}

// Conforms tells whether any interval is long enough.
func (w Wet) Conforms() bool {
	for _, i := range w.Intervals {
		if i.Conforms() {
			return true
		}
	}
	return false
}

// Best is the longest interval that was watched here, or failing that one from paper; ok is
// false when there is none.
func (w Wet) Best() (best Interval, ok bool) {
	for _, i := range w.Intervals {
		if !ok || (best.Paper && !i.Paper) || (i.Paper == best.Paper && i.MS > best.MS) {
			best, ok = i, true
		}
	}
	return best, ok
}

// take folds one record. Copies before it changes: a Progress may be folded from a prefix.
func (w Wet) take(r Record) Wet {
	w.Intervals = append([]Interval(nil), w.Intervals...)
	switch r.Kind {
	case RecWetNow:
		return w.start(r)
	case RecLooksWet:
		return w.look(r)
	case RecSeenDry, RecNotWatched:
		return w.end(r)
	case RecPaperWet:
		return w.paper(r)
	}
	return w
}

// running is the newest interval; only called while one is open.
func (w Wet) running() *Interval { return &w.Intervals[len(w.Intervals)-1] }

// start begins an interval. "Wet now" again by the same container while one runs begins anew
// as well: wiping again while still wet needs no tap, so the tap may mean that it had dried.
func (w Wet) start(r Record) Wet {
	if w.Open && w.Product == r.Product && !contains(w.running().Containers, r.Container) {
		w = w.look(r)
		i := w.running()
		i.Containers = withOne(i.Containers, r.Container)
		i.Lots = withOne(i.Lots, r.Lot)
		return w
	}
	w.Open, w.Start, w.LastLook = true, r.Mark, r.Mark
	w.Product, w.NeededS = r.Product, r.NeededS
	w.Intervals = append(w.Intervals, Interval{From: r.Mark, To: r.Mark, NeededS: r.NeededS,
		Product: r.Product, Containers: withOne(nil, r.Container), Lots: withOne(nil, r.Lot),
		Exact: true})
	return w
}

func (w Wet) look(r Record) Wet {
	if !w.Open {
		return w
	}
	i := w.running()
	i.To = r.Mark
	i.MS, i.Exact = Elapsed(i.From, r.Mark)
	w.LastLook, w.Looks = r.Mark, w.Looks+1
	return w
}

func (w Wet) end(r Record) Wet {
	if w.Open && r.Kind == RecSeenDry {
		i := w.running()
		i.DryMS, _ = Elapsed(i.From, r.Mark)
	}
	w.Open = false
	return w
}

func withOne(list []string, s string) []string {
	if s == "" || contains(list, s) {
		return list
	}
	return append(append([]string(nil), list...), s)
}
