package strength

import (
	"errors"
	"fmt"
	"math"
)

// Agreement is how far two figures that one label gives for one alcohol may lie apart, % v/v;
// common practice. The bound of a conversion comes on top.
const Agreement VolumePercent = 0.3

// Apart says how far two stated figures of one alcohol lie apart, and whether they agree. Ranges
// agree where they come near each other. A bare "%" cannot be compared.
func Apart(a Alcohol, one, two Figure) (by VolumePercent, agree bool, err error) {
	if err := a.known(); err != nil {
		return 0, false, err
	}
	var ends [2][2]float64
	for i, f := range []Figure{one, two} {
		if err := f.check(); err != nil {
			return 0, false, err
		}
		if f.Basis == Unstated {
			return 0, false, fmt.Errorf("%s has no basis, so it cannot be compared with the other "+
				"figure", f)
		}
		ends[i] = [2]float64{100 * a.fraction(f.Low, f.Basis), 100 * a.fraction(f.High, f.Basis)}
	}
	between := math.Max(0, math.Max(ends[0][0]-ends[1][1], ends[1][0]-ends[0][1]))
	give := float64(Agreement)
	if one.Basis.plain() != two.Basis.plain() {
		give += float64(a.Bound())
	}
	return VolumePercent(between), between <= give+1e-9, nil
}

// Both is the range in % v/v that two figures of one alcohol span: judged by its ends, neither
// of the two is chosen silently.
func Both(a Alcohol, one, two Figure) Figure {
	low, high := math.Inf(1), math.Inf(-1)
	for _, f := range []Figure{one, two} {
		low = math.Min(low, 100*a.fraction(f.Low, f.Basis))
		high = math.Max(high, 100*a.fraction(f.High, f.Basis))
	}
	return Figure{low, high, ByVolume}
}

// densityBound is what the density of a mixture of known strength is good for, kg/m³: between
// data sets for the propanols, and the last digit of a data sheet for all.
func (a Alcohol) densityBound() float64 {
	switch a {
	case Propan2ol:
		return 1.5
	case Propan1ol:
		return 2
	}
	return 0.5
}

// OfDensity gives the strength of an alcohol and water alone whose density at 20 °C is d, and
// how far it can be trusted. A density that no mixture has is refused.
func OfDensity(a Alcohol, d Density) (v, give VolumePercent, err error) {
	if err := a.known(); err != nil {
		return 0, 0, err
	}
	p, ok := a.massOfDensity(float64(d), 20)
	if !ok {
		return 0, 0, errors.New("a density of " + d.String() + " at 20 °C is that of no mixture of " +
			a.String() + " and water")
	}
	if a == Ethanol { // what a data sheet prints is good for its last digit
		perP, qPerP := a.slopes(p, 20)
		return VolumePercent(100 * a.volumeFraction(p)),
			VolumePercent(a.densityBound() / math.Abs(perP) * qPerP), nil
	}
	return VolumePercent(100 * a.volumeFraction(p)), VolumePercent(a.modelPercent(p, 20)), nil
}
