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
		usage: "--stock 96%v/v|95.1..96.9%v/v --target 70%v/v --volume 1000mL [--alcohol NAME] " +
			"[--min 60%v/v] [--json]",
		about: "stock and water for a weaker strength, with contraction",
		run:   runDilute,
	}
}

type diluteAnswer struct {
	Stock       float64 `json:"stock_ml"`
	Water       float64 `json:"water_ml"`
	StockMass   float64 `json:"stock_g"`
	WaterMass   float64 `json:"water_g"`
	Contraction float64 `json:"contraction_ml"`
	Mistake     float64 `json:"mistake_volume_percent"`
}

func runDilute(_ context.Context, args []string, s streams) error {
	f := newFlags("dilute")
	stock := f.String("stock", "", "strength of the stock, or its range")
	target := f.String("target", "", "strength to make")
	volume := f.String("volume", "", "how much to make")
	alcohol := f.String("alcohol", strength.Ethanol.String(), "which alcohol")
	least := f.String("min", "", "the policy's least strength")
	asJSON := f.Bool("json", false, "one JSON object")
	if _, err := f.parse(args, 0); err != nil {
		return err
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
		return printJSON(s.out, diluteAnswer{float64(p.Stock), float64(p.Water),
			float64(p.StockMass), float64(p.WaterMass), float64(p.Contraction), float64(p.Mistake)})
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
