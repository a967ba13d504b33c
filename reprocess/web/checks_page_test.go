package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// A supervisor lists a check, a technician enters it with its paper, and what is due is told on
// the list, on the bench and at the take-back.
func TestTechnicalChecksFromListToBench(t *testing.T) {
	c := newClinic(t)
	boss := c.person("Sue Super", "sue", reprocess.RoleSupervisor)
	m := "/models/" + c.models[0]
	boss.get(m + "/checks")
	require.Contains(t, boss.body, "None yet.")
	for _, x := range []struct{ on, months, says string }{{"", "24", "not said what is checked"},
		{"piece", "0", "cannot be right"}, {"piece", "two", "no whole number"},
		{"part wand", "24", "no part that travels"}} {
		boss.get(m + "/checks")
		boss.post(m+"/checks", "words", "maintenance", "on", x.on, "months", x.months)
		require.Contains(t, boss.body, x.says)
		require.Contains(t, boss.body, `value="maintenance"`, "what was typed stays")
	}
	boss.get(m + "/checks")
	boss.post(m+"/checks", "words", "maintenance", "on", "piece", "months", "12", "basis", "booklet")
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)

	b := c.person("Tim Tech", "tim", reprocess.RoleTechnician, reprocess.RoleFrontDesk)
	b.get("/checks")
	require.Contains(t, b.body, "17 recorder, serial R-0017")
	require.Contains(t, b.body, "Maintenance was never recorded.")
	c.bench.get("/bench")
	require.Contains(t, c.bench.body, "Technical check, recorder: maintenance was never recorded.")

	at := "/checks/" + c.recorder
	check := c.world().Models[c.models[0]].Checks[0].ID
	form := []string{"check", check, "on", "2025-12-01", "tester", "Workshop North", "note", "0.02 mA"}
	b.get(at)
	b.sendFile(at, "file", aPicture(t), form...)
	require.Contains(t, b.body, "The result is not given")
	require.Contains(t, b.body, `value="Workshop North"`)
	b.get(at)
	b.sendFile(at, "file", []byte("no picture"), append(form, "result", "passed")...)
	require.Equal(t, http.StatusBadRequest, b.status)
	b.get(at)
	b.sendFile(at, "file", aPicture(t), append(form, "result", "passed")...)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(at)
	require.Contains(t, b.body, "last: passed on 1 Dec 2025, by Workshop North (0.02 mA)")
	require.Contains(t, b.body, "due by 1 Dec 2026")
	b.get(checkPaperAt(c.recorder, c.world().Pieces[c.recorder].Checks[0].SHA256))
	require.Equal(t, http.StatusOK, b.status)
	require.Equal(t, "image/jpeg", b.header.Get("Content-Type"))

	b.get(c.desk("back"))
	b.post(c.desk("back"), "skin", "no", "fault", "no", "missing", "no")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(b.header.Get("Location"))
	require.Contains(t, b.body, "maintenance is due on 1 Dec 2026")
	c.bench.get(c.path("history"))
	require.Contains(t, c.bench.body, "technical check: maintenance, passed on 1 Dec 2025")
	b.get("/checks?days=6")
	require.NotContains(t, b.body, "17 recorder")
	b.get("/checks?days=7")
	require.Contains(t, b.body, "17 recorder")
	b.get("/checks?days=soon")
	require.Contains(t, b.body, "cannot be read")
	require.NotContains(t, b.body, m+"/checks", "the lists are the supervisor's")
	c.bench.get(at)
	require.NotContains(t, c.bench.body, "Enter a check", "the bench reads")
	c.bench.post(at, form...)
	require.Equal(t, http.StatusForbidden, c.bench.status)
	boss.get(m + "/checks")
	boss.post("/checks/policy", "policy", "")
	require.Contains(t, boss.body, "not said what an overdue check does")
	boss.get(m + "/checks")
	boss.post("/checks/policy", "policy", "hold")
	require.True(t, c.world().Settings.ChecksHold)
	boss.get(m + "/checks")
	boss.post("/checks/policy", "policy", "remark")
	require.False(t, c.world().Settings.ChecksHold)
	boss.get(m + "/checks")
	boss.post(m+"/check-end", "check", check)
	require.Equal(t, http.StatusSeeOther, boss.status)
	boss.get("/checks")
	require.NotContains(t, boss.body, "17 recorder")
	require.Equal(t, 1, strings.Count(boss.body, m+"/checks"))
	boss.get("/models/none/checks")
	require.Equal(t, http.StatusNotFound, boss.status)
	boss.get("/checks/none")
	require.Equal(t, http.StatusNotFound, boss.status)
}

