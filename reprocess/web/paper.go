package web

import (
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
)

// showPaper leads to what is printed before the log cannot be reached, and to what is entered
// afterwards.
func showPaper(v *Visit) error {
	w, err := v.Store().AllKits(v.Context())
	if err != nil {
		return err
	}
	p := titledOffice("What if this log cannot be reached?",
		"Print beforehand, and again whenever much has changed. Afterwards enter what was written; "+
			"it is marked as from paper for ever.")
	p.list("To print", "", ruledLine{To: "/paper/released", Words: "Released as of now",
		Notes: []string{"every kit that can go out, with its place"}})
	var sheets []ruledLine
	seen := map[string]bool{}
	for _, k := range kitsByNumber(w) {
		if words := modelsWords(w, k); words != "" && !seen[words] {
			seen[words] = true
			sheets = append(sheets, ruledLine{To: "/paper/sheet/" + k.ID, Words: words,
				Notes: []string{"bench sheet without a number, for any kit of these models"}})
		}
	}
	p.list("Bench sheets", "There is no kit yet.", sheets...)
	f := &form{Heading: "To enter afterwards", To: "/paper/enter", Act: "Enter its sheet", Get: true}
	f.must("number", "Number of the kit", "", "As on its label, such as 17")
	p.form(f)
	return v.Show(p)
}

// kitsByNumber lists the kits in use.
func kitsByNumber(w *reprocess.World) []*reprocess.Kit {
	var all []*reprocess.Kit
	for _, k := range w.Kits {
		if !k.Retired && len(k.Pieces) > 0 {
			all = append(all, k)
		}
	}
	slices.SortFunc(all, func(a, b *reprocess.Kit) int {
		return strings.Compare(fmt.Sprintf("%12s%s", a.Number, a.ID), fmt.Sprintf("%12s%s", b.Number, b.ID))
	})
	return all
}

// modelsWords names the models of a kit: "Recorder A with Phone P".
func modelsWords(w *reprocess.World, k *reprocess.Kit) string {
	var names []string
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil && w.Models[p.Model] != nil {
			names = append(names, w.Models[p.Model].Name)
		}
	}
	return strings.Join(names, " with ")
}

// enterPaper finds the kit by its number and leads to its form.
func enterPaper(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	k, err := v.Store().KitByNumber(v.Context(), w.Settings.Site, v.Query("number"))
	if err != nil {
		return notKnown(err, "There is no kit "+v.Query("number")+" here.")
	}
	return v.Went("/kit/"+k.ID+"/paper", "")
}

// releasedPage is the printed list of what can go out.
type releasedPage struct {
	Base
	AsOf string
	Rows []releasedRow
}

// releasedRow is one kit of the list.
type releasedRow struct{ Number, Model, Place, Since, Until string }

// showReleased reads everything now: the list is only as good as its time, which it says.
func showReleased(v *Visit) error {
	w, err := v.Store().ReleasedKits(v.Context())
	if err != nil {
		return err
	}
	asOf := reprocess.Clock(v.Now.UTC, v.Now.Zone)
	p := &releasedPage{Base: Titled("Released as of " + asOf), AsOf: asOf}
	kits := readyKits(w, v.Now)
	slices.SortFunc(kits, func(a, b *reprocess.Kit) int {
		return strings.Compare(fmt.Sprintf("%12s%s", a.Number, a.ID), fmt.Sprintf("%12s%s", b.Number, b.ID))
	})
	for _, k := range kits {
		p.Rows = append(p.Rows, releasedRow{k.Number, modelOf(w, k), placeOf(k),
			reprocess.Clock(k.Release.At, v.Now.Zone), releasedUntil(k, v.Now)})
	}
	return v.Show(p)
}

// releasedUntil is the earlier of the lapse and the last day of the cell.
func releasedUntil(k *reprocess.Kit, now reprocess.Now) string {
	r := k.Release
	until := ""
	if r.Until != 0 {
		until = reprocess.Clock(r.Until, now.Zone)
	}
	switch {
	case r.CellUntil != "" && (r.Until == 0 || r.CellUntil < reprocess.DateIn(r.Until, now.Zone)):
		return "end of " + reprocess.Day(r.CellUntil)
	case until == "":
		return "does not lapse"
	}
	return until
}

// sheetPage is a blank bench sheet: rows are the steps of the kit's procedures.
type sheetPage struct {
	Base
	AsOf   string
	Again  string   // stands at the head of every sheet of paper
	Kinds  []string // heads of the columns to fill
	Facts  []fact
	Steps  []sheetStep
	Counts string // what a contact time from paper is worth here
}

// sheetStep is one step with its questions.
type sheetStep struct {
	Words string
	Rows  []sheetRow
}

