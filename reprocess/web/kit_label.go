package web

import (
	"net/url"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// labelPage is what a label's address answers when it does not open a kit.
type labelPage struct {
	Base
	HasState bool
	State    State
	Lines    []string
	To, Act  string
}

// label answers the address of a label or slip. To somebody who is not signed in it says the
// same for every code, known or not: whom to call.
func label(v *Visit) error {
	if v.Person == nil {
		return v.stranger()
	}
	code, err := labels.Parse(v.Param("code"))
	if err != nil {
		p := badCode(err)
		return v.Show(unsureLabel(p.Text, p.Fix))
	}
	l, err := v.Store().LabelByCode(v.Context(), string(code))
	if p := reprocess.AsProblem(err); p != nil && p.Code == reprocess.NotFound {
		return v.Show(unsureLabel("This label is not one of ours.",
			"Check the letters, or look the kit up by its number or serial."))
	}
	if err != nil {
		return err
	}
	return v.follow(l)
}

// follow leads to what a label stands for.
func (v *Visit) follow(l *reprocess.Label) error {
	switch l.Kind {
	case reprocess.CodePiece:
		return v.followPiece(l)
	case reprocess.CodeSlip:
		if l.Withdrawn != 0 {
			return v.Show(withdrawn("/kit/" + url.PathEscape(l.Target)))
		}
		return v.Went(kitURL(l.Target), "")
	case reprocess.CodeContainer:
		if l.Withdrawn != 0 {
			return v.Show(withdrawn("/container/" + url.PathEscape(l.Target)))
		}
		return v.Went("/container/"+url.PathEscape(l.Target), "")
	case reprocess.CodeBlank:
		if l.Withdrawn != 0 {
			return v.Show(unsureLabel("This sticker was withdrawn.", "Take another one."))
		}
		return v.Went("/label/"+url.PathEscape(l.Code)+"/bind", "")
	}
	page := unsureLabel("This label marks a place, not a device.",
		"Scan the kit itself; where it lies can be said on its page.")
	return v.Show(page)
}

// followPiece opens the kit of a piece and remembers which piece was scanned; where packing is
// next, the label counts as read back.
func (v *Visit) followPiece(l *reprocess.Label) error {
	piece, err := sqlite.Get[reprocess.Piece](v.Context(), v.Store(), reprocess.TablePiece, l.Target)
	if err != nil {
		return err
	}
	switch {
	case piece.LostLoose() && v.entitled(reprocess.ActAside):
		return v.Went(foundLooseURL(piece.ID), "")
	case piece.Kit == "":
		return v.Show(unsureLabel("This device belongs to no kit now.",
			"Ask a technician or a supervisor to put it into one."))
	case l.Withdrawn != 0:
		return v.Show(withdrawn(kitURL(piece.Kit)))
	}
	x, err := v.view(piece.Kit)
	if err != nil {
		return err
	}
	x.piece = piece.ID
	code := ""
	if groups := x.groups(); len(groups) > 0 && groups[0].step.ID == reprocess.StepPacking {
		code = l.Code
	}
	return v.Went(kitURL(piece.Kit, "piece", piece.ID, "code", code), "")
}

func unsureLabel(why, fix string) *labelPage {
	p := &labelPage{Base: Titled("Cannot confirm: " + why), HasState: true,
		State: UnsureState(why, "Treat as not released."), Lines: []string{fix},
		To: "/", Act: "All places"}
	p.OwnHeading = true
	return p
}

// withdrawn is a label that counts no more. What it was on can still be taken back.
func withdrawn(to string) *labelPage {
	p := unsureLabel("This label was withdrawn.",
		"It does not prove which device this is. Compare the serial on the plate, and print a new label.")
	p.To, p.Act = to, "Open what it belonged to"
	return p
}

// stranger sends staff on an enrolled phone to the sign-in and back; everybody else reads whom
// to call.
func (v *Visit) stranger() error {
	w, err := v.Store().SetUp(v.Context())
	if err != nil {
		return err
	}
	if !w.Settings.PublicPage && v.enrolled() == nil {
		return v.askToSignIn()
	}
	return finder(v)
}

func sampleLabel() Page { return withdrawn("/kit/K18") }
