package reprocess

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Only what may be handed out goes on a shelf by Shelve, asked at the moment itself; Move takes
// any kit, for what lies where is the physical truth (P4). Source: own rule, common practice.
func TestOnlyReleasedKitsAreShelved(t *testing.T) {
	c := readyToRelease(t)
	dan := c.actor("dan")
	c.refused("awaiting_release", dan, Shelve{Kit: "K18", Place: "shelf A"})
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.refused("empty", dan, Shelve{Kit: "K18", Place: " "})
	c.refused("text", dan, Shelve{Kit: "K18", Place: strings.Repeat("a", 41)})
	e := c.do(dan, Shelve{Kit: "K18", Place: "shelf A"})
	require.Equal(t, ActMove, e.Act)
	k := c.w.Kits["K18"]
	require.Equal(t, "shelf A", k.Place)
	require.Equal(t, c.now.UTC, k.PlaceAt)
	require.True(t, CanHandOut(c.w, k, c.now).Released, "moving breaks no release")

	k.Release.Until = c.now.UTC + 1
	c.do(dan, Shelve{Kit: "K18", Place: "shelf B"})
	c.wait(time.Millisecond)
	p := c.refused("lapsed", dan, Shelve{Kit: "K18", Place: "shelf C"})
	require.Contains(t, p.Text, "does not go there")
	require.Equal(t, "shelf B", k.Place, "a refusal moves nothing")
	k.Release.Until = 0

	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 3})
	c.refused("issued", dan, Shelve{Kit: "K18", Place: "shelf A"})
	c.do(dan, Move{Kit: "K18", Place: "post"})
}

// A stopped lot, a hold and a check that is over keep a kit off the shelf like off the counter.
func TestWhatIsNotToGoOutIsNotShelved(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.w.Lots[c.w.Kits["K18"].Release.Lots[0]].Stopped = &Stop{Reason: "smells odd"}
	c.refused("lot_stopped", c.actor("dan"), Shelve{Kit: "K18", Place: "shelf A"})
	c.do(c.actor("ada"), PutOnHold{Kit: "K18", Piece: "P18-1", Reason: "cracked"})
	p := c.refused("on_hold", c.actor("dan"), Shelve{Kit: "K18", Place: "shelf A"})
	require.Equal(t, "Ask infection control or a supervisor.", p.Fix)
	c.refused("unknown", c.actor("dan"), Shelve{Kit: "K99", Place: "shelf A"})
}
