package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The edges of repairs, of registering and of opening balances. Sources: P3 and P18 of the
// practice notes; the bounds (100000 cycles, 400 days, a million) are our own.

// "Exposed and decontaminated" wants a disinfection since the last skin it touched, also when the
// test that touched it failed; and of what left already, one in the cycle that it broke off.
func TestDecontaminatedSinceTheLastSkin(t *testing.T) {
	c := newClinic(t)
	c.toTest(false)
	boss := c.actor("boss")
	c.do(c.actor("ada"), testStep(nil, "worn_by", "person", "signal", "no_signal", "memory", "yes"))
	c.refused("declaration", boss, send(Decontaminated))
	c.do(c.actor("ada"), WetNow{Kit: "K18", Pieces: []string{"P18-1"}, Container: "B16"})
	c.wait(61 * time.Second)
	c.do(c.actor("ada"), Look{Kit: "K18", Pieces: []string{"P18-1"}, Saw: RecLooksWet})
	c.do(boss, send(Decontaminated))

	for name, x := range map[string]struct {
		end  CycleEnd
		skin bool
		ok   bool
	}{"broken off": {EndBrokenOff, false, true}, "released": {EndReleased, false, false},
		"on a person since": {EndBrokenOff, true, false}} {
		c := newClinic(t)
		c.wiped()
		p := c.w.Pieces["P18-1"]
		cy := c.cycleOf("P18-1")
		p.State, cy.End, cy.Ended = OutForRepair, x.end, c.now.UTC
		if x.skin {
			worn := saidAt(StepFunction, "worn_by", "person")
			worn.Answers[0].Effect = EffectAgain
			cy.Records = append(cy.Records, worn)
		}
		_, problem := c.try(c.actor("boss"), send(Decontaminated))
		require.Equal(t, x.ok, problem == nil, name)
		if !x.ok {
			c.do(c.actor("boss"), send(StillContaminated)) // it is gone; what is on it is told
		}
	}
}

// What came back over the counter goes out again although nobody closed its repair.
func TestSentAgainAfterTheCounter(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	first := send(NotExposed)
	first.Expected = ""
	c.do(boss, first)
	c.refused("already_sent", boss, send(StillContaminated))
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Came: []string{"P18-1"}})
	require.True(t, c.w.Pieces["P18-1"].Repair.Open())
	c.do(boss, send(StillContaminated))
}

func TestTheDaysAndTheCostOfARepair(t *testing.T) {
	c := newClinic(t)
	dan := c.actor("dan")
	c.do(c.actor("boss"), send(NotExposed))
	sent := c.w.Pieces["P18-1"].Repair.Sent
	for day, ok := range map[Date]bool{sent: true, sent.AddDays(1): true, sent.AddDays(-1): false,
		"": false, "soon": false, "2026-11-31": false} {
		_, p := c.try(dan, ExpectRepair{Kit: "K18", Piece: "P18-1", Expected: day})
		require.Equal(t, ok, p == nil, "%q", day)
	}
	piece := c.w.Pieces["P18-1"]
	for cost, ok := range map[int64]bool{-1: false, 0: true, mostCost: true, mostCost + 1: false} {
		_, p := RepairBack{Outcome: "repaired", Cost: cost, Currency: "EUR"}.typed(
			&Case{W: c.w, Now: c.now}, piece)
		require.Equal(t, ok, p == nil, "%d", cost)
	}
	seen := map[string]bool{}
	for _, o := range RepairOutcomes() {
		require.Equal(t, o.Words, OutcomeWords(o.ID))
		seen[OutcomeWords(o.ID)] = true
	}
	require.Len(t, seen, len(RepairOutcomes()))
	require.Equal(t, "burnt", OutcomeWords("burnt"))
}

// --- registering ---

func register(number string, edit func(*RegisterKit)) RegisterKit {
	r := RegisterKit{Number: number, Recorder: NewPiece{Model: "M10", Serial: "R-" + number}}
	edit(&r)
	return r
}

// A number is free again once its kit is retired, and a serial is of its model.
func TestWhatIsTakenAlready(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	same := func(r *RegisterKit) { r.Recorder.Serial = "R-0100" }
	c.refused("number_taken", boss, register("17", same))
	c.w.Kits["K18"].Retired = true
	c.do(boss, register("17", same))
	other := *c.w.Models["M10"]
	other.ID = "M99"
	c.w.Models["M99"] = &other
	c.do(boss, register("30", func(r *RegisterKit) {
		r.Recorder = NewPiece{Model: "M99", Serial: "R-0017"}
		r.Opening = &Opening{Ready: c.now.Today()}
	}))
	other.Retired = true
	c.refused("unknown", boss, register("31", func(r *RegisterKit) { r.Recorder.Model = "M99" }))
	n := register("17", func(r *RegisterKit) {
		r.Phone = &NewPiece{Serial: "P", Code: "LABEL"}
	}).Needs()
	require.Equal(t, []string{"R-17", "P"}, n.Serials)
	require.Equal(t, []string{"LABEL"}, n.Labels)
}

func TestEarlierCyclesAreBounded(t *testing.T) {
	for n, ok := range map[int]bool{-1: false, 0: true, 100000: true, 100001: false} {
		c := newClinic(t)
		_, p := c.try(c.actor("boss"), register("30", func(r *RegisterKit) { r.Recorder.Cycles = n }))
		require.Equal(t, ok, p == nil, "%d", n)
	}
}

// A kit is taken over as out since today at the latest, or as ready from today to the longest
// loan; a day that does not exist is refused and never a release without an end.
func TestTheDaysOfAnOpeningBalance(t *testing.T) {
	today := DateIn(dayOne, nil)
	for name, x := range map[string]struct {
		o  Opening
		ok bool
	}{
		"out today":           {Opening{Out: today}, true},
		"out tomorrow":        {Opening{Out: today.AddDays(1)}, false},
		"out on no day":       {Opening{Out: "2026-02-30"}, false},
		"out, due on no day":  {Opening{Out: today, Due: "2026-11-31"}, false},
		"out, due":            {Opening{Out: today, Due: "2026-11-30"}, true},
		"ready today":         {Opening{Ready: today}, true},
		"ready yesterday":     {Opening{Ready: today.AddDays(-1)}, false},
		"ready for the most":  {Opening{Ready: today.AddDays(longestLoan)}, true},
		"ready for more":      {Opening{Ready: today.AddDays(longestLoan + 1)}, false},
		"ready until no day":  {Opening{Ready: "2026-11-31"}, false},
		"ready, but not when": {Opening{Ready: "2027"}, false},
	} {
		c := newClinic(t)
		_, p := c.try(c.actor("boss"), register("30", func(r *RegisterKit) { r.Opening = &x.o }))
		require.Equal(t, x.ok, p == nil, "%s: %v", name, p)
		if p != nil {
			require.Equal(t, "date", p.Rule, name)
			continue
		}
		for _, k := range c.w.Kits {
			if k.Release != nil {
				require.NotZero(t, k.Release.Until, name)
			}
		}
	}
}

// What is out, or called back from there, is not taken apart on paper.
func TestWhatIsOutIsNotComposed(t *testing.T) {
	for state, ok := range map[State]bool{Issued: false, Recalled: false, Returned: true,
		Released: true} {
		c := newClinic(t)
		for _, id := range []string{"P18-1", "P18-2"} {
			c.w.Pieces[id].State = state
		}
		_, p := c.try(c.actor("boss"), Compose{Kit: "K18", Pieces: []string{"P18-1"}})
		require.Equal(t, ok, p == nil, "%s", state)
	}
}
