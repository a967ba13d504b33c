package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Take-back works from every state: the physical truth can always be recorded (P4).
func TestTakeBackFromEveryState(t *testing.T) {
	for _, s := range States() {
		c := newClinic(t)
		for _, id := range c.w.Kits["K18"].Pieces {
			c.w.Pieces[id].State = s
		}
		c.do(c.actor("dan"), TakeBack{Kit: "K18"})
		want := Returned
		if s == Retired {
			want = Retired // it is here, and still not reprocessed by anybody
		}
		require.Equal(t, want, KitState(c.w.Kits["K18"], c.w.Pieces), "%s", s)
		require.Nil(t, c.w.Kits["K18"].Release)
	}
}

// A kit that was not recorded as out was in unknown hands; a piece that did not come is
// missing; a hold survives the return.
func TestTakeBackKeepsWhatIsNotKnown(t *testing.T) {
	c := newClinic(t)
	c.w.Pieces["P18-2"].State = Issued
	c.do(c.actor("ada"), PutOnHold{Kit: "K18", Piece: "P18-1", Reason: "cracked"})
	e := c.do(c.actor("dan"), TakeBack{Kit: "K18", Came: []string{"P18-1"}})
	require.Equal(t, "unknown", e.Events[0].Event.(TakenBack).Return.Custody)
	require.Equal(t, Quarantined, c.w.Pieces["P18-1"].State)
	require.Equal(t, Missing, c.w.Pieces["P18-2"].State)
}

func TestATakenBackKitBreaksItsCycleOff(t *testing.T) {
	c := newClinic(t)
	c.toWet()
	id := c.w.Pieces["P18-1"].Cycle
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	require.Equal(t, EndBrokenOff, c.w.Cycles[id].End)
	require.Equal(t, StepReceipt, c.w.NextStep(c.w.Pieces["P18-1"]))
}

// Precautions told at the hand-out are carried to the return; a stop flag holds the kit.
func TestPrecautionsTravel(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.do(c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 3, Flags: []string{"respiratory"}})
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	require.Equal(t, []string{"respiratory"}, c.w.Kits["K18"].Flags)
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Flags: []string{"prion"}}})
	require.Equal(t, Quarantined, KitState(c.w.Kits["K18"], c.w.Pieces))
	c.refused("flags", c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Flags: []string{"plague"}}})
}

func TestHandOutBoundaries(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	dan := c.actor("dan")
	c.refused("wearer", dan, HandOut{Kit: "K18", Days: 3})
	for _, days := range []int{0, -1, 401} {
		c.refused("days", dan, HandOut{Kit: "K18", Wearer: "w", Days: days})
	}
	c.refused("date", dan, HandOut{Kit: "K18", Wearer: "w", Days: 3, Due: "2026-11-23"})
	c.refused("date", dan, HandOut{Kit: "K18", Wearer: "w", Days: 3, Due: "24.11.2026"})
	c.refused("role", c.actor("ina"), HandOut{Kit: "K18", Wearer: "w", Days: 3})
	e := c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 14})
	require.Equal(t, Date("2026-12-08"), e.Events[0].Event.(HandedOut).Due)
	c.refused("not_released", dan, HandOut{Kit: "K18", Wearer: "w", Days: 3})
}

// The fitted cell must be good beyond the loan.
func TestTheCellLastsTheLoan(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.w.Kits["K18"].Release.CellUntil = c.now.Today().AddDays(20)
	c.refused("cell_expiry", c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 21})
	c.do(c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 20})
}

func TestExtendAndUndoHandOut(t *testing.T) {
	c := readyToRelease(t)
	dan := c.actor("dan")
	c.refused("not_out", dan, Extend{Kit: "K18", Days: 10})
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 7})
	c.do(dan, Extend{Kit: "K18", Days: 10})
	require.Equal(t, Date("2026-12-04"), c.w.Loans[c.w.Kits["K18"].Loan].Due)
	c.wait(24 * time.Hour)
	c.do(dan, UndoHandOut{Kit: "K18", Reason: "never left, bag sealed"})
	require.True(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
	c.do(dan, HandOut{Kit: "K18", Wearer: "w2", Days: 7})
	c.wait(24*time.Hour + time.Second)
	c.refused("undo_late", dan, UndoHandOut{Kit: "K18", Reason: "sealed"})
}

