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
	plan := packFor(w, k, l.Days)
	var along []string
	if plan.Electrodes != nil {
		along = append(along, fmt.Sprintf("%d electrodes", plan.Electrodes.Total))
	}
	if n := plan.CarriedCells(); n > 0 {
		along = append(along, fmt.Sprintf("%d spare cells %s", n, plan.Cell))
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

// leftOverWords is the answer in words.
var leftOverWords = map[string]string{reprocess.LeftDiscarded: "left over, thrown away",
	reprocess.LeftNone: "none left", reprocess.NotAsked: "not asked"}
