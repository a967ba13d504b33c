package strength

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func stem(t *testing.T, text string) Reading {
	t.Helper()
	r, err := ParseReading(text, 0)
	require.NoError(t, err)
	return r
}

// TestWorkingRange: true % v/v behind an alcoholometer reading, soda-lime glass; computed
// elsewhere from the same formula.
func TestWorkingRange(t *testing.T) {
	celsius := []Celsius{10, 15, 20, 25, 30, 35}
	for read, want := range map[float64][]float64{
		60: {63.42, 61.73, 60.00, 58.24, 56.45, 54.63}, 70: {73.19, 71.61, 70.00, 68.35, 66.67, 64.95},
		80: {82.92, 81.48, 80.00, 78.49, 76.94, 75.35}, 90: {92.46, 91.25, 90.00, 88.69, 87.33, 85.92},
		96: {97.97, 97.01, 96.00, 94.93, 93.79, 92.59},
	} {
		for i, c := range celsius {
			m, err := Correct(Reading{read, ScaleVolume}, c, SodaLime)
			require.NoError(t, err)
			require.InDelta(t, want[i], float64(m.Volume), 0.0051, "%v at %v", read, c)
		}
	}
}

// TestGlassTermIsAProduct: OIML R 22 prints 61.9 for a reading of 57.0 at 6 °C; the quotient
// 1/(1 + α d) would give 61.84995, which rounds to 61.8, and no glass term 61.99.
func TestGlassTermIsAProduct(t *testing.T) {
	m, err := Correct(Reading{57, ScaleVolume}, 6, SodaLime)
	require.NoError(t, err)
	require.InDelta(t, 61.85000, float64(m.Volume), 5e-5)
	require.GreaterOrEqual(t, math.Round(10*float64(m.Volume)), 619.0)
	m, err = Correct(Reading{57, ScaleVolume}, 6, NoGlass)
	require.NoError(t, err)
	require.InDelta(t, 61.99, float64(m.Volume), 0.005)
}

// TestGlasses: borosilicate swells less; at 10 °C from 20 °C that is 0.05 % v/v.
func TestGlasses(t *testing.T) {
	volume := func(g Glass, c Celsius) float64 {
		m, err := Correct(Reading{70, ScaleVolume}, c, g)
		require.NoError(t, err)
		return float64(m.Volume)
	}
	require.InDelta(t, 0.05, volume(Borosilicate, 10)-volume(SodaLime, 10), 0.005)
	for _, g := range []Glass{SodaLime, Borosilicate, NoGlass} {
		require.InDelta(t, 70, volume(g, 20), 1e-9)
		again, err := ParseGlass(g.String())
		require.NoError(t, err)
		require.Equal(t, g, again)
	}
	for text, says := range map[string]string{"plastic": "cannot be corrected", "": "not known",
		"Soda-Lime": "not known", "glass(0)": "not known"} {
		_, err := ParseGlass(text)
		require.ErrorContains(t, err, says)
	}
	require.Equal(t, "glass(7)", Glass(7).String())
}

// TestReadingsAgree: the same liquid on three stems gives the same strength.
func TestReadingsAgree(t *testing.T) {
	rho := Density(ethanolDensity(Ethanol.massFraction(0.7), 20))
	for _, r := range []Reading{{70, ScaleVolume}, {100 * Ethanol.massFraction(0.7), ScaleMass},
		{float64(rho), ScaleDensity}} {
		m, err := Correct(r, 27, SodaLime)
		require.NoError(t, err)
		require.InDelta(t, 67.68, float64(m.Volume), 0.01)
		require.InDelta(t, float64(rho)*(1-25e-6*7), float64(m.Density), 1e-6)
		require.InDelta(t, float64(m.Density), ethanolDensity(float64(m.Mass)/100, 27), 1e-9)
	}
}

