package web

import (
	"fmt"
	"strings"

	"handback/reprocess"
)

// wentAlong says what a loan went out with beside its pieces and parts, by the plan of its
// days; empty when the model says nothing to plan from.
func wentAlong(w *reprocess.World, k *reprocess.Kit) string {
	l := w.Loans[k.Loan]
	if !l.Open() || l.Days < 1 {
		return ""
	}
	plan := packOf(w, k, l)
	var along []string
	if plan.Electrodes != nil {
		along = append(along, fmt.Sprintf("%d electrodes", plan.Electrodes.Total))
	}
	if n := plan.CarriedCells(); n > 0 {
		along = append(along, count(n, "spare cell", "spare cells")+" "+plan.Cell)
	}
	if len(along) == 0 {
		return ""
	}
	return fmt.Sprintf("Planned for %d days: %s.", l.Days, strings.Join(along, ", "))
}

// leftChoices ask what became of single-use parts that came back; nil when none went along.
func leftChoices(w *reprocess.World, k *reprocess.Kit, picked string) *Choices {
	along := wentAlong(w, k)
	if along == "" {
		return nil
	}
	if picked == "" {
		picked = reprocess.NotAsked
	}
	c := Choices{Name: "left", Legend: "Electrodes, opened packs and cells left over?",
		Hint: along + " Single-use parts never go into another bag.",
		Options: []Choice{{Value: reprocess.LeftDiscarded, Words: "Thrown away"},
			{Value: reprocess.LeftNone, Words: "None left"},
			{Value: reprocess.NotAsked, Words: "Not asked"}}}.Pick(picked)
	return &c
}

// shouldWords lists what should come back, or should have: the pieces with their serials, what
// travels with them, and what is left of what went along to be used up.
func shouldWords(w *reprocess.World, k *reprocess.Kit) string {
	var all []string
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil {
			all = append(all, string(p.Kind)+" "+p.Serial)
		}
	}
	for _, c := range partChoices(w, k).Options {
		all = append(all, c.Value)
	}
	if len(all) == 0 {
		return ""
	}
	words := upper(strings.Join(all, ", "))
	l := w.Loans[k.Loan]
	if l == nil || l.Days < 1 {
		return words + "."
	}
	plan := packOf(w, k, l)
	var rest []string
	if plan.Electrodes != nil {
		rest = append(rest, fmt.Sprintf("%d electrodes", plan.Electrodes.Total))
	}
	if n := plan.CarriedCells(); n > 0 {
		rest = append(rest, count(n, "spare cell", "spare cells")+" "+plan.Cell)
	}
	if len(rest) > 0 {
		words += "; what is left of " + strings.Join(rest, " and ")
	}
	return words + "."
}

// shortChoices are what went along to be used up and can be told as not come back.
func shortChoices(w *reprocess.World, k *reprocess.Kit, picked []string) *Choices {
	l := w.Loans[k.Loan]
	if !l.Open() || l.Days < 1 {
		return nil
	}
	plan := packOf(w, k, l)
	c := Choices{Name: "short", Legend: "Tap what should be left over and did not come back", Many: true}
	if e := plan.Electrodes; e != nil {
		c.Options = append(c.Options, Choice{Value: reprocess.ShortElectrodes, Words: "Spare electrodes",
			Note: fmt.Sprintf("%d went along, %d of them spare", e.Total, e.Spare)})
	}
	if n := plan.CarriedCells(); n > 0 {
		note := fmt.Sprintf("%d went along", n)
		if plan.Swallow {
			note += "; ask where they are, they are a danger to children"
		}
		c.Options = append(c.Options, Choice{Value: reprocess.ShortCells, Words: "Spare cells " + plan.Cell,
			Note: note})
	}
	if len(c.Options) == 0 {
		return nil
	}
	c = c.Pick(picked...)
	return &c
}

// shortWords is what did not come back of what was to be used up; empty for nothing.
func shortWords(r reprocess.Return) string {
	var all []string
	if r.ShortOf(reprocess.ShortElectrodes) {
		all = append(all, "spare electrodes")
	}
	if r.ShortOf(reprocess.ShortCells) {
		all = append(all, "spare cells")
	}
	return strings.Join(all, ", ")
}

// leftOverWords is the answer in words.
var leftOverWords = map[string]string{reprocess.LeftDiscarded: "left over, thrown away",
	reprocess.LeftNone: "none left", reprocess.NotAsked: "not asked"}
