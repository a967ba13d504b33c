package web

import (
	"net/url"
	"strings"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// longestNumber is the longest pool number; anything longer is read as a code.
const longestNumber = 6

// deskPageOf asks for one label. What cannot be found is "Cannot confirm".
func deskPageOf(text string) *findPage {
	p := findPageOf("Is it released?", "Scan the label, or type the kit’s number", text)
	p.Find.Hint = "Or the 17 letters and figures, in any grouping"
	p.To, p.Act = "/desk", "Look it up"
	p.Links = []link{{To: "/called-back", Words: "Which kits are called back?"},
		{To: "/overdue", Words: "What is overdue?"},
		{To: "/missing", Words: "What is missing, and who has to be told?"},
		{To: "/desk/not-ours", Words: "Something came that is not ours"}}
	return p
}

func sampleDesk() Page { return deskPageOf("99").unsure("There is no kit 99 here.") }

const treatAsNot = "Treat as not released."

func showDesk(v *Visit) error { return v.Show(deskPageOf("")) }

// askDesk finds the kit and goes to its answer.
func askDesk(v *Visit) error {
	found, err := v.findKit(v.Field("find"))
	if err == nil {
		return v.Went(found.address(), "")
	}
	return v.cannotConfirm(deskPageOf(v.Field("find")), err)
}

// found is a kit and by what it was found.
type found struct {
	Kit   string
	Label *reprocess.Label // nil: by its number
}

// address is the front desk's page of it; a label that is no proof goes along.
func (f found) address() string {
	to := deskAt(f.Kit)
	if f.Label != nil && (f.Label.Withdrawn != 0 || f.Label.Kind == reprocess.CodeSlip) {
		to += "?label=" + url.QueryEscape(f.Label.Code)
	}
	return to
}

func deskAt(kit string) string { return "/desk/kit/" + url.PathEscape(kit) }

// findKit finds a kit by what was scanned or typed: a pool number, the letters of a label, or
// its address.
func (v *Visit) findKit(text string) (found, error) {
	if text == "" {
		return found{}, &reprocess.Problem{Code: reprocess.Invalid, Rule: "empty",
			Text: "Nothing was scanned or typed.", Fix: "Scan the label, or type the kit’s number."}
	}
	if len(text) <= longestNumber {
		return v.findNumber(strings.ToUpper(text))
	}
	code, err := labels.Parse(text)
	if err != nil {
		return found{}, &reprocess.Problem{Code: reprocess.Invalid, Rule: "code", Err: err,
			Text: err.Error()}
	}
	label, err := v.Store().LabelByCode(v.Context(), string(code))
	if err != nil {
		return found{}, notKnown(err, "This label is not known here.")
	}
	kit, err := v.kitOfLabel(label)
	return found{kit, label}, err
}

func (v *Visit) findNumber(number string) (found, error) {
	w, err := v.Store().SetUp(v.Context())
	if err != nil {
		return found{}, err
	}
	k, err := v.Store().KitByNumber(v.Context(), w.Settings.Site, number)
	if err != nil {
		return found{}, notKnown(err, "There is no kit "+number+" here.")
	}
	return found{Kit: k.ID}, nil
}

// notKnown gives a missing row its own sentence.
func notKnown(err error, text string) error {
	p := reprocess.AsProblem(err)
	if p.Code != reprocess.NotFound {
		return err
	}
	return &reprocess.Problem{Code: reprocess.NotFound, Rule: "unknown", Text: text, Err: err,
		Fix: "Look at the number, or scan the label again."}
}

// kitOfLabel follows a label to its kit.
func (v *Visit) kitOfLabel(l *reprocess.Label) (string, error) {
	other := ""
	switch l.Kind {
	case reprocess.CodeSlip:
		return l.Target, nil
	case reprocess.CodePiece:
		piece, err := sqlite.Get[reprocess.Piece](v.Context(), v.Store(), reprocess.TablePiece, l.Target)
		if err != nil {
			return "", err
		}
		if piece.Kit != "" {
			return piece.Kit, nil
		}
		other = "This " + string(piece.Kind) + " belongs to no kit now."
	case reprocess.CodeContainer:
		other = "This is the label of a container, not of a kit."
	case reprocess.CodePlace:
		other = "This is the label of a place, not of a kit."
	default:
		other = "This label is blank: it is not bound to anything yet."
	}
	return "", &reprocess.Problem{Code: reprocess.Refused, Rule: "not_a_kit", Text: other,
		Fix: "Scan the recorder’s own label, or ask the bench."}
}

// deskKitPage is the answer for one kit, and the act that fits one tap below it.
type deskKitPage struct {
	Base
	State   State
	Number  string
	Where   string // place, since when
	HandTo  string // where it is handed out; empty when it may not be
	LoanTo  string // the open loan
	Back    *backForm
	BackTo  string // the form, when it is one tap behind
	KitTo   string // the kit's own page, for those who have it
	AfterTo string // recording a hand-out after the fact
	More    []Line // what else can be done at the counter
	Kept    string // that it is kept for an appointment
	KeepTo  string // where it is kept for one
	FreeTo  string // where it is given free
	Lost    string // what holds for one that was lost and is here again
}

// showDeskKit answers the one question, computed now.
func showDeskKit(v *Visit) error {
	page, err := v.deskKit(v.Param("kit"))
	if err != nil {
		return err
	}
	return v.Show(page)
}

func (v *Visit) deskKit(id string) (*deskKitPage, error) {
	w, err := v.Store().KitWorld(v.Context(), id)
	if err != nil {
		return nil, notKnown(err, "There is no such kit here.")
	}
	k := w.Kits[id]
	answer := reprocess.CanHandOut(w, k, v.Now)
	page := &deskKitPage{Base: Titled(""), Number: k.Number, State: deskState(answer, v.Now),
		Where: whereOf(w, k, v.Now), BackTo: deskAt(id) + "/back", AfterTo: deskAt(id) + "/after"}
	page.OwnHeading = true
	if err := v.doubt(page); err != nil {
		return nil, err
	}
	page.Title = page.State.Words + ": kit " + k.Number
	if page.State.IsReleased() && acts(reprocess.ActIssue).lets(v.Person) {
		page.HandTo = deskAt(id) + "/out"
		if page.Kept = keptWords(k, v.Now); page.Kept == "" {
			page.KeepTo = deskAt(id) + "/keep"
		} else {
			page.FreeTo = deskAt(id) + "/free"
		}
	}
	if w.Loans[k.Loan].Open() {
		page.LoanTo = deskAt(id) + "/loan"
		page.AfterTo = ""
	}
	if k.Loss.Open() {
		page.Lost = "Lost since " + reprocess.Clock(k.Loss.Known, v.Now.Zone) + ". Found? Take it back " +
			"as it is: nobody knows who had it. Switch nothing on, erase nothing; the bench secures " +
			"the recording first."
	}
	page.More = v.counterLines(w, k, page.State.IsReleased())
	if l := w.Loans[k.Loan]; l.ByWard() && l.Open() && l.Worn > 0 {
		page.AfterTo = deskAt(id) + "/after"
	}
	if acts(reprocess.ActStep).lets(v.Person) {
		page.KitTo = "/kit/" + url.PathEscape(id)
	}
	if page.LoanTo != "" || answer.State == reprocess.Recalled || answer.State == reprocess.Missing {
		page.Back, err = v.backFormOf(w, k)
		page.BackTo = ""
	}
	return page, err
}

// doubt turns the answer into "Cannot confirm" when what was scanned proves nothing.
func (v *Visit) doubt(page *deskKitPage) error {
	if v.Query("label") == "" {
		return nil
	}
	label, err := v.Store().LabelByCode(v.Context(), v.Query("label"))
	if err != nil {
		return notKnown(err, "This label is not known here.")
	}
	if label.Kind == reprocess.CodeSlip {
		page.State = UnsureState("This is the slip’s code. A paper is not proof.",
			"Scan the recorder’s own label. "+treatAsNot)
	}
	if label.Withdrawn != 0 {
		page.State = UnsureState("This label was withdrawn on "+
			reprocess.Day(reprocess.DateIn(label.Withdrawn, v.Now.Zone))+".", treatAsNot)
	}
	return nil
}

// deskState puts the answer into the state block.
func deskState(a reprocess.DeskAnswer, now reprocess.Now) State {
	if !a.Released {
		return HeldState(a.Reason, a.Ask)
	}
	line := "since " + reprocess.Clock(a.Since, now.Zone)
	if a.Until != 0 {
		line += ", until " + reprocess.Clock(a.Until, now.Zone)
	}
	return ReleasedState(line)
}

// whereOf says where a kit is: place, since when, who said so.
func whereOf(w *reprocess.World, k *reprocess.Kit, now reprocess.Now) string {
	switch {
	case k.Place == "":
		return "Where it lies is not recorded."
	case placeIsOld(k):
		return upper(placeOf(k)) + "."
	}
	text := upper(k.Place)
	if k.PlaceAt != 0 {
		text += " since " + reprocess.Clock(k.PlaceAt, now.Zone)
	}
	if p := w.People[k.PlaceBy]; p != nil {
		text += ", " + p.Name
	}
	return text + "."
}

// placeIsOld tells whether a released kit is still recorded in the dirty box: nobody said where
// it was put, and it does not lie there any more.
func placeIsOld(k *reprocess.Kit) bool {
	return k.Place == dirtyBox && k.Release != nil && k.PlaceAt < k.Release.At
}

// placeOf is where a kit lies, as lists have it.
func placeOf(k *reprocess.Kit) string {
	if placeIsOld(k) {
		return "place not said since its release"
	}
	return orText(k.Place, "place not recorded")
}

// upper begins a sentence.
func upper(s string) string {
	if s == "" {
		return s
	}
	first := []rune(s)[:1]
	return strings.ToUpper(string(first)) + s[len(string(first)):]
}

func sampleDeskKit() Page {
	p := &deskKitPage{Base: Titled("Not released: kit 17"), Number: "17",
		State:  HeldState("It is out, due back 8 Dec 2026.", "Ask: Bench, ext. 214"),
		Where:  "With a wearer since 24 Nov 2026 14:05, Ada Okafor.",
		Lost:   "Lost since 23 Nov 2026 09:00.",
		LoanTo: "/desk/kit/K1/loan", KitTo: "/kit/K1", Back: sampleBackForm()}
	p.OwnHeading = true
	return p
}
