package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The edges of the second person, batches and lots. Sources: P12, P15 and P16 of the practice
// notes; pharmacopoeial range of "96 %" from memory; the bounds (20 L, half a percent) our own.

// Who stands behind what a second person looks at: who wiped, accepted or entered, as long as
// it was not taken back; who did an ordinary step does not.
func TestWhoIsAFirstPerson(t *testing.T) {
	sheet := &Paper{By: "pia"}
	for name, x := range map[string]struct {
		r     Record
		first []string
	}{
		"a step":               {Record{By: "ada", Kind: RecAnswer}, nil},
		"accepted":             {Record{By: "ada", Kind: RecOverride}, []string{"ada"}},
		"accepted, taken back": {Record{By: "ada", Kind: RecOverride, Undone: true}, nil},
		"from paper":           {Record{By: "ada", Late: true, Paper: sheet}, []string{"ada", "pia"}},
		"paper, taken back":    {Record{By: "ada", Late: true, Paper: sheet, Undone: true}, nil},
	} {
		f := &gateFacts{cycle: &Cycle{Records: []Record{{By: "eva", Kind: RecAnswer}, x.r}},
			progress: Progress{Wipers: []string{"wim"}}}
		for _, id := range []string{"ada", "pia", "eva"} {
			require.Equal(t, contains(x.first, id), f.first(id), "%s %s", name, id)
		}
		require.True(t, f.first("wim"), "who wiped is one in any case")
	}
}

// A procedure that wants two people wants another to release than the one who wiped.
func TestTwoPeopleAreTheWiperAndAnother(t *testing.T) {
	for _, two := range []bool{true, false} {
		c := readyToRelease(t)
		eva := *c.w.People["ada"]
		eva.ID = "eva"
		c.w.People["eva"] = &eva
		c.procedureOf("P18-1").TwoPeople = two
		if two {
			c.refused("second_person", c.actor("ada"), ReleaseKit{Kit: "K18"})
		}
		require.Nil(t, GateOpen(c.w, c.w.Kits["K18"], c.actor("eva"), c.now))
		require.Equal(t, !two, GateOpen(c.w, c.w.Kits["K18"], c.actor("ada"), c.now) == nil)
	}
}

// --- batches ---

func TestWhatABatchNeeds(t *testing.T) {
	n := PrepareBatch{BatchOrder: BatchOrder{From: "B1", FromLot: "T1"}, Code: "STICKER"}.Needs()
	require.Equal(t, Needs{Containers: []string{"B1"}, Labels: []string{"STICKER"}}, n)
	n = PrepareBatch{BatchOrder: BatchOrder{FromLot: "T1"}}.Needs()
	require.Equal(t, Needs{Lots: []string{"T1"}}, n)
	require.Equal(t, Needs{}, PrepareBatch{}.Needs())
}

// Reading and amounts agree, or one of them is a slip: too weak and too strong alike.
func TestHowFarAReadingMayLieFromTheAmounts(t *testing.T) {
	c, o := stocked(t)
	con := c.prepared(o) // 75 to 76.4 % v/v by what went in
	require.Empty(t, BatchDoubt(con), "nothing was read yet")
	for reading, agrees := range map[string]bool{"68%v/v": false, "75.5%v/v": true, "84%v/v": false} {
		probe := *con
		probe.Readings = []StrengthReading{{Temperature: "20 °C", Glass: "soda-lime", Reading: reading}}
		require.Equal(t, agrees, BatchDoubt(&probe) == "", reading)
		probe.Batch = nil
		require.Empty(t, BatchDoubt(&probe), "nothing went in here to compare with")
	}
}

// Twenty litres are prepared at once, not a millilitre more: all of it burns.
func TestTheMostThatIsPrepared(t *testing.T) {
	for volume, ok := range map[string]bool{"20 L": true, "20001 mL": false, "20.1 L": false,
		"1 L": true, "much": false} {
		c, o := stocked(t)
		o.Volume = volume
		_, p := PlanBatch(c.w, o, c.now.Today())
		require.Equal(t, ok, p == nil, "%s: %v", volume, p)
		if !ok {
			require.Equal(t, "plan", p.Rule)
		}
	}
}

