package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// pairWanted lets the recorder's procedure ask for the pair, and brings kit 17 to its packing.
func (c *clinic) pairWanted() {
	c.t.Helper()
	proc := fullProcedure(c.models[0], reprocess.Recorder)
	proc.PairScan = true
	c.must(reprocess.ApproveProcedure{Procedure: proc})
	c.compete("ben", false)
	c.toTest()
	c.as(c.bench, reprocess.RecordStep{Kit: c.kit, Pieces: []string{c.recorder},
		Step: reprocess.StepFunction, Answers: []reprocess.Answer{{Ask: "worn_by", Value: "bench"},
			{Ask: "signal", Value: "usable"}, {Ask: "memory", Value: "yes"}}})
}

// The recorder's label, then the phone's: each is asked by a page of its own, a wrong one is
// refused in a sentence, and only the second records anything.
func TestThePairIsReadBeforePacking(t *testing.T) {
	c := newClinic(t)
	c.pairWanted()
	b := c.bench
	b.get(c.path())
	require.Contains(t, b.body, "Scan recorder and phone as a pair")
	require.NotContains(t, b.body, "Kit complete?", "it is not packed before")
	b.post(c.path("step"), "step", "packing", "piece", c.recorder, "piece", c.phone, "answers",
		"complete=yes sealed=yes label="+c.codeR)
	require.Equal(t, http.StatusUnprocessableEntity, b.status, b.body)
	require.Contains(t, b.body, "were not scanned as a pair")

	at := c.path("pair")
	b.get(at)
	require.Contains(t, b.body, "Label of the recorder")
	b.refused("This is the label of the phone.", at, at, "find", c.codeP)
	b.refused("Scan it again", at, at, "find", "12")
	b.refused("not one of ours", at, at, "find", labelCode(t, 77))
	require.Equal(t, at+"?recorder="+c.codeR, b.done(at, at, "find", c.codeR))
	b.get(at + "?recorder=" + c.codeR)
	require.Contains(t, b.body, "Recorder R-0017: its label was read, its own cycle is finished.")
	require.Contains(t, b.body, "Label of the phone")
	two := at + "?recorder=" + c.codeR
	require.Zero(t, c.count(reprocess.ActPair, reprocess.ResultDone), "nothing is recorded by one label")
	b.refused("This is the label of the recorder.", two, at, "recorder",
		c.codeR, "find", c.codeR)
	require.Contains(t, b.body, `name="recorder" value="`+c.codeR+`"`, "the first stays read")
	b.done(two, at, "recorder", c.codeR, "find", c.codeP)
	require.Equal(t, 1, c.count(reprocess.ActPair, reprocess.ResultDone))
	b.get(c.path())
	require.Contains(t, b.body, "Recorder and phone scanned as a pair by Ben Bench")
	require.Contains(t, b.body, "Kit complete?")
	b.get(c.path("history"))
	require.Contains(t, b.body, "ecorder and phone scanned as a pair, each with its own cycle finished")
	b.get(at + "?recorder=" + c.codeP)
	require.Contains(t, b.body, "This is the label of the phone.")
}

// A supervisor says in the procedure that the pair is wanted; a first version begins with it.
func TestTheProcedureSaysThatThePairIsWanted(t *testing.T) {
	c := newClinic(t)
	boss := c.person("Sue Super", "sue", reprocess.RoleSupervisor)
	boss.get("/procedures/" + c.models[0])
	require.Contains(t, boss.body, "need not be scanned as a pair")
	boss.get("/procedures/" + c.models[0] + "/next")
	require.Contains(t, boss.body, `name="pair_scan"`)
	boss.get("/procedures/" + c.models[1] + "/next")
	require.NotContains(t, boss.body, `name="pair_scan"`)
	w, err := c.store.SetUp(boss.ctx())
	require.NoError(t, err)
	m := &reprocess.Model{ID: "new", Kind: reprocess.Recorder}
	require.True(t, draftOf(w, m).PairScan)
	require.False(t, draftOf(w, w.Models[c.models[0]]).PairScan)
}
