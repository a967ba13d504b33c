package reprocess

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// propanols makes the stock 99.8 % v/v of a propanol (WHO guide to local production, formula 2)
// and what is made of it one of 75 % v/v.
func propanols(t testT, agent string) (c *clinic, order BatchOrder) {
	c, order = stocked(t)
	c.w.Products[c.w.Lots[c.w.Containers[order.From].Lot].Product].Actives =
		[]Active{{agent, "99.8%v/v"}}
	c.w.Products[order.Product].Actives = []Active{{agent, "75%v/v"}}
	order.Volume = "10 L"
	return c, order
}

// The WHO guide's formula 2 takes 7515 mL of 99.8 % propan-2-ol for 10 L of 75 %; the water is
// 2738 mL by published densities, contraction about 253 mL.
func TestABatchOfAPropanol(t *testing.T) {
	c, o := propanols(t, "propan-2-ol")
	b, p := PlanBatch(c.w, o, c.now.Today())
	require.Nil(t, p)
	require.InDelta(t, 7515, float64(b.Plan.Stock), 0.6)
	require.InDelta(t, 2738, float64(b.Plan.Water), 1)
	require.Empty(t, b.Remarks)
	con := c.w.Containers[c.do(c.actor("ada"), PrepareBatch{BatchOrder: o, InStock: "5906.6g",
		InWater: "2732.8 g"}).Events[1].Event.(ContainerOpened).ID]
	require.Equal(t, "propan-2-ol", con.Batch.Agent)
	require.Equal(t, "batch_unread", c.suitOf(con).Rule)

	// 75 % v/v has about 864.0 kg/m3 at 20 °C; a stem for ethanol shows 78.3 in it.
	for _, reading := range []string{"864kg/m3", "0.8640 g/mL", "78.3%v/v"} {
		c.read(con, reading)
		require.Nil(t, c.suitOf(con), reading)
		m, r, ok := con.Strength()
		require.True(t, ok)
		require.Equal(t, "propan-2-ol", r.Agent)
		require.InDelta(t, 75, float64(m.Volume), 0.3, reading)
		require.Greater(t, float64(m.Uncertainty), 1.0, "published densities are good for that")
		require.Empty(t, BatchDoubt(con))
	}
	// What a stem for ethanol shows is never taken for the strength: 73.3 in it is 70, which is not
	// shown to be at least 70.
	c.read(con, "73.3%v/v")
	require.Equal(t, "lot_stopped", c.suitOf(con).Rule)
	require.Contains(t, c.w.Lots[con.Lot].Stopped.Reason, "70%v/v asked for")
	require.Contains(t, BatchDoubt(con), "do not agree")
}

// Of propan-1-ol: what the reading shows is judged with its own, larger uncertainty.
func TestABatchOfTheOtherPropanol(t *testing.T) {
	c, o := propanols(t, "propan-1-ol")
	for target, rule := range map[string]string{"70%v/v": "strength_undecided",
		"71%v/v": "strength_undecided", "71.5%v/v": "", "72%v/v": "", "69.9%v/v": "strength"} {
		o.Target = target
		b, p := PlanBatch(c.w, o, c.now.Today())
		if rule != "" {
			require.Equal(t, rule, p.Rule, target)
			continue
		}
		require.Nil(t, p, target)
		require.Equal(t, target == "71.5%v/v", len(b.Remarks) > 0, "%s: %v", target, b.Remarks)
	}
}

// Nothing is measured where nobody measured: 15 to 35 °C, between pure water and pure alcohol.
func TestPropanolReadingsOutsideTheData(t *testing.T) {
	c, o := propanols(t, "propan-2-ol")
	con := c.w.Containers[c.do(c.actor("ada"), PrepareBatch{BatchOrder: o, InStock: "5906.6g",
		InWater: "2732.8 g"}).Events[1].Event.(ContainerOpened).ID]
	for _, x := range []struct{ reading, temperature, says string }{
		{"864kg/m3", "14.9", "outside 15 to 35"}, {"864kg/m3", "35.1", "outside 15 to 35"},
		{"780kg/m3", "20", "outside the table for propan-2-ol"}, {"864kg/m3", "", "temperature is missing"},
	} {
		p := c.refused("reading", c.actor("ada"), ReadStrength{Container: con.ID, Reading: x.reading,
			Temperature: x.temperature, Glass: "none"})
		require.Contains(t, p.Text, x.says)
	}
	require.Empty(t, con.Readings)
	for _, edge := range []string{"15", "35"} {
		c.do(c.actor("ada"), ReadStrength{Container: con.ID, Reading: "864kg/m3", Temperature: edge,
			Glass: "none"})
	}
}

// A stock and a product of different alcohols, and of several, are refused with what to do.
func TestBatchesOfOtherAlcohols(t *testing.T) {
	c, o := propanols(t, "propan-2-ol")
	made := c.w.Products[o.Product]
	made.Actives = []Active{{"propan-1-ol", "75%v/v"}}
	_, p := PlanBatch(c.w, o, c.now.Today())
	require.Equal(t, "other_alcohol", p.Rule)
	require.Contains(t, p.Text, "of propan-1-ol, and Ethanol 96 of propan-2-ol")
	made.Actives = []Active{{"propan-1-ol", "40%w/w"}, {"propan-2-ol", "30%w/w"}}
	_, p = PlanBatch(c.w, o, c.now.Today())
	require.Equal(t, "not_measurable", p.Rule)
	require.Contains(t, p.Text, "cannot tell several alcohols apart")
	require.Contains(t, p.Fix, "Weigh it out")
	made.Actives = []Active{{"propan-2-ol", "60%v/v"}, {"quat", "0.1 %"}}
	_, p = PlanBatch(c.w, o, c.now.Today())
	require.Contains(t, p.Text, "holds something else")
}

// Readings of before the propanols say no alcohol and stay ethanol's.
func TestAReadingWithoutAnAlcoholIsOfEthanol(t *testing.T) {
	r := StrengthReading{Reading: "70%v/v", Temperature: "30°C", Glass: "soda-lime"}
	m, err := r.Measured()
	require.NoError(t, err)
	require.InDelta(t, 66.67, float64(m.Volume), 0.005, "OIML R 22 with the glass of R 44")
	r.Agent = "rum"
	_, err = r.Measured()
	require.ErrorContains(t, err, "not known")
	c, o := stocked(t)
	con := c.prepared(o)
	c.read(con, "75%v/v")
	require.Empty(t, con.Readings[0].Agent)
	require.False(t, strings.Contains(con.Readings[0].Reading, "ethanol"))
}
