package strength

import (
	"errors"
	"fmt"
	"math"
)

// NotValidated must stand beside every figure of this file that a person sees.
const NotValidated = "an estimate that no measurement of the same case stands behind: it " +
	"explains, it never passes or fails anything; what was seen on the surface counts"

// Film is a wiped liquid film and the room around it.
type Film struct {
	Parts       []Part // stated bases, one number each
	Density     *Density
	Mass        GramsPerSquareMetre
	Temperature Celsius // of liquid, surface and air, 0..40
	Air         MetresPerSecond
	Humidity    HumidityPercent
}

// Room values where nothing better is known, and the strength that counts as kept.
const (
	StillRoomAir   MetresPerSecond = 0.2
	MiddleHumidity HumidityPercent = 50
	KeptStrength   VolumePercent   = 50 // below it alcohol falls off sharply
)

// WetTime is how long a film keeps KeptStrength. Low and High are the mass transfer doubled
// and halved.
type WetTime struct {
	Seconds, Low, High Seconds
	// SeenDry is when the film would look dry, nil if not within two hours (humid air). It is
	// much later: alcohol leaves first, the last half of the wet time is mostly water.
	SeenDry *Seconds
}

// Outlook is the answer in one word.
type Outlook string

// The outlooks. None of them is a verdict.
const (
	Likely   Outlook = "likely"
	Doubtful Outlook = "doubtful"
	Unlikely Outlook = "unlikely"
)

// Outlook tells whether the film holds for a contact time: likely if it does even with the
// mass transfer doubled, unlikely if not even with it halved.
func (w WetTime) Outlook(contact Seconds) Outlook { return outlook(w.Low, w.High, contact) }

// UnknownFilm is the band where the film is a guess as well: a factor of three either way.
func (w WetTime) UnknownFilm() (low, high Seconds) { return w.Seconds / 3, w.Seconds * 3 }

// OutlookUnknownFilm is Outlook over the wider band.
func (w WetTime) OutlookUnknownFilm(contact Seconds) Outlook {
	return outlook(w.Seconds/3, w.Seconds*3, contact)
}

func outlook(low, high, contact Seconds) Outlook {
	switch {
	case low >= contact:
		return Likely
	case high < contact:
		return Unlikely
	}
	return Doubtful
}

// vapour holds the recalled constants of one liquid: Antoine log10(P/mmHg) = a − b/(c + t),
// van Laar constants with water, diffusion in air m²/s, molar mass g/mol.
type vapour struct {
	a, b, c         float64
	laarAlc, laarW  float64
	diffusion, mole float64
}

// From memory, checked against the azeotropes (tests). Index Alcohol−1; water last.
var vapours = [4]vapour{
	{8.20417, 1642.89, 230.300, 1.6798, 0.9227, 1.18e-5, molarEthanol},
	{8.11778, 1580.92, 219.61, 2.4702, 1.0938, 1.0e-5, molarPropanol},
	{7.74416, 1437.686, 198.463, 2.9095, 1.1572, 1.0e-5, molarPropanol},
	{8.07131, 1730.63, 233.426, 0, 0, 2.5e-5, molarWater},
}

const (
	water          = 3
	mmHg           = 133.322 // Pa
	gasConstant    = 8.314   // J/(mol K)
	freezing       = 273.15  // K at 0 °C
	transfer       = 2.0e-3  // m/s for ethanol in air of 0.2 m/s; uncertain by a factor of 2
	drySeen        = 0.03    // part of the first mass at which a film looks dry (own choice)
	longestSeconds = 7200
)

// pressure is the saturation pressure in Pa at t °C.
func (v vapour) pressure(t float64) float64 { return mmHg * math.Pow(10, v.a-v.b/(v.c+t)) }

// laar gives the two activity coefficients of one alcohol with water at alcohol mole
// fraction x.
func (v vapour) laar(x float64) (alcohol, ofWater float64) {
	if x <= 0 {
		return math.Exp(v.laarAlc), 1
	}
	y := 1 - x
	sum := v.laarAlc*x + v.laarW*y
	la, lw := v.laarW*y/sum, v.laarAlc*x/sum
	return math.Exp(v.laarAlc * la * la), math.Exp(v.laarW * lw * lw)
}

// film is the state while it dries: grams per square metre of the three alcohols and water.
type film struct {
	m     [4]float64
	rate  [4]float64 // k M P/(R T) per liquid, g/(m² s) at activity 1
	humid float64    // activity of the room's water, 0..1
}

// EstimateWetness integrates the drying film: evaporation by the gas side alone, room air free
// of alcohol. Not validated; see NotValidated. A product that starts below 50 % v/v keeps
// nothing and answers 0.
func EstimateWetness(f Film) (WetTime, error) {
	if err := f.check(); err != nil {
		return WetTime{}, err
	}
	c, err := Compose(f.Parts, f.Density)
	if err != nil {
		return WetTime{}, err
	}
	if c.Mass == 0 {
		return WetTime{}, errors.New("there is no alcohol in it; name the alcohol and its strength")
	}
	kept, dry := f.start(c).dryOut()
	w := WetTime{Seconds: Seconds(kept), Low: Seconds(kept / 2), High: Seconds(kept * 2)}
	if dry <= longestSeconds {
		s := Seconds(dry)
		w.SeenDry = &s
	}
	return w, nil
}

