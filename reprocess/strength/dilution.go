package strength

import (
	"errors"
	"fmt"
	"math"
)

// Order says what to dilute to what.
type Order struct {
	Alcohol Alcohol
	Stock   Figure // a range is planned with its low end
	Target  Figure // one number
	Volume  Millilitres
	Least   *Figure // the policy minimum; nil means that no policy was given
}

// Plan is a dilution at 20 °C: measure the stock, make up with water to the volume. Masses
// need no temperature. Nothing is rounded; Rounded is for the bench.
type Plan struct {
	Stock, Water         Millilitres
	StockMass, WaterMass Grams
	Contraction          Millilitres // stock + water − volume; negative for weak spirit
	Volume               Millilitres
	Target, StockTaken   VolumePercent // the stock's strength the plan counts with
	AtHighEnd            VolumePercent // what comes out if the stock is at its high end
	Mistake              VolumePercent // what comes out if the rest is filled in as measured water
	MistakeVolume        Millilitres   // and how much that makes
	WaterDensity, Mixed  Density       // water and the product at 20 °C
	StockDensity         Density
	Bound                VolumePercent // of what comes out, by the model; 0 for ethanol
}

// PlanDilution works out stock and water with contraction. The stock volume is V q2/q1; only
// the water needs the density model. Refused: a target not below the stock's low end, a target
// below Least or not shown to reach it, a bare "%" anywhere, nothing to make.
func PlanDilution(o Order) (Plan, error) {
	if err := o.check(); err != nil {
		return Plan{}, err
	}
	q1, q2 := o.Alcohol.fraction(o.Stock.Low, o.Stock.Basis), o.Alcohol.fraction(o.Target.Low,
		o.Target.Basis)
	if q2 >= q1 {
		return Plan{}, fmt.Errorf("the target %s is not below the stock %s (planned with its low end); "+
			"a dilution only weakens", o.Target, o.Stock)
	}
	p := o.Alcohol.dilute(q1, q2, float64(o.Volume))
	high := o.Alcohol.fraction(o.Stock.High, o.Stock.Basis)
	p.AtHighEnd = VolumePercent(100 * high * float64(p.Stock/o.Volume))
	return p, nil
}

func (o Order) check() error {
	if err := o.Alcohol.known(); err != nil {
		return err
	}
	for i, f := range []Figure{o.Stock, o.Target} {
		name := []string{"stock", "target"}[i]
		if err := f.check(); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		if f.Basis == Unstated {
			return fmt.Errorf("the %s %s has no basis; write %%v/v, %%w/w or g/100mL", name, f)
		}
		if _, err := solve(Part{o.Alcohol, Exactly(f.High, f.Basis)}.readings(), nil); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	switch {
	case !o.Target.Single():
		return fmt.Errorf("the target %s is a range; aim at one strength", o.Target)
	case !(o.Target.Low > 0):
		return errors.New("a target of 0 is water; write the strength to make")
	case !(o.Volume > 0 && o.Volume <= 1e6):
		return errors.New("the volume to make must be above 0 and at most 1000 L")
	}
	return o.policy()
}

// policy lets only a target through that passes the minimum without doubt.
func (o Order) policy() error {
	if o.Least == nil {
		return nil
	}
	v, err := Judge([]Part{{o.Alcohol, o.Target}}, o.Least, nil, nil)
	if err != nil {
		return err
	}
	if v.Outcome != Pass {
		return fmt.Errorf("the target cannot be planned: %s", v.Why)
	}
	return nil
}

// fraction converts a stated figure to a volume fraction at 20 °C.
func (a Alcohol) fraction(value float64, b Basis) float64 {
	switch b.plain() {
	case ByMass:
		return a.volumeFraction(value / 100)
	case Per100Millis:
		return math.Min(1, 10*value/a.pure())
	}
	return value / 100
}

// dilute is the balance of masses: q1 down to q2 making v mL.
func (a Alcohol) dilute(q1, q2, v float64) Plan {
	p1, p2 := a.massFraction(q1), a.massFraction(q2)
	rho1, rho2 := a.density(p1, 20), a.density(p2, 20)
	stock := v * q2 / q1
	stockMass := stock * rho1 / 1000
	waterMass := v*rho2/1000 - stockMass
	water := waterMass / pureWater * 1000
	wrongWater := (v - stock) * pureWater / 1000
	wrongP := stockMass * p1 / (stockMass + wrongWater)
	return Plan{
		Stock: Millilitres(stock), Water: Millilitres(water),
		StockMass: Grams(stockMass), WaterMass: Grams(waterMass),
		Contraction: Millilitres(stock + water - v), Volume: Millilitres(v),
		Target: VolumePercent(100 * q2), StockTaken: VolumePercent(100 * q1),
		Mistake:       VolumePercent(100 * a.volumeFraction(wrongP)),
		MistakeVolume: Millilitres((stockMass + wrongWater) / a.density(wrongP, 20) * 1000),
		WaterDensity:  Density(pureWater), Mixed: Density(rho2), StockDensity: Density(rho1),
		Bound: a.Bound(),
	}
}

// Rounded gives bench figures on a step such as 1 mL: stock up and water down, so that the
// product errs strong. Where an upper limit applies use the exact plan.
func (p Plan) Rounded(step Millilitres) (stock, water Millilitres) {
	const almost = 1e-9 // 700.0000000001 is 700, not 701
	up := math.Ceil(float64(p.Stock/step) - almost)
	down := math.Floor(float64(p.Water/step) + almost)
	return Millilitres(up) * step, Millilitres(down) * step
}
