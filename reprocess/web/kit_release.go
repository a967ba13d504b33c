package web

import (
	"fmt"
	"strings"

	"handback/reprocess"
)

// releasePage shows what a release signs: each piece with its cycle, then the conditions.
type releasePage struct {
	Base
	ID, Number string
	State      State // why it cannot be released, when HasState
	HasState   bool
	Pieces     []signedPiece
	Conditions []string
	Meaning    string
	Caution    string
	Place      Field
	Known      []string // places used before
	Secret     Field

	Second       *Choices // who could sign beside, where only that is missing
	SecondSecret Field
}

// signedPiece is one piece as it is signed.
type signedPiece struct {
	Name  string
	Facts []fact
	Done  []string
}

type fact struct{ Name, Words string }

// showRelease shows the release before it is signed.
func showRelease(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	return v.Show(v.releasePageOf(x))
}

// releasePageOf adds the places that the clinic has used before.
func (v *Visit) releasePageOf(x *view) *releasePage {
	why := reprocess.GateOpen(x.w, x.k, v.Actor(), v.Now)
	p := x.releasePage(why)
	p.askSecond(x, why)
	p.Place = whereTo(v.Field("place"))
	if places, err := v.Store().Places(v.Context()); err == nil { // only a help for typing
		p.Known = withPlace(places)[1:] // a released kit does not go to the dirty box
	}
	return p
}

// whereTo asks where a released kit goes; empty is where it lies.
func whereTo(value string) Field {
	f := TextField("place", "Where does it go now?", value)
	f.Hint, f.List = "Such as shelf A; empty if it stays where it is", "places"
	return f
}

// releaseKit signs it.
func releaseKit(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	actor, err := v.Sign()
	if err == nil {
		actor, err = v.signBeside(actor)
	}
	if err == nil {
		_, err = v.DoAs(reprocess.ReleaseKit{Kit: x.k.ID,
			Place: v.Field("place")}, actor)
	}
	if err != nil {
		return v.Refuse(err, v.releasePageOf(x))
	}
	return v.Went(kitURL(x.k.ID), "Released: kit "+x.k.Number+". Signed by "+v.Person.Name+".")
}

func (x *view) releasePage(why *reprocess.Problem) *releasePage {
	p := &releasePage{Base: Titled("Do you release kit " + x.k.Number + "?"), ID: x.k.ID,
		Number: x.k.Number, Meaning: capital(reprocess.Meaning) + ".", Secret: SignField(), Place: whereTo(""),
		Caution: cautionAt(reprocess.Step{Caution: "released"})}
	if why != nil {
		p.HasState, p.OwnHeading = true, true
		p.State = HeldState(sentence(why.Text), why.Fix)
		p.Title = "Not released: kit " + x.k.Number
	}
	for _, t := range x.tracks {
		p.Pieces = append(p.Pieces, x.signedPiece(t))
	}
	for _, c := range reprocess.Conditions() {
		p.Conditions = append(p.Conditions, sentence(c.Words))
	}
	return p
}

func (x *view) signedPiece(t reprocess.Track) signedPiece {
	s := signedPiece{Name: capital(string(t.Piece.Kind)) + ", serial " + t.Piece.Serial}
	add := func(name, words string) {
		if words != "" {
			s.Facts = append(s.Facts, fact{name, words})
		}
	}
	if t.Cycle == nil || t.Proc == nil {
		add("Cycle", "none since it came back")
		return s
	}
	add("Cycle", fmt.Sprintf("%d, begun %s", t.Cycle.Number, x.clock(t.Cycle.Opened)))
	add("Procedure", fmt.Sprintf("%s, version %d", t.Proc.Name, t.Proc.Version))
	add("Instructions", instructionFact(x.w, t.Cycle, t.Piece.Model, x.v.Now.UTC))
	add("Contact time", contactWords(t.Progress.Wet))
	add("Container", x.containersOf(t.Progress.Wet))
	battery := t.Progress.Done[reprocess.StepBattery]
	if id := battery.Answered("cell"); id != "" {
		add("Cell", cellsWords(x.w.Lots[id])+tabWords(battery))
	}
	if charge := battery.Answered("charge"); charge != "" {
		add("Charge", charge+"\u00a0% at "+x.clock(battery.Mark.At))
	}
	add("Test", x.testWords(t.Progress))
	if len(t.Cycle.Flags) > 0 {
		add("Precautions", flagWords(t.Cycle.Flags))
	}
	for _, step := range reprocess.Steps() {
		if r, ok := t.Progress.Done[step.ID]; ok {
			s.Done = append(s.Done, sentence(recordDone(step, r))+" "+didWords(r, x.v.Now)+".")
		}
	}
	return s
}

// recordDone is a finished step as a sentence.
func recordDone(step reprocess.Step, r reprocess.Record) string {
	if r.Kind == reprocess.RecAnswer || r.Kind == reprocess.RecOverride {
		return capital(recordWords(r))
	}
	return step.Done
}

// contactWords is the longest wet time against the needed one, with both figures.
func contactWords(w reprocess.Wet) string {
	best, ok := w.Best()
	if !ok {
		return "never recorded wet"
	}
	words := fmt.Sprintf("%d s of %d s", best.MS/1000, best.NeededS)
	if best.Paper {
		return words + " as a sheet of paper says; not measured"
	}
	if !best.Exact {
		words += ", measured across a restart of the server"
	}
	return words
}

func (x *view) containersOf(w reprocess.Wet) string {
	var names []string
	for _, i := range w.Intervals {
		for _, id := range i.Containers {
			names = append(names, x.containerAndLot(id))
		}
	}
	return strings.Join(uniqueTexts(names), "; ")
}

func (x *view) containerAndLot(id string) string {
	c := x.w.Containers[id]
	if c == nil {
		return "container " + id
	}
	words := tubWords(c)
	if lot := x.w.Lots[c.Lot]; lot != nil {
		if p := x.w.Products[lot.Product]; p != nil {
			words += ", " + p.Name
		}
		words += ", lot " + lot.Number
	}
	return words
}

func uniqueTexts(all []string) []string {
	seen, out := map[string]bool{}, []string(nil)
	for _, s := range all {
		if !seen[s] {
			seen[s], out = true, append(out, s)
		}
	}
	return out
}

// evidenceWords say what stands behind a function test.
var evidenceWords = map[reprocess.TestKind]string{
	reprocess.TestFile:  "judged from the uploaded recording",
	reprocess.TestTyped: "seen by a person", reprocess.TestPhoto: "with a picture of the trace",
	reprocess.TestReference: "seen at the reading place"}

func (x *view) testWords(p reprocess.Progress) string {
	r, ok := p.Done[reprocess.StepFunction]
	if !ok {
		return ""
	}
	words := capital(recordWords(r))
	if r.Test != nil {
		words += ", " + evidenceWords[r.Test.Kind]
	}
	if ref := r.Answered("reference"); ref != "" {
		words += ", reference " + ref
	}
	return words
}

func sampleRelease() Page {
	p := &releasePage{Base: Titled("Do you release kit 17?"), ID: "K18", Number: "17",
		Meaning: capital(reprocess.Meaning) + ".", Secret: SignField(),
		Conditions: []string{"No open hold, damage or pending decision."},
		Pieces: []signedPiece{{Name: "Recorder, serial R-0017",
			Facts: []fact{{"Contact time", "64 s of 60 s"}, {"Cycle", "4, begun 24 Nov 2026 13:40"}},
			Done:  []string{"Cleaned, visibly clean, no water standing. Ada Okafor, 14:02."}}}}
	return p
}
