package web

import (
	"fmt"
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

// correctable finds what of an entry can be corrected: records of the newest cycle of a piece
// that still count, by piece.
func (x *view) correctable(seq int64) map[string]reprocess.Record {
	found := map[string]reprocess.Record{}
	for _, id := range x.k.Pieces {
		p := x.w.Pieces[id]
		if p == nil || x.w.Cycles[p.Cycle] == nil {
			continue
		}
		for _, r := range x.w.Cycles[p.Cycle].Records {
			kind := r.Kind == reprocess.RecAnswer || r.Kind == reprocess.RecWetNow ||
				r.Kind == reprocess.RecLooksWet
			if r.Seq == seq && !r.Undone && kind {
				found[id] = r
			}
		}
	}
	return found
}

// correction is the form of one record of one piece.
type correction struct {
	*view
	seq    int64
	piece  *reprocess.Piece
	record reprocess.Record
	others []string // pieces of which the same entry says something too
}

func (v *Visit) correction() (*correction, error) {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return nil, err
	}
	c := &correction{view: x, seq: number(v.Param("seq"))}
	found := x.correctable(c.seq)
	for _, id := range x.k.Pieces {
		r, ok := found[id]
		switch {
		case !ok:
		case c.piece == nil && (x.piece == "" || x.piece == id):
			c.piece, c.record = x.w.Pieces[id], r
		default:
			c.others = append(c.others, id)
		}
	}
	if c.piece == nil {
		return nil, &reprocess.Problem{Code: reprocess.NotFound, Rule: "not_correctable",
			Text: "This entry holds nothing of the newest cycle that can be corrected.",
			Fix:  "Open the history of the kit and choose another entry."}
	}
	return c, nil
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
		Lines: []string{"Recorded by " + c.record.Name + ", " + c.clock(c.record.Mark.At) + ": " +
			recordWords(c.record) + byContainer(c.w, c.record) + ".",
			"The old record stays readable; the release is asked again on what is right."}}
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
	cycle := c.w.Cycles[c.piece.Cycle]
	proc := c.w.Procedures[cycle.Procedure]
	if proc == nil {
		return nil
	}
	return reprocess.WantedAsks(c.w, c.k, c.piece, proc, c.record.Step)
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

// tubs lists every container, open ones first: it may be empty since.
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
	cmd := reprocess.Correct{Kit: c.k.ID, Piece: c.piece.ID, Of: c.seq, Reason: v.Field("reason")}
	if err = c.read(&cmd); err == nil {
		var actor reprocess.Actor
		if actor, err = v.Sign(); err == nil {
			_, err = v.DoAs(cmd, actor)
		}
	}
	if err != nil {
		return v.Refuse(err, c.page())
	}
	return v.Went("/kit/"+c.k.ID, "Corrected. The old record stays in the history.")
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
