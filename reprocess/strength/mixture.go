package strength

import (
	"errors"
	"fmt"
	"math"
)

// mixtureBound is what a converted sum of several alcohols carries, % v/v: the mixing rule
// has no measured ternary mixtures behind it.
const mixtureBound = 0.3

// rounding is how far a sum may pass a limit by arithmetic alone, in per cent.
const rounding = 1e-9

// misfit is the most a given density may differ from the model, kg/m³, before it is taken
// for a slip of the pen: additives of a disinfectant move it by less (own choice).
const misfit = 30

// Composition is a product's alcohols solved together at 20 °C.
type Composition struct {
	Mass    MassPercent   // sum of all alcohols
	Volume  VolumePercent // sum of all alcohols, each by its own pure density
	Grams   GramsPer100mL // sum of all alcohols
	Density Density       // as given, or by the model
	// Uncertainty of Volume: 0 when every figure was already % v/v, when a density was
	// given, and for ethanol alone; otherwise the bound of the model.
	Uncertainty VolumePercent
	// MassGive is the same for Mass: 0 where every figure was already by mass.
	MassGive MassPercent
	// Floor is Volume by additive volumes, the answer when neither a density nor the model
	// is trusted: 1 to 2.3 below, never above.
	Floor  VolumePercent
	Shares []Share // in the order the parts were given
}

// Share is one alcohol of a Composition.
type Share struct {
	Alcohol Alcohol
	Mass    MassPercent
	Volume  VolumePercent
}

// blend is a solved mixture: mass fractions by alcohol (index Alcohol−1) and its density.
type blend struct {
	w     [3]float64
	rho   float64
	given bool // rho came from outside
}

func (b blend) mass(a Alcohol) float64 { return b.w[a-1] }

// in gives the strength in a basis, per cent or g/100 mL: of one alcohol, or with 0 the sum.
func (b blend) in(basis Basis, of Alcohol) float64 {
	sum := 0.0
	for _, a := range Alcohols() {
		if of != 0 && of != a {
			continue
		}
		switch basis.plain() {
		case ByVolume:
			sum += 100 * b.mass(a) * b.rho / a.pure()
		case Per100Millis:
			sum += b.mass(a) * b.rho / 10
		default:
			sum += 100 * b.mass(a)
		}
	}
	return sum
}

func (b blend) alcohol() float64 { return b.w[0] + b.w[1] + b.w[2] }

func (b blend) water() float64 { return 1 - b.alcohol() }

// modelDensity is the mixing rule at 20 °C: each alcohol contributes the contraction it would
// show alone at the same water content, e = Σ (w_i/a) e_i(a) with a the total alcohol. Exact
// for a single alcohol. Above a = 1 there is no contraction; only the solver goes there.
func (b blend) modelDensity() float64 {
	a := b.alcohol() // not 1 − water, which is 0 for a trace
	volume := b.water() / pureWater
	for _, x := range Alcohols() {
		w := b.mass(x)
		volume += w / x.pure()
		if w > 0 && a < 1 {
			volume += w / a * x.excess(a)
		}
	}
	return 1 / volume
}

// excess is the alcohol's own excess specific volume with water at 20 °C, m³/kg, negative.
func (a Alcohol) excess(w float64) float64 {
	switch a {
	case Propan2ol:
		return excess2.at(w)
	case Propan1ol:
		return excess1.at(w)
	}
	return 1/ethanolDensity(w, 20) - w/pureEthanol - (1-w)/pureWater
}

// floor is the sum of % v/v with volumes simply added.
func (b blend) floor() float64 {
	alcohol := 0.0
	for _, x := range Alcohols() {
		alcohol += b.mass(x) / x.pure()
	}
	return 100 * alcohol / (alcohol + b.water()/pureWater)
}

// reading is one possible meaning of a part: a number in one of the three plain bases.
type reading struct {
	alcohol Alcohol
	value   float64
	basis   Basis
}

// at sets the mass fraction of this reading if the mixture had density rho.
func (r reading) at(rho float64) float64 {
	switch r.basis.plain() {
	case ByVolume:
		return r.value / 100 * r.alcohol.pure() / rho
	case Per100Millis:
		return 10 * r.value / rho
	}
	return r.value / 100
}

func blendAt(rs []reading, rho float64) blend {
	b := blend{rho: rho}
	for _, r := range rs {
		b.w[r.alcohol-1] = r.at(rho)
	}
	return b
}

// solve finds the mixture that fits all readings at once. Without a density it is the fixed
// point of ρ = model(w(ρ)); model(w(ρ)) − ρ falls strictly, for its slope in ρ stays below
// 0.4, so there is exactly one.
func solve(rs []reading, density *Density) (blend, error) {
	if err := possible(rs); err != nil {
		return blend{}, err
	}
	var b blend
	if density != nil {
		b = blendAt(rs, float64(*density))
		b.given = true
	} else {
		rho := root(func(rho float64) float64 {
			return rho - blendAt(rs, rho).modelDensity()
		}, 300, 1000)
		b = blendAt(rs, rho)
	}
	if b.in(ByMass, 0) > 100+rounding || b.in(ByVolume, 0) > 100+rounding {
		return blend{}, errors.New("the alcohols add up to more than 100 %; check figures, bases " +
			"and density")
	}
	if b.given && !(math.Abs(b.rho-b.modelDensity()) <= misfit) {
		return blend{}, fmt.Errorf("a density of %s does not fit these alcohols, which give about "+
			"%.0fkg/m3; check it on the data sheet", *density, b.modelDensity())
	}
	return b, nil
}

