package spectrum

import (
	"fmt"
	"strings"
)

// Verdict is the answer to "does this product suit this return".
type Verdict string

// The verdicts. Stop stands above the others: no claim makes a routine cycle right.
const (
	Pass Verdict = "pass"
	Fail Verdict = "fail"
	Stop Verdict = "stop"
)

// Cover names the claim that covers a need, and its contact time, s.
type Cover struct {
	By      Token `json:"by"`
	Seconds int   `json:"seconds"`
}

// Result is the answer with its reasons.
type Result struct {
	Needed  []Token
	Covered map[Token]Cover // one per covered need
	Missing []Token
	Seconds int // largest over the needed claims, s; 0 unless the verdict is Pass
	Verdict Verdict
	Why     []string // sentences, at least one
}

// Judge puts flags, base set and the product's claims together.
func Judge(flags []Flag, base []Token, offers []Offer) (Result, error) {
	return JudgeBy(rows, flags, base, offers)
}

// JudgeBy is Judge by a clinic's own rows.
func JudgeBy(policy []Row, flags []Flag, base []Token, offers []Offer) (Result, error) {
	need, err := NeededBy(policy, flags, base)
	if err != nil {
		return Result{}, err
	}
	r := Match(need.Claims, offers)
	if need.Stop {
		r.Verdict, r.Seconds, r.Why = Stop, 0, need.Remarks
		return r, nil
	}
	r.Why = append(r.Why, need.Remarks...)
	return r, nil
}

// Match finds for each need the claim with the least contact time; on equal times the need's
// own claim, else the first in the order of Tokens. The contact time is the largest over the
// needs; where a need is missing there is none, however long the surface stays wet. Offers
// outside the list of tokens or without a positive time cover nothing.
func Match(needed []Token, offers []Offer) Result {
	r := Result{Needed: sorted(needed), Covered: map[Token]Cover{}, Missing: []Token{}}
	for _, need := range r.Needed {
		c, found := least(need, offers)
		if !found {
			r.Missing = append(r.Missing, need)
			continue
		}
		r.Covered[need] = c
		r.Seconds = max(r.Seconds, c.Seconds)
	}
	r.Verdict = Pass
	if len(r.Missing) > 0 || len(r.Needed) == 0 {
		r.Verdict, r.Seconds = Fail, 0
	}
	r.Why = r.why()
	return r
}

func least(need Token, offers []Offer) (best Cover, found bool) {
	for _, by := range append([]Token{need}, tokens...) {
		for _, o := range offers {
			if o.Token != by || !by.Covers(need) || o.Seconds < 1 {
				continue
			}
			if !found || o.Seconds < best.Seconds {
				best, found = Cover{by, o.Seconds}, true
			}
		}
	}
	return best, found
}

// why explains each need in one sentence, then the contact time.
func (r *Result) why() []string {
	if len(r.Needed) == 0 {
		return []string{"No claim is needed here, so nothing can be judged: state the base set."}
	}
	var out []string
	for _, need := range r.Needed {
		out = append(out, r.sentence(need))
	}
	if r.Verdict != Pass {
		return append(out, fmt.Sprintf("Take a product that claims %s.",
			strings.Join(r.missingWords(), " and ")))
	}
	return append(out, fmt.Sprintf("Keep the surface wet for %d s without a break.", r.Seconds))
}

func (r *Result) sentence(need Token) string {
	c, found := r.Covered[need]
	switch {
	case !found:
		return fmt.Sprintf("%s (%s) is needed and not claimed.", need, need.Words())
	case c.By == need:
		return fmt.Sprintf("%s is claimed at %d s.", need, c.Seconds)
	}
	return fmt.Sprintf("%s is covered by %s, claimed at %d s.", need, c.By, c.Seconds)
}

func (r *Result) missingWords() []string {
	var out []string
	for _, t := range r.Missing {
		out = append(out, t.Words())
	}
	return out
}
