package strength

import "errors"

// Amount is what was weighed or measured in: a mass, or a volume at 20 °C; the other is 0.
type Amount struct {
	Mass   Grams
	Volume Millilitres
}

// ParseAmount reads "633.2g", "1.2 kg", "729 mL" or "1 L"; the unit is mandatory.
func ParseAmount(text string) (Amount, error) {
	if err := twoCommas("amount", text); err != nil {
		return Amount{}, err
	}
	g, errMass := masses.parse(text)
	if errMass == nil {
		return Amount{Mass: Grams(g)}, nil
	}
	v, err := ParseMillilitres(text)
	if err == nil {
		return Amount{Volume: v}, nil
	}
	if rest, e := prepare(text); e != nil {
		return Amount{}, e
	} else if _, unit := cutNumber(rest); volumes.knows(unit) {
		return Amount{}, err
	}
	return Amount{}, errMass
}

func (q quantity) knows(unit string) bool {
	_, ok := q.units[squeeze(unit)]
	return ok
}

var masses = quantity{
	name: "amount", form: "write it as 633.2g or 729mL, above 0 and at most 1000 kg or 1000 L",
	units: scale{"g": 0, "kg": 3}, high: 1e6, positive: true,
}

// String prints the canonical form that ParseAmount reads.
func (a Amount) String() string {
	if a.Volume > 0 {
		return a.Volume.String()
	}
	return a.Mass.String()
}

// String prints the shortest exact form with its unit: "633.2g"; ParseAmount reads it.
func (v Grams) String() string { return decimal(float64(v)) + "g" }

// mass gives the amount of a liquid in g, by its density at 20 °C in kg/m³.
func (a Amount) mass(rho float64) float64 {
	if a.Volume > 0 {
		return float64(a.Volume) * rho / 1000
	}
	return float64(a.Mass)
}

// Made says what a batch comes to from what really went in, with the low and the high end of
// the stock: the balance of masses, so contraction does not enter. It is to be compared with a
// reading, never to take its place.
func Made(o Order, stock, water Amount) (low, high VolumePercent, err error) {
	if err := o.check(); err != nil {
		return 0, 0, err
	}
	for _, a := range []Amount{stock, water} {
		if !(a.Mass > 0 || a.Volume > 0) {
			return 0, 0, errors.New("an amount of nothing was put in; weigh or measure it")
		}
	}
	of := func(figure float64) VolumePercent {
		p := o.Alcohol.massFraction(o.Alcohol.fraction(figure, o.Stock.Basis))
		s := stock.mass(o.Alcohol.density(p, 20))
		return VolumePercent(100 * o.Alcohol.volumeFraction(s*p/(s+water.mass(pureWater))))
	}
	return of(o.Stock.Low), of(o.Stock.High), nil
}
