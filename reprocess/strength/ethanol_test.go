package strength

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// TestCoefficients: the sums follow from the formula's meaning. Σ A is pure ethanol at 20 °C;
// B_1 + Σ C_1 is its slope there, −0.855 kg/m³ per °C (computed from the published table).
func TestCoefficients(t *testing.T) {
	count, sums := 0, [7]float64{}
	for i, row := range r22 {
		for _, c := range row {
			count++
			sums[i] += c
		}
	}
	require.Equal(t, 54, count)
	require.InDelta(t, 789.2391233, sums[0], 5e-8)
	require.InDelta(t, -0.8551082, sums[1], 5e-8)
	// The sums of the other rows, added up in decimal from the published table.
	for i, want := range map[int]float64{2: -3.6635516770400e-4, 3: -2.0029495155403e-6,
		4: -7.8012394736925e-8, 5: -7.25526071289055e-9, 6: -9.9739231e-11} {
		require.InEpsilon(t, want, sums[i], 1e-6, "row %d", i)
	}
	for i, n := range []int{12, 12, 11, 10, 5, 3, 1} {
		require.Len(t, r22[i], n, "power %d of t − 20", i)
	}
	require.InDelta(t, 789.23912, pureEthanol, 5e-6)
	require.InDelta(t, 998.20123, pureWater, 5e-6)
}

// TestEveryCoefficientMatters: each of the 54 numbers, changed by one part in a thousand,
// moves the density somewhere in the range; none stands in a place that is never read.
func TestEveryCoefficientMatters(t *testing.T) {
	for i := range r22 {
		for k := range r22[i] {
			before, kept := ethanolDensity(0.9, -20), r22[i][k]
			r22[i][k] *= 1.001
			after := ethanolDensity(0.9, -20)
			r22[i][k] = kept
			require.NotEqual(t, before, after, "row %d, power %d", i, k)
		}
	}
}

// TestEthanolFallsWithMass: at any temperature density falls and % v/v rises strictly with
// the mass fraction, which is what makes every inverse unique.
func TestEthanolFallsWithMass(t *testing.T) {
	for celsius := -20; celsius <= 40; celsius += 2 {
		for i := 1; i <= 1000; i++ {
			p, q := float64(i-1)/1000, float64(i)/1000
			require.Greater(t, ethanolDensity(p, float64(celsius)), ethanolDensity(q, float64(celsius)),
				"%v at %d", p, celsius)
			require.Less(t, Ethanol.volumeFraction(p), Ethanol.volumeFraction(q))
		}
	}
}

func TestRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.SampledFrom(Alcohols()).Draw(t, "alcohol")
		m := MassPercent(rapid.Float64Range(0, 100).Draw(t, "mass"))
		v, err := a.Volume(m)
		require.NoError(t, err)
		back, err := a.Mass(v)
		require.NoError(t, err)
		require.InDelta(t, float64(m), float64(back), 1e-9)
		again, err := a.Volume(back)
		require.NoError(t, err)
		require.InDelta(t, float64(v), float64(again), 1e-9)
	})
}

func TestDensityRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		celsius := Celsius(rapid.Float64Range(-20, 40).Draw(t, "t"))
		m := MassPercent(rapid.Float64Range(0, 100).Draw(t, "mass"))
		rho, err := Ethanol.Density(m, celsius)
		require.NoError(t, err)
		back, err := EthanolMass(rho, celsius)
		require.NoError(t, err)
		again, err := Ethanol.Density(back, celsius)
		require.NoError(t, err)
		require.InDelta(t, float64(rho), float64(again), 1e-9)
		if float64(m) > 20 { // below, cold water hardly changes and the inverse is soft
			require.InDelta(t, float64(m), float64(back), 1e-9)
		}
	})
}

// TestPharmacyRange: pharmacopoeial ethanol 96 %, 95.1..96.9 % v/v = 92.6..95.2 % w/w, from
// memory.
func TestPharmacyRange(t *testing.T) {
	for v, want := range map[VolumePercent]float64{95.1: 92.6, 96.9: 95.2} {
		m, err := Ethanol.Mass(v)
		require.NoError(t, err)
		require.InDelta(t, want, float64(m), 0.06)
	}
}

