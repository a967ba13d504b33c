package recording

import (
	"math"
	"strings"
)

// Signal is one channel. Its samples are decoded from the file's bytes when they are asked
// for, so that reading a file costs its own length and no more.
type Signal struct {
	Label string
	Unit  string  // of the physical values, as the file writes it; may be empty
	Rate  float64 // Hz; 0 = the file gives none
	N     int     // samples

	Annotation bool   // holds event marks, no samples
	Unreadable string // why the samples cannot be had; empty for a usable signal

	// NoScale says why there are no millivolts ("" when there are): the samples can then
	// only be looked at as counts.
	NoScale string

	digital func(i int) int32 // nil for CSV
	values  []float64         // CSV only; NaN = missing

	// physical = (digital − base) × step + origin; millivolts = physical × toMV
	base, step, origin, toMV float64

	ends   bool // lo and hi are the end values of the format
	lo, hi int32
}

// isECG tells whether the label says ECG (or EKG), in any case.
func (s *Signal) isECG() bool {
	l := strings.ToUpper(s.Label)
	return strings.Contains(l, "ECG") || strings.Contains(l, "EKG")
}

// Digital is the stored number of sample i; a CSV has none and answers 0.
func (s *Signal) Digital(i int) int32 {
	if s.digital == nil {
		return 0
	}
	return s.digital(i)
}

// Physical is sample i in the signal's own unit; without a scale it is the stored number.
func (s *Signal) Physical(i int) float64 {
	if s.digital == nil {
		return s.values[i]
	}
	if s.step == 0 {
		return float64(s.digital(i))
	}
	return (float64(s.digital(i))-s.base)*s.step + s.origin
}

// Samples decodes samples from..to−1 in millivolts, or in counts where there is no scale.
// A missing sample is NaN.
func (s *Signal) Samples(from, to int) []float64 {
	factor := s.toMV
	if s.NoScale != "" {
		factor = 1
	}
	out := make([]float64, to-from)
	for i := range out {
		out[i] = s.Physical(from+i) * factor
	}
	return out
}

// atEnd tells whether sample i stands at an end value of its format.
func (s *Signal) atEnd(i int) bool {
	if !s.ends || s.digital == nil {
		return false
	}
	d := s.digital(i)
	return d == s.lo || d == s.hi
}

// setUnit works out the factor to millivolts; a unit that is no voltage leaves none.
func (s *Signal) setUnit(unit string) {
	s.Unit = unit
	f, ok := voltFactor(unit)
	if !ok && s.NoScale == "" {
		s.NoScale = "its unit is no voltage"
		if unit == "" {
			s.NoScale = "it has no unit"
		}
	}
	s.toMV = f
}

// voltFactor gives the factor from a unit to millivolts. The micro sign exists twice in
// Unicode (U+00B5 and U+03BC); "MV" is left unknown: it could be meant as mega or milli.
func voltFactor(unit string) (float64, bool) {
	switch unit {
	case "mV", "mv":
		return 1, true
	case "uV", "uv", "µV", "μV", "µv", "μv":
		return 1e-3, true
	case "nV":
		return 1e-6, true
	case "V":
		return 1e3, true
	}
	return 0, false
}

// setScale fills the linear scale of a digital signal, or says why there is none.
func (s *Signal) setScale(dmin, dmax, pmin, pmax float64, ok bool) {
	s.base, s.origin = dmin, pmin
	step := (pmax - pmin) / (dmax - dmin)
	if !ok || dmin == dmax || pmin == pmax || math.IsInf(step, 0) || math.IsNaN(step) {
		s.NoScale, s.step = "no usable scale", 0
		return
	}
	s.step = step
	if dmin == math.Trunc(dmin) && dmax == math.Trunc(dmax) &&
		math.Abs(dmin) <= 1<<23 && math.Abs(dmax) <= 1<<23 {
		s.ends, s.lo, s.hi = true, int32(min(dmin, dmax)), int32(max(dmin, dmax))
	}
}
