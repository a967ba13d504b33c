package web

import (
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// keptKit is kit 17, released and kept for A-1044 today, and the desk's browser.
func keptKit(t *testing.T) (*clinic, *browser) {
	c := newClinic(t)
	c.release()
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get(c.desk())
	require.Contains(t, b.body, "Keep it for an appointment")
	b.done(c.desk("keep"), c.desk("keep"), "reference", "A-1044", "day", testDay)
	return c, b
}

func TestAKeepShowsWithoutItsReference(t *testing.T) {
	c, b := keptKit(t)
	for _, page := range []string{"/ready", c.desk(), c.desk("out")} {
		b.get(page)
		require.Contains(t, b.body, "Kept for an appointment on 24 Nov 2026, until 18:00", page)
		require.NotContains(t, b.body, "A-1044", page)
	}
	b.get("/ready")
	require.Contains(t, b.body, "1 of the ready ones is kept for an appointment")
	body, err := json.Marshal(c.newest(reprocess.ActKeep))
	require.NoError(t, err)
	require.NotContains(t, string(body), "A-1044", "the ledger never holds it")
	require.NotContains(t, c.logged(), "A-1044")
	b.done("/kept", "/kept", "reference", "a-1044")
	require.Equal(t, c.desk(), b.header.Get("Location"))
	b.refused("No kit is kept for this reference now", "/kept", "/kept", "reference", "A-1045")
	b.refused("without spaces", "/kept", "/kept", "reference", "Mrs Smith")
	require.NotContains(t, c.logged(), "A-1044")
}

func TestKeepRefusals(t *testing.T) {
	c, b := keptKit(t)
	at := c.desk("keep")
	b.refused("is kept for another appointment", at, at, "reference", "A-1", "day", testDay)
	b.refused("without spaces", at, at, "reference", "Mrs Smith", "day", testDay)
	require.Equal(t, 1, c.count(reprocess.ActKeep, reprocess.ResultDone))
	b.get(c.desk())
	b.post(c.desk("free"))
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.refused("is no day to keep a kit for", at, at, "reference", "A-1", "day", "2026-11-23")
	b.refused("is not a day like", at, at, "reference", "A-1", "day", "soon")
	b.get(c.desk())
	b.post(c.desk("free"))
	require.Equal(t, http.StatusConflict, b.status)
	c.act(reprocess.BreakRelease{Kit: c.kit, Why: "wet"})
	b.refused("is not released", at, at, "reference", "A-1", "day", testDay)
	kits, err := c.store.KeptFor(b.ctx(), "A-1044")
	require.NoError(t, err)
	require.Empty(t, kits)
	ina := c.person("Ina Control", "ina", reprocess.RoleInfection)
	for _, path := range []string{at, c.desk("free"), "/kept"} {
		ina.post(path, "reference", "A-1")
		require.Equal(t, http.StatusForbidden, ina.status, path)
	}
}

// To another appointment it is asked again; the reason stands in the loan and the history.
func TestGivingAKeptKitToAnother(t *testing.T) {
	c, b := keptKit(t)
	out := []string{"days", "7", "checks", "all", "reference"}
	b.get(c.desk("out"))
	b.post(c.desk("out"), append(out, "A-2000")...)
	require.Equal(t, http.StatusConflict, b.status)
	require.Contains(t, b.body, "is kept for another appointment until 24 Nov 2026 18:00")
	require.Contains(t, b.body, "say why this one is given anyway")
	require.Contains(t, b.body, `value="A-2000"`, "what was typed stays")
	loans, err := c.store.LoansOf(b.ctx(), "A-2000")
	require.NoError(t, err)
	require.Empty(t, loans)
	b.post(c.desk("out"), append(out, "A-2000", "anyway", "the other appointment is off")...)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, "the other appointment is off",
		c.world().Loans[c.world().Kits[c.kit].Loan].Anyway)
	c.bench.get("/kit/" + c.kit + "/history")
	require.Contains(t, c.bench.body, "although kept for another appointment: the other appointment is off")
	kits, err := c.store.KeptFor(b.ctx(), "A-1044")
	require.NoError(t, err)
	require.Empty(t, kits)
}

