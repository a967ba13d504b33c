package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// twoKits hands kit 17 out for 7 days, makes kit 19 ready, and lets two days pass.
func twoKits(t testing.TB) (c *clinic, b *browser, from, to string) {
	t.Helper()
	c = newClinic(t)
	b = c.handedOut()
	from = c.kit
	c.another("19", 40)
	c.release()
	to = c.kit
	c.clock.step(48 * time.Hour)
	b.still("dana")
	return c, b, from, to
}

// A swap is one act: the other kit by its number or by a tap, what is left of the days, and
// nobody types the wearer's reference again.
func TestSwapOfTwoKits(t *testing.T) {
	c, b, from, to := twoKits(t)
	b.get(deskAt(from))
	require.Contains(t, b.body, `href="`+deskAt(from)+`/swap">Swap it for another kit`)
	b.get(deskAt(from) + "/swap")
	require.Contains(t, b.body, `href="`+deskAt(from)+`/swap?to=`+to+`"`)
	b.get(deskAt(from) + "/swap?find=99")
	require.Equal(t, http.StatusNotFound, b.status)
	require.Contains(t, b.body, "There is no kit 99 here.")
	b.get(deskAt(from) + "/swap?find=19")
	require.Equal(t, deskAt(from)+"/swap?to="+to, b.header.Get("Location"))
	b.get(b.header.Get("Location"))
	require.Contains(t, b.body, "5 days of the loan are left, until 1 Dec 2026.")
	require.Contains(t, b.body, `name="days" type="text" value="5"`)
	require.NotContains(t, b.body, `name="reference"`)
	b.post(deskAt(from)+"/swap", "to", to, "days", "5", "fault", "yes", "recording", "still_on_device",
		"note", "no signal", "place", "dirty box", "came", c.world().Kits[from].Pieces[0],
		"came", c.world().Kits[from].Pieces[1], "checks", "all")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, deskAt(to)+"/loan", b.header.Get("Location"))
	w := c.world()
	old, l := w.Loans[w.Kits[from].Loan], w.Loans[w.Kits[to].Loan]
	require.Equal(t, old.Wearer, l.Wearer)
	require.Equal(t, reprocess.Date("2026-12-01"), l.Due)
	require.False(t, old.Open())
	require.Equal(t, reprocess.RecordingOnIt, w.Kits[from].Recording.Status)
	require.Equal(t, 2, c.count(reprocess.ActSwap, reprocess.ResultDone))
	b.get(deskAt(from) + "/receipt")
	require.Contains(t, b.body, "Taken back: kit 17")
	c.bench.still("ben")
	for kit, words := range map[string]string{from: "another kit went out for it",
		to: "swapped for another kit"} {
		c.bench.get("/kit/" + kit + "/history")
		require.Contains(t, c.bench.body, words)
	}
}

// Each refusal teaches and keeps what was typed; neither kit has changed.
func TestSwapRefusals(t *testing.T) {
	c, b, from, to := twoKits(t)
	good := func(more ...string) []string {
		return append([]string{"to", to, "days", "5", "recording", "arrived", "checks", "all",
			"place", "ward 4"}, more...)
	}
	for why, pairs := range map[string][]string{
		"Nothing is said about what is the matter": good(),
		"It is not said where the recording": {"to", to, "days", "5", "fault", "yes", "checks",
			"all", "place", "ward 4"},
		"The planned days cannot be read": {"to", to, "days", "x", "fault", "yes", "place", "ward 4"},
		"is not answered": {"to", to, "days", "5", "fault", "yes", "recording", "arrived",
			"place", "ward 4"},
	} {
		b.get(deskAt(from) + "/swap?to=" + to)
		b.post(deskAt(from)+"/swap", pairs...)
		require.Equal(t, http.StatusBadRequest, b.status, "%s: %s", why, b.body)
		require.Contains(t, b.body, why)
		require.Contains(t, b.body, `value="ward 4"`, why)
	}
	c.act(reprocess.BreakRelease{Kit: to, Why: "wet"})
	b.get(deskAt(from) + "/swap?to=" + to)
	b.post(deskAt(from)+"/swap", good("fault", "yes")...)
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "Kit 19 is not released")
	require.True(t, c.world().Loans[c.world().Kits[from].Loan].Open())
	require.Equal(t, 0, c.count(reprocess.ActSwap, reprocess.ResultDone))
	require.Equal(t, 1, c.count(reprocess.ActSwap, reprocess.ResultRefused))
	b.get(deskAt(to) + "/swap?to=" + from)
	require.Equal(t, http.StatusOK, b.status)
	tech := c.person("Tia Tech", "tia", reprocess.RoleTechnician)
	tech.get(deskAt(from) + "/swap")
	require.Equal(t, http.StatusForbidden, tech.status)
}
