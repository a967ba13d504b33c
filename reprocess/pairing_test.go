package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// pairWanted lets the recorder's procedure ask for the pair.
func (c *clinic) pairWanted() {
	c.t.(*testing.T).Helper()
	p := testProcedure("M10", Recorder)
	p.PairScan = true
	c.do(c.actor("boss"), ApproveProcedure{p})
}

// pack is the packing of kit 17.
func pack() RecordStep {
	return RecordStep{Kit: "K18", Step: StepPacking,
		Answers: answers("complete", "yes", "sealed", "yes", "label", "CODE17R")}
}

// Both labels are read, the recorder's first; everything else is refused in a sentence that
// names what is wrong (practice: pairing is checked by scanning both, each with its own
// finished cycle).
func TestRecorderAndPhoneAreScannedAsAPair(t *testing.T) {
	c := newClinic(t)
	c.pairWanted()
	ada := c.actor("ada")
	pair := Pair{Kit: "K18", Recorder: "CODE17R", Phone: "CODE17P"}
	p := c.refused("no_cycle", ada, pair)
	require.Contains(t, p.Text, "The recorder has not been reprocessed since it came back")
	c.beforePacking()
	require.True(t, c.w.WantsPair(c.w.Kits["K18"]))
	require.False(t, c.w.Paired(c.w.Kits["K18"]))
	p = c.refused("pair", ada, pack())
	require.Equal(t, "Recorder and phone of kit 17 were not scanned as a pair.", p.Text)

	c.refused("label", ada, Pair{Kit: "K18", Phone: "CODE17P"})
	c.refused("label", ada, Pair{Kit: "K18", Recorder: "CODE17R"})
	c.refused("label_unknown", ada, Pair{Kit: "K18", Recorder: "CODE17R", Phone: "NOTOURS"})
	p = c.refused("other_piece", ada, Pair{Kit: "K18", Recorder: "CODE17R", Phone: "CODE17R"})
	require.Equal(t, "This is the label of the recorder.", p.Text)
	require.Equal(t, "Scan the label of the phone.", p.Fix)
	c.refused("other_piece", ada, Pair{Kit: "K18", Recorder: "CODE17P", Phone: "CODE17R"})
	c.do(c.actor("boss"), RegisterKit{Number: "18", Place: "shelf A",
		Recorder: NewPiece{Model: "M10", Serial: "R-0018", Code: "CODE18R"},
		Phone:    &NewPiece{Model: "M11", Serial: "P-0018", Code: "CODE18P"}})
	p = c.refused("other_label", ada, Pair{Kit: "K18", Recorder: "CODE17R", Phone: "CODE18P"})
	require.Contains(t, p.Text, "something else than kit 17")

	c.do(ada, pair)
	require.True(t, c.w.Paired(c.w.Kits["K18"]))
	c.do(ada, pack())
	c.do(ada, ReleaseKit{Kit: "K18"})
	c.refused("no_cycle", ada, pair)
}

// A cycle that is not finished is no pair, whichever of the two it is.
func TestAPairNeedsBothCyclesFinished(t *testing.T) {
	c := newClinic(t)
	c.pairWanted()
	c.beforePacking("P18-2")
	p := c.refused("pair_cycle", c.actor("ada"), Pair{Kit: "K18", Recorder: "CODE17R",
		Phone: "CODE17P"})
	require.Equal(t, "The phone has not finished its own cycle: battery is next.", p.Text)
	require.Nil(t, Pair{Kit: "K18", Recorder: "CODE17R"}.CheckFirst(c.w, c.now))
	require.NotNil(t, Pair{Kit: "K18", Recorder: "CODE17P"}.CheckFirst(c.w, c.now))
	c.do(c.actor("ada"), PutOnHold{Kit: "K18", Piece: "P18-1", Reason: "skin_broken"})
	c.refused("on_hold", c.actor("ada"), Pair{Kit: "K18", Recorder: "CODE17R", Phone: "CODE17P"})
}

// The next cycle needs its own scan, and so does another phone; the release asks too.
func TestAPairLastsForItsCycles(t *testing.T) {
	c := newClinic(t)
	c.pairWanted()
	ada := c.actor("ada")
	c.beforePacking()
	c.do(ada, Pair{Kit: "K18", Recorder: "CODE17R", Phone: "CODE17P"})
	c.do(ada, pack())
	k := c.w.Kits["K18"]
	before := *k.Pair
	c.w.changeKit("K18", func(k *Kit) { k.Pair = nil })
	p := c.refused("pair", ada, ReleaseKit{Kit: "K18"})
	require.Equal(t, "Scan the recorder's label, then the phone's.", p.Fix)
	c.do(ada, Pair{Kit: "K18", Recorder: "CODE17R", Phone: "CODE17P"})
	require.Equal(t, before.Cycles, c.w.Kits["K18"].Pair.Cycles)
	c.do(ada, ReleaseKit{Kit: "K18"})
	require.True(t, c.w.Paired(c.w.Kits["K18"]))
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	c.wait(time.Hour)
	c.beforePacking()
	require.False(t, c.w.Paired(c.w.Kits["K18"]), "another cycle")
	c.refused("pair", ada, pack())
}

// Without a phone, or without the procedure's word, nothing is asked.
func TestWhereNoPairIsWanted(t *testing.T) {
	c := newClinic(t)
	c.beforePacking()
	require.False(t, c.w.WantsPair(c.w.Kits["K18"]))
	c.do(c.actor("ada"), pack())
	c.do(c.actor("boss"), RegisterKit{Number: "19", Place: "shelf A",
		Recorder: NewPiece{Model: "M10", Serial: "R-0019", Code: "CODE19R"}})
	for id, k := range c.w.Kits {
		if k.Number == "19" {
			c.refused("no_phone", c.actor("ada"), Pair{Kit: id, Recorder: "CODE19R", Phone: "CODE17P"})
			require.False(t, c.w.WantsPair(k))
		}
	}
	require.False(t, c.w.Paired(&Kit{}))
	c.refused("role", c.actor("dan"), Pair{Kit: "K18", Recorder: "CODE17R", Phone: "CODE17P"})
}
