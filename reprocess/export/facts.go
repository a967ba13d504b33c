package export

import "handback/reprocess"

// factKind names one list of what an entry's events mention.
type factKind uint8

const (
	pieceIDs factKind = iota
	cycleIDs
	loanIDs
	procedures
	eventNames
	recordKinds
	answerTexts
	containerIDs
	lotIDs
	productIDs
	reasons
)

// separators join the lists: identifiers hold no space; answers and reasons are words.
var separators = [...]string{pieceIDs: " ", cycleIDs: " ", loanIDs: " ", procedures: " ",
	eventNames: " ", recordKinds: " ", answerTexts: "; ", containerIDs: " ", lotIDs: " ",
	productIDs: " ", reasons: "; "}

// facts is what the events of one entry mention, each once, in order.
type facts struct {
	lists             [reasons + 1][]string // by kind
	needed, notLooked int
}

func (f *facts) add(kind factKind, more ...string) {
	f.lists[kind] = addOnce(f.lists[kind], more...)
}

// take reads one event. Events without a line here show in the column events alone.
func (f *facts) take(event reprocess.Event, n *names) {
	f.add(eventNames, event.EventName())
	switch v := event.(type) {
	case reprocess.CycleOpened:
		f.add(pieceIDs, v.Piece)
		f.add(cycleIDs, v.Cycle)
		f.add(loanIDs, v.Loan)
		f.add(procedures, v.Procedure)
	case reprocess.StepRecorded:
		f.add(pieceIDs, v.Piece)
		f.add(cycleIDs, v.Cycle)
		f.add(procedures, n.procedures[v.Piece])
		f.record(v.Record)
	case reprocess.Undone:
		f.add(cycleIDs, v.Cycles...)
	case reprocess.KitReleased:
		for _, l := range v.Cycles {
			f.add(pieceIDs, l.Piece)
			f.add(cycleIDs, l.Cycle)
			f.add(procedures, n.procedures[l.Piece])
		}
		f.add(lotIDs, v.Lots...)
	default:
		f.takeKit(event)
	}
}

func (f *facts) record(r reprocess.Record) {
	f.add(recordKinds, string(r.Step)+":"+string(r.Kind))
	for _, a := range r.Answers {
		f.add(answerTexts, a.Ask+"="+a.Value)
	}
	f.add(containerIDs, r.Container)
	f.add(lotIDs, r.Lot)
	f.add(productIDs, r.Product)
	f.add(reasons, r.Reason)
	f.needed = max(f.needed, r.NeededS)
	f.notLooked = max(f.notLooked, r.NotLookS)
}

func (f *facts) takeKit(event reprocess.Event) {
	switch v := event.(type) {
	case reprocess.KitRegistered:
		for _, p := range v.Pieces {
			f.add(pieceIDs, p.ID)
		}
		if v.Loan != nil {
			f.add(loanIDs, v.Loan.ID)
		}
	case reprocess.PieceRegistered:
		f.add(pieceIDs, v.Piece.ID)
	case reprocess.KitComposed:
		f.add(pieceIDs, v.Pieces...)
	case reprocess.TakenBack:
		f.add(pieceIDs, v.Came...)
		f.add(loanIDs, v.Loan)
	case reprocess.Held:
		f.add(pieceIDs, v.Piece)
		f.add(reasons, v.Reason, v.Note)
	case reprocess.HoldEnded:
		f.add(pieceIDs, v.Piece)
		f.add(reasons, v.Reason)
	case reprocess.PieceMoved:
		f.add(pieceIDs, v.Piece)
		f.add(reasons, v.Reason)
	case reprocess.RecordingSet:
		f.add(reasons, string(v.Status), v.Reason)
	case reprocess.WaitingSet:
		f.add(reasons, v.Reason)
	case reprocess.WaitingEnded:
		f.add(reasons, v.Reason)
	case reprocess.ReleaseBroken:
		f.add(reasons, v.Why)
	default:
		f.takeRest(event)
	}
}

func (f *facts) takeRest(event reprocess.Event) {
	switch v := event.(type) {
	case reprocess.HandedOut:
		f.add(pieceIDs, v.Pieces...)
		f.add(loanIDs, v.ID)
		f.handOut(v)
	case reprocess.LoanExtended:
		f.add(loanIDs, v.Loan)
	case reprocess.RepairSent:
		f.add(pieceIDs, v.Piece)
		f.add(cycleIDs, v.Repair.Cycle)
		f.add(answerTexts, "declaration="+v.Repair.Declaration)
		f.add(reasons, v.Repair.Reason, v.Repair.Left, v.Repair.To)
	case reprocess.RepairExpected:
		f.add(pieceIDs, v.Piece)
		f.add(reasons, v.Note)
	case reprocess.RepairEnded:
		f.add(pieceIDs, v.Piece)
		f.add(answerTexts, "outcome="+v.Outcome)
		f.add(reasons, v.Note)
	case reprocess.LossDeclared:
		f.add(pieceIDs, v.Pieces...)
		f.add(answerTexts, "data="+v.Data)
		f.add(reasons, v.Note)
	case reprocess.LossTold:
		f.add(reasons, "told: "+v.Who)
	case reprocess.WornTold:
		f.add(loanIDs, v.Loan)
		f.add(answerTexts, "worn="+v.Worn)
	case reprocess.WardReturned:
		f.add(loanIDs, v.Loan, v.Under)
	case reprocess.HandOutUndone:
		f.add(loanIDs, v.Loan)
		f.add(reasons, v.Reason)
	case reprocess.LotSet:
		f.add(lotIDs, v.ID)
	case reprocess.LotStopped:
		f.add(lotIDs, v.Lot)
		f.add(reasons, v.Reason)
	case reprocess.LotLifted:
		f.add(lotIDs, v.Lot)
		f.add(reasons, v.Reason)
	case reprocess.ContainerOpened:
		f.add(containerIDs, v.ID)
		f.add(lotIDs, v.Lot)
	case reprocess.ContainerClosed:
		f.add(containerIDs, v.Container)
		f.add(reasons, v.Why)
	case reprocess.ProductSet:
		f.add(productIDs, v.ID)
	case reprocess.ProcedureApproved:
		f.add(procedures, v.Ref())
	}
}
