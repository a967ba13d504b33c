package spectrum

import (
	"fmt"
	"slices"
)

// Flag is what somebody knew about the return, as a class of organism; never a diagnosis of a
// named person and never blood-borne status, which changes nothing in the routine process.
type Flag string

// The flags of a return.
const (
	None                   Flag = "none"
	Respiratory            Flag = "respiratory"
	Gastro                 Flag = "gastro"
	PolioHepatitisA        Flag = "polio-hepatitis-a"
	TB                     Flag = "tb"
	CandidaAuris           Flag = "candida-auris"
	MultiResistant         Flag = "mrsa-vre-cre"
	CDifficile             Flag = "c-difficile"
	DiarrhoeaUnknown       Flag = "diarrhoea-unknown"
	ScabiesLice            Flag = "scabies-lice"
	Prion                  Flag = "prion"
	VHF                    Flag = "vhf"
	UnknownHighConsequence Flag = "unknown-high-consequence"
)

// Row says what one flag demands beyond the base set.
type Row struct {
	Flag   Flag
	About  string  // in plain words, for pages that offer the flags
	Adds   []Token // needed besides the base set
	Stop   bool    // no routine cycle: on hold, infection control decides
	Remark string  // a sentence to show with the answer, may be empty
}

const askIPC = "Put it on hold and ask infection control"

// rows is the default policy. Sources: the added claims follow the resistance of the organism
// group (CDC 2008 guideline; Rutala and Weber 2016); the stops, the polio row and the Candida
// auris row are from memory of the same guidance; the multi-resistant row is common practice.
var rows = []Row{
	{Flag: None, About: "nothing known"},
	{Flag: Respiratory, Adds: []Token{VirE},
		About: "influenza, coronavirus, RSV or another enveloped respiratory virus"},
	{Flag: Gastro, Adds: []Token{VirL},
		About: "gastro-enteritis: norovirus, rotavirus, adenovirus"},
	{Flag: PolioHepatitisA, Adds: []Token{VirF},
		About: "polio, hepatitis A, parvovirus, or an unknown cluster"},
	{Flag: TB, Adds: []Token{MYC}, About: "tuberculosis",
		Remark: "An item on intact skin seldom carries tuberculosis."},
	{Flag: CandidaAuris, Adds: []Token{FUN}, About: "Candida auris",
		Remark: "The product needs a claim that names Candida auris: infection control decides."},
	{Flag: MultiResistant, About: "MRSA, VRE or CRE, contact precautions",
		Remark: "The base set suffices; a second cycle or a closer look is up to the clinic."},
	{Flag: CDifficile, Adds: []Token{SPO}, About: "C. difficile",
		Remark: "Alcohol does not kill spores: ask infection control before going on."},
	{Flag: DiarrhoeaUnknown, Adds: []Token{SPO}, About: "diarrhoea of unknown cause",
		Remark: "Alcohol does not kill spores: ask infection control before going on."},
	{Flag: ScabiesLice, Stop: true, About: "scabies or lice",
		Remark: "Scabies and lice are not a matter for disinfectant. Bag it. " + askIPC + "."},
	{Flag: Prion, Stop: true, About: "prion disease",
		Remark: "Prions: no routine cycle. " + askIPC + " and the maker."},
	{Flag: VHF, Stop: true, About: "viral haemorrhagic fever",
		Remark: "Viral haemorrhagic fever: no routine cycle. " + askIPC + " and the maker."},
	{Flag: UnknownHighConsequence, Stop: true, About: "unknown, of high consequence",
		Remark: "Unknown of high consequence: no routine cycle. " + askIPC + " and the maker."},
}

// Rows lists the default policy, one row per flag, in the order pages offer them.
func Rows() []Row {
	out := slices.Clone(rows)
	for i := range out {
		out[i].Adds = slices.Clone(out[i].Adds)
	}
	return out
}

// Flags lists every flag once.
func Flags() []Flag {
	var out []Flag
	for _, r := range rows {
		out = append(out, r.Flag)
	}
	return out
}

// ParseFlag reads exactly one flag.
func ParseFlag(s string) (Flag, error) {
	if _, found := rowOf(Flag(s)); found {
		return Flag(s), nil
	}
	return "", fmt.Errorf("%q is not a flag of a return; use one of %s", s, list(Flags()))
}

func rowOf(f Flag) (Row, bool) { return rowIn(rows, f) }

func rowIn(rows []Row, f Flag) (Row, bool) {
	i := slices.IndexFunc(rows, func(r Row) bool { return r.Flag == f })
	if i < 0 {
		return Row{}, false
	}
	return rows[i], true
}

// Need is what a return demands.
type Need struct {
	Claims  []Token  // in the order of Tokens, no repeats
	Stop    bool     // some flag forbids a routine cycle
	Remarks []string // one sentence per flag that has one, in the order given
}

// Needed joins what the flags demand with the base set; no flag is the same as None. An
// unknown flag, an unknown token, and None beside another flag are errors: all three would
// otherwise ask for too little. A nil base is the default one; an empty one is an error,
// because a disinfection that must cover nothing would pass with anything.
func Needed(flags []Flag, base []Token) (Need, error) { return NeededBy(rows, flags, base) }

// NeededBy is Needed by a clinic's own rows; a flag that they do not hold is an error.
func NeededBy(policy []Row, flags []Flag, base []Token) (Need, error) {
	if base == nil {
		base = Base()
	}
	if len(base) == 0 {
		return Need{}, fmt.Errorf("the base set of claims is empty; state at least %s", BAC)
	}
	for _, t := range base {
		if _, err := ParseToken(string(t)); err != nil {
			return Need{}, err
		}
	}
	n := Need{Claims: slices.Clone(base)}
	for i, f := range flags {
		if err := n.add(policy, f, flags[:i], flags); err != nil {
			return Need{}, err
		}
	}
	n.Claims = sorted(n.Claims)
	return n, nil
}

func (n *Need) add(policy []Row, f Flag, before, all []Flag) error {
	if _, err := ParseFlag(string(f)); err != nil {
		return err
	}
	r, found := rowIn(policy, f)
	if !found {
		return fmt.Errorf("the policy has no row for the flag %q; give it one", f)
	}
	if f == None && slices.ContainsFunc(all, func(o Flag) bool { return o != None }) {
		return fmt.Errorf("the flag %q cannot stand beside another one; leave one of them out", f)
	}
	n.Claims = append(n.Claims, r.Adds...)
	n.Stop = n.Stop || r.Stop
	if r.Remark != "" && !slices.Contains(before, f) {
		n.Remarks = append(n.Remarks, r.Remark)
	}
	return nil
}
