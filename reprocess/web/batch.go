package web

import (
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/strength"
)

// madeHere lists what is described as prepared here.
func madeHere(w *reprocess.World) []*reprocess.Product {
	return slices.DeleteFunc(productsOf(w), func(d *reprocess.Product) bool {
		return d.Use != reprocess.MadeHere || d.Retired
	})
}

// stocks are what a batch can be diluted from: open containers of concentrates, then lots of
// them, for a stock whose container has no label. The value says which it is.
func stocks(w *reprocess.World, today reprocess.Date) []Choice {
	var all []Choice
	concentrate := func(l *reprocess.Lot) bool {
		p := w.Products[l.Product]
		return p != nil && p.Use == reprocess.Concentrate
	}
	for _, c := range openContainers(w) {
		if l := w.Lots[c.Lot]; l != nil && concentrate(l) {
			all = append(all, Choice{Value: "container " + c.ID, Words: containerWords(w, c),
				Note: stockNote(w, l)})
		}
	}
	for _, l := range lotsOf(w, func(l *reprocess.Lot) bool {
		return concentrate(l) && reprocess.Openable(l, today) == nil
	}) {
		all = append(all, Choice{Value: "lot " + l.ID, Words: lotWords(w, l) + ", no sticker",
			Note: stockNote(w, l)})
	}
	return all
}

func stockNote(w *reprocess.World, l *reprocess.Lot) string {
	return activesWords(w.Products[l.Product])
}

// batchAsked reads the order from the address or the form.
func batchAsked(value func(string) string) reprocess.BatchOrder {
	o := reprocess.BatchOrder{Product: value("product"), Target: value("target"),
		Volume: value("volume")}
	switch kind, id, _ := strings.Cut(value("stock"), " "); kind {
	case "container":
		o.From = id
	case "lot":
		o.FromLot = id
	}
	return o
}

// batchPage asks what is prepared from what.
func batchPage(w *reprocess.World, today reprocess.Date, value func(string) string) *officePage {
	p := titledOffice("What is prepared?", "The plan counts with the low end of the stock and with "+
		"the volume that is lost in mixing. Alcohol burns: small amounts, aired room, no flame.")
	products, from := madeHere(w), stocks(w, today)
	switch {
	case len(products) == 0:
		p.Lead = []string{"Nothing is described as prepared here; a supervisor does it under " +
			"Disinfectants."}
		p.act("/products", "Disinfectants")
		return p
	case len(from) == 0:
		p.Lead = []string{"There is no concentrate to dilute: record a lot of it first."}
		p.act("/lots/new?kind=disinfectant", "Record a lot")
		return p
	}
	var options []Choice
	for _, d := range products {
		options = append(options, Choice{Value: d.ID, Words: d.Name, Note: activesWords(d)})
	}
	picked, target := value("product"), value("target")
	if len(products) == 1 {
		picked = products[0].ID
	}
	if d := w.Products[picked]; d != nil && target == "" && len(d.Actives) == 1 {
		target = d.Actives[0].Strength
	}
	f := &form{To: "/batch#" + answerID, Act: "Work it out", Get: true}
	f.one("product", "What is made?", picked, options...)
	f.one("stock", "From which stock?", value("stock"), from...)
	f.strength("target", "Strength to make", target, "Such as 75 % v/v")
	f.strength("volume", "How much", value("volume"), "Such as 1000 mL or 1 L")
	p.form(f)
	return p
}

// showBatch asks, and answers below with the plan and the form to weigh in.
func showBatch(v *Visit) error {
	w, err := v.stock()
	if err != nil {
		return err
	}
	p := batchPage(w, v.today(), v.Query)
	if v.Query("stock") == "" && v.Query("volume") == "" {
		return v.Show(p)
	}
	plan, problem := reprocess.PlanBatch(w, batchAsked(v.Query), v.today())
	if problem != nil {
		return v.Refuse(problem, p)
	}
	weighIn(p, plan, v.Query)
	return v.Show(p)
}

// weighIn shows the plan and asks what really went in.
func weighIn(p *officePage, b *reprocess.BatchPlan, value func(string) string) {
	var rows []ruledLine
	for _, line := range b.Plan.Lines(b.Order) {
		rows = append(rows, ruledLine{Words: capital(line) + "."})
	}
	for _, line := range b.Remarks {
		rows = append(rows, ruledLine{Words: line})
	}
	rows = append(rows, ruledLine{Words: "Throw it away after " + reprocess.Day(b.Discard) + "."})
	p.answer("The plan", "", rows...)
	f := &form{To: "/batch", Act: "It is mixed", Heading: "What really went in?"}
	for _, name := range []string{"product", "stock", "target", "volume"} {
		f.Kept = append(f.Kept, Kept{name, value(name)})
	}
	f.strength("in_stock", "Stock", value("in_stock"), "Weighed, such as 639.6 g, or measured in mL")
	f.strength("in_water", "Water", value("in_water"), "Weighed or measured, with its unit")
	sticker := CodeField("code", "Blank sticker, if there is one", value("code"))
	sticker.Hint = "Scan it, or type its 17 letters; empty: print a label afterwards"
	f.field(sticker)
	p.form(f)
}

