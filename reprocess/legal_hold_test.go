package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func lentAndBack(t *testing.T) (*clinic, string) {
	c := newClinic(t)
	ada, dan := c.actor("ada"), c.actor("dan")
	c.goodSteps(ada)
	c.do(ada, ReleaseKit{Kit: "K18"})
	loan := c.do(dan, HandOut{Kit: "K18", Wearer: "w1", Days: 7}).Events[0].Event.(HandedOut).ID
	c.wait(24 * time.Hour)
	return c, loan
}

func TestALegalHoldIsOnOneThingAndSigned(t *testing.T) {
	c, loan := lentAndBack(t)
	boss := c.actor("boss")
	unsigned := boss
	unsigned.Signed = false
	c.refused("signature", unsigned, SetLegalHold{Kit: "K18", Reason: "a claim"})
	c.refused("role", c.actor("ada"), SetLegalHold{Kit: "K18", Reason: "a claim"})
	for rule, cmds := range map[string][]SetLegalHold{
		"empty":     {{Kit: "K18"}},
		"hold_what": {{Reason: "r"}, {Kit: "K18", Loan: loan, Reason: "r"}, {Kit: "K18", From: "2026-01-01", Reason: "r"}},
		"unknown":   {{Kit: "K9", Reason: "r"}, {Loan: "L9", Reason: "r"}},
		"date": {{To: "2026-01-01", Reason: "r"}, {From: "x", Reason: "r"},
			{From: "2026-01-02", To: "2026-01-01", Reason: "r"}},
	} {
		for _, cmd := range cmds {
			c.refused(rule, boss, cmd)
		}
	}
	e := c.do(boss, SetLegalHold{From: "2026-01-02", To: "2026-01-02", Reason: "one day"})
	id := e.Events[0].Event.(LegalHoldSet).ID
	require.Len(t, LegalHolds(c.w), 1)
	c.refused("empty", boss, LiftLegalHold{Hold: id})
	c.refused("unknown", boss, LiftLegalHold{Hold: "H0", Reason: "r"})
	c.do(boss, LiftLegalHold{Hold: id, Reason: "settled"})
	c.refused("already_done", boss, LiftLegalHold{Hold: id, Reason: "settled"})
	require.Empty(t, LegalHolds(c.w))
	require.Equal(t, "settled", c.w.Legal[id].LiftReason, "a lifted hold is not forgotten")
}

// A period keeps a day more on either side, whatever the clinic's zone (our own choice).
func TestWhatALegalHoldKeeps(t *testing.T) {
	at := func(day string) Instant {
		i, err := ParseInstant(day + "T12:00:00.000Z")
		require.NoError(t, err)
		return i
	}
	h := Holds{{ID: "H1", Kit: "K1"}, {ID: "H2", Loan: "L2"},
		{ID: "H3", From: "2026-03-10", To: "2026-03-12"}, {ID: "H4", From: "2026-06-01"}}
	for _, row := range []struct {
		kit, loan, day, by string
	}{
		{"K1", "", "2026-01-01", "H1"}, {"K2", "L2", "2026-01-01", "H2"},
		{"K2", "L1", "2026-01-01", ""}, {"K2", "", "2026-03-08", ""},
		{"K2", "", "2026-03-09", "H3"}, {"K2", "", "2026-03-13", "H3"},
		{"K2", "", "2026-03-14", ""}, {"K2", "", "2026-05-30", ""},
		{"K2", "", "2026-05-31", "H4"}, {"K2", "", "2036-01-01", "H4"},
	} {
		got := ""
		if x := h.Keeps(row.kit, row.loan, at(row.day)); x != nil {
			got = x.ID
		}
		require.Equal(t, row.by, got, row)
	}
	require.Equal(t, "H3", h.Keeps("K2", "", 0).ID, "an unknown moment is kept by every period")
	require.Nil(t, Holds{}.Keeps("K1", "L1", at("2026-03-10")))
	around := &Loan{ID: "L5", Kit: "K5", Out: at("2026-03-01"), Back: at("2026-03-30")}
	require.Equal(t, "H3", h.KeepsLoan(around).ID, "a loan around the whole period")
	require.Equal(t, "H4", h.KeepsLoan(&Loan{Kit: "K5", Out: at("2026-04-01")}).ID, "still out")
	require.Nil(t, h.KeepsLoan(&Loan{Kit: "K5", Out: at("2026-04-01"), Back: at("2026-04-02")}))
}

func TestALinkIsErasedOnceNothingNeedsIt(t *testing.T) {
	c, loan := lentAndBack(t)
	boss, console := c.actor("boss"), Console()
	erase := EraseWearer{Kit: "K18", Loan: loan, Reason: "the wearer asked"}
	c.refused("loan_open", boss, erase)
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	c.refused("role", c.actor("dan"), erase)
	c.refused("unknown", boss, EraseWearer{Kit: "K1", Loan: loan, Reason: "r"})
	c.refused("empty", boss, EraseWearer{Kit: "K18", Loan: loan})
	c.refused("not_due", console, EraseWearer{Kit: "K18", Loan: loan, Policy: true})

	hold := c.do(boss, SetLegalHold{Loan: loan, Reason: "a claim"}).Events[0].Event.(LegalHoldSet).ID
	c.refused("legal_hold", boss, erase)
	c.do(boss, LiftLegalHold{Hold: hold, Reason: "settled"})

	c.w.Loans["other"] = &Loan{ID: "other", Kit: "K1", Wearer: "w1", Out: 1}
	c.refused("loan_open", boss, erase)
	delete(c.w.Loans, "other")

	e := c.do(boss, erase)
	require.Equal(t, []Box{{WearerErased{"K18", loan, "w1", "the wearer asked"}}}, e.Events)
	require.Equal(t, e.At, c.w.Loans[loan].Erased)
	require.Equal(t, "w1", c.w.Loans[loan].Wearer, "the loan still counts")
	c.refused("already_done", boss, erase)
}

func TestThePolicyErasesOnItsLastMoment(t *testing.T) {
	c, loan := lentAndBack(t)
	boss, console := c.actor("boss"), Console()
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	for _, days := range []int{-1, 1, LeastLinkDays - 1, MostLinkDays + 1} {
		c.refused("link_days", boss, SetRetention{Days: days, Reason: "policy 7"})
	}
	c.refused("already_done", boss, SetRetention{Reason: "as it is"})
	c.refused("empty", boss, SetRetention{Days: 30})
	c.do(boss, SetRetention{Days: LeastLinkDays, Reason: "policy 7"})
	require.Equal(t, LeastLinkDays, c.w.Settings.LinkDays)
	c.do(boss, SetSettings{Settings: Settings{Site: "s1", Zone: "UTC"}})
	require.Equal(t, LeastLinkDays, c.w.Settings.LinkDays, "changed by its own act alone")

	due := EraseWearer{Kit: "K18", Loan: loan, Policy: true}
	c.wait(LeastLinkDays*24*time.Hour - time.Millisecond)
	c.refused("not_due", console, due)
	c.wait(time.Millisecond)
	c.refused("not_due", boss, due) // a person gives a reason
	c.w.Loans["swap"] = &Loan{ID: "swap", Kit: "K1", Wearer: "w1", Out: 1, Back: c.now.UTC}
	c.refused("not_due", console, due)
	delete(c.w.Loans, "swap")
	e := c.do(console, due)
	require.Equal(t, "kept 30 days after the return", e.Events[0].Event.(WearerErased).Reason)
}
