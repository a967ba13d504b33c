package export

import (
	"fmt"
	"strings"

	"handback/reprocess"
)

// fold is a world with what the table of cycles wants beside it. A cycle that no piece stands in
// any more is packed until it is written or named again, so that memory holds the work in hand
// and some hundred bytes for each cycle before it.
type fold struct {
	w     *reprocess.World
	order []string          // cycles, in the order they first show
	about map[string]*about // by cycle
	paper map[string]bool   // loans that began on paper, before this log
	pack  packer
	slack int // cycles in the world beyond two for each piece
}

// about is what is known of a cycle beside its records.
type about struct {
	began    int64 // entry that opened it; 0: earlier than the entries here
	released int64
	why      string // it was broken off
	packed   []byte // nil: it is in the world
}

// foldSlack is small beside what a program takes anyway: a cycle is some 5 KB.
const foldSlack = 1000

func newFold() *fold {
	return &fold{w: reprocess.NewWorld(), about: map[string]*about{}, paper: map[string]bool{},
		slack: foldSlack}
}

func foldAll(entries Entries) (*fold, error) {
	f := newFold()
	for line, err := range inOrder(entries) {
		if err == nil {
			err = f.take(line.Entry)
		}
		if err != nil {
			return nil, err
		}
	}
	return f, nil
}

// take folds one entry. In a part of the log pieces and cycles can show whose beginning is not
// there; they are made known first, so that what is there is not lost.
func (f *fold) take(e *reprocess.Entry) error {
	if e.Result != reprocess.ResultDone {
		return nil
	}
	open := map[string]string{} // piece → cycle that this entry may break off
	for _, b := range e.Events {
		for _, id := range cyclesNamed(b.Event) {
			if err := f.unpack(id); err != nil {
				return err
			}
		}
		switch v := b.Event.(type) {
		case reprocess.CycleOpened:
			f.knowPiece(v.Piece, v.Kit, "")
			f.order = append(f.order, v.Cycle)
			f.know(v.Cycle).began = e.Seq
		case reprocess.StepRecorded:
			f.knowPiece(v.Piece, e.Kit, v.Cycle)
			f.partCycle(v.Cycle, v.Piece, e.Kit)
		case reprocess.KitReleased:
			for _, l := range v.Cycles {
				f.knowPiece(l.Piece, v.Kit, l.Cycle)
				f.partCycle(l.Cycle, l.Piece, v.Kit)
				f.know(l.Cycle).released = e.Seq
			}
		case reprocess.TakenBack:
			for _, id := range v.Came {
				open[id] = "taken back"
			}
		case reprocess.PieceMoved:
			open[v.Piece] = strings.TrimSuffix(v.State.String()+": "+v.Reason, ": ")
		}
	}
	f.breaking(open)
	reprocess.Apply(f.w, e)
	return f.forget()
}

// cyclesNamed are the cycles that an event changes by their ids. Others change only the cycle
// that a piece stands in, which is never packed.
func cyclesNamed(event reprocess.Event) []string {
	switch v := event.(type) {
	case reprocess.CycleOpened:
		return []string{v.Cycle}
	case reprocess.StepRecorded:
		return []string{v.Cycle}
	case reprocess.RecordCorrected:
		return []string{v.Cycle}
	case reprocess.Undone:
		return v.Cycles
	case reprocess.KitReleased:
		var ids []string
		for _, l := range v.Cycles {
			ids = append(ids, l.Cycle)
		}
		return ids
	}
	return nil
}

// forget lets go of what no row is made from, and packs cycles when there are many.
func (f *fold) forget() error {
	w := f.w
	w.Touched()
	for id, l := range w.Loans {
		if l.TakenOver {
			f.paper[id] = true
		}
	}
	clear(w.Loans)
	clear(w.Labels)
	clear(w.Containers)
	clear(w.Daybooks)
	clear(w.Wants)
	clear(w.Findings)
	if len(w.Cycles) <= f.slack+2*len(w.Pieces) {
		return nil
	}
	for id, c := range w.Cycles {
		if p := w.Pieces[c.Piece]; p != nil && p.Cycle == id {
			continue
		}
		packed, err := f.pack.pack(c)
		if err != nil {
			return err
		}
		f.know(id).packed = packed
		delete(w.Cycles, id)
	}
	return nil
}

// unpack puts a packed cycle back into the world.
func (f *fold) unpack(id string) error {
	a := f.about[id]
	if a == nil || a.packed == nil {
		return nil
	}
	c, err := f.pack.unpack(a.packed)
	if err != nil {
		return fmt.Errorf("cycle %s: %w", id, err)
	}
	f.w.Cycles[id], a.packed = c, nil
	return nil
}

func (f *fold) know(id string) *about {
	if f.about[id] == nil {
		f.about[id] = &about{}
	}
	return f.about[id]
}

// breaking notes why open cycles end here.
func (f *fold) breaking(open map[string]string) {
	for id, why := range open {
		p := f.w.Pieces[id]
		if p == nil {
			continue
		}
		if c := f.w.Cycles[p.Cycle]; c != nil && c.Ended == 0 {
			f.know(c.ID).why = why
		}
	}
}

func (f *fold) knowPiece(id, kit, cycle string) {
	if f.w.Pieces[id] == nil {
		f.w.Pieces[id] = &reprocess.Piece{ID: id, Kit: kit, Cycle: cycle,
			State: reprocess.InReprocessing}
	}
}

// partCycle makes a cycle known whose beginning is not among the entries; one that begins in
// this very entry is not in the world yet.
func (f *fold) partCycle(id, piece, kit string) {
	if f.w.Cycles[id] == nil && f.know(id).began == 0 {
		f.order = append(f.order, id)
		f.w.Cycles[id] = &reprocess.Cycle{ID: id, Piece: piece, Kit: kit}
	}
}

// cycle is a row as it stands now; nil for a cycle that is not there.
func (f *fold) cycle(id string) (*cycleRow, error) {
	a, c := f.about[id], f.w.Cycles[id]
	if a != nil && a.packed != nil {
		var err error
		if c, err = f.pack.unpack(a.packed); err != nil {
			return nil, fmt.Errorf("cycle %s: %w", id, err)
		}
	}
	if c == nil {
		return nil, nil
	}
	if a == nil {
		a = &about{}
	}
	r := &cycleRow{w: f.w, Cycle: c, from: a.began, released: a.released, why: a.why,
		paper: f.paper[c.Loan]}
	r.progress = r.Progress()
	r.best, r.wet = r.progress.Wet.Best()
	return r, nil
}
