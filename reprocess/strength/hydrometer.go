package strength

import (
	"errors"
	"fmt"
	"math"
)

// Glass is the material of the instrument, which decides how it swells with warmth. The zero
// value is not a glass: the material must be given.
type Glass uint8

// The materials. NoGlass is for density meters that measure at the liquid's temperature.
const (
	SodaLime     Glass = 1 + iota // 25e-6 per °C, cubic: OIML R 22 and R 44 instruments
	Borosilicate                  // 10e-6 per °C, from memory
	NoGlass                       // no correction
)

var glassNames = map[string]Glass{
	"soda-lime": SodaLime, "borosilicate": Borosilicate, "none": NoGlass,
}

// ParseGlass reads soda-lime, borosilicate or none. Plastic is refused: it swells some eight
// times as much as glass and its makers differ.
func ParseGlass(text string) (Glass, error) {
	if g, ok := glassNames[text]; ok {
		return g, nil
	}
	if text == "plastic" {
		return 0, errors.New("a plastic hydrometer cannot be corrected; read it at 20 °C or use a " +
			"glass one")
	}
	return 0, fmt.Errorf("the glass %q is not known; write soda-lime, borosilicate or none "+
		"(a density meter)", clip(text))
}

// String is the name ParseGlass reads.
func (g Glass) String() string {
	for name, x := range glassNames {
		if x == g {
			return name
		}
	}
	return fmt.Sprintf("glass(%d)", uint8(g))
}

// expansion is the cubic thermal expansion per °C.
func (g Glass) expansion() float64 {
	switch g {
	case SodaLime:
		return 25e-6
	case Borosilicate:
		return 10e-6
	}
	return 0
}

// Scale is what the stem is marked in. The zero value lets the reading's unit decide.
type Scale uint8

// The scales; all are marked for 20 °C.
const (
	ScaleVolume  Scale = 1 + iota // % v/v, an alcoholometer
	ScaleMass                     // % w/w
	ScaleDensity                  // kg/m³
)

var scaleNames = map[string]Scale{
	"volume": ScaleVolume, "mass": ScaleMass, "density": ScaleDensity,
}

// ParseScale reads volume, mass or density.
func ParseScale(text string) (Scale, error) {
	if s, ok := scaleNames[text]; ok {
		return s, nil
	}
	return 0, fmt.Errorf("the scale %q is not known; write volume, mass or density", clip(text))
}

// Reading is what stood on the stem at the liquid's surface.
type Reading struct {
	Value float64 // % v/v, % w/w or kg/m³ as Scale says
	Scale Scale
}

// String prints the canonical form that ParseReading reads.
func (r Reading) String() string {
	switch r.Scale {
	case ScaleVolume:
		return VolumePercent(r.Value).String()
	case ScaleMass:
		return MassPercent(r.Value).String()
	}
	return Density(r.Value).String()
}

// ParseReading reads "70%v/v", "62%w/w", "885.6kg/m3" or "0.8856g/mL". With a scale given the
// unit must agree with it; "70%" is then understood, without one it is refused.
func ParseReading(text string, s Scale) (Reading, error) {
	d, errDensity := ParseDensity(text)
	if errDensity == nil {
		return Reading{float64(d), ScaleDensity}.agree(s)
	}
	f, err := ParseStrength(text)
	if err != nil {
		if rest, _ := prepare(text); s == ScaleDensity || hasDensityUnit(rest) {
			return Reading{}, errDensity
		}
		return Reading{}, fmt.Errorf("%w, or a density such as 885.6kg/m3", err)
	}
	if !f.Single() {
		return Reading{}, fmt.Errorf("%s is a range; read one value off the stem", f)
	}
	switch {
	case f.Basis == Unstated && (s == ScaleVolume || s == ScaleMass):
		return Reading{f.Low, s}, nil
	case f.Basis == ByVolume:
		return Reading{f.Low, ScaleVolume}.agree(s)
	case f.Basis.plain() == ByMass:
		return Reading{f.Low, ScaleMass}.agree(s)
	}
	return Reading{}, fmt.Errorf("%s is not what a stem is marked in; write %%v/v, %%w/w, "+
		"kg/m3 or g/mL", f)
}

