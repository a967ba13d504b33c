package reprocess

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// checkedClinic has a released kit whose charger needs a safety test every 24 months and whose
// recorder is looked over every 12.
func checkedClinic(t *testing.T) *clinic {
	c := newClinic(t)
	m := c.w.Models["M10"]
	m.Parts = []string{"charger"}
	c.do(c.actor("boss"), SetChecks{Model: "M10", Checks: []CheckRule{
		{Words: "electrical safety", On: "charger", Months: 24, Basis: "clinic's own rule"},
		{Words: "maker's maintenance", Months: 12}}})
	return c
}

func (c *clinic) check(i int) string { return c.w.Models["M10"].Checks[i].ID }

func (c *clinic) recordCheck(i int, on Date, result string) {
	c.t.Helper()
	c.do(c.actor("boss"), RecordCheck{Kit: "K18", Piece: "P18-1", Check: c.check(i), On: on,
		Result: result, Tester: "Workshop", SHA256: strings.Repeat("0a", 32)})
}

// A calendar month later is the same day, or the month's last where it has no such day
// (ISO 8601-2 leaves it open; common practice with due dates). 2028 is a leap year.
func TestMonthsOfTheCalendar(t *testing.T) {
	for _, x := range []struct {
		from   Date
		months int
		to     Date
	}{{"2026-11-24", 12, "2027-11-24"}, {"2026-11-24", 1, "2026-12-24"},
		{"2026-12-31", 2, "2027-02-28"}, {"2027-12-31", 2, "2028-02-29"},
		{"2028-02-29", 12, "2029-02-28"}, {"2026-01-31", 1, "2026-02-28"},
		{"2026-11-30", 3, "2027-02-28"}, {"", 3, ""}, {"soon", 3, ""}} {
		require.Equal(t, x.to, x.from.AddMonths(x.months), "%s + %d", x.from, x.months)
	}
}

// Due within 30 days, both days included; the day itself is still in order (common practice).
func TestChecksComeDueAndOverdue(t *testing.T) {
	for _, x := range []struct {
		on           Date // today is 2026-11-24
		due, overdue bool
	}{{"2025-12-25", false, false}, {"2025-12-24", true, false}, {"2025-11-24", true, false},
		{"2025-11-23", true, true}} {
		c := checkedClinic(t)
		c.recordCheck(0, "2026-11-24", "passed")
		c.recordCheck(1, x.on, "passed")
		all := ofPiece(ChecksDue(c.w, c.now, CheckSoonDays), "P18-1")
		require.Equal(t, x.due, len(all) == 1, "%s: %v", x.on, all)
		if x.due {
			require.Equal(t, x.overdue, all[0].Overdue(), x.on)
			require.Equal(t, x.on.AddMonths(12), all[0].Next)
			require.Equal(t, "17", all[0].Kit.Number)
		}
	}
}

func ofPiece(all []CheckStanding, piece string) (out []CheckStanding) {
	for _, s := range all {
		if s.Piece.ID == piece {
			out = append(out, s)
		}
	}
	return out
}

// What was never recorded is due, and comes first; a retired piece has no checks due.
func TestAnUnknownCheckIsDue(t *testing.T) {
	c := checkedClinic(t)
	c.recordCheck(1, "2025-11-23", "passed")
	all := ofPiece(ChecksDue(c.w, c.now, 0), "P18-1")
	require.Len(t, all, 2)
	require.Nil(t, all[0].Last)
	require.True(t, all[0].Overdue())
	require.Equal(t, "charger: electrical safety was never recorded", all[0].Words())
	require.Equal(t, "maker's maintenance was due on 23 Nov 2026", all[1].Words())
	c.w.Pieces["P18-1"].State = Retired
	require.Empty(t, ofPiece(ChecksDue(c.w, c.now, 400), "P18-1"))
}

