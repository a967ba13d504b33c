package strength

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The figures are those of OIML R 22 as computed in the other tests; here it is the wording and
// the rounding that the command line and the pages share.
func TestLines(t *testing.T) {
	least := Exactly(70, ByVolume)
	v, err := Judge(parts(t, "ethanol=70%v/v"), &least, nil, nil)
	require.NoError(t, err)
	said := v.Lines()
	require.Equal(t, []string{"70.00 % v/v (give or take 0.00)", "62.39 % w/w", "55.25 g/100 mL",
		"885.56 kg/m3 at 20 °C"}, said[:4])
	require.Equal(t, "pass: "+v.Why, said[4])

	// 70 % v/v of propan-2-ol is 62.66 % w/w within 0.2 % v/v; % v/v rises by 0.93 for each % w/w there. None where the
	// figure is printed by mass.
	v, err = Judge(parts(t, "propan-2-ol=70%v/v"), &least, nil, nil)
	require.NoError(t, err)
	require.Equal(t, []string{"70.00 % v/v (give or take 0.00)", "62.66 % w/w (give or take 0.22)"},
		v.Lines()[:2])
	v, err = Judge(parts(t, "propan-2-ol=62.66%w/w"), &least, nil, nil)
	require.NoError(t, err)
	require.Equal(t, []string{"70.00 % v/v (give or take 0.20)", "62.66 % w/w"}, v.Lines()[:2])

	v, err = Judge(parts(t, "ethanol=70%"), &least, nil, nil)
	require.NoError(t, err)
	require.Len(t, v.Lines(), 1, "no figures where there is no single meaning")

	m, err := Correct(Reading{70, ScaleVolume}, 30, SodaLime)
	require.NoError(t, err)
	require.Equal(t, "66.67 % v/v (give or take 0.57)", m.Lines()[0])
	require.Contains(t, m.Lines()[3], "ethanol and water only")
	require.Equal(t, "a\nb\n", Text([]string{"a", "b"}))
}

func TestLinesOfAPlan(t *testing.T) {
	o := Order{Alcohol: Ethanol, Stock: Exactly(96, ByVolume), Target: Exactly(70, ByVolume),
		Volume: 1000}
	p, err := PlanDilution(o)
	require.NoError(t, err)
	said := p.Lines(o)
	require.Len(t, said, 4)
	require.Contains(t, said[0], "measure 729.2 mL of stock")
	require.Contains(t, said[0], "make up with water to 1000.0 mL")
	require.Contains(t, said[2], "adding 270.8 mL of water instead, gives 71.79 % v/v")
	require.True(t, strings.HasPrefix(said[3], "flammable"))

	o.Stock = Figure{95.1, 96.9, ByVolume}
	p, err = PlanDilution(o)
	require.NoError(t, err)
	require.Contains(t, p.Lines(o)[3], "low end of the stock, 95.10 % v/v")
}

// A propanol shows another density, and on a stem for ethanol another figure, than it has: 75 %
// v/v of propan-2-ol shows 78.3, computed elsewhere.
func TestLinesOfAPropanolPlan(t *testing.T) {
	o := Order{Alcohol: Propan2ol, Stock: Exactly(99.8, ByVolume), Target: Exactly(75, ByVolume),
		Volume: 10000}
	p, err := PlanDilution(o)
	require.NoError(t, err)
	said := p.Lines(o)
	require.Len(t, said, 5)
	require.Contains(t, said[0], "measure 7515.0 mL of stock")
	require.Contains(t, said[3], "a stem marked for ethanol should show 78.3 % v/v in it, not 75.0")
	o.Alcohol, o.Target = Propan1ol, Exactly(99, ByVolume)
	p, err = PlanDilution(o)
	require.NoError(t, err)
	require.Contains(t, p.Lines(o)[3], "kg/m3")
}

func TestLinesOfWetness(t *testing.T) {
	w := WetTime{Seconds: 35, Low: 17, High: 69}
	require.Equal(t, []string{"keeps 50 % v/v for about 35 s, could be 17 s or 69 s", NotValidated},
		w.Lines())
	weak := WetTime{}
	require.Equal(t, 2, len(weak.Lines()))
	require.Contains(t, weak.Lines()[0], "below 50 % v/v from the start")
	require.Equal(t, NotValidated, weak.Lines()[1])
	dry := Seconds(139)
	w.SeenDry = &dry
	require.Contains(t, w.Lines()[1], "looks dry after about 139 s")
}
