package web

import (
	"errors"
	"fmt"

	"handback/reprocess/strength"
)

// errMissing says what has to be typed: there is no default for it.
func errMissing(what string) error {
	return errors.New(what + " is missing and has no default; fill it in")
}

func errNamed(label string, err error) error { return fmt.Errorf("%s: %w", label, err) }

// given reads a field that may be empty: nil then.
func given[T any](value func(string) string, name, label string,
	read func(string) (T, error)) (*T, error) {
	text := value(name)
	if text == "" {
		return nil, nil
	}
	x, err := read(text)
	if err != nil {
		return nil, errNamed(label, err)
	}
	return &x, nil
}

// must reads a field that cannot be empty.
func must[T any](value func(string) string, name, label string,
	read func(string) (T, error)) (T, error) {
	x, err := given(value, name, label, read)
	if err == nil && x == nil {
		err = errMissing(label)
	}
	if err != nil {
		var none T
		return none, err
	}
	return *x, nil
}

func readingForm(f *form, value func(string) string) {
	f.alcohol("Which alcohol is in it?", value("alcohol"))
	f.strength("reading", "What stood on the stem", value("reading"),
		"With its unit: 70 % v/v, 62 % w/w, 885.6 kg/m3 or 0.8856 g/mL. A stem marked in % is "+
			"marked for ethanol; in a propanol, what it shows is worked out")
	f.strength("temperature", "Temperature of the liquid, °C", value("temperature"),
		"Measured, not guessed: 10 degrees shift it by about 3 % v/v")
	f.glass(value("glass"))
	f.strength("min", "Least strength asked for", value("min"), "Such as 70 % v/v; may be empty")
}

func reckonReading(value func(string) string) ([]string, error) {
	m, err := measured(value)
	if err != nil {
		return nil, err
	}
	least, err := given(value, "min", "Least strength", strength.ParseStrength)
	if err != nil || least == nil {
		return m.Lines(), err
	}
	v, err := m.Judge(least, nil)
	if err != nil {
		return nil, err
	}
	return append([]string{string(v.Outcome) + ": " + v.Why}, m.Lines()...), nil
}

// measured corrects a reading; temperature and glass have no default.
func measured(value func(string) string) (none strength.Measured, err error) {
	a, err := must(value, "alcohol", "the alcohol", strength.ParseAlcohol)
	if err != nil {
		return none, err
	}
	r, err := must(value, "reading", "the reading", func(text string) (strength.Reading, error) {
		return strength.ParseReading(text, 0)
	})
	if err != nil {
		return none, err
	}
	t, err := must(value, "temperature", "the temperature", strength.ParseCelsius)
	if err != nil {
		return none, err
	}
	g, err := must(value, "glass", "the material of the instrument", strength.ParseGlass)
	if err != nil {
		return none, err
	}
	return strength.CorrectFor(a, r, t, g)
}

func diluteForm(f *form, value func(string) string) {
	f.alcohol("Which alcohol?", value("alcohol"), Choice{Value: severalAlcohols,
		Words: "Several alcohols", Note: "all by mass: stock and strength in % w/w, as weighed"})
	f.strength("stock", "Strength of the stock", value("stock"),
		"Such as 96 % v/v; a range such as 95.1..96.9 % v/v is planned with its low end")
	f.strength("target", "Strength to make", value("target"), "Such as 70 % v/v")
	f.strength("volume", "How much to make", value("volume"), "Such as 1000 mL or 1 L; of several "+
		"alcohols a mass, such as 1000 g")
	f.strength("min", "Least strength asked for", value("min"), "Such as 60 % v/v; may be empty")
}

// severalAlcohols stands where a name of one would: such a stock is diluted by weight alone.
const severalAlcohols = "several"

// alcohol asks for one of the alcohols; there is no default.
func (f *form) alcohol(question, picked string, more ...Choice) {
	var options []Choice
	for _, a := range alcoholsAsked {
		options = append(options, Choice{Value: a.String(), Words: capital(a.String()),
			Note: everyday(a)})
	}
	f.one("alcohol", question, picked, append(options, more...)...)
}

func reckonDilution(value func(string) string) ([]string, error) {
	if value("alcohol") == severalAlcohols {
		return reckonByMass(value)
	}
	o, err := dilutionOrder(value)
	if err != nil {
		return nil, err
	}
	p, err := strength.PlanDilution(o)
	if err != nil {
		return nil, err
	}
	return p.Lines(o), nil
}

func reckonByMass(value func(string) string) (said []string, err error) {
	var o strength.MassOrder
	if o.Stock, err = must(value, "stock", "the stock", strength.ParseStrength); err != nil {
		return nil, err
	}
	if o.Target, err = must(value, "target", "the strength to make",
		strength.ParseStrength); err != nil {
		return nil, err
	}
	if o.Mass, err = must(value, "volume", "the mass", strength.ParseMass); err != nil {
		return nil, err
	}
	if o.Least, err = given(value, "min", "Least strength", strength.ParseStrength); err != nil {
		return nil, err
	}
	p, err := strength.PlanByMass(o)
	if err != nil {
		return nil, err
	}
	return p.Lines(o), nil
}

func dilutionOrder(value func(string) string) (o strength.Order, err error) {
	if o.Alcohol, err = must(value, "alcohol", "the alcohol", strength.ParseAlcohol); err != nil {
		return o, err
	}
	if o.Stock, err = must(value, "stock", "the stock", strength.ParseStrength); err != nil {
		return o, err
	}
	if o.Target, err = must(value, "target", "the strength to make",
		strength.ParseStrength); err != nil {
		return o, err
	}
	if o.Volume, err = must(value, "volume", "the volume", strength.ParseMillilitres); err != nil {
		return o, err
	}
	o.Least, err = given(value, "min", "Least strength", strength.ParseStrength)
	return o, err
}
