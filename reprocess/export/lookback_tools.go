package export

import (
	"handback/reprocess"
	"handback/reprocess/lookback"
)

// instruments are the numbers of all instruments that the record names.
func (l *looker) instruments() map[string]bool {
	all := map[string]bool{}
	for _, c := range l.w.Containers {
		for _, r := range c.Readings {
			all[r.Instrument] = true
		}
	}
	for _, c := range l.w.Cycles {
		for _, number := range measuredWith(c) {
			all[number] = true
		}
	}
	delete(all, "")
	return all
}

// measuredWith are the instruments of a cycle's records that count.
func measuredWith(c *reprocess.Cycle) []string {
	var all []string
	for _, r := range c.Records {
		if !r.Undone && r.Instrument != "" {
			all = addOnce(all, r.Instrument)
		}
	}
	return all
}

// readBy is the instrument by which the contents of a wetting were last read before it; where it
// took two containers, that of the question if it read any of them.
func (l *looker) readBy(i reprocess.Interval) string {
	found := ""
	for _, id := range i.Containers {
		c := l.w.Containers[id]
		if c == nil {
			continue
		}
		newest := ""
		for _, r := range c.Readings {
			if r.At <= i.From.At {
				newest = r.Instrument
			}
		}
		if newest != "" && found != l.q.Instrument {
			found = newest
		}
	}
	return found
}

// Electrodes begins the name of the electrodes that went along with a loan; its id follows.
const Electrodes = "electrodes-of "

// electrodes are, for a lot of electrodes, what went along with each loan. A loan of which that
// is not recorded has no attempt and shows as unresolved, unless the window cannot reach it.
func (l *looker) electrodes() []lookback.Cycle {
	var list []lookback.Cycle
	for _, v := range l.w.Loans {
		if v.Undone || v.Out == 0 || l.wearersKnown(v) {
			continue
		}
		c := lookback.Cycle{ID: Electrodes + v.ID, Released: v.Out.Time(),
			People: addOnce(nil, v.OutBy)}
		outside := v.Out.Time().Before(l.q.From) || !l.q.To.IsZero() && !v.Out.Time().Before(l.q.To)
		if v.Pads != "" || outside {
			c.Attempts = []lookback.Attempt{{At: v.Out.Time(), OK: true, Person: v.OutBy,
				Uses: []lookback.Use{{Lot: l.named(l.lots, l.q.Lot, v.Pads)}}}}
		}
		for _, id := range v.Pieces {
			if l.skipped(id) {
				continue
			}
			c.Device, c.Model = id, l.named(l.models, l.q.Model, l.model(id))
			list = append(list, c)
		}
	}
	return list
}
