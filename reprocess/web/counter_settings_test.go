package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// What the counter asks is the supervisor's to set; what was typed stays when it is refused,
// and what is kept comes back as it was typed.
func TestWhatTheCounterAsks(t *testing.T) {
	s := newSite(t)
	b := s.setUp()
	form := func(more ...string) []string {
		return append([]string{"ask.configured", "must", "ask.arrived", "off", "ask.phone", "ask",
			"ask.slip", "ask", "privacy", "Data protection, ext. 300"}, more...)
	}
	b.get("/settings/counter")
	require.Contains(t, b.body, "Article 33(1)")
	b.post("/settings/counter", form("wards", "Ward 4: ext. 2140\nward 4")...)
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, "ward 4 stands twice in the list.")
	require.Contains(t, b.body, "Ward 4: ext. 2140\nward 4</textarea>")
	for why, more := range map[string][]string{"is no whole number": {"loss_hours", "3 days"},
		"cannot be the time": {"loss_hours", "1441"}, "It is not said how much": {"ask.slip", ""}} {
		pairs := form(more...)
		if more[0] == "ask.slip" {
			pairs = pairs[8:]
		}
		b.post("/settings/counter", pairs...)
		require.Equal(t, http.StatusBadRequest, b.status, why)
		require.Contains(t, b.body, why)
	}
	b.post("/settings/counter", form("wards", "Ward 4: ext. 2140\n\n Day clinic ", "loss_hours", "24",
		"loss_source", "House rule 7")...)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get("/settings/counter")
	require.Contains(t, b.body, "Ward 4: ext. 2140\nDay clinic</textarea>")
	require.Contains(t, b.body, `name="ask.configured" value="must" checked`)
	require.Contains(t, b.body, `name="ask.arrived" value="off" checked`)
	require.Contains(t, b.body, `value="House rule 7"`)
	desk := s.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	desk.get("/settings/counter")
	require.Equal(t, http.StatusForbidden, desk.status)
}
