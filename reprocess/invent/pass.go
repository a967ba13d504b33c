package invent

import (
	"fmt"
	"time"

	"handback/reprocess"
)

// answers builds answers from pairs of question and value.
func answers(pairs ...string) []reprocess.Answer {
	var out []reprocess.Answer
	for i := 0; i+1 < len(pairs); i += 2 {
		out = append(out, reprocess.Answer{Ask: pairs[i], Value: pairs[i+1]})
	}
	return out
}

// pass is one reprocessing of one kit by one person.
type pass struct {
	s    *sim
	kit  *reprocess.Kit
	by   string
	stop reprocess.StepID // stands still before this step; empty: goes through

	plain bool // nothing is found at the first look
}

// reprocess brings a kit from returned to released, with the hitches of real days.
func (s *sim) reprocess(kit string) {
	by := []string{ada, milo, rosa}[s.rng.IntN(3)]
	if by == rosa && reprocess.Flagged(s.w.Kits[kit].Flags) {
		by = milo // she releases: precautions ask for a second person
	}
	p := pass{s: s, kit: s.w.Kits[kit], by: s.who(by)}
	s.about(6 * time.Minute)
	if !p.steps() {
		return
	}
	if by == ada {
		s.after(2 * time.Minute)
	}
	s.do(s.who(rosa), true, reprocess.ReleaseKit{Kit: kit})
	s.do(s.who(rosa), false, reprocess.Move{Kit: kit, Place: "shelf A"})
}

// steps walks every step that is still to do; false when the kit stands still now.
func (p pass) steps() bool {
	for range 40 {
		next := p.next()
		if next == reprocess.StepRelease {
			return p.s.err == nil
		}
		if next == p.stop || next == "" || p.s.err != nil {
			return false
		}
		p.s.about(45 * time.Second)
		p.step(next)
	}
	return false
}

// next is the earliest step that any piece still has to do; "" when one is on hold.
func (p pass) next() reprocess.StepID {
	best := reprocess.StepRelease
	for _, id := range p.kit.Pieces {
		piece := p.s.w.Pieces[id]
		if len(piece.Holds) > 0 {
			return ""
		}
		if n := p.s.w.NextStep(piece); order(n) < order(best) {
			best = n
		}
	}
	return best
}

func order(id reprocess.StepID) int {
	for i, s := range reprocess.Steps() {
		if s.ID == id {
			return i
		}
	}
	return -1
}

// at lists the pieces that stand at a step.
func (p pass) at(step reprocess.StepID) []string {
	var out []string
	for _, id := range p.kit.Pieces {
		if p.s.w.NextStep(p.s.w.Pieces[id]) == step {
			out = append(out, id)
		}
	}
	return out
}

func (p pass) step(step reprocess.StepID) {
	switch step {
	case reprocess.StepDisinfection:
		p.disinfect()
	case reprocess.StepBattery:
		p.battery()
	case reprocess.StepReceipt:
		p.receipt()
	case reprocess.StepFunction:
		p.test()
	case reprocess.StepPacking:
		p.pack()
	case reprocess.StepAssignment:
		p.ended()
	default:
		p.record(step, p.at(step), plain[step]...)
	}
}

// plain are the good answers of steps that ask nothing special.
var plain = map[reprocess.StepID][]string{
	reprocess.StepCleaning:   {"clean", "yes", "parts_clean", "yes"},
	reprocess.StepDrying:     {"dry", "yes"},
	reprocess.StepInspection: {"sound", "yes"},
}

// ended ends the last loan on the pieces; while a campaign wants it, the app is read off.
func (p pass) ended() {
	pairs := []string{"ended", "yes", "wiped", "yes", "app_there", "yes", "lock", "yes",
		"updates", "yes"}
	for _, id := range p.at(reprocess.StepAssignment) {
		if _, wanted := p.s.w.VersionWanted(p.s.w.Pieces[id], "app"); wanted {
			version := newApp
			if p.s.chance(20) {
				version = oldApp // no time to load it; the campaign still counts it as open
			}
			pairs = append(pairs, "app", version)
		}
	}
	p.record(reprocess.StepAssignment, p.at(reprocess.StepAssignment), pairs...)
}

