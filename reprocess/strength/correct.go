package strength

import (
	"errors"
	"math"
)

// Measured is the true strength behind a reading.
type Measured struct {
	Alcohol Alcohol
	Volume  VolumePercent
	Mass    MassPercent
	Density Density // of the liquid at its own temperature, glass corrected
	// Uncertainty of Volume, k = 2, from the reading, the thermometer and the formula or the
	// published densities.
	Uncertainty VolumePercent
	// OtherStem: the stem is marked in % of ethanol, the liquid is another alcohol.
	OtherStem bool
}

// Correct is CorrectFor of ethanol.
func Correct(r Reading, t Celsius, g Glass) (Measured, error) {
	return CorrectFor(Ethanol, r, t, g)
}

// CorrectFor turns a reading at the liquid's temperature into the true strength of an alcohol
// and water alone: ρ_t = ρ' (1 − α (t − 20)), then ρ(p,t) = ρ_t. Ethanol 0..40 °C, propanols
// 15..35 °C, where their densities were measured. A stem marked in % is marked for ethanol: of
// a propanol its mark is taken for the density it stands for. A density cannot tell alcohols
// apart, and additives shift it: the caller knows what is in the liquid. Outside the table it
// answers with an error, never with the nearest value.
func CorrectFor(a Alcohol, r Reading, t Celsius, g Glass) (Measured, error) {
	if err := a.known(); err != nil {
		return Measured{}, err
	}
	low, high, what := userCold, warmest, "a reading"
	if a != Ethanol {
		low, high, what = propanolCold, propanolWarm, "a reading of "+a.String()
	}
	if !(t >= low && t <= high) {
		return Measured{}, rangeError(what, t, low, high)
	}
	if g < SodaLime || g > NoGlass {
		return Measured{}, errors.New("the material of the hydrometer is not given; write soda-lime, " +
			"borosilicate or none")
	}
	if err := r.check(); err != nil {
		return Measured{}, err
	}
	return correct(a, r, float64(t), g)
}

func (r Reading) check() error {
	switch r.Scale {
	case ScaleVolume:
		return percent(r.Value, "%v/v")
	case ScaleMass:
		return percent(r.Value, "%w/w")
	case ScaleDensity:
		return nil // the table decides
	}
	return errors.New("the reading has no unit; write %v/v, %w/w, kg/m3 or g/mL")
}

// correct is CorrectFor without the user's limits: the published tables of ethanol go down to
// −20 °C. The glass term is the product, as the published values demand; the quotient rounds
// otherwise.
func correct(a Alcohol, r Reading, t float64, g Glass) (Measured, error) {
	alpha := g.expansion()
	marked := r.at20()
	rho := marked * (1 - alpha*(t-20))
	p, ok := a.massOfDensity(rho, t)
	if !ok {
		return Measured{}, a.outsideTable(rho, t)
	}
	return Measured{
		Alcohol: a, Volume: VolumePercent(100 * a.volumeFraction(p)), Mass: MassPercent(100 * p),
		Density:     Density(rho),
		Uncertainty: VolumePercent(r.uncertainty(a, p, marked, t, g)),
		OtherStem:   a != Ethanol && r.Scale != ScaleDensity,
	}, nil
}

// massOfDensity inverts the density at t; ok is false outside the table. A density at most
// slack beyond the pure liquid counts as that liquid: printed tables are rounded.
func (a Alcohol) massOfDensity(rho, t float64) (p float64, ok bool) {
	const slack = 0.01 // kg/m³: half a unit of the last printed digit, twice
	most, least := a.density(0, t), a.density(1, t)
	switch {
	case !(rho <= most+slack && rho >= least-slack):
		return 0, false
	case rho >= most:
		return 0, true
	case rho <= least:
		return 1, true
	}
	return root(func(p float64) float64 { return rho - a.density(p, t) }, 0, 1), true
}

