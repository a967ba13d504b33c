package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWantBoundaries(t *testing.T) {
	c := newClinic(t)
	dan, today := c.actor("dan"), c.now.Today()
	c.refused("role", c.actor("ina"), SetWant{Day: today, Model: "M10", Count: 1})
	for _, model := range []string{"", "M99", "M11"} { // M11 is a phone
		c.refused("model", dan, SetWant{Day: today, Model: model, Count: 1})
	}
	for _, day := range []Date{"", "Thu", today.AddDays(-1), today.AddDays(61)} {
		c.refused("date", dan, SetWant{Day: day, Model: "M10", Count: 1})
	}
	for _, n := range []int{-1, 501} {
		c.refused("count", dan, SetWant{Day: today, Model: "M10", Count: n})
	}
	c.refused("already_done", dan, SetWant{Day: today, Model: "M10"})
	for _, day := range []Date{today, today.AddDays(60)} {
		c.do(dan, SetWant{Day: day, Model: "M10", Count: 500})
	}
	c.refused("already_done", dan, SetWant{Day: today, Model: "M10", Count: 500})
	c.do(dan, SetWant{Day: today, Model: "M10"})
	require.Zero(t, c.w.Wants[WantID(today, "M10")].Count)
	require.Empty(t, OutlookOn(c.w, today, c.now), "nothing wanted is nothing to say")
}

// outlookOf is the only line of a day.
func outlookOf(t *testing.T, c *clinic, day Date) Outlook {
	all := OutlookOn(c.w, day, c.now)
	require.Len(t, all, 1)
	return all[0]
}

// One kit, its whole way: at the bench, ready, kept, out, due back.
func TestWhatADayAsksAgainstWhatThereIs(t *testing.T) {
	c := readyToRelease(t)
	dan, today := c.actor("dan"), c.now.Today()
	tomorrow := today.AddDays(1)
	c.do(dan, SetWant{Day: tomorrow, Model: "M10", Count: 2})
	o := outlookOf(t, c, tomorrow)
	require.Equal(t, Outlook{Day: tomorrow, Model: "M10", Want: 2, Bench: 1}, o)
	require.Equal(t, 2, o.Short())
	require.Equal(t, 1, o.ShortAtBest())

	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	k := c.w.Kits["K18"]
	require.Equal(t, 1, outlookOf(t, c, tomorrow).Ready)
	require.Equal(t, 1, outlookOf(t, c, tomorrow).Short())
	k.Release.CellUntil = today
	require.Zero(t, outlookOf(t, c, tomorrow).Ready, "not good on the day")
	k.Release.CellUntil = tomorrow
	require.Equal(t, 1, outlookOf(t, c, tomorrow).Ready, "good on the day itself")

	k.Release.CellUntil = ""
	c.do(dan, KeepKit{Kit: "K18", Token: "t", Day: tomorrow})
	require.Equal(t, 1, outlookOf(t, c, tomorrow).Ready, "kept for that day")
	c.do(dan, EndKeep{Kit: "K18"})
	c.do(dan, KeepKit{Kit: "K18", Token: "t", Day: tomorrow.AddDays(1)})
	require.Zero(t, outlookOf(t, c, tomorrow).Ready, "kept for a later day")
	c.do(dan, EndKeep{Kit: "K18"})

	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 1})
	require.Zero(t, outlookOf(t, c, tomorrow).DueBack, "back on the day is too late for it")
	c.do(dan, SetWant{Day: tomorrow.AddDays(1), Model: "M10", Count: 1})
	after := outlookOf(t, c, tomorrow.AddDays(1))
	require.Equal(t, 1, after.DueBack)
	require.Equal(t, 2, after.Before)
	c.w.Loans[k.Loan].Due = today.AddDays(-1)
	require.Zero(t, outlookOf(t, c, tomorrow.AddDays(1)).DueBack, "overdue is not counted on")
}

// What went out today is no longer wanted of today, and earlier days take before later ones.
func TestEarlierDaysTakeFirst(t *testing.T) {
	c := released(t)
	dan, today := c.actor("dan"), c.now.Today()
	c.do(dan, SetWant{Day: today, Model: "M10", Count: 1})
	c.do(dan, SetWant{Day: today.AddDays(1), Model: "M10", Count: 1})
	require.Zero(t, outlookOf(t, c, today).Short())
	require.Equal(t, 1, outlookOf(t, c, today.AddDays(1)).Short(), "today takes the only one")
	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 7})
	o := outlookOf(t, c, today)
	require.Equal(t, 1, o.Given)
	require.Zero(t, o.Short())
	o = outlookOf(t, c, today.AddDays(1))
	require.Zero(t, o.Before)
	require.Equal(t, 1, o.Short())
}

func TestShortage(t *testing.T) {
	for _, x := range []struct {
		o           Outlook
		short, best int
	}{
		{Outlook{Want: 4, Ready: 4}, 0, 0},
		{Outlook{Want: 4, Ready: 3}, 1, 1},
		{Outlook{Want: 4, Ready: 9, Before: 6}, 1, 1},
		{Outlook{Want: 4, Ready: 2, Before: 3}, 4, 4},
		{Outlook{Want: 4, Ready: 2, Before: 3, Bench: 3, DueBack: 1}, 4, 1},
		{Outlook{Want: 4, Given: 4}, 0, 0},
		{Outlook{Want: 4, Given: 5, Ready: 1}, 0, 0},
	} {
		require.Equal(t, x.short, x.o.Short(), "%+v", x.o)
		require.Equal(t, x.best, x.o.ShortAtBest(), "%+v", x.o)
	}
}
