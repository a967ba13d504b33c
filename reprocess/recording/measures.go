package recording

import (
	"fmt"
	"math"
)

// Limits of what is measured. [design] where no source is named.
const (
	AnalysedMost = 600.0  // seconds of a long file that are looked at, from its start
	LowestRate   = 100.0  // Hz; below, the beats are too blurred to judge
	HighestRate  = 4000.0 // Hz; bounds the memory of ten minutes
	flatMV       = 0.020  // a second that moves less is quiet
	flatBlocks   = 3      // quiet seconds in a row that make a dead line
	beatHalf     = 0.060  // s on either side in which a beat's height is taken
	jumpMVPerS   = 320.0  // AAMI EC11's slew limit of diagnostic devices (from memory)
	driftHz      = 0.5
	driftSkip    = 2.0  // s that the drift filter needs to settle
	driftWindow  = 10.0 // s
	mainsBack    = 1.12 // gives back what the parabola takes of the mains' power
	topRepeats   = 3    // equal extreme values in a row that make a cut-off top
)

// Measures are the figures of one lead. nil = not judged: there was no scale, no sampling
// rate, or no beat to measure at. The JSON names are those of the command line.
type Measures struct {
	Beats       *int        `json:"beats"`
	Rate        *float64    `json:"rate_per_minute"`   // 60 / median interval
	Height      *Millivolts `json:"height_mv"`         // median of max − min around a beat
	Noise       *Microvolts `json:"noise_uv"`          // rms between beats
	NoiseRest   *Microvolts `json:"noise_residual_uv"` // the same less the mains
	Mains50     *Microvolts `json:"mains50_uv"`        // peak to peak
	Mains60     *Microvolts `json:"mains60_uv"`        // peak to peak
	StandsOut   *float64    `json:"stands_out"`        // beat height / noise
	Baseline    *Millivolts `json:"baseline_mv"`       // largest p-p of the drift in 10 s
	FlatSeconds *float64    `json:"flat_seconds"`
	Jumps       *int        `json:"jumps"`           // samples faster than 320 mV/s
	CutOff      *float64    `json:"cut_off_percent"` // beats with a cut-off top
	Upright     *float64    `json:"upright_percent"` // beats that point up
	GapSeconds  *float64    `json:"gap_seconds"`     // holes and missing samples
}

// Result is what a lead of a recording measures, with the facts of its file that the
// judgement needs. It is all that has to be kept to derive the judgement again.
type Result struct {
	Lead       string   `json:"lead"`
	SampleRate *float64 `json:"sample_rate_hz"`
	Seconds    *float64 `json:"seconds"`          // samples / rate, less what is missing
	Analysed   *float64 `json:"analysed_seconds"` // from the start, at most AnalysedMost
	Measures   Measures `json:"measures"`

	CutShort        bool    `json:"cut_short"`
	PromisedSeconds float64 `json:"promised_seconds"`
	NameInside      bool    `json:"name_inside"`
	EventsInside    int     `json:"events_inside"` // event marks inside the samples

	// Scaled: there are millivolts. UnitDoubt: the unit was given by a person and the height
	// is implausible for it, so amplitudes are not judged.
	Scaled    bool `json:"scaled"`
	UnitDoubt bool `json:"unit_doubt"`
	// JumpsElsewhere and BaselineElsewhere leave out what lies at a dead line; DriftElsewhere
	// also leaves out what lies at a jump.
	JumpsElsewhere    int        `json:"jumps_elsewhere"`
	BaselineElsewhere Millivolts `json:"baseline_elsewhere_mv"`
	DriftElsewhere    Millivolts `json:"drift_elsewhere_mv"`

	// Remarks are the file's repairs and what could not be judged, as sentences.
	Remarks []string `json:"remarks"`
}

// Measure looks at signal lead (an index from Recording.Lead). It never fails: what cannot be
// measured is nil, and a remark says why.
func Measure(r *Recording, lead int) Result {
	s := &r.Signals[lead]
	res := Result{Lead: s.Label, CutShort: r.CutShort, PromisedSeconds: r.PromisedSeconds,
		NameInside: r.NameInside, Remarks: append([]string{}, r.Remarks...),
		Scaled: s.NoScale == ""}
	if res.Lead == "" {
		res.Lead = fmt.Sprintf("signal %d", lead+1)
	}
	for _, e := range r.Events {
		if e.Sample != nil || s.Rate <= 0 {
			res.EventsInside++
		}
	}
	if !res.Scaled {
		res.say("%s of this lead: amplitude and noise were not judged.", s.NoScale)
	}
	if s.Rate <= 0 {
		return res
	}
	rate := s.Rate
	res.SampleRate = &rate
	m := &measurer{res: &res, rate: rate, scaled: res.Scaled}
	m.take(r, s)
	if rate < LowestRate || rate > HighestRate {
		res.say("A sampling rate of %.4g Hz cannot be judged; export with %.0f to %.0f Hz.",
			rate, LowestRate, HighestRate)
		return res
	}
	m.measure()
	res.UnitDoubt = r.Format == CSV && res.Measures.Height != nil &&
		(*res.Measures.Height < 0.05 || *res.Measures.Height > 20)
	if res.UnitDoubt {
		res.say("Beats of %.3g mV: is the unit of the table right? Amplitudes were not judged.",
			float64(*res.Measures.Height))
	}
	return res
}

func (r *Result) say(format string, args ...any) {
	r.Remarks = append(r.Remarks, capital(fmt.Sprintf(format, args...)))
}

