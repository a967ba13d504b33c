package reprocess

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// warned gives the rules of the warnings, with "!" before the grave ones, sorted.
func (c *clinic) warned() []string {
	var all []string
	for _, x := range SupplyWarnings(c.w, c.now) {
		mark := ""
		if x.Grave {
			mark = "!"
		}
		require.NotEmpty(c.t, x.Words)
		require.NotEmpty(c.t, x.Fix)
		require.NotEmpty(c.t, x.Ref.ID)
		all = append(all, mark+x.Rule)
	}
	slices.Sort(all)
	return all
}

// What is named, and from which day on: two days for an open container, thirty for what stands
// unopened (common practice of stock rooms). A last day is still usable.
func TestSupplyWarningsAtTheirDays(t *testing.T) {
	c := newClinic(t)
	today := c.now.Today()
	require.Empty(t, c.warned())
	tub, lot, box := c.w.Containers["B16"], c.w.Lots["T15"], c.w.Lots["T17"]
	open, days := tub.Opened, c.w.Products["D14"].OpenDays
	for _, x := range []struct {
		name string
		edit func()
		want []string
	}{
		{"three days left", func() { tub.Opened = today.AddDays(3 - days) }, nil},
		{"two days left", func() { tub.Opened = today.AddDays(2 - days) }, []string{"use_by_soon"}},
		{"last day", func() { tub.Opened = today.AddDays(-days) }, []string{"use_by_soon"}},
		{"a day over", func() { tub.Opened = today.AddDays(-1 - days) },
			[]string{"!no_container", "!no_container", "!use_by"}},
		{"nobody knows when", func() { tub.Opened = "" },
			[]string{"!no_container", "!no_container", "!open_date_unknown"}},
		{"closed", func() { tub.Closed = c.now.UTC }, []string{"!no_container", "!no_container"}},
		{"31 days of the lot", func() { lot.Expiry = today.AddDays(31) }, nil},
		{"30 days of the lot", func() { lot.Expiry = today.AddDays(30) }, []string{"expires_soon"}},
		{"expired", func() { lot.Expiry = today.AddDays(-1) },
			[]string{"!expired", "!no_container", "!no_container", "expired"}},
		{"used up", func() { lot.Expiry, lot.Ended = today.AddDays(30), c.now.UTC }, nil},
		{"nothing unopened", func() { lot.Expiry, lot.Count = today.AddDays(20), 1 }, nil},
		{"one unopened", func() { lot.Expiry, lot.Count = today.AddDays(20), 2 },
			[]string{"expires_soon"}},
		{"lot stopped", func() { lot.Stopped = &Stop{Reason: "r"} },
			[]string{"!lot_stopped", "!no_container", "!no_container"}},
		{"cells last the wear", func() { box.Expiry = today.AddDays(14) }, []string{"expires_soon"}},
		{"cells do not", func() { box.Expiry = today.AddDays(13) },
			[]string{"!no_cells", "expires_soon"}},
		{"no cells left", func() { box.Ended = c.now.UTC }, []string{"!no_cells"}},
	} {
		l, b, k := *lot, *box, *tub
		tub.Opened = open
		x.edit()
		require.Equal(t, x.want, c.warned(), x.name)
		*lot, *box, *tub = l, b, k
	}
}

// The number to be kept is compared with what is unopened; what nobody counted is said.
func TestTheLeastStock(t *testing.T) {
	c := newClinic(t)
	p, lot := c.w.Products["D14"], c.w.Lots["T15"]
	p.Least = 2
	require.Equal(t, []string{"not_counted"}, c.warned())
	lot.Count = 3 // one is open
	require.Empty(t, c.warned(), "two unopened are two")
	lot.Count = 2
	require.Equal(t, []string{"least"}, c.warned())
	lot.Count = 1
	require.Equal(t, []string{"!least"}, c.warned(), "none is left to open")
	lot.Count, lot.Ended = 9, c.now.UTC
	require.Equal(t, []string{"!least"}, c.warned(), "what is used up does not count")
	p.Retired = true
	require.Empty(t, c.warned())
}

func TestUsedUpAndBack(t *testing.T) {
	c := newClinic(t)
	ada, dan := c.actor("ada"), c.actor("dan")
	piece := c.w.Pieces["P18-1"]
	require.Nil(t, CellsFit(c.w, piece, "T17", c.now.Today()))
	c.refused("role", dan, EndLot{"T17"})
	c.refused("unknown", ada, EndLot{"T99"})
	c.refused("already_done", ada, ResumeLot{"T17"})
	c.do(ada, EndLot{"T17"})
	require.Equal(t, "used_up", CellsFit(c.w, piece, "T17", c.now.Today()).Rule)
	require.Nil(t, c.w.cellsGood(piece, "T17", c.now.Today()), "a cell that is in stays good")
	c.refused("already_done", ada, EndLot{"T17"})
	c.do(ada, SetLot{Lot{ID: "T17", Kind: LotCells, Name: "LR03", Expiry: "2030-01-31"}})
	require.NotZero(t, c.w.Lots["T17"].Ended, "a correction does not bring it back")
	c.do(ada, ResumeLot{"T17"})
	require.Nil(t, CellsFit(c.w, piece, "T17", c.now.Today()))

	c.do(ada, EndLot{"T15"})
	c.refused("used_up", ada, OpenContainer{Lot: "T15"})
	_, p := Suits(c.w, "B16", piece, c.w.Procedures["R12@1"], nil, c.now.Today())
	require.Nil(t, p, "the tub that is open stays usable")
	c.refused("already_done", ada, ReopenContainer{"B16"})
	c.do(ada, CloseContainer{Container: "B16", Why: "empty"})
	c.refused("role", dan, ReopenContainer{"B16"})
	c.refused("unknown", ada, ReopenContainer{"B99"})
	c.do(ada, ReopenContainer{"B16"})
	require.Zero(t, c.w.Containers["B16"].Closed)
	require.Empty(t, c.w.Containers["B16"].Why)
	c.refused("number", ada, SetLot{Lot{Kind: LotDisinfectant, Product: "D14", Number: "L9",
		Expiry: "2030-01-31", Count: -1}})
	c.refused("number", ada, SetLot{Lot{Kind: LotDisinfectant, Product: "D14", Number: "L9",
		Expiry: "2030-01-31", Count: 10001}})
	c.do(ada, SetLot{Lot{Kind: LotDisinfectant, Product: "D14", Number: "L9", Expiry: "2030-01-31",
		Count: 10000}})
}

// A box that ran empty after its last cell was fitted does not hold up the release.
func TestTheLastCellOfABoxIsReleased(t *testing.T) {
	c := newClinic(t)
	c.goodSteps(c.actor("ada"))
	c.do(c.actor("ada"), EndLot{"T17"})
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
}
