package reprocess

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// readyKit is a clinic whose kit is released.
func readyKit(t testT) *clinic {
	c := newClinic(t)
	c.goodSteps(c.actor("ada"))
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	return c
}

func out(checks ...OutCheck) HandOut {
	return HandOut{Kit: "K18", Wearer: "w", Days: 7, Checks: checks}
}

// Source of the list: our own practice rule for the counter (hand-out has its own short list,
// each "done" or "not done because").
func TestTheShortListIsKeptInTheLoan(t *testing.T) {
	c := readyKit(t)
	c.do(c.actor("dan"), out(AllDone(c.w, c.w.Kits["K18"])...))
	l := c.w.Loans[c.w.Kits["K18"].Loan]
	require.Len(t, l.Checks, 4)
	var words []string
	for i, id := range []string{"configured", "arrived", "phone", "slip"} {
		require.Equal(t, OutCheck{Ask: id, Answer: OutYes}, l.Checks[i])
		words = append(words, l.Checks[i].Words())
	}
	require.Equal(t, "configured for this wearer", words[0])
}

// What is left open is recorded as not asked; an old form without a list keeps none.
func TestWhatIsLeftOpenIsNotAsked(t *testing.T) {
	c := readyKit(t)
	c.do(c.actor("dan"), out(OutCheck{Ask: "slip", Answer: OutYes}))
	l := c.w.Loans[c.w.Kits["K18"].Loan]
	require.Equal(t, OutCheck{Ask: "configured", Answer: NotAsked}, l.Checks[0])
	require.Equal(t, "not asked: configured for this wearer", l.Checks[0].Words())
	require.Equal(t, OutCheck{Ask: "slip", Answer: OutYes}, l.Checks[3])
	c = readyKit(t)
	c.do(c.actor("dan"), out())
	require.Nil(t, c.w.Loans[c.w.Kits["K18"].Loan].Checks)
}

func TestNotDoneNeedsAReason(t *testing.T) {
	c := readyKit(t)
	dan := c.actor("dan")
	for rule, checks := range map[string][]OutCheck{
		"why":        {{Ask: "slip", Answer: OutNo}},
		"unanswered": {{Ask: "slip"}},
		"answer":     {{Ask: "slip", Answer: "perhaps"}},
		"ask":        {{Ask: "coffee", Answer: OutYes}},
		"text":       {{Ask: "slip", Answer: OutNo, Why: "other", Note: strings.Repeat("x", 81)}},
	} {
		c.refused(rule, dan, out(checks...))
	}
	c.refused("why", dan, out(OutCheck{Ask: "slip", Answer: OutNo, Why: "network"}))
	c.refused("why", dan, out(OutCheck{Ask: "slip", Answer: OutNo, Why: "other", Note: "  "}))
	c.refused("ask", dan, out(OutCheck{Ask: "slip", Answer: OutYes}, OutCheck{Ask: "slip", Answer: OutYes}))
	c.do(dan, out(OutCheck{Ask: "slip", Answer: OutNo, Why: "other", Note: strings.Repeat("x", 80)},
		OutCheck{Ask: "phone", Answer: OutNo, Why: "power_bank", Note: "dropped"},
		OutCheck{Ask: "arrived", Answer: OutYes, Why: "network", Note: "x"}))
	l := c.w.Loans[c.w.Kits["K18"].Loan]
	require.Equal(t, OutCheck{Ask: "arrived", Answer: OutYes}, l.Checks[1], "yes has no reason")
	require.Equal(t, OutCheck{Ask: "phone", Answer: OutNo, Why: "power_bank"}, l.Checks[2])
	require.Equal(t, "not done: phone on and charged enough, because a power bank goes along",
		l.Checks[2].Words())
	require.Contains(t, l.Checks[3].Words(), "because: xxx")
}

// What the clinic demands may be "not done because", but not open; what it does not ask is
// no question.
func TestTheClinicChoosesWhatIsAsked(t *testing.T) {
	c := readyKit(t)
	boss, dan := c.actor("boss"), c.actor("dan")
	c.refused("role", dan, SetCounter{Counter{Must: []string{"slip"}}})
	c.refused("ask", boss, SetCounter{Counter{Must: []string{"coffee"}}})
	c.refused("ask", boss, SetCounter{Counter{Must: []string{"slip"}, Off: []string{"slip"}}})
	c.do(boss, SetCounter{Counter{Must: []string{"slip", "configured"}, Off: []string{"arrived"}}})
	require.Equal(t, []string{"configured", "slip"}, c.w.Settings.Counter.Must, "as in the table")
	c.refused("unchecked", dan, out())
	c.refused("unchecked", dan, out(OutCheck{Ask: "slip", Answer: OutYes}))
	c.refused("ask", dan, out(OutCheck{Ask: "arrived", Answer: OutYes},
		OutCheck{Ask: "slip", Answer: OutYes}, OutCheck{Ask: "configured", Answer: OutYes}))
	c.do(dan, out(OutCheck{Ask: "slip", Answer: OutNo, Why: "told"},
		OutCheck{Ask: "configured", Answer: OutYes}))
	s := c.w.Settings
	s.Counter = nil
	c.do(boss, SetSettings{s})
	require.NotNil(t, c.w.Settings.Counter, "the settings page does not forget the counter's choices")
}

