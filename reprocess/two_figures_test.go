package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Two figures that do not agree are both named, and the worse one is judged: 0.3 % v/v apart is
// usual (common practice). Conversions: OIML R 22; 64.7 % w/w is the additive mistake for 70.
func TestFiguresThatDoNotAgree(t *testing.T) {
	for _, x := range []struct {
		name, first, second, density string
		doubts                       int
		says, rule                   string
	}{
		{"one figure", "70%v/v", "", "", 0, "", ""},
		{"they agree", "70%v/v", "62.4%w/w", "", 0, "", ""},
		{"0.3 apart", "70%v/v", "69.7%v/v", "", 0, "", ""},
		{"a little more", "70%v/v", "69.69%v/v", "", 1, "70%v/v, and the label also says 69.69%v/v",
			"strength_undecided"},
		{"the other is stronger", "70%v/v", "64.7%w/w", "", 1, "2.2 % v/v apart", ""},
		{"weaker and stated first", "60%w/w", "70%v/v", "", 1, "60%w/w, and the label also says 70%v/v",
			"strength_undecided"},
		{"the density agrees", "70%v/v", "", "885.6kg/m3", 0, "", ""},
		{"the density does not", "75%v/v", "", "0.900g/mL", 1, "the density 0.900g/mL belongs to",
			"strength_undecided"},
		{"no such density", "70%v/v", "", "0.7g/mL", 1, "no mixture of ethanol", ""},
		{"both agree", "70%v/v", "62.39%w/w", "885.6kg/m3", 0, "", ""},
		{"no basis", "70%", "62.4%w/w", "", 1, "has no basis", "any"},
	} {
		c := newClinic(t)
		p := testProduct()
		p.ID, p.DensityKg, p.Actives[0].Strength = "D14", x.density, x.first
		if x.second != "" {
			p.Also = []Active{{Agent: "ethanol", Strength: x.second}}
		}
		c.do(c.actor("boss"), SetProduct{p})
		got := c.w.Products["D14"]
		doubts := got.FigureDoubts()
		require.Len(t, doubts, x.doubts, "%s: %v", x.name, doubts)
		if x.doubts > 0 {
			require.Contains(t, doubts[0], x.says, x.name)
			require.Contains(t, got.StrengthWords()[0], x.says, x.name)
		}
		switch p := c.suitOf(c.w.Containers["B16"]); {
		case x.rule == "":
			require.Nil(t, p, "%s: %v", x.name, p)
		case x.rule != "any":
			require.NotNil(t, p, x.name)
			require.Equal(t, x.rule, p.Rule, x.name)
		}
	}
}

func TestSecondFiguresAreStrict(t *testing.T) {
	c := newClinic(t)
	for rule, also := range map[string][]Active{
		"agent":    {{Agent: "propan-2-ol", Strength: "60%w/w"}},
		"strength": {{Agent: "ethanol", Strength: "62.4%"}},
	} {
		p := testProduct()
		p.Also = also
		c.refused(rule, c.actor("boss"), SetProduct{p})
	}
	for _, bad := range []string{"", "62.4", "strong", "٦٢%w/w"} {
		p := testProduct()
		p.Also = []Active{{Agent: "ethanol", Strength: bad}}
		c.refused("strength", c.actor("boss"), SetProduct{p})
	}
	p := testProduct()
	p.Also = []Active{{Agent: "quat", Strength: "1 %"}}
	c.refused("agent", c.actor("boss"), SetProduct{p})
	p.Also = []Active{{Agent: "ethanol", Strength: "62%w/w"}, {Agent: "ethanol", Strength: "63%w/w"}}
	c.refused("agent", c.actor("boss"), SetProduct{p})
}
