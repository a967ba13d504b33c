package export

import (
	"handback/reprocess"
	"handback/reprocess/lookback"
)

// AtHandOut begins the name of a cell that was fitted at the counter; the id of its loan
// follows.
const AtHandOut = "at-hand-out "

// fittedAtOut are, for lots of cells, the cells fitted at the counter: what was fitted at the
// bench before is no longer in the recorder.
func (l *looker) fittedAtOut() []lookback.Cycle {
	if !l.cells {
		return nil
	}
	var list []lookback.Cycle
	for _, v := range l.w.Loans {
		if v.Cell == "" || v.Undone {
			continue
		}
		for _, id := range v.Pieces {
			if l.skipped(id) {
				continue
			}
			list = append(list, lookback.Cycle{ID: AtHandOut + v.ID, Device: id,
				Released: v.Out.Time(), People: addOnce(nil, v.OutBy),
				Model: l.named(l.models, l.q.Model, l.model(id)),
				Attempts: []lookback.Attempt{{At: v.Out.Time(), OK: true, Person: v.OutBy,
					Uses: []lookback.Use{{Lot: l.named(l.lots, l.q.Lot, v.Cell)}}}}})
		}
	}
	return list
}

// wearersKnown tells whether a ward's own loan adds nothing to those of its wearers: one of
// them wears it now, or it came back and each is recorded. While the ward keeps it, and when
// nobody knows who wore it, it stays: the ward has to be asked.
func (l *looker) wearersKnown(v *reprocess.Loan) bool {
	if !v.ByWard() {
		return false
	}
	if v.Back != 0 {
		return !v.Unaccounted()
	}
	k := l.w.Kits[v.Kit]
	return k != nil && l.w.Loans[k.Loan].OnWard() && l.w.Loans[k.Loan].Under == v.ID
}
