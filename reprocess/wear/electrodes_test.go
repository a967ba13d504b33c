package wear

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The worked table of the kit plan: sets = max(1, ceil(days / interval)), one spare set for
// every five begun. The formula is our own; the rows were worked by hand from it.
func TestElectrodeTable(t *testing.T) {
	cases := []struct {
		days, interval                 Days
		perSet, sets, used, spare, all int
	}{
		{14, 3, 3, 5, 15, 3, 18},
		{14, 2, 3, 7, 21, 6, 27},
		{7, 3, 3, 3, 9, 3, 12},
		{7, 2, 3, 4, 12, 3, 15},
		{1, 3, 3, 1, 3, 3, 6},
		{2, 2, 3, 1, 3, 3, 6},
		{3, 3, 3, 1, 3, 3, 6},
		{3.5, 3, 3, 2, 6, 3, 9},
		{30, 3, 3, 10, 30, 6, 36},
		{14, 3.5, 3, 4, 12, 3, 15},
	}
	for _, c := range cases {
		p, err := PlanElectrodes(ElectrodeNeed{Days: c.days, Interval: c.interval,
			PerSet: c.perSet, Pack: 30})
		require.NoError(t, err)
		require.Equal(t, c.sets, p.Sets, "%v d at %v d", c.days, c.interval)
		require.Equal(t, c.used, p.Electrodes)
		require.Equal(t, c.spare, p.Spare)
		require.Equal(t, c.all, p.Total)
		require.Len(t, p.ChangeDays, c.sets-1)
		require.Equal(t, (c.all+29)/30, p.Packs)
	}
}

// Worked by hand: 14 days at 3 days a set change on days 3, 6, 9 and 12; 9 days at 3 end with
// the third set, so day 9 is no change.
func TestChangeDays(t *testing.T) {
	days := func(d, i Days) []Days {
		p, err := PlanElectrodes(ElectrodeNeed{Days: d, Interval: i, PerSet: 3})
		require.NoError(t, err)
		require.Zero(t, p.Packs)
		return p.ChangeDays
	}
	require.Equal(t, []Days{3, 6, 9, 12}, days(14, 3))
	require.Equal(t, []Days{3, 6}, days(9, 3))
	require.Equal(t, []Days{2.5, 5}, days(7, 2.5))
	require.Equal(t, []Days{}, days(3, 3))
}

func TestElectrodeBoundaries(t *testing.T) {
	sets := func(d, i Days) int {
		p, err := PlanElectrodes(ElectrodeNeed{Days: d, Interval: i, PerSet: 1})
		require.NoError(t, err)
		return p.Sets
	}
	require.Equal(t, 5, sets(15, 3))
	require.Equal(t, 5, sets(15+1e-10, 3), "within the slack")
	require.Equal(t, 6, sets(15.001, 3))
	require.Equal(t, 3, sets(0.3, 0.1), "0.3/0.1 is 2.9999999999999996 or 3.0000000000000004")
	require.Equal(t, 7, sets(0.7, 0.1))
	// one spare set for five sets, two from the sixth on
	p, err := PlanElectrodes(ElectrodeNeed{Days: 18, Interval: 3, PerSet: 3, TestSets: 1})
	require.NoError(t, err)
	require.Equal(t, 6, p.Spare)
	require.Equal(t, 27, p.Total, "6 + 2 spare + 1 test set")
}

func TestElectrodeRefusals(t *testing.T) {
	good := ElectrodeNeed{Days: 14, Interval: 3, PerSet: 3}
	for says, change := range map[string]func(*ElectrodeNeed){
		"planned wear":         func(n *ElectrodeNeed) { n.Days = 0 },
		"must be above 0":      func(n *ElectrodeNeed) { n.Days = Days(math.NaN()) },
		"at most 3660":         func(n *ElectrodeNeed) { n.Days = Days(math.Inf(1)) },
		"days per set":         func(n *ElectrodeNeed) { n.Interval = 0 },
		"set has from":         func(n *ElectrodeNeed) { n.PerSet = 0 },
		"pack has from":        func(n *ElectrodeNeed) { n.Pack = -1 },
		"test sets":            func(n *ElectrodeNeed) { n.TestSets = -1 },
		"more than 10000 sets": func(n *ElectrodeNeed) { n.Interval = 1e-9 },
	} {
		n := good
		change(&n)
		_, err := PlanElectrodes(n)
		require.ErrorContains(t, err, says)
	}
}

func TestPlansCoverTheWear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := ElectrodeNeed{Days: Days(rapid.Float64Range(0.1, 60).Draw(t, "days")),
			Interval: Days(rapid.Float64Range(0.5, 7).Draw(t, "interval")),
			PerSet:   rapid.IntRange(1, 12).Draw(t, "per set"),
			Pack:     rapid.IntRange(1, 50).Draw(t, "pack")}
		p, err := PlanElectrodes(n)
		require.NoError(t, err)
		require.GreaterOrEqual(t, float64(p.Sets)*float64(n.Interval), float64(n.Days)-1e-6)
		require.GreaterOrEqual(t, p.Spare*5, p.Electrodes)
		require.GreaterOrEqual(t, p.Packs*n.Pack, p.Total)
		require.Less(t, (p.Packs-1)*n.Pack, p.Total)
		for _, d := range p.ChangeDays {
			require.Less(t, d, n.Days)
		}
	})
}
