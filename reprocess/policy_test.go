package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/spectrum"
)

// The default rows are those of spectrum; the clinic's are put in their place. Which claims a
// flag adds by default follows the CDC guideline of 2008 (see spectrum); that a clinic may ask
// for more freely and for less only by signature is our own rule.

func flagAdds(flag string, adds ...string) Policy {
	return Policy{Flags: []PolicyFlag{{flag, adds}}}
}

func (c *clinic) suits(flags ...string) *Problem {
	piece := c.w.Pieces["P18-1"]
	_, p := Suits(c.w, "B16", piece, c.w.Procedures[c.w.InForce[piece.Model]], flags,
		c.now.Today())
	return p
}

func TestATighterPolicyMakesAProductFail(t *testing.T) {
	c := newClinic(t)
	ina := c.actor("ina")
	ina.Signed = false // tightening needs no signature
	require.Nil(t, c.suits("respiratory"))
	require.Nil(t, c.suits())

	c.do(ina, SetPolicy{flagAdds("respiratory", "VIR-E", "VIR-L")})
	p := c.suits("respiratory")
	require.NotNil(t, p)
	require.Equal(t, "claims", p.Rule)
	require.Contains(t, p.Text, "VIR-L")
	require.Nil(t, c.suits(), "other returns are as before")

	both := c.w.Settings.Policy
	c.do(ina, SetPolicy{Policy{Base: []string{"VIR-E"}, Flags: both.Flags}})
	require.Nil(t, c.suits(), "the product claims VIR-E")
	c.do(ina, SetPolicy{Policy{Base: []string{"VIR-E", "MYC"}, Flags: both.Flags}})
	p = c.suits()
	require.NotNil(t, p, "MYC is needed for every return now")
	require.Contains(t, p.Text, "MYC")
}

func TestALooserPolicyIsSignedWithAReason(t *testing.T) {
	c := newClinic(t)
	ina := c.actor("ina")
	unsigned := ina
	unsigned.Signed = false
	reason := Policy{Reason: "wards test for it before the return"}
	looser := flagAdds("gastro")
	require.NotNil(t, c.suits("gastro"), "the product does not claim VIR-L")

	p := c.refused("loosened", unsigned, SetPolicy{looser})
	require.Contains(t, p.Text, "would no longer need VIR-L")
	c.refused("loosened", ina, SetPolicy{looser}) // signed, no reason
	looser.Reason = reason.Reason
	c.refused("loosened", unsigned, SetPolicy{looser}) // a reason, not signed
	looser.Reason = "   "
	c.refused("loosened", ina, SetPolicy{looser})
	require.Nil(t, c.w.Settings.Policy, "nothing refused was kept")
	looser.Reason = reason.Reason
	e := c.do(ina, SetPolicy{looser})
	require.True(t, e.Signed)
	require.Nil(t, c.suits("gastro"), "the base set is enough now")
	require.Equal(t, reason.Reason, c.w.Settings.Policy.Reason)

	c.do(unsigned, SetPolicy{Policy{}}) // back to the default asks for more: free
	require.NotNil(t, c.suits("gastro"))
}

// What implies a claim asks for no less than the claim: full virucidal covers the limited one.
func TestWhatCountsAsLess(t *testing.T) {
	rows := []struct {
		name     string
		was, is  Policy
		loosened bool
	}{
		{"nothing to default", Policy{}, flagAdds("gastro", "VIR-L"), false},
		{"the stronger claim", Policy{}, flagAdds("gastro", "VIR-F"), false},
		{"the weaker claim", Policy{}, flagAdds("gastro", "VIR-E"), true},
		{"one more", Policy{}, flagAdds("gastro", "VIR-L", "SPO"), false},
		{"that one taken away again", flagAdds("gastro", "VIR-L", "SPO"), Policy{}, true},
		{"moved to every return", Policy{}, Policy{Base: []string{"VIR-L"},
			Flags: []PolicyFlag{{"gastro", nil}}}, false},
		{"no longer for every return", Policy{Base: []string{"VIR-E"}}, Policy{}, true},
		{"looser, kept as it is", flagAdds("gastro"), flagAdds("gastro"), false},
		{"looser, then tighter elsewhere", flagAdds("gastro"), Policy{Flags: []PolicyFlag{
			{"gastro", nil}, {"tb", []string{"MYC", "SPO"}}}}, false},
		{"a claim no default asks for", Policy{}, flagAdds("mrsa-vre-cre", "FUN"), false},
	}
	for _, x := range rows {
		was, p := x.was.normal()
		require.Nil(t, p, x.name)
		is, p := x.is.normal()
		require.Nil(t, p, x.name)
		require.Equal(t, x.loosened, len(was.loosened(is)) > 0, x.name)
	}
}

func TestAPolicyIsReadStrictly(t *testing.T) {
	c := newClinic(t)
	ina, ada := c.actor("ina"), c.actor("ada")
	c.refused("role", ada, SetPolicy{flagAdds("gastro", "VIR-F")})
	for rule, list := range map[string][]Policy{
		"flag": {flagAdds("flu", "VIR-E"), flagAdds("none", "VIR-E"), flagAdds("prion", "SPO"),
			{Flags: []PolicyFlag{{"gastro", []string{"VIR-F"}}, {"gastro", []string{"VIR-L"}}}}},
		"claims":       {flagAdds("gastro", "vir-f"), {Base: []string{"ALL"}}},
		"already_done": {{}, flagAdds("gastro", "VIR-L"), {Flags: []PolicyFlag{{"mrsa-vre-cre", nil}}}},
		"text":         {{Base: []string{"MYC"}, Reason: "\x00"}},
	} {
		for _, p := range list {
			c.refused(rule, ina, SetPolicy{p})
		}
	}
	require.Nil(t, c.w.Settings.Policy)
	c.do(ina, SetPolicy{Policy{Base: []string{"MYC", "MYC", "BAC"}}})
	require.Equal(t, []string{"BAC", "MYC"}, c.w.Settings.Policy.Base, "in order, no repeats")

	boss := c.actor("boss")
	s := c.w.Settings
	s.Policy, s.Clinic = nil, "Moorland"
	c.do(boss, SetSettings{s})
	require.Equal(t, []string{"BAC", "MYC"}, c.w.Settings.Policy.Base,
		"the other settings do not touch it")
}

// "As in the instructions" stands for the procedure's own claims, not for the clinic's.
func TestAsWrittenDoesNotStandForThePolicy(t *testing.T) {
	p := Product{Name: "w", AsWritten: "instructions, page 12", WrittenS: 90}
	proc := &Procedure{FloorS: 60, Needed: []string{"BAC", "YEA"}}
	_, problem := (Suit{Product: &p}).covers(nil, proc, nil)
	require.Nil(t, problem)
	_, problem = (Suit{Product: &p}).covers(&Policy{Base: []string{"MYC"}}, proc, nil)
	require.NotNil(t, problem)
	require.Equal(t, "claims", problem.Rule)
}

func TestTheDefaultPolicyIsTheTable(t *testing.T) {
	var none *Policy
	require.Equal(t, spectrum.Rows(), none.Rows())
	require.Equal(t, spectrum.Rows(), (&Policy{}).Rows())
	_, err := spectrum.NeededBy(nil, []spectrum.Flag{spectrum.TB}, nil)
	require.Error(t, err, "a policy without a row for a flag asks for too little")
}
