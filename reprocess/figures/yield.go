package figures

import "handback/reprocess"

// StepYield is how often a step passed at its first try.
type StepYield struct {
	Step          reprocess.StepID
	Tried, Passed int // cycles
}

// Share is passed ÷ tried, 1 when nothing was tried.
func (s StepYield) Share() float64 {
	if s.Tried == 0 {
		return 1
	}
	return float64(s.Passed) / float64(s.Tried)
}

// Yield is how the cycles that ended went.
type Yield struct {
	Ended, Released int
	First           int // released, and no step failed, was repeated or accepted not as written
	Steps           []StepYield
	Rolled          float64 // product of the step shares
	Together        int     // cycles with records that came faster than is plausible
	Paper           int     // cycles with records entered later, from paper
	Overrides       map[reprocess.StepID]int
	Overridden      int // cycles with a step accepted not as written
}

// FirstShare is First ÷ Ended, 0 when none ended.
func (y Yield) FirstShare() float64 { return per(y.First, y.Ended) }

func per(part, of int) float64 {
	if of == 0 {
		return 0
	}
	return float64(part) / float64(of)
}

// Yield counts the cycles of the choice.
func (f *Facts) Yield(c Choice) Yield {
	y := Yield{Rolled: 1, Overrides: map[reprocess.StepID]int{}}
	tried, passed := map[reprocess.StepID]int{}, map[reprocess.StepID]int{}
	for _, x := range f.cycles(c) {
		steps := f.firstTries(x)
		for step, ok := range steps {
			tried[step]++
			if ok {
				passed[step]++
			}
		}
		y.take(x, steps)
	}
	for _, row := range reprocess.Steps() {
		if s := (StepYield{row.ID, tried[row.ID], passed[row.ID]}); s.Tried > 0 {
			y.Steps = append(y.Steps, s)
			y.Rolled *= s.Share()
		}
	}
	return y
}

func (y *Yield) take(x *reprocess.Cycle, steps map[reprocess.StepID]bool) {
	y.Ended++
	if x.End == reprocess.EndReleased {
		y.Released++
	}
	if isFirst(x, steps) {
		y.First++
	}
	together, paper, over := false, false, false
	for _, r := range x.Records {
		if r.Undone {
			continue
		}
		together, paper = together || r.Together, paper || r.Late
		if r.Kind == reprocess.RecOverride {
			y.Overrides[r.Step]++
			over = true
		}
	}
	y.Together, y.Paper = y.Together+one(together), y.Paper+one(paper)
	y.Overridden += one(over)
}

func one(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// isFirst tells whether a cycle was released with every step passed at its first try.
func isFirst(x *reprocess.Cycle, steps map[reprocess.StepID]bool) bool {
	if x.End != reprocess.EndReleased {
		return false
	}
	for _, ok := range steps {
		if !ok {
			return false
		}
	}
	return true
}

// firstTries tells for each step of a cycle that was tried whether its first try passed: no
// answer asked for it again or put on hold, it was not done a second time while it stood, not
// accepted as not written, and no wetting ended too early. What was tapped by mistake does not
// count. The disinfection and drying after a test on a person are no repeats: the procedure
// asks for them.
func firstTries(x *reprocess.Cycle) map[reprocess.StepID]bool {
	ok := map[reprocess.StepID]bool{}
	note := func(step reprocess.StepID, passed bool) {
		was, seen := ok[step]
		ok[step] = passed && (!seen || was)
	}
	before := reprocess.Progress{}
	part := reprocess.Cycle{}
	for _, r := range x.Records {
		if r.Undone {
			continue
		}
		part.Records = append(part.Records, r)
		after := part.Progress()
		_, done := before.Done[r.Step]
		switch r.Kind {
		case reprocess.RecAnswer:
			note(r.Step, !failing(r) && !done)
		case reprocess.RecOverride:
			note(r.Step, false)
		case reprocess.RecRepair:
			note(reprocess.StepInspection, false)
		case reprocess.RecWetNow:
			_, wiped := before.Done[reprocess.StepDisinfection]
			n := len(before.Wet.Intervals)
			short := n > 0 && len(after.Wet.Intervals) > n
			note(reprocess.StepDisinfection, !wiped && !short)
		}
		before = after
	}
	return ok
}

// failing tells whether an answer asked for the step again or put the piece on hold.
func failing(r reprocess.Record) bool {
	for _, a := range r.Answers {
		if a.Effect == reprocess.EffectAgain || a.Effect == reprocess.EffectHold {
			return true
		}
	}
	return false
}