func TestTheChargeIsTheClinics(t *testing.T) {
	c := readyKit(t)
	asks, _ := WantedOut(c.w, c.w.Kits["K18"])
	require.Equal(t, "Phone on and charged at least 50 %?", asks[2].Words)
	c.w.Settings.MinCharge = 80
	asks, _ = WantedOut(c.w, c.w.Kits["K18"])
	require.Equal(t, "Phone on and charged at least 80 %?", asks[2].Words)
	require.Contains(t, OutAsks()[2].Words, "{charge}", "the table itself stays")
	c.do(c.actor("boss"), Compose{Kit: "K18", Pieces: []string{"P18-1"}})
	asks, _ = WantedOut(c.w, c.w.Kits["K18"])
	require.Len(t, asks, 3, "a kit without a phone is not asked about one")
}

// A new cell at the counter: only where the procedure says so, from a box in date and not
// stopped, and good beyond the loan; its lot stands in the loan.
func TestACellFittedAtTheCounter(t *testing.T) {
	c := readyKit(t)
	dan := c.actor("dan")
	h := out()
	h.Cell = "T17"
	c.refused("cell_at_out", dan, h)
	c.w.Procedures[c.w.InForce["M10"]].CellAtOut = true
	require.True(t, CellsAtOut(c.w, c.w.Kits["K18"]))
	c.w.Kits["K18"].Release.CellUntil = c.now.Today().AddDays(1) // the old one would not last
	c.refused("cell_expiry", dan, out())
	h.Cell = "T15"
	p := c.refused("unknown", dan, h)
	require.Contains(t, p.Text, "box of cells")
	h.Cell = "T17"
	c.w.Lots["T17"].Expiry = c.now.Today().AddDays(13)
	c.refused("cell_expiry", dan, h) // the model's wear of 14 days from today
	c.w.Lots["T17"].Expiry = c.now.Today().AddDays(14)
	h.Days = 15
	c.refused("cell_expiry", dan, h) // this loan
	h.Days = 14
	other := c.do(c.actor("ada"), SetLot{Lot{Kind: LotCells, Name: "LR03", Number: "C2",
		Expiry: c.now.Today().AddDays(900)}}).Events[0].Event.(LotSet).ID
	c.do(c.actor("ada"), StopLot{Lot: other, Reason: "leaking"})
	h.Cell = other
	c.refused("lot_stopped", dan, h)
	h.Cell = "T17"
	c.do(dan, h)
}

func TestACellFittedAtTheCounterIsInTheLoan(t *testing.T) {
	c := readyKit(t)
	c.w.Procedures[c.w.InForce["M10"]].CellAtOut = true
	h := out()
	h.Cell = "T17"
	c.do(c.actor("dan"), h)
	require.Equal(t, "T17", c.w.Loans[c.w.Kits["K18"].Loan].Cell)
}

func TestWardsAndTheLimitForTelling(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	hours, source := c.w.Settings.Loss()
	require.Equal(t, 72, hours)
	require.Contains(t, source, "Article 33(1)")
	require.Empty(t, c.w.Settings.WardList())
	require.Empty(t, c.w.Settings.PrivacyContact())
	for rule, bad := range map[string]Counter{
		"empty":  {Wards: []Ward{{Name: " "}}},
		"wards":  {Wards: []Ward{{Name: "Ward 4"}, {Name: "ward 4"}}},
		"number": {LossHours: -1},
		"text":   {Privacy: strings.Repeat("x", 81)},
	} {
		c.refused(rule, boss, SetCounter{bad})
	}
	c.refused("number", boss, SetCounter{Counter{LossHours: 24*60 + 1}})
	c.refused("wards", boss, SetCounter{Counter{Wards: make([]Ward, 61)}})
	c.do(boss, SetCounter{Counter{LossHours: 24 * 60, Privacy: "Data protection, ext. 300",
		Wards: []Ward{{Name: "Ward 4", Ring: "ext. 2140"}}}})
	hours, source = c.w.Settings.Loss()
	require.Equal(t, 24*60, hours)
	require.Equal(t, "the clinic’s own rule", source)
	ward, ok := c.w.Settings.Ward("WARD 4")
	require.True(t, ok)
	require.Equal(t, "ext. 2140", ward.Ring)
	require.Equal(t, "Data protection, ext. 300", c.w.Settings.PrivacyContact())
}

// A ward is asked only what can be done before somebody wears it.
func TestAWardIsNotAskedAboutAWearer(t *testing.T) {
	c := readyKit(t)
	c.do(c.actor("boss"), SetCounter{Counter{Must: []string{"configured", "slip"},
		Wards: []Ward{{Name: "Ward 4"}}}})
	h := HandOut{Kit: "K18", Ward: "Ward 4", Days: 7, Checks: AllDoneToWard(c.w, c.w.Kits["K18"])}
	require.Equal(t, []OutCheck{{Ask: "phone", Answer: OutYes}, {Ask: "slip", Answer: OutYes}}, h.Checks)
	h.Checks = AllDone(c.w, c.w.Kits["K18"])
	c.refused("ask", c.actor("dan"), h)
	h.Checks = nil
	c.refused("unchecked", c.actor("dan"), h)
	h.Checks = AllDoneToWard(c.w, c.w.Kits["K18"])
	c.do(c.actor("dan"), h)
}
