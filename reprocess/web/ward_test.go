package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// atWard hands kit 17 to Ward 4 by the page.
func atWard(t testing.TB) (*clinic, *browser) {
	t.Helper()
	c := newClinic(t)
	c.must(reprocess.SetCounter{Counter: reprocess.Counter{
		Wards: []reprocess.Ward{{Name: "Ward 4", Ring: "ext. 2140"}}}})
	c.release()
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get(c.desk())
	require.Contains(t, b.body, "A ward keeps it")
	b.get(c.desk("ward"))
	b.post(c.desk("ward"), "ward", "Ward 4", "days", "7", "checks", "all")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(c.desk("loan"))
	require.Contains(t, b.body, "ext. 2140")
	require.Contains(t, b.body, `href="`+c.desk("worn")+`"`, "the next thing on the ward is one tap away")
	return c, b
}

func TestAWardAndItsWearer(t *testing.T) {
	c, b := atWard(t)
	b.get(c.desk())
	require.Contains(t, b.body, "Somebody wears it on Ward 4")
	for why, pairs := range map[string][]string{"never a name": {"reference", "Mrs Smith"},
		"The time cannot be read":    {"reference", "W-1", "out", "noon"},
		"is before the ward got it":  {"reference", "W-1", "out", "2026-11-20T08:00"},
		"is still to come":           {"reference", "W-1", "out", "2027-11-20T08:00"},
		"and none is ticked":         {"reference", "W-1", "told", "some"},
		"without spaces":             {"reference", ""},
		"no answer about precaution": {"reference", "W-1", "told", "perhaps"}} {
		b.get(c.desk("worn"))
		b.post(c.desk("worn"), pairs...)
		require.Equal(t, http.StatusBadRequest, b.status, "%s: %s", why, b.body)
		require.Contains(t, b.body, why)
	}
	b.get(c.desk("worn"))
	b.post(c.desk("worn"), "reference", "W-1", "told", "some", "flag", "respiratory")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	ref, err := c.reference(c.world().Kits[c.kit].Loan)
	require.NoError(t, err)
	require.Equal(t, "W-1", ref)
	b.get(c.desk("worn"))
	b.post(c.desk("worn"), "reference", "W-2")
	require.Equal(t, http.StatusConflict, b.status)
	b.get(c.desk("ward-back"))
	b.post(c.desk("ward-back"), "told", "not_known")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(c.desk("ward-back"))
	b.post(c.desk("ward-back"), "told", "not_known")
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "Nobody is recorded as wearing kit 17 on Ward 4.")

	b.get(c.desk("worn"))
	b.post(c.desk("worn"), "reference", "W-2")
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "was worn on Ward 4 and not reprocessed since")
	b.get(c.desk())
	require.Contains(t, b.body, `href="`+c.desk("after")+`"`, "the way to record it is shown")
	b.get(c.desk("after"))
	b.post(c.desk("after"), "reason", "the next bed", "reference", "W-2", "secret", testSecret)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.True(t, c.world().Loans[c.world().Kits[c.kit].Loan].After)
	c.bench.still("ben")
	c.bench.get("/kit/" + c.kit + "/history")
	require.Contains(t, c.bench.body, "without reprocessing in between")

	b.get(c.desk("back"))
	require.Contains(t, b.body, "Worn by how many on Ward 4?")
	b.post(c.desk("back"), "worn", "1")
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, "2 wearers of it are recorded on Ward 4")
	b.post(c.desk("back"), "worn", "2")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(c.desk("receipt"))
	require.Contains(t, b.body, "On the ward worn by 2.")
}

// What was not asked at the counter waits for infection control, and is told afterwards.
func TestWornIsAskedAndToldAfterwards(t *testing.T) {
	c, b := atWard(t)
	b.get("/take-in")
	b.post("/take-in", "find", "17", "place", "dirty box")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, "infection_control", c.world().Kits[c.kit].Waiting[0].Reason)
	b.get(c.desk())
	require.Contains(t, b.body, "Say by how many it was worn on Ward 4")
	b.get(c.desk("worn-by"))
	b.post(c.desk("worn-by"), "worn", "not_asked")
	require.Equal(t, http.StatusBadRequest, b.status)
	b.post(c.desk("worn-by"), "worn", "0")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(c.desk("worn-by"))
	b.post(c.desk("worn-by"), "worn", "0")
	require.Equal(t, http.StatusConflict, b.status)
}

// The list of what is overdue says which ward has it and whom to ring.
func TestAnOverdueWardIsRung(t *testing.T) {
	c, b := atWard(t)
	c.clock.step(8 * 24 * time.Hour)
	b.still("dana")
	b.get("/overdue")
	require.Contains(t, b.body, "1 day over. Not called yet. On Ward 4: ring ext. 2140.")
	require.NotContains(t, b.body, "Look up the wearer", "the ward is no wearer")
	b.get(c.desk("worn"))
	b.post(c.desk("worn"), "reference", "W-1")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get("/overdue")
	require.Contains(t, b.body, "On Ward 4: ring ext. 2140.")
	require.Contains(t, b.body, "Look up the wearer")
	c.must(reprocess.SetCounter{})
	b.get("/overdue")
	require.Contains(t, b.body, "On Ward 4; whom to ring there is not entered.")
}

func TestHandingToAWardIsRefused(t *testing.T) {
	c := newClinic(t)
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get(c.desk("ward"))
	require.Equal(t, c.desk(), b.header.Get("Location"), "it is not released")
	c.release()
	b.get(c.desk())
	require.NotContains(t, b.body, "A ward keeps it", "no ward is entered")
	b.get(c.desk("ward"))
	require.Contains(t, b.body, "No ward is entered yet.")
	for why, pairs := range map[string][]string{"No ward is chosen.": {"days", "7", "checks", "all"},
		"is not a ward of the list": {"ward", "Ward 9", "days", "7", "checks", "all"},
		"cannot be read":            {"ward", "Ward 9", "days", "", "checks", "all"}} {
		b.get(c.desk("ward"))
		b.post(c.desk("ward"), pairs...)
		require.Equal(t, http.StatusBadRequest, b.status, "%s: %s", why, b.body)
		require.Contains(t, b.body, why)
	}
}
