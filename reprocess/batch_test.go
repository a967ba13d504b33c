package reprocess

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// stocked adds a concentrate of 95.1 to 96.9 % v/v (the pharmacopoeial range of "96 %", from
// memory) with a lot and an open container, and what is made of it here.
func stocked(t testT) (c *clinic, order BatchOrder) {
	c = newClinic(t)
	boss, ada := c.actor("boss"), c.actor("ada")
	day := c.now.Today()
	made := func(p Product) string {
		return c.do(boss, SetProduct{p}).Events[0].Event.(ProductSet).ID
	}
	stock := testProduct()
	stock.Name, stock.Use, stock.OpenDays = "Ethanol 96", Concentrate, 365
	stock.Actives = []Active{{"ethanol", "95.1..96.9%v/v"}}
	here := testProduct()
	here.Name, here.Use, here.OpenDays = "Ethanol 75, prepared here", MadeHere, 7
	here.Actives = []Active{{"ethanol", "75%v/v"}}
	id := made(stock)
	l := c.do(ada, SetLot{Lot{Kind: LotDisinfectant, Product: id, Number: "S1",
		Expiry: day.AddDays(100)}}).Events[0].Event.(LotSet)
	con := c.do(ada, OpenContainer{Lot: l.ID}).Events[0].Event.(ContainerOpened)
	return c, BatchOrder{Product: made(here), From: con.ID, Target: "75%v/v", Volume: "1 L"}
}

// prepared makes the batch by the plan and gives its container.
func (c *clinic) prepared(o BatchOrder) *Container {
	e := c.do(c.actor("ada"), PrepareBatch{BatchOrder: o, InStock: "639.6g", InWater: "233.2 g"})
	return c.w.Containers[e.Events[1].Event.(ContainerOpened).ID]
}

func (c *clinic) read(con *Container, reading string) {
	c.do(c.actor("ada"), ReadStrength{Container: con.ID, Reading: reading, Temperature: "20",
		Glass: "soda-lime"})
}

// The plan counts with the low end of the stock: V q2/q1 = 1000 x 75/95.1 = 788.6 mL, and what
// comes out of the high end is 75 x 96.9/95.1 = 76.42 % v/v.
func TestABatchIsPlannedWithTheLowEnd(t *testing.T) {
	c, o := stocked(t)
	b, p := PlanBatch(c.w, o, c.now.Today())
	require.Nil(t, p)
	require.InDelta(t, 788.64, float64(b.Plan.Stock), 0.01)
	require.InDelta(t, 76.42, float64(b.Plan.AtHighEnd), 0.005)
	require.Greater(t, float64(b.Plan.Contraction), 15.0)
	require.Equal(t, c.now.Today().AddDays(7), b.Discard)
	require.Empty(t, b.Remarks)
}

// Seven days, or what the stock still has: its expiry, and its own days after opening.
func TestABatchNeverOutlivesItsStock(t *testing.T) {
	c, o := stocked(t)
	today := c.now.Today()
	lot := c.w.Lots[c.w.Containers[o.From].Lot]
	stock, made := c.w.Products[lot.Product], c.w.Products[o.Product]
	discard := func(o BatchOrder) Date {
		b, p := PlanBatch(c.w, o, today)
		require.Nil(t, p)
		return b.Discard
	}
	lot.Expiry = today.AddDays(7)
	require.Equal(t, today.AddDays(7), discard(o))
	lot.Expiry = today.AddDays(6)
	require.Equal(t, today.AddDays(6), discard(o))
	lot.Expiry = today.AddDays(100)
	stock.OpenDays = 3
	require.Equal(t, today.AddDays(3), discard(o))
	unlabelled := o
	unlabelled.From, unlabelled.FromLot = "", lot.ID
	require.Equal(t, today.AddDays(7), discard(unlabelled), "no container, no day of opening")
	made.OpenDays = 0
	_, p := PlanBatch(c.w, o, today)
	require.Equal(t, "open_days_unknown", p.Rule, "an unknown number of days blocks")
}

