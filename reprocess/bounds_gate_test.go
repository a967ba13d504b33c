package reprocess

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The edges of the release gate. Source: the release gate of the infection-control reference,
// 1.3, and our own rules where it is silent; found missing by turning every comparison of the
// rules around, one at a time.

func (c *clinic) cycleOf(piece string) *Cycle { return c.w.Cycles[c.w.Pieces[piece].Cycle] }

// changeStep changes the record of one step where it lies, as no act could.
func (c *clinic) changeStep(piece string, step StepID, change func(*Record)) {
	cy := c.cycleOf(piece)
	for i := range cy.Records {
		if cy.Records[i].Step == step {
			change(&cy.Records[i])
		}
	}
}

func TestTheOpenGateIsWhatTheReleaseAsks(t *testing.T) {
	c := readyToRelease(t)
	k, ada := c.w.Kits["K18"], c.actor("ada")
	require.Nil(t, GateOpen(c.w, k, ada, c.now))
	c.do(c.actor("dan"), PutOnHold{Kit: "K18", Piece: "P18-2", Reason: "cracked"})
	require.Equal(t, "on_hold", GateOpen(c.w, k, ada, c.now).Rule)
	require.Equal(t, "", GateWords(nil))
	require.Equal(t, "A. B.", GateWords(&Problem{Text: "A.", Fix: "B."}))
}

// What the cycle stands on has to be known: its procedure and its model.
func TestACycleWithoutItsProcedureOrModelIsNone(t *testing.T) {
	c := readyToRelease(t)
	delete(c.w.Procedures, c.cycleOf("P18-1").Procedure)
	c.refused("no_cycle", c.actor("ada"), ReleaseKit{Kit: "K18"})
	c = readyToRelease(t)
	delete(c.w.Models, "M11")
	c.refused("no_cycle", c.actor("ada"), ReleaseKit{Kit: "K18"})
}

func TestTheLastAllowedCycleIsReleased(t *testing.T) {
	c := readyToRelease(t)
	c.w.Pieces["P18-1"].Cycles = 99 // this is the hundredth of a hundred
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c = readyToRelease(t)
	c.w.Models["M10"].CycleLimit, c.w.Pieces["P18-1"].Cycles = 0, 5000 // no limit stated
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
}

// A procedure that does not ask for the label back, and one that wants no disinfection.
func TestTheGateAsksOnlyWhatTheProcedureWants(t *testing.T) {
	c := readyToRelease(t)
	for _, id := range []string{"P18-1", "P18-2"} {
		c.changeStep(id, StepPacking, func(r *Record) {
			r.Answers = slices.DeleteFunc(r.Answers, func(a Answer) bool { return a.Ask == "label" })
		})
	}
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})

	c = readyToRelease(t)
	for _, id := range []string{"P18-1", "P18-2"} {
		proc, cy := c.procedureOf(id), c.cycleOf(id)
		proc.Steps = slices.DeleteFunc(proc.Steps, func(r StepRow) bool { return r.Step == StepDisinfection })
		cy.Records = slices.DeleteFunc(cy.Records, func(r Record) bool { return r.Step == StepDisinfection })
	}
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
}

// What has to be signed alone: a claim nobody watched, and an answer that puts on hold, unless
// that tap was taken back.
func TestWhatIsSignedAlone(t *testing.T) {
	list := ReleaseKit{Kit: "K18", List: true}
	for _, x := range []struct {
		name  string
		spoil func(*Record)
		alone bool
	}{
		{"unremarkable", func(*Record) {}, false},
		{"not looked at", func(r *Record) { r.NotLookS = 1 }, true},
		{"a grave answer", func(r *Record) { r.Answers[0].Effect = EffectHold }, true},
		{"a grave answer taken back", func(r *Record) { r.Undone = true; r.Answers[0].Effect = EffectHold }, false},
	} {
		t.Run(x.name, func(t *testing.T) {
			c := readyToRelease(t)
			cy := c.cycleOf("P18-1")
			extra := cy.Records[0]
			extra.Answers = slices.Clone(extra.Answers)
			x.spoil(&extra)
			first := append([]Record{extra}, cy.Records[1:]...)
			if extra.Undone {
				first = append([]Record{extra}, cy.Records...)
			}
			cy.Records = first
			f := &gateFacts{c: &Case{W: c.w, Actor: c.actor("ada"), Now: c.now}, kit: c.w.Kits["K18"],
				piece: c.w.Pieces["P18-1"], cycle: cy, proc: c.procedureOf("P18-1"), progress: cy.Progress()}
			require.Equal(t, x.alone, f.remarkable())
		})
	}
	c := readyToRelease(t)
	c.changeStep("P18-1", StepDisinfection, func(r *Record) { r.NotLookS = 90 })
	c.refused("sign_alone", c.actor("ada"), list)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
}

// The shorter of the two pieces' times says how long a release holds; none means no lapse.
func TestAReleaseHoldsAsLongAsTheShorterProcedure(t *testing.T) {
	for _, x := range []struct{ recorder, phone, days int }{
		{30, 10, 10}, {10, 30, 10}, {10, 10, 10}, {0, 12, 12}, {12, 0, 12}, {0, 0, 0},
	} {
		c := readyToRelease(t)
		c.procedureOf("P18-1").ReleaseDays, c.procedureOf("P18-2").ReleaseDays = x.recorder, x.phone
		c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
		want := Instant(0)
		if x.days > 0 {
			want = c.now.UTC.Add(time.Duration(x.days) * 24 * time.Hour)
		}
		require.Equal(t, want, c.w.Kits["K18"].Release.Until, "%+v", x)
	}
}

// A paper contact time that counts does not speak when another step is missing.
func TestTheMissingStepSpeaksNotThePaper(t *testing.T) {
	p := newProgress()
	p.Wet = Wet{Intervals: []Interval{{Paper: true}}}
	for _, s := range Steps() {
		p.Done[s.ID] = Record{}
	}
	delete(p.Done, StepDrying)
	proc := testProcedure("M10", Recorder)
	f := &gateFacts{piece: &Piece{Kind: Recorder}, proc: &proc, progress: p}
	require.Equal(t, "steps", gateSteps(f).Rule)
	delete(p.Done, StepDisinfection)
	require.Equal(t, "paper", gateSteps(f).Rule)
}
