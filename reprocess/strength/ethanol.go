package strength

import (
	"fmt"
	"math"
)

// r22 holds the 54 coefficients of the international alcoholometric formula (OIML R 22):
// density of ethanol + water in kg/m³ from the mass fraction p and d = t − 20 °C.
// Row i is the polynomial in p that stands before d^i: row 0 is A, row i is B_i followed by
// C_i. These numbers must never change; TestCoefficients holds their sums.
var r22 = [7][]float64{
	{ // d^0
		9.982012300e2, -1.929769495e2, 3.891238958e2,
		-1.668103923e3, 1.352215441e4, -8.829278388e4,
		3.062874042e5, -6.138381234e5, 7.470172998e5,
		-5.478461354e5, 2.234460334e5, -3.903285426e4,
	},
	{ // d^1
		-2.0618513e-1, 1.693443461530087e-1, -1.046914743455169e1,
		7.196353469546523e1, -7.047478054272792e2, 3.924090430035045e3,
		-1.210164659068747e4, 2.248646550400788e4, -2.605562982188164e4,
		1.852373922069467e4, -7.420201433430137e3, 1.285617841998974e3,
	},
	{ // d^2
		-5.2682542e-3, -1.193013005057010e-2, 2.517399633803461e-1,
		-2.170575700536993, 1.353034988843029e1, -5.029988758547014e1,
		1.096355666577570e2, -1.422753946421155e2, 1.080435942856230e2,
		-4.414153236817392e1, 7.442971530188783,
	},
	{ // d^3
		3.6130013e-5, -6.802995733503803e-4, 1.876837790289664e-2,
		-2.002561813734156e-1, 1.022992966719220, -2.895696483903638,
		4.810060584300675, -4.672147440794683, 2.458043105903461,
		-5.411227621436812e-1,
	},
	{ // d^4
		-3.8957702e-7, 4.075376675622027e-6, -8.763058573471110e-6,
		6.515031360099368e-6, -1.515784836987210e-6,
	},
	{ // d^5
		7.1693540e-9, -2.788074354782409e-8, 1.345612883493354e-8,
	},
	{ // d^6
		-9.9739231e-11,
	},
}

// Range of the formula. Below 0 °C it holds only above the mixture's freezing line; for
// users everything below 0 °C is refused, nobody measures a disinfectant there.
const (
	coldest  Celsius = -20
	warmest  Celsius = 40
	userCold Celsius = 0
)

// ethanolDensity is the formula itself: p in 0..1, t in °C, result in kg/m³, about 60 ns.
// At fixed t it falls strictly with p, and q rises strictly with p, over the whole range.
func ethanolDensity(p, t float64) float64 {
	if t == 20 {
		return horner(r22[0], p)
	}
	d, sum := t-20, 0.0
	for i := len(r22) - 1; i >= 0; i-- {
		sum = sum*d + horner(r22[i], p)
	}
	return sum
}

func horner(c []float64, x float64) float64 {
	sum := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		sum = sum*x + c[i]
	}
	return sum
}

// Pure liquids at 20 °C by the formula, kg/m³.
var (
	pureEthanol = ethanolDensity(1, 20) // 789.23912
	pureWater   = ethanolDensity(0, 20) // 998.20123
)

// root finds the zero of f in [lo, hi]; f must rise strictly through it. False position with
// the Illinois step (the end that stays twice counts half), and a bisection whenever three
// steps did not halve the interval, so it cannot stall: about ten calls of f on these curves.
func root(f func(float64) float64, lo, hi float64) float64 {
	flo, fhi := f(lo), f(hi)
	if flo >= 0 {
		return lo
	}
	if fhi <= 0 {
		return hi
	}
	side, target := 0, (hi-lo)/2
	for i := 0; i < 200 && hi-lo > 1e-14*math.Max(1, hi); i++ {
		x := lo - flo*(hi-lo)/(fhi-flo)
		if i%3 == 2 {
			if hi-lo > target {
				x = lo + (hi-lo)/2
			}
			target = (hi - lo) / 2
		}
		switch fx := f(x); {
		case fx == 0 || x <= lo || x >= hi:
			return x
		case fx < 0:
			lo, flo = x, fx
			if side < 0 {
				fhi /= 2
			}
			side = -1
		default:
			hi, fhi = x, fx
			if side > 0 {
				flo /= 2
			}
			side = 1
		}
	}
	return lo + (hi-lo)/2
}

func rangeError(what string, t Celsius, low, high Celsius) error {
	return fmt.Errorf("%s at %g °C is outside %g to %g °C; bring the liquid into that range",
		what, float64(t), float64(low), float64(high))
}
