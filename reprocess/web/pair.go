package web

import (
	"handback/labels"
	"handback/reprocess"
)

// pairRow is the page where both labels of a kit are read.
const pairRow = "/kit/:id/pair"

// pairPage asks for one label of two: the recorder's, then the phone's.
type pairPage struct {
	Base
	Action, Back string
	Read         string // what was read of the first, empty at the first
	Recorder     string // its code, kept for the second
	Find         Field
	Act          string
	Not          string // why no pair is read now; empty while one can be
}

func pairRoutes() []Route {
	return scanning(both(pairRow, acts(reprocess.ActPair), "pair", samplePair, showPair, readPair))
}

// pairPageOf asks for the next label of the two.
func (x *view) pairPageOf(recorder, text string) *pairPage {
	p := &pairPage{Base: Titled("Is this the recorder of kit " + x.k.Number + "?"),
		Action: x.row(pairRow), Back: kitURL(x.k.ID), Act: "Read the recorder’s label",
		Find: CodeField("find", "Label of the recorder", text)}
	if recorder != "" {
		p.Title = "Is this the phone of kit " + x.k.Number + "?"
		p.Recorder, p.Act = recorder, "Read the phone’s label"
		p.Read = "Recorder " + serialOf(x.w, x.k, reprocess.Recorder) +
			": its label was read, its own cycle is finished."
		p.Find = CodeField("find", "Label of the phone", text)
	}
	p.Find.Required, p.Find.First, p.Find.Scan = true, true, ScanSends
	p.Find.Hint = "Scan it, or type its 17 letters"
	if p.Not = x.notPaired(); p.Not != "" {
		p.Title = "Not now: scan recorder and phone as a pair. Kit " + x.k.Number
	}
	return p
}

// notPaired says why a pair cannot be read now.
func (x *view) notPaired() string {
	switch {
	case !x.k.HasPhone(x.w.Pieces):
		return "Kit " + x.k.Number + " has no phone, so there is no pair to read. " + x.whereTo()
	case !x.isAtWork():
		return "Kit " + x.k.Number + " is not at the bench; the pair is read before it is packed. " +
			x.whereTo()
	}
	return ""
}

// showPair asks for the recorder, or for the phone once the recorder was read.
func showPair(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	recorder := v.Query("recorder")
	if recorder == "" {
		return v.Show(x.pairPageOf("", ""))
	}
	if err := x.firstOfPair(recorder); err != nil {
		return v.Refuse(err, x.pairPageOf("", ""))
	}
	return v.Show(x.pairPageOf(recorder, ""))
}

// readPair takes one label: the recorder's leads to the phone's, and that records the pair.
func readPair(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	recorder := v.Field("recorder")
	page := x.pairPageOf(recorder, v.Field("find"))
	code, err := labels.Parse(v.Field("find"))
	if err != nil {
		return v.Refuse(&reprocess.Problem{Code: reprocess.Invalid, Rule: "code",
			Text: sentenceOf(err), Fix: "Scan it again, or type all 17 letters."}, page)
	}
	if recorder == "" {
		if err := x.firstOfPair(string(code)); err != nil {
			return v.Refuse(err, page)
		}
		return v.Went(x.row(pairRow)+"?recorder="+string(code), "")
	}
	cmd := reprocess.Pair{Kit: x.k.ID, Recorder: recorder, Phone: string(code)}
	if _, err := v.Do(cmd); err != nil {
		return v.Refuse(err, page)
	}
	return v.Went(kitURL(x.k.ID, "code", recorder), "Recorder and phone belong together; each "+
		"has its own cycle finished.")
}

// firstOfPair refuses what is not the recorder's label before the phone is asked for. Nothing
// is recorded by it.
func (x *view) firstOfPair(code string) error {
	l, err := x.v.Store().LabelByCode(x.v.Context(), code)
	switch {
	case err == nil:
		x.w.Labels[code] = l
	case reprocess.AsProblem(err).Code != reprocess.NotFound:
		return err
	}
	if p := (reprocess.Pair{Kit: x.k.ID, Recorder: code}).CheckFirst(x.w, x.v.Now); p != nil {
		return p
	}
	return nil
}

// pairFirst tells whether the pair is to be read before a group is packed.
func (x *view) pairFirst(g group) bool {
	return g.step.ID == reprocess.StepPacking && x.w.WantsPair(x.k) && !x.w.Paired(x.k)
}

// pairLinks lead to the page; a label of the recorder that was just read goes along.
func (x *view) pairLinks() []link {
	to := x.row(pairRow)
	for _, t := range x.tracks {
		if t.Piece.ID == x.piece && t.Piece.Kind == reprocess.Recorder && x.code != "" {
			to += "?recorder=" + x.code
		}
	}
	return []link{{To: to, Words: "Scan recorder and phone as a pair"}}
}

// isAtWork tells whether the kit is between its first step and its release.
func (x *view) isAtWork() bool {
	s := reprocess.KitState(x.k, x.w.Pieces)
	return s == reprocess.InReprocessing || s == reprocess.AwaitingRelease
}

// pairTold says at the packing that both were read.
func (x *view) pairTold(g group) []string {
	if g.step.ID != reprocess.StepPacking || !x.w.Paired(x.k) {
		return nil
	}
	return []string{"Recorder and phone scanned as a pair by " + nameIn(x.w, x.k.Pair.By) + ", " +
		x.clock(x.k.Pair.At) + "."}
}

func samplePair() Page {
	w := reprocess.NewWorld()
	w.Pieces["P1"] = &reprocess.Piece{ID: "P1", Kind: reprocess.Phone, State: reprocess.InReprocessing}
	x := &view{k: &reprocess.Kit{ID: "K18", Number: "17", Pieces: []string{"P1"}}, w: w}
	return x.pairPageOf("CODE17R", "")
}