func TestBatchesThatAreNotPlanned(t *testing.T) {
	for _, x := range []struct {
		name, rule string
		edit       func(*clinic, *BatchOrder)
	}{
		{"no such product", "unknown", func(c *clinic, o *BatchOrder) { o.Product = "D99" }},
		{"not made here", "not_made_here", func(c *clinic, o *BatchOrder) { o.Product = "D14" }},
		{"no longer made", "not_made_here", func(c *clinic, o *BatchOrder) {
			c.w.Products[o.Product].Retired = true
		}},
		{"something else in it", "not_measurable", func(c *clinic, o *BatchOrder) {
			p := c.w.Products[o.Product]
			p.Actives = append(p.Actives, Active{"quat", "0.1 %"})
		}},
		{"several alcohols", "not_measurable", func(c *clinic, o *BatchOrder) {
			p := c.w.Products[o.Product]
			p.Actives = []Active{{"ethanol", "40%w/w"}, {"propan-2-ol", "30%w/w"}}
		}},
		{"another alcohol", "other_alcohol", func(c *clinic, o *BatchOrder) {
			c.w.Products[o.Product].Actives = []Active{{"propan-2-ol", "75%v/v"}}
		}},
		{"another stock", "other_alcohol", func(c *clinic, o *BatchOrder) {
			p := c.w.Products[c.w.Lots[c.w.Containers[o.From].Lot].Product]
			p.Actives = []Active{{"propan-1-ol", "96%v/v"}}
		}},
		{"no such container", "unknown", func(c *clinic, o *BatchOrder) { o.From = "B99" }},
		{"no stock at all", "unknown", func(c *clinic, o *BatchOrder) { o.From = "" }},
		{"stock closed", "container_closed", func(c *clinic, o *BatchOrder) {
			c.w.Containers[o.From].Closed, c.w.Containers[o.From].Why = 1, "empty"
		}},
		{"stock stopped", "lot_stopped", func(c *clinic, o *BatchOrder) {
			c.w.Lots[c.w.Containers[o.From].Lot].Stopped = &Stop{Reason: "r"}
		}},
		{"stock expired", "expired", func(c *clinic, o *BatchOrder) {
			c.w.Lots[c.w.Containers[o.From].Lot].Expiry = c.now.Today().AddDays(-1)
		}},
		{"a batch as stock", "made_here", func(c *clinic, o *BatchOrder) {
			o.From = c.prepared(*o).ID
		}},
		{"stock without a basis", "plan", func(c *clinic, o *BatchOrder) {
			p := c.w.Products[c.w.Lots[c.w.Containers[o.From].Lot].Product]
			p.Actives = []Active{{"ethanol", "96%"}}
		}},
		{"no target", "plan", func(c *clinic, o *BatchOrder) { o.Target = "" }},
		{"target without a basis", "plan", func(c *clinic, o *BatchOrder) { o.Target = "75%" }},
		{"as strong as the low end", "plan", func(c *clinic, o *BatchOrder) { o.Target = "95.1%v/v" }},
		{"no volume", "plan", func(c *clinic, o *BatchOrder) { o.Volume = "" }},
		{"too much of it", "plan", func(c *clinic, o *BatchOrder) { o.Volume = "20001mL" }},
		{"digits of another script", "plan", func(c *clinic, o *BatchOrder) { o.Volume = "١ L" }},
		{"below the minimum", "strength", func(c *clinic, o *BatchOrder) { o.Target = "69.9%v/v" }},
		{"above the maximum", "strength", func(c *clinic, o *BatchOrder) {
			c.w.Procedures["R13@1"].MaxStrength = "74%v/v"
		}},
		{"no reading could show it", "strength_undecided", func(c *clinic, o *BatchOrder) {
			o.Target = "70%v/v"
		}},
	} {
		c, o := stocked(t)
		x.edit(c, &o)
		p := c.refused(x.rule, c.actor("ada"), PrepareBatch{BatchOrder: o, InStock: "1g", InWater: "1g"})
		require.NotEmpty(t, p.Fix, x.name)
	}
	c, o := stocked(t)
	o.Volume = "20 L"
	_, p := PlanBatch(c.w, o, c.now.Today())
	require.Nil(t, p, "the most is allowed")
	// 70.4 is within what a whole-percent stem can show (0.55), not within a density meter's.
	o.Target = "70.4%v/v"
	b, p := PlanBatch(c.w, o, c.now.Today())
	require.Nil(t, p)
	require.Len(t, b.Remarks, 2, "one for each procedure")
	require.Contains(t, b.Remarks[0], "density meter")
}

