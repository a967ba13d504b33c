package web

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// page opens the kit for somebody.
func (c *clinic) page(b *browser) string {
	c.t.Helper()
	b.get(c.path())
	require.Equal(c.t, http.StatusOK, b.status, b.body)
	return b.body
}

// wiped brings the kit to drying.
func (c *clinic) wiped() {
	c.t.Helper()
	c.page(c.bench)
	c.bench.tap("Both: whole")
	c.bench.tap("Both: visibly clean")
	c.bench.tap("Both are wet now")
	c.clock.step(60 * time.Second)
	c.bench.tap("Yes, both still look wet")
}

// packed brings the kit to its release.
func (c *clinic) packed() {
	c.t.Helper()
	c.wiped()
	c.bench.tap("Both: fully dry")
	c.bench.tap("Both: seals")
	c.bench.tap("New cell from LR03", "a-charge", "80")
	c.bench.tap("Both: last assignment")
	c.bench.tap("Recorder: bench source")
	c.bench.tap("Kit complete", "a-label", strings.ToLower(c.codeP[:4]+"-"+c.codeP[4:]))
}

// released signs it as well.
func (c *clinic) released() {
	c.t.Helper()
	c.packed()
	c.bench.get(c.path("release"))
	c.bench.tap("Release kit 17", "secret", testSecret)
	require.Contains(c.t, c.bench.body, `class="state released"`)
}

// Every usual answer has words of its own, so that no button says less than it records.
func TestUsualAnswersHaveWords(t *testing.T) {
	for _, step := range reprocess.Steps() {
		for _, kind := range reprocess.Kinds() {
			for _, a := range reprocess.Asks(step.ID, kind) {
				if a.Kind == reprocess.AskChoice && a.When == "" {
					require.Equal(t, reprocess.EffectOK, a.Choices[0].Effect, a.ID)
					require.Contains(t, usualWords, a.ID+"="+a.Choices[0].Value)
				}
				require.NotContains(t, a.ID, " ")
				for _, c := range a.Choices {
					require.NotContains(t, c.Value, " ", "the values of a button are split at spaces")
				}
			}
		}
		if step.ID != reprocess.StepDisinfection && step.ID != reprocess.StepRelease {
			require.NotEmpty(t, questions[step.ID], step.ID)
		}
	}
}

// Each step has its caution, of two lines at most on a narrow phone, and the list ends with the
// maker's word.
func TestCautions(t *testing.T) {
	for _, step := range reprocess.Steps() {
		words := cautionAt(step)
		require.NotEmpty(t, words, step.ID)
		require.LessOrEqual(t, len(words), 76, step.ID)
	}
	c := newClinic(t)
	c.bench.get("/cautions")
	require.Equal(t, len(cautions), strings.Count(c.bench.body, "<li>")-strings.Count(c.bench.body, `<li><a href`))
	require.Contains(t, c.bench.body, "Follow the device maker’s instructions and your local policy.")
}

// Something else: one piece only, an answer that puts it on hold; the other track goes on, and
// packing waits for both.
func TestOnePieceOnHoldAndTheOtherGoesOn(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	b.get(c.path() + "?full=1")
	b.tap("Record it", "for", c.phone, "a-condition", "cracked")
	require.Contains(t, b.body, "On hold now: housing cracked.")
	require.Contains(t, b.body, "Phone is on hold: housing cracked.")
	require.Contains(t, b.body, "on hold: housing cracked")
	b.tap("Recorder: whole")
	b.tap("Recorder: visibly clean, no water standing, cable")
	b.tap("Recorder is wet now")
	c.clock.step(time.Minute)
	b.tap("Yes, it still looks wet")
	b.tap("Recorder: fully dry")
	b.tap("Recorder: seals")
	b.tap("Recorder: new cell")
	b.tap("Recorder: last assignment ended")
	b.tap("Recorder: bench source")
	require.Contains(t, b.body, "kit complete, when the other piece is there too")
	require.NotContains(t, b.body, "bag sealed")
}

// The scanned piece is asked first, the other one is a line that leads on.
func TestScannedPieceComesFirst(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	b.get(c.path() + "?full=1")
	b.tap("Record it", "for", c.phone, "a-condition", "whole")
	require.Contains(t, b.body, "Phone: visibly clean", "the page goes on with the piece in hand")
	require.Contains(t, b.body, "Go on with the recorder")
	b.get(c.path() + "?piece=" + c.recorder)
	require.Contains(t, b.body, "Recorder: whole")
	require.Contains(t, b.body, "Go on with the phone")
	b.get(c.path())
	require.Contains(t, b.body, "Recorder: whole", "otherwise the earlier step")
}

