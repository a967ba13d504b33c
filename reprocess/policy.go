package reprocess

import (
	"fmt"
	"slices"
	"strings"

	"handback/reprocess/spectrum"
)

// Policy is where the clinic asks for other claims than the default of spectrum.Rows. A nil
// policy is the default.
type Policy struct {
	Base   []string     `json:"base,omitempty"`   // needed for every return, whatever the procedure
	Flags  []PolicyFlag `json:"flags,omitempty"`  // only flags that differ from the default
	Reason string       `json:"reason,omitempty"` // of the last change that loosened
}

// PolicyFlag replaces what one flag adds to the base set; empty: nothing.
type PolicyFlag struct {
	Flag string   `json:"flag"`
	Adds []string `json:"adds"`
}

// SetPolicy replaces the policy. Asking for more than is asked now is free; asking for less
// of anything has to be signed and given a reason.
type SetPolicy struct{ Policy }

// Act is "policy".
func (SetPolicy) Act() Act { return ActPolicy }

// Needs nothing beyond what is always loaded.
func (SetPolicy) Needs() Needs { return Needs{} }

// Rows is the policy in force: the default rows with the clinic's claims in their place.
func (p *Policy) Rows() []spectrum.Row {
	rows := spectrum.Rows()
	if p == nil {
		return rows
	}
	for _, f := range p.Flags {
		i := slices.IndexFunc(rows, func(r spectrum.Row) bool { return string(r.Flag) == f.Flag })
		if i >= 0 {
			rows[i].Adds = tokens(f.Adds)
		}
	}
	return rows
}

// base is what the clinic needs for every return besides the procedure's own set.
func (p *Policy) base() []spectrum.Token {
	if p == nil {
		return nil
	}
	return tokens(p.Base)
}

// Judge lays claims beside what a return with these flags needs here: the default base set, the
// clinic's additions and the rows of its policy. A procedure may need more.
func (p *Policy) Judge(flags []spectrum.Flag, offers []spectrum.Offer) (spectrum.Result, error) {
	return spectrum.JudgeBy(p.Rows(), flags, slices.Concat(spectrum.Base(), p.base()), offers)
}

func (s SetPolicy) decide(c *Case) *Problem {
	next, p := s.Policy.normal()
	if p != nil {
		return p
	}
	now := c.W.Settings.Policy
	if now == nil {
		now = &Policy{}
	}
	if next.Reason, p = clean("The reason", s.Reason, 200); p != nil {
		return p
	}
	if now.sameDemands(next) {
		return conflict("already_done", "Nothing to do.", "This is what is asked for already.")
	}
	loose := now.loosened(next)
	if len(loose) == 0 {
		next.Reason = now.Reason
	} else if p := c.mayLoosen(loose, next.Reason); p != nil {
		return p
	}
	v := c.W.Settings
	v.Policy = next
	c.emit(SettingsSet{v})
	return nil
}

// mayLoosen demands a signature and a reason: what was asked for protected somebody.
func (c *Case) mayLoosen(loose []string, reason string) *Problem {
	if c.Actor.Signed && reason != "" {
		return nil
	}
	return &Problem{Code: Forbidden, Rule: "loosened",
		Text: "This asks for less than is asked now: " + strings.Join(loose, "; ") + ".",
		Fix:  "Give the reason and enter your own secret, or leave the claims as they are."}
}

// normal reads a policy strictly and keeps only what differs from the default, in the order of
// the flags and the claims, so that equal policies are written alike.
func (p Policy) normal() (*Policy, *Problem) {
	next := &Policy{}
	base, prob := claimSet(p.Base)
	if prob != nil {
		return nil, prob
	}
	next.Base = base
	given := map[string][]string{}
	for _, f := range p.Flags {
		if prob := f.wellFormed(given); prob != nil {
			return nil, prob
		}
		adds, prob := claimSet(f.Adds)
		if prob != nil {
			return nil, prob
		}
		given[f.Flag] = adds
	}
	for _, row := range spectrum.Rows() {
		adds, there := given[string(row.Flag)]
		standard, _ := claimSet(texts(row.Adds))
		if there && !slices.Equal(adds, standard) {
			next.Flags = append(next.Flags, PolicyFlag{string(row.Flag), adds})
		}
	}
	return next, nil
}

func (f PolicyFlag) wellFormed(given map[string][]string) *Problem {
	flag, err := spectrum.ParseFlag(f.Flag)
	if err != nil {
		return invalid("flag", "Choose from the list.", "%s.", title(err.Error()))
	}
	if _, twice := given[f.Flag]; twice {
		return invalid("flag", "Name each once.", "The flag %q stands twice.", f.Flag)
	}
	if flag == spectrum.None {
		return invalid("flag", "Add the claims to what every return needs.",
			"Nothing known adds nothing.")
	}
	for _, row := range spectrum.Rows() {
		if row.Flag == flag && row.Stop {
			return invalid("flag", "Leave it out.",
				"With %s there is no routine cycle, whatever is claimed.", row.About)
		}
	}
	return nil
}

// claimSet reads claims, in the order of the list and without repeats; never nil.
func claimSet(claims []string) ([]string, *Problem) {
	for _, text := range claims {
		if _, err := spectrum.ParseToken(text); err != nil {
			return nil, invalid("claims", "Choose from the list of claims.", "%s.", title(err.Error()))
		}
	}
	set := []string{}
	for _, t := range spectrum.Tokens() {
		if contains(claims, string(t)) {
			set = append(set, string(t))
		}
	}
	return set, nil
}

func texts(tokens []spectrum.Token) []string {
	all := []string{}
	for _, t := range tokens {
		all = append(all, string(t))
	}
	return all
}

func (p *Policy) sameDemands(next *Policy) bool {
	return slices.Equal(p.Base, next.Base) && slices.EqualFunc(p.Flags, next.Flags,
		func(a, b PolicyFlag) bool { return a.Flag == b.Flag && slices.Equal(a.Adds, b.Adds) })
}

// loosened lists in words what the next policy no longer asks for, in any way: a claim that
// another one asked for there implies is still asked for.
func (p *Policy) loosened(next *Policy) []string {
	var all []string
	say := func(where string, was, is []spectrum.Token) {
		for _, t := range was {
			if !slices.ContainsFunc(is, func(by spectrum.Token) bool { return by.Covers(t) }) {
				all = append(all, fmt.Sprintf("%s would no longer need %s", where, t))
			}
		}
	}
	say("every return", p.base(), next.base())
	was, is := p.Rows(), next.Rows()
	for i, row := range was {
		say(row.About, row.Adds, slices.Concat(is[i].Adds, next.base()))
	}
	return all
}
