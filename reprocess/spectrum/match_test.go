package spectrum

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// ethanol is a typical alcohol product: CDC 2008 guideline, Table 1, at least 1 min.
var ethanol = []Offer{{BAC, 60}, {YEA, 60}, {MYC, 300}, {VirE, 60}}

func judge(t *testing.T, f Flag, offers ...Offer) Result {
	t.Helper()
	r, err := Judge([]Flag{f}, nil, offers)
	require.NoError(t, err)
	require.NotEmpty(t, r.Why)
	return r
}

// Rutala and Weber 2016; Ann Clin Microbiol 2024;27:171 Table 1: alcohol has no action on
// spores, so a return with C. difficile is refused.
func TestAlcoholAgainstSporesIsRefused(t *testing.T) {
	for _, f := range []Flag{CDifficile, DiarrhoeaUnknown} {
		r := judge(t, f, ethanol...)
		require.Equal(t, Fail, r.Verdict)
		require.Equal(t, []Token{SPO}, r.Missing)
		require.Zero(t, r.Seconds)
		require.Contains(t, strings.Join(r.Why, " "), "SPO (spores) is needed and not claimed.")
	}
	r := judge(t, CDifficile, append([]Offer{{SPO, 600}}, ethanol...)...)
	require.Equal(t, Pass, r.Verdict)
	require.Equal(t, 600, r.Seconds)
}

// Ann Clin Microbiol 2024;27:171 Table 1: quaternary ammonium does not act on mycobacteria.
func TestQuatAgainstTuberculosisIsRefused(t *testing.T) {
	r := judge(t, TB, Offer{BAC, 60}, Offer{YEA, 60}, Offer{VirE, 60})
	require.Equal(t, Fail, r.Verdict)
	require.Equal(t, []Token{MYC}, r.Missing)
}

// National expert list of surface disinfection: the base spectrum is bactericidal and
// yeasticidal, so a product that only claims bacteria is refused without any flag.
func TestBactericidalOnlyIsRefused(t *testing.T) {
	for _, flags := range [][]Flag{nil, {None}} {
		r, err := Judge(flags, nil, []Offer{{BAC, 60}})
		require.NoError(t, err)
		require.Equal(t, Fail, r.Verdict)
		require.Equal(t, []Token{BAC, YEA}, r.Needed)
		require.Equal(t, []Token{YEA}, r.Missing)
		require.Equal(t, map[Token]Cover{BAC: {BAC, 60}}, r.Covered)
	}
}

func TestContactTimeIsTheLargestOfTheNeeded(t *testing.T) {
	r := judge(t, Gastro, Offer{BAC, 30}, Offer{YEA, 60}, Offer{VirF, 300}, Offer{SPO, 900},
		Offer{VirL, 120})
	require.Equal(t, Pass, r.Verdict)
	require.Equal(t, 120, r.Seconds, "spores are not needed and the shorter virus claim counts")
	require.Equal(t, Cover{VirL, 120}, r.Covered[VirL])
	require.Equal(t, "Keep the surface wet for 120 s without a break.", r.Why[3])

	r = judge(t, Gastro, Offer{BAC, 30}, Offer{FUN, 90}, Offer{VirF, 45}, Offer{VirL, 120})
	require.Equal(t, map[Token]Cover{BAC: {BAC, 30}, YEA: {FUN, 90}, VirL: {VirF, 45}},
		r.Covered)
	require.Equal(t, 90, r.Seconds)
	require.Contains(t, r.Why, "YEA is covered by FUN, claimed at 90 s.")
}

func TestEqualTimesPreferTheOwnClaim(t *testing.T) {
	r := Match([]Token{VirE}, []Offer{{VirF, 60}, {VirE, 60}, {VirL, 60}})
	require.Equal(t, Cover{VirE, 60}, r.Covered[VirE])
	r = Match([]Token{VirE}, []Offer{{VirF, 60}, {VirL, 60}})
	require.Equal(t, Cover{VirL, 60}, r.Covered[VirE])
	r = Match([]Token{BAC}, []Offer{{BAC, 60}, {BAC, 30}})
	require.Equal(t, 30, r.Seconds)
}

func TestStopStandsAboveEverything(t *testing.T) {
	everything := []Offer{}
	for _, token := range Tokens() {
		everything = append(everything, Offer{token, 60})
	}
	for _, f := range []Flag{Prion, VHF, UnknownHighConsequence, ScabiesLice} {
		r := judge(t, f, everything...)
		require.Equal(t, Stop, r.Verdict, f)
		require.Zero(t, r.Seconds)
		require.Len(t, r.Why, 1)
	}
	r, err := Judge([]Flag{Gastro, Prion}, nil, nil)
	require.NoError(t, err)
	require.Equal(t, Stop, r.Verdict)
	require.Equal(t, []Token{BAC, YEA, VirL}, r.Missing)
}

func TestNothingNeededNeverPasses(t *testing.T) {
	r := Match(nil, ethanol)
	require.Equal(t, Fail, r.Verdict)
	require.Len(t, r.Why, 1)
}

func TestOffersWithoutTimeCoverNothing(t *testing.T) {
	for _, s := range []int{0, -60} {
		require.Equal(t, []Token{BAC}, Match([]Token{BAC}, []Offer{{BAC, s}}).Missing)
	}
	require.Equal(t, []Token{BAC}, Match([]Token{BAC}, []Offer{{"ALL", 60}}).Missing)
}

func drawOffers(t *rapid.T) []Offer {
	return rapid.SliceOf(rapid.Custom(func(t *rapid.T) Offer {
		return Offer{rapid.SampledFrom(Tokens()).Draw(t, "token"),
			rapid.IntRange(1, maxSeconds).Draw(t, "seconds")}
	})).Draw(t, "offers")
}

func TestAnotherOfferNeverHarms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		needed := rapid.SliceOf(rapid.SampledFrom(Tokens())).Draw(t, "needed")
		offers := drawOffers(t)
		more := append(drawOffers(t), offers...)
		before, after := Match(needed, offers), Match(needed, more)
		for need, c := range before.Covered {
			require.LessOrEqual(t, after.Covered[need].Seconds, c.Seconds)
			require.Positive(t, after.Covered[need].Seconds)
		}
		require.Equal(t, len(after.Needed), len(after.Covered)+len(after.Missing))
		if before.Verdict == Pass {
			require.Equal(t, Pass, after.Verdict)
			require.LessOrEqual(t, after.Seconds, before.Seconds)
		}
	})
}

func TestAnotherFlagNeverAsksForLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		flags := rapid.SliceOf(rapid.SampledFrom(Flags()[1:])).Draw(t, "flags")
		more := append([]Flag{rapid.SampledFrom(Flags()[1:]).Draw(t, "more")}, flags...)
		before, err := Needed(flags, nil)
		require.NoError(t, err)
		after, err := Needed(more, nil)
		require.NoError(t, err)
		require.Subset(t, after.Claims, before.Claims)
		require.False(t, before.Stop && !after.Stop)
	})
}
