package figures

import (
	"cmp"
	"slices"

	"handback/reprocess"
)

// span is a time from <= t < to; open ones end where counting stops.
type span struct {
	from, to reprocess.Instant
	reason   string
	seq      int64 // entry that began it
}

// spans are what stood still: holds by piece, waiting by kit.
type spans struct{ holds, waits map[string][]span }

// never is the end of what has not ended.
const never = reprocess.Instant(1) << 60

// spans folds the marks. A kit's waiting also ends when it is released, taken back or handed
// out; a hold whose entry was taken back never was.
func (f *Facts) spans() spans {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.still != nil {
		return *f.still
	}
	s := spans{map[string][]span{}, map[string][]span{}}
	for _, e := range f.Marks {
		for _, b := range e.Events {
			s.take(e, b.Event)
		}
	}
	for kit, list := range s.waits {
		for i := range list {
			list[i].to = min(list[i].to, f.firstAfter(kit, list[i].from))
		}
	}
	f.still = &s
	return s
}

func (s spans) take(e *reprocess.Entry, event reprocess.Event) {
	switch v := event.(type) {
	case reprocess.Held:
		s.holds[v.Piece] = append(s.holds[v.Piece], span{e.At, never, v.Reason, e.Seq})
	case reprocess.HoldEnded:
		end(s.holds[v.Piece], e.At, func(x span) bool { return x.seq == v.Hold })
	case reprocess.Undone:
		for piece, list := range s.holds {
			s.holds[piece] = slices.DeleteFunc(list, func(x span) bool { return x.seq == v.Of })
		}
	case reprocess.WaitingSet:
		end(s.waits[v.Kit], e.At, func(x span) bool { return x.reason == v.Reason })
		s.waits[v.Kit] = append(s.waits[v.Kit], span{e.At, never, v.Reason, e.Seq})
	case reprocess.WaitingEnded:
		end(s.waits[v.Kit], e.At, func(x span) bool { return x.reason == v.Reason })
	}
}

// end closes what is open and meant.
func end(list []span, at reprocess.Instant, meant func(span) bool) {
	for i := range list {
		if list[i].to == never && meant(list[i]) {
			list[i].to = at
		}
	}
}

func (f *Facts) firstAfter(kit string, at reprocess.Instant) reprocess.Instant {
	list := f.Ends[kit]
	i, _ := slices.BinarySearch(list, at+1)
	if i == len(list) {
		return never
	}
	return list[i]
}

// covered is how many ms of from <= t < to any of the spans covers; overlaps count once.
func covered(list []span, from, to reprocess.Instant) int64 {
	sorted := slices.Clone(list)
	slices.SortFunc(sorted, func(a, b span) int { return cmp.Compare(a.from, b.from) })
	ms, at := int64(0), from
	for _, x := range sorted {
		a, b := max(x.from, at), min(x.to, to)
		if b > a {
			ms += int64(b - a)
			at = b
		}
	}
	return ms
}
