package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// A campaign is begun by a technician, marked at the bench, counted, and ended; new software
// asks for the function test again.
func TestACampaignAtTheBench(t *testing.T) {
	c := newClinic(t)
	c.toRelease()
	tech := c.person("Tim Tech", "tim", reprocess.RoleTechnician)
	tech.get("/campaigns/new")
	for _, x := range []struct{ name, model, what, target, says string }{
		{"", c.models[0], "check", "", "is empty"}, {"to 2.1", "M0", "check", "", "no such model"},
		{"to 2.1", c.models[0], "software", "", "not clear"},
		{"to 2.1", c.models[0], "check", "2.1", "not clear"}} {
		tech.post("/campaigns", "name", x.name, "model", x.model, "what", x.what, "target", x.target)
		require.Contains(t, tech.body, x.says)
		tech.get("/campaigns/new")
	}
	tech.post("/campaigns", "name", "to 2.1", "model", c.models[0], "what", "software", "target", "2.1")
	require.Equal(t, http.StatusSeeOther, tech.status, tech.body)
	b := c.bench
	b.get("/checks")
	require.Contains(t, b.body, "0 of 1 done")
	id := c.world().Settings.Campaigns[0].ID
	b.get(c.path())
	require.Contains(t, b.body, "/campaigns/"+id)
	b.get("/campaigns/" + id + "?kit=" + c.kit)
	require.Contains(t, b.body, "17 recorder, serial R-0017")
	require.NotContains(t, b.body, "End this campaign", "a technician ends it")
	b.post("/campaigns/"+id+"/done", "piece", c.phone)
	require.Contains(t, b.body, "for another model")
	b.get("/campaigns/" + id + "?kit=" + c.kit)
	b.post("/campaigns/"+id+"/done", "piece", c.recorder, "kit", c.kit)
	require.Equal(t, kitURL(c.kit), b.header.Get("Location"))
	w := c.world()
	require.Equal(t, reprocess.StepFunction, w.NextStep(w.Pieces[c.recorder]), "tested again")
	b.get("/campaigns/" + id)
	require.Contains(t, b.body, "1 of 1 done")
	b.get(c.path("history"))
	require.Contains(t, b.body, "done in the campaign to 2.1")
	require.Contains(t, b.body, "function test is asked for again")
	b.post("/campaigns/" + id + "/end")
	require.Equal(t, http.StatusForbidden, b.status)
	tech.get("/campaigns/" + id)
	tech.post("/campaigns/" + id + "/end")
	require.Equal(t, http.StatusSeeOther, tech.status)
	tech.get("/campaigns/" + id)
	require.Equal(t, http.StatusNotFound, tech.status)
}

func TestAVersionIsReadOff(t *testing.T) {
	c := newClinic(t)
	at := "/checks/" + c.recorder
	b := c.bench
	b.get(at)
	require.Contains(t, b.body, "Nobody has read a version off it.")
	b.post(at+"/version", "what", "software", "version", "")
	require.Contains(t, b.body, "is empty")
	b.get(at)
	b.post(at+"/version", "what", "software", "version", "2.0")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(at)
	require.Contains(t, b.body, "Software 2.0")
	b.get(c.path("history"))
	require.Contains(t, b.body, "software version read off: 2.0")
}

// What runs on a phone is its operating software or an app; a campaign says which, and for which of
// them the recorder is tested again.
func TestACampaignForThePhonesOwnSoftware(t *testing.T) {
	c := newClinic(t)
	b := c.person("Tim Tech", "tim", reprocess.RoleTechnician)
	b.get("/campaigns/new")
	require.Contains(t, b.body, "of a phone: its operating software")
	b.post("/campaigns", "name", "phones to 14", "model", c.models[1], "what", "software", "target", "14")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get("/checks")
	require.Contains(t, b.body, "Model phone, operating software 14")
	b.get("/campaigns/" + c.world().Settings.Campaigns[0].ID)
	require.Contains(t, b.body, "reads the phone’s operating software off")
	require.NotContains(t, b.body, "is tested and packed again")
	at := "/checks/" + c.phone
	b.get(at)
	require.Contains(t, b.body, "Its operating software")
	b.post(at+"/version", "what", "software", "version", "14", "updated", "yes")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(at)
	require.Contains(t, b.body, "Operating software 14")
	c.bench.get(c.path("history"))
	require.Contains(t, c.bench.body, "Phone: operating software version put on: 14")
	c.bench.get(at)
	require.NotContains(t, c.bench.body, "Its software")
}