func (p pass) record(step reprocess.StepID, pieces []string, pairs ...string) {
	p.s.do(p.by, false, reprocess.RecordStep{Kit: p.kit.ID, Pieces: pieces, Step: step,
		Answers: answers(pairs...)})
}

func (p pass) receipt() {
	pairs := []string{"condition", "whole", "recording", "arrived", "old_cell", "yes"}
	switch {
	case p.plain:
	case p.s.chance(2):
		pairs[1] = "cracked"
	case p.s.chance(4):
		pairs[1] = "soiled"
	}
	if p.kit.Return != nil && p.kit.Return.Skin == "yes" {
		skin := "redness"
		if !p.plain && p.s.chance(30) {
			skin = "skin_broken"
		}
		pairs = append(pairs, "skin", skin)
	}
	p.record(reprocess.StepReceipt, p.at(reprocess.StepReceipt), pairs...)
}

func (p pass) disinfect() {
	pieces := p.at(reprocess.StepDisinfection)
	p.s.used++
	p.s.do(p.by, false, reprocess.WetNow{Kit: p.kit.ID, Pieces: pieces, Container: p.s.wipes})
	p.s.after(35 * time.Second)
	if p.s.chance(12) {
		p.s.do(p.by, false, reprocess.Look{Kit: p.kit.ID, Pieces: pieces, Saw: reprocess.RecSeenDry})
		if p.s.chance(30) {
			p.s.refused(p.by, false, reprocess.RecordStep{Kit: p.kit.ID, Pieces: pieces,
				Step: reprocess.StepDrying, Answers: answers("dry", "yes")})
		}
		return
	}
	p.s.do(p.by, false, reprocess.Look{Kit: p.kit.ID, Pieces: pieces, Saw: reprocess.RecLooksWet})
	p.s.after(time.Duration(27+p.s.rng.IntN(20)) * time.Second)
	p.s.do(p.by, false, reprocess.Look{Kit: p.kit.ID, Pieces: pieces, Saw: reprocess.RecLooksWet})
	p.s.about(90 * time.Second)
}

func (p pass) battery() {
	for _, id := range p.at(reprocess.StepBattery) {
		if p.s.w.Pieces[id].Kind == reprocess.Phone {
			p.record(reprocess.StepBattery, []string{id}, "charge",
				[]string{"88", "93", "97", "100"}[p.s.rng.IntN(4)])
			continue
		}
		pairs := []string{"cell", p.s.cells, "latched", "yes"}
		volts := "1.59 V"
		if p.s.modelOf(p.kit.ID) == modelB {
			pairs = []string{"cell", p.s.air, "latched", "yes", "tab_pulled", string(p.s.date())}
			volts = "1.41 V"
		}
		if p.s.chance(40) {
			pairs = append(pairs, "cell_mv", volts)
		}
		p.record(reprocess.StepBattery, []string{id}, pairs...)
	}
}

func (p pass) test() {
	p.s.about(80 * time.Second)
	failed := p.s.chance(6)
	if p.s.o.Files != nil && p.s.model(p.s.modelOf(p.kit.ID)).Export {
		mains := 0.0
		if failed {
			mains = hum
		}
		p.benchTest(mains)
		return
	}
	pairs := []string{"worn_by", "bench", "signal", "usable", "memory", "yes"}
	if failed {
		pairs[3] = "no_signal"
	} else if p.s.chance(30) {
		pairs = append(pairs, "reference", fmt.Sprintf("R-%06d", p.s.seq))
	}
	p.record(reprocess.StepFunction, p.at(reprocess.StepFunction), pairs...)
}

func (p pass) pack() {
	for _, w := range p.kit.Waiting {
		p.s.do(p.by, false, reprocess.EndWait{Kit: p.kit.ID, Reason: w.Reason})
	}
	if p.s.w.WantsPair(p.kit) {
		p.s.do(p.by, false, reprocess.Pair{Kit: p.kit.ID, Recorder: p.s.codes[p.kit.ID],
			Phone: p.s.phones[p.kit.ID]})
	}
	p.record(reprocess.StepPacking, p.kit.Pieces, "complete", "yes", "sealed", "yes",
		"label", p.s.codes[p.kit.ID])
}
