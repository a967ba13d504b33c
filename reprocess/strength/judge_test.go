package strength

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func parts(t *testing.T, texts ...string) []Part {
	t.Helper()
	var ps []Part
	for _, s := range texts {
		p, err := ParsePart(s)
		require.NoError(t, err)
		ps = append(ps, p)
	}
	return ps
}

// figure reads a limit; the empty text is no limit.
func figure(t *testing.T, text string) *Figure {
	t.Helper()
	if text == "" {
		return nil
	}
	f, err := ParseStrength(text)
	require.NoError(t, err)
	return &f
}

// TestJudge: the decision rules at and beside their limits. Where a row has a converted
// figure, the figure is that of the conversion tables.
func TestJudge(t *testing.T) {
	rows := []struct {
		part, min, max string
		want           Outcome
	}{
		// In the limit's own basis nothing is uncertain; the limit itself passes.
		{"ethanol=70%v/v", "70%v/v", "", Pass},
		{"ethanol=69.999%v/v", "70%v/v", "", Fail},
		{"ethanol=69.99999999999%v/v", "70%v/v", "", Pass}, // arithmetic noise, not strength
		{"propan-2-ol=70%v/v", "70%v/v", "", Pass},
		{"propan-2-ol=69.99%v/v", "70%v/v", "", Fail},
		{"propan-2-ol=63.1g/100g", "63.1%w/w", "", Pass},
		{"ethanol=90%v/v", "", "90%v/v", Pass},
		{"ethanol=90.1%v/v", "", "90%v/v", Fail},
		{"ethanol=55g/100mL", "55g/100mL", "55g/100mL", Pass},
		// Ethanol converts without uncertainty.
		{"ethanol=60%w/w", "60%v/v", "", Pass},
		{"ethanol=60%w/w", "70%v/v", "", Fail}, // 67.74 % v/v
		{"ethanol=62.38%w/w", "70%v/v", "", Fail},
		{"ethanol=62.39%w/w", "70%v/v", "", Pass}, // the printed 62.39 is 62.3861 rounded up
		{"ethanol=70%v/v", "62.38%w/w", "", Pass},
		{"ethanol=70%v/v", "62.39%w/w", "", Fail},
		// Propanols: value minus bound, value plus bound. 70 % w/w is 76.63 % v/v.
		{"propan-2-ol=70%w/w", "70%v/v", "", Pass},
		{"propan-2-ol=70%w/w", "76.43%v/v", "", Pass},
		{"propan-2-ol=70%w/w", "76.44%v/v", "", Undecided},
		{"propan-2-ol=70%w/w", "76.83%v/v", "", Undecided},
		{"propan-2-ol=70%w/w", "76.84%v/v", "", Fail},
		{"propan-2-ol=70%w/w", "", "76.84%v/v", Pass},
		{"propan-2-ol=70%w/w", "", "76.83%v/v", Undecided},
		{"propan-2-ol=70%w/w", "", "76.43%v/v", Fail},
		{"propan-1-ol=70%w/w", "75.3%v/v", "", Pass}, // 75.56 − 0.25
		{"propan-1-ol=70%w/w", "75.32%v/v", "", Undecided},
		// The bound carries over into other bases: 70 % v/v is 62.66 % w/w.
		{"propan-2-ol=70%v/v", "62.4%w/w", "", Pass},
		{"propan-2-ol=70%v/v", "62.6%w/w", "", Undecided},
		{"propan-2-ol=70%v/v", "62.95%w/w", "", Fail},
		// Basis not stated: the worst reading decides.
		{"ethanol=70%", "70%v/v", "", Pass},
		{"ethanol=70%", "70%w/w", "", Undecided},
		{"ethanol=70%", "62.38%w/w", "", Pass},
		{"ethanol=70%", "90%v/v", "", Fail}, // even g/100 mL is 88.69 % v/v
		{"ethanol=70%", "", "90%v/v", Pass},
		{"ethanol=70%", "", "88%v/v", Undecided},
		{"ethanol=70%", "", "69%v/v", Fail},
		{"ethanol=80%", "", "86%v/v", Pass}, // 80 g/100 mL cannot be and drops out; w/w is 85.49
		{"ethanol=80%", "", "85%v/v", Undecided},
		{"ethanol=70%", "60%v/v", "90%v/v", Pass},
		{"ethanol=70%", "72%v/v", "75%v/v", Undecided},
		// A range: its low end for a minimum, its high end for a maximum.
		{"ethanol=60..80%v/v", "60%v/v", "80%v/v", Pass},
		{"ethanol=60..80%v/v", "60.1%v/v", "", Undecided},
		{"ethanol=60..80%v/v", "80.1%v/v", "", Fail},
		{"ethanol=60..80%v/v", "70%v/v", "70%v/v", Undecided},
		{"ethanol=60..80%v/v", "", "59%v/v", Fail},
		// Both limits: the careful one wins.
		{"ethanol=70%v/v", "60%v/v", "90%v/v", Pass},
		{"ethanol=95%v/v", "60%v/v", "90%v/v", Fail},
		{"propan-2-ol=70%w/w", "76.5%v/v", "60%v/v", ""}, // crossed limits are refused
		{"ethanol=70%v/v", "", "", None},
	}
	for _, r := range rows {
		v, err := Judge(parts(t, r.part), figure(t, r.min), figure(t, r.max), nil)
		if r.want == "" {
			require.ErrorContains(t, err, "least allowed is above")
			continue
		}
		require.NoError(t, err, "%v", r)
		require.Equal(t, r.want, v.Outcome, "%v: %s", r, v.Why)
		require.NotEmpty(t, v.Why)
	}
}

