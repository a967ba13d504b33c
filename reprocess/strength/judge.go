package strength

import (
	"errors"
	"fmt"
	"strings"
)

// Outcome is what comparing a strength with its limits came to.
type Outcome string

// The outcomes. Undecided is not a pass. None means that there was no limit to compare with.
const (
	Pass      Outcome = "pass"
	Fail      Outcome = "fail"
	Undecided Outcome = "undecided"
	None      Outcome = "none"
)

// Verdict is an outcome with its reason.
type Verdict struct {
	Outcome Outcome
	Why     string // one sentence, figures as judged
	// Composition is what the parts come to when they have exactly one meaning, nil for
	// ranges and unstated bases.
	Composition *Composition
	// Readings is the number of possible meanings judged; impossible ones dropped out.
	Readings int
}

// Judge compares the sum of the parts with a least and a most allowed strength, either of
// which may be nil.
//
// Every possible reading is compared in the limit's own basis. A minimum passes only if the
// worst reading passes, a maximum likewise; if some readings pass and some fail the verdict is
// Undecided. A range is judged by its ends. A limit that lies inside the uncertainty of a
// converted figure is Undecided too; a figure printed in the limit's basis carries none.
//
// The sum is a plausibility figure. Where a requirement names one alcohol use JudgeOne, and
// remember that propanols never stand in for ethanol against non-enveloped viruses.
//
// Errors: impossible or missing parts, a limit without basis or with a range, limits crossed.
func Judge(parts []Part, least, most *Figure, density *Density) (Verdict, error) {
	return judge(0, parts, least, most, density)
}

// JudgeOne is Judge for one alcohol of the mixture, the others only counting as company.
// An alcohol that is not among the parts is at 0.
func JudgeOne(of Alcohol, parts []Part, least, most *Figure, density *Density) (Verdict, error) {
	if err := of.known(); err != nil {
		return Verdict{}, err
	}
	return judge(of, parts, least, most, density)
}

func judge(of Alcohol, parts []Part, least, most *Figure, density *Density) (Verdict, error) {
	if err := checkParts(parts); err != nil {
		return Verdict{}, err
	}
	limits, err := newLimits(least, most)
	if err != nil {
		return Verdict{}, err
	}
	rs, blends, err := solveAll(parts, density)
	if err != nil {
		return Verdict{}, err
	}
	v := Verdict{Outcome: None, Why: "no limit was given, so nothing is judged", Readings: len(rs)}
	if single(parts) {
		c := blends[0].composition(rs[0])
		v.Composition = &c
	}
	for i, l := range limits {
		var all []compared
		for k, b := range blends {
			all = append(all, l.compare(of, b, rs[k]))
		}
		o, why := l.sum(all, parts)
		if i == 0 {
			v.Outcome, v.Why = o, why
			continue
		}
		v.Outcome, v.Why = worse(v.Outcome, o), v.Why+"; "+why
	}
	return v, nil
}

func single(parts []Part) bool {
	for _, p := range parts {
		if !p.Figure.Single() || p.Figure.Basis == Unstated {
			return false
		}
	}
	return true
}

// solveAll keeps the readings that can exist. It fails with the first reason if none can.
func solveAll(parts []Part, density *Density) ([][]reading, []blend, error) {
	var kept [][]reading
	var blends []blend
	var first error
	for _, rs := range readings(parts) {
		b, err := solve(rs, density)
		if err == nil {
			kept, blends = append(kept, rs), append(blends, b)
		} else if first == nil {
			first = err
		}
		// A stated range must be possible as a whole, its upper end too.
		if err != nil && stated(parts) {
			return nil, nil, err
		}
	}
	if len(kept) == 0 {
		return nil, nil, first
	}
	return kept, blends, nil
}

func stated(parts []Part) bool {
	for _, p := range parts {
		if p.Figure.Basis == Unstated {
			return false
		}
	}
	return true
}

// worse is the more careful of two outcomes: a failed limit fails, an open one leaves open.
func worse(a, b Outcome) Outcome {
	for _, o := range []Outcome{Fail, Undecided} {
		if a == o || b == o {
			return o
		}
	}
	return Pass
}

// limit is one end of what is allowed.
type limit struct {
	value float64
	basis Basis
	least bool
}

func (l limit) String() string {
	name := "most"
	if l.least {
		name = "least"
	}
	return "the " + name + " allowed, " + Exactly(l.value, l.basis).String()
}

