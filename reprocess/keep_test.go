package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// released is the clinic with kit 18 released, at noon of the first day.
func released(t *testing.T) *clinic {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	return c
}

// A keep lapses by itself at the hour of the settings, to the millisecond, without an entry.
func TestAKeepLapsesByItself(t *testing.T) {
	c := released(t)
	dan, day := c.actor("dan"), c.now.Today().AddDays(1)
	c.do(dan, KeepKit{Kit: "K18", Token: "t1", Day: day})
	k := c.w.Kits["K18"]
	require.Equal(t, AtHour(day, "18:00", nil), k.Keep.Until)
	c.refused("kept", dan, KeepKit{Kit: "K18", Token: "t2", Day: day})
	at := func(i Instant) Now { n := c.now; n.UTC = i; return n }
	require.NotNil(t, k.KeptNow(at(k.Keep.Until-1)))
	require.Nil(t, k.KeptNow(at(k.Keep.Until)))
	entries := c.seq
	c.now.UTC = k.Keep.Until
	require.True(t, CanHandOut(c.w, k, c.now).Released)
	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 3})
	require.Equal(t, entries+1, c.seq, "the lapse was no entry")
	require.Nil(t, k.Keep)
	require.Empty(t, c.w.Loans[k.Loan].Anyway)
}

// Handed out to another appointment it is asked again; with a reason, which stands in the
// loan, it may be given anyway; to its own appointment it is just handed out.
func TestAKeptKitIsAskedForAgain(t *testing.T) {
	for name, h := range map[string]HandOut{
		"other":  {Kit: "K18", Wearer: "w", Days: 3},
		"wrong":  {Kit: "K18", Wearer: "w", Days: 3, Kept: "t2"},
		"blank":  {Kit: "K18", Wearer: "w", Days: 3, Anyway: "  "},
		"reason": {Kit: "K18", Wearer: "w", Days: 3, Anyway: "the appointment is off"},
		"own":    {Kit: "K18", Wearer: "w", Days: 3, Kept: "t1"},
		"both":   {Kit: "K18", Wearer: "w", Days: 3, Kept: "t1", Anyway: "by mistake"},
	} {
		c := released(t)
		dan := c.actor("dan")
		c.do(dan, KeepKit{Kit: "K18", Token: "t1", Day: c.now.Today()})
		switch name {
		case "reason":
			c.do(dan, h)
			require.Equal(t, h.Anyway, c.w.Loans[c.w.Kits["K18"].Loan].Anyway)
		case "own", "both":
			c.do(dan, h)
			require.Empty(t, c.w.Loans[c.w.Kits["K18"].Loan].Anyway, name)
		default:
			p := c.refused("kept", dan, h)
			require.Equal(t, Conflict, p.Code)
			require.NotNil(t, c.w.Kits["K18"].Keep)
		}
	}
}

func TestKeepBoundaries(t *testing.T) {
	c := released(t)
	dan, today := c.actor("dan"), c.now.Today()
	k := c.w.Kits["K18"]
	k.Release.Until, k.Release.CellUntil = 0, ""
	c.refused("reference", dan, KeepKit{Kit: "K18", Day: today})
	c.refused("role", c.actor("ina"), KeepKit{Kit: "K18", Token: "t", Day: today})
	for _, day := range []Date{today.AddDays(-1), today.AddDays(31), "", "tomorrow"} {
		c.refused("date", dan, KeepKit{Kit: "K18", Token: "t", Day: day})
	}
	for _, day := range []Date{today, today.AddDays(30)} {
		c.do(dan, KeepKit{Kit: "K18", Token: "t", Day: day})
		c.do(dan, EndKeep{Kit: "K18", Reason: "moved"})
		require.Nil(t, k.Keep)
	}
	c.refused("not_kept", dan, EndKeep{Kit: "K18"})
	// Good until the day itself is enough; a day less is not.
	k.Release.CellUntil = today.AddDays(2)
	c.refused("release_ends", dan, KeepKit{Kit: "K18", Token: "t", Day: today.AddDays(3)})
	c.do(dan, KeepKit{Kit: "K18", Token: "t", Day: today.AddDays(2)})
	c.do(dan, EndKeep{Kit: "K18"})
	k.Release.Until = AtHour(today.AddDays(1), "09:00", nil)
	c.refused("release_ends", dan, KeepKit{Kit: "K18", Token: "t", Day: today.AddDays(2)})
	// From the hour on, today is past.
	c.now.UTC = AtHour(today, "18:00", nil) - 1
	c.do(dan, KeepKit{Kit: "K18", Token: "t", Day: today})
	c.do(dan, EndKeep{Kit: "K18"})
	c.now.UTC++
	c.refused("keep_past", dan, KeepKit{Kit: "K18", Token: "t", Day: today})
	c.do(c.actor("dan"), BreakRelease{Kit: "K18", Why: "wet"})
	c.refused("not_released", dan, KeepKit{Kit: "K18", Token: "t", Day: today.AddDays(1)})
}

// The hour is the clinic's, on both sides of the change of clocks (IANA time zones,
// Europe/Berlin: 25 October 2026, 3:00 summer time is 2:00 winter time).
func TestTheHourIsTheClinics(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	require.Equal(t, "2026-10-24T16:00:00.000Z", AtHour("2026-10-24", "18:00", berlin).String())
	require.Equal(t, "2026-10-25T17:00:00.000Z", AtHour("2026-10-25", "18:00", berlin).String())
	require.Zero(t, AtHour("2026-10-25", "6 pm", berlin))
	require.Zero(t, AtHour("", "18:00", nil))
}
