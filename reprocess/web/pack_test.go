package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/labels"
	"handback/reprocess"
)

// planned lets the recorder's model state what a kit is packed by: three electrodes every three
// days, two coin cells that last 120 h.
func (c *clinic) planned() {
	c.t.Helper()
	c.must(reprocess.SetModel{Model: reprocess.Model{ID: c.models[0], Name: "Model recorder",
		Kind: reprocess.Recorder, WearDays: 14, IFU: "booklet", Parts: []string{"lead set"},
		Cell: "CR2032", CellCount: 2, RunHours: 120, ElectrodeInterval: "3", PerSet: 3, UsualDays: 14}})
	c.must(reprocess.SetLot{Lot: reprocess.Lot{ID: c.cells, Kind: reprocess.LotCells, Name: "CR2032",
		Expiry: "2029-01-31"}})
}

// The plan of the electrode table for 14 days at 3 days (function-test reference, section 6):
// 5 sets and 1 spare, 18 electrodes, changes on days 3, 6, 9, 12.
func TestThePlanFromPackingToTheLongerLoan(t *testing.T) {
	c := newClinic(t)
	c.planned()
	c.toTest()
	b := c.bench
	for _, cmd := range []reprocess.Command{
		reprocess.RecordStep{Kit: c.kit, Pieces: []string{c.recorder}, Step: reprocess.StepFunction,
			Answers: []reprocess.Answer{{Ask: "worn_by", Value: "bench"}, {Ask: "signal", Value: "usable"},
				{Ask: "memory", Value: "yes"}}}} {
		c.as(b, cmd)
	}
	b.get(c.path())
	require.Contains(t, b.body, "Put in for 14 days: 18 electrodes: 6 sets of 3, 1 of them spare")
	require.Contains(t, b.body, "6 spare cells CR2032, all from one lot") // ceil(336×1.2/120)=4 sets
	c.as(b, reprocess.RecordStep{Kit: c.kit, Step: reprocess.StepPacking, Answers: []reprocess.Answer{
		{Ask: "complete", Value: "yes"}, {Ask: "sealed", Value: "yes"}, {Ask: "label", Value: c.codeR}}})
	b.get(c.path("release"))
	b.post(c.path("release"), "secret", testSecret)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	c.must(reprocess.SetSettings{Settings: reprocess.Settings{Site: "Test", Zone: "UTC",
		Contact: "555 0100", Hours: "Mon to Fri 8 to 16"}})
	desk := c.person("Dan Desk", "dan", reprocess.RoleFrontDesk)
	at := "/desk/kit/" + c.kit
	desk.get(at + "/out")
	require.Contains(t, desk.body, "In the bag for 14 days")
	require.Contains(t, desk.body, "call the emergency number at once")
	desk.post(at+"/out", "reference", "WEARER-2044", "days", "14", "told", "none",
		"checks", "all")
	require.Equal(t, http.StatusSeeOther, desk.status, desk.body)
	desk.get(at + "/loan")
	require.Contains(t, desk.body, "27 Nov 2026, 30 Nov 2026, 3 Dec 2026, 6 Dec 2026")
	require.Contains(t, desk.body, "28 Nov 2026, 2 Dec 2026, 6 Dec 2026", "the battery")
	desk.post(at+"/extend", "days", "15")
	desk.get(at + "/loan")
	require.Contains(t, desk.body, "Needed for 15 days")
	require.NotContains(t, desk.body, "6 Dec 2026, 9 Dec 2026", "five sets still do: 15/3")
	desk.post(at+"/extend", "days", "16")
	desk.get(at + "/loan")
	require.Contains(t, desk.body, "6 Dec 2026, 9 Dec 2026", "a sixth set from day 15 on")
	desk.get(at)
	require.Contains(t, desk.body, "Planned for 16 days: 24 electrodes, 6 spare cells CR2032.")
	require.Contains(t, desk.body, "Tap what is missing")
	require.Contains(t, desk.body, "Should come back: Recorder R-0017, phone F-0017, lead set; "+
		"what is left of 24 electrodes and 6 spare cells CR2032.")
	require.Contains(t, desk.body, "24 went along, 6 of them spare")
	require.Contains(t, desk.body, "6 went along; ask where they are, they are a danger to children")
	b.get("/labels/slip/" + c.kit)
	b.post("/labels/slip/"+c.kit, "due", "2026-12-10", "paper", "A4")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	at = "/labels/slip/" + c.kit
	b.get(at + "/slip.pdf?due=2026-12-10&paper=A4")
	require.True(t, strings.HasPrefix(b.body, "%PDF-"), b.body)
	b.get(at + "/print?due=2026-12-10")
	require.Equal(t, http.StatusOK, b.status, b.body)
	for _, says := range []string{"Kit 17", "Wed 9 Dec 2026", "Thu 10 Dec 2026", "Lead set",
		"Spare cells CR2032", "<strong>24</strong>", "555 0100, Mon to Fri 8 to 16",
		"If swallowed, call the emergency number at once.", "This paper is not proof."} {
		require.Contains(t, b.body, says)
	}
	require.NotContains(t, b.body, "WEARER-2044", "no reference of a wearer")
	// The counter prints it anew when the loan grows once more; the paper of before is refused.
	desk.post("/desk/kit/"+c.kit+"/extend", "days", "20")
	desk.get("/desk/kit/" + c.kit + "/loan")
	require.Contains(t, desk.body, `href="`+at+`"`)
	desk.get(at + "/print?due=2026-12-10")
	require.Equal(t, http.StatusConflict, desk.status)
	require.Contains(t, desk.body, "is due back on 14 Dec 2026, not on 10 Dec 2026")
	desk.get(at + "/slip.pdf?due=2026-12-10")
	require.Equal(t, http.StatusConflict, desk.status)
	desk.get(at)
	require.Contains(t, desk.body, "due=2026-12-14")
	desk.get(at + "/print?due=2026-12-14")
	require.Contains(t, desk.body, "Sat 12 Dec 2026", "the sixth change, 18 days after 24 Nov")
	require.Contains(t, desk.body, "Mon 14 Dec 2026")
	// Back again: each thing is tapped by itself, and the receipt holds it against the list.
	desk.post("/desk/kit/"+c.kit+"/back", "part", "lead set", "short", "cells", "left", "discarded")
	require.Equal(t, http.StatusSeeOther, desk.status, desk.body)
	desk.get("/desk/kit/" + c.kit + "/receipt")
	require.Contains(t, desk.body, "Spare cells.")
	require.Contains(t, desk.body, "What should have come")
	require.Contains(t, desk.body, "lead set; what is left of 27 electrodes and 8 spare cells CR2032.")
	require.Contains(t, desk.body, "left over, thrown away")
	b.get(c.path("history"))
	require.Contains(t, b.body, "missing: lead set; not back: spare cells; single-use parts "+
		"left over, thrown away")
}