// Learning is counted, signed off by a supervisor, and stands in a table that prints.
func TestLearningToSignedOff(t *testing.T) {
	c := newClinic(t)
	lea := c.person("Lea Learner", "lea", reprocess.RoleReprocessing)
	c.compete("lea", true)
	boss := c.person("Sue Super", "sue", reprocess.RoleSupervisor)
	at := "/staff/" + c.idOf("lea")
	boss.get(at)
	require.Contains(t, boss.body, "0 of 3 supervised cycles")
	sign := []string{"procedure", c.procedures[0], "signed_until", "2026-12-24"}
	boss.post(at+"/sign-off", sign...)
	require.Contains(t, boss.body, "has to be signed")
	boss.get(at)
	boss.post(at+"/sign-off", append(sign, "secret", testSecret)...)
	require.Contains(t, boss.body, "0 supervised cycles; 3 are asked for")
	boss.get(at)
	boss.post(at+"/competence", "procedures", c.procedures[0], "from", "2026-11-24")
	require.Contains(t, boss.body, "Sign them off instead")

	s := c.world().Settings
	s.Supervised = 1
	c.must(reprocess.SetSettings{Settings: s})
	c.learnerCycle(lea)
	boss.get(at)
	require.Contains(t, boss.body, "1 of 1 supervised cycles")
	boss.post(at+"/sign-off", append(sign, "secret", testSecret)...)
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)
	boss.get(at)
	require.Contains(t, boss.body, "signed off by Sue Super")
	boss.get("/competence")
	require.Contains(t, boss.body, "competent until 24 Dec 2026, ends soon")
	require.Contains(t, boss.body, "learning, 1 of 1 cycles")
	lea.get("/")
	require.Contains(t, lea.body, "ends on 24 Dec 2026", "30 days before")
	boss.get("/staff")
	require.Contains(t, boss.body, "ends on 24 Dec 2026")
	lea.get("/competence")
	require.Equal(t, http.StatusForbidden, lea.status)
	lea.post(at+"/sign-off", sign...)
	require.Equal(t, http.StatusForbidden, lea.status)
}

// learnerCycle lets Lea look at and clean the kit, and Ben do the rest and release it.
func (c *clinic) learnerCycle(lea *browser) {
	c.t.Helper()
	both := []string{c.recorder, c.phone}
	for _, x := range []struct {
		step  reprocess.StepID
		pairs []string
	}{{reprocess.StepReceipt, []string{"a-condition", "whole", "a-recording", "arrived", "a-old_cell", "yes"}},
		{reprocess.StepCleaning, []string{"a-clean", "yes", "a-parts_clean", "yes"}}} {
		lea.get(c.path())
		lea.post(c.path("step"), append([]string{"step", string(x.step), "for", "both"}, x.pairs...)...)
		require.Equal(c.t, http.StatusSeeOther, lea.status, lea.body)
	}
	c.act(reprocess.Countersign{Kit: c.kit})
	c.act(reprocess.WetNow{Kit: c.kit, Pieces: both, Container: c.tub})
	c.clock.step(61 * time.Second)
	c.act(reprocess.Look{Kit: c.kit, Pieces: both, Saw: reprocess.RecLooksWet})
	c.afterWet()
	c.act(reprocess.ReleaseKit{Kit: c.kit})
}

// A kit with precautions is released by the one who wiped only when somebody fit for it signs
// beside; each refusal keeps what was chosen.
func TestTwoSignOneRelease(t *testing.T) {
	c := newClinic(t)
	c.act(reprocess.TakeBack{Kit: c.kit, Return: reprocess.Return{Flags: []string{"mrsa-vre-cre"}}})
	c.toRelease()
	b := c.bench
	b.get(c.path("release"))
	require.Contains(t, b.body, "precautions were told")
	require.NotContains(t, b.body, "Who signs beside you?", "nobody could")
	c.competent("Cora Clerk", "cora", reprocess.RoleReprocessing)
	c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get(c.path("release"))
	require.Contains(t, b.body, "Who signs beside you?")
	require.NotContains(t, b.body, "Dana Desk")
	cora := c.idOf("cora")
	for _, x := range []struct {
		fields []string
		says   string
	}{
		{[]string{"secret", testSecret}, "second person"},
		{[]string{"secret", testSecret, "second", cora}, "has not signed"},
		{[]string{"secret", testSecret, "second", cora, "second_secret", "wrong horse"}, "secret"},
		{[]string{"second", cora, "second_secret", testSecret}, "has to be signed"},
		{[]string{"secret", testSecret, "second", c.idOf("ben"), "second_secret", testSecret}, "sign twice"},
		{[]string{"secret", testSecret, "second", c.idOf("dana"), "second_secret", testSecret},
			"does not work at the bench"},
	} {
		b.get(c.path("release"))
		b.post(c.path("release"), x.fields...)
		require.NotEqual(t, http.StatusSeeOther, b.status, x.says)
		require.Contains(t, b.body, x.says)
	}
	b.get(c.path("release"))
	b.post(c.path("release"), "secret", testSecret, "second", cora, "second_secret", testSecret)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, cora, c.newest(reprocess.ActRelease).Second)
	b.get(c.path("history"))
	require.Contains(t, b.body, "Cora Clerk")
}
