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
	b.get(c.path("picture", c.world().Pieces[c.recorder].Checks[0].SHA256))
	require.Equal(t, http.StatusOK, b.status)

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
	boss.get("/checks/" + at + "/picture/" + between(boss.body, "/picture/", `"`))
	require.Equal(t, http.StatusOK, boss.status)
	boss.get("/checks")
	campaign := "/campaigns/" + between(boss.body, "/campaigns/", `"`)
	boss.get(campaign)
	boss.post(campaign+"/done", "piece", at)
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)
	boss.get("/checks")
	require.Contains(t, boss.body, "1 of 2 done")
}
