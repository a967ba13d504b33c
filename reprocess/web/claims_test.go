package web

import (
	"html"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

func TestClaimsAreTightenedFreelyAndLoosenedSigned(t *testing.T) {
	s := newClinicSite(t)
	container := s.b.done("/containers/open", "/containers/open", "lot", s.lot)
	s.b.get("/supplies")
	require.Contains(t, s.b.body, `href="/claims"`)
	s.b.get("/claims")
	require.Contains(t, html.UnescapeString(s.b.body), "Needed: VIR-L")
	require.Contains(t, s.b.body, "This is the default.")
	require.NotContains(t, s.b.body, `href="/claims/prion"`, "a stop cannot be changed")

	// Tightened without a signature: the wipe claims BAC and YEA only, so it suits no return.
	s.b.get(container)
	require.Contains(t, s.b.body, "Yes. Keep it wet for")
	every := "/claims/" + everyReturn
	s.b.done(every, every, "adds", "MYC")
	require.Equal(t, []string{"MYC"}, s.world().Settings.Policy.Base)
	s.b.get(container)
	require.NotContains(t, s.b.body, "Yes. Keep it wet for")
	require.Contains(t, html.UnescapeString(s.b.body), "MYC")

	// Taken away again is asking for less.
	s.b.refused("would no longer need MYC", every, every, "reason", "tried for a week")
	require.Contains(t, s.b.body, `value="tried for a week"`, "what was typed is kept")
	s.b.refused("would no longer need MYC", every, every, "secret", bossSecret)
	s.b.refused("is not right", every, every, "reason", "tried for a week", "secret", "no no no no no")
	s.b.done(every, every, "reason", "tried for a week", "secret", bossSecret)
	require.Empty(t, s.world().Settings.Policy.Base)
	s.b.get("/claims")
	require.Contains(t, html.UnescapeString(s.b.body), "because: tried for a week")

	gastro := "/claims/gastro"
	s.b.refused("would no longer need VIR-L", gastro, gastro)
	s.b.done(gastro, gastro, "adds", "VIR-F", "adds", "SPO")
	s.b.get("/claims")
	require.Contains(t, html.UnescapeString(s.b.body), "Default: VIR-L")
	require.Equal(t, []reprocess.PolicyFlag{{Flag: "gastro", Adds: []string{"VIR-F", "SPO"}}},
		s.world().Settings.Policy.Flags)
	s.b.refused("asked for already", gastro, gastro, "adds", "SPO", "adds", "VIR-F")

	s.b.done("/settings", "/settings", "clinic", "Moorland", "zone", "UTC")
	require.Len(t, s.world().Settings.Policy.Flags, 1, "other settings leave it alone")
	s.b.get("/trail")
	require.Contains(t, html.UnescapeString(s.b.body), "Claims that returns need set")
}

func TestOnlyInfectionControlAndSupervisorsSetClaims(t *testing.T) {
	s := newClinicSite(t)
	bench := s.person("Ben Hale", "ben", reprocess.RoleReprocessing)
	bench.get("/claims")
	require.Equal(t, http.StatusOK, bench.status)
	require.NotContains(t, bench.body, `href="/claims/gastro"`)
	bench.get("/claims/gastro")
	require.Equal(t, http.StatusForbidden, bench.status)
	ina := s.person("Ina Bay", "ina", reprocess.RoleInfection)
	for path, status := range map[string]int{"/claims/gastro": http.StatusOK,
		"/claims/prion": http.StatusNotFound, "/claims/none": http.StatusNotFound} {
		ina.get(path)
		require.Equal(t, status, ina.status, path)
	}
}
