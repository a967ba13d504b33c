package strength

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestNodesAreReturned: the curve goes through every measured point (plumbing, no evidence).
func TestNodesAreReturned(t *testing.T) {
	require.Len(t, propan2olNodes, 20)
	require.Len(t, propan1olNodes, 23)
	for a, nodes := range map[Alcohol][]node{Propan2ol: propan2olNodes, Propan1ol: propan1olNodes} {
		for _, n := range nodes {
			require.InDelta(t, n.rho, a.density(n.w, 20), 0.002, "%s at %v", a, n.w)
		}
	}
}

func TestPropanolsFallWithMass(t *testing.T) {
	for _, a := range []Alcohol{Propan2ol, Propan1ol} {
		for celsius := 15.0; celsius <= 35; celsius += 5 {
			for i := 1; i <= 1000; i++ {
				p, q := float64(i-1)/1000, float64(i)/1000
				require.Greater(t, a.density(p, celsius), a.density(q, celsius), "%s %v %v", a, p, celsius)
			}
		}
		for i := 1; i <= 1000; i++ {
			require.Less(t, a.volumeFraction(float64(i-1)/1000), a.volumeFraction(float64(i)/1000))
		}
	}
}

// TestLeaveOneOut: a curve without one of its points still predicts it, which is independent
// evidence on the interpolation. Bounds as stated for the data: 0.4 kg/m³ from w = 0.56 on for
// propan-2-ol (1.2 at its two wide gaps), 0.35 for propan-1-ol.
func TestLeaveOneOut(t *testing.T) {
	check := func(nodes []node, from, bound float64) {
		for i := 1; i < len(nodes)-1; i++ {
			n := nodes[i]
			if n.w < from {
				continue
			}
			rest := append(append([]node{}, nodes[:i]...), nodes[i+1:]...)
			c := excessCurve(rest)
			pure := nodes[len(nodes)-1].rho
			got := 1 / (n.w/pure + (1-n.w)/pureWater + c.at(n.w))
			require.InDelta(t, n.rho, got, bound, "w = %v", n.w)
		}
	}
	check(propan2olNodes, .56, 0.4)
	check(propan2olNodes, .31, 1.25)
	check(propan1olNodes, .30, 0.35)
}

// TestPropanolsBesideOtherLaboratories: CRC Handbook at 20 °C, where it is not a node; the
// stated bounds are ±1.5 and ±2 kg/m³.
func TestPropanolsBesideOtherLaboratories(t *testing.T) {
	for w, rho := range map[float64]float64{.40: 930.2, .80: 834.1} {
		require.InDelta(t, rho, Propan2ol.density(w, 20), 1.5)
	}
	require.InDelta(t, 847.0, Propan1ol.density(.80, 20), 2)
}

// TestConversionTable: computed elsewhere from the same node tables, printed to one decimal.
func TestConversionTable(t *testing.T) {
	rows := []struct{ q, w2, rho2, w1, rho1 float64 }{
		{30, 24.5, 962.0, 25.1, 959.0}, {45, 37.8, 934.4, 38.8, 931.2}, {50, 42.5, 924.0, 43.6, 921.1},
		{60, 52.25, 901.6, 53.5, 900.6}, {63, 55.3, 894.6, 56.6, 894.4}, {70, 62.66, 877.1, 63.95, 879.6},
		{80, 73.9, 850.2, 75.0, 857.3}, {90, 86.1, 820.9, 86.8, 833.1}, {95, 92.7, 804.8, 93.1, 819.7},
	}
	for _, r := range rows {
		for a, want := range map[Alcohol][2]float64{Propan2ol: {r.w2, r.rho2},
			Propan1ol: {r.w1, r.rho1}} {
			m, err := a.Mass(VolumePercent(r.q))
			require.NoError(t, err)
			require.InDelta(t, want[0], float64(m), 0.06, "%s %v", a, r.q)
			require.InDelta(t, want[1], a.density(float64(m)/100, 20), 0.06, "%s %v", a, r.q)
		}
	}
}

// TestPropan2olWarm: with no contraction data of its own, 35 °C must lie between the measured
// 20 °C and 50 °C points of the same authors (Zarei & Shahvarpour 2008).
func TestPropan2olWarm(t *testing.T) {
	for i, n := range propan2olAt50 {
		w := n.x * molarPropanol / (n.x*molarPropanol + (1-n.x)*molarWater)
		require.InDelta(t, w, excess250.x[i], 1e-12)
		require.Greater(t, Propan2ol.density(w, 35), n.rho)
		require.Less(t, Propan2ol.density(w, 35), Propan2ol.density(w, 20))
	}
	require.InDelta(t, 758.68, Propan2ol.density(1, 50), 0.05)
}

// TestMonotoneCubic: flat data stay flat and the curve never leaves the range of two
// neighbouring nodes (Fritsch & Carlson 1980).
func TestMonotoneCubic(t *testing.T) {
	c := curve{x: []float64{0, 1, 2, 4, 5}, y: []float64{0, 0, 3, 3, 1}}
	c.slopes()
	require.Equal(t, 0.0, c.m[1])
	require.Equal(t, 0.0, c.m[2])
	for i := range 500 {
		x := float64(i) / 100
		y := c.at(x)
		for k := 0; k < len(c.x)-1; k++ {
			if x >= c.x[k] && x <= c.x[k+1] {
				require.GreaterOrEqual(t, y, min(c.y[k], c.y[k+1])-1e-12)
				require.LessOrEqual(t, y, max(c.y[k], c.y[k+1])+1e-12)
			}
		}
	}
	require.Equal(t, 0.0, c.at(-1))
	require.Equal(t, 1.0, c.at(9))
}

func TestBounds(t *testing.T) {
	require.Equal(t, VolumePercent(0), Ethanol.Bound())
	require.Equal(t, VolumePercent(0.2), Propan2ol.Bound())
	require.Equal(t, VolumePercent(0.25), Propan1ol.Bound())
	require.Equal(t, Density(785.1), Propan2ol.PureDensity())
	require.Equal(t, Density(803.6), Propan1ol.PureDensity())
	require.InDelta(t, 789.24, float64(Ethanol.PureDensity()), 0.005)
}
