package invent

import (
	"fmt"
	"math"
	"strings"

	"handback/reprocess"
)

// What a recorder of the exporting model writes: EDF+ as edfplus.info describes it, one lead of
// 250 samples a second in records of one second, and the press of the event button.
const (
	perSecond = 250
	testS     = 40 // s
	eventAt   = 12 // s
)

// hum is how strong the mains stand on a test that fails, mV from top to bottom.
const hum = 0.16

// wave is the bench source's beat: per part height in mV, place and width in s, after the sum of
// bells that the check values of the function test are made of.
var wave = [5][3]float64{{0.15, -0.2, 0.025}, {-0.1, -0.035, 0.01}, {1, 0, 0.012},
	{-0.2, 0.035, 0.01}, {0.3, 0.28, 0.045}}

// recorded invents the test recording of one device: 60 beats a minute, a little noise of its
// own, and mains of mains mV.
func (s *sim) recorded(mains float64) []byte {
	slots := 30 // of the annotations in one record, 2 bytes each
	var b strings.Builder
	put := func(text string, n int) { fmt.Fprintf(&b, "%-*s", n, text) }
	day := s.now.Time()
	for _, f := range []struct {
		text string
		n    int
	}{{"0", 8}, {"X X X X", 80}, {"Startdate " + strings.ToUpper(day.Format("02-Jan-2006")) + " X X X", 80},
		{day.Format("02.01.06"), 8}, {day.Format("15.04.05"), 8}, {"768", 8}, {"EDF+C", 44},
		{fmt.Sprint(testS), 8}, {"1", 8}, {"2", 4}} {
		put(f.text, f.n)
	}
	for _, f := range []struct {
		ecg, marks string
		n          int
	}{{"ECG", "EDF Annotations", 16}, {"", "", 80}, {"mV", "", 8}, {"-10", "-1", 8}, {"10", "1", 8},
		{"-32768", "-32768", 8}, {"32767", "32767", 8}, {"", "", 80}, {fmt.Sprint(perSecond),
			fmt.Sprint(slots), 8}, {"", "", 32}} {
		put(f.ecg, f.n)
		put(f.marks, f.n)
	}
	out := []byte(b.String())
	for second := range testS {
		for i := range perSecond {
			d := int16(math.Round((s.sample(float64(second)+float64(i)/perSecond, mains) + 10) / 20 * 65535))
			d = int16(int(d) - 32768)
			out = append(out, byte(d), byte(d>>8))
		}
		list := fmt.Sprintf("+%d\x14\x14\x00", second)
		if second == eventAt {
			list += fmt.Sprintf("+%d.250\x150.5\x14Event button\x14\x00", second)
		}
		out = append(out, list+strings.Repeat("\x00", 2*slots-len(list))...)
	}
	return out
}

// sample is one value of it at a time in s, mV.
func (s *sim) sample(at, mains float64) float64 {
	v := s.rng.NormFloat64()*0.004 + mains/2*math.Sin(2*math.Pi*50*at)
	beat := math.Floor(at) + 0.5
	for _, p := range wave {
		for _, k := range []float64{-1, 0, 1} {
			d := at - beat - k - p[1]
			v += p[0] * math.Exp(-d*d/(2*p[2]*p[2]))
		}
	}
	return v
}

// judged invents a test recording, judges it by the rules and keeps it, where somebody does.
func (s *sim) judged(kit string, mains float64) *reprocess.Test {
	content := s.recorded(mains)
	m := s.model(modelB)
	j, p := reprocess.JudgeTest(content, hash(content), reprocess.TestOptions{Source: "bench",
		Event: m.NeedEvent, HeightUV: m.ExpectedHeightUV})
	switch {
	case p != nil && s.err == nil:
		s.err = p
	case p == nil:
		strip, err := s.o.Files.Test(content, j, "kit "+s.w.Kits[kit].Number, s.now)
		if err != nil && s.err == nil {
			s.err = err
		}
		j.Test.Strip = strip
	}
	return &j.Test
}
