package reprocess

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A phone is named below the least charge, not at it, and when the look is two weeks old.
func TestPhonesToCharge(t *testing.T) {
	c := released(t) // the phone had 93 % at its battery step
	require.Empty(t, PhonesToCharge(c.w, c.now))
	c.w.Settings.MinCharge = 93
	require.Empty(t, PhonesToCharge(c.w, c.now))
	c.w.Settings.MinCharge = 94
	all := PhonesToCharge(c.w, c.now)
	require.Len(t, all, 1)
	require.Equal(t, 93, all[0].Percent)
	c.w.Settings.MinCharge = 0
	at := func(i Instant) Now { n := c.now; n.UTC = i; return n }
	old := all[0].At.Add(ChargeAgeDays * 24 * time.Hour)
	require.Empty(t, PhonesToCharge(c.w, at(old-1)))
	require.Len(t, PhonesToCharge(c.w, at(old)), 1)
	c.w.Pieces["P18-2"].Cycle = "" // taken over from paper: nobody looked
	require.Equal(t, []Charge{{Kit: "K18", Percent: -1}}, PhonesToCharge(c.w, c.now))
	c.do(c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 3})
	require.Empty(t, PhonesToCharge(c.w, c.now), "it is out")
}

// Kits stand in lists as people count them.
func TestKitsByNumber(t *testing.T) {
	kits := []*Kit{{ID: "K2", Number: "10"}, {ID: "K10", Number: "9"}, {ID: "K1", Number: "A1"},
		{ID: "K3", Number: "9"}}
	slices.SortFunc(kits, ByNumber)
	var order []string
	for _, k := range kits {
		order = append(order, k.Number+" "+k.ID)
	}
	require.Equal(t, []string{"9 K10", "9 K3", "10 K2", "A1 K1"}, order)
}

func TestWhatEndsToday(t *testing.T) {
	c := released(t)
	k, today := c.w.Kits["K18"], c.now.Today()
	k.Release.CellUntil = ""
	for until, want := range map[Instant]int{
		AtHour(today, "00:00", nil) - 1: 0, AtHour(today, "00:00", nil): 1,
		AtHour(today.AddDays(1), "00:00", nil) - 1: 1, AtHour(today.AddDays(1), "00:00", nil): 0,
	} {
		k.Release.Until = until
		require.Len(t, EndingToday(c.w, c.now), want, until)
	}
	k.Release.Until = 0
	for day, want := range map[Date]int{today.AddDays(-1): 0, today: 1, today.AddDays(1): 0} {
		k.Release.CellUntil = day
		require.Len(t, EndingToday(c.w, c.now), want, day)
	}
	k.Release.CellUntil = ""
	c.w.Kits["K18"].Keep = &Keep{Token: "t", Day: today, Until: c.now.UTC + 1}
	require.Equal(t, []Ending{{Kit: "K18", What: EndsKeep}}, EndingToday(c.w, c.now))
	c.now.UTC++
	require.Empty(t, EndingToday(c.w, c.now))
	ada := c.w.People["ada"]
	ada.Competences = []Competence{{Procedure: "R12", From: "2026-01-01", Until: today}}
	require.Equal(t, []Ending{{Person: "ada", What: "R12"}}, EndingToday(c.w, c.now))
	ada.Competences = append(ada.Competences, Competence{Procedure: "R12", From: today.AddDays(1)})
	require.Empty(t, EndingToday(c.w, c.now), "renewed already")
	ada.Competences = ada.Competences[:1]
	ada.Left = today.AddDays(-1)
	require.Empty(t, EndingToday(c.w, c.now))
}

func TestWhatWaitsForACountersignature(t *testing.T) {
	c := newClinic(t)
	require.Empty(t, ToCountersign(c.w))
	learner := *c.w.People["ada"]
	learner.ID, learner.Name = "leo", "Leo Learner"
	learner.Competences = []Competence{{Procedure: "R12", From: "2026-01-01", Learning: true},
		{Procedure: "R13", From: "2026-01-01", Learning: true}}
	c.w.People["leo"] = &learner
	c.goodSteps(Actor{Person: &learner, Signed: true})
	all := ToCountersign(c.w)
	require.Len(t, all, 1)
	require.Equal(t, []string{"Leo Learner"}, all[0].Names)
	require.Positive(t, all[0].Steps)
}

// Whoever promised a day is called again the day after it, not before.
func TestWhomToCall(t *testing.T) {
	c := released(t)
	dan, day := c.actor("dan"), c.now.Today()
	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 1})
	loan := c.w.Kits["K18"].Loan
	on := func(days int) Now { n := c.now; n.UTC += Instant(days) * 24 * 3600 * 1000; return n }
	require.Empty(t, ToCall(c.w, on(1)), "due on the day is not over")
	require.Len(t, ToCall(c.w, on(2)), 1)
	c.w.Loans[loan].Calls = []Call{{Result: CallWillBring, On: day.AddDays(5)}}
	require.Empty(t, ToCall(c.w, on(5)))
	require.Len(t, ToCall(c.w, on(6)), 1)
	c.w.Loans[loan].Calls = append(c.w.Loans[loan].Calls, Call{Result: CallNotReached})
	require.Len(t, ToCall(c.w, on(2)), 1, "the newest call counts")
}

// People count 9 before 17.
func TestKitsAreOrderedAsPeopleCount(t *testing.T) {
	require.Negative(t, ByNumber(&Kit{Number: "9"}, &Kit{Number: "17"}))
	require.Positive(t, ByNumber(&Kit{Number: "18"}, &Kit{Number: "17"}))
	require.Zero(t, ByNumber(&Kit{ID: "K1", Number: "9"}, &Kit{ID: "K1", Number: "9"}))
}