// A spare that is in no kit is looked after like any other: it is due, counted by a campaign
// and done at the bench, and the paper of its check is shown.
func TestASpareIsLookedAfterToo(t *testing.T) {
	c := newClinic(t)
	boss := c.person("Sue Super", "sue", reprocess.RoleSupervisor)
	boss.get("/kits/spare/phone")
	boss.post("/kits/spare/phone", "phone.model", c.models[1], "phone.serial", "F-900")
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)
	m := "/models/" + c.models[1] + "/checks"
	boss.get(m)
	boss.post(m, "words", "electrical safety", "on", "piece", "months", "12")
	boss.get("/campaigns/new")
	boss.post("/campaigns", "name", "app to 7.2", "model", c.models[1], "what", "app", "target", "7.2")
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)
	boss.get("/checks")
	require.Contains(t, boss.body, "spare phone, serial F-900")
	require.Contains(t, boss.body, "0 of 2 done")
	boss.get("/today")
	require.Contains(t, boss.body, "Spare phone F-900")

	at := between(boss.body, "/checks/", `"`)
	boss.get("/checks/" + at)
	boss.sendFile("/checks/"+at, "file", aPicture(t), "check", c.world().Models[c.models[1]].Checks[0].ID,
		"on", "2026-11-01", "tester", "Workshop North", "result", "passed")
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)
	boss.get("/checks/" + at)
	boss.get("/checks/" + at + "/paper/" + between(boss.body, "/checks/"+at+"/paper/", `"`))
	require.Equal(t, http.StatusOK, boss.status)
	boss.get("/checks")
	campaign := "/campaigns/" + between(boss.body, "/campaigns/", `"`)
	boss.get(campaign)
	boss.post(campaign+"/done", "piece", at)
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)
	boss.get("/checks")
	require.Contains(t, boss.body, "1 of 2 done")
}

// The tester's PDF is taken right where the check is entered, kept as it is, and opened from the
// piece's page and the history, for earlier checks too. No other kept file can be had that way.
func TestACheckTakesItsPaperAsPDF(t *testing.T) {
	c := newClinic(t)
	c.technical()
	b := c.person("Tim Tech", "tim", reprocess.RoleTechnician)
	at := "/checks/" + c.recorder
	check := c.world().Models[c.models[0]].Checks[0].ID
	form := func(on string) []string {
		return []string{"check", check, "on", on, "tester", "Workshop North", "result", "passed"}
	}
	b.get(at)
	require.Contains(t, b.body, "The tester’s PDF")
	first, second := aPDF(t, "First certificate"), aPDF(t, "Second certificate")
	b.brings(at, at, first, form("2025-11-20")...)
	sha := c.world().Pieces[c.recorder].Checks[0].SHA256
	b.brings(at, at, second, form("2026-11-20")...)
	b.get(at)
	require.Contains(t, b.body, checkPaperAt(c.recorder, c.world().Pieces[c.recorder].Checks[0].SHA256))
	b.get(checkPaperAt(c.recorder, sha))
	require.Equal(t, http.StatusOK, b.status)
	require.Equal(t, string(first), b.body, "kept as it is")
	require.Equal(t, "application/pdf", b.header.Get("Content-Type"))
	require.Equal(t, documentPolicy, b.header.Get("Content-Security-Policy"))
	require.Contains(t, b.header.Get("Content-Disposition"), "2025-11-20.pdf")
	b.get(checkPaperAt(c.phone, sha))
	require.Equal(t, http.StatusNotFound, b.status, "of another piece")
	c.bench.get(c.path("history"))
	require.Contains(t, c.bench.body, checkPaperAt(c.recorder, sha))

	kept, err := c.store.KeepDocument(aPDF(t, "About a person"))
	require.NoError(t, err)
	b.get(checkPaperAt(c.recorder, kept.SHA256))
	require.Equal(t, http.StatusNotFound, b.status, "kept, but no paper of a check")
	b.get(at)
	b.sendFile(at, "file", append([]byte("GIF89a"), make([]byte, mostBody)...), form("2026-11-21")...)
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, "no PDF, and too large for a picture")
	b.get(at)
	b.sendFile(at, "file", append([]byte("%PDF-1.7\n"), make([]byte, reprocess.MostDocumentBytes)...),
		form("2026-11-21")...)
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, "at most 16 MiB are kept")
	desk := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	desk.get(checkPaperAt(c.recorder, sha))
	require.Equal(t, http.StatusForbidden, desk.status)
}
