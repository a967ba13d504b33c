package strength

import (
	"fmt"
	"strings"
)

// The sentences below are what the command line prints and what the pages show: one wording,
// so that a figure read at the bench and one read in a report are the same.

// Lines says the verdict, after the figures in every unit where there is one meaning.
func (v Verdict) Lines() []string {
	var all []string
	if c := v.Composition; c != nil {
		all = append(all,
			fmt.Sprintf("%.2f %% v/v (give or take %.2f)", float64(c.Volume), float64(c.Uncertainty)),
			fmt.Sprintf("%.2f %% w/w%s", float64(c.Mass), give(float64(c.MassGive))),
			fmt.Sprintf("%.2f g/100 mL", float64(c.Grams)),
			fmt.Sprintf("%.2f kg/m3 at 20 °C", float64(c.Density)))
	}
	return append(all, string(v.Outcome)+": "+v.Why)
}

// give is a bound beside a figure that has one.
func give(v float64) string {
	if v == 0 {
		return ""
	}
	return fmt.Sprintf(" (give or take %.2f)", v)
}

// Lines says the true strength behind a reading, and for what it holds.
func (m Measured) Lines() []string {
	all := []string{
		fmt.Sprintf("%.2f %% v/v (give or take %.2f)", float64(m.Volume), float64(m.Uncertainty)),
		fmt.Sprintf("%.2f %% w/w", float64(m.Mass)),
		fmt.Sprintf("%.2f kg/m3 at the temperature of the liquid", float64(m.Density)),
		fmt.Sprintf("holds for %s and water only; additives and other alcohols shift the reading",
			m.Alcohol)}
	if m.OtherStem {
		all = append(all, fmt.Sprintf("a stem marked in %% is marked for ethanol: its mark was taken "+
			"for the density it stands for, never for the strength of %s", m.Alcohol))
	}
	return all
}

// Lines says what to measure for an order, what goes wrong most often, and the danger of fire.
func (p Plan) Lines(o Order) []string {
	all := []string{
		fmt.Sprintf("measure %.1f mL of stock (%.1f g), make up with water to %.1f mL",
			float64(p.Stock), float64(p.StockMass), float64(p.Volume)),
		fmt.Sprintf("water needed: about %.1f mL (%.1f g); volume lost in mixing: %.1f mL",
			float64(p.Water), float64(p.WaterMass), float64(p.Contraction)),
		fmt.Sprintf("a common mistake, adding %.1f mL of water instead, gives %.2f %% v/v",
			float64(p.Volume-p.Stock), float64(p.Mistake))}
	if !o.Stock.Single() {
		all = append(all, fmt.Sprintf("planned with the low end of the stock, %.2f %% v/v; with its "+
			"high end it comes out at %.2f %% v/v", float64(p.StockTaken), float64(p.AtHighEnd)))
	}
	if o.Alcohol != Ethanol {
		all = append(all, p.expected(o.Alcohol))
	}
	return append(all, fire)
}

const fire = "flammable: small amounts, aired room, no flame or spark; let it cool before making up"

// expected says what instruments should show in a propanol: it is not what they show in ethanol.
func (p Plan) expected(a Alcohol) string {
	said := fmt.Sprintf("at 20 °C it should have %.1f kg/m3", float64(p.Mixed))
	m, err := EthanolMass(p.Mixed, 20)
	if err != nil {
		return said
	}
	return said + fmt.Sprintf(", and a stem marked for ethanol should show %.1f %% v/v in it, not "+
		"%.1f: it is %s", 100*Ethanol.volumeFraction(float64(m)/100), float64(p.Target), a)
}

// Lines says how long the film keeps its strength, as a band, and that nobody validated it.
func (w WetTime) Lines() []string {
	if w.High == 0 {
		return []string{fmt.Sprintf("is below %.0f %% v/v from the start: no film of it, however thick, "+
			"is strong enough", float64(KeptStrength)), NotValidated}
	}
	all := []string{fmt.Sprintf("keeps 50 %% v/v for about %.0f s, could be %.0f s or %.0f s",
		float64(w.Seconds), float64(w.Low), float64(w.High))}
	if w.SeenDry != nil {
		all = append(all, fmt.Sprintf("looks dry after about %.0f s, long after the strength is gone",
			float64(*w.SeenDry)))
	}
	return append(all, NotValidated)
}

// Text is lines one below the other, as the command line prints them.
func Text(lines []string) string { return strings.Join(lines, "\n") + "\n" }