// FilmNeeded is the film that keeps KeptStrength for a contact time in the room of f, whose
// own mass does not matter: times are in proportion to the mass. Ask the user for High, the
// film that holds even with the mass transfer doubled.
func FilmNeeded(f Film, contact Seconds) (middle, low, high GramsPerSquareMetre, err error) {
	f.Mass = 1
	w, err := EstimateWetness(f)
	switch {
	case err != nil:
		return 0, 0, 0, err
	case !(contact > 0) || math.IsInf(float64(contact), 1):
		return 0, 0, 0, errors.New("the contact time must be above 0 seconds")
	case w.Seconds == 0:
		return 0, 0, 0, fmt.Errorf("the product starts below %s, no film of it keeps that",
			KeptStrength)
	}
	middle = GramsPerSquareMetre(contact / w.Seconds)
	return middle, middle / 2, middle * 2, nil
}

func (f Film) check() error {
	switch {
	case !(f.Mass > 0 && f.Mass <= 500):
		return errors.New("the film must be above 0 and at most 500 grams per square metre")
	case !(f.Temperature >= userCold && f.Temperature <= warmest):
		return rangeError("a film", f.Temperature, userCold, warmest)
	case !(f.Air >= 0.02 && f.Air <= 5):
		return errors.New("the air must move at 0.02 to 5 metres per second; 0.2 is a quiet room")
	case !(f.Humidity >= 0 && f.Humidity <= 100):
		return fmt.Errorf("a humidity of %g %% is not between 0 and 100", float64(f.Humidity))
	}
	return nil
}

func (f Film) start(c Composition) film {
	var s film
	t, total := float64(f.Temperature), float64(f.Mass)
	s.m[water] = total * (1 - float64(c.Mass)/100)
	for _, x := range c.Shares {
		s.m[x.Alcohol-1] = total * float64(x.Mass) / 100
	}
	for i, v := range vapours {
		k := transfer * math.Sqrt(float64(f.Air/StillRoomAir)) *
			math.Pow(v.diffusion/vapours[0].diffusion, 2.0/3)
		s.rate[i] = k * v.mole * v.pressure(t) / (gasConstant * (freezing + t))
	}
	s.humid = float64(f.Humidity) / 100
	return s
}

// dryOut returns the seconds until the alcohols fall below KeptStrength and until the film
// looks dry (+Inf if it stays wet). Each Euler step removes at most a thousandth of the film;
// finer steps move the result by less than 0.1 %.
func (s film) dryOut() (kept, dry float64) {
	begin := s.total()
	time, falling := 0.0, true
	for s.total() > drySeen*begin {
		if falling && s.volumePercent() < float64(KeptStrength) {
			kept, falling = time, false
		}
		step := s.step()
		if time += step; time > longestSeconds && !falling || step == 0 {
			return kept, math.Inf(1)
		}
	}
	if falling {
		kept = time
	}
	return kept, time
}

func (s *film) total() float64 { return s.m[0] + s.m[1] + s.m[2] + s.m[3] }

func (s *film) volumePercent() float64 {
	total := s.total()
	b := blend{w: [3]float64{s.m[0] / total, s.m[1] / total, s.m[2] / total}}
	b.rho = b.modelDensity()
	return b.in(ByVolume, 0)
}

// step evaporates for a moment and tells how long it was; 0 means that nothing moves any more.
func (s *film) step() float64 {
	flux := s.flux()
	const part = 0.001
	total, most := s.total(), 0.0
	for _, f := range flux {
		most = math.Max(most, math.Abs(f))
	}
	dt := part * total / most
	if most == 0 || dt > longestSeconds {
		return 0
	}
	for i := range s.m {
		s.m[i] = math.Max(0, s.m[i]-flux[i]*dt)
	}
	return dt
}

// flux is what leaves per second, g/(m² s); negative for water drawn from humid air. Several
// alcohols are each taken at the activity they would have if all alcohol were theirs.
func (s *film) flux() (flux [4]float64) {
	var moles [4]float64
	for i, m := range s.m {
		moles[i] = m / vapours[i].mole
	}
	alcohol := moles[0] + moles[1] + moles[2]
	sum := alcohol + moles[water]
	x := alcohol / sum
	logWater := 0.0
	for i := range water {
		if moles[i] <= 1e-12*sum { // the last traces would only bring rounding
			continue
		}
		ga, gw := vapours[i].laar(x)
		flux[i] = s.rate[i] * ga * moles[i] / sum
		logWater += math.Log(gw) * moles[i] / alcohol
	}
	flux[water] = s.rate[water] * (math.Exp(logWater)*moles[water]/sum - s.humid)
	return flux
}