// The stock: a container that may be used, of one alcohol whose strength can be read, and of a
// product that is known.
func TestWhatABatchIsMadeFrom(t *testing.T) {
	for name, x := range map[string]struct {
		spoil func(*clinic, *BatchOrder)
		rule  string
	}{
		"as it should be": {func(*clinic, *BatchOrder) {}, ""},
		"by its lot": {func(c *clinic, o *BatchOrder) {
			o.FromLot, o.From = c.w.Containers[o.From].Lot, ""
		}, ""},
		"a closed container": {func(c *clinic, o *BatchOrder) { c.w.Containers[o.From].Closed = 1 },
			"container_closed"},
		"no such container": {func(_ *clinic, o *BatchOrder) { o.From = "B99" }, "unknown"},
		"no such lot": {func(_ *clinic, o *BatchOrder) {
			o.From, o.FromLot = "", "T99"
		}, "unknown"},
		"a lot of nothing": {func(c *clinic, o *BatchOrder) {
			o.FromLot, o.From = c.w.Containers[o.From].Lot, ""
			delete(c.w.Products, c.w.Lots[o.FromLot].Product)
		}, "not_disinfectant"},
		"strength unreadable": {func(c *clinic, o *BatchOrder) {
			c.w.Products[c.w.Lots[c.w.Containers[o.From].Lot].Product].Actives[0].Strength = "strong"
		}, "plan"},
	} {
		c, o := stocked(t)
		x.spoil(c, &o)
		b, p := PlanBatch(c.w, o, c.now.Today())
		if x.rule == "" {
			require.Nil(t, p, name)
			require.NotNil(t, b.StockLot, name)
			continue
		}
		require.NotNil(t, p, name)
		require.Equal(t, x.rule, p.Rule, "%s: %s", name, p)
	}
}

// The limits are those of every procedure in force that disinfects; the usual minimum where
// there is none; and a limit that cannot be read is said, never left out.
func TestWhichLimitsAProductHas(t *testing.T) {
	c := newClinic(t)
	p := &Product{Name: "Wipe", Models: []string{"M10", "M11", "M99"}}
	all, problem := c.w.limitsOf(p)
	require.Nil(t, problem)
	require.Len(t, all, 2, "a model without a procedure has none")
	proc := c.w.Procedures["R12@1"]
	steps := proc.Steps
	proc.Steps = nil
	all, _ = c.w.limitsOf(p)
	require.Len(t, all, 1, "what is not disinfected has no limit")
	proc.Steps, proc.MinStrength = steps, "strong"
	_, problem = c.w.limitsOf(p)
	require.NotNil(t, problem)
	all, problem = c.w.limitsOf(&Product{Models: []string{"M99"}})
	require.Nil(t, problem)
	require.Equal(t, "Minimum", all[0].name)
	require.NotNil(t, all[0].least)
	require.Nil(t, all[0].most)
}

// Several alcohols are told by their number; anything else beside an alcohol is told as that.
func TestWhatAReadingCannotTell(t *testing.T) {
	two := &Product{Name: "Mix", Actives: []Active{{"ethanol", "40%v/v"}, {"propan-2-ol", "30%v/v"}}}
	require.Contains(t, measurable(two).Text, "cannot tell several alcohols apart, and Mix holds 2")
	for _, actives := range [][]Active{nil, {{"quaternary ammonium", "0.2%w/w"}},
		{{"ethanol", "40%v/v"}, {"quaternary ammonium", "0.2%w/w"}},
		{{"ethanol", "strong"}, {"propan-2-ol", "30%v/v"}}} {
		p := measurable(&Product{Name: "Mix", Actives: actives})
		require.Contains(t, p.Text, "holds something else", "%v", actives)
	}
	require.Nil(t, measurable(&Product{Actives: []Active{{"ethanol", "70%v/v"}}}))
}

// --- claims of the policy ---

// The first row is replaced like any other; what is asked for twice alike is no change.
func TestAPolicyReplacesItsRows(t *testing.T) {
	first := string((*Policy)(nil).Rows()[0].Flag)
	for _, row := range (*Policy)(nil).Rows() {
		p := flagAdds(string(row.Flag), "MYC")
		for _, now := range p.Rows() {
			if now.Flag == row.Flag {
				require.EqualValues(t, []string{"MYC"}, texts(now.Adds), "%s", row.Flag)
			}
		}
	}
	unknown := flagAdds("plague", "MYC")
	require.Equal(t, (*Policy)(nil).Rows(), unknown.Rows())
	a := flagAdds(first, "MYC")
	for name, x := range map[string]struct {
		b    Policy
		same bool
	}{"alike": {flagAdds(first, "MYC"), true}, "other claims": {flagAdds(first, "BAC"), false},
		"another flag": {flagAdds("tb", "MYC"), first == "tb"}, "none": {Policy{}, false},
		"another base": {Policy{Base: []string{"BAC"}, Flags: a.Flags}, false}} {
		require.Equal(t, x.same, a.sameDemands(&x.b), name)
	}
}
