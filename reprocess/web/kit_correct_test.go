package web

import (
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

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
	require.Contains(t, b.body, "It is stopped")
	require.Contains(t, b.body, "by Ben Bench: after a correction: crack found at inspection")
	b.get("/kit/" + c.kit + "/history")
	require.Contains(t, b.body, "topped: after a correction: crack found at inspection")
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
	require.Contains(t, ina.text(), "by Ina Control: weak tub")
	require.NotContains(t, ina.text(), "Ask infection control", "it is she who is asked")
	require.Regexp(t, `class="act" href="/kit/`+c.kit+`/stop-end"`, ina.body)
	c.bench.get("/kit/" + c.kit)
	require.Contains(t, c.bench.text(), "by Ina Control: weak tub")
	require.Contains(t, c.bench.text(), "Ask infection control")
	require.NotContains(t, c.bench.body, "stop-end")
	ina.get("/kit/" + c.kit + "/stop-end")
	require.Contains(t, ina.text(), "by Ina Control: weak tub", "who ends it reads why it began")
	ina.done("/kit/"+c.kit+"/stop-end", "/kit/"+c.kit+"/stop-end", "reason", "another tub",
		"secret", testSecret)
	ina.get("/kit/" + c.kit)
	require.Contains(t, ina.body, "It has not been reprocessed since it came back.")
	require.NotContains(t, ina.text(), "weak tub")
}

// TestACorrectionOfAnOlderCycleOnThePage: after the kit was worn, taken back and released again,
// its first cycle is corrected; the kit stays released, and whoever looks back finds the wearer.
func TestACorrectionOfAnOlderCycleOnThePage(t *testing.T) {
	c := newClinic(t)
	desk := c.handedOut()
	loan := c.newest(reprocess.ActIssue).Events[0].Event.(reprocess.HandedOut).ID
	first := c.world().Cycles[c.world().Pieces[c.recorder].Cycle]
	c.clock.step(48 * time.Hour)
	c.act(reprocess.TakeBack{Kit: c.kit, Return: reprocess.Return{Skin: "no", Fault: "no", Missing: "no"}})
	c.release()
	require.NotEqual(t, first.ID, c.world().Pieces[c.recorder].Cycle)
	var path string
	for _, r := range first.Records {
		if r.Kind == reprocess.RecLooksWet {
			path = fmt.Sprintf("/kit/%s/correct/%d", c.kit, r.Seq)
		}
	}
	b := c.bench
	b.signIn("ben", testSecret)
	b.get("/kit/" + c.kit + "/history")
	require.Contains(t, b.body, `href="`+path+`"`)
	b.get(path)
	require.Contains(t, b.text(), "a newer one was begun since, so nothing is stopped")
	b.done(path, path, "reason", "nobody looked", "secret", testSecret)
	b.get("/kit/" + c.kit)
	require.Contains(t, b.text(), "The release of that time no longer passes")
	desk.signIn("dana", testSecret)
	desk.get(c.desk())
	require.NotContains(t, desk.body, "Not released")
	seq := c.newest(reprocess.ActCorrect).Seq

	a := c.auditor()
	a.get("/lookback")
	require.Contains(t, a.text(), "Releases that no longer pass after a correction")
	link := regexp.MustCompile(`/lookback\?[^"]*piece=[^"]*`).FindString(a.text())
	a.get(link)
	require.Contains(t, a.text(), "1 cycle affected, 1 loan exposed")
	require.Contains(t, a.body, loan)
	a.get(fmt.Sprintf("/trail/%d", seq))
	require.Contains(t, a.text(), "Corrects entry ")
	require.Contains(t, a.text(), "Who wore it on that release?")
	require.Contains(t, a.text(), "no longer passes")
	a.get("/trail/" + path[strings.LastIndex(path, "/")+1:])
	require.Contains(t, a.text(), fmt.Sprintf("Corrected by entry %d", seq))
}

// TestAKitThatIsCalledBackSaysWhy: it is with a wearer, so the desk reads why it is to come back.
func TestAKitThatIsCalledBackSaysWhy(t *testing.T) {
	c := newClinic(t)
	desk := c.handedOut()
	ina := c.person("Ina Control", "ina", reprocess.RoleInfection)
	ina.done("/kit/"+c.kit+"/stop", "/kit/"+c.kit+"/stop", "reason", "weak tub", "secret", testSecret)
	desk.get("/kit/" + c.kit)
	require.Contains(t, desk.text(), "It is being called back.")
	require.Regexp(t, `Called back \d\d:\d\d by Ina Control: weak tub`, desk.text())
	ina.done("/kit/"+c.kit+"/stop-end", "/kit/"+c.kit+"/stop-end", "reason", "another tub",
		"secret", testSecret)
	desk.get("/kit/" + c.kit)
	require.NotContains(t, desk.text(), "weak tub")
}
