package main

import (
	"context"
	"fmt"
	"io"

	"handback/reprocess/strength"
)

func hydrometerCommand() command {
	return command{
		name: "hydrometer",
		usage: "--reading 70%v/v|62%w/w|885.6kg/m3|0.8856g/mL --temperature 30 " +
			"--glass soda-lime|borosilicate|none [--scale volume|mass|density] [--alcohol NAME] [--json]",
		about: "the true strength of one alcohol and water behind a reading",
		run:   runHydrometer,
	}
}

type hydrometerAnswer struct {
	Volume      float64 `json:"true_volume_percent"`
	Mass        float64 `json:"true_mass_percent"`
	Density     float64 `json:"density_kg_m3"`
	Uncertainty float64 `json:"uncertainty_volume_percent"`
}

func runHydrometer(_ context.Context, args []string, s streams) error {
	f := newFlags("hydrometer")
	reading := f.String("reading", "", "what stood on the stem, with its unit")
	temperature := f.String("temperature", "", "temperature of the liquid in °C")
	glass := f.String("glass", "", "material of the instrument")
	scale := f.String("scale", "", "what the stem is marked in, if the unit does not say it")
	alcohol := f.String("alcohol", strength.Ethanol.String(), "which alcohol is in the liquid")
	asJSON := f.Bool("json", false, "one JSON object")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if err := f.need("reading", "temperature", "glass"); err != nil {
		return err
	}
	m, err := correctReading(f, *reading, *temperature, *glass, *scale, *alcohol)
	if err != nil {
		return fmt.Errorf("hydrometer: %w", err)
	}
	if *asJSON {
		return printJSON(s.out, hydrometerAnswer{float64(m.Volume), float64(m.Mass),
			float64(m.Density), float64(m.Uncertainty)})
	}
	_, err = io.WriteString(s.out, strength.Text(m.Lines()))
	return err
}

func correctReading(f *flags, reading, temperature, glass, scale, alcohol string) (
	strength.Measured, error) {
	var none strength.Measured
	var kind strength.Scale
	var err error
	if f.given("scale") {
		if kind, err = strength.ParseScale(scale); err != nil {
			return none, err
		}
	}
	r, err := strength.ParseReading(reading, kind)
	if err != nil {
		return none, err
	}
	t, err := strength.ParseCelsius(temperature)
	if err != nil {
		return none, err
	}
	g, err := strength.ParseGlass(glass)
	if err != nil {
		return none, err
	}
	a, err := strength.ParseAlcohol(alcohol)
	if err != nil {
		return none, err
	}
	return strength.CorrectFor(a, r, t, g)
}

// need refuses a call in which a mandatory flag is missing, naming the first.
func (f *flags) need(names ...string) error {
	for _, name := range names {
		if !f.given(name) {
			return fmt.Errorf("%s: --%s is missing and has no default; give it", f.command, name)
		}
	}
	return nil
}
