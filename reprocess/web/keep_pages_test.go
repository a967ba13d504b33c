package web

import (
	"encoding/json"
	"net/http"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

func TestReferencesAreErasedByHandAndHeldByALegalHold(t *testing.T) {
	s := newClinicSite(t)
	kit := s.register("A-3X9", "standing", "out", "out", "2026-11-20", "due", "2026-12-04",
		"days", "14", "reference", "W-1042")
	loan := s.world().Kits[kit].Loan
	one := "/retention/loan/" + loan
	s.b.get(one)
	require.Contains(t, s.b.body, "still out")
	require.NotContains(t, s.b.body, "W-1042")
	_, err := s.store.Do(t.Context(), sqlite.Request{Actor: s.boss,
		Cmd: reprocess.TakeBack{Kit: kit}})
	require.NoError(t, err)

	s.b.get("/retention?number=A-3X9")
	require.Contains(t, s.b.body, "Loan "+loan)
	require.Contains(t, s.b.body, "no figure was set")
	s.b.get("/retention?number=404")
	require.Contains(t, s.b.body, "no such kit")
	s.b.refused("has to be signed", "/retention", "/retention", "days", "30", "reason", "policy")
	s.b.refused("30 to 36500", "/retention", "/retention", "days", "29", "reason", "policy",
		"secret", bossSecret)
	s.b.done("/retention", "/retention", "days", "365", "reason", "policy 7", "secret", bossSecret)
	s.b.get("/retention")
	require.Contains(t, s.b.body, "kept 365 days after the return")

	at := "/retention/hold"
	s.b.refused("no such", at, at, "number", "404", "reason", "r", "secret", bossSecret)
	s.b.refused("has to be signed", at, at, "number", "A-3X9", "reason", "a claim")
	s.b.refused("on a kit, on a loan or on a period", at, at, "reason", "r", "secret", bossSecret)
	s.b.done(at, at, "number", "A-3X9", "reason", "a claim", "secret", bossSecret)
	var hold string
	for id := range s.world().Legal {
		hold = id
	}
	s.b.get("/retention")
	require.Contains(t, s.b.body, "Kit A-3X9")
	s.b.get(one)
	require.Contains(t, s.b.body, "A legal hold keeps this: a claim")
	s.b.refused("is empty", at+"/"+hold, at+"/"+hold, "secret", bossSecret)
	s.b.done(at+"/"+hold, at+"/"+hold, "reason", "settled", "secret", bossSecret)

	s.b.refused("has to be signed", one, one, "reason", "the wearer asked")
	s.b.done(one, one, "reason", "the wearer asked", "secret", bossSecret)
	token := s.world().Loans[loan].Wearer
	_, err = s.store.WearerRef(t.Context(), token)
	require.Equal(t, "erased", reprocess.AsProblem(err).Rule)
	s.b.get(one)
	require.Contains(t, s.b.body, "erased already")
	s.b.get("/retention/hold/H0")
	require.Equal(t, http.StatusNotFound, s.b.status)
	s.b.get("/retention/loan/L0")
	require.Equal(t, http.StatusNotFound, s.b.status)
}

func TestAPassReadsAndEnds(t *testing.T) {
	s := newClinicSite(t)
	kit := s.register("17", "standing", "out", "out", "2026-11-20",
		"due", "2026-12-04", "days", "14", "reference", "W-1042")
	s.b.refused("has to be signed", "/passes", "/passes", "name", "Inspector", "until", "2026-11-25")
	s.b.refused("at the most", "/passes", "/passes", "name", "Inspector", "until", "2027-11-25",
		"secret", bossSecret)
	s.b.get("/passes")
	s.b.post("/passes", "name", "Inspector", "until", "2026-11-25", "secret", bossSecret)
	require.Equal(t, http.StatusOK, s.b.status, s.b.body)
	code := between(s.b.body, `<p class="state figures">`, "</p>")
	guest := s.browser()
	guest.get("/secret/" + code)
	guest.post("/secret/"+code, "secret", testSecret, "secret_again", testSecret)
	require.Equal(t, http.StatusSeeOther, guest.status, guest.body)
	for _, path := range []string{"/trail", "/trail/checks", "/figures", "/lookback",
		"/kit/" + kit + "/history"} {
		guest.get(path)
		require.Equal(t, http.StatusOK, guest.status, path)
	}
	for _, path := range []string{"/passes", "/staff", "/settings", "/retention", "/labels"} {
		guest.get(path)
		require.Equal(t, http.StatusForbidden, guest.status, path)
	}
	id := s.walkOfAPass(guest, kit)

	s.b.get("/passes/" + id)
	require.Contains(t, s.b.body, "This hour so far")
	require.Contains(t, s.b.body, "signed in with a pass")
	require.NotContains(t, s.b.body, "read with a pass", "the hour is not over")
	s.clock.step(time.Hour)
	s.b.signIn("ada", bossSecret)
	s.b.get("/passes/" + id)
	require.NotContains(t, s.b.body, "This hour so far")
	require.Contains(t, s.b.body, "Inspector read with a pass, hour from ")
	require.Regexp(t, `trail \d+×`, s.b.text())
	s.b.get("/passes/S0")
	require.Equal(t, http.StatusNotFound, s.b.status)
	s.b.done("/passes", "/passes/"+id+"/end")
	guest.get("/trail")
	require.Equal(t, http.StatusSeeOther, guest.status, "ending it ends the sign-in")
	s.b.get("/passes")
	require.Contains(t, s.b.body, "ended on")
	s.b.refused("ended already", "/passes", "/passes/"+id+"/end")
}

// walkOfAPass opens and sends every row of the table of routes, and shows that nothing was
// done by it but exports and its own secret, and that no reference was shown.
func (s *clinicSite) walkOfAPass(guest *browser, kit string) (person string) {
	s.t.Helper()
	for _, p := range s.world().People {
		if p.Pass {
			person = p.ID
		}
	}
	fill := regexp.MustCompile(`:[a-z]+`)
	for _, r := range routes() {
		path := fill.ReplaceAllString(r.Path, kit)
		if r.Bare || r.Path == "/sign-out" || r.Path == "/secret" || r.Path == "/trail/checks/all" {
			continue
		}
		if r.Method == get {
			guest.get(path)
			require.NotContains(s.t, guest.body, "W-1042", path)
		} else {
			guest.get("/trail")
			guest.post(path, "kit", kit, "reason", "because", "secret", testSecret)
		}
		require.Less(s.t, guest.status, 500, path)
	}
	size, err := s.store.Size(s.t.Context())
	require.NoError(s.t, err)
	for body, err := range s.store.Bodies(s.t.Context(), 1, size) {
		require.NoError(s.t, err)
		var e reprocess.Entry
		require.NoError(s.t, json.Unmarshal(body, &e))
		if e.By == person && e.Result == reprocess.ResultDone {
			require.Contains(s.t, []reprocess.Act{reprocess.ActSecret, reprocess.ActExport,
				reprocess.ActPassUse}, e.Act)
		}
	}
	return person
}
