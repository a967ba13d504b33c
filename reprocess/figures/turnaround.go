package figures

import (
	"cmp"
	"slices"

	"handback/reprocess"
)

// Turnaround is the time from a kit's return to its release, in hours, by the releases of the
// period. Bench is what is left of it without the time on hold or waiting.
type Turnaround struct {
	All, Bench, Hold, Wait Spread
	Unknown                int // released, but no return is on record
	TargetHours            int // of the clinic; 0: it has set none
	Over                   int // kits of All that took longer
	hours                  []float64
}

// pass is one kit from its return to its release, ms.
type pass struct {
	kit                    string
	back, released         reprocess.Instant
	all, bench, hold, wait int64
}

// passes joins the released cycles of a kit into one pass; the second value counts releases
// without a known return.
func (f *Facts) passes(c Choice, s spans) (list []pass, unknown int) {
	type key struct {
		kit string
		at  reprocess.Instant
	}
	loans := f.loansByID()
	pieces, back := map[key][]string{}, map[key]reprocess.Instant{}
	for _, x := range f.Cycles {
		if x.End != reprocess.EndReleased || !c.within(x.Ended) {
			continue
		}
		k := key{x.Kit, x.Ended}
		pieces[k] = append(pieces[k], x.Piece)
		if l := loans[x.Loan]; l != nil && l.Back > 0 && !l.Undone {
			back[k] = max(back[k], l.Back)
		}
	}
	for k, ids := range pieces {
		if !slices.ContainsFunc(ids, func(p string) bool { return f.piece(c, p) }) {
			continue
		}
		from := back[k]
		if from == 0 || from > k.at {
			unknown++
			continue
		}
		list = append(list, s.pass(k.kit, ids, from, k.at))
	}
	slices.SortFunc(list, func(a, b pass) int {
		return cmp.Or(cmp.Compare(a.released, b.released), cmp.Compare(a.kit, b.kit))
	})
	return list, unknown
}

func (s spans) pass(kit string, pieces []string, back, at reprocess.Instant) pass {
	var holds []span
	for _, p := range pieces {
		holds = append(holds, s.holds[p]...)
	}
	waits := s.waits[kit]
	p := pass{kit: kit, back: back, released: at, all: int64(at - back)}
	p.hold, p.wait = covered(holds, back, at), covered(waits, back, at)
	p.bench = p.all - covered(slices.Concat(holds, waits), back, at)
	return p
}

func (f *Facts) loansByID() map[string]*reprocess.Loan {
	all := map[string]*reprocess.Loan{}
	for _, l := range f.Loans {
		all[l.ID] = l
	}
	return all
}

// Turnaround counts the releases of the choice.
func (f *Facts) Turnaround(c Choice) Turnaround { return f.turnaround(c, f.spans()) }

func (f *Facts) turnaround(c Choice, s spans) Turnaround {
	list, unknown := f.passes(c, s)
	t := Turnaround{Unknown: unknown, TargetHours: f.World.Settings.TargetHours}
	var all, bench, hold, wait []float64
	hours := func(ms int64) float64 { return float64(ms) / hourMS }
	for _, p := range list {
		all, bench = append(all, hours(p.all)), append(bench, hours(p.bench))
		if p.hold > 0 {
			hold = append(hold, hours(p.hold))
		}
		if p.wait > 0 {
			wait = append(wait, hours(p.wait))
		}
		if t.TargetHours > 0 && p.all > int64(t.TargetHours)*hourMS {
			t.Over++
		}
	}
	t.All, t.Bench, t.Hold, t.Wait = spread(all), spread(bench), spread(hold), spread(wait)
	t.hours = all
	return t
}

// Late is a kit in the house for longer than the clinic aims at.
type Late struct {
	Kit, Number string
	Hours       float64
}

// NowOver lists the kits that are in the house unreleased for longer than the target, the
// longest first; nothing when there is no target.
func (f *Facts) NowOver(c Choice) []Late {
	target := int64(f.World.Settings.TargetHours) * hourMS
	var list []Late
	for id, k := range f.World.Kits {
		state := reprocess.KitState(k, f.World.Pieces)
		inHouse := state == reprocess.Returned || state == reprocess.InReprocessing ||
			state == reprocess.AwaitingRelease || state == reprocess.Quarantined
		if target == 0 || !inHouse || k.Back == 0 || !f.kit(c, id) {
			continue
		}
		if ms := int64(c.Now - k.Back); ms > target {
			list = append(list, Late{id, k.Number, float64(ms) / hourMS})
		}
	}
	slices.SortFunc(list, func(a, b Late) int {
		return cmp.Or(cmp.Compare(b.Hours, a.Hours), cmp.Compare(a.Number, b.Number))
	})
	return list
}
