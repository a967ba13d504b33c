package reprocess

import (
	"fmt"

	"handback/reprocess/strength"
)

// Batch is how a container was filled here from a stronger stock. The plan is what the rules
// worked out, the amounts are what really went in; neither is ever a strength: that is read.
type Batch struct {
	FromLot   string `json:"from_lot"`
	From      string `json:"from,omitempty"` // the stock's container; empty: without a label
	Agent     string `json:"agent"`
	Stock     string `json:"stock"` // as on its label; a range is planned with its low end
	Target    string `json:"target"`
	Volume    string `json:"volume"`
	PlanStock string `json:"plan_stock"` // a mass, such as "633.2g"
	PlanWater string `json:"plan_water"`
	InStock   string `json:"in_stock"` // what went in, a mass or a volume
	InWater   string `json:"in_water"`
	By        string `json:"by"`
	Name      string `json:"name"`
}

// StrengthReading is one reading of a container: facts only, the strength is worked out anew
// whenever it is asked. Seq, At and By are the entry's.
type StrengthReading struct {
	Seq         int64   `json:"seq,omitempty"`
	At          Instant `json:"at,omitempty"`
	By          string  `json:"by,omitempty"`
	Reading     string  `json:"reading"`     // as on the stem, such as "70%v/v" or "885.6kg/m3"
	Temperature string  `json:"temperature"` // of the liquid, such as "21.5°C"
	Glass       string  `json:"glass"`       // material of the instrument

	Instrument string `json:"instrument,omitempty"` // its number, where it has one
	Agent      string `json:"agent,omitempty"`      // the alcohol in it; empty: ethanol
}

// alcohol is what the reading was taken of.
func (r StrengthReading) alcohol() (strength.Alcohol, error) {
	if r.Agent == "" {
		return strength.Ethanol, nil
	}
	return strength.ParseAlcohol(r.Agent)
}

// Measured is the true strength behind the reading, with its uncertainty.
func (r StrengthReading) Measured() (m strength.Measured, err error) {
	reading, err := strength.ParseReading(r.Reading, 0)
	if err != nil {
		return m, err
	}
	if r.Temperature == "" {
		return m, fmt.Errorf("the temperature is missing and has no default; 10 degrees shift a " +
			"reading by about 3 %% v/v")
	}
	t, err := strength.ParseCelsius(r.Temperature)
	if err != nil {
		return m, err
	}
	glass, err := strength.ParseGlass(r.Glass)
	if err != nil {
		return m, err
	}
	a, err := r.alcohol()
	if err != nil {
		return m, err
	}
	return strength.CorrectFor(a, reading, t, glass)
}

// BatchOrder says what is to be prepared: from which container of stock, or from which lot of
// it when its container has no label, and how much of what.
type BatchOrder struct {
	Product string `json:"product"` // what is made
	From    string `json:"from,omitempty"`
	FromLot string `json:"from_lot,omitempty"`
	Target  string `json:"target"`
	Volume  string `json:"volume"`
}

// BatchPlan is an order worked out.
type BatchPlan struct {
	Product  *Product
	StockLot *Lot
	Stock    *Container // nil: without a label
	Order    strength.Order
	Plan     strength.Plan
	Discard  Date
	Remarks  []string
}

// mostBatch is the most that is prepared at once: all of it burns. Our own choice.
const mostBatch strength.Millilitres = 20000

// PlanBatch works an order out on a day, or says why it cannot be prepared.
func PlanBatch(w *World, o BatchOrder, today Date) (*BatchPlan, *Problem) {
	b := &BatchPlan{Product: w.Products[o.Product]}
	if b.Product == nil {
		return nil, missing("disinfectant")
	}
	if p := b.made(); p != nil {
		return nil, p
	}
	stock, p := b.stock(w, o, today)
	if p != nil {
		return nil, p
	}
	if p := b.order(stock, o); p != nil {
		return nil, p
	}
	if p := b.reachable(w); p != nil {
		return nil, p
	}
	b.Discard = b.discard(stock, today)
	return b, nil
}