func TestABatchIsWeighedIn(t *testing.T) {
	c, o := stocked(t)
	ada := c.actor("ada")
	for _, x := range [][2]string{{"", "233.2g"}, {"639.6g", ""}, {"638.7", "233.2g"},
		{"0g", "233.2g"}, {"1,200g", "1g"}} {
		c.refused("plan", ada, PrepareBatch{BatchOrder: o, InStock: x[0], InWater: x[1]})
	}
	c.refused("role", c.actor("dan"), PrepareBatch{BatchOrder: o, InStock: "1g", InWater: "1g"})
	con := c.prepared(o)
	require.Equal(t, "639.6g", con.Batch.InStock)
	require.Equal(t, "233.2g", con.Batch.InWater)
	require.Equal(t, "Ada Bench", con.Batch.Name)
	require.Equal(t, "95.1..96.9%v/v", con.Batch.Stock)
	require.True(t, strings.HasSuffix(con.Batch.PlanStock, "g"))
	l := c.w.Lots[con.Lot]
	require.Equal(t, c.w.Containers[o.From].Lot, l.From)
	require.Equal(t, c.now.Today().AddDays(7), l.Expiry)

	// It is its own lot: not typed, not corrected, not opened again, not typed in as delivered.
	c.refused("made_here", ada, SetLot{Lot{ID: l.ID, Kind: LotDisinfectant, Product: o.Product,
		Number: l.Number, Expiry: "2030-01-01"}})
	c.refused("made_here", ada, SetLot{Lot{Kind: LotDisinfectant, Product: o.Product, Number: "X",
		Expiry: "2030-01-01"}})
	c.refused("made_here", ada, OpenContainer{Lot: l.ID})
	c.do(ada, IssueBlanks{Codes: []string{"B1"}, First: 41})
	e := c.do(ada, PrepareBatch{BatchOrder: o, InStock: "1g", InWater: "1g", Code: "B1"})
	require.Equal(t, "41", e.Events[1].Event.(ContainerOpened).Number)
	require.Equal(t, CodeContainer, c.w.Labels["B1"].Kind)
}

func (c *clinic) suitOf(con *Container) *Problem {
	_, p := Suits(c.w, con.ID, c.w.Pieces["P18-1"], c.w.Procedures["R12@1"], nil, c.now.Today())
	return p
}

// What was read counts, its uncertainty on the safe side, never the plan. Off a stem in whole
// percents U is 0.55 to 0.57 at 20 °C (k = 2), so 70.6 shows 70 and 70.5 does not.
func TestOnlyAReadingIsAStrength(t *testing.T) {
	for _, x := range []struct {
		reading, rule string
		stopped       bool
	}{{"75%v/v", "", false}, {"70.6%v/v", "", false}, {"70.5%v/v", "lot_stopped", true},
		{"70%v/v", "lot_stopped", true}, {"60%v/v", "lot_stopped", true},
		{"866.3kg/m3", "", false}} {
		c, o := stocked(t)
		con := c.prepared(o)
		require.Equal(t, "batch_unread", c.suitOf(con).Rule)
		c.read(con, x.reading)
		require.Equal(t, x.stopped, c.w.Lots[con.Lot].Stopped != nil, x.reading)
		if p := c.suitOf(con); x.rule == "" {
			require.Nil(t, p, x.reading)
		} else {
			require.Equal(t, x.rule, p.Rule, x.reading)
			require.Contains(t, c.w.Lots[con.Lot].Stopped.Reason, "70%v/v asked for")
		}
	}
}

// Lifting the stop does not make it strong: another reading has to.
func TestALiftedBatchIsStillWeak(t *testing.T) {
	c, o := stocked(t)
	con := c.prepared(o)
	c.read(con, "66%v/v")
	c.do(c.actor("ina"), LiftLot{Lot: con.Lot, Reason: "looked again"})
	require.Equal(t, "strength", c.suitOf(con).Rule)
	c.read(con, "70.2%v/v")
	require.Equal(t, "lot_stopped", c.suitOf(con).Rule, "not shown is stopped again")
	c.do(c.actor("ina"), LiftLot{Lot: con.Lot, Reason: "looked again"})
	require.Equal(t, "strength_undecided", c.suitOf(con).Rule)
	c.read(con, "74%v/v")
	require.Nil(t, c.suitOf(con))
	require.Len(t, con.Readings, 4-1)
}

