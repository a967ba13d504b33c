package strength

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func amount(t *testing.T, text string) Amount {
	t.Helper()
	a, err := ParseAmount(text)
	require.NoError(t, err, text)
	return a
}

// What goes in decides what comes out: 729.2 mL of 96 % and 297.4 mL of water are 70 % v/v;
// 70 mL + 30 mL of water are 72.29 %, 50 + 50 are 51.83 % (OIML R 22, computed elsewhere);
// 729.2 mL filled up by 270.8 mL of measured water is 71.79 %. Masses come to the same.
func TestWhatWentInComesOut(t *testing.T) {
	for _, x := range []struct {
		stock, in, water string
		low, high        float64
	}{
		{"96%v/v", "729.17mL", "297.4mL", 70, 70},
		{"100%v/v", "70mL", "30mL", 72.29, 72.29},
		{"100%v/v", "50 mL", "50 mL", 51.83, 51.83},
		{"96%v/v", "729.2mL", "270.8mL", 71.79, 71.79},
		// 62.39 % w/w is 70 % v/v (OIML R 22, table IVb): 623.9 g of pure in 1000 g.
		{"100%v/v", "623.9g", "376.1 g", 70, 70},
		{"100%v/v", "0.6239kg", "376.1mL", 70.04, 70.04}, // 376.1 mL of water weigh 375.4 g
		// Pharmacopoeial 96 % is 95.1 to 96.9: 729.17 mL hold 693.4 to 706.6 mL of alcohol, and
		// with the water of the plan for 96 % make 1001 to 999 mL (densities of OIML R 22).
		{"95.1..96.9%v/v", "729.17mL", "297.4mL", 69.3, 70.7},
	} {
		o := Order{Alcohol: Ethanol, Stock: *figure(t, x.stock), Target: Exactly(60, ByVolume),
			Volume: 1000}
		low, high, err := Made(o, amount(t, x.in), amount(t, x.water))
		require.NoError(t, err)
		tol := 0.011
		if low != high {
			tol = 0.06
		}
		require.InDelta(t, x.low, float64(low), tol, "%v", x)
		require.InDelta(t, x.high, float64(high), tol, "%v", x)
	}
}

func TestAmountsAreReadStrictly(t *testing.T) {
	for text, says := range map[string]string{"": "amount", "633": "unit", "633 gg": "unit",
		"0g": "out of range", "0 mL": "out of range", "1001kg": "out of range",
		"1001 L": "out of range", "-5g": "negative", "1,200g": "may mean", "1,200mL": "may mean",
		"٦٣٣g": "another script", "1e3g": "unit", "NaN g": "amount"} {
		_, err := ParseAmount(text)
		require.ErrorContains(t, err, says, text)
	}
	require.Equal(t, Amount{Mass: 1200}, amount(t, "1.2 kg"))
	require.Equal(t, Amount{Mass: 633.2}, amount(t, "633,2g"))
	require.Equal(t, Amount{Volume: 1e6}, amount(t, "1000 L"))
	_, _, err := Made(Order{Alcohol: Ethanol, Stock: Exactly(96, ByVolume),
		Target: Exactly(70, ByVolume), Volume: 1}, Amount{}, Amount{Mass: 1})
	require.ErrorContains(t, err, "weigh or measure")
	_, _, err = Made(Order{Alcohol: Ethanol, Stock: Exactly(96, Unstated),
		Target: Exactly(70, ByVolume), Volume: 1}, Amount{Mass: 1}, Amount{Mass: 1})
	require.ErrorContains(t, err, "no basis")
}

func TestAmountsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := float64(rapid.IntRange(1, 999999).Draw(t, "tenths")) / 10
		for _, a := range []Amount{{Mass: Grams(v)}, {Volume: Millilitres(v)}} {
			back, err := ParseAmount(a.String())
			require.NoError(t, err)
			require.Equal(t, a, back)
		}
	})
}

// Whatever was planned, the planned amounts come to the target, and more water to less.
func TestThePlanComesOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stock := rapid.Float64Range(60, 100).Draw(t, "stock")
		target := rapid.Float64Range(5, stock-1).Draw(t, "target")
		o := Order{Alcohol: rapid.SampledFrom(Alcohols()).Draw(t, "alcohol"),
			Stock: Exactly(stock, ByVolume), Target: Exactly(target, ByVolume), Volume: 500}
		p, err := PlanDilution(o)
		require.NoError(t, err)
		low, high, err := Made(o, Amount{Mass: p.StockMass}, Amount{Mass: p.WaterMass})
		require.NoError(t, err)
		require.InDelta(t, target, float64(low), 1e-6)
		require.Equal(t, low, high)
		byVolume, _, err := Made(o, Amount{Volume: p.Stock}, Amount{Volume: p.Water})
		require.NoError(t, err)
		require.InDelta(t, target, float64(byVolume), 1e-6)
		weaker, _, err := Made(o, Amount{Mass: p.StockMass}, Amount{Mass: p.WaterMass * 1.01})
		require.NoError(t, err)
		require.Less(t, weaker, low)
	})
}