func prepareBatch(v *Visit) error {
	w, err := v.stock()
	if err != nil {
		return err
	}
	p, order := batchPage(w, v.today(), v.Field), batchAsked(v.Field)
	if plan, problem := reprocess.PlanBatch(w, order, v.today()); problem == nil {
		weighIn(p, plan, v.Field)
	}
	cmd := reprocess.PrepareBatch{BatchOrder: order, InStock: v.Field("in_stock"),
		InWater: v.Field("in_water")}
	if cmd.Code, err = v.typedCode("code"); err != nil {
		return v.Refuse(err, p)
	}
	e, err := v.Do(cmd)
	if err != nil {
		return v.Refuse(err, p)
	}
	for _, box := range e.Events {
		if opened, ok := box.Event.(reprocess.ContainerOpened); ok {
			return v.Went("/container/"+opened.ID+"/reading",
				"It is recorded. Let it cool, then read its strength: nobody can use it before.")
		}
	}
	return v.Went("/supplies", "It is recorded.")
}

// batchLead says how a batch came to be.
func batchLead(w *reprocess.World, c *reprocess.Container) []string {
	b := c.Batch
	from := "an unknown lot"
	if l := w.Lots[b.FromLot]; l != nil {
		from = lotWords(w, l)
	}
	return []string{"Prepared here " + reprocess.Day(c.Opened) + " by " + b.Name + " from " + from +
		" (" + b.Stock + "), aimed at " + b.Target + ", " + b.Volume + ".",
		"Planned: " + b.PlanStock + " of stock and " + b.PlanWater + " of water. Went in: " +
			b.InStock + " and " + b.InWater + "."}
}

// readable tells whether a reading can tell the strength of what is in a container.
func readable(w *reprocess.World, c *reprocess.Container) bool {
	l := w.Lots[c.Lot]
	if l == nil || w.Products[l.Product] == nil {
		return false
	}
	_, ok := w.Products[l.Product].OneAlcohol()
	return ok
}

// strengthLead says what was read last, or that nobody read a batch yet.
func strengthLead(v *Visit, c *reprocess.Container) []string {
	m, r, ok := c.Strength()
	switch {
	case !ok && c.Batch != nil:
		return []string{"Nobody has read its strength: it cannot be used yet."}
	case !ok:
		return nil
	}
	all := []string{"Read " + v.moment(r.At) + ": " + r.Reading + " at " + r.Temperature + " is " +
		m.Lines()[0] + "."}
	if doubt := reprocess.BatchDoubt(c); doubt != "" {
		all = append(all, doubt)
	}
	return all
}

// readingPage asks for a reading.
func readingPage(w *reprocess.World, c *reprocess.Container, value func(string) string) *officePage {
	p := titledOffice("How strong is it?", containerWords(w, c)+".", "Let it cool first; instrument "+
		"and liquid within one degree of each other. A reading that does not show the least strength "+
		"stops it at once.")
	f := &form{To: "/container/" + c.ID + "/reading", Act: "Keep this reading"}
	f.strength("reading", "What stood on the stem", value("reading"), stemHint(alcoholIn(w, c)))
	f.strength("temperature", "Temperature of the liquid, °C", value("temperature"),
		"Measured, not guessed: 10 degrees shift it by about 3 % v/v")
	f.glass(value("glass"))
	f.text("instrument", "Number of the instrument, if it has one", value("instrument"), "")
	p.form(f)
	p.list("", "", ruledLine{To: "/container/" + c.ID, Words: "Read it later"})
	return p
}

// alcoholIn is the one alcohol of what is in a container; ethanol where it is none.
func alcoholIn(w *reprocess.World, c *reprocess.Container) strength.Alcohol {
	if l := w.Lots[c.Lot]; l != nil && w.Products[l.Product] != nil {
		if a, ok := w.Products[l.Product].OneAlcohol(); ok {
			return a
		}
	}
	return strength.Ethanol
}

// stemHint says how a reading is written, and of a propanol that a stem in % is not its own.
func stemHint(a strength.Alcohol) string {
	if a == strength.Ethanol {
		return "With its unit: 75 % v/v, 68 % w/w, 866.3 kg/m3 or 0.8663 g/mL"
	}
	return "This is " + a.String() + ". Best a density: 865.5 kg/m3 or 0.8655 g/mL, at 15 to 35 °C. A " +
		"stem marked in % is marked for ethanol: type what it shows, with its unit; it is worked out"
}

// glass asks what the instrument is made of; there is no default.
func (f *form) glass(picked string) {
	f.one("glass", "Material of the instrument", picked,
		Choice{Value: strength.SodaLime.String(), Words: "Soda-lime glass",
			Note: "hydrometers and alcoholometers, unless they say otherwise"},
		Choice{Value: strength.Borosilicate.String(), Words: "Borosilicate glass"},
		Choice{Value: strength.NoGlass.String(), Words: "None",
			Note: "a density meter that measures at the temperature of the liquid"})
}

func showReading(v *Visit) error {
	c, w, err := v.container()
	if err != nil {
		return err
	}
	return v.Show(readingPage(w, c, v.Query))
}

func readStrength(v *Visit) error {
	c, w, err := v.container()
	if err != nil {
		return err
	}
	e, err := v.Do(reprocess.ReadStrength{Container: c.ID, Reading: v.Field("reading"),
		Temperature: v.Field("temperature"), Glass: v.Field("glass"),
		Instrument: v.Field("instrument")})
	if err != nil {
		return v.Refuse(err, readingPage(w, c, v.Field))
	}
	for _, box := range e.Events {
		if stopped, ok := box.Event.(reprocess.LotStopped); ok {
			return v.Went("/lot/"+stopped.Lot+"/reach", "It is stopped. "+stopped.Reason)
		}
	}
	return v.Went("/container/"+c.ID, "The reading is kept.")
}
