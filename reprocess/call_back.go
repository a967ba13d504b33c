package reprocess

import (
	"cmp"
	"slices"
)

// CalledBack says by which entry a piece is called back from its wearer, and by which look-back.
type CalledBack struct {
	Seq      int64   `json:"seq"`
	At       Instant `json:"at"`
	By       string  `json:"by"`
	Name     string  `json:"name"`
	Reason   string  `json:"reason"`
	LookBack int64   `json:"look_back,omitempty"` // entry of the look-back that named it
}

// CallBackHours is within how many hours somebody calls about a kit that was called back, and
// again after a call that reached nobody: within a day (common practice; no published figure).
const CallBackHours = 24

// CallBack is one kit that is with a wearer and was called back.
type CallBack struct {
	Kit  *Kit
	Loan *Loan
	What *CalledBack
	Last *Call   // the newest call since then, nil: none yet
	By   Instant // until when it has to be called; 0: it is promised for a day that has not passed
	Late bool    // that moment, or the promised day, has passed
}

// CallBacks lists the kits that are called back and still out: those to be called now first,
// the longest waiting first. World: all kits with pieces and open loans.
func CallBacks(w *World, now Now) []CallBack {
	var all []CallBack
	for _, k := range w.Kits {
		if b, ok := CallBackOf(w, k, now); ok {
			all = append(all, b)
		}
	}
	slices.SortFunc(all, func(a, b CallBack) int {
		late := func(x CallBack) int {
			if x.Late {
				return 0
			}
			return 1
		}
		return cmp.Or(cmp.Compare(late(a), late(b)), cmp.Compare(a.By, b.By),
			cmp.Compare(a.What.At, b.What.At), ByNumber(a.Kit, b.Kit))
	})
	return all
}

// CallBackOf tells whether a kit is with a wearer and called back.
func CallBackOf(w *World, k *Kit, now Now) (b CallBack, ok bool) {
	b.Kit, b.Loan, b.What = k, w.Loans[k.Loan], w.calledBack(k)
	if !b.Loan.Open() || b.What == nil {
		return b, false
	}
	since := b.What.At
	for i := range b.Loan.Calls {
		if call := &b.Loan.Calls[i]; call.At >= b.What.At {
			b.Last, since = call, call.At
		}
	}
	if b.Last != nil && b.Last.On != "" {
		b.Late = b.Last.On < now.Today()
		return b, true
	}
	b.By = since + CallBackHours*3600*1000
	b.Late = now.UTC >= b.By
	return b, true
}

// calledBack is the newest call-back of a kit's pieces, nil for none.
func (w *World) calledBack(k *Kit) (newest *CalledBack) {
	for _, id := range k.Pieces {
		p := w.Pieces[id]
		if p == nil || p.State != Recalled || p.Called == nil {
			continue
		}
		if newest == nil || p.Called.Seq > newest.Seq {
			newest = p.Called
		}
	}
	return newest
}
