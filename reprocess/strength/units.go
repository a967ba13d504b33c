package strength

import (
	"fmt"
	"strconv"
)

// Quantities, each in the unit its name says.
type (
	// VolumePercent is % v/v at 20 °C, 0..100.
	VolumePercent float64
	// MassPercent is % w/w, the same number as g per 100 g, 0..100.
	MassPercent float64
	// GramsPer100mL is grams of pure alcohol in 100 mL of mixture at 20 °C.
	GramsPer100mL float64
	// Density is kg/m³; 0.8856 g/mL is 885.6.
	Density float64
	// Celsius is a temperature in °C.
	Celsius float64
	// Millilitres is a volume at 20 °C.
	Millilitres float64
	// Grams is a mass.
	Grams float64
	// Seconds is a length of time; it is computed, never measured here.
	Seconds float64
	// GramsPerSquareMetre is the mass of a liquid film.
	GramsPerSquareMetre float64
	// MetresPerSecond is the speed of the air over a film.
	MetresPerSecond float64
	// HumidityPercent is relative humidity, 0..100.
	HumidityPercent float64
)

func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// String prints the shortest exact form with its unit: "70%v/v".
func (v VolumePercent) String() string { return decimal(float64(v)) + "%v/v" }

// String prints the shortest exact form with its unit: "62.39%w/w".
func (v MassPercent) String() string { return decimal(float64(v)) + "%w/w" }

// String prints the shortest exact form with its unit: "55.25g/100mL".
func (v GramsPer100mL) String() string { return decimal(float64(v)) + "g/100mL" }

// String prints the shortest exact form with its unit: "885.6kg/m3"; ParseDensity reads it.
func (v Density) String() string { return decimal(float64(v)) + "kg/m3" }

// String prints the shortest exact form with its unit: "1000mL"; ParseMillilitres reads it.
func (v Millilitres) String() string { return decimal(float64(v)) + "mL" }

// String prints the shortest exact form with its unit: "21.5°C"; ParseCelsius reads it.
func (v Celsius) String() string { return decimal(float64(v)) + "°C" }

// Alcohol names one of the three alcohols this package knows. The zero value is none.
type Alcohol uint8

// The alcohols, by their systematic names as they stand on data sheets.
const (
	Ethanol   Alcohol = 1 + iota
	Propan2ol         // 2-propanol, isopropanol
	Propan1ol         // 1-propanol, n-propanol
)

// Alcohols lists them in the order used throughout.
func Alcohols() []Alcohol { return []Alcohol{Ethanol, Propan2ol, Propan1ol} }

// String is the name that ParseAlcohol reads.
func (a Alcohol) String() string {
	switch a {
	case Ethanol:
		return "ethanol"
	case Propan2ol:
		return "propan-2-ol"
	case Propan1ol:
		return "propan-1-ol"
	}
	return fmt.Sprintf("alcohol(%d)", uint8(a))
}

// ParseAlcohol reads a name exactly; everyday names are refused with the name to write.
func ParseAlcohol(text string) (Alcohol, error) {
	for _, a := range Alcohols() {
		if text == a.String() {
			return a, nil
		}
	}
	const names = "write ethanol, propan-2-ol (isopropanol) or propan-1-ol (n-propanol)"
	return 0, fmt.Errorf("the alcohol %q is not known; %s", clip(text), names)
}

// Basis says what a strength figure is a percentage of. The zero value is not a basis.
type Basis uint8

// The bases. Unstated is the bare "%": nobody said which, so every reading is possible.
const (
	ByVolume     Basis = 1 + iota // % v/v at 20 °C
	ByMass                        // % w/w
	Per100Grams                   // g/100 g: the same number as % w/w, kept as printed
	Per100Millis                  // g/100 mL at 20 °C
	Unstated                      // "%" alone
)

// String is the canonical spelling, the one ParseStrength and the exports use.
func (b Basis) String() string {
	switch b {
	case ByVolume:
		return "%v/v"
	case ByMass:
		return "%w/w"
	case Per100Grams:
		return "g/100g"
	case Per100Millis:
		return "g/100mL"
	case Unstated:
		return "%"
	}
	return fmt.Sprintf("basis(%d)", uint8(b))
}

// same tells whether two bases need no conversion between them: g/100 g is % w/w.
func (b Basis) same(c Basis) bool { return b.plain() == c.plain() }

func (b Basis) plain() Basis {
	if b == Per100Grams {
		return ByMass
	}
	return b
}

// Figure is a strength as a label or a policy states it: one number, or a range from a data
// sheet, and its basis. Low equals High for a single number. Keep the Figure as printed;
// convert only to judge. The zero value is not a figure.
type Figure struct {
	Low, High float64
	Basis     Basis
}

// Exactly makes the figure of a single number.
func Exactly(value float64, basis Basis) Figure { return Figure{value, value, basis} }

// Single tells whether the figure is one number and not a range.
func (f Figure) Single() bool { return f.Low == f.High }

// String prints the one canonical spelling, "70%v/v" or "95.1..96.9%v/v"; ParseStrength
// reads it back to the same Figure.
func (f Figure) String() string {
	if f.Single() {
		return decimal(f.Low) + f.Basis.String()
	}
	return decimal(f.Low) + ".." + decimal(f.High) + f.Basis.String()
}

// Part is one alcohol of a product with its figure.
type Part struct {
	Alcohol Alcohol
	Figure  Figure
}

// String prints "ethanol=70%v/v", which ParsePart reads.
func (p Part) String() string { return p.Alcohol.String() + "=" + p.Figure.String() }
