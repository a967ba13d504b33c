package reprocess

import "slices"

// What was measured with is an optional fact of what was measured: the number on a hydrometer,
// on a voltmeter or on the reading place's machine. Nothing is judged by it; a look-back finds
// by it what an instrument that turned out wrong had passed.

// measured are the steps in which something is read off an instrument.
var measured = []StepID{StepBattery, StepFunction}

// Measures tells whether a step has an instrument to name.
func Measures(step StepID) bool { return slices.Contains(measured, step) }

// longestInstrument bounds the number of an instrument, in characters.
const longestInstrument = 40

// instrument reads the number of an instrument; empty is not told.
func instrument(text string) (string, *Problem) {
	return clean("The instrument", text, longestInstrument)
}

// named is the instrument of a step, refused where nothing is measured.
func (r RecordStep) named() (string, *Problem) {
	number, p := instrument(r.Instrument)
	if p == nil && number != "" && !Measures(r.Step) {
		p = invalid("instrument", "Leave it out.", "Nothing is measured in this step.")
	}
	return number, p
}

// electrodesAtOut holds the lot of electrodes that goes along to what may be handed out: good
// today, and still on the last day of the plan on which electrodes are changed.
func (c *Case) electrodesAtOut(k *Kit, lot string, days int, begin Date) *Problem {
	if lot == "" {
		return nil
	}
	l := c.W.Lots[lot]
	if l == nil {
		return missing("lot")
	}
	if p := ElectrodesFit(l, c.Now.Today()); p != nil {
		return p
	}
	return c.W.electrodesLast(k, l, days, begin)
}

// electrodesLast refuses a lot that ends before the last change of a loan that begins on a day.
func (w *World) electrodesLast(k *Kit, l *Lot, days int, begin Date) *Problem {
	plan, p := PlanPack(w, k, days)
	changes := plan.ElectrodeDays()
	if p != nil || l.Expiry == "" || len(changes) == 0 {
		return nil // the plan has its own words where it is asked for
	}
	if last := begin.AddDays(changes[len(changes)-1]); l.Expiry < last {
		return refuse("expired", "Take a lot that lasts longer.",
			"Lot %s is good until %s; the last of these electrodes are put on %s.", l.Number,
			Day(l.Expiry), Day(last))
	}
	return nil
}

// ElectrodesFit says why a lot may not go along as electrodes; nil when it may.
func ElectrodesFit(l *Lot, today Date) *Problem {
	const another = "Take another lot."
	switch {
	case l.Kind != LotElectrodes:
		return refuse("not_electrodes", another, "This lot is no electrodes.")
	case l.Stopped != nil:
		return refuse("lot_stopped", another, "Lot %s was stopped: %s", l.Number, l.Stopped.Reason)
	case l.Ended != 0:
		return refuse("lot_ended", another, "Lot %s is used up.", l.Number)
	case l.Expiry != "" && l.Expiry < today:
		return refuse("expired", another, "Lot %s expired on %s.", l.Number, Day(l.Expiry))
	}
	return nil
}