// "Went out without release" is a signed entry after the fact: call-back, no release.
func TestHandOutAfterTheFact(t *testing.T) {
	c := newClinic(t)
	dan := c.actor("dan")
	c.refused("time", dan, HandOutAfter{Kit: "K18", Reason: "hurry", Out: c.now.UTC + 1})
	c.do(dan, HandOutAfter{Kit: "K18", Reason: "given out at the ward"})
	require.Equal(t, Recalled, KitState(c.w.Kits["K18"], c.w.Pieces))
	require.True(t, c.w.Loans[c.w.Kits["K18"].Loan].After)
	c.refused("already_out", dan, HandOutAfter{Kit: "K18", Reason: "again"})
	c.do(dan, TakeBack{Kit: "K18"})
	require.Equal(t, Returned, KitState(c.w.Kits["K18"], c.w.Pieces))
}

// Opened, wet or dropped ends a release; only returned leads on.
func TestABrokenRelease(t *testing.T) {
	c := readyToRelease(t)
	c.refused("not_released", c.actor("dan"), BreakRelease{Kit: "K18", Why: "wet"})
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.refused("why", c.actor("dan"), BreakRelease{Kit: "K18", Why: "bored"})
	c.do(c.actor("dan"), BreakRelease{Kit: "K18", Why: "dropped"})
	require.Equal(t, Returned, KitState(c.w.Kits["K18"], c.w.Pieces))
	c.refused("not_released", c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 3})
}

// Repair goes only with one of three declarations; "decontaminated" needs a finished
// disinfection in this cycle (check value 54; P18). It comes back as returned.
func TestRepairNeedsADeclaration(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	send := func(d string) Aside {
		return Aside{Kit: "K18", Piece: "P18-1", To: OutForRepair, Reason: "clip", Declaration: d}
	}
	c.refused("declaration", boss, send(""))
	c.refused("declaration", boss, send(Decontaminated))
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	c.refused("declaration", boss, send(NotExposed))
	ada := c.toWet()
	c.wetNow(ada)
	c.wait(61 * time.Second)
	c.look(ada, RecLooksWet)
	c.do(boss, send(Decontaminated))
	require.Equal(t, OutForRepair, KitState(c.w.Kits["K18"], c.w.Pieces))
	c.do(boss, Aside{Kit: "K18", Piece: "P18-1", To: Returned, Reason: "back from repair"})
	require.Equal(t, Returned, c.w.Pieces["P18-1"].State)
	c.refused("state", boss, Aside{Kit: "K18", Piece: "P18-1", To: Released, Reason: "trust me"})
}

// A piece is not stopped or called back alone: that is StopKit, on the whole kit and signed.
// What StopKit stopped comes back by LiftStop, not by setting it aside.
func TestAPieceIsNotStoppedByHand(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	for _, to := range []State{Embargoed, Recalled} {
		c.refused("state", c.actor("ina"), Aside{Kit: "K18", Piece: "P18-1", To: to, Reason: "lot in doubt"})
	}
	c.do(c.actor("ina"), StopKit{Kit: "K18", Reason: "lot in doubt"})
	c.refused("not_aside", c.actor("ina"), Aside{Kit: "K18", Piece: "P18-1", To: Returned, Reason: "fine"})
	c.do(c.actor("ina"), LiftStop{Kit: "K18", Reason: "the lot was fine"})
	require.Equal(t, Returned, c.w.Pieces["P18-1"].State)
}

// A phone that stayed on the shelf while its recorder was out needs its own cycle as well.
func TestAPieceThatNeverLeftIsReprocessedWithItsKit(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Came: []string{"P18-1"}})
	require.Equal(t, Released, c.w.Pieces["P18-2"].State)
	c.refused("no_cycle", c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.goodSteps(c.actor("ada"))
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
}
