package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Composition. Source: our own rule that a piece is in one kit at a time, and common practice
// in reprocessing that a release is of the set as it lay on the table.

// twoKits adds kit 19 beside kit 17, both with recorder and phone.
func twoKits(t *testing.T) (c *clinic, a, b *Kit) {
	c = newClinic(t)
	c.do(c.actor("boss"), RegisterKit{Number: "19", Place: "shelf B",
		Recorder: NewPiece{Model: "M10", Serial: "R-0019", Code: "CODE19R"},
		Phone:    &NewPiece{Model: "M11", Serial: "P-0019", Code: "CODE19P"}})
	return c, c.w.Kits["K18"], c.w.Kits["K19"]
}

// released works a kit up to its release.
func (c *clinic) released(kit string) {
	c.goodSteps(c.actor("ada"))
	two := c.actor("ada")
	two.Second = c.w.People["boss"] // precautions ask for a second person
	c.do(two, ReleaseKit{Kit: kit})
	require.Equal(c.t, Released, KitState(c.w.Kits[kit], c.w.Pieces))
}

func TestAPieceIsInOneKitAtATime(t *testing.T) {
	c, a, b := twoKits(t)
	c.released(a.ID)
	c.do(c.actor("boss"), Compose{Kit: b.ID, Pieces: []string{"P19-1", "P18-2"}})
	require.Equal(t, []string{"P18-1"}, a.Pieces, "it left the kit it came from")
	require.Equal(t, []string{"P19-1", "P18-2"}, b.Pieces)
	require.Equal(t, b.ID, c.w.Pieces["P18-2"].Kit)
	require.Empty(t, c.w.Pieces["P19-2"].Kit, "the phone that made room is in no kit")
	require.Nil(t, a.Release, "the kit that lost a piece is no longer what was released")
	require.Nil(t, b.Release)
	for _, id := range []string{"P18-1", "P18-2"} {
		require.Equal(t, Returned, c.w.Pieces[id].State, "%s goes through a cycle again", id)
	}
	require.False(t, CanHandOut(c.w, a, c.now).Released)
	require.False(t, CanHandOut(c.w, b, c.now).Released)
	c.do(c.actor("boss"), Compose{Kit: a.ID, Pieces: []string{"P18-1", "P19-2"}})
	require.Equal(t, []string{"P18-1", "P19-2"}, a.Pieces, "a loose piece is taken up")
}

// The same pieces again change nothing of the composition and still end the release: the act
// says that somebody had the kit apart.
func TestTheSamePiecesAgainEndTheRelease(t *testing.T) {
	c, a, _ := twoKits(t)
	c.released(a.ID)
	c.do(c.actor("boss"), Compose{Kit: a.ID, Pieces: []string{"P18-1", "P18-2"}})
	require.Equal(t, []string{"P18-1", "P18-2"}, a.Pieces)
	require.Equal(t, Returned, KitState(a, c.w.Pieces))
	require.Equal(t, Returned, c.w.Pieces["P18-1"].State)
}

// A kit that gave its recorder away lends nothing: one without a recorder counts as missing.
func TestAKitWithoutARecorderIsMissing(t *testing.T) {
	c, a, b := twoKits(t)
	c.do(c.actor("boss"), Compose{Kit: b.ID, Pieces: []string{"P18-1"}})
	require.Equal(t, []string{"P18-2"}, a.Pieces)
	require.Equal(t, Missing, KitState(a, c.w.Pieces))
	require.Equal(t, Registered, KitState(b, c.w.Pieces))
	c.refused("no_pieces", c.actor("ada"), ReleaseKit{Kit: a.ID})
	c.do(c.actor("boss"), Compose{Kit: b.ID, Pieces: []string{"P19-1"}})
	c.do(c.actor("boss"), Compose{Kit: a.ID, Pieces: []string{"P18-1", "P18-2"}})
	require.Equal(t, Registered, KitState(a, c.w.Pieces))
}

