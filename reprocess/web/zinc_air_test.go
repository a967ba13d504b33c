package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// onZincAir lets the recorder's model run on zinc-air cells of one box.
func (c *clinic) onZincAir() {
	c.t.Helper()
	c.must(reprocess.SetModel{Model: reprocess.Model{ID: c.models[0], Name: "Model recorder",
		Kind: reprocess.Recorder, WearDays: 12, IFU: "booklet", Cell: "PR44", CellCount: 1,
		RunHours: 400, UsualDays: 14}})
	c.must(reprocess.SetLot{Lot: reprocess.Lot{ID: c.cells, Kind: reprocess.LotCells, Name: "PR44",
		Expiry: "2029-01-31"}})
}

// The step of the battery asks when the tab was pulled; the usual tap says today, and the whole
// form takes an earlier day, but none that is over or to come.
func TestTheTabOfAZincAirCellIsAsked(t *testing.T) {
	c := newClinic(t)
	c.onZincAir()
	c.toBattery()
	b := c.bench
	b.get(c.path() + "?piece=" + c.recorder)
	require.Contains(t, b.body, "its tab pulled today")
	require.Contains(t, b.body, swallowCaution)
	b.get(c.path() + "?full=1&piece=" + c.recorder)
	require.Contains(t, b.body, "When was the tab of the new cell pulled?")
	require.Contains(t, b.body, `name="a-tab_pulled" type="date"`)
	today := c.store.Now().Today()
	send := func(day string) {
		b.post(c.path("step"), "step", "battery", "pieces", c.recorder, "for", c.recorder, "piece",
			c.recorder, "a-cell", c.cells, "a-latched", "yes", "a-tab_pulled", day)
	}
	send(string(today.AddDays(-12)))
	require.Contains(t, b.body, "a zinc-air cell is planned for 12 days from then on, whatever it reads")
	send(string(today.AddDays(1)))
	require.Contains(t, b.body, "is still to come")
	send(string(today.AddDays(-2)))
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	w, err := c.store.KitWorld(b.ctx(), c.kit)
	require.NoError(t, err)
	got := w.Cycles[w.Pieces[c.recorder].Cycle].Progress().Done[reprocess.StepBattery]
	require.Equal(t, string(today.AddDays(-2)), got.Answered("tab_pulled"))
	b.get(c.path("release"))
	require.Contains(t, b.body, "PR44, good until 31 Jan 2029, tab pulled "+reprocess.Day(today.AddDays(-2)))
}

// A cell that ended on the shelf is exchanged when the kit leaves, where the procedure has cells
// fitted at the counter; the page of the hand-out and the ready list say so, and never that the
// old one lasts.
func TestACellThatEndedIsExchangedAtTheCounter(t *testing.T) {
	require.Equal(t, "The fitted cell was good until 20 Nov 2026: fit a new one here and choose its box.",
		cellWords(&reprocess.Release{CellDays: 12, CellUntil: "2026-11-20"}, "2026-11-21"))
	require.Contains(t, cellWords(&reprocess.Release{CellDays: 12, CellUntil: "2026-11-20"}, "2026-11-20"),
		"lasts 12 days of wear and is good until 20 Nov 2026")
	w := reprocess.NewWorld()
	k := &reprocess.Kit{ID: "K1", Release: &reprocess.Release{CellDays: 12, CellUntil: "2026-11-20"}}
	day := func(n int) reprocess.Now {
		return reprocess.Now{UTC: reprocess.InstantOf(time.Date(2026, 11, n, 9, 0, 0, 0, time.UTC))}
	}
	require.Contains(t, readyNote(w, k, day(21)), "fit a new cell when it leaves")
	require.NotContains(t, readyNote(w, k, day(21)), "20 Nov")
	require.Contains(t, readyNote(w, k, day(20)), "cell lasts 12 days")
	require.Contains(t, readyNote(w, k, day(20)), "Good until 20 Nov 2026")
}
