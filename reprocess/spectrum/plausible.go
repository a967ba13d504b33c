package spectrum

import (
	"fmt"
	"slices"
)

// Agent is a class of active substance.
type Agent string

// The agents; Other says nothing about what is possible.
const (
	Ethanol   Agent = "ethanol"
	Propan2ol Agent = "propan-2-ol"
	Propan1ol Agent = "propan-1-ol"
	Quat      Agent = "quat"
	Chlorine  Agent = "chlorine"
	Peroxide  Agent = "peroxide"
	Peracetic Agent = "peracetic"
	Other     Agent = "other"
)

// Doubt is a claim that the named agents cannot or hardly have. An impossible one is refused
// on entry; an unlikely one is asked about and needs the data sheet.
type Doubt struct {
	Token      Token
	Impossible bool
	Why        string
}

// standing is how an agent stands to a claim.
type standing uint8

const (
	possible standing = iota
	unlikely
	impossible
)

// limits holds what each class cannot do (CDC 2008; Rutala and Weber 2016; Ann Clin Microbiol
// 2024;27:171 Table 1). It is a check of plausibility only: the product's own claims decide.
var limits = map[Agent]map[Token]standing{
	Ethanol:   {SPO: impossible},
	Propan2ol: {SPO: impossible, VirF: impossible, VirL: unlikely},
	Propan1ol: {SPO: impossible},
	Quat: {MYC: impossible, TUB: impossible, VirL: impossible, VirF: impossible,
		SPO: impossible},
	Peroxide: {SPO: unlikely},
}

var agentWords = map[Agent]string{
	Ethanol: "ethanol", Propan2ol: "propan-2-ol", Propan1ol: "propan-1-ol",
	Quat: "quaternary ammonium", Chlorine: "chlorine", Peroxide: "hydrogen peroxide",
	Peracetic: "peracetic acid", Other: "another agent",
}

// Plausible checks the claims of a product against its agents. A claim is doubted only when
// no agent in the product can carry it; an agent outside the list, and Other, can carry
// anything. No agents, no doubts.
func Plausible(agents []Agent, claims []Token) []Doubt {
	if len(agents) == 0 {
		return nil
	}
	var out []Doubt
	for _, t := range sorted(claims) {
		least := impossible
		for _, a := range agents {
			least = min(least, limits[a][t])
		}
		if least != possible {
			out = append(out, Doubt{t, least == impossible, doubtWhy(agents, t, least)})
		}
	}
	return out
}

func doubtWhy(agents []Agent, t Token, s standing) string {
	var names []string
	for _, a := range agents {
		if w := agentWords[a]; !slices.Contains(names, w) {
			names = append(names, w)
		}
	}
	if s == impossible {
		return fmt.Sprintf("%s alone does not act on %s at any strength or time: take the claim"+
			" %s out, or ask infection control.", list(names), t.Words(), t)
	}
	return fmt.Sprintf("%s seldom acts on %s: enter the claim %s only if this product's data"+
		" sheet shows it.", list(names), t.Words(), t)
}