func TestEnds(t *testing.T) {
	for _, a := range Alcohols() {
		for _, end := range []float64{0, 100} {
			v, err := a.Volume(MassPercent(end))
			require.NoError(t, err)
			require.Equal(t, end, float64(v))
			m, err := a.Mass(VolumePercent(end))
			require.NoError(t, err)
			require.Equal(t, end, float64(m))
		}
		for _, bad := range []float64{-1e-9, 100.0000001, math.NaN(), math.Inf(1), math.Inf(-1)} {
			_, err := a.Volume(MassPercent(bad))
			require.ErrorContains(t, err, "not between 0 and 100")
			_, err = a.Mass(VolumePercent(bad))
			require.ErrorContains(t, err, "not between 0 and 100")
			_, err = a.Density(MassPercent(bad), 20)
			require.ErrorContains(t, err, "not between 0 and 100")
			_, err = a.Grams(VolumePercent(bad))
			require.ErrorContains(t, err, "not between 0 and 100")
		}
	}
	for _, a := range []Alcohol{0, 4, 255} {
		_, err := a.Volume(50)
		require.ErrorContains(t, err, "write ethanol")
		_, err = a.Mass(50)
		require.Error(t, err)
		_, err = a.Density(50, 20)
		require.Error(t, err)
		_, err = a.Grams(50)
		require.Error(t, err)
	}
}

func TestTemperatureRange(t *testing.T) {
	limits := map[Alcohol][2]Celsius{Ethanol: {-20, 40}, Propan2ol: {15, 35}, Propan1ol: {15, 35}}
	for a, l := range limits {
		for _, c := range l {
			_, err := a.Density(70, c)
			require.NoError(t, err, "%s at %v", a, c)
		}
		for _, c := range []Celsius{l[0] - 0.001, l[1] + 0.001, Celsius(math.NaN())} {
			_, err := a.Density(70, c)
			require.ErrorContains(t, err, "outside")
		}
	}
	_, err := EthanolMass(880, 40.001)
	require.ErrorContains(t, err, "outside -20 to 40")
}

// TestDensityEdges: 0.01 kg/m³ of slack for printed densities, then a sentence. 806.22 at
// 0 °C is the printed value of pure ethanol (OIML R 22 table I) and lies just outside.
func TestDensityEdges(t *testing.T) {
	m, err := EthanolMass(806.22, 0)
	require.NoError(t, err)
	require.InDelta(t, 100, float64(m), 0.01)
	for _, c := range []float64{0, 20, 40} {
		light, heavy := ethanolDensity(1, c), ethanolDensity(0, c)
		for rho, want := range map[float64]float64{light - 0.0099: 100, heavy + 0.0099: 0} {
			m, err := EthanolMass(Density(rho), Celsius(c))
			require.NoError(t, err)
			require.Equal(t, want, float64(m))
		}
		for _, rho := range []float64{light - 0.0101, heavy + 0.0101, math.NaN(), math.Inf(1), -1} {
			_, err := EthanolMass(Density(rho), Celsius(c))
			require.ErrorContains(t, err, "outside the table")
		}
	}
}

// FuzzEthanolMass looks for densities and temperatures whose inverse is not an inverse.
func FuzzEthanolMass(f *testing.F) {
	for _, s := range [][2]float64{{806.22, 0}, {998.20123, 20}, {789.23912, 20}, {885.56, 20},
		{999.97, 4}, {0, 0}, {math.NaN(), 20}, {974.91, -20}} {
		f.Add(s[0], s[1])
	}
	f.Fuzz(func(t *testing.T, rho, celsius float64) {
		m, err := EthanolMass(Density(rho), Celsius(celsius))
		if err != nil {
			return
		}
		require.True(t, m >= 0 && m <= 100)
		require.InDelta(t, rho, ethanolDensity(float64(m)/100, celsius), 0.010001)
	})
}

var sink float64

func BenchmarkEthanolDensity(b *testing.B) {
	for b.Loop() {
		sink += ethanolDensity(0.6239, 31)
	}
}

func BenchmarkVolumeOfMass(b *testing.B) {
	for _, a := range Alcohols() {
		b.Run(a.String(), func(b *testing.B) {
			for b.Loop() {
				v, _ := a.Volume(62.39)
				sink += float64(v)
			}
		})
	}
}

func BenchmarkMassOfVolume(b *testing.B) {
	for _, a := range Alcohols() {
		b.Run(a.String(), func(b *testing.B) {
			for b.Loop() {
				m, _ := a.Mass(70)
				sink += float64(m)
			}
		})
	}
}

func BenchmarkMassOfDensityWarm(b *testing.B) {
	for b.Loop() {
		m, _ := EthanolMass(880, 31)
		sink += float64(m)
	}
}

func BenchmarkCorrect(b *testing.B) {
	for b.Loop() {
		m, _ := Correct(Reading{70, ScaleVolume}, 31, SodaLime)
		sink += float64(m.Volume)
	}
}

func BenchmarkComposeThree(b *testing.B) {
	parts := []Part{{Ethanol, Exactly(45, ByVolume)}, {Propan2ol, Exactly(10, ByMass)},
		{Propan1ol, Exactly(8, Per100Millis)}}
	for b.Loop() {
		c, _ := Compose(parts, nil)
		sink += float64(c.Volume)
	}
}
