package figures

import (
	"maps"
	"slices"

	"handback/reprocess"
	"handback/reprocess/wear"
)

// Use is how the pool was used in a period. Days are of 24 hours.
type Use struct {
	HandOuts   int                // loans that began, a ward's once, those after the fact too
	WearDays   float64            // days that kits were out, clipped to the period
	PoolDays   float64            // days that kits belonged to the pool
	WaitDays   map[string]float64 // waiting by reason
	Repairs    int                // pieces sent to repair
	Small      int                // small repairs in the house
	Losses     int                // pieces set to missing, or that did not come back with their kit
	Cycles     int                // cycles released
	Lots       int                // different lots of disinfectant and cells in those cycles
	Electrodes int                // as planned by the model's figures, spare sets included
	NoPlan     int                // hand-outs of models without figures for that
	Turnaround Spread             // hours
}

// OutShare is the share of the pool's days that were days out, 0 without a pool.
func (u Use) OutShare() float64 {
	if u.PoolDays == 0 {
		return 0
	}
	return u.WearDays / u.PoolDays
}

// Reasons lists the reasons for which anything waited, in the order of the program's list.
func (u Use) Reasons() []string {
	var all []string
	for _, r := range reprocess.WaitReasons() {
		if u.WaitDays[r.ID] > 0 {
			all = append(all, r.ID)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(u.WaitDays)) {
		if !slices.Contains(all, id) && u.WaitDays[id] > 0 {
			all = append(all, id)
		}
	}
	return all
}

// Use counts the choice.
func (f *Facts) Use(c Choice) Use {
	u := Use{WaitDays: map[string]float64{}}
	s := f.spans()
	f.useLoans(c, &u)
	f.useKits(c, s, &u)
	f.useMarks(c, &u)
	f.useCycles(c, &u)
	u.Turnaround = f.turnaround(c, s).All
	return u
}

func (f *Facts) useLoans(c Choice, u *Use) {
	out := int64(0)
	defer func() { u.WearDays = days(out) }()
	for _, l := range f.Loans {
		if l.Undone || l.OnWard() || !f.loan(c, l) { // the ward's own loan counts its days
			continue
		}
		out += f.outMS(c, l)
		if l.TakenOver || !c.within(l.Out) {
			continue
		}
		u.HandOuts++
		n, ok := f.electrodes(l)
		u.Electrodes += n
		u.NoPlan += one(!ok)
	}
}

// outMS is how long a loan was out within the choice; what was out on paper, before the kit
// was in the log, does not count.
func (f *Facts) outMS(c Choice, l *reprocess.Loan) int64 {
	to := c.end()
	if l.Back > 0 {
		to = min(to, l.Back)
	}
	return overlap(max(c.From, l.Out, f.Registered[l.Kit]), to)
}

// overlap is from <= t < to in ms, none when it is empty. Sums are made of whole ms, so that
// their order does not matter.
func overlap(from, to reprocess.Instant) int64 { return int64(max(0, to-from)) }

func days(ms int64) float64 { return float64(ms) / dayMS }

// electrodes plans those of a loan by the figures of its recorder's model.
func (f *Facts) electrodes(l *reprocess.Loan) (int, bool) {
	for _, id := range l.Pieces {
		p := f.World.Pieces[id]
		if p == nil || p.Kind != reprocess.Recorder || f.World.Models[p.Model] == nil {
			continue
		}
		m := f.World.Models[p.Model]
		every, err := wear.ParseDays(m.ElectrodeInterval)
		if err != nil {
			return 0, false
		}
		plan, err := wear.PlanElectrodes(wear.ElectrodeNeed{Days: wear.Days(l.Days),
			Interval: every, PerSet: m.PerSet})
		return plan.Total, err == nil
	}
	return 0, false
}

func (f *Facts) useKits(c Choice, s spans, u *Use) {
	pool, waits := int64(0), map[string]int64{}
	for id, k := range f.World.Kits {
		if !f.kit(c, id) {
			continue
		}
		to := c.end()
		if k.Retired {
			to = min(to, k.Since)
		}
		pool += overlap(max(c.From, f.Registered[id]), to)
	}
	for kit, list := range s.waits {
		for _, x := range list {
			if f.kit(c, kit) {
				waits[x.reason] += overlap(max(c.From, x.from), min(c.end(), x.to))
			}
		}
	}
	u.PoolDays = days(pool)
	for reason, ms := range waits {
		if ms > 0 {
			u.WaitDays[reason] = days(ms)
		}
	}
}

func (f *Facts) useMarks(c Choice, u *Use) {
	loans := f.loansByID()
	for _, e := range f.Marks {
		if !c.within(e.At) {
			continue
		}
		for _, b := range e.Events {
			switch v := b.Event.(type) {
			case reprocess.PieceMoved:
				u.Repairs += one(v.State == reprocess.OutForRepair && f.piece(c, v.Piece))
				u.Losses += one(v.State == reprocess.Missing && f.piece(c, v.Piece))
			case reprocess.TakenBack:
				if l := loans[v.Loan]; l != nil {
					u.Losses += f.leftOut(c, l, v.Came)
				}
			}
		}
	}
}

// leftOut counts the pieces of a loan that did not come.
func (f *Facts) leftOut(c Choice, l *reprocess.Loan, came []string) int {
	n := 0
	for _, id := range l.Pieces {
		n += one(!slices.Contains(came, id) && f.piece(c, id))
	}
	return n
}

func (f *Facts) useCycles(c Choice, u *Use) {
	lots := map[string]bool{}
	for _, x := range f.cycles(c) {
		u.Cycles += one(x.End == reprocess.EndReleased)
		for _, r := range x.Records {
			if r.Undone {
				continue
			}
			u.Small += one(r.Kind == reprocess.RecRepair)
			lots[r.Lot], lots[r.Answered("cell")] = true, true
		}
	}
	delete(lots, "")
	u.Lots = len(lots)
}