// TestDefaultGate: strengths against 60..90 % v/v, limits included.
func TestDefaultGate(t *testing.T) {
	for value, want := range map[float64]Outcome{45: Fail, 59.9: Fail, 60: Pass, 69.9: Pass, 70: Pass,
		90: Pass, 90.1: Fail, 100: Fail} {
		v, err := Judge([]Part{{Ethanol, Exactly(value, ByVolume)}}, figure(t, "60%v/v"),
			figure(t, "90%v/v"), nil)
		require.NoError(t, err)
		require.Equal(t, want, v.Outcome, "%v", value)
	}
}

func TestJudgeSays(t *testing.T) {
	say := func(min string, texts ...string) string {
		v, err := Judge(parts(t, texts...), figure(t, min), nil, nil)
		require.NoError(t, err)
		return v.Why
	}
	require.Contains(t, say("70%w/w", "ethanol=70%"), "state the basis")
	require.Contains(t, say("70%w/w", "ethanol=70%"), "62.39%w/w")
	require.Contains(t, say("70%v/v", "ethanol=65..75%v/v"), "state the exact figure")
	require.Contains(t, say("76.5%v/v", "propan-2-ol=70%w/w"), "76.63%v/v give or take 0.2")
	require.Contains(t, say("70%v/v", "ethanol=69.9999%v/v"), "69.9999%v/v is below")
	require.Contains(t, say("70%v/v", "ethanol=70%v/v"), "70%v/v is not below the least allowed")
	require.Contains(t, say("", "ethanol=70%v/v"), "no limit")
}

// TestUnstatedReadings: what a bare number may mean, computed values.
func TestUnstatedReadings(t *testing.T) {
	for text, want := range map[string]int{"ethanol=70%": 3, "ethanol=78.92%": 3, "ethanol=78.93%": 2,
		"propan-2-ol=78.51%": 3, "propan-2-ol=78.52%": 2, "propan-1-ol=80.36%": 3,
		"propan-1-ol=80.37%": 2, "ethanol=70%v/v": 1, "ethanol=60..80%v/v": 2} {
		v, err := Judge(parts(t, text), nil, nil, nil)
		require.NoError(t, err)
		require.Equal(t, want, v.Readings, text)
		require.Equal(t, want == 1, v.Composition != nil, text)
	}
	v, err := Judge(parts(t, "ethanol=40%", "propan-2-ol=30%"), figure(t, "70%v/v"), nil, nil)
	require.NoError(t, err)
	require.Equal(t, 9, v.Readings)
	require.Equal(t, Pass, v.Outcome, v.Why)
}

