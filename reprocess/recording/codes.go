package recording

import (
	"fmt"
	"math"
	"slices"
)

// Code names one thing that can be wrong with a test recording.
type Code string

// The codes, in the order in which they are told: the file, its length, a dead line, the
// beats, then what disturbs them, then what they measure.
const (
	File        Code = "FILE"
	CutShort    Code = "CUT_SHORT"
	Gaps        Code = "GAPS"
	TooShort    Code = "TOO_SHORT"
	FlatLine    Code = "FLAT_LINE"
	NoHeartbeat Code = "NO_HEARTBEAT"
	Clipped     Code = "CLIPPED"
	Mains       Code = "MAINS"
	Noise       Code = "NOISE"
	Jumps       Code = "JUMPS"
	Baseline    Code = "BASELINE"
	LowBeats    Code = "LOW_BEATS"
	Gain        Code = "GAIN"
	Rate        Code = "RATE"
	NoEvent     Code = "NO_EVENT"
	UpsideDown  Code = "UPSIDE_DOWN"
	Clock       Code = "CLOCK"
	NameInside  Code = "NAME_INSIDE"
)

// Codes lists every code once, in the fixed order.
func Codes() []Code {
	return []Code{File, CutShort, Gaps, TooShort, FlatLine, NoHeartbeat, Clipped, Mains, Noise,
		Jumps, Baseline, LowBeats, Gain, Rate, NoEvent, UpsideDown, Clock, NameInside}
}

// inOrder sorts codes into the fixed order and leaves out repeats.
func inOrder(c []Code) []Code {
	out := []Code{}
	for _, k := range Codes() {
		if slices.Contains(c, k) {
			out = append(out, k)
		}
	}
	return out
}

// Advice is what a code tells the person at the bench.
type Advice struct {
	Says string // one sentence with its figure
	Do   string // what to do, in this order
}

// Explain puts a code into words, with the figures of the result it was found in. For File
// the sentence is the error of Read, so only what to do is here.
func Explain(c Code, r Result, e Expect) Advice {
	return Advice{says(c, r, e), doNext[c]}
}

func says(c Code, r Result, e Expect) string {
	m := r.Measures
	switch c {
	case Gaps:
		return fmt.Sprintf("The recording has holes of %.1f s in all.", val(m.GapSeconds))
	case TooShort:
		return fmt.Sprintf("Only %.1f s were recorded.", val(r.Seconds))
	case FlatLine:
		return fmt.Sprintf("There is no signal for %.0f s.", val(m.FlatSeconds))
	case Clipped:
		return fmt.Sprintf("The tops of %.0f %% of the beats are cut off.", val(m.CutOff))
	case Mains:
		return fmt.Sprintf("Mains hum of %.0f µV.", max(val(m.Mains50), val(m.Mains60)))
	case Noise:
		return fmt.Sprintf("Noise of %.0f µV between the beats.", val(m.NoiseRest))
	case Jumps:
		return fmt.Sprintf("%.0f sudden jumps.", val(m.Jumps))
	case Baseline:
		return fmt.Sprintf("The line wanders by %.1f mV.", val(m.Baseline))
	case LowBeats:
		return fmt.Sprintf("The beats are only %.2f mV high.", val(m.Height))
	case Gain:
		return gainSays(val(m.Height), float64(e.Height))
	case Rate:
		return fmt.Sprintf("The rate is %.1f a minute instead of the %.4g that was set.",
			val(m.Rate), e.Rate)
	case Clock:
		return fmt.Sprintf("The recorder's clock is %.0f min off.", math.Abs(e.ClockOff))
	}
	return plainSays[c]
}

// val is a figure as a plain number, 0 where it was not judged.
func val[T ~float64 | ~int](p *T) float64 {
	if p == nil {
		return 0
	}
	return float64(*p)
}

func gainSays(height, want float64) string {
	if want <= 0 {
		return fmt.Sprintf("The beats are %.1f mV high, more than a recorder should show.",
			height)
	}
	return fmt.Sprintf("The beats are %.2f mV high, %.0f %% off the %.2f mV of this model.",
		height, 100*math.Abs(height-want)/want, want)
}

// plainSays are the sentences without a figure.
var plainSays = map[Code]string{
	File:        "The file could not be read.",
	CutShort:    "The last part of the file is missing.",
	NoHeartbeat: "No heartbeat stands out from the noise.",
	NoEvent:     "The event mark did not arrive.",
	UpsideDown:  "The beats point down.",
	NameInside:  "The file carries a person's name.",
}

// doNext says what to do about each code, in this order.
var doNext = map[Code]string{
	File: "Export the recording again as EDF. If that fails too, the recorder's memory is " +
		"suspect: leave it for the technician.",
	CutShort: "Stop the recorder before you take the card or cable off, then repeat the test. " +
		"If it happens twice, leave it for the technician.",
	Gaps: "Put in a new battery, seat it well, repeat. If it happens twice, memory or a " +
		"contact is at fault: leave it for the technician.",
	TooShort: "Repeat with a full minute. If the recorder stopped by itself, put in a new " +
		"battery and look at the contacts.",
	FlatLine: "Press on all snaps; take other electrodes; take another lead set. Still no " +
		"signal: leave it for the technician. Good with the other set: discard the first set.",
	NoHeartbeat: "Is the source on and set to 60? Are the leads in their own sockets? Then " +
		"take another lead set.",
	Clipped: "Turn the source down to 1 mV; take other electrodes, because dried gel has a " +
		"high offset; repeat. If it stays, leave it for the technician.",
	Mains: "Move away from chargers and cables, run on battery only, bundle the leads; then " +
		"take another lead set. If another recorder is fine in the same place, leave this " +
		"one for the technician.",
	Noise: "On a person: sit still, rest the arms, try another position. On the bench: clean " +
		"the snaps, take another lead set. If it stays, leave it for the technician.",
	Jumps: "A snap or plug is loose: reseat them, then pull gently at each lead while " +
		"recording. Replace the lead that jumps.",
	Baseline: "On a person: new electrodes on clean dry skin, breathe calmly. On the bench: " +
		"let the source settle for 10 s.",
	LowBeats: "Look at the setting of the source; move the leads; take another lead set. If " +
		"it stays, the gain is at fault: leave it for the technician.",
	Gain: "Look at the setting of the source; move the leads; take another lead set. If it " +
		"stays, leave it for the technician. Never move the limit to make it fit.",
	Rate: "Look at the setting of the source. Was the right model chosen for the export? If " +
		"both are right, the recorder's clock is at fault: leave it for the technician.",
	NoEvent: "Press the button until the recorder answers, wait until its event recording " +
		"ends, export again with the events. If it stays away, the button is at fault: " +
		"leave it for the technician.",
	UpsideDown: "Are two leads swapped? Correct them and repeat. This is a remark, not a " +
		"failure.",
	Clock:      "Set the clock and repeat.",
	NameInside: "Do not keep this file. Repeat the test with a recording that has no name.",
}
