// Package spectrum answers whether a disinfectant's own claims cover what a returned piece
// demands, and for how long the surface must then stay wet. It is set cover with a few
// implications, never one ranking of organisms: what is not claimed is not covered. The
// package knows no clock, no files and no network.
package spectrum

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Token is one claimed activity.
type Token string

// The tokens. VIR-E is enveloped viruses, VIR-L the limited spectrum, VIR-F full.
const (
	BAC  Token = "BAC"
	YEA  Token = "YEA"
	FUN  Token = "FUN"
	MYC  Token = "MYC"
	TUB  Token = "TUB"
	VirE Token = "VIR-E"
	VirL Token = "VIR-L"
	VirF Token = "VIR-F"
	SPO  Token = "SPO"
)

var tokens = []Token{BAC, YEA, FUN, MYC, TUB, VirE, VirL, VirF, SPO}

// Tokens lists every token once, in the order used for all output.
func Tokens() []Token { return slices.Clone(tokens) }

// Base is the default base set: bactericidal and yeasticidal (national expert list of
// surface disinfection, spectrum for routine work).
func Base() []Token { return []Token{BAC, YEA} }

// implied lists what a claim includes besides itself, already closed over chains. A claim of
// spores implies nothing else.
var implied = map[Token][]Token{
	VirF: {VirL, VirE},
	VirL: {VirE},
	FUN:  {YEA},
	MYC:  {TUB},
}

// Covers tells whether a claim covers a need, by itself or by implication.
func (t Token) Covers(need Token) bool {
	return t == need || slices.Contains(implied[t], need)
}

// words says a token in plain words, for sentences.
var words = map[Token]string{
	BAC: "bacteria", YEA: "yeasts", FUN: "fungi", MYC: "mycobacteria", TUB: "tuberculosis",
	VirE: "enveloped viruses", VirL: "viruses, limited spectrum", VirF: "viruses, full",
	SPO: "spores",
}

// Words is the activity in plain words; empty for a text that is no token.
func (t Token) Words() string { return words[t] }

// ParseToken reads exactly one token, upper case as labels and test reports print it.
func ParseToken(s string) (Token, error) {
	if slices.Contains(tokens, Token(s)) {
		return Token(s), nil
	}
	return "", fmt.Errorf("%q is not a claim; use one of %s", s, list(tokens))
}

// Offer is one claim of a product with the contact time it was shown at, s.
type Offer struct {
	Token   Token
	Seconds int
}

// maxSeconds bounds a contact time: the longest tests end at 60 min; a day is a typing slip.
const maxSeconds = 24 * 3600

// ParseOffer reads TOKEN:SECONDS, such as BAC:60; whole seconds from 1 to 86400.
func ParseOffer(s string) (Offer, error) {
	name, figure, found := strings.Cut(s, ":")
	if !found {
		return Offer{}, fmt.Errorf("%q is not a claim with its time; write it like BAC:60", s)
	}
	t, err := ParseToken(name)
	if err != nil {
		return Offer{}, err
	}
	n, err := strconv.Atoi(figure)
	digits := strings.Trim(figure, "0123456789") == "" && !strings.HasPrefix(figure, "0")
	if err != nil || !digits || n > maxSeconds {
		return Offer{}, fmt.Errorf("%q is not a contact time in whole seconds from 1 to %d;"+
			" write the claim like %s:60", figure, maxSeconds, t)
	}
	return Offer{t, n}, nil
}

// String prints what ParseOffer reads.
func (o Offer) String() string { return fmt.Sprintf("%s:%d", o.Token, o.Seconds) }

// sorted brings tokens into the order of output and drops repeats.
func sorted(in []Token) []Token {
	out := make([]Token, 0, len(in))
	for _, t := range tokens {
		if slices.Contains(in, t) {
			out = append(out, t)
		}
	}
	return out
}

func list[T ~string](in []T) string {
	parts := make([]string, len(in))
	for i, t := range in {
		parts[i] = string(t)
	}
	return strings.Join(parts, ", ")
}