func TestCompositionsThatMakeNoKit(t *testing.T) {
	c, a, b := twoKits(t)
	boss := c.actor("boss")
	for _, pieces := range [][]string{nil, {"P18-2"}, {"P18-1", "P19-1"}, {"P18-1", "P18-1"},
		{"P18-1", "P18-2", "P19-2"}} {
		c.refused("pieces", boss, Compose{Kit: a.ID, Pieces: pieces})
	}
	c.refused("unknown", boss, Compose{Kit: a.ID, Pieces: []string{"P99-1"}})
	c.released(a.ID)
	c.do(c.actor("dan"), HandOut{Kit: a.ID, Wearer: "w", Days: 3})
	c.refused("out", boss, Compose{Kit: a.ID, Pieces: []string{"P18-1"}})
	c.refused("not_here", boss, Compose{Kit: b.ID, Pieces: []string{"P19-1", "P18-2"}})
}

// While the wearer's recording is still wanted, the recorder stays in the kit that says so;
// its phone may go. One that is gone for good can be replaced.
func TestARecorderStaysWithItsRecording(t *testing.T) {
	c, a, b := twoKits(t)
	boss := c.actor("boss")
	c.released(a.ID)
	c.do(c.actor("dan"), HandOut{Kit: a.ID, Wearer: "w", Days: 3})
	c.do(c.actor("dan"), TakeBack{Kit: a.ID, Return: Return{Skin: "no", Fault: "no", Missing: "no"}})
	require.False(t, a.Recording.Safe())
	c.refused("recording_first", boss, Compose{Kit: b.ID, Pieces: []string{"P18-1"}})
	c.refused("recording_first", boss, Compose{Kit: a.ID, Pieces: []string{"P19-1"}})
	c.do(boss, Compose{Kit: b.ID, Pieces: []string{"P19-1", "P18-2"}})
	c.do(boss, SetRecording{Kit: a.ID, Status: RecordingArrived})
	c.do(boss, Compose{Kit: b.ID, Pieces: []string{"P18-1", "P18-2"}})
	require.Empty(t, a.Pieces)
	require.Equal(t, Missing, KitState(a, c.w.Pieces))
}

// Precautions told at the return go with a piece that was not reprocessed since, through every
// kit and through none; one that was released under them is done with them.
func TestPrecautionsGoWithThePiece(t *testing.T) {
	c, a, b := twoKits(t)
	boss := c.actor("boss")
	c.released(a.ID)
	c.do(c.actor("dan"), HandOut{Kit: a.ID, Wearer: "w", Days: 3})
	c.do(c.actor("dan"), TakeBack{Kit: a.ID, Return: Return{Skin: "no", Fault: "no", Missing: "no",
		Flags: []string{"respiratory"}}})
	require.Equal(t, []string{"respiratory"}, a.Flags)
	c.do(boss, Compose{Kit: a.ID, Pieces: []string{"P18-1"}})
	require.Equal(t, []string{"respiratory"}, c.w.Pieces["P18-2"].Flags, "in no kit")
	c.do(boss, Compose{Kit: b.ID, Pieces: []string{"P19-1", "P18-2"}})
	require.Equal(t, []string{"respiratory"}, b.Flags)
	require.Empty(t, c.w.Pieces["P18-2"].Flags)
	c.do(boss, Compose{Kit: a.ID, Pieces: []string{"P18-1", "P19-2"}})
	require.Equal(t, []string{"respiratory"}, a.Flags, "its own precautions stay")
}

func TestReleasedPiecesTakeNoPrecautionsAlong(t *testing.T) {
	c, a, b := twoKits(t)
	c.released(a.ID)
	a.Flags = []string{"respiratory"} // of the return before this release
	c.do(c.actor("boss"), Compose{Kit: b.ID, Pieces: []string{"P19-1", "P18-2"}})
	require.Empty(t, b.Flags)
}