// TestUncertainty: about 0.55 % v/v at 70 % for a reading to 0.5 % and a thermometer to
// 0.5 °C; 0.40 % v/v per kg/m³ and 0.33 per °C at 70 %, 0.36 and 0.30 at 80 % (computed).
func TestUncertainty(t *testing.T) {
	u := func(text string, g Glass) float64 {
		m, err := Correct(stem(t, text), 20, g)
		require.NoError(t, err)
		return float64(m.Uncertainty)
	}
	require.InDelta(t, 0.55, u("70%v/v", SodaLime), 0.01)
	require.InDelta(t, math.Hypot(0.40, 0.165)+0.03, u("885.56kg/m3", SodaLime), 0.01)
	require.InDelta(t, math.Hypot(0.36, 0.15)+0.03, u("859.27kg/m3", SodaLime), 0.01)
	require.Less(t, u("885.56kg/m3", NoGlass), 0.25)
	for _, text := range []string{"0%v/v", "100%v/v", "0%w/w", "100%w/w", "0.1%v/v", "99.9%v/v"} {
		got := u(text, SodaLime)
		require.True(t, got > 0.1 && got < 2, "%s: %v", text, got)
	}
}

func TestOutsideTheTable(t *testing.T) {
	for _, r := range []struct {
		text string
		t    Celsius
		fits bool
	}{
		{"789.23kg/m3", 20, true}, {"789.22kg/m3", 20, false}, {"998.21kg/m3", 20, true},
		{"998.22kg/m3", 20, false}, {"700kg/m3", 20, false}, {"100%v/v", 20, true},
		{"100%v/v", 10, false}, // stronger than pure
		{"100%v/v", 30, true}, {"0%v/v", 30, false}, {"0%v/v", 20, true}, {"0%w/w", 10, true},
	} {
		_, err := Correct(stem(t, r.text), r.t, SodaLime)
		require.Equal(t, r.fits, err == nil, "%v: %v", r, err)
		if err != nil {
			require.ErrorContains(t, err, "outside the table")
		}
	}
}

func TestCorrectRefuses(t *testing.T) {
	ok := Reading{70, ScaleVolume}
	for _, c := range []Celsius{0, 40} {
		_, err := Correct(ok, c, SodaLime)
		require.NoError(t, err)
	}
	for _, c := range []Celsius{-0.001, 40.001, Celsius(math.NaN()), Celsius(math.Inf(1))} {
		_, err := Correct(ok, c, SodaLime)
		require.ErrorContains(t, err, "outside 0 to 40")
	}
	for _, g := range []Glass{0, 4} {
		_, err := Correct(ok, 20, g)
		require.ErrorContains(t, err, "material")
	}
	for _, r := range []Reading{{}, {70, 9}, {101, ScaleVolume}, {-1, ScaleMass},
		{math.NaN(), ScaleVolume}, {math.NaN(), ScaleDensity}} {
		_, err := Correct(r, 20, SodaLime)
		require.Error(t, err, "%v", r)
	}
}

func TestParseReading(t *testing.T) {
	for _, r := range []struct {
		text  string
		scale Scale
		want  Reading
	}{
		{"70%v/v", 0, Reading{70, ScaleVolume}}, {"70 %vol", ScaleVolume, Reading{70, ScaleVolume}},
		{"62%w/w", 0, Reading{62, ScaleMass}}, {"62g/100g", ScaleMass, Reading{62, ScaleMass}},
		{"885.6kg/m3", 0, Reading{885.6, ScaleDensity}},
		{"0,8856 g/mL", ScaleDensity, Reading{885.6, ScaleDensity}},
		{"70%", ScaleVolume, Reading{70, ScaleVolume}}, {"62%", ScaleMass, Reading{62, ScaleMass}},
	} {
		got, err := ParseReading(r.text, r.scale)
		require.NoError(t, err, r.text)
		require.Equal(t, r.want, got, r.text)
	}
	for _, r := range []struct {
		text  string
		scale Scale
		says  string
	}{
		{"70%", 0, "not what a stem is marked in"}, {"70%", ScaleDensity, "not what a stem"},
		{"70%v/v", ScaleMass, "not of the scale"}, {"62%w/w", ScaleDensity, "not of the scale"},
		{"885.6kg/m3", ScaleVolume, "not of the scale"}, {"885.6", ScaleDensity, "density"},
		{"885.6g/mL", 0, "out of range"}, {"0.8856kg/m3", 0, "out of range"},
		{"55g/100mL", 0, "not what a stem"}, {"69..71%v/v", 0, "one value"}, {"70", 0, "has no unit"},
		{"", 0, "plain number"},
	} {
		_, err := ParseReading(r.text, r.scale)
		require.ErrorContains(t, err, r.says, "%v", r)
	}
	for name, s := range scaleNames {
		got, err := ParseScale(name)
		require.NoError(t, err)
		require.Equal(t, s, got)
	}
	_, err := ParseScale("alcohol")
	require.ErrorContains(t, err, "write volume, mass or density")
}