func capital(s string) string {
	if s != "" && s[0] >= 'a' && s[0] <= 'z' {
		return string(s[0]-'a'+'A') + s[1:]
	}
	return s
}

// measurer carries the samples of one lead through the measures.
type measurer struct {
	res    *Result
	rate   float64
	scaled bool
	x      []float64 // mV, or counts; nothing missing
	end    []bool    // stands at an end value of the format; nil where none does
	joints []int     // samples before which something is missing
	beats  []int
	quiet  [][2]int // dead lines, as samples from..to
	jumped []int    // samples that jump
}

// take decodes the analysed part, leaves missing samples out and remembers where.
func (m *measurer) take(r *Recording, s *Signal) {
	n := min(s.N, int(math.Ceil(AnalysedMost*m.rate)))
	missing, later := 0, 0
	for _, g := range r.Gaps {
		if at := int(math.Round(g.Sample * m.rate)); at > 0 && at < n {
			m.joints = append(m.joints, at)
		}
	}
	raw := s.Samples(0, n)
	m.x = make([]float64, 0, n)
	k := 0
	joints := m.joints[:0:0]
	for i, v := range raw {
		joint := false
		for ; k < len(m.joints) && m.joints[k] <= i; k++ {
			joint = true
		}
		if math.IsNaN(v) {
			missing++
			continue
		}
		if joint || i > 0 && math.IsNaN(raw[i-1]) && len(m.x) > 0 {
			joints = append(joints, len(m.x))
		}
		if s.atEnd(i) {
			if m.end == nil {
				m.end = make([]bool, n)
			}
			m.end[len(m.x)] = true
		}
		m.x = append(m.x, v)
	}
	m.joints = joints
	for i := n; s.digital == nil && i < s.N; i++ {
		if math.IsNaN(s.values[i]) {
			later++
		}
	}
	m.length(s, missing, later, r.GapSeconds())
}

// length fills the seconds; missing and rest are missing samples in and after the part that
// is analysed.
func (m *measurer) length(s *Signal, missing, rest int, gaps float64) {
	seconds := float64(s.N-missing-rest) / m.rate
	analysed := float64(len(m.x)) / m.rate
	gap := gaps + float64(missing+rest)/m.rate
	m.res.Seconds, m.res.Analysed, m.res.Measures.GapSeconds = &seconds, &analysed, &gap
}

// measure fills every figure that the samples allow.
func (m *measurer) measure() {
	m.flat()
	m.beats = findBeats(m.x, m.rate)
	n := len(m.beats)
	m.res.Measures.Beats = &n
	if n >= 2 {
		rate := 60 / (m.medianInterval() / m.rate)
		m.res.Measures.Rate = &rate
	}
	height, ok := m.shapes()
	if ok {
		m.noise(height)
	}
	if m.scaled {
		m.jumps()
		m.drift()
	}
}

func (m *measurer) medianInterval() float64 {
	d := make([]float64, 0, len(m.beats))
	for i := 1; i < len(m.beats); i++ {
		d = append(d, float64(m.beats[i]-m.beats[i-1]))
	}
	return median(d)
}

// flat adds up the dead lines: three or more seconds in a row that move less than 20 µV.
// Without a scale whole numbers may move by one count; other numbers must not move at all.
func (m *measurer) flat() {
	least := flatMV
	if !m.scaled {
		least = math.SmallestNonzeroFloat64
		if whole(m.x) {
			least = 1.5
		}
	}
	block := int(math.Round(m.rate))
	seconds, run := 0, 0
	count := len(m.x) / block
	for b := 0; b <= count; b++ {
		if b < count && span(m.x[b*block:(b+1)*block]) < least {
			run++
			continue
		}
		if run >= flatBlocks {
			seconds += run
			m.quiet = append(m.quiet, [2]int{(b - run) * block, b * block})
		}
		run = 0
	}
	f := float64(seconds)
	m.res.Measures.FlatSeconds = &f
}

func whole(x []float64) bool {
	for _, v := range x {
		if v != math.Trunc(v) {
			return false
		}
	}
	return true
}

func span(x []float64) float64 {
	lo, hi := x[0], x[0]
	for _, v := range x {
		lo, hi = min(lo, v), max(hi, v)
	}
	return hi - lo
}

// noise fills noise, mains and how far the beats stand out.
func (m *measurer) noise(height float64) {
	n := betweenBeats(m.x, m.beats, m.joints, m.rate)
	if !n.ok {
		return
	}
	// a noise of nothing (an invented signal) must not divide by zero
	out := height / max(n.rms, height*1e-6, 1e-12)
	m.res.Measures.StandsOut = &out
	if !m.scaled {
		return
	}
	rms := Microvolts(n.rms * 1000)
	rest := Microvolts(withoutMains(n.rms, max(n.pp50, n.pp60)) * 1000)
	m.res.Measures.Noise, m.res.Measures.NoiseRest = &rms, &rest
	for k, pp := range [2]float64{n.pp50, n.pp60} {
		if m.rate <= 2*mainsHz[k] {
			continue
		}
		v := Microvolts(pp * 1000)
		if k == 0 {
			m.res.Measures.Mains50 = &v
		} else {
			m.res.Measures.Mains60 = &v
		}
	}
}

// withoutMains takes the mains out of the noise where the mains explains at least 35 % of it,
// so that one fault gives one message.
func withoutMains(rms, pp float64) float64 {
	mains := mainsBack * pp * pp / 8
	if mains < 0.35*rms*rms {
		return rms
	}
	return math.Sqrt(max(rms*rms-mains, 0))
}
