package strength

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestParseStrengthUnderstands(t *testing.T) {
	cases := map[string]Figure{
		"70%v/v": Exactly(70, ByVolume), "70 % v/v": Exactly(70, ByVolume),
		"70 % (V/V)": Exactly(70, ByVolume), "70 %vol": Exactly(70, ByVolume),
		"70 vol%": Exactly(70, ByVolume), "70 Vol.-%": Exactly(70, ByVolume),
		"70\u00a0%\u202fv/v": Exactly(70, ByVolume), " 70%v/v ": Exactly(70, ByVolume),
		"62,4%w/w": Exactly(62.4, ByMass), "62.4 % m/m": Exactly(62.4, ByMass),
		"62.4 % (w/w)": Exactly(62.4, ByMass), "62.4 wt%": Exactly(62.4, ByMass),
		"63.1g/100g": Exactly(63.1, Per100Grams), "63,1 g/100 g": Exactly(63.1, Per100Grams),
		"55.25g/100mL": Exactly(55.25, Per100Millis), "55.25 % w/v": Exactly(55.25, Per100Millis),
		"55.25 g per 100 ml": Exactly(55.25, Per100Millis),
		"70%":                Exactly(70, Unstated), "0%": Exactly(0, Unstated),
		"100%v/v": Exactly(100, ByVolume), "070%v/v": Exactly(70, ByVolume),
		"95.1..96.9%v/v": {95.1, 96.9, ByVolume}, "60–80 %": {60, 80, Unstated},
		"60 - 80 % w/w": {60, 80, ByMass}, "96..96%v/v": Exactly(96, ByVolume),
	}
	for text, want := range cases {
		got, err := ParseStrength(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
	}
}

// TestEverySpelling: each spelling in the table works in capitals and with spaces, and none of
// them is out of reach because of a capital or a space in the table itself.
func TestEverySpelling(t *testing.T) {
	require.Len(t, strengthUnits, 30)
	for unit, basis := range strengthUnits {
		require.Equal(t, squeeze(unit), unit)
		for _, text := range []string{"62.4" + unit, "62,4 " + unit, "62.4" + strings.ToUpper(unit),
			"62.4" + strings.Replace(unit, "%", " % ", 1), "60..62.4" + unit} {
			f, err := ParseStrength(text)
			require.NoError(t, err, text)
			require.Equal(t, basis, f.Basis, text)
			require.Equal(t, 62.4, f.High, text)
		}
	}
	for b := ByVolume; b <= Unstated; b++ {
		require.Equal(t, b, strengthUnits[strings.ToLower(b.String())], "the canonical spelling")
	}
}

func TestParseStrengthRefuses(t *testing.T) {
	cases := map[string]string{
		"": "does not begin with a plain number", "70": "has no unit", "70°": "in degrees",
		"70 °GL": "in degrees", "-70%v/v": "negative", "−70%v/v": "negative",
		"+70%v/v": "plain number", "NaN%v/v": "plain number", "inf%": "plain number",
		"100.01%v/v": "between 0 and 100", "1000%v/v": "between 0 and 100",
		"7e1%v/v": "not one plain number", "0x46%v/v": "not one plain number",
		"7_0%v/v": "not one plain number", "70 70%v/v": "not one plain number",
		"7 0%v/v": "not one plain number", "70.%v/v": "not one plain number",
		".7%v/v": "plain number", "70.5.5%v/v": "not one plain number",
		"70,5,5%v/v": "not one plain number", "70%v/w": "not understood", "70 proof": "not understood",
		"70 kg": "not understood", "70g/1 00g": "not understood", "70%%": "not understood",
		"٧٠%v/v": "another script", "７０%v/v": "another script", "70％": "another script",
		"70٪": "another script", "७०%": "another script", "70%v/v\x00": "cannot be read",
		"7\t0%": "cannot be read", "96.9..95.1%v/v": "runs backwards", "60..%": "plain number",
		"60..80..90%": "not one plain number", "80..101%v/v": "between 0 and 100",
		"%v/v": "plain number", strings.Repeat("1", 65): "too long", "\xff70%": "cannot be read",
	}
	for text, says := range cases {
		_, err := ParseStrength(text)
		require.ErrorContains(t, err, says, "%q", text)
		require.NotContains(t, err.Error(), "strconv", text)
	}
}

func TestFigurePrints(t *testing.T) {
	for text, f := range map[string]Figure{
		"70%v/v": Exactly(70, ByVolume), "62.39%w/w": Exactly(62.39, ByMass),
		"63.1g/100g": Exactly(63.1, Per100Grams), "55g/100mL": Exactly(55, Per100Millis),
		"70%": Exactly(70, Unstated), "95.1..96.9%v/v": {95.1, 96.9, ByVolume},
	} {
		require.Equal(t, text, f.String())
	}
	require.Equal(t, "propan-2-ol=63.1g/100g", Part{Propan2ol, Exactly(63.1, Per100Grams)}.String())
	require.Equal(t, "885.6kg/m3", Density(885.6).String())
	require.Equal(t, "1000mL", Millilitres(1000).String())
	require.Equal(t, "-5.5°C", Celsius(-5.5).String())
	require.Equal(t, "70%v/v 62%w/w 55g/100mL",
		strings.Join([]string{VolumePercent(70).String(), MassPercent(62).String(),
			GramsPer100mL(55).String()}, " "))
	require.Equal(t, "basis(0)", Basis(0).String())
	require.Equal(t, "alcohol(9)", Alcohol(9).String())
}

// FuzzParseStrength: what is understood has one spelling, and that spelling reads back.
func FuzzParseStrength(f *testing.F) {
	seeds := []string{"70%v/v", "62,4 % (w/w)", "63.1g/100g", "55 g/100 mL", "70%", "95.1..96.9%v/v",
		"60–80 %", "70°", "NaN%", "7e1%", "７０%", "0.1%", "100%v/v", "-1%", "70 % (V/V)", "%", ".."}
	for _, s := range seeds {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		x, err := ParseStrength(text)
		if err != nil {
			require.NotContains(t, err.Error(), "strconv")
			return
		}
		again, err := ParseStrength(x.String())
		require.NoError(t, err, "%q prints as %q", text, x)
		require.Equal(t, x, again)
		require.Equal(t, x.String(), again.String())
		require.True(t, x.Low >= 0 && x.Low <= x.High && x.High <= 100)
	})
}

