package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/wear"
)

// The edges of the days on which something is changed. Sources: the electrode table of the
// function-test reference, 6, and its 5.3 for cells: nothing is changed on the day it comes back.

// A change is on a day of the loan, before its last one, and each day is named once.
func TestOnWhichDaysElectrodesAreChanged(t *testing.T) {
	for _, x := range []struct {
		changes []wear.Days
		days    int
		want    []int
	}{
		{[]wear.Days{3, 6, 9}, 9, []int{3, 6}}, {[]wear.Days{3, 6, 9}, 10, []int{3, 6, 9}},
		{[]wear.Days{0.5, 1, 1.5, 2}, 9, []int{1, 2}}, {[]wear.Days{8, 12}, 9, []int{8}}, {nil, 9, nil},
	} {
		p := PackPlan{Days: x.days, Electrodes: &wear.ElectrodePlan{ChangeDays: x.changes}}
		require.Equal(t, x.want, p.ElectrodeDays(), "%+v", x)
	}
	require.Empty(t, PackPlan{Days: 9}.ElectrodeDays())
}

// Each set after the first is put in on a day of the loan; one set is in the device already.
func TestOnWhichDaysCellsAreChanged(t *testing.T) {
	for _, x := range []struct {
		sets, each, first, days int
		want                    []int
		carried                 int
	}{
		{1, 3, 0, 9, nil, 0}, {2, 3, 0, 9, []int{3}, 2}, {3, 3, 0, 9, []int{3, 6}, 4},
		{4, 3, 0, 9, []int{3, 6}, 6}, {4, 3, 0, 10, []int{3, 6, 9}, 6}, {2, 0, 0, 9, nil, 2},
		{9, 1, 0, 3, []int{1, 2}, 16}, {3, 4, 2, 9, []int{2, 6}, 4},
	} {
		p := PackPlan{Days: x.days, First: x.first,
			Battery: &wear.BatteryPlan{Sets: x.sets, ChangeDay: x.each, Cells: 2 * x.sets}}
		require.Equal(t, x.want, p.BatteryDays(), "%+v", x)
		require.Equal(t, x.carried, p.CarriedCells(), "%+v", x)
	}
	require.Empty(t, PackPlan{Days: 9}.BatteryDays())
	require.Zero(t, PackPlan{Days: 9}.CarriedCells())
}

// A piece that is called back without a word of who did it does not hide the other's.
func TestACallBackWithoutItsEntry(t *testing.T) {
	w, k := calledBackKit()
	w.Pieces["b"] = &Piece{State: Recalled}
	b, ok := CallBackOf(w, k, Now{UTC: dayOne})
	require.True(t, ok)
	require.EqualValues(t, 7, b.What.Seq)
}
