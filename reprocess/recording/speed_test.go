package recording

import "testing"

// BenchmarkFiveMinutes measures and judges five minutes at 250 Hz with some noise: the target
// is under 50 ms on one core.
func BenchmarkFiveMinutes(b *testing.B) {
	x := benchWave(250, 60, 1, 300)
	r := inMillivolts(add(x, benchNoise(len(x), 0.01, 1)), 250)
	for b.Loop() {
		Judge(Measure(r, 0), Bench(), Expect{Rate: 60})
	}
}

// BenchmarkFiveMinutes208 does the same with five minutes of a disturbed ambulatory ECG at 360 Hz,
// reading included (MIT-BIH record 208, see the README of the recordings).
func BenchmarkFiveMinutes208(b *testing.B) {
	for b.Loop() {
		Judge(Measure(record(b, "ecg208_300s"), 0), Volunteer(), Expect{})
	}
}

// BenchmarkReadEDF reads the file of 30 s.
func BenchmarkReadEDF(b *testing.B) {
	data := load(b, "edf/good_c.edf")
	for b.Loop() {
		_, _ = Read("x.edf", data, Options{})
	}
}

// BenchmarkStripPNG draws 20 s.
func BenchmarkStripPNG(b *testing.B) {
	r := inMillivolts(benchWave(250, 60, 1, 30), 250)
	for b.Loop() {
		_, _ = StripPNG(r, 0, StripText{})
	}
}
