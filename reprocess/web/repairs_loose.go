package web

import (
	"handback/reprocess"
)

// A piece that left its kit while it was at repair has no page of a kit; its return is recorded
// here.

// loosePiece finds such a piece.
func (v *Visit) loosePiece() (*reprocess.Piece, error) {
	w, err := v.Store().Pieces(v.Context())
	if err != nil {
		return nil, err
	}
	p := w.Pieces[v.Param("piece")]
	if p == nil || p.Kit != "" {
		return nil, notFound("piece without a kit")
	}
	return p, nil
}

func (v *Visit) loosePage(piece *reprocess.Piece) *officePage {
	p := titledOffice("What came of the repair of "+string(piece.Kind)+" "+piece.Serial+"?",
		repairNotes(piece, v.today())...)
	f := &form{To: "/repairs/" + piece.ID, Act: "It is back from repair"}
	var outcomes []Choice
	for _, r := range reprocess.RepairOutcomes() {
		outcomes = append(outcomes, Choice{Value: r.ID, Words: capital(r.Words)})
	}
	f.one("outcome", "What came of it", v.Field("outcome"), outcomes...)
	f.day("on", "Back on, if not today", reprocess.Date(v.Field("on")), "")
	f.text("cost", "Cost, if there is a bill", v.Field("cost"), "Such as 84.50 or 84,50")
	f.text("currency", "Currency", v.Field("currency"), "Such as EUR")
	f.text("note", "What was done", v.Field("note"), "No names of wearers.")
	p.form(f)
	p.list("", "", ruledLine{To: "/repairs", Words: "What is at repair?"})
	return p
}

func showLoose(v *Visit) error {
	piece, err := v.loosePiece()
	if err != nil {
		return err
	}
	return v.Show(v.loosePage(piece))
}

func looseBack(v *Visit) error {
	piece, err := v.loosePiece()
	if err != nil {
		return err
	}
	cost, p := hundredths(v.Field("cost"))
	if p == nil {
		_, err = v.Do(reprocess.RepairBack{Piece: piece.ID, Outcome: v.Field("outcome"), Cost: cost,
			On: reprocess.Date(v.Field("on")), Currency: v.Field("currency"), Note: v.Field("note")})
	} else {
		err = p
	}
	if err != nil {
		return v.Refuse(err, v.loosePage(piece))
	}
	return v.Went("/repairs", "Back from repair. Put it into a kit: it goes through the bench there.")
}
