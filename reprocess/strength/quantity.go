package strength

import (
	"fmt"
	"strconv"
	"strings"
)

// scale is how a spelling of a unit relates to the unit of the type: a power of ten, applied
// to the decimal text so that 0.8856 g/mL is exactly the number 885.6.
type scale map[string]int

// quantity says how one kind of quantity is written.
type quantity struct {
	name     string // "density"
	form     string // "write it as 0.8765g/mL or 876.5kg/m3"
	units    scale
	low      float64
	high     float64
	positive bool // the low end itself is refused
	signed   bool // a minus sign is understood
}

func (q quantity) parse(text string) (float64, error) {
	s, err := prepare(text)
	if err != nil {
		return 0, err
	}
	minus := ""
	if after, ok := cutMinus(s); ok && q.signed {
		minus, s = "-", after
	}
	if _, _, err = number(s, text); err != nil {
		return 0, fmt.Errorf("%s: %w; %s", q.name, err, q.form)
	}
	digits, unit := cutNumber(s)
	power, ok := q.units[squeeze(unit)]
	if !ok {
		return 0, fmt.Errorf("%s: the unit of %q is missing or not understood; %s",
			q.name, clip(text), q.form)
	}
	plain := strings.Replace(digits, ",", ".", 1)
	v, err := strconv.ParseFloat(minus+plain+"e"+strconv.Itoa(power), 64)
	if err != nil || !(v >= q.low && v <= q.high) || (q.positive && v == q.low) {
		return 0, fmt.Errorf("%s: %q is out of range%s; %s", q.name, clip(text), q.meant(digits, unit),
			q.form)
	}
	return v + 0, nil // + 0 turns a typed "-0" into plain zero
}

// meant asks about the spelling of the unit with which the number would be in range: kg/m3 is
// often written where g/mL is meant, and the other way round. It is asked, never taken.
func (q quantity) meant(digits, unit string) string {
	if q.name != "density" {
		return ""
	}
	for _, other := range []string{"g/mL", "kg/m3"} {
		power := q.units[squeeze(other)]
		v, err := strconv.ParseFloat(strings.Replace(digits, ",", ".", 1)+"e"+strconv.Itoa(power), 64)
		if err == nil && v >= q.low && v <= q.high && power != q.units[squeeze(unit)] {
			return " (is " + digits + other + " meant?)"
		}
	}
	return ""
}

func cutMinus(s string) (string, bool) {
	if after, ok := strings.CutPrefix(s, "-"); ok {
		return after, true
	}
	return strings.CutPrefix(s, "−")
}

var (
	densities = quantity{
		name: "density", form: "write it as 0.8765g/mL or 876.5kg/m3, between 600 and 1400 kg/m3",
		units: scale{"kg/m3": 0, "kg/m³": 0, "g/l": 0, "g/ml": 3, "g/cm3": 3, "g/cm³": 3, "kg/l": 3},
		low:   600, high: 1400,
	}
	volumes = quantity{
		name: "volume", form: "write it as 1000mL or 1L, above 0 and at most 1000 L",
		units: scale{"ml": 0, "l": 3, "cl": 1, "dl": 2, "cm3": 0, "cm³": 0},
		high:  1e6, positive: true,
	}
	temperatures = quantity{
		name: "temperature", form: "write degrees Celsius, such as 21.5",
		units: scale{"": 0, "°c": 0, "c": 0}, low: -273.15, high: 1000, signed: true,
	}
	films = quantity{
		name: "film", form: "write grams per square metre, such as 10, above 0 and at most 500",
		units: scale{"": 0, "g/m2": 0, "g/m²": 0}, high: 500, positive: true,
	}
	airs = quantity{
		name: "air", form: "write metres per second between 0.02 and 5, such as 0.2",
		units: scale{"": 0, "m/s": 0}, low: 0.02, high: 5,
	}
	humidities = quantity{
		name: "humidity", form: "write a percentage between 0 and 100, such as 50",
		units: scale{"": 0, "%": 0, "%rh": 0}, high: 100,
	}
)

// ParseDensity reads "0.8765g/mL", "876,5 kg/m3" and the like; the unit is mandatory. Both
// spellings give kg/m³. A number that does not fit its unit is refused, never moved.
func ParseDensity(text string) (Density, error) {
	v, err := densities.parse(text)
	return Density(v), err
}

// ParseMillilitres reads "1000mL" or "1 L". "1,000mL" is refused: it is 1 mL with a decimal
// comma and 1000 mL with a thousands comma.
func ParseMillilitres(text string) (Millilitres, error) {
	if err := twoCommas("volume", text); err != nil {
		return 0, err
	}
	v, err := volumes.parse(text)
	return Millilitres(v), err
}

// twoCommas refuses what a decimal comma and a thousands comma read differently.
func twoCommas(name, text string) error {
	digits, _ := cutNumber(strings.TrimLeft(text, " "))
	whole, decimals, comma := strings.Cut(digits, ",")
	if comma && len(decimals) == 3 && len(whole) <= 3 && whole != "0" {
		return fmt.Errorf("%s: %q may mean %s or %s%s; write it without the comma", name,
			clip(text), whole, whole, decimals)
	}
	return nil
}

// ParseCelsius reads "30", "30°C" or "-5". What range makes sense is the caller's rule.
func ParseCelsius(text string) (Celsius, error) {
	v, err := temperatures.parse(text)
	return Celsius(v), err
}

// ParseFilm reads grams per square metre: "10" or "10g/m2".
func ParseFilm(text string) (GramsPerSquareMetre, error) {
	v, err := films.parse(text)
	return GramsPerSquareMetre(v), err
}

// ParseAir reads metres per second: "0.2" or "0.2m/s".
func ParseAir(text string) (MetresPerSecond, error) {
	v, err := airs.parse(text)
	return MetresPerSecond(v), err
}

// ParseHumidity reads relative humidity: "50" or "50%".
func ParseHumidity(text string) (HumidityPercent, error) {
	v, err := humidities.parse(text)
	return HumidityPercent(v), err
}