// After a loan nobody knows where the recording is: the receipt asks it, in one tap, and the
// old cell stays in while it is on the device. What erases is refused until it is safe.
func TestRecordingIsAskedAndKept(t *testing.T) {
	c := newClinic(t)
	c.released()
	c.must(reprocess.HandOut{Kit: c.kit, Wearer: "w", Days: 3})
	require.Contains(t, c.page(c.bench), "It is out, due back")
	require.Contains(t, c.bench.body, "Take back")
	c.must(reprocess.TakeBack{Kit: c.kit})
	b := c.bench
	c.page(b)
	require.Contains(t, b.body, "last wearer&#39;s recording?")
	require.Contains(t, b.body, "Your tap also says: Both: whole, nothing unusual.")
	require.Contains(t, b.body, "It has arrived; old cell out, door closed")
	require.NotContains(t, b.body, "Still on the device; old cell out")
	b.tap("Still on the device; the old cell stays in")
	require.NotContains(t, b.body, `role="alert"`)
	b.tap("Both: visibly clean")
	b.tap("Both are wet now")
	c.clock.step(time.Minute)
	b.tap("Yes, both")
	b.tap("Both: fully dry")
	b.tap("Both: seals")
	b.tap("New cell", "a-charge", "50")
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "nothing may be erased")
	require.Contains(t, b.body, `value="50"`, "what was typed stays")
	b.get(c.path("recording"))
	b.tap("Say where the last recording is", "status", "arrived")
	require.Contains(t, b.body, "Where the recording is stands now.")
	b.tap("New cell", "a-charge", "50")
	require.NotContains(t, b.body, `role="alert"`)
}

// Refusals of forms: a wrong code, a number out of range, a step whose turn it is not.
func TestStepRefusals(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	c.page(b)
	b.post(c.path("step"), "step", "drying", "piece", c.recorder, "a-dry", "yes")
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "First look comes before let it dry.")
	c.page(b)
	b.post(c.path("step"), "step", "no-such", "a-dry", "yes")
	require.Equal(t, http.StatusBadRequest, b.status)
	c.wiped()
	b.tap("Both: fully dry")
	b.tap("Both: seals")
	b.tap("New cell", "a-charge", "101")
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, "Type a whole number from 0 to 100.")
	c.page(b)
	b.tap("New cell", "a-charge", "100")
	b.tap("Both: last")
	b.tap("Recorder: bench")
	b.tap("Kit complete", "a-label", "7M2N")
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, "Scan it again")
	c.page(b)
	b.tap("Kit complete", "a-label", labelCode(t, 44))
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "This label is not one of ours.")
}

// The front desk sees how the kit stands and what it may do, and no step.
func TestRolesOnTheKitPage(t *testing.T) {
	c := newClinic(t)
	desk := c.person("Dora Desk", "dora", reprocess.RoleFrontDesk)
	c.page(desk)
	require.NotContains(t, desk.body, "/step")
	require.Contains(t, desk.body, "The bench goes on with it.")
	require.NotContains(t, desk.body, "/decision")
	desk.post(c.path("step"), "step", "receipt")
	require.Equal(t, http.StatusForbidden, desk.status)
	desk.get(c.path("release"))
	require.Equal(t, http.StatusForbidden, desk.status)
	c.released()
	require.Contains(t, c.page(desk), "Hand out")
	auditor := c.person("Al Audit", "al", reprocess.RoleAuditor)
	require.Contains(t, c.page(auditor), "There is nothing for you to do here now.")
	require.Contains(t, auditor.body, "What happened to it")
	require.NotContains(t, auditor.body, "/hold")
}

// P17: the same person, within two minutes, nothing later: 120 s is in, 121 s is out.
func TestUndoForTwoMinutes(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	other := c.competent("Ola Other", "ola", reprocess.RoleReprocessing)
	c.page(b)
	b.tap("Both: whole")
	require.Contains(t, b.body, "Tapped by mistake: Looked at on receipt")
	require.NotContains(t, c.page(other), "Tapped by mistake")
	c.clock.step(120 * time.Second)
	require.Contains(t, c.page(b), "Tapped by mistake")
	c.clock.step(time.Second)
	require.NotContains(t, c.page(b), "Tapped by mistake")
	b.tap("Both: visibly clean")
	b.tap("Tapped by mistake: Cleaned")
	require.Contains(t, b.body, "Taken back: tapped by mistake.")
	require.Contains(t, b.body, "Both: visibly clean")
	b.get(c.path("history"))
	require.Contains(t, b.body, "<s><p>Cleaned, visibly clean, no water standing.</p></s>")
}

