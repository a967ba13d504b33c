package strength

import (
	"encoding/csv"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// checksFile holds the published and computed values; the source of each stands in its row.
const checksFile = "../../testdata/checks/alcohol-checks.csv"

type checkRow struct {
	id, fn, kind, source string
	args                 []float64
	expected, tolerance  float64
}

func readChecks(t *testing.T) []checkRow {
	t.Helper()
	f, err := os.Open(checksFile)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"id", "fn", "args", "expected", "tol", "kind", "source"}, all[0])
	var rows []checkRow
	for _, c := range all[1:] {
		r := checkRow{id: c[0], fn: c[1], kind: c[5], source: c[6]}
		for _, a := range strings.Split(c[2], ";") {
			r.args = append(r.args, float(t, a))
		}
		r.expected, r.tolerance = float(t, c[3]), float(t, c[4])
		require.Positive(t, r.tolerance, r.id)
		require.NotEmpty(t, r.source, r.id)
		rows = append(rows, r)
	}
	return rows
}

func float(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// TestPublishedValues: the expected value is printed in the source named in the row.
func TestPublishedValues(t *testing.T) { runChecks(t, "published", 88) }

// TestComputedValues: computed from the same formula and model elsewhere; it proves that the
// numbers were carried over and joined rightly, not that they are true.
func TestComputedValues(t *testing.T) { runChecks(t, "calc", 20) }

// TestRecalledValues: from memory, a soft check kept apart from the published rows.
func TestRecalledValues(t *testing.T) { runChecks(t, "memory", 16) }

func TestChecksFileIsWhole(t *testing.T) {
	rows, ids := readChecks(t), map[string]bool{}
	require.Len(t, rows, 124)
	for _, r := range rows {
		require.False(t, ids[r.id], r.id)
		ids[r.id] = true
		require.Contains(t, []string{"published", "calc", "memory"}, r.kind, r.id)
	}
}

func runChecks(t *testing.T, kind string, count int) {
	ran := 0
	for _, r := range readChecks(t) {
		if r.kind != kind {
			continue
		}
		ran++
		t.Run(r.id, func(t *testing.T) {
			fn, ok := checkFunctions[r.fn]
			require.True(t, ok, "no function %s", r.fn)
			require.InDelta(t, r.expected, fn(t, r.args), r.tolerance, fmt.Sprint(r))
		})
	}
	require.Equal(t, count, ran)
}

type checkFunction func(t *testing.T, a []float64) float64

var checkFunctions = map[string]checkFunction{
	"rho_p":             rhoOfMass,
	"rho_q":             rhoOfVolume,
	"q_of_p":            toVolume(Ethanol),
	"p_of_q":            toMass(Ethanol),
	"q_of_p_ipa":        toVolume(Propan2ol),
	"p_of_q_ipa":        toMass(Propan2ol),
	"q_of_p_npa":        toVolume(Propan1ol),
	"p_of_q_npa":        toMass(Propan1ol),
	"rho_ipa":           rhoAt20(Propan2ol),
	"rho_npa":           rhoAt20(Propan1ol),
	"sg_ipa":            func(t *testing.T, a []float64) float64 { return gravityPropan2ol(t, a[0]) },
	"p_of_rho20":        func(t *testing.T, a []float64) float64 { return massOfDensity(t, a[0]) },
	"q_of_rho20":        volumeOfDensity,
	"alcoholometer_q":   alcoholometer(ScaleVolume),
	"alcoholometer_p":   alcoholometer(ScaleMass),
	"sg_air":            gravityInAir,
	"q1556_of_p":        func(_ *testing.T, a []float64) float64 { return 100 * volumeAt1556(a[0]) },
	"p_of_q1556":        massAt1556,
	"dil_stock":         diluted(Ethanol, func(p Plan) float64 { return float64(p.Stock) }),
	"dil_water":         diluted(Ethanol, func(p Plan) float64 { return float64(p.Water) }),
	"dil_stock_ipa":     diluted(Propan2ol, func(p Plan) float64 { return float64(p.Stock) }),
	"water_per_1000":    waterPer1000,
	"usp_dilute_volume": halfAndHalf,
	"q_of_wv":           ofGrams(func(c Composition) float64 { return float64(c.Volume) }),
	"p_of_wv":           ofGrams(func(c Composition) float64 { return float64(c.Mass) }),
	"mix_rho":           mixed(func(c Composition) float64 { return float64(c.Density) }),
	"mix_vv":            mixed(func(c Composition) float64 { return float64(c.Volume) }),
	"mix_vv_floor":      mixed(func(c Composition) float64 { return float64(c.Floor) }),
	"mix_wv":            mixed(func(c Composition) float64 { return float64(c.Grams) }),
}

func density(t *testing.T, a Alcohol, w, celsius float64) float64 {
	d, err := a.Density(MassPercent(100*w), Celsius(celsius))
	require.NoError(t, err)
	return float64(d)
}

func rhoOfMass(t *testing.T, a []float64) float64 { return density(t, Ethanol, a[0], a[1]) }

func rhoAt20(x Alcohol) checkFunction {
	return func(t *testing.T, a []float64) float64 { return density(t, x, a[0], 20) }
}

func toVolume(x Alcohol) checkFunction {
	return func(t *testing.T, a []float64) float64 {
		v, err := x.Volume(MassPercent(100 * a[0]))
		require.NoError(t, err)
		return float64(v)
	}
}

func toMass(x Alcohol) checkFunction {
	return func(t *testing.T, a []float64) float64 {
		m, err := x.Mass(VolumePercent(100 * a[0]))
		require.NoError(t, err)
		return float64(m)
	}
}

func rhoOfVolume(t *testing.T, a []float64) float64 {
	return density(t, Ethanol, toMass(Ethanol)(t, a)/100, a[1])
}

func gravityPropan2ol(t *testing.T, q float64) float64 {
	return density(t, Propan2ol, toMass(Propan2ol)(t, []float64{q})/100, 20) / 998.2
}

func massOfDensity(t *testing.T, rho float64) float64 {
	m, err := EthanolMass(Density(rho), 20)
	require.NoError(t, err)
	return float64(m)
}

func volumeOfDensity(t *testing.T, a []float64) float64 {
	return toVolume(Ethanol)(t, []float64{massOfDensity(t, a[0]) / 100})
}

// alcoholometer goes below 0 °C, as the published table does, and so past Correct's limits.
func alcoholometer(s Scale) checkFunction {
	return func(t *testing.T, a []float64) float64 {
		m, err := correct(Ethanol, Reading{100 * a[0], s}, a[1], SodaLime)
		require.NoError(t, err)
		if s == ScaleMass {
			return float64(m.Mass)
		}
		return float64(m.Volume)
	}
}

// gravityInAir is the specific gravity weighed in air, both liquids at t.
func gravityInAir(t *testing.T, a []float64) float64 {
	air := 1.2 * 293.15 / (273.15 + a[1])
	return (density(t, Ethanol, a[0], a[1]) - air) / (density(t, Ethanol, 0, a[1]) - air)
}

func volumeAt1556(p float64) float64 {
	return p * ethanolDensity(p, 15.56) / ethanolDensity(1, 15.56)
}

func massAt1556(_ *testing.T, a []float64) float64 {
	return 100 * root(func(p float64) float64 { return volumeAt1556(p) - a[0] }, 0, 1)
}

func plan(t *testing.T, x Alcohol, q1, q2, volume float64) Plan {
	p, err := PlanDilution(Order{Alcohol: x, Stock: Exactly(100*q1, ByVolume),
		Target: Exactly(100*q2, ByVolume), Volume: Millilitres(volume)})
	require.NoError(t, err)
	return p
}

func diluted(x Alcohol, take func(Plan) float64) checkFunction {
	return func(t *testing.T, a []float64) float64 { return take(plan(t, x, a[0], a[1], a[2])) }
}

func waterPer1000(t *testing.T, a []float64) float64 {
	p := plan(t, Ethanol, a[0], a[1], 1000)
	return 1000 * float64(p.Water/p.Stock)
}

// halfAndHalf mixes 500 mL of stock and 500 mL of water at 25 °C and gives the mL at 25 °C.
func halfAndHalf(_ *testing.T, a []float64) float64 {
	stock, water := 0.5*ethanolDensity(a[0], 25), 0.5*ethanolDensity(0, 25)
	return 1000 * (stock + water) / ethanolDensity(stock*a[0]/(stock+water), 25)
}

func ofGrams(take func(Composition) float64) checkFunction {
	return func(t *testing.T, a []float64) float64 {
		return take(compose(t, nil, Part{Ethanol, Exactly(a[0], Per100Millis)}))
	}
}

func mixed(take func(Composition) float64) checkFunction {
	return func(t *testing.T, a []float64) float64 {
		var parts []Part
		for i, x := range Alcohols() {
			parts = append(parts, Part{x, Exactly(100*a[i], ByMass)})
		}
		return take(compose(t, nil, parts...))
	}
}

func compose(t *testing.T, d *Density, parts ...Part) Composition {
	t.Helper()
	c, err := Compose(parts, d)
	require.NoError(t, err)
	return c
}