func TestMixedBases(t *testing.T) {
	// 40 % w/w ethanol and 30 % w/w propan-2-ol are 43.80 + 33.02 % v/v and 60.49 g/100 mL.
	byMass := compose(t, nil, parts(t, "ethanol=40%w/w", "propan-2-ol=30%w/w")...)
	require.InDelta(t, 43.80, float64(byMass.Shares[0].Volume), 0.01)
	require.InDelta(t, 33.02, float64(byMass.Shares[1].Volume), 0.01)
	require.Equal(t, VolumePercent(0.3), byMass.Uncertainty)
	e, p := byMass.Shares[0], byMass.Shares[1]
	for _, ps := range [][]Part{
		{{Ethanol, Exactly(40, ByMass)}, {Propan2ol, Exactly(float64(p.Volume), ByVolume)}},
		{{Ethanol, Exactly(float64(e.Volume), ByVolume)}, {Propan2ol, Exactly(30, Per100Grams)}},
		{{Ethanol, Exactly(float64(e.Volume), ByVolume)},
			{Propan2ol, Exactly(float64(p.Volume)*purePropan2ol/1000, Per100Millis)}},
	} {
		c := compose(t, nil, ps...)
		require.InDelta(t, float64(byMass.Mass), float64(c.Mass), 1e-9, "%v", ps)
		require.InDelta(t, float64(byMass.Volume), float64(c.Volume), 1e-9)
		require.InDelta(t, float64(byMass.Density), float64(c.Density), 1e-9)
	}
	three := compose(t, nil, parts(t, "ethanol=50%w/w", "propan-2-ol=10%w/w", "propan-1-ol=10%w/w")...)
	require.InDelta(t, 76.71, float64(three.Volume), 0.01)
	require.InDelta(t, 74.66, float64(three.Floor), 0.01)
	require.InDelta(t, 866.4, float64(three.Density), 0.06)
}

// TestThreeWaysToVolume: a given density is exact, the model carries a bound, the floor lies
// below both.
func TestThreeWaysToVolume(t *testing.T) {
	ps := parts(t, "ethanol=40%w/w", "propan-2-ol=30%w/w")
	d := Density(864.12)
	given, model := compose(t, &d, ps...), compose(t, nil, ps...)
	require.InDelta(t, float64(model.Volume), float64(given.Volume), 0.001)
	require.Equal(t, VolumePercent(0), given.Uncertainty)
	require.Less(t, model.Floor, model.Volume-1)
	d = 870
	heavier := compose(t, &d, ps...)
	require.InDelta(t, 40*870/pureEthanol+30*870/purePropan2ol, float64(heavier.Volume), 1e-9)
	require.Equal(t, d, heavier.Density)
}

func TestOwnBasisKeepsItsDigits(t *testing.T) {
	c := compose(t, nil, parts(t, "propan-2-ol=70%v/v")...)
	require.Equal(t, VolumePercent(70), c.Volume)
	require.Equal(t, VolumePercent(0), c.Uncertainty)
	require.Equal(t, MassPercent(63.1), compose(t, nil, parts(t, "propan-2-ol=63.1g/100g")...).Mass)
	for text, bound := range map[string]VolumePercent{"propan-2-ol=63.1g/100g": 0.2,
		"propan-1-ol=60g/100g": 0.25, "ethanol=60g/100g": 0} {
		require.Equal(t, bound, compose(t, nil, parts(t, text)...).Uncertainty, text)
	}
	// A part that is not there is no second alcohol.
	c = compose(t, nil, parts(t, "propan-2-ol=63.1g/100g", "ethanol=0%w/w")...)
	require.Equal(t, VolumePercent(0.2), c.Uncertainty)
	water := compose(t, nil, parts(t, "ethanol=0%v/v")...)
	require.InDelta(t, 998.2, float64(water.Density), 0.01)
}

// TestComposeMatchesSingleAlcohol: the solver for mixtures and the direct inverse agree.
func TestComposeMatchesSingleAlcohol(t *testing.T) {
	for _, a := range Alcohols() {
		for q := 0.0; q <= 100; q += 0.5 {
			c := compose(t, nil, Part{a, Exactly(q, ByVolume)})
			m, err := a.Mass(VolumePercent(q))
			require.NoError(t, err)
			require.InDelta(t, float64(m), float64(c.Mass), 1e-9, "%s %v", a, q)
		}
	}
}

