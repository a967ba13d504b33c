package reprocess

import (
	"fmt"

	"handback/reprocess/spectrum"
	"handback/reprocess/strength"
)

// Doubts are sentences about claims that the named agents hardly carry: to be asked about,
// never refused for that.
func (p *Product) Doubts() []string {
	var named []spectrum.Agent
	for _, a := range p.Actives {
		named = append(named, agents[a.Agent])
	}
	var all []string
	for _, d := range spectrum.Plausible(named, tokens(claimTokens(p.Claims))) {
		all = append(all, d.Why)
	}
	return all
}

// StrengthWords says what the printed figures of the alcohols mean in the other units at
// 20 °C, with the uncertainty of the conversion; nil when there is no alcohol.
func (p *Product) StrengthWords() []string {
	parts, problem := p.alcohols()
	if problem != nil {
		return []string{problem.Text}
	}
	if len(parts) == 0 {
		return nil
	}
	density, err := p.density()
	if err != nil {
		return []string{sentence(title(err.Error()))}
	}
	if doubts := p.FigureDoubts(); len(doubts) > 0 {
		return append(doubts, "Judged by whichever of them is worse.")
	}
	if len(parts) == 1 && parts[0].Figure.Basis == strength.Unstated {
		return StrengthReadings(parts[0], density)
	}
	words, err := composed(parts, density)
	if err != nil {
		return []string{"The figure cannot be converted: " + sentence(err.Error())}
	}
	return []string{words}
}

// StrengthReadings gives every reading of a bare "%", because nobody said which; nothing for
// a figure with a basis.
func StrengthReadings(part strength.Part, density *strength.Density) []string {
	if part.Figure.Basis != strength.Unstated {
		return nil
	}
	all := []string{"The label states no basis: the figure may mean any of these."}
	for _, basis := range []strength.Basis{strength.ByVolume, strength.ByMass,
		strength.Per100Millis} {
		read := part
		read.Figure.Basis = basis
		words, err := composed([]strength.Part{read}, density)
		if err != nil {
			words = "cannot be: " + sentence(err.Error())
		}
		all = append(all, "As "+read.Figure.String()+": "+words)
	}
	return all
}

// composed writes a sum of alcohols in all units, such as "70 % v/v = 62.4 % w/w = ...".
func composed(parts []strength.Part, density *strength.Density) (string, error) {
	c, err := strength.Compose(parts, density)
	if err != nil {
		return "", err
	}
	words := fmt.Sprintf("%.1f %% v/v = %.1f %% w/w = %.1f g/100 mL at 20 °C",
		float64(c.Volume), float64(c.Mass), float64(c.Grams))
	if c.Uncertainty > 0 {
		words += fmt.Sprintf(" (%% v/v within ±%.2g)", float64(c.Uncertainty))
	}
	if c.MassGive > 0 {
		words += fmt.Sprintf(" (%% w/w within ±%.1g)", float64(c.MassGive))
	}
	return words + ".", nil
}

// CellChanges lists the days on which the wearer changes the cell, from the first day of wear
// to the day everything comes back: each time after as many days as a cell lasts, never on the
// day of return. Unknown figures give no days.
func CellChanges(begin, back Date, lasts int) []Date {
	if begin == "" || back == "" || lasts < 1 {
		return nil
	}
	var days []Date
	for d := begin.AddDays(lasts); d < back && len(days) < longestLoan; d = d.AddDays(lasts) {
		days = append(days, d)
	}
	return days
}
