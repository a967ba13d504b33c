package strength

import (
	"errors"
	"fmt"
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

const readingForms = "write what stands on the stem with its unit, such as 70%v/v, 62%w/w, " +
	"885.6kg/m3 or 0.8856g/mL"

// ParseReading reads "70%v/v", "62%w/w", "885.6kg/m3" or "0.8856g/mL". With a scale given the
// unit must agree with it; "70%" is then understood, without one it is refused.
func ParseReading(text string, s Scale) (Reading, error) {
	d, errDensity := ParseDensity(text)
	if errDensity == nil {
		return Reading{float64(d), ScaleDensity}.agree(s)
	}
	f, err := parseFigure(text, readingForms)
	if err != nil {
		if rest, _ := prepare(text); s == ScaleDensity || hasDensityUnit(rest) {
			return Reading{}, errDensity
		}
		return Reading{}, err
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
