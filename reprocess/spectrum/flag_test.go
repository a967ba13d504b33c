package spectrum

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The table of needed claims by flag. Base: national expert list. Respiratory, gastro, TB,
// spores: by resistance of the group (CDC 2008; Rutala and Weber 2016). Polio, Candida auris,
// prion and VHF rows: from memory. Multi-resistant bacteria and scabies: common practice.
func TestNeededByFlag(t *testing.T) {
	cases := []struct {
		flag   Flag
		needed []Token
		stop   bool
	}{
		{None, []Token{BAC, YEA}, false},
		{Respiratory, []Token{BAC, YEA, VirE}, false},
		{Gastro, []Token{BAC, YEA, VirL}, false},
		{PolioHepatitisA, []Token{BAC, YEA, VirF}, false},
		{TB, []Token{BAC, YEA, MYC}, false},
		{CandidaAuris, []Token{BAC, YEA, FUN}, false},
		{MultiResistant, []Token{BAC, YEA}, false},
		{CDifficile, []Token{BAC, YEA, SPO}, false},
		{DiarrhoeaUnknown, []Token{BAC, YEA, SPO}, false},
		{ScabiesLice, []Token{BAC, YEA}, true},
		{Prion, []Token{BAC, YEA}, true},
		{VHF, []Token{BAC, YEA}, true},
		{UnknownHighConsequence, []Token{BAC, YEA}, true},
	}
	require.Len(t, Flags(), len(cases))
	for _, c := range cases {
		n, err := Needed([]Flag{c.flag}, nil)
		require.NoError(t, err)
		require.Equal(t, c.needed, n.Claims, c.flag)
		require.Equal(t, c.stop, n.Stop, c.flag)
		if c.stop {
			require.NotEmpty(t, n.Remarks, "a stop says what to do")
		}
	}
}

func TestNeededJoinsFlagsAndBase(t *testing.T) {
	n, err := Needed([]Flag{Gastro, TB, Gastro, TB}, []Token{VirF, BAC})
	require.NoError(t, err)
	require.Equal(t, []Token{BAC, MYC, VirL, VirF}, n.Claims)
	require.Len(t, n.Remarks, 1)
}

func TestNeededRefusesWhatWouldAskForTooLittle(t *testing.T) {
	for _, c := range []struct {
		flags []Flag
		base  []Token
		says  string
	}{
		{[]Flag{"flu"}, nil, "not a flag"},
		{[]Flag{""}, nil, "not a flag"},
		{[]Flag{None, Gastro}, nil, "cannot stand beside"},
		{[]Flag{Gastro, None}, nil, "cannot stand beside"},
		{nil, []Token{}, "base set of claims is empty"},
		{nil, []Token{"bac"}, "not a claim"},
	} {
		_, err := Needed(c.flags, c.base)
		require.ErrorContains(t, err, c.says)
		_, err = Judge(c.flags, c.base, ethanol)
		require.ErrorContains(t, err, c.says)
	}
	_, err := Needed([]Flag{None, None}, nil)
	require.NoError(t, err)
}

func TestRowsAreACopy(t *testing.T) {
	Rows()[1].Adds[0] = SPO
	n, err := Needed([]Flag{Respiratory}, nil)
	require.NoError(t, err)
	require.Equal(t, []Token{BAC, YEA, VirE}, n.Claims)
	for _, r := range Rows() {
		require.NotEmpty(t, r.About)
	}
}
