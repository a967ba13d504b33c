package reprocess

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What was measured with is kept beside what was measured, and nowhere else. Common practice:
// measuring equipment is identified in the record of what it measured (ISO 13485, 7.6; from
// memory).

func TestTheInstrumentIsKeptWhereSomethingIsMeasured(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	c.refused("instrument", ada, RecordStep{Kit: "K18", Step: StepReceipt, Instrument: "V-1",
		Answers: answers("condition", "whole", "old_cell", "yes", "recording", "arrived")})
	require.True(t, Measures(StepBattery))
	require.True(t, Measures(StepFunction))
	require.False(t, Measures(StepDrying))
	for text, want := range map[string]string{"": "", " V 1 ": "V 1", strings.Repeat("é", 40): strings.Repeat("é", 40)} {
		got, p := instrument(text)
		require.Nil(t, p)
		require.Equal(t, want, got)
	}
	_, p := instrument(strings.Repeat("x", 41))
	require.NotNil(t, p)
	c.goodSteps(ada)
	fix := c.fix(StepInspection, RecAnswer, Correct{Answers: answers("sound", "worn")})
	c.do(ada, fix)
}

func TestElectrodesThatMayGoAlong(t *testing.T) {
	day := Date("2026-11-24")
	good := Lot{Kind: LotElectrodes, Number: "A1", Expiry: day}
	require.Nil(t, ElectrodesFit(&good, day), "the day of expiry is the last one")
	for rule, change := range map[string]func(*Lot){
		"expired":        func(l *Lot) { l.Expiry = day.AddDays(-1) },
		"lot_ended":      func(l *Lot) { l.Ended = 1 },
		"lot_stopped":    func(l *Lot) { l.Stopped = &Stop{Reason: "dry"} },
		"not_electrodes": func(l *Lot) { l.Kind = LotCells },
	} {
		l := good
		change(&l)
		require.Equal(t, rule, ElectrodesFit(&l, day).Rule)
	}
	c := readyToRelease(t)
	ada, dan := c.actor("ada"), c.actor("dan")
	c.do(ada, ReleaseKit{Kit: "K18"})
	e := c.do(ada, SetLot{Lot{Kind: LotElectrodes, Name: "Pads", Number: "A1"}})
	lot := e.Events[0].Event.(LotSet).ID
	c.refused("unknown", dan, HandOut{Kit: "K18", Wearer: "w", Days: 7, Pads: "T0"})
	c.refused("not_electrodes", dan, HandOut{Kit: "K18", Wearer: "w", Days: 7, Pads: "T17"})
	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 7, Pads: lot})
	reached := Reach(c.w, lot)
	require.Len(t, reached, 1)
	require.Equal(t, ReachedOut, reached[0].Place)
}

// Expiry of the lot not before the last change day (function-test reference, section 6): 14 days
// at 3 days change on days 3, 6, 9 and 12, so a lot has to be good for 12 days more.
func TestElectrodesAreGoodUntilTheirLastChange(t *testing.T) {
	for days, ok := range map[int]bool{11: false, 12: true} {
		c := readyKit(t)
		m := c.w.Models["M10"]
		m.ElectrodeInterval, m.PerSet = "3", 3
		until := c.now.Today().AddDays(days)
		lot := c.do(c.actor("ada"), SetLot{Lot{Kind: LotElectrodes, Name: "Pads", Number: "A1",
			Expiry: until}}).Events[0].Event.(LotSet).ID
		h := HandOut{Kit: "K18", Wearer: "w", Days: 14, Pads: lot}
		if ok {
			c.do(c.actor("dan"), h)
			continue
		}
		p := c.refused("expired", c.actor("dan"), h)
		require.Contains(t, p.Text, "Lot A1 is good until "+Day(until))
		require.Contains(t, p.Text, "put on "+Day(c.now.Today().AddDays(12)))
		h.Days = 13 // its last change is on day 12, too
		c.refused("expired", c.actor("dan"), h)
		h.Days = 12 // on day 9
		c.do(c.actor("dan"), h)
	}
}
