package web

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// A maker's list from the letter to the call list.
func TestAMakersList(t *testing.T) {
	c := newClinic(t)
	c.handedOut()
	out := c.kit
	serial := c.world().Pieces[c.recorder].Serial
	c.another("20", 60)
	lot := c.world().Containers[c.tub].Lot
	ina := c.person("Ina Control", "ina", reprocess.RoleInfection)
	ina.get("/affected")
	require.Equal(t, http.StatusOK, ina.status, ina.body)
	lists := []string{"ref", "Letter of 20 Nov", "serials",
		serial + "\nR-19..R-20\nall of batch seven\n9999", "lots", c.world().Lots[lot].Number + ", Z9"}
	ina.post("/affected", lists...)
	require.Equal(t, http.StatusOK, ina.status, ina.body)
	for _, says := range []string{"Letter of 20 Nov: 2 pieces and 1 lot of ours.",
		"recorder " + serial, "recorder R-20", "Not understood", "all of batch seven", "Line 3.",
		"9999", "Nothing of ours.", "Z9", "out, due 1 Dec 2026"} {
		require.Contains(t, strings.ToLower(ina.body), strings.ToLower(says))
	}
	require.Zero(t, c.count(reprocess.ActWarning, reprocess.ResultDone), "nothing is kept yet")

	ina.post("/affected/sign", lists...)
	require.Equal(t, http.StatusForbidden, ina.status)
	require.Contains(t, ina.body, "This has to be signed.")
	require.Contains(t, ina.body, "all of batch seven\n9999", "what was typed stays")
	require.Zero(t, c.count(reprocess.ActWarning, reprocess.ResultDone))
	ina.post("/affected/sign", append(lists, "secret", testSecret)...)
	require.Equal(t, http.StatusSeeOther, ina.status, ina.body)
	at := ina.header.Get("Location")
	w := c.world()
	require.NotNil(t, w.Lots[lot].Stopped)
	require.Contains(t, w.Lots[lot].Stopped.Reason, "Letter of 20 Nov")
	require.Equal(t, reprocess.Quarantined, w.Pieces[c.recorder].State, "in the house: now")
	gone := w.Pieces[w.Kits[out].Pieces[0]]
	require.Equal(t, reprocess.Issued, gone.State)
	require.Len(t, gone.Holds, 1, "out: as soon as it comes back")
	require.Equal(t, 2, c.count(reprocess.ActWarningHold, reprocess.ResultDone))

	ina.get(at)
	require.Contains(t, ina.body, "Call: pieces that are out")
	require.Contains(t, ina.body, "all of batch seven", "the kept list forgets nothing")
	require.Contains(t, ina.body, "Line 3.")
	require.Contains(t, ina.body, "Call: kits out that these lots touched")
	require.Contains(t, ina.body, "due 1 Dec 2026")
	require.NotContains(t, ina.body, "A-1044", "no wearer")
	require.NotContains(t, ina.body, "Hold these too")

	// A piece that is registered later is found by the kept list.
	c.another("19", 80)
	ina.get(at)
	require.Contains(t, ina.body, "Hold these too")
	ina.post(at, "x", "y")
	require.Equal(t, http.StatusForbidden, ina.status)
	ina.get(at)
	ina.post(at, "secret", testSecret)
	require.Equal(t, http.StatusSeeOther, ina.status, ina.body)
	require.Equal(t, reprocess.Quarantined, c.world().Pieces[c.recorder].State)
	ina.get("/affected/kept")
	require.Contains(t, ina.body, `href="`+at+`"`)
	ina.get("/affected/1")
	require.Equal(t, http.StatusNotFound, ina.status)

	c.bench.still("ben")
	c.bench.get("/affected")
	require.Equal(t, http.StatusForbidden, c.bench.status)
	ina.get("/affected")
	ina.post("/affected", "ref", "x", "serials", strings.Repeat("1", 20001))
	require.Equal(t, http.StatusBadRequest, ina.status)
	require.Contains(t, ina.body, fmt.Sprintf("%d fit", 20000))
}
