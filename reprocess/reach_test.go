package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func (c *clinic) reach(lots ...string) []string {
	var all []string
	for _, r := range Reach(c.w, lots...) {
		all = append(all, r.Kit.Number+" "+string(r.Place))
	}
	return all
}

// A kit is followed through its cycle, the shelf, the wearer and back: it is reached by the lot
// of its disinfectant and by that of its cells, and by nothing else.
func TestReachFollowsAKit(t *testing.T) {
	c := newClinic(t)
	ada, dan := c.actor("ada"), c.actor("dan")
	c.do(ada, SetLot{Lot{Kind: LotDisinfectant, Product: "D14", Number: "L7", Expiry: "2030-01-31"}})
	require.Empty(t, c.reach("T15"))
	require.Empty(t, c.reach())
	c.goodSteps(ada)
	for _, lot := range []string{"T15", "T17"} {
		require.Equal(t, []string{"17 work"}, c.reach(lot), lot)
	}
	require.Empty(t, c.reach("T19"))
	c.do(ada, ReleaseKit{Kit: "K18"})
	require.Equal(t, []string{"17 shelf"}, c.reach("T15"))
	require.Equal(t, []string{"17 shelf"}, c.reach("T17"))
	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 7})
	r := Reach(c.w, "T17", "T15")
	require.Len(t, r, 1)
	require.Equal(t, ReachedOut, r[0].Place)
	require.Equal(t, []string{"T17", "T15"}, r[0].Lots)
	require.Equal(t, c.now.Today().AddDays(7), r[0].Due)
	require.Empty(t, c.reach("T19"))
	c.do(dan, TakeBack{Kit: "K18"})
	require.Empty(t, c.reach("T15"), "it is cleaned and disinfected anew before anybody gets it")
}

// What was taken back by "tapped by mistake" does not reach; a cell fitted at the counter does,
// and a batch stands for its stock.
func TestReachOfSteps(t *testing.T) {
	c := newClinic(t)
	c.toWet()
	c.wetNow(c.actor("ada"))
	require.Equal(t, []string{"17 work"}, c.reach("T15"))
	cycles := c.w.Cycles
	for _, cy := range cycles {
		for i := range cy.Records {
			cy.Records[i].Undone = cy.Records[i].Lot == "T15"
		}
	}
	require.Empty(t, c.reach("T15"))
	c.w.Lots["T99"] = &Lot{ID: "T99", From: "T15"}
	for _, cy := range cycles {
		for i := range cy.Records {
			if cy.Records[i].Lot == "T15" {
				cy.Records[i].Lot, cy.Records[i].Undone = "T99", false
			}
		}
	}
	require.Equal(t, []string{"17 work"}, c.reach("T15"))
	require.Equal(t, []string{"T15", "T99"}, c.w.WithBatches("T15"))
	c.w.Loans["L1"] = &Loan{ID: "L1", Cell: "T17"}
	c.w.Kits["K18"].Loan = "L1"
	require.Equal(t, []string{"17 out"}, c.reach("T17"))
	c.w.Kits["K18"].Retired = true
	require.Empty(t, c.reach("T17", "T15"))
}
