package recording

import "math"

// Profile holds the limits of one kind of test. Figures up to a remark limit pass, above it
// they are remarked, above the fail limit they fail. All limits are design values of this
// project, not quoted from a standard; where the bench has learnt better, a new version is
// made, and never a looser one.
type Profile struct {
	Name    string `json:"name"`
	Version string `json:"version"` // kept with every judgement

	LeastSeconds   float64    `json:"least_seconds"`
	LeastBeats     int        `json:"least_beats"`
	LeastStandsOut float64    `json:"least_stands_out"`
	RatePercent    float64    `json:"rate_percent"`   // off the set rate; 0 = not judged
	HeightPercent  float64    `json:"height_percent"` // off the expected height
	Height         [2]float64 `json:"height_mv"`      // lowest, highest, without an expected one

	// Each pair is: remark above, fail above.
	Noise    [2]float64 `json:"noise_uv"`
	Mains    [2]float64 `json:"mains_uv"`
	Baseline [2]float64 `json:"baseline_mv"`
	Flat     [2]float64 `json:"flat_seconds"`
	Jumps    [2]float64 `json:"jumps"`
	CutOff   [2]float64 `json:"cut_off_percent"`
	Gaps     [2]float64 `json:"gap_seconds"`

	UprightLeast float64 `json:"upright_percent"` // remark below
	ClockMinutes float64 `json:"clock_minutes"`
}

// Bench is the profile for a signal source that stands in for a person, set to 60 a minute.
func Bench() Profile {
	p := common("bench", "bench-1")
	p.LeastBeats, p.RatePercent, p.HeightPercent = 20, 2, 10
	p.Height = [2]float64{0.5, 5}
	p.Noise, p.Baseline = [2]float64{15, 30}, [2]float64{0.3, 1.0}
	p.Flat, p.Jumps = [2]float64{0, 3}, [2]float64{0, 2}
	return p
}

// Volunteer is the profile for a person who wears the recorder for a minute. The rate is a
// person's own and is not judged.
func Volunteer() Profile {
	p := common("volunteer", "volunteer-1")
	p.LeastBeats, p.HeightPercent = 15, 10
	p.Height = [2]float64{0.3, 5}
	p.Noise, p.Baseline = [2]float64{25, 50}, [2]float64{0.5, 1.5}
	p.Flat, p.Jumps = [2]float64{0, 5}, [2]float64{0, 5}
	return p
}

// common are the limits that both profiles share.
func common(name, version string) Profile {
	return Profile{Name: name, Version: version, LeastSeconds: 30, LeastStandsOut: 8,
		Mains: [2]float64{50, 100}, CutOff: [2]float64{10, 50}, Gaps: [2]float64{0, 2},
		UprightLeast: 20, ClockMinutes: 10}
}

// Profiles lists the profiles by name.
func Profiles() []Profile { return []Profile{Bench(), Volunteer()} }

// Expect is what the person or the model demands of this test.
type Expect struct {
	Rate     float64    `json:"rate_per_minute"` // set rate of the source; 0 = not judged
	Height   Millivolts `json:"height_mv"`       // of a known good one; 0 = profile's bounds
	Event    bool       `json:"event"`           // an event mark must have arrived
	ClockOff float64    `json:"clock_minutes"`   // recorder's clock less the true time
}

// Verdict is the outcome of a judgement.
type Verdict string

// The verdicts. NotJudged: nothing failed, but amplitude or more could not be looked at.
const (
	Pass      Verdict = "pass"
	Remark    Verdict = "remark"
	Fail      Verdict = "fail"
	NotJudged Verdict = "not_judged"
)

// Judgement is the outcome with its reasons. All lists are in the order of Codes, none is nil.
type Judgement struct {
	Verdict  Verdict `json:"verdict"`
	Codes    []Code  `json:"codes"`     // what fails
	AlsoSeen []Code  `json:"also_seen"` // what the same faults also show
	Noted    []Code  `json:"noted"`     // remarked, no failure
	Profile  string  `json:"profile"`   // version of the profile
}

// grade says how far a figure went.
type grade int

const (
	fine grade = iota
	noted
	failed
)

// between grades a figure by its remark and fail limits.
func between(v float64, limits [2]float64) grade {
	switch {
	case v > limits[1]:
		return failed
	case v > limits[0]:
		return noted
	}
	return fine
}

// below fails a figure under its limit.
func below(v, least float64) grade {
	if v < least {
		return failed
	}
	return fine
}

// off tells whether v is more than so many percent off; the last digits of a float decide
// nothing, so that the limit itself still passes.
func off(v, want, percent float64) bool {
	return math.Abs(v-want) > want*(percent/100+1e-9)
}

