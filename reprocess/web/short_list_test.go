package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// One tap answers the whole short list; the loan, the history and the entry keep it.
func TestTheShortListByOneTap(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut()
	l := c.world().Loans[c.world().Kits[c.kit].Loan]
	require.Len(t, l.Checks, 4)
	require.Equal(t, reprocess.OutCheck{Ask: "slip", Answer: "yes"}, l.Checks[3])
	b.get(c.desk("loan"))
	require.Contains(t, b.body, "Configured for this wearer; a test recording with the wearer arrived")
	c.bench.still("ben")
	c.bench.get("/kit/" + c.kit + "/history")
	require.Contains(t, c.bench.body, "due back 1 Dec 2026; configured for this wearer;")
}

// What was not done is answered by itself, with why; a demanded ask has no "not asked".
func TestTheShortListOneByOne(t *testing.T) {
	c := newClinic(t)
	s := c.world().Settings
	s.MinCharge = 80
	c.must(reprocess.SetSettings{Settings: s})
	c.must(reprocess.SetCounter{Counter: reprocess.Counter{Must: []string{"arrived"}}})
	c.release()
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get(c.desk("out"))
	require.Contains(t, b.body, "Phone on and charged at least 80\u00a0%")
	require.NotContains(t, b.body, "A new cell, fitted now?")
	require.Equal(t, http.StatusOK, b.status)
	each := func(pairs ...string) {
		b.post(c.desk("out"), append([]string{"reference", "A-1", "days", "7", "checks", "each"}, pairs...)...)
	}
	each("check.configured", "yes", "check.arrived", "not_asked", "check.phone", "yes", "check.slip", "yes")
	require.Equal(t, http.StatusUnprocessableEntity, b.status, b.body)
	require.Contains(t, b.body, "this clinic wants an answer")
	require.Contains(t, b.body, `value="A-1"`, "what was typed stays")
	b.post(c.desk("out"), "reference", "A-1", "days", "7", "checks", "all", "check.configured", "yes",
		"check.arrived", "no network")
	require.Equal(t, http.StatusBadRequest, b.status, "one tap never covers an answer up")
	require.Contains(t, b.body, "You answered that something was not done, then tapped that all of it was")
	require.Contains(t, b.body, "<details open>")
	require.Contains(t, b.body, `value="no network" checked`)
	each("check.configured", "not_asked", "check.arrived", "no network", "check.phone", "no other",
		"check.slip", "yes")
	require.Contains(t, b.body, "the reason is empty")
	each("check.configured", "not_asked", "check.arrived", "no network", "check.phone", "no other",
		"check.slip", "yes", "check_note", "battery at 79")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(c.desk("loan"))
	require.Contains(t, b.body, "because no network here")
	require.Contains(t, b.body, "because: battery at 79")
	require.Contains(t, b.body, "Not asked: configured for this wearer")
}

// Where the procedure says so a new cell is fitted at the counter, and its box is recorded.
func TestACellFittedAtTheCounter(t *testing.T) {
	c := newClinic(t)
	p := fullProcedure(c.models[0], reprocess.Recorder)
	p.CellAtOut = true
	c.must(reprocess.ApproveProcedure{Procedure: p})
	c.compete("ben", false)
	c.release()
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get(c.desk("out"))
	require.Contains(t, b.body, "A new cell, fitted now?")
	b.post(c.desk("out"), "reference", "A-1", "days", "7", "checks", "all", "cell", "nothing")
	require.Equal(t, http.StatusNotFound, b.status)
	b.post(c.desk("out"), "reference", "A-1", "days", "7", "checks", "all", "cell", c.cells)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, c.cells, c.world().Loans[c.world().Kits[c.kit].Loan].Cell)
	b.get(c.desk("loan"))
	require.Contains(t, b.body, "New cell fitted at the counter")
}
