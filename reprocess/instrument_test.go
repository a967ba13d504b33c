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
