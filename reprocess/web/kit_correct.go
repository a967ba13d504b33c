package web

import (
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strings"

	"handback/labels"
	"handback/reprocess"
)

// correctPath is the page that corrects what one entry recorded.
const correctPath = "/kit/:id/correct/:seq"

// correctRoutes are its rows.
func correctRoutes() []Route {
	who := acts(reprocess.ActCorrect)
	return both(correctPath, who, "kit-act", sampleCorrect, showCorrect, correct)
}

// recorded names the cycle in which an entry recorded something of each piece.
func recorded(e *reprocess.Entry) map[string]string {
	cycles := map[string]string{}
	for _, b := range e.Events {
		switch ev := b.Event.(type) {
		case reprocess.StepRecorded:
			cycles[ev.Piece] = ev.Cycle
		case reprocess.RecordCorrected:
			cycles[ev.Piece] = ev.Cycle
		}
	}
	return cycles
}

// correctable finds what of an entry can be corrected: a record of a cycle that still counts.
func correctable(c *reprocess.Cycle, seq int64) (reprocess.Record, bool) {
	if c == nil {
		return reprocess.Record{}, false
	}
	for _, r := range c.Records {
		kind := r.Kind == reprocess.RecAnswer || r.Kind == reprocess.RecWetNow ||
			r.Kind == reprocess.RecLooksWet
		if r.Seq == seq && !r.Undone && kind {
			return r, true
		}
	}
	return reprocess.Record{}, false
}

// cyclesIn is a world with the cycles in which these entries recorded something.
func (v *Visit) cyclesIn(list []*reprocess.Entry) (*reprocess.World, error) {
	var refs []reprocess.Ref
	for _, e := range list {
		for _, id := range recorded(e) {
			refs = append(refs, reprocess.Ref{Table: reprocess.TableCycle, ID: id})
		}
	}
	return v.Store().Named(v.Context(), refs...)
}

// correctLink is the address that corrects what an entry recorded, on the kit in which the piece
// is now; empty where nothing can be corrected.
func correctLink(w *reprocess.World, e *reprocess.Entry) string {
	cycles := recorded(e)
	for _, piece := range slices.Sorted(maps.Keys(cycles)) {
		p := w.Pieces[piece]
		if _, ok := correctable(w.Cycles[cycles[piece]], e.Seq); ok && p != nil && p.Kit != "" {
			return fmt.Sprintf("/kit/%s/correct/%d", p.Kit, e.Seq)
		}
	}
	return ""
}

// correction is the form of one record of one piece.
type correction struct {
	*view
	seq    int64
	piece  *reprocess.Piece
	cycle  *reprocess.Cycle
	record reprocess.Record
	others []string // pieces of which the same entry says something too
}

func (v *Visit) correction() (*correction, error) {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return nil, err
	}
	c := &correction{view: x, seq: number(v.Param("seq"))}
	e, err := v.Store().Entry(v.Context(), c.seq)
	if err != nil && reprocess.AsProblem(err).Code != reprocess.NotFound {
		return nil, err
	}
	if e != nil {
		err = c.find(e)
	}
	if c.piece == nil {
		return nil, &reprocess.Problem{Code: reprocess.NotFound, Rule: "not_correctable",
			Text: "This entry holds nothing of the kit that can be corrected.",
			Fix:  "Open the history of the kit and choose another entry."}
	}
	return c, err
}

// find chooses the piece whose record is corrected and loads what can be chosen for it.
func (c *correction) find(e *reprocess.Entry) error {
	cycles := recorded(e)
	named, err := c.v.cyclesIn([]*reprocess.Entry{e})
	if err != nil {
		return err
	}
	for _, id := range c.k.Pieces {
		r, ok := correctable(named.Cycles[cycles[id]], c.seq)
		switch {
		case !ok:
		case c.piece == nil && (c.view.piece == "" || c.view.piece == id):
			c.piece, c.record = c.w.Pieces[id], r
		default:
			c.others = append(c.others, id)
		}
	}
	if c.piece == nil {
		return nil
	}
	if c.w, err = c.v.Store().CorrectWorld(c.v.Context(), c.k.ID, cycles[c.piece.ID]); err != nil {
		return err
	}
	c.cycle = c.w.Cycles[cycles[c.piece.ID]]
	return nil
}

