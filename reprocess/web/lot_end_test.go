package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// A box is called used up on its page and comes back by another act; a container likewise.
func TestUsedUpOnTheLotsPage(t *testing.T) {
	s := newClinicSite(t)
	s.b.done("/lots/new", "/lots/new", "kind", "cells", "name", "LR03", "expiry", "2029-01-31")
	var box string
	for id, l := range s.world().Lots {
		if l.Kind == reprocess.LotCells {
			box = id
		}
	}
	require.Equal(t, "/lot/"+box, s.b.done("/lot/"+box, "/lot/"+box+"/used-up"))
	s.b.get("/lot/" + box)
	require.Contains(t, s.b.body, "Used up")
	require.NotContains(t, s.b.body, "It is used up")
	s.b.refused("is called used up already", "/lot/"+box, "/lot/"+box+"/used-up")
	require.Equal(t, http.StatusConflict, s.b.status)
	s.b.done("/lot/"+box, "/lot/"+box+"/resume")
	require.Zero(t, s.world().Lots[box].Ended)
	s.b.refused("is not called used up", "/lot/"+box, "/lot/"+box+"/resume")

	at := s.b.done("/containers/open", "/containers/open", "lot", s.lot)
	s.b.done(at, at+"/close", "why", "empty")
	s.b.get(at)
	require.Contains(t, s.b.body, "tapped by mistake")
	s.b.done(at, at+"/reopen")
	s.b.refused("This container is open.", at, at+"/reopen")

	desk := s.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	desk.get("/lot/" + box)
	require.NotContains(t, desk.body, "used up")
	desk.post("/lot/"+box+"/used-up", "x", "y")
	require.Equal(t, http.StatusForbidden, desk.status)
}

// The supplies page says what is to be seen to, and leads there.
func TestSuppliesSayWhatRunsOut(t *testing.T) {
	s := newClinicSite(t)
	s.b.get("/supplies")
	require.Contains(t, s.b.body, "No open container may be used on Recorder A today.")
	s.b.done("/product/"+s.product+"/change", "/product/"+s.product+"/change", "name",
		"House wipe E70", "use", "pre_soaked_wipe", "agent.ethanol", "70%v/v", "claim.BAC.s", "60",
		"claim.YEA.s", "60", "models", s.recorder, "models", s.phone, "open_days", "28", "least", "2")
	at := s.b.done("/containers/open", "/containers/open", "lot", s.lot)
	s.b.get("/supplies")
	require.NotContains(t, s.b.body, "No open container may be used")
	require.Contains(t, s.b.body, "nobody typed how many containers came")
	l := s.world().Lots[s.lot]
	s.b.done("/lot/"+s.lot+"/correct", "/lot/"+s.lot+"/correct", "kind", "disinfectant", "product",
		s.product, "number", l.Number, "expiry", string(l.Expiry), "count", "2")
	s.b.get("/supplies")
	require.Contains(t, s.b.body, "1 unopened, 2 are to be kept.")
	require.Contains(t, s.b.body, `href="/product/`+s.product+`"`)
	s.b.done(at, at+"/close", "why", "empty")
	s.b.get("/supplies")
	require.Contains(t, s.b.body, "1 unopened, 2 are to be kept.", "an empty one does not come back")
	s.b.done(at, at+"/reopen")
	s.clock.step(26 * 24 * time.Hour)
	s.b.signIn("ada", bossSecret)
	s.b.get("/supplies")
	require.Contains(t, s.b.body, "may be used until 22 Dec 2026")
	require.Contains(t, s.b.body, `href="`+at+`"`)
}
