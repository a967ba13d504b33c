package web

import (
	"slices"
	"strconv"
	"strings"

	"handback/reprocess"
)

// smallAct is one act behind "Something else": a page with a few fields. When it is signed by
// the table of rights, the page asks for the own secret.
type smallAct struct {
	path     string
	act      reprocess.Act
	words    string // the line that leads here, and the act
	question string
	when     func(*view) bool // whether it makes sense now; the rule decides
	form     func(*view, *actPage)
	command  func(*view) (reprocess.Command, error)
	said     string
}

// actPage is the page of a small act.
type actPage struct {
	Base
	ID, Path, Act string
	Lines         []string
	Asks          []askLine
	Secret        *Field
	Last          []askLine // after the rest, before the secret
	Links         []link
	Nothing       bool // there is no question now; the lines say why
}

func (p *actPage) choices(c Choices) { p.Asks = append(p.Asks, askLine{Choices: &c}) }
func (p *actPage) field(f Field)     { p.Asks = append(p.Asks, askLine{Field: &f}) }

func always(*view) bool { return true }

// smallActs is the list, in the order it stands on the page.
func smallActs() []smallAct {
	return slices.Concat(turnActs, holdActs, packActs, repairActs)
}

// findSmallAct looks an act up by its path.
func findSmallAct(path string) (smallAct, bool) {
	for _, a := range smallActs() {
		if a.path == path {
			return a, true
		}
	}
	return smallAct{}, false
}

// more lists what this person may do with the kit besides its next act.
func (x *view) more() []link {
	all := []link{}
	for _, a := range smallActs() {
		if x.v.may(a.act) && a.when(x) {
			all = append(all, link{To: "/kit/" + x.k.ID + "/" + a.path, Words: a.words})
		}
	}
	all = append(all, x.evidenceLinks()...)
	if x.k.HasPhone(x.w.Pieces) && x.v.may(reprocess.ActPair) && x.isAtWork() {
		all = append(all, x.pairLinks()...)
	}
	if slices.ContainsFunc(x.tracks, wetted) && x.v.may(reprocess.ActWet) {
		all = append(all, link{To: kitURL(x.k.ID, "piece", x.piece, "wet", "1"), Words: "Wipe it again"})
	}
	if !x.isOut() && x.v.may(reprocess.ActReturn) {
		all = append(all, link{To: deskURL(x.k.ID, "back"), Words: "It came back from somebody"})
	}
	if x.isOut() && x.v.may(reprocess.ActExtend) {
		all = append(all, link{To: deskURL(x.k.ID, "loan"),
			Words: "Extend the loan or undo the hand-out"})
	}
	if !x.k.Loss.Open() && x.v.may(reprocess.ActMissing) {
		all = append(all, link{To: deskURL(x.k.ID, "missing"), Words: "It is missing"})
	}
	if !x.isOut() && x.v.may(reprocess.ActIssueAfter) {
		all = append(all, link{To: deskURL(x.k.ID, "after"), Words: "It went out without a record"})
	}
	if x.v.may(reprocess.ActPicture) {
		all = append(all, link{To: "/kit/" + x.k.ID + "/picture", Words: "Take a picture of it"})
	}
	if x.v.may(reprocess.ActPaper) {
		all = append(all, link{To: "/kit/" + x.k.ID + "/paper", Words: "Enter what was written on paper"})
	}
	for _, f := range x.findings {
		all = append(all, link{To: findingAt(f.ID), Words: "To put right: " + f.Text})
	}
	all = append(all, link{To: "/findings/new?kit=" + x.k.ID, Words: "Write a finding down"})
	if x.v.may(reprocess.ActStep) {
		all = append(all, x.technicalLinks()...)
	}
	for _, l := range x.v.officeLinks(x.k) {
		all = append(all, link{To: l.To, Words: l.Words})
	}
	return append(all, link{To: "/kit/" + x.k.ID + "/history", Words: "What happened to it"})
}

// evidenceLinks lead to the test recording while the test is next, and to keeping a picture.
func (x *view) evidenceLinks() []link {
	var all []link
	testing := slices.ContainsFunc(x.tracks, func(t reprocess.Track) bool {
		return t.Next == reprocess.StepFunction
	})
	if testing && x.v.may(reprocess.ActStep) && hasRow(testRow) {
		all = append(all, link{To: x.row(testRow), Words: "Upload a test recording"})
	}
	if x.v.may(reprocess.ActPicture) && hasRow(pictureRow) {
		all = append(all, link{To: x.row(pictureRow), Words: "Keep a picture"})
	}
	return all
}

// row is the address of a row of the site map for this kit.
func (x *view) row(path string) string { return strings.Replace(path, ":id", x.k.ID, 1) }

// actForm draws the page of a small act.
func (x *view) actForm(a smallAct) *actPage {
	if !a.when(x) {
		return x.notDue(a)
	}
	p := &actPage{Base: Titled(a.question + " Kit " + x.k.Number), ID: x.k.ID, Path: a.path,
		Act: a.words}
	if a.form != nil {
		a.form(x, p)
	}
	if right, ok := reprocess.FindRight(a.act); ok && right.Signed {
		f := SignField()
		p.Secret = &f
	}
	return p
}