// The temperature has no default; what lies outside the table is said and never moved to its
// edge (OIML R 22 holds from 0 to 40 °C here).
func TestReadingsAreStrict(t *testing.T) {
	c, o := stocked(t)
	con, ada := c.prepared(o), c.actor("ada")
	for _, x := range []struct{ reading, temperature, glass, says string }{
		{"75%v/v", "", "soda-lime", "temperature is missing"},
		{"75%v/v", "40.1", "soda-lime", "0"},
		{"75%v/v", "-0.1", "soda-lime", "0"},
		{"75%v/v", "20", "", "not known"},
		{"75%v/v", "20", "plastic", "plastic"},
		{"75%", "20", "soda-lime", ""},
		{"75", "20", "soda-lime", "unit"},
		{"999kg/m3", "20", "soda-lime", "outside"},
		{"780kg/m3", "20", "soda-lime", "outside"},
		{"٧٥%v/v", "20", "soda-lime", "another script"},
	} {
		p := c.refused("reading", ada, ReadStrength{Container: con.ID, Reading: x.reading,
			Temperature: x.temperature, Glass: x.glass})
		require.Contains(t, p.Text, x.says, "%v", x)
	}
	require.Empty(t, con.Readings)
	c.refused("unknown", ada, ReadStrength{Container: "B99"})
	c.refused("role", c.actor("dan"), ReadStrength{Container: con.ID})
	for _, edge := range []string{"0", "40"} {
		c.do(ada, ReadStrength{Container: con.ID, Reading: "75%v/v", Temperature: edge,
			Glass: "soda-lime"})
	}
	require.Equal(t, "0°C", con.Readings[0].Temperature)
	c.do(ada, CloseContainer{Container: con.ID, Why: "empty"})
	c.refused("container_closed", ada, ReadStrength{Container: con.ID, Reading: "75%v/v",
		Temperature: "20", Glass: "none"})
}

// Any opened container of one alcohol can be read again: alcohol evaporates. One that is not
// one alcohol and water alone cannot.
func TestAControlReadingStopsADeliveredLot(t *testing.T) {
	c := newClinic(t)
	tub := c.w.Containers["B16"]
	require.Nil(t, c.suitOf(tub))
	c.read(tub, "72%v/v")
	require.Nil(t, c.suitOf(tub))
	c.w.Products["D14"].Actives[0].Strength = "60%v/v"
	require.Nil(t, c.suitOf(tub), "what was read counts, not what is printed")
	c.read(tub, "68%v/v")
	require.Equal(t, "lot_stopped", c.suitOf(tub).Rule)
	c.w.Products["D14"].Actives = append(c.w.Products["D14"].Actives, Active{"propan-2-ol", "10%v/v"})
	c.refused("not_measurable", c.actor("ada"), ReadStrength{Container: "B16", Reading: "75%v/v",
		Temperature: "20", Glass: "none"})
}

// A stop of the stock reaches every batch of it and every kit released on one.
func TestAStopOfTheStockReachesTheBatch(t *testing.T) {
	c, o := stocked(t)
	con := c.prepared(o)
	c.read(con, "75%v/v")
	ada := c.actor("ada")
	c.w.Containers["B16"].Closed = c.now.UTC
	c.toWet()
	c.do(ada, WetNow{Kit: "K18", Pieces: []string{"P18-1", "P18-2"}, Container: con.ID})
	c.wait(61 * time.Second)
	c.look(ada, RecLooksWet)
	stock := c.w.Lots[con.Lot].From
	f := &gateFacts{c: &Case{W: c.w, Now: c.now, Actor: ada}, kit: c.w.Kits["K18"],
		piece: c.w.Pieces["P18-1"], proc: c.w.Procedures["R12@1"],
		model: c.w.Models["M10"], cycle: c.w.Cycles[c.w.Pieces["P18-1"].Cycle]}
	f.progress = f.cycle.Progress()
	require.Nil(t, gateContainer(f))
	var e KitReleased
	e.add(f, f.c)
	require.Equal(t, []string{con.Lot, stock}, e.Lots)
	c.do(ada, StopLot{Lot: stock, Reason: "the maker called"})
	require.Equal(t, "lot_stopped", c.suitOf(con).Rule)
	require.Contains(t, c.suitOf(con).Text, "of which this was prepared")
	require.Equal(t, "lot_stopped", gateContainer(f).Rule)
	delete(c.w.Lots, stock)
	require.Equal(t, "unknown", c.suitOf(con).Rule, "a stock that nobody knows is no pass")
}

func TestAConcentrateIsNotUsedAsItIs(t *testing.T) {
	c, o := stocked(t)
	require.Equal(t, "concentrate", c.suitOf(c.w.Containers[o.From]).Rule)
}

// By the plan 639.6 g of stock and 233.2 g of water come to 75.0..76.4 % v/v; 71 does not fit.
func TestReadingAndAmountsAreCompared(t *testing.T) {
	c, o := stocked(t)
	con := c.prepared(o)
	require.Empty(t, BatchDoubt(con))
	c.read(con, "75%v/v")
	require.Empty(t, BatchDoubt(con))
	c.read(con, "71%v/v")
	require.Contains(t, BatchDoubt(con), "do not agree")
	con.Batch.InWater = "a bucket"
	require.NotEmpty(t, BatchDoubt(con))
	require.Empty(t, BatchDoubt(c.w.Containers["B16"]))
}
