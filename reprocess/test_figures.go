package reprocess

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"handback/reprocess/recording"
)

// TestOptions is what a person says of a test recording that the file cannot say itself.
type TestOptions struct {
	Source   string // "bench" or "person"
	Rate     int    // the source is set to, a minute; 0: 60 on the bench
	Lead     int    // counts from 1; 0: the first that is an ECG
	CSVUnit  string // of a CSV without one: mV, uV, V or counts
	CSVRate  int    // of a CSV without a time column, Hz
	Event    bool   // an event mark has to be in it
	HeightUV int    // learnt for the model, µV; 0: the profile's bounds

	// Signal is the signal file of a recording in two files, with its hash; the bytes judged
	// are then its header's.
	Signal    []byte
	SignalSHA string

	Clock ClockCheck // of the recorder; the zero value leaves it alone
}

// Advised is one code in words, with what to do first.
type Advised struct{ Code, Says, Do string }

// JudgedTest is a file that was looked at: the evidence, what to do, and what the strip is
// drawn from. Recording is nil when the file could not be read.
type JudgedTest struct {
	Test      Test
	Failing   []Advised
	Noted     []Advised // remarked or also seen
	Recording *recording.Recording
	Lead      int // index for the strip
	NameIn    bool
}

// usualRate is what a bench source is set to, a minute; the noise is measured best there.
const usualRate = 60

// JudgeTest reads, measures and judges the bytes of a test recording. A file that cannot be
// read is a failed test with the code FILE; a problem is only a wrong option.
func JudgeTest(data []byte, sha256 string, o TestOptions) (JudgedTest, *Problem) {
	profile, expect, p := o.profile()
	if p != nil {
		return JudgedTest{}, p
	}
	j := JudgedTest{Test: Test{Kind: TestFile, SHA256: sha256, Bytes: int64(len(data)),
		Profile: profile.Name, Version: profile.Version, Source: o.Source}}
	if o.Signal != nil {
		j.Test.Signal = &TestPart{SHA256: o.SignalSHA, Bytes: int64(len(o.Signal))}
	}
	rec, err := o.read(data)
	if err == nil {
		j.Lead, err = rec.Lead(o.Lead)
	}
	if err != nil {
		j.unreadable(err, rec)
		return j, nil
	}
	res := recording.Measure(rec, j.Lead)
	v := recording.Judge(res, profile, expect)
	j.Recording, j.NameIn = rec, rec.NameInside
	j.Test.Format, j.Test.Lead, j.Test.Verdict = string(rec.Format), res.Lead, string(v.Verdict)
	j.Test.Remarks = res.Remarks
	j.say(res, v, expect)
	j.Test.Measures = figures(res, profile, expect, v)
	j.clock(o.Clock, res)
	return j, nil
}

// read understands one file, or two. The header names its signal file; whatever that name is,
// the bytes that came with it are meant, and a second name has none. Whether the two belong
// together is told by first value and sum, so a recording that fails those proves nothing.
func (o TestOptions) read(data []byte) (*recording.Recording, error) {
	r := recording.Options{CSVUnit: o.CSVUnit, CSVRate: float64(o.CSVRate)}
	if o.Signal == nil {
		return recording.Read("recording", data, r)
	}
	named := ""
	r.Sibling = func(base string) ([]byte, error) {
		if named != "" && named != base {
			return nil, errors.New("another signal file")
		}
		named = base
		return o.Signal, nil
	}
	rec, err := recording.Read("recording.hea", data, r)
	if err == nil && rec.Mismatched {
		return rec, errors.New("the signal file is not the one that its header describes: the two " +
			"do not belong together, or one is damaged; export both again, or as EDF")
	}
	return rec, err
}

func (o TestOptions) profile() (recording.Profile, recording.Expect, *Problem) {
	e := recording.Expect{Rate: float64(o.Rate), Event: o.Event,
		Height: recording.Millivolts(o.HeightUV) / 1000}
	if o.Rate < 0 || o.Rate > 300 || o.CSVRate < 0 || o.CSVRate > 4000 || o.Lead < 0 ||
		o.Lead > recording.MaxSignals ||
		!slices.Contains([]string{"", "mV", "uV", "V", "counts"}, o.CSVUnit) {
		return recording.Profile{}, e, invalid("test_options", "Correct it and send again.",
			"The rate, the lead or the unit is out of range.")
	}
	switch o.Source {
	case "bench":
		if e.Rate == 0 {
			e.Rate = usualRate
		}
		return recording.Bench(), e, nil
	case "person":
		e.Rate, e.Height = 0, 0 // a person's own
		return recording.Volunteer(), e, nil
	}
	return recording.Profile{}, e, invalid("test_source", "Choose bench source or a person.",
		"What the test signal was from is not said.")
}

func (j *JudgedTest) unreadable(err error, rec *recording.Recording) {
	if rec != nil {
		j.NameIn = rec.NameInside
	}
	text := err.Error() // recording's errors are sentences for people
	j.Test.Verdict, j.Test.Codes = string(recording.Fail), []string{string(recording.File)}
	j.Test.Remarks = []string{text}
	do := recording.Explain(recording.File, recording.Result{}, recording.Expect{}).Do
	j.Failing = []Advised{{string(recording.File), "The file could not be read: " +
		strings.TrimSuffix(text, ".") + ".", do}}
}

