package web

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// What every row says is said once; a single row, and what differs, keep their own.
func TestWhatAllRowsSayIsSaidOnce(t *testing.T) {
	row := func(notes ...string) ruledLine { return ruledLine{Words: "x", Notes: notes} }
	says, rest := saidOnce([]ruledLine{row("a", "b", "1"), row("a", "b", "2")})
	require.Equal(t, []string{"a", "b"}, says)
	require.Equal(t, [][]string{{"1"}, {"2"}}, [][]string{rest[0].Notes, rest[1].Notes})
	says, rest = saidOnce([]ruledLine{row("a")})
	require.Empty(t, says)
	require.Equal(t, []string{"a"}, rest[0].Notes)
	says, rest = saidOnce([]ruledLine{row("a"), row("b"), row("a")})
	require.Empty(t, says)
	require.Equal(t, []string{"b"}, rest[1].Notes)
	says, rest = saidOnce(nil)
	require.Empty(t, says)
	require.Empty(t, rest)
}

// Kits of one cause stand under it, on the list to telephone by and on the morning page; what
// came of the calls stands with the kit it is about.
func TestTheCallListSaysACauseOnce(t *testing.T) {
	c := newClinic(t)
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	var kits []string
	for i, n := range []string{"17", "18", "19"} {
		if i > 0 {
			c.another(n, byte(20*i))
		}
		c.release()
		b.still("dana")
		b.get(c.desk("out"))
		b.post(c.desk("out"), "reference", "A-"+n, "days", "7", "checks", "all")
		require.Equal(t, http.StatusSeeOther, b.status, b.body)
		kits = append(kits, c.kit)
	}
	for i, why := range []string{"lot W-77 was stopped", "lot W-77 was stopped", "a strap broke"} {
		c.must(reprocess.StopKit{Kit: kits[i], Reason: why})
	}
	b.get("/called-back")
	require.Equal(t, 1, strings.Count(strings.ToLower(b.body), "lot w-77 was stopped"))
	require.Equal(t, 1, strings.Count(b.body, "a strap broke"))
	require.Equal(t, 3, strings.Count(b.body, "Out since"))
	b.get("/today")
	require.Equal(t, 2, strings.Count(strings.ToLower(b.body), "lot w-77 was stopped"), "three causes are not one")
	l := c.world().Loans[c.world().Kits[kits[0]].Loan]
	c.must(reprocess.CallOverdue{Kit: kits[0], Loan: l.ID, Result: reprocess.CallNotReached})
	c.must(reprocess.LiftStop{Kit: kits[2], Reason: "a mistake"})
	b.get("/today")
	require.Equal(t, 1, strings.Count(strings.ToLower(b.body), "lot w-77 was stopped"))
	require.Equal(t, 1, strings.Count(b.body, "not reached"))
	require.Equal(t, 1, strings.Count(b.body, "Not called yet."))
}

// After taking over from paper nobody has looked at any phone: that is one line with a count.
func TestManyPhonesWithoutAChargeAreOneLine(t *testing.T) {
	c := newClinic(t)
	takeOver := func(from, to int) {
		for i := from; i < to; i++ {
			n := string(rune('A' + i))
			c.must(reprocess.RegisterKit{Number: n, Opening: &reprocess.Opening{Ready: "2026-12-24"},
				Recorder: reprocess.NewPiece{Model: c.models[0], Serial: "R-" + n},
				Phone:    &reprocess.NewPiece{Model: c.models[1], Serial: "F-" + n}})
		}
	}
	takeOver(0, 3)
	b := c.bench
	b.get("/today")
	require.Equal(t, 3, strings.Count(b.body, "Nobody recorded its charge."))
	require.NotContains(t, b.body, "whose charge nobody recorded")
	takeOver(3, 4)
	c.release()
	c.clock.step(reprocess.ChargeAgeDays * 24 * time.Hour)
	b.still("ben")
	b.get("/today")
	require.Contains(t, b.body, "<summary>4 phones whose charge nobody recorded</summary>")
	require.Contains(t, b.body, "Kits A, B, C, D.", "on paper nothing opens")
	require.Equal(t, 0, strings.Count(b.body, "Nobody recorded its charge."))
	require.Contains(t, b.body, "Kit A, phone</a>")
	require.Regexp(t, `Kit 17, phone</span><small>93.% \d+ days ago`, b.body, "one that is known stands alone")
}
