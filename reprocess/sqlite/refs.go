package sqlite

import "handback/reprocess"

// refsOf lists the rows an event names: they are loaded before the event is folded, and they
// are what the audit trail can be searched by. New events need a line here; a test walks all.
func refsOf(event reprocess.Event) []reprocess.Ref {
	if refs, ok := setUpRefs(event); ok {
		return refs
	}
	if refs, ok := kitRefs(event); ok {
		return refs
	}
	if refs, ok := weekRefs(event); ok {
		return refs
	}
	if refs, ok := keepRefs(event); ok {
		return refs
	}
	if refs, ok := lookBackRefs(event); ok {
		return refs
	}
	if refs, ok := sampleRefs(event); ok {
		return refs
	}
	if refs, ok := documentRefs(event); ok {
		return refs
	}
	return cycleRefs(event)
}

func setUpRefs(event reprocess.Event) ([]reprocess.Ref, bool) {
	switch v := event.(type) {
	case reprocess.SettingsSet:
		return nil, true
	case reprocess.PersonSet:
		return refTo(reprocess.TablePerson, v.ID), true
	case reprocess.SecretSet:
		return refTo(reprocess.TablePerson, v.Person), true
	case reprocess.ModelSet:
		return refTo(reprocess.TableModel, v.ID), true
	case reprocess.ProcedureApproved:
		return append(refTo(reprocess.TableProcedure, v.Ref()),
			refTo(reprocess.TableModel, v.Model)...), true
	case reprocess.HeightLearnt:
		return append(refTo(reprocess.TableModel, v.Model),
			refTo(reprocess.TablePiece, v.Piece)...), true
	case reprocess.ProductSet:
		return refTo(reprocess.TableProduct, v.ID), true
	case reprocess.PhoneEnrolled:
		return refTo(reprocess.TablePhone, v.Phone), true
	case reprocess.PhoneRevoked:
		return refTo(reprocess.TablePhone, v.Phone), true
	case reprocess.LotSet:
		return refTo(reprocess.TableLot, v.ID), true
	case reprocess.LotStopped:
		return refTo(reprocess.TableLot, v.Lot), true
	case reprocess.LotLifted:
		return refTo(reprocess.TableLot, v.Lot), true
	case reprocess.LotEnded:
		return refTo(reprocess.TableLot, v.Lot), true
	case reprocess.LotResumed:
		return refTo(reprocess.TableLot, v.Lot), true
	case reprocess.StrengthRead:
		return refTo(reprocess.TableContainer, v.Container), true
	case reprocess.ContainerReopened:
		return refTo(reprocess.TableContainer, v.Container), true
	case reprocess.ContainerOpened:
		return append(refTo(reprocess.TableContainer, v.ID),
			refTo(reprocess.TableLot, v.Lot)...), true
	case reprocess.ContainerClosed:
		return refTo(reprocess.TableContainer, v.Container), true
	case reprocess.LabelIssued:
		return refTo(reprocess.TableLabel, v.Code), true
	case reprocess.LabelBound:
		return refTo(reprocess.TableLabel, v.Code), true
	case reprocess.LabelWithdrawn:
		return refTo(reprocess.TableLabel, v.Code), true
	}
	return nil, false
}

