package sqlite

import "handback/reprocess"

// lookBackRefs lists the rows of events about frozen look-backs.
func lookBackRefs(event reprocess.Event) ([]reprocess.Ref, bool) {
	switch v := event.(type) {
	case reprocess.LookBackFrozen:
		return refTo(reprocess.TableLookBack, v.ID), true
	case reprocess.LookBackActed:
		return refTo(reprocess.TableLookBack, v.LookBack), true
	case reprocess.CycleRestarted:
		refs := append(refTo(reprocess.TablePiece, v.Piece), refTo(reprocess.TableCycle, v.Cycle)...)
		return append(refs, refTo(reprocess.TableKit, v.Kit)...), true
	}
	return nil, false
}
