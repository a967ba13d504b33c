package strength

import (
	"errors"
	"fmt"
)

// MassOrder says what to dilute to what where everything is weighed: it needs no table, so it
// holds for any alcohol and for any mixture of alcohols, figures being their sum.
type MassOrder struct {
	Stock  Figure // % w/w or g/100g; a range is planned with its low end
	Target Figure // one number, the same way
	Mass   Grams  // how much to make
	Least  *Figure
}

// MassPlan is what to weigh. A mixture of alcohols keeps the proportions of its stock.
type MassPlan struct {
	Stock, Water       Grams
	Target, StockTaken MassPercent
	AtHighEnd          MassPercent // what comes out if the stock is at its high end
}

// ParseMass reads "1000g" or "1.2 kg"; the unit is mandatory.
func ParseMass(text string) (Grams, error) {
	if err := twoCommas("amount", text); err != nil {
		return 0, err
	}
	g, err := weights.parse(text)
	return Grams(g), err
}

var weights = quantity{
	name: "mass", form: "write it as 1000g or 1kg, above 0 and at most 1000 kg",
	units: scale{"g": 0, "kg": 3}, high: 1e6, positive: true,
}

// PlanByMass works out stock and water by weight: the alcohol of the one is the alcohol of the
// other. Refused: any figure that is not by mass, a target not below the stock's low end or
// below Least, nothing to make.
func PlanByMass(o MassOrder) (MassPlan, error) {
	if err := o.check(); err != nil {
		return MassPlan{}, err
	}
	share := o.Target.Low / o.Stock.Low
	stock := Grams(float64(o.Mass) * share)
	return MassPlan{Stock: stock, Water: o.Mass - stock, Target: MassPercent(o.Target.Low),
		StockTaken: MassPercent(o.Stock.Low), AtHighEnd: MassPercent(o.Stock.High * share)}, nil
}

func (o MassOrder) check() error {
	for i, f := range []*Figure{&o.Stock, &o.Target, o.Least} {
		if f == nil {
			continue
		}
		name := []string{"stock", "target", "least allowed"}[i]
		if err := f.check(); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		if !f.Basis.same(ByMass) {
			return fmt.Errorf("the %s %s is not by mass; what is weighed is planned in %%w/w or g/100g, "+
				"which the data sheet gives", name, f)
		}
		if i > 0 && !f.Single() {
			return fmt.Errorf("the %s %s is a range; write one number", name, f)
		}
	}
	switch {
	case !(o.Target.Low > 0):
		return errors.New("a target of 0 is water; write the strength to make")
	case o.Target.Low >= o.Stock.Low:
		return fmt.Errorf("the target %s is not below the stock %s (planned with its low end); "+
			"a dilution only weakens", o.Target, o.Stock)
	case !(o.Mass > 0 && o.Mass <= 1e6):
		return errors.New("the mass to make must be above 0 and at most 1000 kg")
	case o.Least != nil && o.Target.Low < o.Least.Low:
		return fmt.Errorf("the target cannot be planned: %s is below the least allowed, %s", o.Target,
			o.Least)
	}
	return nil
}

// Lines says what to weigh, what it does not tell, and the danger of fire.
func (p MassPlan) Lines(o MassOrder) []string {
	all := []string{
		fmt.Sprintf("weigh %.1f g of stock, add water to %.1f g (%.1f g of water)", float64(p.Stock),
			float64(o.Mass), float64(p.Water)),
		"by mass nothing is lost in mixing, and a mixture of alcohols keeps its proportions"}
	if !o.Stock.Single() {
		all = append(all, fmt.Sprintf("planned with the low end of the stock, %.2f %% w/w; with its "+
			"high end it comes out at %.2f %% w/w", float64(p.StockTaken), float64(p.AtHighEnd)))
	}
	return append(all, "a density cannot tell several alcohols apart: have the strength of a mixture "+
		"measured elsewhere before it is used", fire)
}