// made checks the product that is to be prepared: described as made here, one alcohol and water
// alone, so that a reading can tell its strength, with the days it keeps.
func (b *BatchPlan) made() *Problem {
	switch {
	case b.Product.Use != MadeHere || b.Product.Retired:
		return refuse("not_made_here", "Have a supervisor describe it as prepared here.",
			"%s is not described as something that is prepared here.", b.Product.Name)
	case b.Product.OpenDays <= 0:
		return refuse("open_days_unknown", "Ask a supervisor to enter it.",
			"How many days %s keeps after preparing is not recorded.", b.Product.Name)
	}
	return measurable(b.Product)
}

// OneAlcohol is the alcohol of a product that is one alcohol and water alone as described: only
// of these can a reading tell the strength.
func (p *Product) OneAlcohol() (a strength.Alcohol, ok bool) {
	if len(p.Actives) != 1 {
		return 0, false
	}
	a, err := strength.ParseAlcohol(p.Actives[0].Agent)
	return a, err == nil
}

// measurable allows one alcohol with water: a hydrometer cannot tell alcohols apart, and whatever
// else is in it shifts the reading.
func measurable(p *Product) *Problem {
	if _, ok := p.OneAlcohol(); ok {
		return nil
	}
	if alcohols, problem := p.alcohols(); problem == nil && len(alcohols) > 1 {
		return refuse("not_measurable", "Weigh it out by the worksheet for several alcohols and have "+
			"it measured elsewhere, or use it as delivered.",
			"A reading cannot tell several alcohols apart, and %s holds %d.", p.Name, len(alcohols))
	}
	return refuse("not_measurable", "Have its strength measured elsewhere, or use it as delivered.",
		"A reading tells the strength of one alcohol and water alone, and %s holds something else.",
		p.Name)
}

// sameAlcohol wants what is diluted to be what is made.
func (b *BatchPlan) sameAlcohol(stock *Product) *Problem {
	made, _ := b.Product.OneAlcohol()
	from, _ := stock.OneAlcohol()
	if made == from {
		b.Order.Alcohol = made
		return nil
	}
	return refuse("other_alcohol", "Take a stock of the same alcohol.",
		"%s is of %s, and %s of %s.", b.Product.Name, made, stock.Name, from)
}

// stock finds what is diluted, and that it may be used today.
func (b *BatchPlan) stock(w *World, o BatchOrder, today Date) (s Suit, p *Problem) {
	if con := w.Containers[o.From]; o.From != "" {
		if con == nil {
			return s, missing("container")
		}
		if s, p = w.chain(con); p == nil {
			p = s.usable(today)
		}
		b.Stock = con
	} else {
		l := w.Lots[o.FromLot]
		if l == nil {
			return s, missing("lot")
		}
		if s, p = w.chain(&Container{Lot: l.ID}); p == nil {
			p = Openable(l, today)
		}
	}
	if p != nil {
		return s, p
	}
	if s.Lot.From != "" {
		return s, refuse("made_here", "Take the stock itself.",
			"%s was prepared here; it is not diluted once more.", w.LotWords(s.Lot))
	}
	b.StockLot = s.Lot
	if p := measurable(s.Product); p != nil {
		return s, p
	}
	return s, b.sameAlcohol(s.Product)
}

// order parses and plans, with the low end of the stock.
func (b *BatchPlan) order(s Suit, o BatchOrder) *Problem {
	var errs [2]error
	parts, p := s.Product.alcohols()
	if p != nil || len(parts) != 1 {
		return cannotPlan(fmt.Errorf("the strength of %s cannot be read", s.Product.Name))
	}
	b.Order.Stock = parts[0].Figure
	b.Order.Target, errs[0] = strength.ParseStrength(o.Target)
	b.Order.Volume, errs[1] = strength.ParseMillilitres(o.Volume)
	if errs[1] == nil && b.Order.Volume > mostBatch {
		errs[1] = fmt.Errorf("at most %s are prepared at once, because all of it burns", mostBatch)
	}
	for _, err := range errs {
		if err != nil {
			return cannotPlan(err)
		}
	}
	var err error
	if b.Plan, err = strength.PlanDilution(b.Order); err != nil {
		return cannotPlan(err)
	}
	return nil
}