func kitRefs(event reprocess.Event) ([]reprocess.Ref, bool) {
	switch v := event.(type) {
	case reprocess.KitRegistered:
		refs := refTo(reprocess.TableKit, v.Kit.ID)
		for _, p := range v.Pieces {
			refs = append(refs, refTo(reprocess.TablePiece, p.ID)...)
		}
		if v.Loan != nil {
			refs = append(refs, refTo(reprocess.TableLoan, v.Loan.ID)...)
		}
		return refs, true
	case reprocess.PieceRegistered:
		return refTo(reprocess.TablePiece, v.Piece.ID), true
	case reprocess.KitMoved:
		return refTo(reprocess.TableKit, v.Kit), true
	case reprocess.KitComposed:
		return append(refTo(reprocess.TableKit, v.Kit),
			refTo(reprocess.TablePiece, v.Pieces...)...), true
	case reprocess.TakenBack:
		refs := append(refTo(reprocess.TableKit, v.Kit), refTo(reprocess.TableLoan, v.Loan)...)
		return append(refs, refTo(reprocess.TablePiece, v.Came...)...), true
	case reprocess.ForeignItem:
		return nil, true // it is not ours and has no row
	case reprocess.PassRead:
		return refTo(reprocess.TablePerson, v.Person), true
	case reprocess.PassUsed:
		return refTo(reprocess.TablePerson, v.Person), true
	case reprocess.Exported, reprocess.RollCalled, reprocess.TurnedAway, reprocess.WarningNoted, reprocess.FilesRemoved:
		return nil, true // it is about the record itself
	case reprocess.LossDeclared:
		return append(refTo(reprocess.TableKit, v.Kit), refTo(reprocess.TablePiece, v.Pieces...)...), true
	case reprocess.LossTold:
		return refTo(reprocess.TableKit, v.Kit), true
	case reprocess.ParcelOpened:
		return refTo(reprocess.TableKit, v.Kit), true
	case reprocess.RecordingSet:
		return refTo(reprocess.TableKit, v.Kit), true
	case reprocess.WaitingSet:
		return refTo(reprocess.TableKit, v.Kit), true
	case reprocess.WaitingEnded:
		return refTo(reprocess.TableKit, v.Kit), true
	case reprocess.KitReleased:
		refs := append(refTo(reprocess.TableKit, v.Kit), refTo(reprocess.TableLot, v.Lots...)...)
		for _, l := range v.Cycles {
			refs = append(refs, refTo(reprocess.TablePiece, l.Piece)...)
			refs = append(refs, refTo(reprocess.TableCycle, l.Cycle)...)
		}
		return refs, true
	case reprocess.CheckRecorded:
		return append(refTo(reprocess.TablePiece, v.Piece), refTo(reprocess.TableKit, v.Kit)...), true
	case reprocess.VersionSet:
		return append(refTo(reprocess.TablePiece, v.Piece), refTo(reprocess.TableKit, v.Kit)...), true
	case reprocess.CampaignMarked:
		return append(refTo(reprocess.TablePiece, v.Piece), refTo(reprocess.TableKit, v.Kit)...), true
	case reprocess.CampaignSet:
		return refTo(reprocess.TableModel, v.Model), true
	case reprocess.PairChecked:
		return append(append(refTo(reprocess.TableKit, v.Kit), refTo(reprocess.TablePiece, v.Recorder,
			v.Phone)...), refTo(reprocess.TableCycle, v.RecorderCycle, v.PhoneCycle)...), true
	case reprocess.PictureAdded:
		return append(refTo(reprocess.TableKit, v.Kit), refTo(reprocess.TablePiece, v.Piece)...), true
	case reprocess.ReleaseBroken:
		return refTo(reprocess.TableKit, v.Kit), true
	case reprocess.Rechecked:
		return refTo(reprocess.TableKit, v.Kit), true
	}
	return nil, false
}

func cycleRefs(event reprocess.Event) []reprocess.Ref {
	switch v := event.(type) {
	case reprocess.CycleOpened:
		refs := append(refTo(reprocess.TableCycle, v.Cycle), refTo(reprocess.TablePiece, v.Piece)...)
		refs = append(refs, refTo(reprocess.TableProcedure, v.Procedure)...)
		return append(refs, refTo(reprocess.TableKit, v.Kit)...)
	case reprocess.StepRecorded:
		refs := append(refTo(reprocess.TableCycle, v.Cycle), refTo(reprocess.TablePiece, v.Piece)...)
		refs = append(refs, refTo(reprocess.TableContainer, v.Record.Container)...)
		return append(refs, refTo(reprocess.TableLot, v.Record.Lot)...)
	case reprocess.RecordCorrected:
		refs := append(refTo(reprocess.TableCycle, v.Cycle), refTo(reprocess.TablePiece, v.Piece)...)
		refs = append(refs, refTo(reprocess.TableContainer, v.Record.Container)...)
		refs = append(refs, refTo(reprocess.TableLot, v.Record.Lot)...)
		return append(refs, refTo(reprocess.TableKit, v.Kit)...)
	case reprocess.Undone:
		return append(refTo(reprocess.TableKit, v.Kit), refTo(reprocess.TableCycle, v.Cycles...)...)
	case reprocess.Held:
		return refTo(reprocess.TablePiece, v.Piece)
	case reprocess.HoldEnded:
		return refTo(reprocess.TablePiece, v.Piece)
	case reprocess.RepairSent:
		return append(refTo(reprocess.TablePiece, v.Piece), refTo(reprocess.TableCycle, v.Repair.Cycle)...)
	case reprocess.RepairExpected:
		return refTo(reprocess.TablePiece, v.Piece)
	case reprocess.RepairEnded:
		return refTo(reprocess.TablePiece, v.Piece)
	case reprocess.PieceMoved:
		return append(refTo(reprocess.TablePiece, v.Piece), refTo(reprocess.TableKit, v.Loss)...)
	case reprocess.HandedOut:
		refs := append(refTo(reprocess.TableLoan, v.ID, v.Under), refTo(reprocess.TableKit, v.Kit)...)
		return append(refs, refTo(reprocess.TablePiece, v.Pieces...)...)
	case reprocess.WornTold:
		return append(refTo(reprocess.TableLoan, v.Loan), refTo(reprocess.TableKit, v.Kit)...)
	case reprocess.WardReturned:
		return append(refTo(reprocess.TableLoan, v.Loan, v.Under), refTo(reprocess.TableKit, v.Kit)...)
	case reprocess.LoanExtended:
		return refTo(reprocess.TableLoan, v.Loan)
	case reprocess.HandOutUndone:
		return append(refTo(reprocess.TableLoan, v.Loan), refTo(reprocess.TableKit, v.Kit)...)
	case reprocess.WearerViewed:
		return append(refTo(reprocess.TableLoan, v.Loan), refTo(reprocess.TableKit, v.Kit)...)
	}
	return nil
}
