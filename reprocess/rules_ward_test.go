package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// onWard is a clinic whose kit 17 was handed to ward 4 for ten days.
func onWard(t testT) *clinic {
	c := readyKit(t)
	c.do(c.actor("boss"), SetCounter{Counter{Wards: []Ward{{Name: "Ward 4", Ring: "ext. 2140"}}}})
	c.do(c.actor("dan"), HandOut{Kit: "K18", Ward: "ward 4", Days: 10, Flags: []string{"respiratory"}})
	return c
}

func (c *clinic) loan() *Loan { return c.w.Loans[c.w.Kits["K18"].Loan] }

func TestAWardKeepsAKit(t *testing.T) {
	c := readyKit(t)
	dan := c.actor("dan")
	c.refused("ward", dan, HandOut{Kit: "K18", Ward: "Ward 4", Days: 10})
	c = onWard(t)
	require.True(t, c.loan().ByWard())
	require.Equal(t, "Ward 4", c.loan().Ward, "as it stands in the list")
	require.Equal(t, "Ward 4", c.w.Kits["K18"].Place)
	require.Empty(t, c.loan().Wearer)
	require.Equal(t, Issued, KitState(c.w.Kits["K18"], c.w.Pieces))
	c = readyKit(t)
	c.do(c.actor("boss"), SetCounter{Counter{Wards: []Ward{{Name: "Ward 4"}}}})
	c.refused("wearer", dan, HandOut{Kit: "K18", Ward: "Ward 4", Wearer: "w", Days: 10})
}

// One wearer there: a loan of their own on the ward's release, ended on the ward, and the ward
// still keeps the kit.
func TestAWearerOnAWard(t *testing.T) {
	c := onWard(t)
	dan := c.actor("dan")
	ward := c.loan()
	c.refused("not_worn", dan, BackOnWard{Kit: "K18"})
	c.refused("wearer", dan, WearAtWard{Kit: "K18"})
	c.refused("time", dan, WearAtWard{Kit: "K18", Wearer: "w1", Out: c.now.UTC + 1})
	c.refused("time", dan, WearAtWard{Kit: "K18", Wearer: "w1", Out: ward.Out - 1})
	c.refused("flags", dan, WearAtWard{Kit: "K18", Wearer: "w1", Flags: []string{"plague"}})
	c.do(dan, WearAtWard{Kit: "K18", Wearer: "w1", Out: ward.Out, Flags: []string{"gastro"}})
	l := c.loan()
	require.True(t, l.OnWard())
	require.Equal(t, ward.ID, l.Under)
	require.Equal(t, ward.Release, l.Release)
	require.Equal(t, ward.Due, l.Due)
	require.ElementsMatch(t, []string{"respiratory", "gastro"}, l.Flags)
	require.Equal(t, 1, c.w.Loans[ward.ID].Worn)
	c.refused("worn_now", dan, WearAtWard{Kit: "K18", Wearer: "w2"})
	c.refused("worn_on_ward", dan, UndoHandOut{Kit: "K18", Reason: "never left"})
	c.do(dan, BackOnWard{Kit: "K18", Flags: []string{"tb"}})
	require.False(t, c.w.Loans[l.ID].Open())
	require.Equal(t, ward.ID, c.w.Kits["K18"].Loan)
	require.Equal(t, "Ward 4", c.w.Kits["K18"].Place)
	require.Equal(t, Issued, KitState(c.w.Kits["K18"], c.w.Pieces))
	c.refused("worn_on_ward", dan, UndoHandOut{Kit: "K18", Reason: "never left"})
	c.do(dan, TakeBack{Kit: "K18", Return: Return{Worn: "1"}})
	require.ElementsMatch(t, []string{"respiratory", "gastro", "tb"}, c.w.Kits["K18"].Flags,
		"what any wearer there was said to have comes back with the kit")
	require.False(t, c.w.Loans[ward.ID].Unaccounted())
	require.Empty(t, c.w.Kits["K18"].Waiting)
	c.refused("not_on_ward", dan, WearAtWard{Kit: "K18", Wearer: "w2"})
}