// A slip that nobody made yet is made at the bench; the counter is told so.
func TestTheCounterIsToldWhoMakesTheFirstSlip(t *testing.T) {
	c := newClinic(t)
	desk := c.person("Dan Desk", "dan", reprocess.RoleFrontDesk)
	desk.get("/labels/slip/" + c.kit)
	require.Contains(t, desk.body, "has no slip yet")
	desk.get("/labels/slip/" + c.kit + "/print?due=2026-12-10")
	require.Equal(t, http.StatusNotFound, desk.status)
}

// A box of other cells is not offered, and the page says why; where flat round cells are
// handled their own caution stands.
func TestABoxOfOtherCellsIsNotOffered(t *testing.T) {
	c := newClinic(t)
	c.planned()
	c.must(reprocess.SetLot{Lot: reprocess.Lot{ID: c.cells, Kind: reprocess.LotCells, Name: "LR03",
		Expiry: "2029-01-31"}})
	c.toBattery()
	c.bench.get(c.path() + "?full=1&piece=" + c.recorder)
	require.Contains(t, c.bench.body, "This recorder takes CR2032; this box holds LR03 (alkaline AAA)")
	require.Contains(t, c.bench.body, "Take a box of CR2032")
	require.Contains(t, c.bench.body, swallowCaution)
	c.planned()
	c.bench.get(c.path() + "?full=1&piece=" + c.recorder)
	require.NotContains(t, c.bench.body, "this box holds")
	require.Contains(t, c.bench.body, "CR2032, good until 31 Jan 2029")
}

// Six rows fit on the small slip of the PDF. What has none of its own is counted, never left out.
func TestRowsOfASlip(t *testing.T) {
	item := func(name string, n int) labels.Item { return labels.Item{Name: name, Count: n} }
	all := []labels.Item{item("Recorder", 1), item("Phone", 1), item("Electrodes", 18),
		item("Spare cells", 2), item("Case", 1), item("Strap", 2)}
	require.Equal(t, all, fitContents(all))
	require.Equal(t, append(all[:5:5], item("Other parts", 3)), fitContents(append(all, item("Charger", 1))))
	require.Equal(t, item("Strap", 2), all[5], "the page still names every part")
}

// A model's page keeps what the plan is made from, and never the learnt height.
func TestTheModelsPageKeepsWhatThePlanNeeds(t *testing.T) {
	c := newClinic(t)
	boss := c.person("Sue Super", "sue", reprocess.RoleSupervisor)
	at := "/models/" + c.models[0]
	boss.get(at)
	boss.post(at, "name", "Model recorder", "kind", "recorder", "wear_days", "7", "export", "yes",
		"cell", "LR03", "cell_count", "1", "run_hours", "170", "electrode_interval", "2,5",
		"per_set", "3", "usual_days", "7", "height_shown", "9.999")
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)
	w, err := c.store.SetUp(boss.ctx())
	require.NoError(t, err)
	m := w.Models[c.models[0]]
	require.True(t, m.Export)
	require.Equal(t, "2.5", m.ElectrodeInterval)
	require.Zero(t, m.ExpectedHeightUV)
	boss.get(at)
	boss.post(at, "name", "Model recorder", "kind", "recorder", "cell", "spaghetti")
	require.Equal(t, http.StatusBadRequest, boss.status)
	require.Contains(t, boss.body, "as printed on the cell")
}
