package web

import (
	"strings"

	"handback/reprocess"
)

// shortList is what is gone through before a kit leaves: one tap says that all of it is done,
// and what was not done is answered one by one behind it.
type shortList struct {
	Lines []string // as sentences
	Asks  []Choices
	Note  Field
	Cells *Choices // a new cell may be fitted here
	Each  string   // the act of answering one by one
	Open  bool
}

// The values of the button that sends a hand-out.
const (
	checksAll  = "all"
	checksEach = "each"
)

// shortListOf draws the list for a kit, with what was answered.
func (v *Visit) shortListOf(w *reprocess.World, k *reprocess.Kit, ward bool,
	each string) shortList {
	asks, must := reprocess.WantedOut(w, k)
	if ward {
		asks, must = reprocess.WantedToWard(w, k)
	}
	s := shortList{Each: each, Open: v.Field("checks") != "" && v.anyCheck(asks),
		Note: TextField("check_note", "The other reason, in a few words", v.Field("check_note"))}
	s.Note.Hint = "No names of wearers."
	for _, a := range asks {
		s.Lines = append(s.Lines, strings.TrimSuffix(a.Words, "?"))
		c := Choices{Name: "check." + a.ID, Legend: a.Words,
			Options: []Choice{{Value: reprocess.OutYes, Words: "Yes"}}}
		for _, r := range a.Not {
			c.Options = append(c.Options, Choice{Value: "no " + r.ID, Words: "No: " + r.Words})
		}
		if !listed(must, a.ID) {
			c.Options = append(c.Options, Choice{Value: reprocess.NotAsked, Words: "Not asked"})
		}
		s.Asks = append(s.Asks, c.Pick(v.Field(c.Name)))
	}
	s.Cells = v.cellsAtOut(w, k)
	return s
}

// anyCheck tells whether any answer of the list came along, so that it stays open.
func (v *Visit) anyCheck(asks []reprocess.OutAsk) bool {
	return v.Field("checks") == checksEach || v.allAfterAll(asks) != nil
}

func listed(list []string, id string) bool {
	for _, one := range list {
		if one == id {
			return true
		}
	}
	return false
}

// cellsAtOut are the boxes to choose from where the procedure lets the counter fit a cell.
func (v *Visit) cellsAtOut(w *reprocess.World, k *reprocess.Kit) *Choices {
	if !reprocess.CellsAtOut(w, k) {
		return nil
	}
	c := Choices{Name: "cell", Legend: "A new cell, fitted now?", Options: []Choice{
		{Words: "No, the one in it stays", Picked: v.Field("cell") == ""}}}
	for _, id := range k.Pieces {
		p := w.Pieces[id]
		if p == nil || p.Kind != reprocess.Recorder {
			continue
		}
		for _, l := range lotsOf(w, func(l *reprocess.Lot) bool {
			return reprocess.CellsFit(w, p, l.ID, v.Now.Today()) == nil
		}) {
			c.Options = append(c.Options, Choice{Value: l.ID, Words: lotWords(w, l),
				Note: "good until " + reprocess.Day(l.Expiry), Picked: v.Field("cell") == l.ID})
		}
	}
	return &c
}

// checks reads the answers: all done by one tap, or each by itself.
func (v *Visit) checks(kit string, ward bool) ([]reprocess.OutCheck, error) {
	w, err := v.Store().KitWorld(v.Context(), kit)
	if err != nil {
		return nil, notKnown(err, "There is no such kit here.")
	}
	asks, _ := reprocess.WantedOut(w, w.Kits[kit])
	done := reprocess.AllDone
	if ward {
		asks, _ = reprocess.WantedToWard(w, w.Kits[kit])
		done = reprocess.AllDoneToWard
	}
	if v.Field("checks") == checksAll {
		return done(w, w.Kits[kit]), v.allAfterAll(asks)
	}
	var all []reprocess.OutCheck
	for _, a := range asks {
		c := reprocess.OutCheck{Ask: a.ID, Answer: v.Field("check." + a.ID)}
		if why, no := strings.CutPrefix(c.Answer, "no "); no {
			c.Answer, c.Why, c.Note = reprocess.OutNo, why, v.Field("check_note")
		}
		all = append(all, c)
	}
	return all, nil
}

// allAfterAll refuses the tap that says that all was done when one of the answers says that
// something was not: only one of them can be meant.
func (v *Visit) allAfterAll(asks []reprocess.OutAsk) error {
	for _, a := range asks {
		if answer := v.Field("check." + a.ID); answer != "" && answer != reprocess.OutYes {
			return &reprocess.Problem{Code: reprocess.Invalid, Rule: "checks",
				Text: "You answered that something was not done, then tapped that all of it was: " +
					strings.TrimSuffix(a.Words, "?") + ".",
				Fix: "Send it as answered, or change that answer to yes."}
		}
	}
	return nil
}

// checkTerms shows what was gone through before a loan.
func checkTerms(w *reprocess.World, l *reprocess.Loan) []Term {
	var words []string
	for _, c := range l.Checks {
		words = append(words, c.Words())
	}
	var terms []Term
	if len(words) > 0 {
		terms = append(terms, Term{"Before it left", upper(strings.Join(words, "; ")) + "."})
	}
	if lot := w.Lots[l.Cell]; lot != nil {
		terms = append(terms, Term{"New cell fitted at the counter", lotWords(w, lot)})
	}
	if lot := w.Lots[l.Pads]; lot != nil {
		terms = append(terms, Term{"Electrodes that went along", lotWords(w, lot)})
	}
	return terms
}

// handedOutWords is a hand-out in a history, with what was gone through before it.
func handedOutWords(w *reprocess.World, l reprocess.HandedOut) string {
	if l.Under != "" {
		return "worn on " + l.Ward + " from now on" + padsWords(w, l.Pads)
	}
	words := "handed out for "
	if l.Ward != "" {
		words = "handed to " + l.Ward + " for "
	}
	words += count(l.Days, "day", "days") + ", due back " + reprocess.Day(l.Due)
	if l.Swap != "" {
		words += ", swapped for another kit"
	}
	for _, c := range l.Checks {
		words += "; " + c.Words()
	}
	if l.Cell != "" {
		words += "; a new cell fitted, " + lotNamed(w, l.Cell)
	}
	return words + padsWords(w, l.Pads)
}

// padsWords names the electrodes that went along; empty when it was not told.
func padsWords(w *reprocess.World, lot string) string {
	if lot == "" {
		return ""
	}
	return "; electrodes: " + lotNamed(w, lot)
}

// lotNamed is a lot as its box says, or its id when it is not loaded.
func lotNamed(w *reprocess.World, id string) string {
	if l := w.Lots[id]; l != nil {
		return lotWords(w, l)
	}
	return "lot " + id
}

func sampleShortList() shortList {
	c := Choices{Name: "check.slip", Legend: "Slip given?", Options: []Choice{
		{Value: "yes", Words: "Yes"}, {Value: "no told", Words: "No: told by word of mouth"}}}
	cells := Choices{Name: "cell", Legend: "A new cell, fitted now?",
		Options: []Choice{{Words: "No, the one in it stays", Picked: true}}}
	return shortList{Lines: []string{"Slip given"}, Asks: []Choices{c}, Cells: &cells,
		Note: TextField("check_note", "The other reason", ""), Each: "Hand out as answered"}
}
