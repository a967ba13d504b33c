package strength

import "fmt"

// PureDensity is the density of the pure alcohol at 20 °C on which % v/v rests.
func (a Alcohol) PureDensity() Density { return Density(a.pure()) }

func (a Alcohol) pure() float64 {
	switch a {
	case Propan2ol:
		return purePropan2ol
	case Propan1ol:
		return purePropan1ol
	}
	return pureEthanol
}

// Bound is the uncertainty a converted figure of this alcohol carries: none for ethanol,
// ±0.2 and ±0.25 % v/v for propan-2-ol and propan-1-ol (spread between data sets plus the
// convention of the pure density).
func (a Alcohol) Bound() VolumePercent {
	switch a {
	case Propan2ol:
		return 0.2
	case Propan1ol:
		return 0.25
	}
	return 0
}

func (a Alcohol) known() error {
	if a < Ethanol || a > Propan1ol {
		return fmt.Errorf("the alcohol is not given; write ethanol, propan-2-ol or propan-1-ol")
	}
	return nil
}

// density at mass fraction w and t °C, unchecked.
func (a Alcohol) density(w, t float64) float64 {
	if a == Ethanol {
		return ethanolDensity(w, t)
	}
	return propanolDensity(a, w, t)
}

func percent(v float64, unit string) error {
	if !(v >= 0 && v <= 100) { // NaN fails both
		return fmt.Errorf("%v%s is not between 0 and 100; check the figure", v, unit)
	}
	return nil
}

// Density gives the density of the mixture with water at t: ethanol −20..40 °C (OIML R 22),
// propanols 15..35 °C. Below 0 °C the caller must know that the mixture is not frozen.
func (a Alcohol) Density(m MassPercent, t Celsius) (Density, error) {
	if err := a.known(); err != nil {
		return 0, err
	}
	if err := percent(float64(m), "%w/w"); err != nil {
		return 0, err
	}
	low, high := coldest, warmest
	if a != Ethanol {
		low, high = propanolCold, propanolWarm
	}
	if !(t >= low && t <= high) {
		return 0, rangeError(a.String(), t, low, high)
	}
	return Density(a.density(float64(m)/100, float64(t))), nil
}

// Volume converts % w/w to % v/v at 20 °C: q = p ρ(p,20)/ρ(1,20). Exact for ethanol, within
// Bound for the propanols.
func (a Alcohol) Volume(m MassPercent) (VolumePercent, error) {
	if err := a.known(); err != nil {
		return 0, err
	}
	if err := percent(float64(m), "%w/w"); err != nil {
		return 0, err
	}
	return VolumePercent(100 * a.volumeFraction(float64(m)/100)), nil
}

func (a Alcohol) volumeFraction(p float64) float64 {
	if p == 1 {
		return 1
	}
	return p * a.density(p, 20) / a.pure()
}

// Mass converts % v/v at 20 °C to % w/w, the inverse of Volume.
func (a Alcohol) Mass(v VolumePercent) (MassPercent, error) {
	if err := a.known(); err != nil {
		return 0, err
	}
	if err := percent(float64(v), "%v/v"); err != nil {
		return 0, err
	}
	return MassPercent(100 * a.massFraction(float64(v)/100)), nil
}

func (a Alcohol) massFraction(q float64) float64 {
	return root(func(p float64) float64 { return a.volumeFraction(p) - q }, 0, 1)
}

// Grams converts % v/v to g per 100 mL; only the pure density enters.
func (a Alcohol) Grams(v VolumePercent) (GramsPer100mL, error) {
	if err := a.known(); err != nil {
		return 0, err
	}
	return GramsPer100mL(float64(v) * a.pure() / 1000), percent(float64(v), "%v/v")
}

// EthanolMass gives the % w/w of ethanol + water from its true density at t (−20..40 °C).
// A density beyond the pure liquids is refused: it is no mixture of ethanol and water.
func EthanolMass(rho Density, t Celsius) (MassPercent, error) {
	if !(t >= coldest && t <= warmest) {
		return 0, rangeError("ethanol", t, coldest, warmest)
	}
	p, ok := Ethanol.massOfDensity(float64(rho), float64(t))
	if !ok {
		return 0, Ethanol.outsideTable(float64(rho), float64(t))
	}
	return MassPercent(100 * p), nil
}

func (a Alcohol) outsideTable(rho, t float64) error {
	return fmt.Errorf("a density of %.2f kg/m3 at %g °C is outside the table for %s and water "+
		"(%.2f to %.2f); check the reading, the temperature and what is in the liquid",
		rho, t, a, a.density(1, t), a.density(0, t))
}
