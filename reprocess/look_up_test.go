package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAWearerIsLookedUpOnlyForALoanOfTheKit(t *testing.T) {
	c := newClinic(t)
	ada, dan := c.actor("ada"), c.actor("dan")
	c.goodSteps(ada)
	c.do(ada, ReleaseKit{Kit: "K18"})
	e := c.do(dan, HandOut{Kit: "K18", Wearer: "w1", Days: 7})
	loan := e.Events[0].Event.(HandedOut).ID
	c.refused("role", ada, LookUpWearer{Kit: "K18", Loan: loan})
	c.refused("unknown", dan, LookUpWearer{Kit: "K18", Loan: "L999"})
	c.refused("unknown", dan, LookUpWearer{Kit: "K999", Loan: loan})
	c.w.Kits["other"] = &Kit{ID: "other", Number: "18"}
	c.refused("unknown", dan, LookUpWearer{Kit: "other", Loan: loan})
	before := *c.w.Kits["K18"]
	e = c.do(dan, LookUpWearer{Kit: "K18", Loan: loan})
	require.Equal(t, []Box{{WearerViewed{Kit: "K18", Loan: loan}}}, e.Events)
	require.Equal(t, before, *c.w.Kits["K18"], "looking changes nothing")
	c.do(dan, TakeBack{Kit: "K18"})
	c.do(dan, LookUpWearer{Kit: "K18", Loan: loan}) // an ended loan as well
	e = c.do(dan, HandOutAfter{Kit: "K18", Reason: "taken from the box"})
	c.refused("no_wearer", dan, LookUpWearer{Kit: "K18", Loan: e.Events[0].Event.(HandedOut).ID})
}

// A list takes exactly what the gate lets through and nobody has to look at.
func TestAListTakesOnlyUnremarkableKits(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	k := func() *Kit { return c.w.Kits["K18"] }
	require.Equal(t, "no_cycle", ListSignable(c.w, k(), ada, c.now).Rule)
	c.goodSteps(ada)
	require.Nil(t, ListSignable(c.w, k(), ada, c.now))
	require.NotNil(t, ListSignable(c.w, k(), c.actor("dan"), c.now), "he is not competent")
	c.do(ada, ReleaseKit{Kit: "K18", List: true})

	c = newClinic(t)
	ada = c.actor("ada")
	c.do(ada, TakeBack{Kit: "K18", Return: Return{Flags: []string{"mrsa-vre-cre"}}})
	c.goodSteps(ada)
	two := ada
	two.Second = c.w.People["boss"]
	require.Nil(t, GateOpen(c.w, k(), two, c.now))
	require.Equal(t, "sign_alone", ListSignable(c.w, k(), two, c.now).Rule)
	c.refused("sign_alone", two, ReleaseKit{Kit: "K18", List: true})
	c.do(two, ReleaseKit{Kit: "K18"})
}

// What the ward told at hand-out is not lost because nobody told it again at the counter, nor
// because somebody said "nothing known" there.
func TestPrecautionsOfTheLoanAreCarriedAndAddedTo(t *testing.T) {
	for _, row := range []struct{ out, back, want []string }{
		{nil, nil, nil},
		{[]string{"tb"}, nil, []string{"tb"}},
		{[]string{"tb"}, []string{"none"}, []string{"tb"}},
		{[]string{"none"}, []string{"tb"}, []string{"tb"}},
		{[]string{"none"}, []string{"none"}, []string{"none"}},
		{[]string{"none"}, nil, []string{"none"}},
		{[]string{"tb"}, []string{"gastro"}, []string{"tb", "gastro"}},
		{[]string{"tb", "gastro"}, []string{"gastro"}, []string{"tb", "gastro"}},
		{nil, []string{"gastro"}, []string{"gastro"}},
	} {
		c := newClinic(t)
		ada, dan := c.actor("ada"), c.actor("dan")
		c.goodSteps(ada)
		c.do(ada, ReleaseKit{Kit: "K18"})
		c.do(dan, HandOut{Kit: "K18", Wearer: "w1", Days: 7, Flags: row.out})
		c.do(dan, TakeBack{Kit: "K18", Return: Return{Flags: row.back}})
		require.Equal(t, row.want, c.w.Kits["K18"].Flags, "%v then %v", row.out, row.back)
	}
}

// A piece that was out and did not come is missing; one that is in the house stays where it
// stands, so that a phone that comes later does not make its recorder missing.
func TestAPieceThatComesLater(t *testing.T) {
	c := newClinic(t)
	ada, dan := c.actor("ada"), c.actor("dan")
	c.goodSteps(ada)
	c.do(ada, ReleaseKit{Kit: "K18"})
	c.do(dan, HandOut{Kit: "K18", Wearer: "w1", Days: 7})
	c.do(dan, TakeBack{Kit: "K18", Came: []string{"P18-1"}})
	require.Equal(t, Returned, c.w.Pieces["P18-1"].State)
	require.Equal(t, Missing, c.w.Pieces["P18-2"].State)
	c.do(dan, TakeBack{Kit: "K18", Came: []string{"P18-2"}})
	require.Equal(t, Returned, c.w.Pieces["P18-1"].State)
	require.Equal(t, Returned, c.w.Pieces["P18-2"].State)
	require.Equal(t, Returned, KitState(c.w.Kits["K18"], c.w.Pieces))
}