func TestComposeRefuses(t *testing.T) {
	for _, r := range []struct {
		parts []string
		says  string
	}{
		{[]string{"ethanol=70%v/v", "ethanol=10%v/v"}, "given twice"},
		{[]string{"ethanol=60%v/v", "propan-2-ol=40.01%v/v"}, "more than 100"},
		{[]string{"ethanol=60%w/w", "propan-2-ol=40.01%w/w"}, "more than 100"},
		{[]string{"ethanol=60%w/w", "propan-2-ol=50%v/v"}, "more than 100"},
		{[]string{"ethanol=79g/100mL"}, "cannot be"},
		{[]string{"ethanol=50%v/v", "propan-2-ol=50g/100mL"}, "more than 100"},
		{[]string{"ethanol=70%"}, "no single value"},
		{[]string{"ethanol=60..70%v/v"}, "no single value"},
		{nil, "no alcohol is given"},
	} {
		_, err := Compose(parts(t, r.parts...), nil)
		require.ErrorContains(t, err, r.says, "%v", r.parts)
	}
	for _, bad := range []Part{{0, Exactly(70, ByVolume)}, {Ethanol, Figure{}},
		{Ethanol, Exactly(math.NaN(), ByVolume)}, {Ethanol, Exactly(-1, ByMass)},
		{Ethanol, Exactly(math.Inf(1), ByMass)}, {Ethanol, Exactly(70, 99)}} {
		_, err := Compose([]Part{bad}, nil)
		require.Error(t, err, "%v", bad)
		_, err = Judge([]Part{bad}, nil, nil, nil)
		require.Error(t, err, "%v", bad)
	}
	for d, fits := range map[Density]bool{837.7: true, 897.5: true, 837.5: false, 897.7: false,
		1200:                false,
		Density(math.NaN()): false} {
		_, err := Compose(parts(t, "ethanol=70%w/w"), &d) // 867.6 by the model
		require.Equal(t, fits, err == nil, "%v: %v", d, err)
	}
	// 100 % in two halves is just possible.
	full := compose(t, nil, parts(t, "ethanol=50%v/v", "propan-2-ol=50%v/v")...)
	require.InDelta(t, 100, float64(full.Mass), 1e-9)
}

func TestJudgeRefuses(t *testing.T) {
	ps := parts(t, "ethanol=70%v/v")
	for _, limit := range []string{"70%", "60..70%v/v"} {
		_, err := Judge(ps, figure(t, limit), nil, nil)
		require.ErrorContains(t, err, "one number and a stated basis")
		_, err = Judge(ps, nil, figure(t, limit), nil)
		require.ErrorContains(t, err, "one number and a stated basis")
	}
	_, err := Judge(ps, figure(t, "71%w/w"), figure(t, "70g/100g"), nil)
	require.ErrorContains(t, err, "least allowed is above")
	_, err = Judge(ps, &Figure{}, nil, nil)
	require.Error(t, err)
	_, err = Judge(parts(t, "ethanol=70..80g/100mL"), nil, nil, nil)
	require.ErrorContains(t, err, "cannot be")
	_, err = Judge(parts(t, "ethanol=70%", "propan-2-ol=60%"), nil, nil, nil)
	require.ErrorContains(t, err, "more than 100")
}

// TestJudgeOne: propanol does not count toward a minimum of ethanol.
func TestJudgeOne(t *testing.T) {
	ps := parts(t, "ethanol=45%v/v", "propan-2-ol=30%w/w")
	v, err := JudgeOne(Ethanol, ps, figure(t, "70%v/v"), nil, nil)
	require.NoError(t, err)
	require.Equal(t, Fail, v.Outcome)
	v, err = Judge(ps, figure(t, "70%v/v"), nil, nil)
	require.NoError(t, err)
	require.Equal(t, Pass, v.Outcome)
	v, err = JudgeOne(Ethanol, ps, figure(t, "45%v/v"), figure(t, "45%v/v"), nil)
	require.NoError(t, err)
	require.Equal(t, Pass, v.Outcome, "declared in its own basis: %s", v.Why)
	v, err = JudgeOne(Propan1ol, ps, figure(t, "1%w/w"), nil, nil)
	require.NoError(t, err)
	require.Equal(t, Fail, v.Outcome)
	_, err = JudgeOne(0, ps, nil, nil, nil)
	require.Error(t, err)
}

// TestJudgeAgainstEveryReading: a second, slower judge walks through every meaning of every
// part and through the inside of every range, with the direct conversions and no solver for
// ethanol alone. A pass must pass them all and a fail must fail them all.
func TestJudgeAgainstEveryReading(t *testing.T) {
	bases := []Basis{ByVolume, ByMass, Per100Grams, Per100Millis, Unstated}
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(0, 78).Draw(t, "low")
		f := Figure{low, rapid.SampledFrom([]float64{low, low + 0.5, 78.5}).Draw(t, "high"),
			rapid.SampledFrom(bases).Draw(t, "basis")}
		limit := Exactly(rapid.Float64Range(0, 100).Draw(t, "limit"),
			rapid.SampledFrom(bases[:4]).Draw(t, "limit basis"))
		atLeast := rapid.Bool().Draw(t, "minimum")
		least, most := &limit, (*Figure)(nil)
		if !atLeast {
			least, most = nil, &limit
		}
		v, err := Judge([]Part{{Ethanol, f}}, least, most, nil)
		require.NoError(t, err)
		passes, fails := 0, 0
		for _, x := range everyMeaning(f, limit.Basis) {
			if (atLeast && x >= limit.Low-1e-7) || (!atLeast && x <= limit.Low+1e-7) {
				passes++
			}
			if (atLeast && x < limit.Low+1e-7) || (!atLeast && x > limit.Low-1e-7) {
				fails++
			}
		}
		all := len(everyMeaning(f, limit.Basis))
		switch v.Outcome {
		case Pass:
			require.Equal(t, all, passes, v.Why)
		case Fail:
			require.Equal(t, all, fails, v.Why)
		default:
			require.True(t, passes > 0 && fails > 0, v.Why)
		}
	})
}

