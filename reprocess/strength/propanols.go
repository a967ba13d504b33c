package strength

// node is one measured point: mass fraction w and density in kg/m³.
type node struct{ w, rho float64 }

// Densities of propan-2-ol + water at 20 °C. Up to 0.20 CRC Handbook of Chemistry and
// Physics (aqueous solutions); above, Zarei & Shahvarpour, J. Chem. Eng. Data 53 (2008) 1660.
var propan2olNodes = []node{
	{0, 998.2}, {.02, 993.9}, {.04, 990.2}, {.06, 987.1}, {.08, 984.3}, {.10, 981.6},
	{.1218, 979.61}, {.20, 969.6}, {.3120, 948.88}, {.4574, 916.63}, {.5647, 891.87},
	{.6514, 871.15}, {.7225, 854.11}, {.7835, 839.36}, {.8331, 827.56}, {.8764, 817.14},
	{.9114, 808.56}, {.9461, 799.95}, {.9754, 792.03}, {1, 785.10},
}

// Densities of propan-1-ol + water at 20 °C. Up to 0.40 CRC Handbook; above, the excess
// volumes of González et al., J. Chem. Eng. Data (2008), je700700f, at 25 °C, moved to the
// pure densities at 20 °C.
var propan1olNodes = []node{
	{0, 998.2}, {.02, 994.6}, {.04, 991.1}, {.06, 988.2}, {.08, 985.5}, {.10, 982.9},
	{.14, 977.9}, {.20, 968.6}, {.24, 961.2}, {.28, 953.3}, {.32, 945.2}, {.36, 937.0},
	{.40, 928.8}, {.4526, 917.66}, {.5860, 890.40}, {.6852, 870.40}, {.7662, 853.94},
	{.8307, 840.66}, {.8859, 829.46}, {.9290, 820.20}, {.9672, 811.65}, {.9850, 807.49},
	{1, 803.6},
}

// propan2olAt50 are the same authors' points at 50 °C, by mole fraction.
var propan2olAt50 = []struct{ x, rho float64 }{
	{0, 988.03}, {.0399, 966.2}, {.1197, 926.48}, {.2017, 891.98}, {.28, 866.23},
	{.359, 844.85}, {.4384, 827.31}, {.5204, 812.2}, {.5995, 800.16}, {.6801, 789.6},
	{.7552, 780.98}, {.8403, 772.47}, {.9225, 764.97}, {1, 758.68},
}

// Molar masses in g/mol.
const (
	molarWater    = 18.0153
	molarEthanol  = 46.0684
	molarPropanol = 60.0952
)

const (
	purePropan2ol = 785.1 // kg/m³ at 20 °C
	purePropan1ol = 803.6 // kg/m³ at 20 °C; the temperature fit below starts 0.01 lower
)

// The temperature model of the propanols holds where it was measured.
const (
	propanolCold Celsius = 15
	propanolWarm Celsius = 35
)

var (
	excess2   = excessCurve(propan2olNodes)
	excess1   = excessCurve(propan1olNodes)
	excess250 = excessAt50()
)

// excessCurve turns densities into excess specific volumes e = 1/ρ − w/ρ_a − (1−w)/ρ_w,
// m³/kg, zero at both ends, and lays the monotone cubic through them.
func excessCurve(nodes []node) curve {
	var c curve
	pure := nodes[len(nodes)-1].rho
	for i, n := range nodes {
		e := 1/n.rho - n.w/pure - (1-n.w)/pureWater
		if i == 0 || i == len(nodes)-1 {
			e = 0
		}
		c.x, c.y = append(c.x, n.w), append(c.y, e)
	}
	c.slopes()
	return c
}

func excessAt50() curve {
	var c curve
	last := len(propan2olAt50) - 1
	water, pure := propan2olAt50[0].rho, propan2olAt50[last].rho
	for _, n := range propan2olAt50 {
		w := n.x * molarPropanol / (n.x*molarPropanol + (1-n.x)*molarWater)
		c.x, c.y = append(c.x, w), append(c.y, 1/n.rho-w/pure-(1-w)/water)
	}
	return c
}

// curve is a table of points. Without slopes it is read linearly, with them as a cubic.
type curve struct{ x, y, m []float64 }

// slopes sets Fritsch–Carlson slopes: the weighted harmonic mean of the neighbouring
// secants, zero where they change sign, the end secant at the ends. The curve between two
// nodes then never leaves their range, so it cannot invent a bump.
func (c *curve) slopes() {
	n := len(c.x)
	secant := make([]float64, n-1)
	for i := range secant {
		secant[i] = (c.y[i+1] - c.y[i]) / (c.x[i+1] - c.x[i])
	}
	c.m = make([]float64, n)
	c.m[0], c.m[n-1] = secant[0], secant[n-2]
	for i := 1; i < n-1; i++ {
		a, b := secant[i-1], secant[i]
		if a*b <= 0 {
			continue
		}
		h0, h1 := c.x[i]-c.x[i-1], c.x[i+1]-c.x[i]
		w0, w1 := 2*h1+h0, h1+2*h0
		c.m[i] = (w0 + w1) / (w0/a + w1/b)
	}
}

// at reads the curve at x; outside the table the end value holds.
func (c *curve) at(x float64) float64 {
	last := len(c.x) - 1
	if x <= c.x[0] {
		return c.y[0]
	}
	if x >= c.x[last] {
		return c.y[last]
	}
	i, j := 0, last
	for j-i > 1 {
		if k := (i + j) / 2; c.x[k] <= x {
			i = k
		} else {
			j = k
		}
	}
	h := c.x[j] - c.x[i]
	s := (x - c.x[i]) / h
	if c.m == nil {
		return c.y[i] + s*(c.y[j]-c.y[i])
	}
	r := 1 - s
	return r*r*(1+2*s)*c.y[i] + s*s*(3-2*s)*c.y[j] + s*r*h*(r*c.m[i]-s*c.m[j])
}

// propanolDensity is the node-table model at w and t (15..35 °C), kg/m³; ±1.5 for
// propan-2-ol and ±2 for propan-1-ol against other laboratories.
func propanolDensity(a Alcohol, w, t float64) float64 {
	d := t - 20
	pure, e := purePropan1ol-0.8015*d-0.00068*d*d, 0.0
	if a == Propan2ol {
		pure, e = purePropan2ol-0.8490*d-0.00106*d*d, excess2.at(w)
		if d != 0 {
			e += d / 30 * (excess250.at(w) - e)
		}
	} else {
		e = excess1.at(w) // held at its 20 °C value: no data at other temperatures
	}
	water := pureWater
	if d != 0 {
		water = ethanolDensity(0, t)
	}
	return 1 / (w/pure + (1-w)/water + e)
}