// To its own appointment, however it is typed, it is just handed out, and the keep's own link
// is forgotten: only the loan's is left.
func TestHandingAKeptKitToItsAppointment(t *testing.T) {
	c, b := keptKit(t)
	token := c.world().Kits[c.kit].Keep.Token
	b.get(c.desk("out"))
	b.post(c.desk("out"), "reference", "a-1044", "days", "7", "checks", "all")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	_, err := c.store.WearerRef(b.ctx(), token)
	require.Equal(t, "no_link", reprocess.AsProblem(err).Rule)
	loans, err := c.store.LoansOf(b.ctx(), "A-1044")
	require.NoError(t, err)
	require.Len(t, loans, 1)
	require.Empty(t, loans[0].Anyway)
}

// It lapses by itself, without an entry; keeping it again forgets the old link.
func TestALapsedKeepIsNoMore(t *testing.T) {
	c, b := keptKit(t)
	token := c.world().Kits[c.kit].Keep.Token
	size, err := c.store.Size(b.ctx())
	require.NoError(t, err)
	c.clock.step(4 * time.Hour) // after 18:00
	b.still("dana")
	b.get("/ready")
	require.NotContains(t, b.body, "Kept for")
	b.refused("No kit is kept for this reference now", "/kept", "/kept", "reference", "A-1044")
	now, err := c.store.Size(b.ctx())
	require.NoError(t, err)
	require.Equal(t, size, now, "no entry")
	at := c.desk("keep")
	b.refused("that is past", at, at, "reference", "A-3", "day", testDay)
	b.done(at, at, "reference", "A-3", "day", "2026-11-25")
	_, err = c.store.WearerRef(b.ctx(), token)
	require.Equal(t, "no_link", reprocess.AsProblem(err).Rule)
}

// Keeping another kit forgets the references of appointments to which nobody came.
func TestNobodyCameToTheAppointment(t *testing.T) {
	c, b := keptKit(t)
	token := c.world().Kits[c.kit].Keep.Token
	c.another("19", 40)
	c.release()
	b.done(c.desk("keep"), c.desk("keep"), "reference", "A-5", "day", testDay)
	_, err := c.store.WearerRef(b.ctx(), token)
	require.NoError(t, err, "it stands still")
	c.clock.step(24 * time.Hour)
	c.another("21", 50)
	c.release()
	b.still("dana")
	b.done(c.desk("keep"), c.desk("keep"), "reference", "A-6", "day", "2026-11-25")
	_, err = c.store.WearerRef(b.ctx(), token)
	require.Equal(t, "no_link", reprocess.AsProblem(err).Rule)
}

// A swap and a ward ask the same: the other kit may be kept for somebody.
func TestSwapsAndWardsAskAboutAKeptKit(t *testing.T) {
	c, b, from, to := twoKits(t)
	b.done(deskAt(to)+"/keep", deskAt(to)+"/keep", "reference", "A-9", "day", "2026-11-26")
	page := deskAt(from) + "/swap?to=" + to
	b.get(page)
	require.Contains(t, b.body, "Kit 19: Kept for an appointment on 26 Nov 2026, until 18:00.")
	swap := []string{"to", to, "days", "5", "fault", "yes", "recording", "arrived", "checks", "all",
		"place", "box", "came", c.world().Kits[from].Pieces[0], "came", c.world().Kits[from].Pieces[1]}
	b.refused("is kept for another appointment", page, deskAt(from)+"/swap", swap...)
	require.True(t, c.world().Loans[c.world().Kits[from].Loan].Open(), "neither half stands")
	c.must(reprocess.SetCounter{Counter: reprocess.Counter{Wards: []reprocess.Ward{{Name: "Ward 4"}}}})
	ward := []string{"ward", "Ward 4", "days", "5", "checks", "all"}
	b.refused("is kept for another appointment", deskAt(to)+"/ward", deskAt(to)+"/ward", ward...)
	b.get(page)
	b.post(deskAt(from)+"/swap", append(swap, "anyway", "the only one")...)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, "the only one", c.world().Loans[c.world().Kits[to].Loan].Anyway)
	kits, err := c.store.KeptFor(b.ctx(), "A-9")
	require.NoError(t, err)
	require.Empty(t, kits)
}
