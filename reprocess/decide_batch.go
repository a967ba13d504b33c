package reprocess

import (
	"fmt"

	"handback/reprocess/strength"
)

// PrepareBatch says that a dilution was made here: what was planned and what really went in.
// It is a lot of its own with one container; nobody can use it before its strength was read.
type PrepareBatch struct {
	BatchOrder
	InStock string `json:"in_stock"` // weighed or measured in, such as "633.2g" or "729mL"
	InWater string `json:"in_water"`
	Code    string `json:"code,omitempty"` // its label: a blank sticker, or a new one
}

// ReadStrength records a reading of a container: of a batch, or of any opened container of one
// alcohol and water, which evaporates. A reading that does not show the minimum stops the lot at once.
type ReadStrength struct {
	Container   string `json:"container"`
	Reading     string `json:"reading"`
	Temperature string `json:"temperature"`
	Glass       string `json:"glass"`

	Instrument string `json:"instrument,omitempty"` // its number, where it has one
}

// StrengthRead adds a reading to a container.
type StrengthRead struct {
	Container string          `json:"container"`
	Reading   StrengthReading `json:"reading"`
}

// EventName is the stable text "strength_read".
func (StrengthRead) EventName() string { return "strength_read" }

// The acts on batches.
const (
	ActBatch        Act = "batch"
	ActReadStrength Act = "strength_read"
)

// Act is "batch".
func (PrepareBatch) Act() Act { return ActBatch }

// Act is "strength_read".
func (ReadStrength) Act() Act { return ActReadStrength }

// Needs the stock and the label.
func (x PrepareBatch) Needs() Needs {
	var n Needs
	if x.From != "" {
		n.Containers = []string{x.From}
	} else if x.FromLot != "" {
		n.Lots = []string{x.FromLot}
	}
	if x.Code != "" {
		n.Labels = []string{x.Code}
	}
	return n
}

// Needs the container.
func (x ReadStrength) Needs() Needs { return Needs{Containers: []string{x.Container}} }

func (x PrepareBatch) decide(c *Case) *Problem {
	today := c.Now.Today()
	b, p := PlanBatch(c.W, x.BatchOrder, today)
	if p != nil {
		return p
	}
	in, water, p := x.amounts(b)
	if p != nil {
		return p
	}
	l := Lot{ID: c.id("T", 0), Kind: LotDisinfectant, Product: b.Product.ID,
		Number: fmt.Sprintf("P%d", c.Seq), Expiry: b.Discard, From: b.StockLot.ID}
	con := Container{ID: c.id("B", 0), Lot: l.ID, Opened: today, Batch: &Batch{
		FromLot: b.StockLot.ID, From: x.From, Agent: b.Order.Alcohol.String(),
		Stock: b.Order.Stock.String(), Target: b.Order.Target.String(),
		Volume: b.Order.Volume.String(), PlanStock: tenths(b.Plan.StockMass),
		PlanWater: tenths(b.Plan.WaterMass), InStock: in.String(), InWater: water.String(),
		By: c.Actor.Person.ID, Name: c.Actor.Person.Name}}
	c.emit(LotSet{l})
	return OpenContainer{Code: x.Code}.label(c, &con)
}

// tenths writes a mass as scales show it, 0.1 g.
func tenths(g strength.Grams) string { return fmt.Sprintf("%.1fg", float64(g)) }

// amounts reads what went in; far from the plan it is a slip of the pen.
func (x PrepareBatch) amounts(b *BatchPlan) (in, water strength.Amount, p *Problem) {
	in, err := strength.ParseAmount(x.InStock)
	if err != nil {
		return in, water, cannotPlan(fmt.Errorf("what went in of the stock: %w", err))
	}
	water, err = strength.ParseAmount(x.InWater)
	if err != nil {
		return in, water, cannotPlan(fmt.Errorf("what went in of water: %w", err))
	}
	if _, _, err = strength.Made(b.Order, in, water); err != nil {
		return in, water, cannotPlan(err)
	}
	return in, water, nil
}

func (x ReadStrength) decide(c *Case) *Problem {
	con := c.W.Containers[x.Container]
	switch {
	case con == nil:
		return missing("container")
	case con.Closed != 0:
		return conflict("container_closed", "Read one that is open.",
			"This container was closed: %s.", con.Why)
	}
	s, p := c.W.chain(con)
	if p != nil {
		return p
	}
	if p := measurable(s.Product); p != nil {
		return p
	}
	r := StrengthReading{Reading: x.Reading, Temperature: x.Temperature, Glass: x.Glass}
	if a, _ := s.Product.OneAlcohol(); a != strength.Ethanol {
		r.Agent = a.String()
	}
	if p := r.written(); p != nil {
		return p
	}
	if r.Instrument, p = instrument(x.Instrument); p != nil {
		return p
	}
	c.emit(StrengthRead{Container: con.ID, Reading: r})
	return c.stopIfWeak(s, r)
}

