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
}
