package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// lostAndReplaced is kit 17 whose phone was lost and replaced by another, P19.
func lostAndReplaced(t *testing.T, declared bool) *clinic {
	c := newClinic(t)
	boss := c.actor("boss")
	if declared {
		c.do(boss, DeclareMissing{Kit: "K18", Pieces: []string{"P18-2"}, Data: DataUnknown})
	} else {
		c.do(boss, Aside{Kit: "K18", Piece: "P18-2", To: Missing, Reason: "not in the parcel"})
	}
	e := c.do(boss, RegisterPiece{Kind: Phone, Piece: NewPiece{Model: "M11", Serial: "P-0019"}})
	spare := e.Events[0].Event.(PieceRegistered).Piece.ID
	c.do(boss, Compose{Kit: "K18", Pieces: []string{"P18-1", spare}})
	require.Empty(t, c.w.Pieces["P18-2"].Kit)
	return c
}

// A lost piece is found weeks later although another stands in for it (practice rule P4: found
// after weeks is always recorded). It ends the loss, is on hold, and cannot be found twice.
func TestALostPieceIsFoundAfterItWasReplaced(t *testing.T) {
	c := lostAndReplaced(t, true)
	dan := c.actor("dan")
	require.True(t, c.w.Kits["K18"].Loss.Open())
	require.Equal(t, "K18", FindLooseKit(c.w, c.w.Pieces["P18-2"]))
	require.Equal(t, "", FindLooseKit(c.w, c.w.Pieces["P18-1"]))
	c.refused("in_kit", dan, FindLoose{Piece: "P18-1", Kit: "K18"})
	c.do(dan, FindLoose{Piece: "P18-2", Kit: "K18"})
	require.False(t, c.w.Kits["K18"].Loss.Open())
	require.Equal(t, "", FindLooseKit(c.w, c.w.Pieces["P18-2"]))
	require.Equal(t, c.now.UTC, c.w.Kits["K18"].Loss.Found)
	p := c.w.Pieces["P18-2"]
	require.Equal(t, Quarantined, p.State)
	require.Equal(t, ReasonFoundLoose, p.Held(GradeHold).Reason)
	c.refused("already_done", dan, FindLoose{Piece: "P18-2", Kit: "K18"})

	boss := c.actor("boss") // back in its kit it still waits for a decision
	c.do(boss, Compose{Kit: "K18", Pieces: []string{"P18-1", "P18-2"}})
	c.refused("on_hold", c.actor("ada"), RecordStep{Kit: "K18", Pieces: []string{"P18-2"},
		Step: StepReceipt, Answers: answers("condition", "whole")})
	c.do(c.actor("ina"), DecideHold{Kit: "K18", Piece: "P18-2", Hold: p.Holds[0].Seq,
		To: DecideGoOn, Reason: "nothing on it"})
	require.Equal(t, Returned, c.w.Pieces["P18-2"].State)
}

// Without a declaration there is no loss to end; a kit that does not miss the piece is refused.
func TestALoosePieceWithoutADeclaredLoss(t *testing.T) {
	c := lostAndReplaced(t, false)
	dan := c.actor("dan")
	c.refused("other_kit", dan, FindLoose{Piece: "P18-2", Kit: "K18"})
	c.do(dan, FindLoose{Piece: "P18-2"})
	require.Equal(t, Quarantined, c.w.Pieces["P18-2"].State)
	_, p := c.try(dan, FindLoose{Piece: "none"})
	require.Equal(t, NotFound, p.Code)
}

// A loss of two pieces stands until both are there again.
func TestALossOfTwoEndsWithTheSecond(t *testing.T) {
	c := lostAndReplaced(t, true)
	boss := c.actor("boss")
	c.do(boss, DeclareMissing{Kit: "K18", Pieces: []string{"P18-1"}, Data: DataYes})
	c.do(boss, FindLoose{Piece: "P18-2", Kit: "K18"})
	require.True(t, c.w.Kits["K18"].Loss.Open())
	c.do(boss, TakeBack{Kit: "K18", Came: []string{"P18-1"}})
	require.False(t, c.w.Kits["K18"].Loss.Open())
}