func hasDensityUnit(s string) bool {
	_, unit := cutNumber(s)
	_, ok := densities.units[squeeze(unit)]
	return ok
}

func (r Reading) agree(s Scale) (Reading, error) {
	if s != 0 && s != r.Scale {
		return Reading{}, fmt.Errorf("the reading %s is not of the scale given; correct "+
			"one of the two", r)
	}
	return r, nil
}

// at20 is the density the mark on the scale stands for, kg/m³ at 20 °C.
func (r Reading) at20() float64 {
	switch r.Scale {
	case ScaleVolume:
		return ethanolDensity(Ethanol.massFraction(r.Value/100), 20)
	case ScaleMass:
		return ethanolDensity(r.Value/100, 20)
	}
	return r.Value
}

// What a careful reading is good for (half-widths, k = 2); the formula adds 0.03 % v/v.
const (
	readingPercent = 0.5  // one half of a whole-percent division, % v/v or % w/w
	readingDensity = 1.0  // one division of a common density hydrometer, kg/m³
	meterDensity   = 0.1  // a density meter, kg/m³
	readingCelsius = 0.5  // thermometer and liquid against instrument, °C
	formulaPercent = 0.03 // % v/v
)

// Measured is the true strength behind a reading.
type Measured struct {
	Volume  VolumePercent
	Mass    MassPercent
	Density Density // of the liquid at its own temperature, glass corrected
	// Uncertainty of Volume, k = 2, from the reading, the thermometer and the formula.
	Uncertainty VolumePercent
}

// Correct turns a reading at the liquid's temperature (0..40 °C) into the true strength:
// ρ_t = ρ' (1 − α (t − 20)), then ρ(p,t) = ρ_t. It holds for ethanol and water alone: it
// cannot tell alcohols apart, and additives shift it. Outside the table it answers with an
// error, never with the nearest value.
func Correct(r Reading, t Celsius, g Glass) (Measured, error) {
	if !(t >= userCold && t <= warmest) {
		return Measured{}, rangeError("a reading", t, userCold, warmest)
	}
	if g < SodaLime || g > NoGlass {
		return Measured{}, errors.New("the material of the hydrometer is not given; write soda-lime, " +
			"borosilicate or none")
	}
	if err := r.check(); err != nil {
		return Measured{}, err
	}
	return correct(r, float64(t), g)
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

// correct is Correct without the user's limits: the published tables go down to −20 °C. The
// glass term is the product, as the published values demand; the quotient rounds otherwise.
func correct(r Reading, t float64, g Glass) (Measured, error) {
	alpha := g.expansion()
	marked := r.at20()
	rho := marked * (1 - alpha*(t-20))
	p, ok := ethanolMassFraction(rho, t)
	if !ok {
		return Measured{}, outsideTable(rho, t)
	}
	return Measured{
		Volume: VolumePercent(100 * Ethanol.volumeFraction(p)), Mass: MassPercent(100 * p),
		Density: Density(rho), Uncertainty: VolumePercent(r.uncertainty(p, marked, t, g)),
	}, nil
}

// uncertainty carries the half-widths of reading and thermometer through the slopes at p and
// adds their squares; the formula's error is not random and is added whole.
// The formula is smooth a little beyond 0 and 1, so the slopes need no case at the ends.
func (r Reading) uncertainty(p, marked, t float64, g Glass) float64 {
	const h = 1e-5
	alpha, factor := g.expansion(), 1-g.expansion()*(t-20)
	perP := (ethanolDensity(p+h, t) - ethanolDensity(p-h, t)) / (2 * h)
	perT := (ethanolDensity(p, t+h) - ethanolDensity(p, t-h)) / (2 * h)
	qPerP := 100 * (Ethanol.volumeFraction(p+h) - Ethanol.volumeFraction(p-h)) / (2 * h)
	reading := r.densityStep(marked, g) * factor / perP * qPerP
	warmth := (alpha*marked + perT) / perP * qPerP * readingCelsius
	return math.Hypot(reading, warmth) + formulaPercent
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
	limits, err := newLimits(least, most)
	if err != nil {
		return Verdict{}, err
	}
	b := blend{w: [3]float64{float64(m.Mass) / 100}}
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