func showCorrect(v *Visit) error {
	c, err := v.correction()
	if err != nil {
		return err
	}
	for _, a := range c.record.Answers {
		c.typed[a.Ask] = a.Value
	}
	return v.Show(c.page())
}

func (c *correction) page() *actPage {
	path := fmt.Sprintf("correct/%d", c.seq)
	p := &actPage{Base: Titled("What is right? Kit " + c.k.Number + ", " + string(c.piece.Kind)),
		ID: c.k.ID, Path: path + "?piece=" + url.QueryEscape(c.piece.ID), Act: "Correct it, signed",
		Lines: []string{"Recorded by " + c.record.Name + ", " +
			reprocess.Clock(c.record.Mark.At, c.v.Now.Zone) + ": " +
			recordWords(c.record) + byContainer(c.w, c.record) + ".",
			"The old record stays readable; the release is asked again on what is right."}}
	if words := c.standing(); words != "" {
		p.Lines = append(p.Lines, words)
	}
	for _, id := range c.others {
		kind := string(c.w.Pieces[id].Kind)
		p.Links = append(p.Links, link{To: "/kit/" + c.k.ID + "/" + path + "?piece=" +
			url.QueryEscape(id), Words: "Correct it for the " + kind + " instead"})
	}
	c.asks(p)
	c.note(p, "reason", "Why it was wrong", true)
	f := SignField()
	p.Secret = &f
	return p
}

// standing says what a correction can do to the device today.
func (c *correction) standing() string {
	older := c.cycle.ID != c.piece.Cycle
	switch {
	case c.cycle.End != reprocess.EndReleased && older:
		return "This cycle was broken off and never released."
	case c.cycle.End != reprocess.EndReleased:
		return ""
	case older:
		return fmt.Sprintf("Cycle %d, released %s, is over: a newer one was begun since, so nothing "+
			"is stopped. If that release no longer passes, look back on who wore it.",
			c.cycle.Number, reprocess.Clock(c.cycle.Ended, c.v.Now.Zone))
	case c.piece.State == reprocess.Released:
		return "It lies here released: if that no longer passes, the kit is stopped."
	case c.piece.State == reprocess.Issued:
		return "It is with a wearer: if its release no longer passes, it is called back."
	}
	return "It is not released now: nothing is stopped. If the release of " +
		reprocess.Clock(c.cycle.Ended, c.v.Now.Zone) + " no longer passes, look back on who wore it."
}

// asks draws the questions of the record with what was answered.
func (c *correction) asks(p *actPage) {
	switch c.record.Kind {
	case reprocess.RecWetNow:
		c.tubs(p)
	case reprocess.RecLooksWet:
		p.Lines = append(p.Lines, "Of a look only one thing can be said later: it was dry already.")
	default:
		for _, a := range c.wantedHere() {
			p.Asks = append(p.Asks, c.answerLine(a))
		}
	}
}

func (c *correction) wantedHere() []reprocess.Ask {
	proc := c.w.Procedures[c.cycle.Procedure]
	if proc == nil {
		return nil
	}
	return reprocess.CorrectAsks(c.w, c.k, c.piece, proc, c.record)
}

// answerLine is a question; of cells every box that is known, for it may be used up since.
func (c *correction) answerLine(a reprocess.Ask) askLine {
	if a.Kind != reprocess.AskCells {
		return c.line(a, group{})
	}
	box := Choices{Name: "a-" + a.ID, Legend: a.Words, Required: true}
	for _, l := range lotsOf(c.w, func(l *reprocess.Lot) bool { return l.Kind == reprocess.LotCells }) {
		box.Options = append(box.Options, Choice{Value: l.ID, Words: cellsWords(l)})
	}
	box = box.Pick(c.typed[a.ID])
	return askLine{Choices: &box}
}

