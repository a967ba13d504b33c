package strength

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The balance of masses by hand: 1000 g at 70 % from 80 % hold 700 g of alcohol, which are in
// 875 g of stock. A Belgian pharmacy page gives 35.36 g of ethanol 96.2 % v/v (94.13 % w/w) for
// 100 g at 33.28 % w/w.
func TestPlanByMass(t *testing.T) {
	p, err := PlanByMass(MassOrder{Stock: Exactly(80, ByMass), Target: Exactly(70, Per100Grams),
		Mass: 1000})
	require.NoError(t, err)
	require.Equal(t, MassPlan{Stock: 875, Water: 125, Target: 70, StockTaken: 80, AtHighEnd: 70}, p)
	p, err = PlanByMass(MassOrder{Stock: Exactly(94.13, ByMass), Target: Exactly(33.28, ByMass),
		Mass: 100})
	require.NoError(t, err)
	require.InDelta(t, 35.36, float64(p.Stock), 0.01)

	o := MassOrder{Stock: Figure{80, 84, ByMass}, Target: Exactly(70, ByMass), Mass: 500}
	p, err = PlanByMass(o)
	require.NoError(t, err)
	require.InDelta(t, 437.5, float64(p.Stock), 1e-9)
	require.InDelta(t, 73.5, float64(p.AtHighEnd), 1e-9, "84 x 437.5/500")
	require.Contains(t, p.Lines(o)[0], "weigh 437.5 g of stock, add water to 500.0 g")
	require.Contains(t, p.Lines(o)[2], "low end of the stock, 80.00 % w/w")
	require.Contains(t, p.Lines(o)[3], "measured elsewhere")
	require.Contains(t, p.Lines(o)[4], "flammable")
}

// A single alcohol weighed by its plan comes out as the plan by volume says: two ways, one liquid.
func TestTheTwoPlansAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.SampledFrom(Alcohols()).Draw(t, "alcohol")
		stock := rapid.Float64Range(60, 99).Draw(t, "stock")
		target := rapid.Float64Range(20, 59).Draw(t, "target")
		v, err := PlanDilution(Order{Alcohol: a, Stock: Exactly(stock, ByMass),
			Target: Exactly(target, ByMass), Volume: 1000})
		require.NoError(t, err)
		m, err := PlanByMass(MassOrder{Stock: Exactly(stock, ByMass), Target: Exactly(target, ByMass),
			Mass: v.StockMass + v.WaterMass})
		require.NoError(t, err)
		require.InDelta(t, float64(v.StockMass), float64(m.Stock), 1e-6)
		require.InDelta(t, float64(v.WaterMass), float64(m.Water), 1e-6)
	})
}

func TestPlanByMassRefuses(t *testing.T) {
	good := MassOrder{Stock: Exactly(80, ByMass), Target: Exactly(70, ByMass), Mass: 1000}
	least := func(f Figure) func(*MassOrder) { return func(o *MassOrder) { o.Least = &f } }
	for _, x := range []struct {
		says string
		edit func(*MassOrder)
	}{
		{"stock 80%v/v is not by mass", func(o *MassOrder) { o.Stock.Basis = ByVolume }},
		{"target 70% is not by mass", func(o *MassOrder) { o.Target.Basis = Unstated }},
		{"stock: the strength has no basis", func(o *MassOrder) { o.Stock = Figure{} }},
		{"not below the stock", func(o *MassOrder) { o.Target = Exactly(80, ByMass) }},
		{"not below the stock", func(o *MassOrder) { o.Stock = Figure{70, 90, ByMass} }},
		{"is a range", func(o *MassOrder) { o.Target = Figure{60, 70, ByMass} }},
		{"is water", func(o *MassOrder) { o.Target = Exactly(0, ByMass) }},
		{"mass to make", func(o *MassOrder) { o.Mass = 0 }},
		{"mass to make", func(o *MassOrder) { o.Mass = 1e6 + 1 }},
		{"below the least allowed", least(Exactly(70.1, ByMass))},
		{"least allowed 60%v/v is not by mass", least(Exactly(60, ByVolume))},
	} {
		o := good
		x.edit(&o)
		_, err := PlanByMass(o)
		require.ErrorContains(t, err, x.says)
	}
	o := good
	least(Exactly(70, ByMass))(&o)
	_, err := PlanByMass(o)
	require.NoError(t, err, "the least allowed itself is allowed")
}

func TestParseMass(t *testing.T) {
	for text, want := range map[string]Grams{"1000g": 1000, "1 kg": 1000, "0,5kg": 500} {
		got, err := ParseMass(text)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	for text, says := range map[string]string{"1000": "unit", "1000mL": "unit", "0g": "out of range",
		"-1g": "negative", "NaNg": "plain number", "1,000g": "may mean 1 or 1000",
		"١g": "another script", "1001kg": "out of range"} {
		_, err := ParseMass(text)
		require.ErrorContains(t, err, says)
	}
}
