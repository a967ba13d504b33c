package reprocess

import (
	"fmt"

	"handback/reprocess/strength"
)

// second are the second figures of an alcohol that the label gives.
func (p *Product) second(a strength.Alcohol) []strength.Figure {
	var all []strength.Figure
	for _, x := range p.Also {
		if x.Agent != a.String() {
			continue
		}
		if f, err := strength.ParseStrength(x.Strength); err == nil {
			all = append(all, f)
		}
	}
	return all
}

// others are all further figures that say how strong an alcohol is: the second ones, and what
// the density means where nothing but that alcohol and water is in it.
func (p *Product) others(a strength.Alcohol) []strength.Figure {
	all := p.second(a)
	if f, ok := p.byDensity(a); ok {
		all = append(all, f)
	}
	return all
}

// byDensity is the range of strengths that the density may mean; ok is false where there is
// none, or where something else is in it that shifts it.
func (p *Product) byDensity(a strength.Alcohol) (f strength.Figure, ok bool) {
	d, err := densityOf(p.DensityKg)
	if err != nil || d == nil || len(p.Actives) != 1 {
		return f, false
	}
	v, give, err := strength.OfDensity(a, *d)
	if err != nil {
		return f, false
	}
	return strength.Figure{Low: max(0, float64(v-give)), High: min(100, float64(v+give)),
		Basis: strength.ByVolume}, true
}

// density is the density to reckon with: none where it does not agree with the figure, which
// is then judged by the range they span.
func (p *Product) density() (*strength.Density, error) {
	d, err := densityOf(p.DensityKg)
	if err != nil || d == nil || len(p.FigureDoubts()) == 0 {
		return d, err
	}
	return nil, nil
}

// FigureDoubts says which figures of the label do not agree, naming both; nothing for figures
// that do. Two figures may lie 0.3 % v/v apart (common practice) and what a conversion of that
// alcohol is good for.
func (p *Product) FigureDoubts() []string {
	var all []string
	for _, a := range p.Actives {
		which, err := strength.ParseAlcohol(a.Agent)
		if err != nil {
			continue
		}
		f, err := strength.ParseStrength(a.Strength)
		if err != nil {
			continue
		}
		for _, other := range p.second(which) {
			all = append(all, apartWords(which, f, other, "the label also says "+other.String())...)
		}
		if other, ok := p.byDensity(which); ok && f.Basis != strength.Unstated {
			all = append(all, apartWords(which, f, other, fmt.Sprintf("the density %s belongs to "+
				"%.1f..%.1f %% v/v of it with water alone", p.DensityKg, other.Low, other.High))...)
		} else if p.DensityKg != "" && !ok && len(p.Actives) == 1 {
			all = append(all, fmt.Sprintf("The density %s is that of no mixture of %s and water: "+
				"read both again.", p.DensityKg, which))
		}
	}
	return all
}

func apartWords(a strength.Alcohol, f, other strength.Figure, says string) []string {
	by, agree, err := strength.Apart(a, f, other)
	switch {
	case err != nil:
		return []string{fmt.Sprintf("Of %s the label says %s and %s: %s.", a, f, says, err)}
	case agree:
		return nil
	}
	return []string{fmt.Sprintf("Two figures of %s do not agree: %s, and %s. They lie %.1f %% v/v "+
		"apart, %.1f is usual: read both again, or ask the maker.", a, f, says, float64(by),
		float64(strength.Agreement))}
}

// alsoFormed checks the second figures: of an alcohol that is in it, each with a basis, one
// for each.
func (v *Product) alsoFormed() *Problem {
	for i, x := range v.Also {
		a, err := strength.ParseAlcohol(x.Agent)
		if err != nil || !v.holds(x.Agent) {
			return invalid("agent", "Type the first figure of that alcohol too.",
				"A second figure is given for %q, and no first one.", x.Agent)
		}
		f, err := strength.ParseStrength(x.Strength)
		if err != nil || f.Basis == strength.Unstated {
			return invalid("strength", "Type figure and basis, such as 62.4%w/w, or leave it empty.",
				"The second figure of %s, %q, has no basis.", a, x.Strength)
		}
		for _, y := range v.Also[:i] {
			if y.Agent == x.Agent {
				return invalid("agent", "Type one of them.", "%s has three figures.", title(x.Agent))
			}
		}
	}
	return nil
}

func (v *Product) holds(agent string) bool {
	for _, a := range v.Actives {
		if a.Agent == agent {
			return true
		}
	}
	return false
}