// showSmallAct and doSmallAct make the two handlers of one row.
func showSmallAct(path string) func(*Visit) error {
	return func(v *Visit) error {
		a, _ := findSmallAct(path)
		x, err := v.view(v.Param("id"))
		if err != nil {
			return err
		}
		return v.Show(x.actForm(a))
	}
}

func doSmallAct(path string) func(*Visit) error {
	return func(v *Visit) error {
		a, _ := findSmallAct(path)
		x, err := v.view(v.Param("id"))
		if err != nil {
			return err
		}
		x.keepTyped()
		if err := x.doSmall(a); err != nil {
			return v.Refuse(err, x.actForm(a))
		}
		return v.Went(kitURL(x.k.ID), a.said)
	}
}

func (x *view) keepTyped() {
	x.v.eachField(func(name, value string) {
		if !strings.HasPrefix(name, "secret") {
			x.typed[name] = strings.TrimSpace(value)
		}
	})
}

func (x *view) doSmall(a smallAct) error {
	actor, err := x.v.Actor(), error(nil)
	if right, ok := reprocess.FindRight(a.act); ok && right.Signed {
		if actor, err = x.v.Sign(); err != nil {
			return err
		}
	}
	cmd, err := a.command(x)
	if err != nil {
		return err
	}
	_, err = x.v.DoAs(cmd, actor)
	return err
}

// sampleAct draws the page of the hold, for the tests of the template.
func sampleAct() Page {
	p := &actPage{Base: Titled("Why is it put on hold? Kit 17"), ID: "K18", Path: "hold",
		Act:   "Put on hold",
		Lines: []string{"It cannot be handed out until somebody entitled decides."}}
	p.choices(Choices{Name: "piece", Legend: "Which piece?",
		Options: []Choice{{Value: "P1", Words: "Recorder"}}})
	p.field(TextField("note", "What was seen", ""))
	f := SignField()
	p.Secret = &f
	return p
}

// pieceChoice asks which piece; a kit of one piece is not asked.
func (x *view) pieceChoice(p *actPage, fits func(reprocess.Track) bool) {
	c := Choices{Name: "piece", Legend: "Which piece?", Required: true}
	for _, t := range x.tracks {
		if fits == nil || fits(t) {
			c.Options = append(c.Options, Choice{Value: t.Piece.ID,
				Words: capital(string(t.Piece.Kind)), Note: "serial " + t.Piece.Serial})
		}
	}
	pick := x.typed["piece"]
	if len(c.Options) == 1 {
		pick = c.Options[0].Value
	}
	p.choices(c.Pick(pick))
}

// reasonChoice draws a list of reasons.
func (x *view) reasonChoice(p *actPage, legend string, reasons []reprocess.Reason) {
	c := Choices{Name: "reason", Legend: legend, Required: true}
	for _, r := range reasons {
		c.Options = append(c.Options, Choice{Value: r.ID, Words: capital(r.Words)})
	}
	p.choices(c.Pick(x.typed["reason"]))
}

// list draws choices from pairs of value and words.
func (x *view) list(p *actPage, name, legend string, pairs ...string) {
	c := Choices{Name: name, Legend: legend, Required: true}
	for i := 0; i+1 < len(pairs); i += 2 {
		c.Options = append(c.Options, Choice{Value: pairs[i], Words: pairs[i+1]})
	}
	p.choices(c.Pick(x.typed[name]))
}

// note asks for a short text without names.
func (x *view) note(p *actPage, name, label string, required bool) {
	f := TextField(name, label, x.typed[name])
	f.Hint, f.Required = "No names of wearers, no diagnoses.", required
	p.field(f)
}

// holdKey and readHold write one hold as a value of a form: piece and entry.
func holdKey(piece string, seq int64) string { return piece + "/" + strconv.FormatInt(seq, 10) }

func readHold(value string) (piece string, seq int64) {
	piece, text, _ := strings.Cut(value, "/")
	return piece, number(text)
}

// holds draws the open holds of some grades.
func (x *view) holds(p *actPage, grades ...reprocess.Grade) {
	c := Choices{Name: "hold", Legend: "Which hold?", Required: true}
	for _, t := range x.tracks {
		for _, h := range t.Piece.Holds {
			if !slices.Contains(grades, h.Grade) {
				continue
			}
			note := "since " + x.clock(h.At) + ", by " + nameIn(x.w, h.By)
			if h.Note != "" {
				note += ": " + h.Note
			}
			c.Options = append(c.Options, Choice{Value: holdKey(t.Piece.ID, h.Seq),
				Words: capital(string(t.Piece.Kind)) + ": " + reprocess.HoldWords(h.Reason), Note: note})
		}
	}
	pick := x.typed["hold"]
	if len(c.Options) == 1 {
		pick = c.Options[0].Value
	}
	p.choices(c.Pick(pick))
}
