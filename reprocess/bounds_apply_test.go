package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The edges of folding: what one fact does to pieces, kits and cycles. Source: our own rules
// ("a release is of a whole kit", "unknown is not released").

var anEntry = &Entry{Seq: 50, At: dayOne + 5000, By: "ada", Name: "Ada Bench"}

// aWorld has kit K with a recorder R and a phone P, both in a state.
func aWorld(s State) *World {
	w := NewWorld()
	w.Kits["K"] = &Kit{ID: "K", Pieces: []string{"R", "P"}}
	w.Pieces["R"] = &Piece{ID: "R", Kit: "K", Kind: Recorder, State: s}
	w.Pieces["P"] = &Piece{ID: "P", Kit: "K", Kind: Phone, State: s}
	return w
}

// A kit counts as opened when its first piece is; a sheet's time stands where there is one.
func TestWhenAKitWasOpened(t *testing.T) {
	w := aWorld(Returned)
	w.openCycle(anEntry, CycleOpened{Cycle: "C1", Piece: "R", Kit: "K"})
	require.Equal(t, anEntry.At, w.Kits["K"].Opened)
	require.Equal(t, anEntry.At, w.Kits["K"].Since)
	later := &Entry{At: anEntry.At + 9}
	w.openCycle(later, CycleOpened{Cycle: "C2", Piece: "P", Kit: "K"})
	require.Equal(t, anEntry.At, w.Kits["K"].Opened)
	w = aWorld(Returned)
	w.openCycle(anEntry, CycleOpened{Cycle: "C1", Piece: "R", Kit: "K", Claimed: 77})
	require.EqualValues(t, 77, w.Kits["K"].Opened)
	require.Zero(t, w.Kits["K"].Since)
}

// Only what is in reprocessing moves with its cycle.
func TestWhatMovesWithItsCycle(t *testing.T) {
	for s, moves := range map[State]bool{InReprocessing: true, AwaitingRelease: true, Quarantined: false,
		Missing: false, Issued: false, Released: false, Retired: false} {
		w := aWorld(s)
		w.settle("R") // no open cycle: it would be returned
		require.Equal(t, moves, w.Pieces["R"].State == Returned, "%s", s)
	}
	aWorld(Returned).settle("nobody")
}

func TestWhereACycleStands(t *testing.T) {
	proc := testProcedure("M", Recorder)
	w := aWorld(InReprocessing)
	p := w.Pieces["R"]
	require.Equal(t, Returned, w.standing(p), "no cycle")
	w.Cycles["C1"], p.Cycle = &Cycle{ID: "C1", Procedure: "R@1"}, "C1"
	require.Equal(t, InReprocessing, w.standing(p), "its procedure is not known")
	w.Procedures["R@1"] = &proc
	require.Equal(t, InReprocessing, w.standing(p))
	proc.Steps = nil
	require.Equal(t, AwaitingRelease, w.standing(p))
	w.Cycles["C1"].Ended = 1
	require.Equal(t, Returned, w.standing(p))
}

// A hand-out carries its own moment only from a sheet or from before this log.
func TestWhenItWentOut(t *testing.T) {
	w := aWorld(Released)
	w.handOut(anEntry, HandedOut{Loan: Loan{ID: "L1", Kit: "K"}})
	require.Equal(t, anEntry.At, w.Loans["L1"].Out)
	w.handOut(anEntry, HandedOut{Loan: Loan{ID: "L2", Kit: "K", Out: 33}})
	require.EqualValues(t, 33, w.Loans["L2"].Out)
	w.handOut(anEntry, HandedOut{Loan: Loan{ID: "L3", Kit: "K", After: true}})
	require.Zero(t, w.Loans["L3"].Out, "nobody knows when")
}

// Undoing a hand-out of a kit whose release is gone releases nothing.
func TestUndoingWithoutARelease(t *testing.T) {
	for _, rel := range []*Release{nil, {}} {
		w := aWorld(Issued)
		w.Kits["K"].Release = rel
		w.Loans["L"] = &Loan{ID: "L", Kit: "K"}
		w.undoHandOut(anEntry, HandOutUndone{Loan: "L", Kit: "K"})
		require.Equal(t, rel != nil, w.Pieces["R"].State == Released)
		require.True(t, w.Loans["L"].Undone)
	}
	aWorld(Issued).undoHandOut(anEntry, HandOutUndone{Kit: "none"})
}

func TestOneWaitingReasonEnds(t *testing.T) {
	k := &Kit{Waiting: []Waiting{{Reason: "part"}, {Reason: "charging"}}}
	k.endWaiting("part")
	require.Equal(t, []Waiting{{Reason: "charging"}}, k.Waiting)
}

// A piece that joins a kit brings its precautions, leaves its old kit, and is not released there.
func TestAPieceJoinsAKit(t *testing.T) {
	w := aWorld(Released)
	w.Kits["K"].Release = &Release{}
	w.Kits["N"] = &Kit{ID: "N"}
	w.joinKit(anEntry, "nobody", w.Kits["N"])
	w.joinKit(anEntry, "R", w.Kits["K"])
	require.NotNil(t, w.Kits["K"].Release, "it was in it already")
	w.joinKit(anEntry, "R", w.Kits["N"])
	require.Equal(t, Returned, w.Pieces["R"].State)
	require.Equal(t, "N", w.Pieces["R"].Kit)
	require.Equal(t, []string{"P"}, w.Kits["K"].Pieces)
	require.Nil(t, w.Kits["K"].Release)
	require.Nil(t, w.Kits["N"].Flags)

	w = aWorld(Returned)
	w.Kits["K"].Flags, w.Kits["N"] = []string{"tb"}, &Kit{ID: "N", Flags: []string{"none"}}
	w.joinKit(anEntry, "R", w.Kits["N"])
	require.Equal(t, []string{"tb"}, w.Kits["N"].Flags)
	for _, s := range []State{Released, Registered} {
		require.Empty(t, (&Piece{State: s, Flags: []string{"tb"}}).precautions(nil), "%s", s)
	}
	require.Equal(t, []string{"tb"}, (&Piece{State: Returned, Flags: []string{"tb"}}).precautions(nil))
}