// Every event that can stand in a kit's history is told in words; what is about no kit is not.
func TestEveryEventOfAKitHasWords(t *testing.T) {
	none := map[string]bool{"settings_set": true, "person_set": true, "model_set": true,
		"procedure_approved": true, "product_set": true, "lot_set": true, "secret_set": true,
		"phone_enrolled": true, "phone_revoked": true, "lot_stopped": true, "lot_lifted": true,
		"lot_ended": true, "lot_resumed": true, "container_reopened": true, "strength_read": true, "container_opened": true, "container_closed": true, "foreign_item": true,
		"warning_noted": true, "legal_hold_lifted": true,
		"height_learnt": true, "exported": true, "roll_called": true,
		"sample_drawn": true, "sample_read": true,
		"pass_read": true, "pass_used": true, "turned_away": true}
	data := map[string]string{"step_recorded": `{"record":{"kind":"seen_dry"}}`}
	w := reprocess.NewWorld()
	for _, name := range reprocess.EventNames() {
		if data[name] == "" {
			data[name] = "{}"
		}
		var b reprocess.Box
		require.NoError(t, json.Unmarshal([]byte(`{"event":"`+name+`","data":`+data[name]+`}`), &b), name)
		words, _ := eventWords(w, b.Event)
		if !none[name] {
			require.NotEmpty(t, words, "%s stands in a history without words", name)
		}
		e := &reprocess.Entry{Act: reprocess.ActStep, Events: []reprocess.Box{b}}
		require.NotEmpty(t, entryWords(w, e)[0], name)
	}
}

// Where a model can export its test recording, one tap does not call it usable.
func TestExportingModelsAreNotWavedThrough(t *testing.T) {
	c := newClinic(t)
	w, err := c.store.SetUp(context.Background())
	require.NoError(t, err)
	m := *w.Models[c.models[0]]
	m.Export = true
	c.must(reprocess.SetModel{Model: m})
	c.wiped()
	b := c.bench
	b.tap("Both: fully dry")
	b.tap("Both: seals")
	b.tap("New cell", "a-charge", "80")
	b.tap("Both: last")
	require.NotContains(t, b.body, "Recorder: bench source, test recording arrived")
	b.get(c.path() + "?full=1")
	b.tap("Record it", "a-worn_by", "bench", "a-signal", "usable", "a-memory", "yes")
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "Upload the test recording")
}

// A kit's page stays far below the 50 kB of a first view.
func TestKitPageIsLight(t *testing.T) {
	c := newClinic(t)
	for range 12 {
		c.must(reprocess.OpenContainer{Lot: c.lot})
	}
	c.page(c.bench)
	c.bench.tap("Both: whole")
	c.bench.tap("Both: visibly clean")
	require.Contains(t, c.bench.body, "More containers that suit")
	require.Less(t, len(c.bench.body), 16_000)
}

// What was told at the return stands at the first look; skin trouble is asked further.
func TestWhatWasToldAtTheReturn(t *testing.T) {
	c := newClinic(t)
	c.released()
	c.must(reprocess.HandOut{Kit: c.kit, Wearer: "w", Days: 3, Flags: []string{"c-difficile"}})
	c.must(reprocess.TakeBack{Kit: c.kit, Return: reprocess.Return{Skin: "yes", Fault: "no"}})
	b := c.bench
	c.page(b)
	require.Contains(t, b.body, "Precautions told: C. difficile.")
	require.Contains(t, b.body, "Alcohol does not kill spores")
	require.Contains(t, b.body, "Told at the return: skin trouble.")
	require.NotContains(t, b.body, "Told at the return: a fault.")
	require.Contains(t, b.body, "Redness under an electrode")
	require.Contains(t, b.body, "Record it", "two open questions need the whole form")
	b.tap("Record it", "for", "both", "a-condition", "whole", "a-recording", "arrived",
		"a-old_cell", "yes", "a-skin", "redness")
	require.Contains(t, b.body, "Recorded: Looked at on receipt")
	b.tap("Both: visibly clean")
	require.Contains(t, b.body, "No open container suits.", "no claim covers what was told")
}