// A second wearer without reprocessing in between is refused as a hand-out, and recorded after
// the fact as every hand-out without a release (practice rule P4: never hidden).
func TestASecondWearerOnAWard(t *testing.T) {
	c := onWard(t)
	dan := c.actor("dan")
	after := HandOutAfter{Kit: "K18", Wearer: "w2", Reason: "put on the next bed"}
	c.refused("first_wearer", dan, after)
	c.do(dan, WearAtWard{Kit: "K18", Wearer: "w1"})
	c.refused("already_out", dan, after)
	c.do(dan, BackOnWard{Kit: "K18"})
	p := c.refused("worn_before", dan, WearAtWard{Kit: "K18", Wearer: "w2"})
	require.Contains(t, p.Fix, "went out without a release")
	ward := c.loan()
	c.do(dan, after)
	l := c.loan()
	require.True(t, l.After)
	require.Zero(t, l.Release)
	require.Equal(t, ward.ID, l.Under)
	require.Equal(t, []string{"respiratory"}, l.Flags)
	require.Equal(t, Recalled, KitState(c.w.Kits["K18"], c.w.Pieces))
	require.Equal(t, 2, c.w.Loans[ward.ID].Worn)
	c.refused("worn", dan, TakeBack{Kit: "K18", Return: Return{Worn: "1"}})
	c.do(dan, TakeBack{Kit: "K18", Return: Return{Worn: "2"}})
	require.False(t, c.w.Loans[l.ID].Open(), "the return ends the wearer's loan as well")
	require.False(t, c.w.Loans[ward.ID].Open())
	require.False(t, c.w.Loans[ward.ID].Unaccounted(), "both are recorded")
	require.Equal(t, Returned, KitState(c.w.Kits["K18"], c.w.Pieces))
}

// "Worn by how many since?" Each answer, with nobody recorded and with one.
func TestWornByHowManySince(t *testing.T) {
	for _, x := range []struct {
		worn                string
		recorded            bool
		kept                string
		unaccounted, shared bool
	}{
		{"0", false, "0", false, false},
		{"1", false, "1", true, false}, // one wearer on a release: who is not known
		{"2", false, "2", true, true},
		{"", false, NotAsked, true, true},
		{NotAsked, false, NotAsked, true, true},
		{WornUnknown, false, WornUnknown, true, true},
		{"1", true, "1", false, false},
		{"2", true, "2", true, true},
		{"99", true, "99", true, true},
		{WornUnknown, true, WornUnknown, true, true},
	} {
		c := onWard(t)
		if x.recorded {
			c.do(c.actor("dan"), WearAtWard{Kit: "K18", Wearer: "w1"})
		}
		ward := c.w.Kits["K18"].Loan
		if x.recorded {
			ward = c.loan().Under
		}
		c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Worn: x.worn}})
		l := c.w.Loans[ward]
		require.Equal(t, x.kept, l.Return.Worn, "%+v", x)
		require.Equal(t, x.unaccounted, l.Unaccounted(), "%+v", x)
		require.Equal(t, x.shared, l.SharedUnreleased(), "%+v", x)
		waits := len(c.w.Kits["K18"].Waiting) == 1 &&
			c.w.Kits["K18"].Waiting[0].Reason == "infection_control"
		require.Equal(t, x.shared, waits, "%+v", x)
	}
	c := onWard(t)
	for _, bad := range []string{"-1", "100", "two", "1.0", "01", "+1"} {
		c.refused("worn", c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Worn: bad}})
	}
	c.do(c.actor("dan"), WearAtWard{Kit: "K18", Wearer: "w1"})
	c.refused("worn", c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Worn: "0"}})
}

// What the intake did not ask is told afterwards; a number that was told stays.
func TestWornToldAfterwards(t *testing.T) {
	c := onWard(t)
	dan := c.actor("dan")
	c.refused("already_done", dan, TellWorn{Kit: "K18", Worn: "1"})
	c.do(dan, WearAtWard{Kit: "K18", Wearer: "w1"})
	c.do(dan, TakeBack{Kit: "K18"})
	require.NotNil(t, WornOpen(c.w, c.w.Kits["K18"]))
	c.refused("worn", dan, TellWorn{Kit: "K18"})
	c.refused("worn", dan, TellWorn{Kit: "K18", Worn: "0"})
	c.do(dan, TellWorn{Kit: "K18", Worn: WornUnknown})
	require.True(t, c.loan().SharedUnreleased())
	c.do(dan, TellWorn{Kit: "K18", Worn: "1"})
	require.False(t, c.loan().Unaccounted())
	require.Nil(t, WornOpen(c.w, c.w.Kits["K18"]))
	c.refused("already_done", dan, TellWorn{Kit: "K18", Worn: "2"})
}

// Of a kit that no ward keeps the question has no place; an answer is not kept.
func TestWornIsOfWardsAlone(t *testing.T) {
	c := readyKit(t)
	c.do(c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 3})
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Worn: "5"}})
	require.Empty(t, c.loan().Return.Worn)
	require.False(t, c.loan().SharedUnreleased())
}

// An extension while somebody wears it there moves the ward's day as well; the ward's own loan
// can be undone as long as nobody wore it.
func TestExtendAndUndoOnAWard(t *testing.T) {
	c := onWard(t)
	dan := c.actor("dan")
	c.do(dan, WearAtWard{Kit: "K18", Wearer: "w1"})
	c.wait(time.Hour)
	c.do(dan, Extend{Kit: "K18", Days: 20})
	l := c.loan()
	require.Equal(t, Date("2026-12-14"), l.Due)
	require.Equal(t, l.Due, c.w.Loans[l.Under].Due)
	c = onWard(t)
	c.do(dan, UndoHandOut{Kit: "K18", Reason: "never left"})
	require.True(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
}