// say puts the codes into words. What was only remarked becomes a remark of the test.
func (j *JudgedTest) say(res recording.Result, v recording.Judgement, e recording.Expect) {
	for _, c := range v.Codes {
		a := recording.Explain(c, res, e)
		j.Test.Codes = append(j.Test.Codes, string(c))
		j.Failing = append(j.Failing, Advised{string(c), a.Says, a.Do})
	}
	for _, c := range v.AlsoSeen {
		j.Test.AlsoSeen = append(j.Test.AlsoSeen, string(c))
		j.Noted = append(j.Noted, Advised{string(c), recording.Explain(c, res, e).Says, ""})
	}
	for _, c := range v.Noted {
		a := recording.Explain(c, res, e)
		j.Test.Remarks = append(j.Test.Remarks, string(c)+": "+a.Says)
		j.Noted = append(j.Noted, Advised{string(c), a.Says, a.Do})
	}
}

// figures lists every measure with its limit, in the order in which codes are told.
func figures(r recording.Result, p recording.Profile, e recording.Expect,
	v recording.Judgement) []Measured {
	f := figureList{said: slices.Concat(v.Codes, v.AlsoSeen, v.Noted)}
	m := r.Measures
	f.least("seconds", "length", fixed(r.Seconds, 1), "s", p.LeastSeconds, recording.TooShort, true)
	f.most("gap_seconds", "holes", fixed(m.GapSeconds, 1), "s", p.Gaps, recording.Gaps)
	f.most("flat_seconds", "dead line", fixed(m.FlatSeconds, 1), "s", p.Flat, recording.FlatLine)
	f.least("beats", "heartbeats", whole(m.Beats), "", float64(p.LeastBeats),
		recording.NoHeartbeat, m.Beats != nil && *m.Beats < p.LeastBeats)
	f.least("stands_out", "beats stand out", short(m.StandsOut), "times", p.LeastStandsOut,
		recording.NoHeartbeat, m.StandsOut != nil && *m.StandsOut < p.LeastStandsOut)
	f.most("cut_off_percent", "tops cut off", fixed(m.CutOff, 0), "%", p.CutOff, recording.Clipped)
	f.mains(m, p)
	f.most("noise_residual_uv", "noise between beats", fixed(m.NoiseRest, 1), "µV", p.Noise,
		recording.Noise)
	f.most("jumps", "jumps", whole(m.Jumps), "", p.Jumps, recording.Jumps)
	f.most("baseline_mv", "line wanders", fixed(m.Baseline, 2), "mV", p.Baseline,
		recording.Baseline)
	f.height(m, p, e)
	if e.Rate > 0 {
		f.add("rate_per_minute", "rate", fixed(m.Rate, 1), "/min",
			fmt.Sprintf("within %.4g %% of %.4g /min", p.RatePercent, e.Rate), recording.Rate, true)
	}
	f.least("upright_percent", "beats that point up", fixed(m.Upright, 0), "%", p.UprightLeast,
		recording.UpsideDown, true)
	return f.rows
}

type figureList struct {
	rows []Measured
	said []recording.Code
}

func (f *figureList) add(id, words, value, unit, limit string, code recording.Code, here bool) {
	m := Measured{ID: id, Words: words, Value: value, Unit: unit, Limit: limit}
	if here && slices.Contains(f.said, code) {
		m.Code = string(code)
	}
	f.rows = append(f.rows, m)
}

func (f *figureList) least(id, words, value, unit string, least float64, code recording.Code,
	here bool) {
	f.add(id, words, value, unit, "at least "+figure(least, unit), code, here)
}

// most shows the limit that fails, and the lower one from which it is remarked.
func (f *figureList) most(id, words, value, unit string, l [2]float64, code recording.Code) {
	f.add(id, words, value, unit, mostWords(l, unit), code, true)
}

func mostWords(l [2]float64, unit string) string {
	text := "at most " + figure(l[1], unit)
	if l[0] < l[1] {
		text += ", remarked above " + figure(l[0], unit)
	}
	return text
}

// mains shows both frequencies; the larger one is the one that was judged.
func (f *figureList) mains(m recording.Measures, p recording.Profile) {
	larger60 := m.Mains60 != nil && (m.Mains50 == nil || *m.Mains60 > *m.Mains50)
	f.add("mains50_uv", "mains hum, 50 Hz", fixed(m.Mains50, 0), "µV", mostWords(p.Mains, "µV"),
		recording.Mains, !larger60)
	f.add("mains60_uv", "mains hum, 60 Hz", fixed(m.Mains60, 0), "µV", mostWords(p.Mains, "µV"),
		recording.Mains, larger60)
}

func (f *figureList) height(m recording.Measures, p recording.Profile, e recording.Expect) {
	limit := fmt.Sprintf("from %.4g to %.4g mV", p.Height[0], p.Height[1])
	if e.Height > 0 {
		limit = fmt.Sprintf("within %.4g %% of %.3f mV", p.HeightPercent, float64(e.Height))
	}
	code := recording.LowBeats
	if slices.Contains(f.said, recording.Gain) {
		code = recording.Gain
	}
	f.add("height_mv", "beat height", fixed(m.Height, 3), "mV", limit, code, true)
}

func figure(x float64, unit string) string {
	text := strconv.FormatFloat(x, 'f', -1, 64)
	if unit != "" {
		text += " " + unit
	}
	return text
}

// fixed writes a figure with so many places; nil was not judged.
func fixed[T ~float64](x *T, places int) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(float64(*x), 'f', places, 64)
}

// short writes a ratio with one place where that says something.
func short[T ~float64](x *T) string {
	if x != nil && *x >= 100 {
		return fixed(x, 0)
	}
	return fixed(x, 1)
}

func whole(n *int) string {
	if n == nil {
		return ""
	}
	return strconv.Itoa(*n)
}