// FuzzQuantities does the same for the quantities that print.
func FuzzQuantities(f *testing.F) {
	for _, s := range []string{"885.6kg/m3", "0.8856 g/mL", "1L", "1000mL", "-5°C", "21,5",
		"1,000mL"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if d, err := ParseDensity(text); err == nil {
			again, err := ParseDensity(d.String())
			require.NoError(t, err)
			require.Equal(t, d, again)
		}
		if v, err := ParseMillilitres(text); err == nil {
			again, err := ParseMillilitres(v.String())
			require.NoError(t, err)
			require.Equal(t, v, again)
		}
		if c, err := ParseCelsius(text); err == nil {
			again, err := ParseCelsius(c.String())
			require.NoError(t, err)
			require.Equal(t, c, again)
		}
		if r, err := ParseReading(text, 0); err == nil {
			again, err := ParseReading(r.String(), r.Scale)
			require.NoError(t, err)
			require.Equal(t, r, again)
		}
		if p, err := ParsePart(text); err == nil {
			again, err := ParsePart(p.String())
			require.NoError(t, err)
			require.Equal(t, p, again)
		}
	})
}

func TestParseDensity(t *testing.T) {
	for text, want := range map[string]Density{
		"0.8765g/mL": 876.5, "0,8765 g/ml": 876.5, "876.5kg/m3": 876.5, "876.5 kg/m³": 876.5,
		"0.8856g/cm3": 885.6, "0.8856 kg/L": 885.6, "885.6g/L": 885.6, "600kg/m3": 600,
		"1.4g/mL": 1400,
	} {
		got, err := ParseDensity(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
	}
	for text, says := range map[string]string{
		"876.5": "missing or not understood", "876.5g/mL": "out of range", "0.8765kg/m3": "out of range",
		"-0.8g/mL": "negative", "NaNg/mL": "plain number", "8e2kg/m3": "not understood",
		"599.99kg/m3": "out of range", "1400.01kg/m3": "out of range", "٠.٨g/mL": "another script",
		"0.87 70 g/mL": "not understood",
	} {
		_, err := ParseDensity(text)
		require.ErrorContains(t, err, says, text)
	}
}

func TestParseMillilitres(t *testing.T) {
	for text, want := range map[string]Millilitres{"1000mL": 1000, "1 L": 1000, "0.5l": 500,
		"2,5L": 2500, "0,125L": 125, "1000L": 1e6, "70cl": 700} {
		got, err := ParseMillilitres(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
	}
	for text, says := range map[string]string{"1000": "missing", "0mL": "out of range",
		"1,000mL": "may mean", "1000.001L": "out of range", "-1L": "negative", "1e3mL": "missing"} {
		_, err := ParseMillilitres(text)
		require.ErrorContains(t, err, says, text)
	}
}

func TestParseRoomValues(t *testing.T) {
	for text, want := range map[string]Celsius{"30": 30, "30°C": 30, "30 °C": 30, "-5": -5,
		"−5,5": -5.5,
		"-0":   0} {
		got, err := ParseCelsius(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
		require.False(t, math.Signbit(float64(got)) && got == 0)
	}
	for _, text := range []string{"", "86°F", "30°", "thirty", "1e1", "300K", "--5", "٣٠", "-274"} {
		_, err := ParseCelsius(text)
		require.Error(t, err, text)
	}
	film, err := ParseFilm("10g/m2")
	require.NoError(t, err)
	require.Equal(t, GramsPerSquareMetre(10), film)
	air, err := ParseAir("0,2 m/s")
	require.NoError(t, err)
	require.Equal(t, MetresPerSecond(0.2), air)
	wet, err := ParseHumidity("50%")
	require.NoError(t, err)
	require.Equal(t, HumidityPercent(50), wet)
	for _, text := range []string{"0", "500.1", "-1", "10kg"} {
		_, err = ParseFilm(text)
		require.ErrorContains(t, err, "grams per square metre", text)
	}
	for _, text := range []string{"0.019", "5.01", "1km/h"} {
		_, err = ParseAir(text)
		require.ErrorContains(t, err, "metres per second", text)
	}
	_, err = ParseHumidity("100.1")
	require.ErrorContains(t, err, "between 0 and 100")
}

func TestParseNames(t *testing.T) {
	for _, a := range Alcohols() {
		got, err := ParseAlcohol(a.String())
		require.NoError(t, err)
		require.Equal(t, a, got)
	}
	for _, text := range []string{"", "Ethanol", "isopropanol", "propanol", "alcohol(0)"} {
		_, err := ParseAlcohol(text)
		require.ErrorContains(t, err, "write ethanol", text)
	}
	for _, text := range []string{"ethanol", "ethanol 70%v/v", "70%v/v=ethanol", "ethanol=", "=70%"} {
		_, err := ParsePart(text)
		require.Error(t, err, text)
	}
}

// A density with the other unit is asked about, never taken.
func TestTheOtherUnitIsAskedAbout(t *testing.T) {
	for text, says := range map[string]string{
		"0.8856kg/m3": "is 0.8856g/mL meant?", "885.6g/mL": "is 885.6kg/m3 meant?",
		"885,6 g/cm3": "is 885,6kg/m3 meant?", "885.6kg/L": "is 885.6kg/m3 meant?",
	} {
		_, err := ParseDensity(text)
		require.ErrorContains(t, err, says)
		_, err = ParseReading(text, 0)
		require.ErrorContains(t, err, says)
	}
	for _, text := range []string{"5kg/m3", "0g/mL", "99999g/mL"} {
		_, err := ParseDensity(text)
		require.ErrorContains(t, err, "out of range; write")
	}
	_, err := ParseReading("70°", 0)
	require.ErrorContains(t, err, "several scales")
	require.NotContains(t, err.Error(), "label")
}
