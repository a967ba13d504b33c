package reprocess

import (
	"cmp"
	"slices"
)

// ReachedPlace is where a kit stands that something doubtful touched.
type ReachedPlace string

// The places, in the order in which they are acted on.
const (
	ReachedOut   ReachedPlace = "out"   // with a wearer
	ReachedShelf ReachedPlace = "shelf" // released, in the house
	ReachedWork  ReachedPlace = "work"  // in a running cycle
)

// Reached is one kit that lots touched, where it stands and which of the lots it was.
type Reached struct {
	Kit   *Kit
	Place ReachedPlace
	Lots  []string // ids, in the order asked for
	Due   Date     // of a kit that is out
}

// WithBatches are these lots and every batch that was prepared from one of them.
func (w *World) WithBatches(lots ...string) []string {
	all := slices.Clone(lots)
	for _, id := range sortedKeys(w.Lots) {
		if from := w.Lots[id].From; from != "" && contains(lots, from) {
			all = withOne(all, id)
		}
	}
	return all
}

// Reach lists the kits that lots of disinfectant or cells touched and that somebody has to do
// something about: with a wearer on a release that rests on them, released in the house on them,
// or in a running cycle that used them. World: all kits with pieces, latest cycles and loans. A
// kit that has begun a new cycle without them is not reached by its old release.
func Reach(w *World, lots ...string) []Reached {
	lots = w.WithBatches(lots...)
	var all []Reached
	for _, k := range w.Kits {
		if k.Retired {
			continue
		}
		if r := w.reached(k, lots); r.Place != "" {
			all = append(all, r)
		}
	}
	order := []ReachedPlace{ReachedOut, ReachedShelf, ReachedWork}
	slices.SortFunc(all, func(a, b Reached) int {
		return cmp.Or(cmp.Compare(slices.Index(order, a.Place), slices.Index(order, b.Place)),
			cmp.Compare(a.Due, b.Due), cmp.Compare(len(a.Kit.Number), len(b.Kit.Number)),
			cmp.Compare(a.Kit.Number, b.Kit.Number))
	})
	return all
}

func (w *World) reached(k *Kit, lots []string) Reached {
	r := Reached{Kit: k}
	loan := w.Loans[k.Loan]
	var behind []string
	if k.Release != nil {
		behind = k.Release.Lots
	}
	if loan.Open() {
		behind = slices.Concat(behind, w.wentAlong(loan))
		r.Due = loan.Due
		r.Place, r.Lots = ReachedOut, common(lots, behind)
	} else if KitState(k, w.Pieces) == Released || k.Release != nil {
		r.Place, r.Lots = ReachedShelf, common(lots, behind)
	}
	if len(r.Lots) == 0 {
		r.Place, r.Lots = ReachedWork, common(lots, w.working(k))
	}
	if len(r.Lots) == 0 {
		r.Place = ""
	}
	return r
}

// wentAlong lists the lots of the cell that was fitted at the counter and of the electrodes that
// went along; a wearer on a ward has the cell that the ward got.
func (w *World) wentAlong(l *Loan) []string {
	var lots []string
	for _, at := range []*Loan{l, w.Loans[l.Under]} {
		for _, id := range atOut(at) {
			if id != "" {
				lots = append(lots, id)
			}
		}
	}
	return lots
}

func atOut(l *Loan) []string {
	if l == nil {
		return nil
	}
	return []string{l.Cell, l.Pads}
}

// working lists the lots that the running cycles of a kit used so far.
func (w *World) working(k *Kit) []string {
	var used []string
	for _, id := range k.Pieces {
		piece := w.Pieces[id]
		if piece == nil {
			continue
		}
		cycle := w.Cycles[piece.Cycle]
		if cycle == nil || cycle.Ended != 0 {
			continue
		}
		for _, r := range cycle.Records {
			if !r.Undone {
				used = append(used, r.Lot, r.Answered("cell"))
			}
		}
	}
	return used
}

// common are those of the first list that stand in the second.
func common(lots, behind []string) []string {
	var all []string
	for _, id := range lots {
		if contains(behind, id) {
			all = append(all, id)
		}
	}
	return all
}

func sortedKeys[T any](m map[string]T) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
