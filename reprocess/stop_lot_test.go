package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A lot is stopped at once and its reason said afterwards, once; in between it holds as any stop
// does. Source: practice rule P12, own rule.
func TestALotIsStoppedBeforeItsReasonIsSaid(t *testing.T) {
	c := readyToRelease(t)
	ada, dan := c.actor("ada"), c.actor("dan")
	c.do(ada, ReleaseKit{Kit: "K18"})
	lot := c.w.Kits["K18"].Release.Lots[0]
	c.do(dan, StopLot{Lot: lot, Reason: StopReasonFollows})
	require.Equal(t, "lot_stopped", CanHandOut(c.w, c.w.Kits["K18"], c.now).Rule)
	c.refused("already_done", dan, StopLot{Lot: lot, Reason: StopReasonFollows})
	c.refused("empty", dan, StopLot{Lot: lot, Reason: " "})
	stop := *c.w.Lots[lot].Stopped
	c.wait(time.Hour)
	c.do(ada, StopLot{Lot: lot, Reason: "smells odd"})
	require.Equal(t, Stop{Seq: stop.Seq, At: stop.At, By: "dan", Reason: "smells odd"},
		*c.w.Lots[lot].Stopped, "who stopped it, and when, stays")
	c.refused("already_done", dan, StopLot{Lot: lot, Reason: "another"})
	c.do(c.actor("boss"), LiftLot{Lot: lot, Reason: "tested"})
	c.do(dan, StopLot{Lot: lot, Reason: StopReasonFollows})
}
