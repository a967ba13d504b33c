package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What somebody would try who wants a kit released that was not disinfected as it has to be.
// Source of the rules: the practice rules P4, P5, P14 and P19; the ways round them are our own.

// A second take-back must not wash off what the first one told: the bench adds, never
// overwrites (P5), and nothing was reprocessed in between.
func TestPrecautionsOutliveASecondTakeBack(t *testing.T) {
	c := newClinic(t)
	dan := c.actor("dan")
	c.do(dan, TakeBack{Kit: "K18", Return: Return{Flags: []string{"c-difficile"}, Skin: "yes"}})
	c.do(dan, TakeBack{Kit: "K18", Return: Return{Flags: []string{"none"}, Skin: "no"}})
	require.Equal(t, []string{"c-difficile"}, c.w.Kits["K18"].Flags)
	require.Equal(t, "yes", c.w.Kits["K18"].Return.Skin)
	c.do(dan, TakeBack{Kit: "K18", Return: Return{Flags: []string{"respiratory"}}})
	require.ElementsMatch(t, []string{"c-difficile", "respiratory"}, c.w.Kits["K18"].Flags)
	c.do(dan, TakeBack{Kit: "K18", Came: []string{"P18-2"}})
	require.ElementsMatch(t, []string{"c-difficile", "respiratory"}, c.w.Kits["K18"].Flags,
		"one piece alone takes nothing away either")
}

// Once released under them, precautions are dealt with: a take-back from the shelf does not
// bring them back.
func TestPrecautionsEndWithTheRelease(t *testing.T) {
	c := newClinic(t)
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Flags: []string{"respiratory"}}})
	c.released("K18")
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Flags: []string{"none"}}})
	require.Equal(t, []string{"none"}, c.w.Kits["K18"].Flags)
}

// "It went out without a record" on a kit that still waits for its disinfection.
func TestPrecautionsOutliveAHandOutAfterTheFact(t *testing.T) {
	c := newClinic(t)
	dan := c.actor("dan")
	c.do(dan, TakeBack{Kit: "K18", Return: Return{Flags: []string{"c-difficile"}}})
	c.do(dan, HandOutAfter{Kit: "K18", Reason: "taken from the tray"})
	c.do(dan, TakeBack{Kit: "K18", Return: Return{Flags: []string{"none"}}})
	require.Equal(t, []string{"c-difficile"}, c.w.Kits["K18"].Flags)
}

// An act on a piece of another kit would stand in the wrong kit's chain of entries, where
// whoever checks the other kit's history does not find it.
func TestAnActNamesThePiecesOfItsOwnKit(t *testing.T) {
	c, a, b := twoKits(t)
	c.w.People["all"] = &Person{ID: "all", Name: "Alla All", Roles: Roles()}
	mine, other := a.ID, b.Pieces[0]
	hold := c.do(c.actor("ada"), PutOnHold{Kit: b.ID, Piece: other, Reason: "cracked"}).Seq
	for _, cmd := range []Command{
		PutOnHold{Kit: mine, Piece: other, Reason: "cracked"},
		DecideHold{Kit: mine, Piece: other, Hold: hold, To: DecideGoOn, Reason: "looks fine"},
		TechnicianDone{Kit: mine, Piece: other, Hold: hold, Reason: "looks fine"},
		Aside{Kit: mine, Piece: other, To: Missing, Reason: "gone"},
		Reissue{Kit: mine, Kind: CodePiece, Target: other, Code: "NEWCODE", Reason: "torn"},
		Reissue{Kit: mine, Kind: CodeSlip, Target: b.ID, Code: "NEWCODE", Reason: "torn"},
	} {
		c.refused("other_kit", c.actor("all"), cmd)
	}
	c.do(c.actor("all"), Reissue{Kind: CodePiece, Target: other, Code: "NEWCODE", Reason: "torn"})
}

// A piece named twice would count as the two pieces of a kit.
func TestAPieceIsNamedOnce(t *testing.T) {
	c := newClinic(t)
	twice := []string{"P18-1", "P18-1"}
	c.refused("piece_twice", c.actor("ada"), RecordStep{Kit: "K18", Pieces: twice, Step: StepReceipt,
		Answers: answers("condition", "whole", "recording", "arrived", "old_cell", "yes")})
	c.refused("piece_twice", c.actor("dan"), TakeBack{Kit: "K18", Came: twice})
}

// Whoever is still learning a procedure cannot accept one of its steps other than as written.
func TestALearnerOverridesNothing(t *testing.T) {
	c := readyToRelease(t)
	ada, boss := c.actor("ada"), c.actor("boss")
	c.do(ada, SmallRepair{Kit: "K18", Piece: "P18-1", Part: "clip"})
	c.do(ada, RecordStep{Kit: "K18", Pieces: []string{"P18-1"}, Step: StepInspection,
		Answers: answers("sound", "yes")})
	boss.Person.Competences = []Competence{{Procedure: "R12", From: "2026-01-01", Learning: true}}
	c.refused("learning", boss,
		Override{Kit: "K18", Piece: "P18-1", Step: StepFunction, Reason: "bench source broken"})
}

// A recorder that this log knows is not taken over from paper a second time: retired and
// registered anew as "ready", it would be released without a cycle. Nor is one back from
// retirement younger than it was: its cycles go on from where they stood.
func TestARetiredPieceIsNotTakenOverAsReady(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	c.w.Pieces["P18-1"].Cycles = 7
	c.do(boss, Aside{Kit: "K18", Piece: "P18-1", To: Retired, Reason: "worn"})
	again := RegisterKit{Number: "20", Recorder: NewPiece{Model: "M10", Serial: "R-0017"},
		Opening: &Opening{Ready: c.now.Today().AddDays(9)}}
	c.refused("cycles", boss, again)
	again.Recorder.Cycles = 7
	c.refused("known_here", boss, again)
	again.Opening = nil
	c.do(boss, again)
}

// A stopped lot does not come back under a new line of the list.
func TestAStoppedLotIsNotRecordedAnew(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	c.do(ada, StopLot{Lot: "T15", Reason: "called back by its maker"})
	lot := Lot{Kind: LotDisinfectant, Product: "D14", Number: "l6 ", Expiry: c.now.Today().AddDays(200)}
	c.refused("lot_stopped", ada, SetLot{lot})
	lot.Number = "L7"
	e := c.do(ada, SetLot{lot})
	lot.ID, lot.Number = e.Events[0].Event.(LotSet).ID, "L6"
	c.refused("lot_stopped", ada, SetLot{lot})
}

// A correction does not make something else of a lot that stands behind a release.
func TestACorrectionKeepsWhatALotIs(t *testing.T) {
	c := newClinic(t)
	c.refused("kind", c.actor("ada"), SetLot{Lot{ID: "T17", Kind: LotDisinfectant, Product: "D14",
		Number: "L9", Expiry: c.now.Today().AddDays(9)}})
}