// possible refuses what no mixture can be, before anything is solved.
func possible(rs []reading) error {
	sums := map[Basis]float64{}
	for _, r := range rs {
		most := r.alcohol.pure() / 10
		if r.basis == Per100Millis && r.value > most*(1+1e-12) {
			return fmt.Errorf("%s %sg/100mL cannot be: the pure alcohol has %.2fg/100mL; check "+
				"figure and basis", r.alcohol, decimal(r.value), most)
		}
		share := r.value
		if r.basis == Per100Millis { // pure alcohols side by side are the most there can be
			share = 100 * r.value / most
		}
		b := r.basis
		if b == Per100Millis {
			b = ByVolume
		}
		sums[b.plain()] += share
	}
	for _, sum := range sums {
		if sum > 100+rounding {
			return fmt.Errorf("the alcohols add up to %s %%, more than 100; check the figures",
				decimal(sum))
		}
	}
	return nil
}

// bound is the uncertainty of a converted figure of this mixture, % v/v.
func (b blend) bound() float64 {
	if b.given {
		return 0
	}
	kinds, only := 0, Alcohol(0)
	for _, a := range Alcohols() {
		if b.mass(a) > 0 {
			kinds, only = kinds+1, a
		}
	}
	if kinds > 1 {
		return mixtureBound
	}
	return float64(only.Bound())
}

// checkParts refuses lists that cannot be a product.
func checkParts(parts []Part) error {
	if len(parts) == 0 {
		return errors.New("no alcohol is given; name at least one, such as ethanol=70%v/v")
	}
	seen := map[Alcohol]bool{}
	for _, p := range parts {
		if err := p.Alcohol.known(); err != nil {
			return err
		}
		if err := p.Figure.check(); err != nil {
			return fmt.Errorf("%s: %w", p.Alcohol, err)
		}
		if seen[p.Alcohol] {
			return fmt.Errorf("%s is given twice; give each alcohol once", p.Alcohol)
		}
		seen[p.Alcohol] = true
	}
	return nil
}

// Compose solves the parts together at 20 °C. Bases may differ. A density, if given, replaces
// the model and is taken as exact at 20 °C. Ranges and unstated bases are refused: they have
// no single composition; Judge handles them.
func Compose(parts []Part, density *Density) (Composition, error) {
	if err := checkParts(parts); err != nil {
		return Composition{}, err
	}
	for _, p := range parts {
		if !p.Figure.Single() || p.Figure.Basis == Unstated {
			return Composition{}, fmt.Errorf("%s has no single value; give one number and its basis, "+
				"%%v/v, %%w/w, g/100g or g/100mL", p)
		}
	}
	rs := readings(parts)[0]
	b, err := solve(rs, density)
	if err != nil {
		return Composition{}, err
	}
	return b.composition(rs), nil
}

func (b blend) composition(rs []reading) Composition {
	c := Composition{
		Mass: MassPercent(b.value(rs, ByMass, 0)), Volume: VolumePercent(b.value(rs, ByVolume, 0)),
		Grams: GramsPer100mL(b.value(rs, Per100Millis, 0)), Density: Density(b.rho),
		Floor: VolumePercent(b.floor()), Uncertainty: VolumePercent(b.bound()),
	}
	if declaredIn(rs, ByVolume, 0) {
		c.Uncertainty = 0
	}
	if !declaredIn(rs, ByMass, 0) {
		c.MassGive = MassPercent(b.give(ByMass, 0))
	}
	for _, r := range rs {
		c.Shares = append(c.Shares, Share{r.alcohol, MassPercent(b.value(rs, ByMass, r.alcohol)),
			VolumePercent(b.value(rs, ByVolume, r.alcohol))})
	}
	return c
}

// declaredIn tells whether the figure asked for was printed in this basis, so that nothing is
// converted: every part's for the sum, or the one alcohol's.
func declaredIn(rs []reading, basis Basis, of Alcohol) bool {
	for _, r := range rs {
		if (of == 0 || of == r.alcohol) && !r.basis.same(basis) {
			return false
		}
	}
	return true
}

// value is the strength in a basis, of one alcohol or with 0 of all: as printed where it was
// printed in that basis, so that no digit moves, otherwise from the solved mixture.
func (b blend) value(rs []reading, basis Basis, of Alcohol) float64 {
	if !declaredIn(rs, basis, of) {
		return b.in(basis, of)
	}
	sum := 0.0
	for _, r := range rs {
		if of == 0 || of == r.alcohol {
			sum += r.value
		}
	}
	return sum
}

// readings lists every combination of what the parts may mean: both ends of a range, all
// three bases of a bare "%". At most 6³ of them.
func readings(parts []Part) [][]reading {
	all := [][]reading{nil}
	for _, p := range parts {
		var next [][]reading
		for _, head := range all {
			for _, r := range p.readings() {
				next = append(next, append(head[:len(head):len(head)], r))
			}
		}
		all = next
	}
	return all
}

func (p Part) readings() []reading {
	bases := []Basis{p.Figure.Basis}
	if p.Figure.Basis == Unstated {
		bases = []Basis{ByVolume, ByMass, Per100Millis}
	}
	values := []float64{p.Figure.Low}
	if !p.Figure.Single() {
		values = append(values, p.Figure.High)
	}
	var rs []reading
	for _, b := range bases {
		for _, v := range values {
			rs = append(rs, reading{p.Alcohol, v, b})
		}
	}
	return rs
}
