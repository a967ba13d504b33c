package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

func TestHowRecordingsAreKept(t *testing.T) {
	s := newSite(t)
	b := s.setUp()
	at := "/settings/recordings"
	b.get(at)
	require.Contains(t, b.body, "empty means 120, ten years, common practice")
	for why, pairs := range map[string][]string{
		"is no whole number":      {"keep_months", "3 years"},
		"cannot be kept for 11":   {"keep_months", "11"},
		"cannot be a tolerance":   {"clock_min", "1441"},
		"would remove them after": {"keep_months", "24"},
	} {
		b.get(at)
		b.post(at, pairs...)
		require.NotEqual(t, http.StatusSeeOther, b.status, why)
		require.Contains(t, b.body, why)
		require.Contains(t, b.body, `value="`+pairs[1]+`"`, "what was typed stays")
	}
	b.get(at)
	b.post(at, "keep_months", "24", "clock_min", "15", "reason", "house rule 4", "secret", "wrong one")
	require.Equal(t, http.StatusForbidden, b.status)
	b.post(at, "keep_months", "24", "clock_min", "15", "reason", "house rule 4", "secret", bossSecret)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(at)
	require.Contains(t, b.body, `value="24"`)
	require.Contains(t, b.body, `value="15"`)
	desk := s.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	desk.get(at)
	require.Equal(t, http.StatusForbidden, desk.status)
}

func TestOldFilesAreRemovedByHandToo(t *testing.T) {
	c := newClinic(t)
	sha, err := c.store.KeepFile([]byte("a picture"))
	require.NoError(t, err)
	c.must(reprocess.AddPicture{Kit: c.kit, Piece: c.recorder, SHA256: sha, Bytes: 9, About: "crack"})
	at := "/settings/recordings"
	b := c.person("Sunniva Ray", "sunni", reprocess.RoleSupervisor, reprocess.RoleAuditor)
	b.get(at)
	require.NotContains(t, b.body, "now</button>")
	c.clock.step(3700 * 24 * time.Hour)
	b = c.person("Sigrid Ray", "sigrid", reprocess.RoleSupervisor, reprocess.RoleAuditor)
	b.get(at)
	require.Contains(t, b.body, "Remove 1 file now")
	b.post(at+"/remove", "remove_secret", "")
	require.Equal(t, http.StatusForbidden, b.status)
	b.get(at)
	b.post(at+"/remove", "remove_secret", testSecret)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	_, err = c.store.KeptFile(sha)
	require.Error(t, err)
	b.get("/trail")
	require.Contains(t, b.body, "1 recording, strip or picture removed, kept for 120 months")
}
