package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// From any page: the link at its foot, the lot, the reason; then where its kits are.
func TestALotIsStoppedInTwoTaps(t *testing.T) {
	s := newClinicSite(t)
	at := s.b.done("/containers/open", "/containers/open", "lot", s.lot)
	s.b.done("/lots/new", "/lots/new", "kind", "electrodes", "name", "Pads", "number", "A1")
	s.b.done("/labels"+at, "/labels/again"+at, "reason", "first label")
	desk := s.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	desk.get("/desk")
	require.Contains(t, desk.body, `<a href="/stop">Stop a lot</a>`)
	desk.get("/stop")
	require.Contains(t, desk.body, "Open at the bench")
	require.Contains(t, desk.body, `href="/lot/`+s.lot+`/stop"`)
	require.Contains(t, desk.body, "Pads, lot A1")

	var code string
	for _, l := range s.world().Labels {
		code = l.Code
	}
	to := desk.done("/stop", "/stop", "find", code)
	require.Equal(t, "/lot/"+s.lot+"/stop", to, "its sticker leads there too")
	require.Equal(t, to, desk.done("/stop", "/stop", "find", s.world().Lots[s.lot].Number))
	desk.refused("Choose the lot from the list.", "/stop", "/stop", "find", "no such")
	require.Contains(t, desk.body, `value="no such"`)

	// The second tap may be the last: the reason is asked for afterwards, and is said once.
	desk.get("/stop")
	require.Contains(t, desk.body, "Stop it now, say why afterwards")
	reach := desk.done("/stop", to, "reason", reprocess.StopReasonFollows)
	desk.get(reach)
	require.Contains(t, desk.body, "the reason follows")
	require.Contains(t, desk.body, `class="act" href="`+to+`">Say why it is stopped`)
	desk.get("/stop")
	require.Contains(t, desk.body, `href="`+to+`"`, "also from the list of what is stopped")
	require.Equal(t, to, desk.done("/stop", "/stop", "find", code), "and from its sticker")
	desk.refused("is stopped already", to, to, "reason", reprocess.StopReasonFollows)
	to = desk.done(to, to, "reason", stopReasons[0])
	require.Equal(t, "/lot/"+s.lot+"/reach", to)
	desk.get(to)
	require.Contains(t, desk.body, "by Dana Desk.")
	require.Contains(t, desk.body, "0 out, 0 ready, 0 in work.")
	require.Equal(t, stopReasons[0], s.world().Lots[s.lot].Stopped.Reason)
	require.Equal(t, to, desk.done("/stop", "/stop", "find", code))

	// The same printed number twice: both are offered.
	s.b.done("/lots/new", "/lots/new", "kind", "cells", "name", "LR03", "number", "A1",
		"expiry", "2029-01-31")
	desk.get("/stop")
	require.Contains(t, desk.body, "Stopped already")
	desk.post("/stop", "find", "A1")
	require.Equal(t, http.StatusOK, desk.status)
	require.Contains(t, desk.body, "Which of these is stopped?")

	audit := s.person("Ira Audit", "ira", reprocess.RoleAuditor)
	audit.get("/trail")
	require.NotContains(t, audit.body, `href="/stop"`)
	audit.get("/stop")
	require.Equal(t, http.StatusForbidden, audit.status)
}
