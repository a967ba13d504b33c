package sqlite

import "handback/reprocess"

// keepRefs lists the rows of events about keeping and erasing.
func keepRefs(event reprocess.Event) ([]reprocess.Ref, bool) {
	switch v := event.(type) {
	case reprocess.LegalHoldSet:
		refs := append(refTo(reprocess.TableLegalHold, v.ID), refTo(reprocess.TableKit, v.Kit)...)
		return append(refs, refTo(reprocess.TableLoan, v.Loan)...), true
	case reprocess.LegalHoldLifted:
		return refTo(reprocess.TableLegalHold, v.Hold), true
	case reprocess.WearerErased:
		return append(refTo(reprocess.TableLoan, v.Loan), refTo(reprocess.TableKit, v.Kit)...), true
	}
	return nil, false
}