// uncertainty carries the half-widths of reading and thermometer through the slopes at p and
// adds their squares; the error of formula or model is not random and is added whole.
func (r Reading) uncertainty(a Alcohol, p, marked, t float64, g Glass) float64 {
	const h = 1e-5
	alpha, factor := g.expansion(), 1-g.expansion()*(t-20)
	perP, qPerP := a.slopes(p, t)
	perT := (a.density(p, t+h) - a.density(p, t-h)) / (2 * h)
	reading := r.densityStep(marked, g) * factor / perP * qPerP
	warmth := (alpha*marked + perT) / perP * qPerP * readingCelsius
	return math.Hypot(reading, warmth) + a.modelPercent(p, t)
}

// slopes are those of the density at t, kg/m³, and of % v/v, both per mass fraction. The formula
// of ethanol is smooth a little beyond 0 and 1, so it needs no case at the ends; between the
// points of the propanols the step is wide, so that no kink shows.
func (a Alcohol) slopes(p, t float64) (perP, qPerP float64) {
	h := 1e-5
	if a != Ethanol {
		h = 5e-3
		p = math.Min(math.Max(p, h), 1-h)
	}
	low, high := p-h, p+h
	perP = (a.density(high, t) - a.density(low, t)) / (high - low)
	return perP, 100 * (a.volumeFraction(high) - a.volumeFraction(low)) / (high - low)
}

// modelPercent is the error of formula or published densities by itself, % v/v. A model that is
// off by its bound moves the mass fraction by bound/slope, and % v/v by that times the density
// over the pure one: a fifth more than along the curve, for the strength at a given mass
// fraction moves too. The pure density of the propanols adds its own spread.
func (a Alcohol) modelPercent(p, t float64) float64 {
	if a == Ethanol {
		return formulaPercent
	}
	const convention = 0.05 // 784.8 to 785.6 kg/m³ are published for propan-2-ol
	perP, _ := a.slopes(p, t)
	return 100*a.densityBound()/math.Abs(perP)*a.density(p, 20)/a.pure() + convention
}

// densityStep is the half-width of the reading as a density at 20 °C, kg/m³.
func (r Reading) densityStep(marked float64, g Glass) float64 {
	const step = readingPercent / 100
	switch r.Scale {
	case ScaleVolume:
		v := math.Min(math.Max(r.Value/100, step), 1-step)
		return (ethanolDensity(Ethanol.massFraction(v-step), 20) -
			ethanolDensity(Ethanol.massFraction(v+step), 20)) / 2
	case ScaleMass:
		p := r.Value / 100
		return (ethanolDensity(p-step, 20) - ethanolDensity(p+step, 20)) / 2
	}
	if g == NoGlass {
		return meterDensity
	}
	return readingDensity
}

// Judge compares a measured strength with a least and a most allowed one, either nil. The
// uncertainty counts on the safe side: a limit inside it is Undecided.
func (m Measured) Judge(least, most *Figure) (Verdict, error) {
	if err := m.Alcohol.known(); err != nil {
		return Verdict{}, err
	}
	limits, err := newLimits(least, most)
	if err != nil {
		return Verdict{}, err
	}
	b := blend{}
	b.w[m.Alcohol-1] = float64(m.Mass) / 100
	b.rho = b.modelDensity()
	v := Verdict{Outcome: None, Why: "no limit was given, so nothing is judged", Readings: 1}
	for i, l := range limits {
		c := compared{value: b.in(l.basis, 0), give: float64(m.Uncertainty) * b.slope(l.basis, 0)}
		c.outcome = l.outcome(c.value, c.give)
		o, why := l.sum([]compared{c}, nil)
		if i > 0 {
			o, why = worse(v.Outcome, o), v.Why+"; "+why
		}
		v.Outcome, v.Why = o, why
	}
	return v, nil
}

// ExpectedReading is what an ethanol alcoholometer should show in this mixture at 20 °C. It
// reads propanols about 3 % v/v too high; a prepared batch is compared with this figure, never
// with its own strength. Outside the ethanol table there is no such reading.
func ExpectedReading(parts []Part, density *Density) (VolumePercent, error) {
	c, err := Compose(parts, density)
	if err != nil {
		return 0, err
	}
	m, err := EthanolMass(c.Density, 20)
	if err != nil {
		return 0, err
	}
	return Ethanol.Volume(m)
}
