package sqlite

import "handback/reprocess"

// weekRefs lists the rows of events about the day, the desk's plan and findings.
func weekRefs(event reprocess.Event) ([]reprocess.Ref, bool) {
	switch v := event.(type) {
	case reprocess.DayTicked:
		return refTo(reprocess.TableDaybook, string(v.Day)), true
	case reprocess.DayNoted:
		return refTo(reprocess.TableDaybook, string(v.Day)), true
	case reprocess.HandedOver:
		return append(refTo(reprocess.TableDaybook, string(v.Day)),
			refTo(reprocess.TablePerson, v.From, v.To)...), true
	case reprocess.LoanCalled:
		return append(refTo(reprocess.TableLoan, v.Loan), refTo(reprocess.TableKit, v.Kit)...), true
	case reprocess.KitKept:
		return refTo(reprocess.TableKit, v.Kit), true
	case reprocess.KeepEnded:
		return refTo(reprocess.TableKit, v.Kit), true
	case reprocess.WantSet:
		return append(refTo(reprocess.TableWant, reprocess.WantID(v.Day, v.Model)),
			refTo(reprocess.TableModel, v.Model)...), true
	case reprocess.FindingOpened:
		refs := append(refTo(reprocess.TableFinding, v.ID), refTo(reprocess.TableKit, v.Kit)...)
		return append(refs, refTo(reprocess.TablePerson, v.Owner)...), true
	case reprocess.FindingMoved:
		return append(refTo(reprocess.TableFinding, v.Finding),
			refTo(reprocess.TablePerson, v.Owner)...), true
	case reprocess.FindingClosed:
		return refTo(reprocess.TableFinding, v.Finding), true
	}
	return nil, false
}