// tubs lists every container that was open then or later, the newest first.
func (c *correction) tubs(p *actPage) {
	list := Choices{Name: "container", Legend: "Which container was it?", Required: true}
	var all []*reprocess.Container
	for _, con := range c.w.Containers {
		all = append(all, con)
	}
	slices.SortFunc(all, func(a, b *reprocess.Container) int {
		return strings.Compare(b.ID, a.ID)
	})
	for _, con := range all {
		note := "closed"
		if con.Closed == 0 {
			note = "open"
		}
		words := tubWords(con)
		if l := c.w.Lots[con.Lot]; l != nil {
			words += " of " + lotWords(c.w, l)
		}
		list.Options = append(list.Options, Choice{Value: con.ID, Words: words, Note: note})
	}
	p.choices(list.Pick(c.record.Container))
}

// correct takes the correction.
func correct(v *Visit) error {
	c, err := v.correction()
	if err != nil {
		return err
	}
	c.keepTyped()
	cmd := reprocess.Correct{Kit: c.k.ID, Piece: c.piece.ID, Of: c.seq, Cycle: c.cycle.ID,
		Reason: v.Field("reason")}
	var e *reprocess.Entry
	if err = c.read(&cmd); err == nil {
		var actor reprocess.Actor
		if actor, err = v.Sign(); err == nil {
			e, err = v.DoAs(cmd, actor)
		}
	}
	if err != nil {
		return v.Refuse(err, c.page())
	}
	return v.Went("/kit/"+c.k.ID, correctedWords(e))
}

// correctedWords says what a correction did, and what it left to do.
func correctedWords(e *reprocess.Entry) string {
	words, failed := "Corrected. The old record stays in the history.", ""
	for _, b := range e.Events {
		switch ev := b.Event.(type) {
		case reprocess.RecordCorrected:
			failed = ev.Failed
		case reprocess.PieceMoved:
			if ev.State == reprocess.Recalled {
				return words + " Its release no longer passes: the kit is being called back."
			}
			return words + " Its release no longer passes: the kit is stopped."
		}
	}
	if failed != "" {
		words += " The release of that time no longer passes: " + failed +
			" Nothing is stopped, for it came back since; look back on who wore it."
	}
	return words
}

// read takes the facts of the form that belong to the kind of the record.
func (c *correction) read(cmd *reprocess.Correct) error {
	switch c.record.Kind {
	case reprocess.RecWetNow:
		cmd.Container = c.v.Field("container")
		return nil
	case reprocess.RecLooksWet:
		cmd.Dry = true
		return nil
	}
	for _, a := range c.wantedHere() {
		value := c.typed["a-"+a.ID]
		if a.Kind == reprocess.AskCode && value != "" {
			code, err := labels.Parse(value)
			if err != nil {
				return badCode(err)
			}
			value = string(code)
		}
		c.typed[a.ID] = value
		if value != "" {
			cmd.Answers = append(cmd.Answers, reprocess.Answer{Ask: a.ID, Value: value})
		}
	}
	return nil
}

// sampleCorrect draws the page for the tests of the template.
func sampleCorrect() Page {
	p := &actPage{Base: Titled("What is right? Kit 17, recorder"), ID: "K18", Path: "correct/40",
		Act: "Correct it, signed", Lines: []string{"Recorded by Ada Okafor, 14:02: Cleaned."},
		Links: []link{{To: "/kit/K18/correct/40?piece=P2", Words: "Correct it for the phone instead"}}}
	p.choices(Choices{Name: "a-clean", Legend: "Visibly clean?",
		Options: []Choice{{Value: "yes", Words: "Yes, clean"}}})
	f := SignField()
	p.Secret = &f
	return p
}
