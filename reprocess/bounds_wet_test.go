package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The edges of contact time. Source: P10 of the practice notes ("walking away earns nothing");
// the figures are our own.

func at(ms int64) Mark { return Mark{At: dayOne + Instant(ms), Boot: "b1", Mono: ms} }

func wetted(container, product string, ms int64) Record {
	return Record{Kind: RecWetNow, Step: StepDisinfection, Mark: at(ms), Container: container,
		Lot: "T1", Product: product, NeededS: 60}
}

func looked(kind RecordKind, ms int64) Record {
	return Record{Kind: kind, Step: StepDisinfection, Mark: at(ms)}
}

func foldWet(records ...Record) Wet {
	var w Wet
	for _, r := range records {
		w = w.take(r)
	}
	return w
}

func TestLongEnoughToTheMillisecond(t *testing.T) {
	require.True(t, Interval{NeededS: 60, MS: 60000}.Conforms())
	require.False(t, Interval{NeededS: 60, MS: 59999}.Conforms())
	require.False(t, Interval{NeededS: 0, MS: 60000}.Conforms(), "an unknown time is never enough")
	require.False(t, Interval{NeededS: 60, MS: 60000, Paper: true}.Conforms())
	require.True(t, Interval{NeededS: 60, MS: 60000, Paper: true, Counts: true}.Conforms())
}

// Watched before paper, then the longer; of two alike the earlier.
func TestTheBestInterval(t *testing.T) {
	seen := func(ms int64, p string) Interval { return Interval{MS: ms, Product: p} }
	paper := func(ms int64, p string) Interval { return Interval{MS: ms, Product: p, Paper: true} }
	for _, x := range []struct {
		of   []Interval
		best string
	}{
		{[]Interval{seen(1, "a"), seen(2, "b")}, "b"},
		{[]Interval{seen(2, "a"), seen(1, "b")}, "a"},
		{[]Interval{seen(2, "a"), seen(2, "b")}, "a"},
		{[]Interval{paper(9, "a"), seen(1, "b")}, "b"},
		{[]Interval{seen(1, "a"), paper(9, "b")}, "a"},
		{[]Interval{paper(1, "a"), paper(9, "b")}, "b"},
		{[]Interval{paper(9, "a"), paper(1, "b")}, "a"},
		{[]Interval{paper(9, "a"), seen(1, "b"), seen(2, "c"), paper(10, "d")}, "c"},
	} {
		best, ok := Wet{Intervals: x.of}.Best()
		require.True(t, ok)
		require.Equal(t, x.best, best.Product, "%+v", x.of)
	}
	_, ok := Wet{}.Best()
	require.False(t, ok)
}

// Another container of the same product goes on with a running time; anything else begins anew.
func TestWhichWettingGoesOn(t *testing.T) {
	w := foldWet(wetted("B1", "D1", 0), wetted("B2", "D1", 30000))
	require.Len(t, w.Intervals, 1)
	require.Equal(t, []string{"B1", "B2"}, w.Intervals[0].Containers)
	require.EqualValues(t, 30000, w.Intervals[0].MS)

	w = foldWet(wetted("B1", "D1", 0), wetted("B1", "D1", 30000))
	require.Len(t, w.Intervals, 2, "the same container again may mean that it had dried")
	w = foldWet(wetted("B1", "D1", 0), wetted("B3", "D2", 30000))
	require.Len(t, w.Intervals, 2, "another product")
	w = foldWet(wetted("B1", "D1", 0), looked(RecNotWatched, 10000), wetted("B2", "D1", 30000))
	require.Len(t, w.Intervals, 2, "nobody watched in between")
}

// Only "dry" says when it dried; an end without a running time changes nothing.
func TestWhenItWasSeenDry(t *testing.T) {
	w := foldWet(wetted("B1", "D1", 0), looked(RecLooksWet, 20000), looked(RecSeenDry, 50000))
	require.EqualValues(t, 50000, w.Intervals[0].DryMS)
	require.EqualValues(t, 20000, w.Intervals[0].MS, "wet to the last look that saw it wet")
	require.False(t, w.Open)

	w = foldWet(wetted("B1", "D1", 0), looked(RecNotWatched, 50000))
	require.Zero(t, w.Intervals[0].DryMS)
	require.False(t, w.Open)

	w = foldWet(wetted("B1", "D1", 0), looked(RecSeenDry, 50000), looked(RecSeenDry, 70000),
		looked(RecLooksWet, 80000))
	require.EqualValues(t, 50000, w.Intervals[0].DryMS, "dry stays dry")
	require.Zero(t, w.Intervals[0].MS)
	require.Empty(t, foldWet(looked(RecSeenDry, 1)).Intervals)
}

// A minute more than needed, and a minute since the last look, to the millisecond.
func TestUnseenToTheMillisecond(t *testing.T) {
	w := foldWet(wetted("B1", "D1", 0)) // 60 s needed
	require.Zero(t, Unseen(w, at(120000)))
	require.Equal(t, 120, Unseen(w, at(120001)))
	w = foldWet(wetted("B1", "D1", 0), looked(RecLooksWet, 100000))
	require.Zero(t, Unseen(w, at(160000)), "looked at a minute ago")
	require.Equal(t, 60, Unseen(w, at(160001)))
	w.Open = false
	require.Zero(t, Unseen(w, at(900000)))
}

// Only a claim to have stayed wet is asked again; that it is dry is taken as it is.
func TestADryLookIsNotAskedAgain(t *testing.T) {
	for _, saw := range []RecordKind{RecSeenDry, RecNotWatched} {
		c := newClinic(t)
		c.wetNow(c.toWet())
		c.wait(5 * time.Minute)
		e := c.do(c.actor("ada"), Look{Kit: "K18", Pieces: []string{"P18-1"}, Saw: saw})
		require.Zero(t, e.Events[0].Event.(StepRecorded).Record.NotLookS)
	}
	c := newClinic(t)
	c.wetNow(c.toWet())
	c.wait(5 * time.Minute)
	c.refused("look_again", c.actor("ada"), Look{Kit: "K18", Pieces: []string{"P18-1"}, Saw: RecLooksWet})
	e := c.do(c.actor("ada"), Look{Kit: "K18", Pieces: []string{"P18-1"}, Saw: RecLooksWet, Confirmed: true})
	require.Equal(t, 300, e.Events[0].Event.(StepRecorded).Record.NotLookS)
	c.refused("look", c.actor("ada"), Look{Kit: "K18", Saw: RecAnswer})
}
