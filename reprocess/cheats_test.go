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