// everyMeaning lists ethanol figures in the limit's basis, eleven across a range.
func everyMeaning(f Figure, to Basis) []float64 {
	from := []Basis{f.Basis}
	if f.Basis == Unstated {
		from = []Basis{ByVolume, ByMass, Per100Millis}
	}
	var all []float64
	for _, b := range from {
		for i := 0; i <= 10; i++ {
			q := Ethanol.fraction(f.Low+(f.High-f.Low)*float64(i)/10, b)
			switch to.plain() {
			case ByVolume:
				all = append(all, 100*q)
			case ByMass:
				all = append(all, 100*Ethanol.massFraction(q))
			default:
				all = append(all, q*pureEthanol/10)
			}
		}
	}
	return all
}

// TestOneSolution: model(w(ρ)) − ρ falls strictly, so a mixture has one density only.
func TestOneSolution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share := func(name string) float64 { return rapid.Float64Range(0, 33).Draw(t, name) }
		bases := []Basis{ByVolume, ByMass, Per100Millis}
		var rs []reading
		for _, a := range Alcohols() {
			rs = append(rs, reading{a, share(a.String()), rapid.SampledFrom(bases).Draw(t, "basis")})
		}
		before := math.Inf(1)
		for rho := 600.0; rho <= 1000; rho += 5 {
			now := blendAt(rs, rho).modelDensity() - rho
			require.Less(t, now, before, "%v at %v", rs, rho)
			before = now
		}
	})
}

// TestRoot: the solver on curves that are flat, steep and bent, with few calls.
func TestRoot(t *testing.T) {
	for name, c := range map[string]struct {
		f      func(float64) float64
		lo, hi float64
		want   float64
	}{
		"line":        {func(x float64) float64 { return x - 0.3 }, 0, 1, 0.3},
		"flat start":  {func(x float64) float64 { return math.Pow(x, 9) - 1e-3 }, 0, 1, math.Pow(1e-3, 1.0/9)},
		"steep start": {func(x float64) float64 { return math.Cbrt(x) - 0.1 }, 0, 1, 1e-3},
		"at low end":  {func(x float64) float64 { return x }, 0, 1, 0},
		"at high end": {func(x float64) float64 { return x - 1 }, 0, 1, 1},
		"wide":        {func(x float64) float64 { return x*x - 850*850 }, 300, 1000, 850},
		"jump":        {func(x float64) float64 { return math.Copysign(1, x-0.7) }, 0, 1, 0.7},
	} {
		calls := 0
		got := root(func(x float64) float64 { calls++; return c.f(x) }, c.lo, c.hi)
		require.InDelta(t, c.want, got, 1e-12*math.Max(1, c.hi), name)
		require.LessOrEqual(t, calls, 150, name)
	}
}

// FuzzJudge: any figures give an outcome or a sentence, and a stronger product never does
// worse against a minimum.
func FuzzJudge(f *testing.F) {
	f.Add(70.0, 20.0, 70.0, uint8(1), uint8(5), uint8(1))
	f.Add(78.9, 0.0, 62.39, uint8(5), uint8(2), uint8(2))
	f.Add(100.0, 100.0, 100.0, uint8(4), uint8(4), uint8(4))
	f.Fuzz(func(t *testing.T, a, b, limit float64, ba, bb, bl uint8) {
		least := Exactly(limit, Basis(bl))
		ps := []Part{{Ethanol, Exactly(a, Basis(ba))}, {Propan2ol, Exactly(b, Basis(bb))}}
		v, err := Judge(ps, &least, nil, nil)
		if err != nil {
			return
		}
		require.Contains(t, []Outcome{Pass, Fail, Undecided}, v.Outcome)
		ps[0].Figure = Exactly(math.Min(100, a*1.01), Basis(ba))
		if more, err := Judge(ps, &least, nil, nil); err == nil && v.Outcome == Pass &&
			more.Readings == v.Readings {
			require.Equal(t, Pass, more.Outcome, "%v: %s", ps, more.Why)
		}
	})
}