// written checks the reading and puts it into its canonical spelling.
func (r *StrengthReading) written() *Problem {
	if _, err := r.Measured(); err != nil {
		return &Problem{Code: Invalid, Rule: "reading", Err: err, Text: title(sentence(err.Error())),
			Fix: "Read it again and send again; nothing was recorded."}
	}
	reading, _ := strength.ParseReading(r.Reading, 0)
	t, _ := strength.ParseCelsius(r.Temperature)
	r.Reading, r.Temperature = reading.String(), t.String()
	return nil
}

// stopIfWeak stops the lot when the reading does not show the minimum of every procedure the
// product may be used under: kits of the strictest may have been wiped with it.
func (c *Case) stopIfWeak(s Suit, r StrengthReading) *Problem {
	m, err := r.Measured()
	if err != nil {
		return cannotCompare(s.Product, err)
	}
	rows, p := c.W.limitsOf(s.Product)
	if p != nil {
		return p
	}
	for _, row := range rows {
		v, err := m.Judge(row.least, nil)
		if err != nil {
			return cannotCompare(s.Product, err)
		}
		if v.Outcome == strength.Pass {
			continue
		}
		if s.Lot.Stopped == nil {
			c.emit(LotStopped{Lot: s.Lot.ID, Reason: fmt.Sprintf(
				"Too weak by a reading: %.1f %% v/v (±%.1f), %s asked for.", float64(m.Volume),
				float64(m.Uncertainty), row.least)})
		}
		return nil
	}
	return nil
}

// applyBatch folds a reading.
func (w *World) applyBatch(e *Entry, event Event) bool {
	v, ok := event.(StrengthRead)
	if !ok {
		return false
	}
	v.Reading.Seq, v.Reading.At, v.Reading.By = e.Seq, e.At, e.By
	change(w, w.Containers, TableContainer, v.Container, func(c *Container) {
		c.Readings = append(c.Readings, v.Reading)
	})
	return true
}

// Strength is the newest reading of a container; ok is false when nobody read it.
func (c *Container) Strength() (m strength.Measured, r StrengthReading, ok bool) {
	if len(c.Readings) == 0 {
		return m, r, false
	}
	r = c.Readings[len(c.Readings)-1]
	m, err := r.Measured()
	return m, r, err == nil
}

// readEnough compares what was read with the procedure, never what was planned.
func (s Suit) readEnough(proc *Procedure) *Problem {
	m, _, ok := s.Container.Strength()
	if !ok {
		return refuse("batch_unread", "Read its strength first.",
			"Nobody has read the strength of this batch.")
	}
	row, err := proc.limits()
	if err != nil {
		return cannotCompare(s.Product, err)
	}
	v, err := m.Judge(row.least, row.most)
	switch {
	case err != nil:
		return cannotCompare(s.Product, err)
	case v.Outcome == strength.Pass:
		return nil
	case v.Outcome == strength.Fail:
		return refuse("strength", takeAnother, "It was read and is not of the strength asked for: %s",
			sentence(v.Why))
	}
	return refuse("strength_undecided", takeAnother,
		"It was read and is not shown to have the strength asked for: %s", sentence(v.Why))
}

// BatchDoubt says that what was read and what went in do not agree, which is a slip in one of
// them; empty when they do, or when there is nothing to compare. Half a percent more than the
// reading's uncertainty is let pass: scales and cylinders (our own choice).
func BatchDoubt(c *Container) string {
	m, _, ok := c.Strength()
	if !ok || c.Batch == nil {
		return ""
	}
	low, high, err := c.Batch.Made()
	if err != nil {
		return title(sentence(err.Error()))
	}
	give := m.Uncertainty + 0.5
	if m.Volume >= low-give && m.Volume <= high+give {
		return ""
	}
	return fmt.Sprintf("Reading and amounts do not agree: read %.1f %% v/v, by what went in %.1f to "+
		"%.1f %% v/v. Read it again, and look for a slip.", float64(m.Volume), float64(low),
		float64(high))
}

// Made is what the amounts come to, with the low and the high end of the stock.
func (b *Batch) Made() (low, high strength.VolumePercent, err error) {
	o := strength.Order{}
	var in, water strength.Amount
	for _, read := range []func() error{
		func() error { o.Alcohol, err = strength.ParseAlcohol(b.Agent); return err },
		func() error { o.Stock, err = strength.ParseStrength(b.Stock); return err },
		func() error { o.Target, err = strength.ParseStrength(b.Target); return err },
		func() error { o.Volume, err = strength.ParseMillilitres(b.Volume); return err },
		func() error { in, err = strength.ParseAmount(b.InStock); return err },
		func() error { water, err = strength.ParseAmount(b.InWater); return err },
	} {
		if err := read(); err != nil {
			return 0, 0, err
		}
	}
	return strength.Made(o, in, water)
}
