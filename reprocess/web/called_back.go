package web

import (
	"strings"

	"handback/reprocess"
)

// tellWords is what is told on the telephone: nothing about anybody's health, and nothing that
// frightens; questions go to infection control. Our own wording, common practice.
const tellWords = "Tell them: stop using the recorder and bring it back as it is, today or " +
	"tomorrow. " +
	"Do not wipe or open it. A recording made so far is read as usual. Infection control rings up " +
	"whoever has questions: promise that, and say nothing more yourself."

// showCalledBack is the list to telephone by, also on paper: kits, never wearers.
func showCalledBack(v *Visit) error {
	w, err := v.Store().Week(v.Context(), v.today())
	if err != nil {
		return err
	}
	list := reprocess.CallBacks(w, v.Now)
	p := titledOffice("Which kits are called back?", "As of "+v.moment(v.Now.UTC)+". "+
		count(len(list), "kit is", "kits are")+" still out.")
	if len(list) > 0 {
		p.Lead = append(p.Lead, tellWords)
	}
	var late, rest []ruledLine
	for _, b := range list {
		row := ruledLine{To: callAt(b.Kit.ID), Words: "Kit " + b.Kit.Number,
			Notes: v.callBackNotes(w, b)}
		if b.Late {
			late = append(late, row)
		} else {
			rest = append(rest, row)
		}
	}
	if len(late) > 0 {
		p.listsByFirstNote("To call now: overdue", "", late...)
	}
	p.listsByFirstNote("Called back", "None is out.", rest...)
	if acts(reprocess.ActView).lets(v.Person) && len(list) > 0 {
		p.list("", "", ruledLine{To: "/overdue", Words: "Look up a wearer’s reference"})
	}
	p.act("/desk", "Front desk")
	p.Acts[0].Main = false
	return v.Show(p)
}

// callBackNotes say why, since when, and what came of the calls.
func (v *Visit) callBackNotes(w *reprocess.World, b reprocess.CallBack) []string {
	notes := []string{"Called back " + v.moment(b.What.At) + " by " + b.What.Name + ": " +
		b.What.Reason + "."}
	if b.Loan.Out != 0 {
		notes = append(notes, "Out since "+v.moment(b.Loan.Out)+"."+ringWords(w, b.Loan))
	}
	return append(notes, callBackState(b, v.Now))
}

// callBackState is where the calls stand, in a sentence.
func callBackState(b reprocess.CallBack, now reprocess.Now) string {
	words := "Not called yet."
	if b.Last != nil {
		words = "Called " + age(b.Last.At, now) + " by " + b.Last.Name + ": " +
			callWords(b.Last.Result, b.Last.On) + "."
	}
	switch {
	case b.Late && b.By == 0:
		words += " The promised day has passed: call again."
	case b.Late:
		words += " Overdue since " + reprocess.Clock(b.By, now.Zone) + "."
	case b.By != 0:
		words += " To be called by " + reprocess.Clock(b.By, now.Zone) + "."
	}
	return words
}

// calledBackLines are the kits to telephone about that were called back. Causes and states that
// all of them share are said once.
func calledBackLines(w *reprocess.World, now reprocess.Now) todayGroup {
	var rows []ruledLine
	for _, b := range reprocess.CallBacks(w, now) {
		rows = append(rows, ruledLine{To: callAt(b.Kit.ID), Words: "Kit " + b.Kit.Number,
			Notes: []string{sentence(b.What.Reason), callBackState(b, now)}})
	}
	says, rest := saidOnce(rows)
	g := todayGroup{Group: Group{Heading: "Called back, to call"}, Says: strings.Join(says, " ")}
	for _, r := range rest {
		g.Lines = append(g.Lines, Line{r.To, r.Words, strings.Join(r.Notes, " ")})
	}
	return g
}
