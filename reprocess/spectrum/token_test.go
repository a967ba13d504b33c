package spectrum

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The implications, all 81 pairs: full includes limited includes enveloped, fungi include
// yeasts, mycobacteria include tuberculosis (EN 14476, EN 13624, EN 14348); nothing else.
func TestImplications(t *testing.T) {
	yes := map[[2]Token]bool{{VirF, VirL}: true, {VirF, VirE}: true, {VirL, VirE}: true,
		{FUN, YEA}: true, {MYC, TUB}: true}
	for _, a := range Tokens() {
		require.NotEmpty(t, a.Words())
		for _, b := range Tokens() {
			require.Equal(t, a == b || yes[[2]Token{a, b}], a.Covers(b), "%s covers %s", a, b)
		}
	}
}

func TestParseOffer(t *testing.T) {
	for s, want := range map[string]Offer{"BAC:60": {BAC, 60}, "VIR-E:1": {VirE, 1},
		"SPO:86400": {SPO, 86400}} {
		got, err := ParseOffer(s)
		require.NoError(t, err)
		require.Equal(t, want, got)
		require.Equal(t, s, got.String())
	}
}

func TestParseOfferRefuses(t *testing.T) {
	for s, says := range map[string]string{
		"": "write it like", "BAC": "write it like", "BAC=60": "write it like",
		":60": "not a claim", "bac:60": "not a claim", "VIR:60": "not a claim",
		" BAC:60": "not a claim", "BAC :60": "not a claim",
		"BAC:": "whole seconds", "BAC:0": "whole seconds", "BAC:-60": "whole seconds",
		"BAC:+60": "whole seconds", "BAC:060": "whole seconds", "BAC:60s": "whole seconds",
		"BAC:1.5": "whole seconds", "BAC:1e2": "whole seconds", "BAC: 60": "whole seconds",
		"BAC:60:60": "whole seconds", "BAC:86401": "whole seconds",
		"BAC:99999999999999999999": "whole seconds", "BAC:\u0666\u0660": "whole seconds",
		"BAC:\uff16\uff10": "whole seconds", "BAC:6_0": "whole seconds", "BAC:0x3c": "whole seconds",
	} {
		_, err := ParseOffer(s)
		require.ErrorContains(t, err, says, "%q", s)
	}
}

func TestParseFlag(t *testing.T) {
	for _, f := range Flags() {
		got, err := ParseFlag(string(f))
		require.NoError(t, err)
		require.Equal(t, f, got)
	}
	for _, s := range []string{"", "None", "c.difficile", "tb ", "hiv"} {
		_, err := ParseFlag(s)
		require.ErrorContains(t, err, "none, respiratory", "%q", s)
	}
}

func FuzzParseOffer(f *testing.F) {
	for _, s := range []string{"BAC:60", "VIR-E:1", "SPO:", "x:1", "BAC:-1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		o, err := ParseOffer(s)
		if err == nil && (o.String() != s || o.Seconds < 1 || o.Seconds > maxSeconds) {
			t.Fatalf("%q was read as %v", s, o)
		}
	})
}
