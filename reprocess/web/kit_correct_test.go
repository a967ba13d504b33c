package web

import (
	"fmt"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestACorrectionOnThePage: from the history to the form, refused without a reason, signed, and
// both the old and the new stay readable.
func TestACorrectionOnThePage(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.bench
	b.get("/kit/" + c.kit + "/history")
	seq := c.newestStep(reprocess.StepInspection)
	path := fmt.Sprintf("/kit/%s/correct/%d", c.kit, seq)
	require.Contains(t, b.body, `href="`+path+`"`)
	b.get(path)
	require.Contains(t, b.body, "What is right? Kit 17, recorder")
	require.Contains(t, b.body, "Correct it for the phone instead")
	b.post(path, "a-sound", "crack", "reason", "", "secret", testSecret)
	require.Equal(t, http.StatusBadRequest, b.status, b.body)
	require.Contains(t, b.body, "The reason is empty.")
	require.Regexp(t, `value="crack"[^>]* checked`, b.body, "what was chosen stays")
	b.post(path, "a-sound", "crack", "reason", "saw it in daylight", "secret", "wrong secret here")
	require.Equal(t, http.StatusForbidden, b.status)
	b.post(path, "a-sound", "crack", "reason", "saw it in daylight", "secret", testSecret)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get("/kit/" + c.kit)
	require.Contains(t, b.body, "Not released")
	require.Contains(t, b.body, "crack found at inspection")
	b.get("/kit/" + c.kit + "/history")
	require.Contains(t, b.body, "orrected: ")
	require.Contains(t, b.body, "saw it in daylight")
	require.Contains(t, b.body, "Inspected clean and dry", "the old words stay readable")
	b.get(path)
	require.Contains(t, b.body, "Kit 17, phone", "of the recorder it counts no more")
	b.get(fmt.Sprintf("/kit/%s/correct/%d", c.kit, 1))
	require.Equal(t, http.StatusNotFound, b.status)
}

// newestStep is the entry that recorded a step of the recorder last.
func (c *clinic) newestStep(step reprocess.StepID) int64 {
	c.t.Helper()
	w, err := c.store.KitWorld(c.t.Context(), c.kit)
	require.NoError(c.t, err)
	var seq int64
	for _, r := range w.Cycles[w.Pieces[c.recorder].Cycle].Records {
		if r.Step == step && !r.Undone {
			seq = r.Seq
		}
	}
	require.Positive(c.t, seq)
	return seq
}

// TestAWetTimeIsOnlyCorrectedAgainstItself: another container, or "it was dry already".
func TestAWetTimeIsOnlyCorrectedAgainstItself(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.bench
	w, err := c.store.KitWorld(t.Context(), c.kit)
	require.NoError(t, err)
	for _, r := range w.Cycles[w.Pieces[c.recorder].Cycle].Records {
		path := fmt.Sprintf("/kit/%s/correct/%d", c.kit, r.Seq)
		switch r.Kind {
		case reprocess.RecWetNow:
			b.get(path)
			require.Contains(t, b.body, "Which container was it?")
			b.post(path, "container", c.tub, "reason", "x", "secret", testSecret)
			require.Contains(t, b.body, "This is what is recorded already.")
		case reprocess.RecLooksWet:
			b.get(path)
			require.Contains(t, b.body, "it was dry already")
			b.done(path, path, "reason", "nobody looked", "secret", testSecret)
		}
	}
	b.get(c.desk())
	require.Contains(t, b.body, "Not released")
	require.Contains(t, b.body, "It is stopped")
}

// TestStoppingAKit by infection control, from its page, and the end of it.
func TestStoppingAKit(t *testing.T) {
	c := newClinic(t)
	c.release()
	ina := c.person("Ina Control", "ina", reprocess.RoleInfection)
	c.bench.get("/kit/" + c.kit + "/stop")
	require.Equal(t, http.StatusForbidden, c.bench.status)
	ina.done("/kit/"+c.kit+"/stop", "/kit/"+c.kit+"/stop", "reason", "weak tub", "secret", testSecret)
	ina.get("/kit/" + c.kit)
	require.Contains(t, ina.body, "It is stopped")
	require.Contains(t, ina.body, "End the stop or the call-back")
	ina.done("/kit/"+c.kit+"/stop-end", "/kit/"+c.kit+"/stop-end", "reason", "another tub",
		"secret", testSecret)
	ina.get("/kit/" + c.kit)
	require.Contains(t, ina.body, "It has not been reprocessed since it came back.")
}