// What came is returned, unless it was retired; what was out and did not come is missing.
func TestWhatATakeBackDoes(t *testing.T) {
	for s, want := range map[State]State{Issued: Missing, Recalled: Missing, Released: Released,
		InReprocessing: InReprocessing, Retired: Retired} {
		w := aWorld(s)
		w.takeBack(anEntry, TakenBack{Kit: "K", Came: []string{"R"}})
		require.Equal(t, want, w.Pieces["P"].State, "%s", s)
		if s == Retired {
			require.Equal(t, Retired, w.Pieces["R"].State)
			continue
		}
		require.Equal(t, Returned, w.Pieces["R"].State)
	}
	w := aWorld(Issued)
	w.Kits["K"].Pieces = append(w.Kits["K"].Pieces, "gone")
	w.takeBack(anEntry, TakenBack{Kit: "K", Came: []string{"gone"}}) // does not stumble
	require.Equal(t, Missing, w.Pieces["R"].State)
}

func TestOnlyAnOpenCycleIsBrokenOff(t *testing.T) {
	w := aWorld(InReprocessing)
	w.breakOff(anEntry, "nobody")
	w.breakOff(anEntry, "R")
	w.Pieces["R"].Cycle = "lost"
	w.breakOff(anEntry, "R")
	w.Pieces["R"].Cycle, w.Cycles["C"] = "C", &Cycle{ID: "C"}
	w.breakOff(anEntry, "R")
	require.Equal(t, EndBrokenOff, w.Cycles["C"].End)
	w.Cycles["C"].Ended, w.Cycles["C"].End = 7, EndReleased
	w.breakOff(anEntry, "R")
	require.Equal(t, EndReleased, w.Cycles["C"].End)
}

// A broken release lets the released pieces fall back, and no others.
func TestABrokenReleaseTouchesTheReleased(t *testing.T) {
	w := aWorld(Released)
	w.Pieces["P"].State = Missing
	w.Kits["K"].Release = &Release{}
	w.Kits["K"].Pieces = append(w.Kits["K"].Pieces, "gone")
	w.breakRelease(anEntry, "K")
	require.Equal(t, Returned, w.Pieces["R"].State)
	require.Equal(t, Missing, w.Pieces["P"].State)
	require.Nil(t, w.Kits["K"].Release)
}

// A hold takes the release of a kit in the house; with a wearer the piece stays issued and the
// loan keeps what it went out on. A technician's hold does not move the piece.
func TestWhatAHoldDoes(t *testing.T) {
	for _, x := range []struct {
		state, then State
		grade       Grade
		release     bool
	}{
		{Released, Quarantined, GradeHold, false}, {Issued, Issued, GradeHold, true},
		{Missing, Missing, GradeHold, false}, {InReprocessing, InReprocessing, GradeTechnician, false},
		{InReprocessing, Quarantined, GradeInfection, false},
	} {
		w := aWorld(x.state)
		w.Kits["K"].Release = &Release{}
		w.hold(anEntry, Held{Piece: "R", Grade: x.grade})
		require.Equal(t, x.then, w.Pieces["R"].State, "%+v", x)
		require.Equal(t, x.release, w.Kits["K"].Release != nil, "%+v", x)
		if !x.release {
			require.Equal(t, anEntry.At, w.Kits["K"].Since)
		}
	}
	w := aWorld(InReprocessing)
	w.hold(anEntry, Held{Piece: "R", Grade: GradeHold, Claimed: 9})
	require.Zero(t, w.Kits["K"].Since)
	w.hold(anEntry, Held{Piece: "nobody", Grade: GradeHold})
}

// Only the last blocking hold lets a piece go on, and only from quarantine.
func TestTheLastHoldEnds(t *testing.T) {
	w := aWorld(InReprocessing)
	first, second := &Entry{Seq: 1}, &Entry{Seq: 2}
	w.hold(first, Held{Piece: "R", Grade: GradeHold})
	w.hold(second, Held{Piece: "R", Grade: GradeInfection})
	w.endHold(anEntry, HoldEnded{Piece: "R", Hold: 1})
	require.Equal(t, Quarantined, w.Pieces["R"].State)
	w.endHold(anEntry, HoldEnded{Piece: "R", Hold: 2})
	require.Equal(t, Returned, w.Pieces["R"].State)
	w.Pieces["R"].State = Missing
	w.endHold(anEntry, HoldEnded{Piece: "R", Hold: 3})
	require.Equal(t, Missing, w.Pieces["R"].State)
}

// A piece that is moved by hand takes the kit's release; brought back, it is back as of now.
func TestAPieceMovedByHand(t *testing.T) {
	for _, s := range []State{Missing, Returned} {
		w := aWorld(Released)
		w.Kits["K"].Release = &Release{}
		w.movePiece(anEntry, PieceMoved{Piece: "R", State: s})
		require.Equal(t, s, w.Pieces["R"].State)
		require.Nil(t, w.Kits["K"].Release)
		require.Equal(t, s == Returned, w.Kits["K"].Back == anEntry.At)
		require.Nil(t, w.Pieces["R"].Called)
	}
	aWorld(Released).movePiece(anEntry, PieceMoved{Piece: "nobody", State: Missing})
}
