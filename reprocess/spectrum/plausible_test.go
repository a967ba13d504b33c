package spectrum

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// The table of agents: CDC 2008 Table 1; Rutala and Weber 2016; Ann Clin Microbiol 2024;27:171
// Table 1. Alcohol alone with spores, and quaternary ammonium with mycobacteria, naked viruses
// or spores, are impossible; propan-2-ol has no action on naked enteroviruses.
func TestPlausible(t *testing.T) {
	no, perhaps := true, false
	cases := []struct {
		agents []Agent
		want   map[Token]bool // doubted tokens; true: impossible
	}{
		{[]Agent{Ethanol}, map[Token]bool{SPO: no}},
		{[]Agent{Propan2ol}, map[Token]bool{VirL: perhaps, VirF: no, SPO: no}},
		{[]Agent{Propan1ol}, map[Token]bool{SPO: no}},
		{[]Agent{Ethanol, Propan2ol}, map[Token]bool{SPO: no}},
		{[]Agent{Quat}, map[Token]bool{MYC: no, TUB: no, VirL: no, VirF: no, SPO: no}},
		{[]Agent{Quat, Propan2ol}, map[Token]bool{VirL: perhaps, VirF: no, SPO: no}},
		{[]Agent{Quat, Ethanol}, map[Token]bool{SPO: no}},
		{[]Agent{Peroxide}, map[Token]bool{SPO: perhaps}},
		{[]Agent{Ethanol, Peroxide}, map[Token]bool{SPO: perhaps}},
		{[]Agent{Chlorine}, nil},
		{[]Agent{Peracetic}, nil},
		{[]Agent{Ethanol, Peracetic}, nil},
		{[]Agent{Other}, nil},
		{[]Agent{"iodine"}, nil},
		{nil, nil},
	}
	for _, c := range cases {
		got := map[Token]bool{}
		for _, d := range Plausible(c.agents, Tokens()) {
			got[d.Token] = d.Impossible
			require.Contains(t, d.Why, d.Token.Words())
		}
		require.Len(t, got, len(c.want), "%v", c.agents)
		for token, impossible := range c.want {
			require.Equal(t, impossible, got[token], "%v %s", c.agents, token)
		}
	}
}

func TestPlausibleSaysWhatToDo(t *testing.T) {
	d := Plausible([]Agent{Ethanol, Ethanol}, []Token{SPO, BAC, SPO})
	require.Equal(t, []Doubt{{SPO, true, "ethanol alone does not act on spores at any strength" +
		" or time: take the claim SPO out, or ask infection control."}}, d)
	d = Plausible([]Agent{Peroxide}, []Token{SPO})
	require.Contains(t, d[0].Why, "only if this product's data sheet shows it")
}

// Pass marks and organisms: EN 13727 (5 lg), EN 14476 and EN 17126 (4 lg), EN 16615;
// EN 13624 and EN 14348 from memory.
func TestFromTest(t *testing.T) {
	bac := func(lg float64) map[string]float64 {
		return map[string]float64{"P. aeruginosa": 6, "S. aureus": lg, "E. hirae": 5.5}
	}
	cases := []struct {
		standard string
		lg       map[string]float64
		want     []Token
	}{
		{"EN 13727", bac(4.9), []Token{}},
		{"EN 13727", bac(5.0), []Token{BAC}},
		{"EN 13727", bac(math.NaN()), []Token{}},
		{"EN 14476", map[string]float64{"vaccinia": 4}, []Token{VirE}},
		{"EN 14476", map[string]float64{"vaccinia": 3.9}, []Token{}},
		{"EN 14476", map[string]float64{"adeno": 4, "murine noro": 4}, []Token{VirL}},
		{"EN 14476", map[string]float64{"adeno": 4, "murine noro": 3.9, "polio": 5}, []Token{}},
		{"EN 14476", map[string]float64{"adeno": 4, "murine noro": 4, "polio": 4},
			[]Token{VirL, VirF}},
		{"EN 13624", map[string]float64{"C. albicans": 4}, []Token{YEA}},
		{"EN 14348", map[string]float64{"M. terrae": 4}, []Token{TUB}},
		{"EN 14348", map[string]float64{"M. terrae": 4, "M. avium": 4}, []Token{MYC, TUB}},
		{"EN 17126", map[string]float64{"C. difficile": 6}, []Token{}},
		{"EN 16615", map[string]float64{"C. albicans": 4}, []Token{YEA}},
	}
	for _, c := range cases {
		got, err := FromTest(c.standard, c.lg)
		require.NoError(t, err)
		require.Equal(t, c.want, got, "%s %v", c.standard, c.lg)
	}
	_, err := FromTest("EN 1", bac(6))
	require.ErrorContains(t, err, "not known here")
}
