package web

import (
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// movedRead is how many entries of a piece are read at once to find what stopped it.
const movedRead = 50

// whyStopped says when and by whom a kit was stopped or called back, and why; "" when it was not.
// Several pieces were stopped together, so the first of them speaks. Cost: a read of the piece's
// newest entries, only while it is stopped.
func (x *view) whyStopped() (string, error) {
	for _, t := range x.tracks {
		switch {
		case t.Piece.State == reprocess.Embargoed:
			return x.embargoOf(t.Piece.ID)
		case t.Piece.State == reprocess.Recalled && t.Piece.Called != nil:
			c := t.Piece.Called
			return x.stopWords("Called back", c.At, c.Name, c.Reason), nil
		}
	}
	return "", nil
}

// embargoOf finds the entry that stopped a piece; nothing moved it since.
func (x *view) embargoOf(piece string) (string, error) {
	f := sqlite.Filter{Result: reprocess.ResultDone,
		Ref: reprocess.Ref{Table: reprocess.TablePiece, ID: piece}}
	for before := int64(0); ; {
		list, err := x.v.Store().Entries(x.v.Context(), f, before, movedRead)
		if err != nil || len(list) == 0 {
			return "", err
		}
		for _, e := range list {
			for _, box := range e.Events {
				if m, ok := box.Event.(reprocess.PieceMoved); ok && m.Piece == piece &&
					m.State == reprocess.Embargoed {
					return x.stopWords("Stopped", e.At, e.Name, m.Reason), nil
				}
			}
			before = e.Seq
		}
	}
}

func (x *view) stopWords(what string, at reprocess.Instant, by, reason string) string {
	return what + " " + x.clock(at) + " by " + by + ": " + reason
}

// heldState is the state block of a kit that may not go out: of one that is stopped or called back
// with the reason, and whoever can end that is not told to ask themselves.
func (x *view) heldState(a reprocess.DeskAnswer) State {
	lines := []string{a.Reason}
	ask := a.Ask
	if a.Rule == reprocess.Embargoed.Code() || a.Rule == reprocess.Recalled.Code() {
		if x.why != "" {
			lines = append(lines, x.why)
		}
		if x.v.may(reprocess.ActEmbargoLift) {
			ask = ""
		}
	}
	if ask != "" {
		lines = append(lines, ask)
	}
	return HeldState(lines...)
}