func cannotPlan(err error) *Problem {
	return &Problem{Code: Invalid, Rule: "plan", Err: err, Text: title(sentence(err.Error())),
		Fix: "Change it and send again."}
}

// reachable compares the target with the minimum and maximum of every procedure it may be used
// under. A target that no instrument could show to be strong enough is refused; one that a
// stem with whole percents cannot show is remarked on.
func (b *BatchPlan) reachable(w *World) *Problem {
	rows, p := w.limitsOf(b.Product)
	if p != nil {
		return p
	}
	target := strength.Part{Alcohol: b.Order.Alcohol, Figure: b.Order.Target}
	for _, row := range rows {
		v, err := strength.Judge([]strength.Part{target}, row.least, row.most, nil)
		if err != nil {
			return cannotPlan(err)
		}
		if v.Outcome != strength.Pass {
			return refuse("strength", "Aim at another strength.", "%s: %s", row.name, sentence(v.Why))
		}
		if meter, stem := b.shown(row, strength.NoGlass), b.shown(row, strength.SodaLime); meter != nil {
			return refuse("strength_undecided", "Aim one or two percent higher.",
				"%s: no reading of %s could show that it is strong enough: %s", row.name,
				b.Order.Target, sentence(meter.Why))
		} else if stem != nil {
			b.Remarks = append(b.Remarks, "Aim higher, or read it with a density meter: on a stem, as "+
				"planned, "+sentence(stem.Why))
		}
	}
	return nil
}

// shown is nil when a perfect batch, read at 20 °C, is shown to reach the minimum: with a
// density meter (no glass), or off a stem, which is marked in % v/v for ethanol and in kg/m³
// for the others.
func (b *BatchPlan) shown(row limits, g strength.Glass) *strength.Verdict {
	r := strength.Reading{Value: float64(b.Plan.Mixed), Scale: strength.ScaleDensity}
	if g != strength.NoGlass && b.Order.Alcohol == strength.Ethanol {
		r = strength.Reading{Value: float64(b.Plan.Target), Scale: strength.ScaleVolume}
	}
	m, err := strength.CorrectFor(b.Order.Alcohol, r, 20, g)
	if err != nil {
		return &strength.Verdict{Why: err.Error()}
	}
	v, err := m.Judge(row.least, nil)
	if err != nil {
		return &strength.Verdict{Why: err.Error()}
	}
	if v.Outcome == strength.Pass {
		return nil
	}
	return &v
}

// discard is the last usable day: the days it keeps after preparing, never past the stock's.
func (b *BatchPlan) discard(s Suit, today Date) Date {
	day := min(today.AddDays(b.Product.OpenDays), s.Lot.Expiry)
	if s.Until != "" {
		day = min(day, s.Until)
	}
	return day
}

// limits are the minimum and the maximum of one procedure.
type limits struct {
	name        string
	least, most *strength.Figure
}

// limitsOf are those of every procedure in force that a product may be used under; the default
// minimum where there is none.
func (w *World) limitsOf(p *Product) ([]limits, *Problem) {
	var all []limits
	for _, id := range p.Models {
		proc := w.Procedures[w.InForce[id]]
		if proc == nil || proc.Row(StepDisinfection) == nil {
			continue
		}
		row, err := proc.limits()
		if err != nil {
			return nil, cannotCompare(p, err)
		}
		all = append(all, row)
	}
	if len(all) == 0 {
		row, err := (&Procedure{Name: "Minimum"}).limits()
		if err != nil {
			return nil, cannotCompare(p, err)
		}
		all = append(all, row)
	}
	return all, nil
}

func (proc *Procedure) limits() (row limits, err error) {
	row.name = proc.Name
	if row.least, err = limit(proc.MinStrength, DefaultMinimum); err != nil {
		return row, err
	}
	row.most, err = limit(proc.MaxStrength, "")
	return row, err
}