func newLimits(least, most *Figure) ([]limit, error) {
	var ls []limit
	for i, f := range []*Figure{least, most} {
		if f == nil {
			continue
		}
		if err := f.check(); err != nil {
			return nil, err
		}
		if f.Basis == Unstated || !f.Single() {
			return nil, fmt.Errorf("a limit needs one number and a stated basis, not %s; write for "+
				"example 70%%v/v", f)
		}
		ls = append(ls, limit{f.Low, f.Basis, i == 0})
	}
	if len(ls) == 2 && ls[0].basis.same(ls[1].basis) && ls[0].value > ls[1].value {
		return nil, errors.New("the least allowed is above the most allowed; check the two limits")
	}
	return ls, nil
}

// compared is one reading against one limit.
type compared struct {
	outcome Outcome
	value   float64 // in the limit's basis
	give    float64 // uncertainty, same unit
}

func (l limit) compare(of Alcohol, b blend, rs []reading) compared {
	c := compared{value: b.value(rs, l.basis, of)}
	if !declaredIn(rs, l.basis, of) {
		c.give = b.give(l.basis, of)
	}
	c.outcome = l.outcome(c.value, c.give)
	return c
}

// outcome compares a value known to within give with the limit, the limit itself included.
func (l limit) outcome(value, give float64) Outcome {
	above := value - l.value
	if !l.least {
		above = -above
	}
	switch {
	case above-give >= -rounding:
		return Pass
	case above+give < -rounding:
		return Fail
	}
	return Undecided
}

// give is the bound in % v/v carried over into the limit's basis.
func (b blend) give(basis Basis, of Alcohol) float64 {
	bound := b.bound()
	if bound == 0 {
		return 0
	}
	return bound * b.slope(basis, of)
}

// slope is how much the figure in a basis changes per % v/v, when all alcohols grow together
// at the expense of water.
func (b blend) slope(basis Basis, of Alcohol) float64 {
	const step = 1e-4
	if basis.same(ByVolume) {
		return 1
	}
	less := blend{w: b.w} // less and not more, so that a pure alcohol has a slope too
	for i := range less.w {
		less.w[i] *= 1 - step
	}
	b.rho, less.rho = b.modelDensity(), less.modelDensity()
	change := b.in(ByVolume, of) - less.in(ByVolume, of)
	if change == 0 {
		return 1 // none of that alcohol: its figure is 0 in every basis
	}
	return (b.in(basis, of) - less.in(basis, of)) / change
}

// sum makes one outcome and one sentence of all readings against this limit.
func (l limit) sum(all []compared, parts []Part) (Outcome, string) {
	count := map[Outcome]int{}
	worst, best := all[0], all[0]
	for _, c := range all {
		count[c.outcome]++
		if (c.value < worst.value) == l.least {
			worst = c
		}
		if (c.value > best.value) == l.least {
			best = c
		}
	}
	switch {
	case count[Pass] == len(all):
		return Pass, l.says(worst, len(all), "is not "+l.beyond())
	case count[Fail] == len(all):
		return Fail, l.says(best, len(all), "is "+l.beyond())
	case count[Undecided] == len(all) && len(all) == 1:
		return Undecided, l.says(worst, 1, "is by its uncertainty too near to call against") +
			closer(parts)
	}
	return Undecided, fmt.Sprintf("%s, depending on what %s means, from %s to %s: %s", l, join(parts),
		l.show(worst), l.show(best), remedy(parts))
}

// closer says what would decide; a reading has no parts.
func closer(parts []Part) string {
	if len(parts) == 0 {
		return "; a more exact reading is needed, or a stronger liquid"
	}
	return "; a more exact figure is needed, best one in the basis of the limit"
}

func remedy(parts []Part) string {
	if stated(parts) {
		return "state the exact figure"
	}
	return "state the basis"
}

// beyond is the side of the limit that is not allowed.
func (l limit) beyond() string {
	if l.least {
		return "below"
	}
	return "above"
}

func (l limit) says(c compared, readings int, how string) string {
	if readings > 1 {
		return fmt.Sprintf("of %d possible readings the deciding one, %s, %s %s",
			readings, l.show(c), how, l)
	}
	return fmt.Sprintf("%s %s %s", l.show(c), how, l)
}

// show prints a judged value with two decimals, or with more where two would hide on which
// side of the limit it lies.
func (l limit) show(c compared) string {
	text := trim(fmt.Sprintf("%.2f", c.value))
	if text == decimal(l.value) && c.value != l.value {
		text = trim(fmt.Sprintf("%.8f", c.value))
	}
	text += l.basis.String()
	if c.give > 0 {
		text += " give or take " + trim(fmt.Sprintf("%.2f", c.give))
	}
	return text
}

func trim(s string) string { return strings.TrimRight(strings.TrimRight(s, "0"), ".") }

func join(parts []Part) string {
	var names []string
	for _, p := range parts {
		names = append(names, p.String())
	}
	return strings.Join(names, " + ")
}