// TestExpectedReading: an ethanol stem in propanols, computed elsewhere from the densities.
func TestExpectedReading(t *testing.T) {
	for text, want := range map[string]float64{"propan-2-ol=60%v/v": 63.3, "propan-2-ol=70%v/v": 73.3,
		"propan-2-ol=75%v/v": 78.3, "propan-2-ol=80%v/v": 83.2, "propan-1-ol=60%v/v": 63.7,
		"propan-1-ol=70%v/v": 72.4, "propan-1-ol=80%v/v": 80.7, "ethanol=70%v/v": 70} {
		got, err := ExpectedReading(parts(t, text), nil)
		require.NoError(t, err)
		require.InDelta(t, want, float64(got), 0.06, text)
	}
	_, err := ExpectedReading(parts(t, "propan-2-ol=100%v/v"), nil)
	require.ErrorContains(t, err, "outside the table")
	_, err = ExpectedReading(parts(t, "ethanol=70%"), nil)
	require.ErrorContains(t, err, "no single value")
}

// TestMeasuredJudge: a warm reading of 70 is 66.67 % v/v and fails; at 15 °C it is 71.61 and
// passes by more than its uncertainty.
func TestMeasuredJudge(t *testing.T) {
	judge := func(c Celsius, least, most string) Outcome {
		m, err := Correct(Reading{70, ScaleVolume}, c, SodaLime)
		require.NoError(t, err)
		v, err := m.Judge(figure(t, least), figure(t, most))
		require.NoError(t, err)
		require.NotEmpty(t, v.Why)
		return v.Outcome
	}
	require.Equal(t, Fail, judge(30, "70%v/v", ""))
	require.Equal(t, Pass, judge(15, "70%v/v", ""))
	require.Equal(t, Undecided, judge(20, "70%v/v", ""))
	require.Equal(t, Pass, judge(20, "69.4%v/v", ""))
	require.Equal(t, Fail, judge(20, "70.6%v/v", ""))
	require.Equal(t, Pass, judge(20, "60%v/v", "80%v/v"))
	require.Equal(t, Fail, judge(20, "80%v/v", "90%v/v"))
	require.Equal(t, Fail, judge(20, "", "69%v/v"))
	require.Equal(t, Undecided, judge(20, "62%w/w", ""))
	require.Equal(t, Pass, judge(20, "61.7%w/w", "63.1%w/w"))
	require.Equal(t, None, judge(20, "", ""))
	_, err := Measured{}.Judge(figure(t, "70%"), nil)
	require.Error(t, err)
}

// FuzzCorrect: whatever is read, the answer is inside 0..100 or a sentence.
func FuzzCorrect(f *testing.F) {
	f.Add(70.0, 30.0, uint8(1), uint8(1))
	f.Add(885.6, 0.0, uint8(3), uint8(2))
	f.Add(0.0, 40.0, uint8(2), uint8(3))
	f.Add(100.0, 20.0, uint8(1), uint8(3))
	f.Fuzz(func(t *testing.T, value, c float64, s, g uint8) {
		m, err := Correct(Reading{value, Scale(s)}, Celsius(c), Glass(g))
		if err != nil {
			return
		}
		require.True(t, m.Volume >= 0 && m.Volume <= 100 && m.Mass >= 0 && m.Mass <= 100)
		require.True(t, m.Uncertainty > 0 && !math.IsInf(float64(m.Uncertainty), 0), "%v", m)
	})
}
