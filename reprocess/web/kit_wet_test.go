package web

import (
	"html"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// opened opens a container of the lot on a proven day and gives its id.
func (c *clinic) opened(lot string, day reprocess.Date) string {
	c.t.Helper()
	return c.must(reprocess.OpenContainer{Lot: lot, Opened: day, Proof: "written on the cap"}).
		Events[0].Event.(reprocess.ContainerOpened).ID
}

// First to expire, first out: common practice. Of three that suit the one opened earliest
// (same product, so the earliest last day) is the largest button; another that was scanned
// stays on top, and the page says which expires first.
func TestTheContainerThatExpiresFirstIsNamed(t *testing.T) {
	c := newClinic(t)
	oldest := c.opened(c.lot, "2026-11-10")
	middle := c.opened(c.lot, "2026-11-20")
	over := c.opened(c.lot, "2026-10-01") // its 28 days are over
	b := c.bench
	c.page(b)
	b.tap("Both: whole, nothing unusual")
	b.tap("Both: visibly clean")
	body := html.UnescapeString(b.body)
	first := strings.Index(body, "wet now, by container "+oldest)
	second := strings.Index(body, "wet now, by container "+middle)
	require.Positive(t, first)
	require.Greater(t, second, first, "the next to expire stands below")
	require.NotContains(t, body, "wet now, by container "+over)
	require.Contains(t, body, "Container "+over+": ", "why it does not suit")
	require.NotContains(t, body, "expires first", "the first is on top")
	require.Contains(t, body, "(BAC) claimed at 60 s; ")
	require.Contains(t, body, "(YEA) claimed at 60 s.")

	b.get("/kit/" + c.kit + "?container=" + c.tub)
	body = html.UnescapeString(b.body)
	require.Less(t, strings.Index(body, "wet now, by container "+c.tub),
		strings.Index(body, "wet now, by container "+oldest), "what was scanned is on top")
	require.Contains(t, body, "Container "+oldest+" suits as well and expires first: usable "+
		"until 8 Dec 2026.") // 10 Nov and 28 days
	require.NotContains(t, body, "does not suit:")

	// What was scanned and does not suit is said first, with the reason, before any wipe.
	b.get("/kit/" + c.kit + "?container=" + over)
	body = html.UnescapeString(b.body)
	not := strings.Index(body, "Container "+over+" does not suit: ")
	require.Positive(t, not)
	require.Less(t, not, strings.Index(body, "suits, keep it wet"))

	// While it is watched the page says when to wipe again: 70 % v/v ethanol keeps its strength
	// for about 35 s, a factor of three either way (computed elsewhere, not validated).
	require.NotContains(t, body, "Wipe it again")
	b.tap("Both are wet now, by container " + oldest)
	body = html.UnescapeString(b.body)
	require.Contains(t, body, "Wipe it again while it is still wet, about every 34 s")
	require.Contains(t, body, "could be 11 or 103 s. An estimate, not validated; no tap is needed")
	require.False(t, c.world().Cycles[c.world().Pieces[c.world().Kits[c.kit].Pieces[0]].Cycle].
		Progress().Wet.Conforms(), "advice passes nothing")
}

// The prompt is for what is wet now and may dry too soon: not for agents that stay wet, nor
// where one wipe is likely to hold, nor once nobody watches any more.
func TestWhenToWipeAgain(t *testing.T) {
	begun := reprocess.Mark{At: 1_790_000_000_000, Boot: "b", Mono: 0}
	after := func(s int64) reprocess.Now {
		return reprocess.Now{UTC: begun.At + reprocess.Instant(1000*s), Boot: "b", Mono: 1000 * s}
	}
	now := after(1)
	at := func(product string, needed int, open bool) string {
		x := &view{w: reprocess.NewWorld()}
		for id, a := range map[string]reprocess.Active{"D1": {Agent: "ethanol", Strength: "70%v/v"},
			"D2": {Agent: "quat", Strength: "0.4 %"}, "D3": {Agent: "propan-1-ol", Strength: "70%v/v"},
			"D4": {Agent: "ethanol", Strength: "40%v/v"}} {
			x.w.Products[id] = &reprocess.Product{ID: id, Actives: []reprocess.Active{a}}
		}
		p := reprocess.Progress{}
		p.Wet = reprocess.Wet{Open: open, Product: product, NeededS: needed, Start: begun,
			Intervals: []reprocess.Interval{{From: begun, To: begun, NeededS: needed}}}
		return x.wipeAgain(group{tracks: []reprocess.Track{{Progress: p}}}, now)
	}
	require.Contains(t, at("D1", 60, true), "about every 34 s")
	require.Empty(t, at("D1", 60, false), "nobody watches")
	require.Contains(t, at("D1", 12, true), "about every 34 s")
	require.Empty(t, at("D1", 11, true), "the low end of the band holds")
	require.Empty(t, at("D2", 60, true), "no alcohol")
	require.Empty(t, at("D4", 60, true), "too weak from the start: never offered")
	require.Empty(t, at("D9", 60, true), "not known")
	require.Contains(t, at("D3", 60, true), "about every 117 s", "117 s: the band begins at 39")
	now = after(59)
	require.NotEmpty(t, at("D1", 60, true), "not long enough yet")
	now = after(60)
	require.Empty(t, at("D1", 60, true), "long enough: nothing is to be wiped again")
}