// Judge compares a result with a profile.
func Judge(r Result, p Profile, e Expect) Judgement {
	g := grades(r, p, e)
	folded := fold(r, p, g)
	j := Judgement{Verdict: Pass, Profile: p.Version}
	for c, v := range g {
		switch {
		case v == fine:
		case folded[c]:
			j.AlsoSeen = append(j.AlsoSeen, c)
		case v == failed:
			j.Codes = append(j.Codes, c)
		default:
			j.Noted = append(j.Noted, c)
		}
	}
	j.Codes, j.AlsoSeen, j.Noted = inOrder(j.Codes), inOrder(j.AlsoSeen), inOrder(j.Noted)
	switch {
	case len(j.Codes) > 0:
		j.Verdict = Fail
	case !r.Scaled || r.UnitDoubt || r.Measures.Beats == nil:
		j.Verdict = NotJudged
	case len(j.Noted) > 0 || len(r.Remarks) > 0:
		j.Verdict = Remark
	}
	return j
}

// grades looks at each figure by itself.
func grades(r Result, p Profile, e Expect) map[Code]grade {
	g := map[Code]grade{}
	set := func(c Code, bad bool) {
		if bad {
			g[c] = failed
		}
	}
	set(CutShort, r.CutShort)
	set(NameInside, r.NameInside)
	set(NoEvent, e.Event && r.EventsInside == 0)
	set(Clock, math.Abs(e.ClockOff) > p.ClockMinutes)
	m := r.Measures
	if r.Seconds != nil {
		g[TooShort] = below(*r.Seconds, p.LeastSeconds)
		g[Gaps] = between(val(m.GapSeconds), p.Gaps)
	}
	if m.Beats == nil {
		return g
	}
	g[FlatLine] = between(val(m.FlatSeconds), p.Flat)
	set(NoHeartbeat, *m.Beats < p.LeastBeats || val(m.StandsOut) < p.LeastStandsOut)
	if *m.Beats > 0 {
		g[Clipped] = between(val(m.CutOff), p.CutOff)
		if val(m.Upright) < p.UprightLeast {
			g[UpsideDown] = noted
		}
	}
	if e.Rate > 0 && p.RatePercent > 0 {
		set(Rate, off(val(m.Rate), e.Rate, p.RatePercent))
	}
	if r.Scaled && !r.UnitDoubt {
		amplitudes(m, p, e, g)
	}
	return g
}

// amplitudes looks at the figures that need millivolts.
func amplitudes(m Measures, p Profile, e Expect, g map[Code]grade) {
	g[Mains] = between(max(val(m.Mains50), val(m.Mains60)), p.Mains)
	g[Noise] = between(val(m.NoiseRest), p.Noise)
	g[Jumps] = between(val(m.Jumps), p.Jumps)
	g[Baseline] = between(val(m.Baseline), p.Baseline)
	if m.Height == nil {
		return
	}
	h, want := float64(*m.Height), float64(e.Height)
	switch {
	case want > 0 && off(h, want, p.HeightPercent):
		g[Gain] = failed
	case want <= 0 && h < p.Height[0]:
		g[LowBeats] = failed
	case want <= 0 && h > p.Height[1]:
		g[Gain] = failed
	}
}

// fold finds what only repeats another fault: one fault, one message. A finding is folded
// under the first that explains it, and only as far as it lies at the same place.
func fold(r Result, p Profile, g map[Code]grade) map[Code]bool {
	f := map[Code]bool{}
	m := r.Measures
	under := func(c Code, when bool) { f[c] = f[c] || when }
	if g[CutShort] == failed {
		under(TooShort, r.PromisedSeconds >= p.LeastSeconds)
	}
	if g[TooShort] == failed || g[Gaps] == failed {
		under(NoHeartbeat, val(m.StandsOut) >= p.LeastStandsOut)
	}
	if g[FlatLine] != fine {
		under(Jumps, float64(r.JumpsElsewhere) <= p.Jumps[0])
		under(Baseline, float64(r.BaselineElsewhere) <= p.Baseline[0])
		under(NoHeartbeat, g[FlatLine] == failed && 2*val(m.FlatSeconds) >= val(r.Analysed))
	}
	if g[Jumps] == failed {
		under(Baseline, float64(r.DriftElsewhere) <= p.Baseline[0])
	}
	if g[NoHeartbeat] == failed && val(m.StandsOut) < p.LeastStandsOut {
		// what was taken for beats is noise, so nothing measured at it means anything
		for _, c := range []Code{Clipped, Noise, LowBeats, Gain, Rate, UpsideDown} {
			under(c, true)
		}
	}
	if g[Noise] == failed {
		under(Mains, mainsShare(m) < leastMainsShare)
	}
	if g[Clipped] == failed {
		under(LowBeats, true)
		under(Gain, true)
	}
	return f
}

// leastMainsShare: plain white noise has about 6 % of its power at each mains frequency.
const leastMainsShare = 0.15

// mainsShare is the part of the noise's power that the stronger mains frequency explains.
func mainsShare(m Measures) float64 {
	n, pp := val(m.Noise), max(val(m.Mains50), val(m.Mains60))
	if n == 0 {
		return 0
	}
	return mainsBack * pp * pp / 8 / (n * n)
}
