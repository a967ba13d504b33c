package web

import (
	"strings"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

func (v *Visit) container() (*reprocess.Container, *reprocess.World, error) {
	c, err := sqlite.Get[reprocess.Container](v.Context(), v.Store(), reprocess.TableContainer,
		v.Param("id"))
	if err != nil {
		return nil, nil, err
	}
	w, err := v.stock()
	if err == nil {
		w.Containers[c.ID] = c
	}
	return c, w, err
}

// showContainer answers whether a container may be used, on what, and until when.
func showContainer(v *Visit) error {
	c, w, err := v.container()
	if err != nil {
		return err
	}
	p := titledOffice(containerWords(w, c))
	p.Lead = append(containerLead(v, w, c), strengthLead(v, c)...)
	rows, suits := containerSuits(v, w, c)
	p.list("Suits", "No procedure is in force yet.", rows...)
	if c.Closed == 0 && suits {
		kits, err := v.kitsToDisinfect()
		if err != nil {
			return err
		}
		var rows []ruledLine
		for _, k := range kits {
			rows = append(rows, ruledLine{To: "/kit/" + k.ID + "?container=" + c.ID,
				Words: "Use it for kit " + k.Number})
		}
		p.list("Next step is disinfection", "No kit waits for disinfection.", rows...)
	}
	p.list("More", "", containerActs(v, w, c)...)
	return v.Show(p)
}

func containerLead(v *Visit, w *reprocess.World, c *reprocess.Container) []string {
	var lead []string
	l := w.Lots[c.Lot]
	if l != nil && l.Stopped != nil {
		lead = append(lead, "Do not use it. Its lot was stopped: "+l.Stopped.Reason)
	}
	if c.Closed != 0 {
		lead = append(lead, "Closed "+v.moment(c.Closed)+": "+c.Why+".")
	}
	lead = append(lead, containerLine(w, c, v.today()).Notes[0])
	if c.Batch != nil {
		lead = append(lead, batchLead(w, c)...)
	} else {
		lead = append(lead, "Opened "+reprocess.Day(c.Opened)+".")
	}
	if c.Proof != "" {
		lead = append(lead, "The opening day was entered later: "+c.Proof)
	}
	if l != nil && l.Expiry != "" && c.Batch == nil {
		lead = append(lead, "The lot expires "+reprocess.Day(l.Expiry)+".")
	}
	return lead
}

// containerSuits says for each model with a procedure whether it suits today, for a return
// without precautions; suits is true when it does for one of them at least.
func containerSuits(v *Visit, w *reprocess.World,
	c *reprocess.Container) (rows []ruledLine, suits bool) {
	for _, m := range modelsOf(w) {
		proc := w.Procedures[w.InForce[m.ID]]
		if proc == nil || m.Retired {
			continue
		}
		piece := &reprocess.Piece{Model: m.ID, Kind: m.Kind}
		suit, problem := reprocess.Suits(w, c.ID, piece, proc, nil, v.today())
		line := ruledLine{Words: m.Name}
		if problem != nil {
			line.Notes = []string{"No. " + problem.Text, problem.Fix}
		} else {
			line.Notes = []string{"Yes. Keep it wet for " + spoken(suit.NeededS) + ".",
				suit.CoverWords()}
			suits = true
		}
		rows = append(rows, line)
	}
	return rows, suits
}

func containerActs(v *Visit, w *reprocess.World, c *reprocess.Container) []ruledLine {
	var rows []ruledLine
	if c.Closed == 0 && v.entitled(reprocess.ActCloseContainer) {
		for _, why := range []string{"empty", "thrown away"} {
			rows = append(rows, ruledLine{Taps: []tap{{To: "/container/" + c.ID + "/close",
				Words: strings.ToUpper(why[:1]) + why[1:], Kept: []Kept{{"why", why}}}}})
		}
	}
	if c.Closed != 0 && v.entitled(reprocess.ActContainerBack) {
		rows = append(rows, ruledLine{Taps: []tap{{To: "/container/" + c.ID + "/reopen",
			Words: "It is not closed: tapped by mistake"}}})
	}
	if c.Closed == 0 && v.entitled(reprocess.ActReadStrength) && readable(w, c) {
		rows = append(rows, ruledLine{To: "/container/" + c.ID + "/reading",
			Words: "Read its strength"})
	}
	rows = append(rows, ruledLine{To: "/container/" + c.ID + "/used",
		Words: "Which kits were wiped with it?"})
	if w.Lots[c.Lot] != nil {
		rows = append(rows, ruledLine{To: "/lot/" + c.Lot, Words: "The lot"})
		if w.Lots[c.Lot].Stopped == nil && v.entitled(reprocess.ActLotStop) {
			rows = append(rows, ruledLine{To: "/lot/" + c.Lot + "/stop", Words: "Stop this lot"})
		}
	}
	return append(rows, ruledLine{To: "/labels/container/" + c.ID, Words: "Its label"})
}

// kitsToDisinfect lists the kits with a piece whose next step is disinfection, by number.
func (v *Visit) kitsToDisinfect() ([]*reprocess.Kit, error) {
	w, err := v.Store().OpenKits(v.Context())
	if err != nil {
		return nil, err
	}
	return kitsWhere(w, func(k *reprocess.Kit) bool {
		for _, id := range k.Pieces {
			if piece := w.Pieces[id]; piece != nil && waitsForDisinfection(w, piece) {
				return true
			}
		}
		return false
	}), nil
}

// waitsForDisinfection asks the piece's open cycle for its next step.
func waitsForDisinfection(w *reprocess.World, piece *reprocess.Piece) bool {
	cycle := w.Cycles[piece.Cycle]
	if cycle == nil || cycle.Ended != 0 {
		return false
	}
	proc := w.Procedures[cycle.Procedure]
	return proc != nil && cycle.Progress().Next(proc) == reprocess.StepDisinfection
}

func closeContainer(v *Visit) error {
	c, _, err := v.container()
	if err != nil {
		return err
	}
	cmd := reprocess.CloseContainer{Container: c.ID, Why: v.Field("why")}
	if _, err := v.Do(cmd); err != nil {
		return err
	}
	return v.Went("/supplies", "The container is closed: "+v.Field("why")+".")
}

// openPage opens a container; code is its blank sticker, empty when a label is printed later.
func openPage(v *Visit, w *reprocess.World, code, lot string) *officePage {
	p := titledOffice("Which lot is this container from?")
	f := &form{To: "/containers/open", Act: "Opened today"}
	if code == "" {
		sticker := CodeField("code", "Blank sticker, if there is one", v.Field("code"))
		sticker.Hint = "Scan it, or type its 17 letters; empty: print a label afterwards"
		f.field(sticker)
	} else {
		f.Kept = []Kept{{"code", code}}
	}
	choices := openable(w, v.today())
	if len(choices) == 0 {
		p.Lead = []string{"No lot of disinfectant can be opened: record one first."}
		p.act("/lots/new?kind=disinfectant", "Record a lot")
		return p
	}
	f.one("lot", "Lot", lot, choices...)
	if v.anotherDay() {
		f.day("opened", "Opened on another day", reprocess.Date(v.Field("opened")), "Only with a proof")
		f.text("proof", "How that day is proven", v.Field("proof"), "Such as the date on the cap")
	}
	p.form(f)
	p.list("", "", ruledLine{To: "/lots/new?kind=disinfectant", Words: "It is of a new lot"})
	if v.Person.Has(reprocess.RoleSupervisor) && !v.anotherDay() {
		p.list("", "", ruledLine{To: v.c.Path() + "?day=other", Words: "It was opened on another day"})
	}
	return p
}

// anotherDay tells whether the form asks for a proven day: on a supervisor's wish only.
func (v *Visit) anotherDay() bool {
	return v.Person.Has(reprocess.RoleSupervisor) && (v.Query("day") != "" || v.Field("opened") != "")
}

func showOpenContainer(v *Visit) error {
	w, err := v.stock()
	if err != nil {
		return err
	}
	return v.Show(openPage(v, w, "", v.Query("lot")))
}

func openContainer(v *Visit) error {
	w, err := v.stock()
	if err != nil {
		return err
	}
	page := openPage(v, w, "", v.Field("lot"))
	cmd := reprocess.OpenContainer{Lot: v.Field("lot"), Proof: v.Field("proof")}
	t := v.typing()
	cmd.Opened = t.day("opened", "Opened on")
	if err := t.err(); err != nil {
		return v.Refuse(err, page)
	}
	if cmd.Code, err = v.typedCode("code"); err != nil {
		return v.Refuse(err, page)
	}
	e, err := v.Do(cmd)
	if err != nil {
		return v.Refuse(err, page)
	}
	to := "/supplies"
	for _, box := range e.Events {
		if opened, ok := box.Event.(reprocess.ContainerOpened); ok {
			to = "/container/" + opened.ID
		}
	}
	return v.Went(to, "The container is open.")
}

// typedCode reads a label's code, empty when nothing was typed; it has to be one of ours.
func (v *Visit) typedCode(name string) (string, error) {
	text := v.Field(name)
	if text == "" {
		return "", nil
	}
	code, err := labels.Parse(text)
	if err != nil {
		return "", &reprocess.Problem{Code: reprocess.Invalid, Rule: "code",
			Text: sentenceOf(err), Fix: "Scan it again, or type all 17 letters."}
	}
	if _, err := v.Store().LabelByCode(v.Context(), string(code)); err != nil {
		return "", err
	}
	return string(code), nil
}

// sentenceOf writes the text of a plain error as a sentence.
func sentenceOf(err error) string {
	text := err.Error()
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + strings.TrimSuffix(text[1:], ".") + "."
}
