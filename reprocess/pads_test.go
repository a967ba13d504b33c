package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// electrodes enters a lot of electrodes and gives its id.
func (c *clinic) electrodes(number string) string {
	return c.do(c.actor("ada"), SetLot{Lot{Kind: LotElectrodes, Name: "Pads", Number: number}}).
		Events[0].Event.(LotSet).ID
}

// The lot of electrodes goes along with a kit to a ward and on to whoever wears it there, so that
// a stopped lot reaches the kit whoever has it. Source: own rule; the lot is a fact like any other.
func TestElectrodesOnAWard(t *testing.T) {
	c := readyKit(t)
	dan := c.actor("dan")
	c.do(c.actor("boss"), SetCounter{Counter{Wards: []Ward{{Name: "Ward 4"}}}})
	first := c.electrodes("A1")
	c.refused("unknown", dan, HandOut{Kit: "K18", Ward: "Ward 4", Days: 10, Pads: "T0"})
	c.do(dan, HandOut{Kit: "K18", Ward: "Ward 4", Days: 10, Pads: first})
	require.Equal(t, []string{"17 out"}, c.reach(first))
	c.refused("not_electrodes", dan, WearAtWard{Kit: "K18", Wearer: "w", Pads: "T17"})
	c.do(dan, WearAtWard{Kit: "K18", Wearer: "w"})
	require.Equal(t, first, c.loan().Pads, "what the ward got, when nothing else is told")
	require.Equal(t, []string{"17 out"}, c.reach(first))
	c.do(dan, BackOnWard{Kit: "K18"})
	c.do(dan, TakeBack{Kit: "K18", Return: Return{Worn: "1"}})
	require.Empty(t, c.reach(first))

	c = onWard(t)
	second := c.electrodes("A2")
	c.do(dan, WearAtWard{Kit: "K18", Wearer: "w", Pads: second})
	require.Equal(t, second, c.loan().Pads)
	c.do(c.actor("ada"), StopLot{Lot: second, Reason: "dry"})
	c.do(dan, BackOnWard{Kit: "K18"})
	c.refused("worn_before", dan, WearAtWard{Kit: "K18", Wearer: "v", Pads: second})
}

// With a swap it is what goes along with the other kit; the old loan keeps what it had.
func TestElectrodesOfASwap(t *testing.T) {
	c := twoReady(t)
	lot := c.electrodes("A3")
	s := swap()
	s.Checks = AllDone(c.w, c.w.Kits["K19"])
	s.Pads = "T0"
	p, q := c.halves(s)
	require.Equal(t, "unknown", p.Rule)
	require.Equal(t, "other_half", q.Rule, "neither stands")
	s.Pads = lot
	p, q = c.halves(s)
	require.Nil(t, p, "%v", p)
	require.Nil(t, q, "%v", q)
	require.Equal(t, lot, c.w.Loans[c.w.Kits["K19"].Loan].Pads)
	require.Empty(t, c.w.Loans[c.w.Kits["K18"].Loan].Pads)
	require.Equal(t, []string{"19 out"}, c.reach(lot))
}
