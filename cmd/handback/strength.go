package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"handback/reprocess/strength"
)

func strengthCommand() command {
	return command{
		name: "strength",
		usage: "--part NAME=FIGUREUNIT ... [--density 0.8765g/mL] [--min 70%v/v] [--max 90%v/v] " +
			"[--json]",
		about: "what a label strength is in the other units, and whether it is within limits",
		run:   runStrength,
	}
}

// strengthAnswer has every key always; figures are null where the parts have no single meaning.
type strengthAnswer struct {
	Mass        *float64 `json:"mass_percent"`
	Volume      *float64 `json:"volume_percent"`
	Grams       *float64 `json:"grams_per_100ml"`
	Density     *float64 `json:"density_kg_m3"`
	Uncertainty *float64 `json:"uncertainty_volume_percent"`
	Verdict     string   `json:"verdict"`
	Why         string   `json:"why"`
}

func runStrength(_ context.Context, args []string, s streams) error {
	f := newFlags("strength")
	var parts textList
	f.Var(&parts, "part", "an alcohol and its strength, may be repeated")
	density := f.String("density", "", "density at 20 °C")
	least := f.String("min", "", "least allowed strength")
	most := f.String("max", "", "most allowed strength")
	asJSON := f.Bool("json", false, "one JSON object")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	v, err := judgeStrength(f, parts, *density, *least, *most)
	if err != nil {
		return fmt.Errorf("strength: %w", err)
	}
	if *asJSON {
		return printJSON(s.out, strengthAnswerOf(v))
	}
	_, err = io.WriteString(s.out, strength.Text(v.Lines()))
	return err
}

func judgeStrength(f *flags, texts []string, density, least, most string) (
	none strength.Verdict, err error) {
	parts, err := readParts(texts)
	if err != nil {
		return none, err
	}
	d, err := optionalDensity(f, density)
	if err != nil {
		return none, err
	}
	low, err := optionalStrength(f, "min", least)
	if err != nil {
		return none, err
	}
	high, err := optionalStrength(f, "max", most)
	if err != nil {
		return none, err
	}
	return strength.Judge(parts, low, high, d)
}

func strengthAnswerOf(v strength.Verdict) strengthAnswer {
	answer := strengthAnswer{Verdict: string(v.Outcome), Why: v.Why}
	if c := v.Composition; c != nil {
		answer.Mass, answer.Volume = number(c.Mass), number(c.Volume)
		answer.Grams, answer.Density = number(c.Grams), number(c.Density)
		answer.Uncertainty = number(c.Uncertainty)
	}
	return answer
}

// readParts reads the repeated --part flag of strength and wetness.
func readParts(texts []string) ([]strength.Part, error) {
	if len(texts) == 0 {
		return nil, errors.New("--part is missing; name an alcohol, such as --part ethanol=70%v/v")
	}
	var parts []strength.Part
	for _, t := range texts {
		p, err := strength.ParsePart(t)
		if err != nil {
			return nil, err
		}
		parts = append(parts, p)
	}
	return parts, nil
}

func optionalDensity(f *flags, text string) (*strength.Density, error) {
	if !f.given("density") {
		return nil, nil
	}
	d, err := strength.ParseDensity(text)
	return &d, err
}

// optionalStrength reads a flag whose absence means that there is no such limit.
func optionalStrength(f *flags, name, text string) (*strength.Figure, error) {
	if !f.given(name) {
		return nil, nil
	}
	x, err := strength.ParseStrength(text)
	if err != nil {
		return nil, fmt.Errorf("--%s: %w", name, err)
	}
	return &x, nil
}

// number makes a figure a JSON number that may be null.
func number[T ~float64](v T) *float64 {
	x := float64(v)
	return &x
}
