package reprocess

import "handback/reprocess/strength"

// DefaultMinimum is the least strength of an alcohol when the procedure states none: the low
// end of 70 to 90 % for smooth hard surfaces, CDC guideline 2008, table 1.
const DefaultMinimum = "70%v/v"

// strongEnough compares the product's alcohols with the procedure's limits, each in the basis
// the procedure states, uncertainty on the safe side. Undecided is not a pass. A product
// without alcohol is judged by its claims alone (and says so on screen).
func (s Suit) strongEnough(proc *Procedure) *Problem {
	if c := s.Container; c != nil && (c.Batch != nil || len(c.Readings) > 0) {
		return s.readEnough(proc)
	}
	parts, p := s.Product.alcohols()
	if p != nil || len(parts) == 0 {
		return p
	}
	least, err1 := limit(proc.MinStrength, DefaultMinimum)
	most, err2 := limit(proc.MaxStrength, "")
	density, err3 := s.Product.density()
	for _, err := range []error{err1, err2, err3} {
		if err != nil {
			return cannotCompare(s.Product, err)
		}
	}
	v, err := strength.Judge(parts, least, most, density)
	switch {
	case err != nil:
		return cannotCompare(s.Product, err)
	case v.Outcome == strength.Pass:
		return nil
	case v.Outcome == strength.Fail:
		return refuse("strength", takeAnother, "%s does not have the strength asked for: %s",
			s.Product.Name, sentence(v.Why))
	}
	return refuse("strength_undecided", "State the basis from the label or data sheet.",
		"The strength of %s cannot be judged: %s", s.Product.Name, sentence(v.Why))
}

func cannotCompare(p *Product, err error) *Problem {
	return &Problem{Code: Refused, Rule: "strength_undecided", Err: err,
		Text: "The strength of " + p.Name + " cannot be compared: " + sentence(err.Error()),
		Fix:  "Ask a supervisor to correct the product or the procedure."}
}

func sentence(text string) string {
	if text == "" || text[len(text)-1] == '.' {
		return text
	}
	return text + "."
}

// alcohols are the product's alcohols with their printed figures. Where the label gives two that
// do not agree, the figure is the range they span, so that neither is chosen silently.
func (p *Product) alcohols() ([]strength.Part, *Problem) {
	var parts []strength.Part
	for _, a := range p.Actives {
		which, err := strength.ParseAlcohol(a.Agent)
		if err != nil {
			continue
		}
		f, err := strength.ParseStrength(a.Strength)
		if err != nil {
			return nil, cannotCompare(p, err)
		}
		for _, other := range p.others(which) {
			if _, agree, err := strength.Apart(which, f, other); err == nil && !agree {
				f = strength.Both(which, f, other)
			}
		}
		parts = append(parts, strength.Part{Alcohol: which, Figure: f})
	}
	return parts, nil
}

func limit(text, otherwise string) (*strength.Figure, error) {
	if text == "" {
		text = otherwise
	}
	if text == "" {
		return nil, nil
	}
	f, err := strength.ParseStrength(text)
	return &f, err
}

func densityOf(text string) (*strength.Density, error) {
	if text == "" {
		return nil, nil
	}
	d, err := strength.ParseDensity(text)
	return &d, err
}
