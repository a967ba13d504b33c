package web

import (
	"fmt"

	"handback/reprocess"
)

// evidenceFields asks what a model's test, cells and electrodes are planned and judged by.
func evidenceFields(f *form, m reprocess.Model) {
	f.tick("export", "Test recording", "It can export its test recording as a file (EDF, BDF, CSV); "+
		"then a file is asked for at the function test", m.Export)
	f.tick("need_event", "Event mark", "The test has to hold a press of the event button", m.NeedEvent)
	if m.ExpectedHeightUV > 0 {
		f.text("height_shown", "Beat height learnt for this model",
			fmt.Sprintf("%.3f mV", float64(m.ExpectedHeightUV)/1000),
			"Shown only; it changes by a signed act at the function test")
	}
	f.text("cell", "Cell", m.Cell, "As printed on it, such as LR03 or CR2032")
	f.number("cell_count", "Cells in the device at once", m.CellCount, "")
	f.number("run_hours", "Run time by the maker, hours", m.RunHours,
		"Of one set of fresh cells; wins over capacity and current")
	f.number("capacity_mah", "Capacity of one cell, mAh", m.CapacityMAh, "Empty: not stated")
	f.number("current_ua", "Mean current, µA", m.CurrentUA, "2 mA is 2000")
	f.text("electrode_interval", "Days one set of electrodes stays on", m.ElectrodeInterval,
		"Of a range the shorter end, such as 2 or 3.5")
	f.number("per_set", "Electrodes in a set", m.PerSet, "")
	f.number("usual_days", "Usual days of wear", m.UsualDays, "What is packed for; empty: not stated")
}

// readEvidence reads them back.
func (t *typing) readEvidence(m *reprocess.Model) {
	m.Export, m.NeedEvent = t.yes("export"), t.yes("need_event")
	m.Cell, m.ElectrodeInterval = t.text("cell"), t.text("electrode_interval")
	for _, x := range []struct {
		name, what string
		into       *int
	}{{"cell_count", "Cells in the device", &m.CellCount}, {"run_hours", "Run time", &m.RunHours},
		{"capacity_mah", "Capacity", &m.CapacityMAh}, {"current_ua", "Mean current", &m.CurrentUA},
		{"per_set", "Electrodes in a set", &m.PerSet}, {"usual_days", "Usual days", &m.UsualDays}} {
		*x.into = t.whole(x.name, x.what)
	}
}
