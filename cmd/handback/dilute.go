package main

import (
	"context"
	"fmt"
	"io"

	"handback/reprocess/strength"
)

func diluteCommand() command {
	return command{
		name: "dilute",
		usage: "--stock 96%v/v|95.1..96.9%v/v --target 70%v/v --volume 1000mL|--mass 1000g " +
			"[--alcohol NAME] [--min 60%v/v] [--json]",
		about: "stock and water for a weaker strength, with contraction; mixtures by mass",
		run:   runDilute,
	}
}

// diluteAnswer has null for volumes where everything was planned by mass.
type diluteAnswer struct {
	Stock       *float64 `json:"stock_ml"`
	Water       *float64 `json:"water_ml"`
	StockMass   float64  `json:"stock_g"`
	WaterMass   float64  `json:"water_g"`
	Contraction *float64 `json:"contraction_ml"`
	Mistake     *float64 `json:"mistake_volume_percent"`
}

func runDilute(_ context.Context, args []string, s streams) error {
	f := newFlags("dilute")
	stock := f.String("stock", "", "strength of the stock, or its range")
	target := f.String("target", "", "strength to make")
	volume := f.String("volume", "", "how much to make")
	mass := f.String("mass", "", "how much to make, by mass: any alcohols, nothing but weighing")
	alcohol := f.String("alcohol", strength.Ethanol.String(), "which alcohol")
	least := f.String("min", "", "the policy's least strength")
	asJSON := f.Bool("json", false, "one JSON object")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if f.given("mass") {
		return diluteByMass(f, s, *stock, *target, *mass, *least, *asJSON)
	}
	if err := f.need("stock", "target", "volume"); err != nil {
		return err
	}
	order, err := readOrder(f, *stock, *target, *volume, *alcohol, *least)
	if err != nil {
		return fmt.Errorf("dilute: %w", err)
	}
	p, err := strength.PlanDilution(order)
	if err != nil {
		return fmt.Errorf("dilute: %w", err)
	}
	if *asJSON {
		return printJSON(s.out, diluteAnswer{number(p.Stock), number(p.Water),
			float64(p.StockMass), float64(p.WaterMass), number(p.Contraction), number(p.Mistake)})
	}
	_, err = io.WriteString(s.out, strength.Text(p.Lines(order)))
	return err
}

func readOrder(f *flags, stock, target, volume, alcohol, least string) (
	o strength.Order, err error) {
	if o.Alcohol, err = strength.ParseAlcohol(alcohol); err != nil {
		return o, err
	}
	if o.Stock, err = strength.ParseStrength(stock); err != nil {
		return o, fmt.Errorf("--stock: %w", err)
	}
	if o.Target, err = strength.ParseStrength(target); err != nil {
		return o, fmt.Errorf("--target: %w", err)
	}
	if o.Volume, err = strength.ParseMillilitres(volume); err != nil {
		return o, err
	}
	o.Least, err = optionalStrength(f, "min", least)
	return o, err
}

// diluteByMass needs no table, so it asks for no alcohol; a volume beside it would be a second
// answer to the same question.
func diluteByMass(f *flags, s streams, stock, target, mass, least string, asJSON bool) error {
	if err := f.need("stock", "target"); err != nil {
		return err
	}
	for _, other := range []string{"volume", "alcohol"} {
		if f.given(other) {
			return fmt.Errorf("dilute: --mass and --%s are two ways to ask; leave one out", other)
		}
	}
	o, err := readMassOrder(f, stock, target, mass, least)
	if err != nil {
		return fmt.Errorf("dilute: %w", err)
	}
	p, err := strength.PlanByMass(o)
	if err != nil {
		return fmt.Errorf("dilute: %w", err)
	}
	if asJSON {
		return printJSON(s.out, diluteAnswer{StockMass: float64(p.Stock), WaterMass: float64(p.Water)})
	}
	_, err = io.WriteString(s.out, strength.Text(p.Lines(o)))
	return err
}

func readMassOrder(f *flags, stock, target, mass, least string) (o strength.MassOrder, err error) {
	if o.Stock, err = strength.ParseStrength(stock); err != nil {
		return o, fmt.Errorf("--stock: %w", err)
	}
	if o.Target, err = strength.ParseStrength(target); err != nil {
		return o, fmt.Errorf("--target: %w", err)
	}
	if o.Mass, err = strength.ParseMass(mass); err != nil {
		return o, err
	}
	o.Least, err = optionalStrength(f, "min", least)
	return o, err
}
