package wear

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Letters and shapes after IEC 60086 and IEC 61960.
func TestCellOf(t *testing.T) {
	for d, want := range map[string]Chemistry{"LR03": Alkaline, "LR1": Alkaline,
		"FR6": Lithium15, "CR2032": LithiumCoin, "CR2450": LithiumCoin, "BR2032": LithiumCoin,
		"PR44": ZincAir, "PR48": ZincAir, "SR44": Silver, "HR6": NiMH, "Li-ion": LiIon,
		"INR18650": LiIon} {
		c, err := CellOf(d)
		require.NoError(t, err)
		require.Equal(t, want, c.Chemistry, d)
		require.Equal(t, d, c.Designation)
	}
	for _, d := range []string{"", "AAA", "lr03", "LR", "XR03", "LR03 ", "6LR61", "LR123456"} {
		_, err := CellOf(d)
		require.ErrorContains(t, err, "as printed on the cell", d)
	}
}

func TestCellTable(t *testing.T) {
	for _, c := range Cells() {
		got, err := CellOf(c.Designation)
		require.NoError(t, err)
		require.Equal(t, c, got)
		require.Greater(t, c.NominalMV, c.EndMV)
		require.LessOrEqual(t, c.Low, c.High)
		if b, found := bands[c.Chemistry]; found && c.FreshMV > 0 && c.Designation != "BR2032" {
			require.LessOrEqual(t, b.use, c.FreshMV, "a fresh %s is usable", c.Designation)
			require.Greater(t, b.high, c.FreshMV)
		}
	}
	for d, want := range map[string]bool{"CR2032": true, "LR44": true, "PR44": true,
		"SR44": true, "LR03": false, "Li-ion": false, "HR03": false} {
		c, err := CellOf(d)
		require.NoError(t, err)
		require.Equal(t, want, c.SwallowCaution(), d)
	}
}

var badNumbers = []string{"", " ", "0", "-1", "+1", ".5", "5.", "1.2.3", "1,2,3", "1,000.5",
	"1e3", "NaN", "Inf", "0x10", "1_0", "1 0", "1.0000001", "1234567890", "\u0661", "\uff11"}

func TestParseNumbers(t *testing.T) {
	d, err := ParseDays("3,5")
	require.NoError(t, err)
	require.Equal(t, Days(3.5), d)
	c, err := ParseMilliamps("2.0")
	require.NoError(t, err)
	require.Equal(t, Microamps(2000), c)
	a, err := ParseMilliampHours("1000")
	require.NoError(t, err)
	require.Equal(t, MicroampHours(1_000_000), a)
	r, err := ParseDerating("1")
	require.NoError(t, err)
	require.Equal(t, Derating(million), r)
	for _, s := range badNumbers {
		_, err = ParseDays(s)
		require.ErrorContains(t, err, "number of days", "%q", s)
		_, err = ParseMilliamps(s)
		require.ErrorContains(t, err, "current in mA", "%q", s)
		_, err = ParseMilliampHours(s)
		require.ErrorContains(t, err, "capacity in mAh", "%q", s)
		_, err = ParseDerating(s)
		require.ErrorContains(t, err, "derating", "%q", s)
	}
	_, err = ParseDerating("1.000001")
	require.Error(t, err)
	_, err = ParseMilliamps("0.0001")
	require.Error(t, err, "finer than 1 µA")
}

func TestParseVolts(t *testing.T) {
	for s, want := range map[string]Millivolts{"1.52V": 1520, "1,52 V": 1520, "1520mV": 1520,
		"3V": 3000, "-1.5V": -1500, "0V": 0, "1.525V": 1525} {
		v, err := ParseVolts(s)
		require.NoError(t, err)
		require.Equal(t, want, v, s)
	}
	for _, s := range []string{"", "1.52", "V", "1.52v", "1.5255V", "1520.5mV", "1.52 V V",
		"--1V", "1.52VmV", "NaNV", "1e3mV", "9999V", "1.5MV"} {
		_, err := ParseVolts(s)
		require.ErrorContains(t, err, "with its unit", "%q", s)
	}
}

func FuzzParseVolts(f *testing.F) {
	for _, s := range []string{"1.52V", "1,52 V", "-1520mV", "V", "1.5255V", "mV"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, err := ParseVolts(s)
		if err != nil {
			return
		}
		again, err := ParseVolts(v.String())
		if err != nil || again != v || !strings.Contains(s, "V") {
			t.Fatalf("%q was read as %s", s, v)
		}
	})
}