// An overdue check is a remark, or keeps the kit back where the clinic says so: at the release
// and at the desk, computed when asked, never an entry.
func TestAnOverdueCheckHoldsByPolicy(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("boss"), SetChecks{Model: "M10", Checks: []CheckRule{
		{Words: "maker's maintenance", Months: 12}}})
	c.recordCheck(0, "2025-11-23", "passed")
	require.Nil(t, GateOpen(c.w, c.w.Kits["K18"], c.actor("ada"), c.now), "a remark only")
	s := c.w.Settings
	s.ChecksHold = true
	c.do(c.actor("boss"), SetSettings{s})
	c.refused("check_overdue", c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.recordCheck(0, "2025-11-24", "passed") // in order on its last day
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	require.True(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
	tomorrow := c.now
	tomorrow.UTC += 24 * 3600 * 1000
	a := CanHandOut(c.w, c.w.Kits["K18"], tomorrow)
	require.Equal(t, "check_overdue", a.Rule)
	c.w.Settings.ChecksHold = false
	require.True(t, CanHandOut(c.w, c.w.Kits["K18"], tomorrow).Released)
}

// A failed check puts the piece on hold at once, and no decision lets it out before it passed.
func TestAFailedCheckHolds(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("boss"), SetChecks{Model: "M10", Checks: []CheckRule{
		{Words: "maker's maintenance", Months: 12}}})
	c.recordCheck(0, "2026-11-24", "failed")
	hold := c.w.Pieces["P18-1"].Holds
	require.Len(t, hold, 1)
	require.Equal(t, "check_failed", hold[0].Reason)
	c.refused("on_hold", c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.do(c.actor("boss"), DecideHold{Kit: "K18", Piece: "P18-1", Hold: hold[0].Seq, To: DecideGoOn,
		Reason: "looks fine"})
	c.refused("check_failed", c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.recordCheck(0, "2026-11-24", "passed")
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
}

func TestWhatACheckCannotBe(t *testing.T) {
	c := checkedClinic(t)
	boss := c.actor("boss")
	good := RecordCheck{Kit: "K18", Piece: "P18-1", Check: c.check(1), On: "2026-11-24",
		Result: "passed", Tester: "Workshop"}
	for rule, spoil := range map[string]func(*RecordCheck){
		"result":    func(r *RecordCheck) { r.Result = "" },
		"paper":     func(r *RecordCheck) { r.SHA256 = "0a" },
		"unknown":   func(r *RecordCheck) { r.Check = "K0" },
		"empty":     func(r *RecordCheck) { r.Tester = " " },
		"other_kit": func(r *RecordCheck) { r.Kit = "K17" },
	} {
		bad := good
		spoil(&bad)
		c.refused(rule, boss, bad)
	}
	for _, on := range []Date{"", "2026-11-25", "24.11.2026"} {
		bad := good
		bad.On = on
		c.refused("date", boss, bad)
	}
	c.refused("role", c.actor("dan"), good)
	c.do(boss, good)
	good.On = "2026-11-23"
	c.refused("check_older", boss, good)
}

func TestWhatAListOfChecksCannotBe(t *testing.T) {
	c := checkedClinic(t)
	sue := c.actor("boss")
	list := func(rows ...CheckRule) SetChecks { return SetChecks{Model: "M10", Checks: rows} }
	c.refused("unknown", sue, SetChecks{Model: "M0"})
	c.refused("empty", sue, list(CheckRule{Months: 12}))
	c.refused("part", sue, list(CheckRule{Words: "a", On: "wand", Months: 12}))
	c.refused("unknown", sue, list(CheckRule{ID: "K0", Words: "a", Months: 12}))
	c.refused("check_twice", sue, list(CheckRule{Words: "a", Months: 1}, CheckRule{Words: "A", Months: 2}))
	c.refused("checks", sue, list(make([]CheckRule, 21)...))
	for _, months := range []int{-1, 0, 121} {
		c.refused("months", sue, list(CheckRule{Words: "a", Months: months}))
	}
	c.do(sue, list(CheckRule{Words: "a", Months: 1}, CheckRule{Words: "b", Months: 120}))
	c.refused("role", c.actor("ada"), list())
	kept := c.w.Models["M10"].Checks
	m := *c.w.Models["M10"]
	m.Checks = nil
	c.do(sue, SetModel{m})
	require.Equal(t, kept, c.w.Models["M10"].Checks, "describing the model leaves its checks")
	settings := c.w.Settings
	require.False(t, settings.ChecksHold, "a remark unless the clinic chooses otherwise")
}
