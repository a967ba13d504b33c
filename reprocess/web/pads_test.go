package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// electrodes enters a lot of electrodes and gives its id.
func (c *clinic) electrodes(number string) string {
	c.t.Helper()
	return c.must(reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotElectrodes, Name: "Pads",
		Number: number}}).Events[0].Event.(reprocess.LotSet).ID
}

// Which electrodes went along is asked wherever a kit goes out, may stay unsaid, and stands in the
// loan, in the history and on the list of a stopped lot.
func TestElectrodesAtTheWardAndTheSwap(t *testing.T) {
	c := newClinic(t)
	c.must(reprocess.SetCounter{Counter: reprocess.Counter{Wards: []reprocess.Ward{{Name: "Ward 4"}}}})
	c.release()
	first := c.kit
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get(c.desk("ward"))
	require.NotContains(t, b.body, `name="pads"`, "no lot is entered")
	a1, a2 := c.electrodes("A1"), c.electrodes("A2")
	b.get(c.desk("ward"))
	require.Contains(t, b.body, `name="pads" value="" checked`, "nothing is said for anybody")
	b.post(c.desk("ward"), "ward", "Ward 4", "days", "7", "checks", "all", "pads", c.cells)
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "This lot is no electrodes.")
	b.post(c.desk("ward"), "ward", "Ward 4", "days", "7", "checks", "all", "pads", a1)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(c.desk("loan"))
	require.Contains(t, b.body, "Electrodes that went along")
	require.Contains(t, b.body, "Pads, lot A1")
	b.get(c.desk("worn"))
	require.Contains(t, b.body, "Those that came with it, or not told")
	b.post(c.desk("worn"), "reference", "W-1")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get("/lot/" + a1 + "/reach")
	require.Contains(t, b.body, "Kit 17, due")
	b.get(c.desk("ward-back"))
	b.post(c.desk("ward-back"), "told", "not_known")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)

	c.another("19", 40)
	c.release()
	b.still("dana")
	at := deskAt(first) + "/swap"
	b.get(at + "?to=" + c.kit)
	require.Contains(t, b.body, "Which electrodes go along?")
	b.post(at, "to", c.kit, "days", "5", "fault", "yes", "recording", "arrived", "worn", "1",
		"came", c.world().Kits[first].Pieces[0], "came", c.world().Kits[first].Pieces[1],
		"pads", a2, "checks", "all")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, a2, c.world().Loans[c.world().Kits[c.kit].Loan].Pads)
	c.bench.still("ben")
	for kit, words := range map[string]string{c.kit: "electrodes: Pads, lot A2",
		first: "electrodes: Pads, lot A1"} {
		c.bench.get("/kit/" + kit + "/history")
		require.Contains(t, c.bench.body, words)
	}
}

// A sheet has room for what was measured with and which electrodes went along, and both are
// entered from it; neither has to be.
func TestOptionalFactsFromPaper(t *testing.T) {
	c := newClinic(t)
	lot := c.electrodes("A1")
	c.release()
	c.clock.step(time.Hour)
	c.bench.still("ben")
	c.bench.get("/paper/sheet/" + c.kit)
	require.Contains(t, c.bench.body, "Measured with, its number")
	c.bench.get("/paper/released")
	require.Contains(t, c.bench.body, "electrodes’ lot")
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get(c.path("paper"))
	require.Contains(t, b.body, "Which electrodes go along?")
	b.post(c.path("paper"), "what", "out", "day", "2026-11-24", "time", "14:30", "by", c.idOf("dana"),
		"days", "7", "told", "none", "reference", "A-1044", "pads", lot)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, lot, c.world().Loans[c.world().Kits[c.kit].Loan].Pads)

	c.another("18", 20)
	c.toDrying()
	c.clock.step(time.Hour)
	b = c.competent("Cora Clerk", "cora", reprocess.RoleReprocessing)
	sha := c.sheetKept(b)
	at := c.clock.Now().UTC.Time().Add(-10 * time.Minute)
	step := func(name string, pairs ...string) {
		t.Helper()
		at = at.Add(time.Minute)
		c.enter(b, sha, name, at.Format("15:04"), pairs...)
	}
	step("drying", "a-dry", "yes")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	step("inspection", "a-sound", "yes")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(c.path("paper") + "?sheet=" + sha)
	require.Contains(t, b.body, "Measured with, by its number")
	step("battery", "a-cell", c.cells, "a-latched", "yes", "a-charge", "93", "a-cell_mv", "1.58 V",
		"instrument", "DMM-3")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	for _, box := range c.newest(reprocess.ActPaper).Events {
		if ev, ok := box.Event.(reprocess.StepRecorded); ok {
			require.Equal(t, "DMM-3", ev.Record.Instrument)
		}
	}
	b.get(c.path("history"))
	require.Contains(t, b.body, "measured with DMM-3")
}