// sheetRow is one question; a cell without text is to be filled in by hand.
type sheetRow struct {
	Words, Answers string
	Cells          []string
}

// showSheet draws a blank sheet for the models of a kit; number and serials stay open unless
// the address asks for them.
func showSheet(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	return v.Show(x.sheet(v.Query("own") != ""))
}

func (x *view) sheet(own bool) *sheetPage {
	number := ""
	if own {
		number = ": kit " + x.k.Number
	}
	p := &sheetPage{Base: Titled("Bench sheet" + number),
		AsOf: reprocess.Clock(x.v.Now.UTC, x.v.Now.Zone), Counts: x.paperCounts()}
	p.Again = "Kit " + x.k.Number + ": step, and what to answer"
	if !own {
		p.Again = "Kit ________: step, and what to answer"
		p.Facts = append(p.Facts, fact{"Kit", ""})
	}
	for _, t := range x.tracks {
		p.Kinds = append(p.Kinds, capital(string(t.Piece.Kind)))
		serial := ""
		if own {
			serial = t.Piece.Serial
		}
		p.Facts = append(p.Facts, fact{modelName(x.w, t.Piece.Model) + ", serial", serial})
	}
	p.Facts = append(p.Facts, fact{"Day", ""})
	for _, step := range reprocess.Steps() {
		if s, ok := x.sheetStep(step); ok {
			p.Steps = append(p.Steps, s)
		}
	}
	return p
}

// sheetStep is one step as any of the procedures in force wants it.
func (x *view) sheetStep(step reprocess.Step) (sheetStep, bool) {
	s := sheetStep{Words: step.Words}
	wanted := false
	for _, t := range x.tracks {
		wanted = wanted || (t.Proc != nil && t.Proc.Row(step.ID) != nil)
	}
	if !wanted {
		return s, false
	}
	if step.ID == reprocess.StepDisinfection {
		for _, words := range []string{"Container and lot", "Wet from, with seconds",
			"Still wet at, with seconds"} {
			s.Rows = append(s.Rows, sheetRow{Words: words, Cells: make([]string, len(x.tracks))})
		}
		s.Rows = append(s.Rows, sheetRow{Words: "Stayed wet all that time?", Answers: "yes / no",
			Cells: make([]string, len(x.tracks))})
		return s, true
	}
	for _, a := range x.asks(step.ID, x.tracks) {
		s.Rows = append(s.Rows, x.sheetRow(a, step.ID))
	}
	if reprocess.Measures(step.ID) {
		s.Rows = append(s.Rows, sheetRow{Words: "Measured with, its number", Answers: "may stay empty",
			Cells: make([]string, len(x.tracks))})
	}
	return s, true
}

func (x *view) sheetRow(a reprocess.Ask, step reprocess.StepID) sheetRow {
	row := sheetRow{Words: a.Words}
	var words []string
	for _, c := range a.Choices {
		words = append(words, strings.ToLower(c.Words))
	}
	row.Answers = strings.Join(words, " / ")
	for _, t := range x.tracks {
		cell := "not asked"
		if t.Proc != nil && slices.ContainsFunc(reprocess.WantedAsks(x.w, x.k, t.Piece, t.Proc, step),
			func(b reprocess.Ask) bool { return b.ID == a.ID }) {
			cell = ""
		}
		row.Cells = append(row.Cells, cell)
	}
	return row
}

// paperCounts says what the procedures make of a contact time from paper.
func (x *view) paperCounts() string {
	for _, t := range x.tracks {
		if t.Proc == nil || !t.Proc.PaperRelease {
			return "A contact time from paper does not count here: afterwards the kit is disinfected " +
				"again, and goes on from there."
		}
	}
	return "A contact time from paper counts here, but never as measured. Somebody else than who " +
		"did it and who enters it has to release the kit."
}

func sampleReleased() Page {
	return &releasedPage{Base: Titled("Released as of 24 Nov 2026 07:30"), AsOf: "24 Nov 2026 07:30",
		Rows: []releasedRow{{"17", "Recorder A", "shelf A", "23 Nov 2026 14:05", "8 Dec 2026 14:05"}}}
}

func sampleSheet() Page {
	return &sheetPage{Base: Titled("Bench sheet: kit 17"), AsOf: "24 Nov 2026 07:30",
		Again: "Kit 17: step, and what to answer",
		Kinds: []string{"Recorder", "Phone"}, Facts: []fact{{"Recorder A, serial", "R-0017"}, {"Day", ""}},
		Steps:  []sheetStep{{"Clean", []sheetRow{{"Visibly clean?", "yes / not yet", []string{"", "not asked"}}}}},
		Counts: "A contact time from paper does not count here."}
}
