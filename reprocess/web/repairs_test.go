package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// A repair from its declaration to its bill, all by the pages.
func TestARepair(t *testing.T) {
	c := newClinic(t)
	c.toDrying()
	b := c.bench
	b.get("/repairs")
	require.Contains(t, b.body, "Nothing is at repair.")
	act := func(pairs ...string) {
		b.get(c.path("send-repair"))
		b.tap("Send a piece to repair", append([]string{"piece", c.recorder, "reason", "clip",
			"to", "Workshop, hall 3"}, pairs...)...)
	}
	for why, pairs := range map[string][]string{
		"only with a declaration":          {"secret", testSecret},
		"This has to be signed.":           {"declaration", reprocess.Decontaminated},
		"nothing says with what":           {"declaration", reprocess.StillContaminated, "secret", testSecret},
		"cannot be declared as not":        {"declaration", reprocess.NotExposed, "secret", testSecret},
		"is still to come":                 {"declaration", reprocess.Decontaminated, "sent", "2027-01-01", "secret", testSecret},
		"before it is sent on 24 Nov 2026": {"declaration", reprocess.Decontaminated, "expected", "2026-11-23", "secret", testSecret},
	} {
		act(pairs...)
		require.GreaterOrEqual(t, b.status, 400, why)
		require.Contains(t, b.body, why)
		require.Contains(t, b.body, `value="Workshop, hall 3"`, why)
	}
	act("declaration", reprocess.Decontaminated, "expected", "2026-11-30", "secret", testSecret)
	require.Equal(t, http.StatusOK, b.status, b.body)
	require.Contains(t, b.body, "Declared and sent off.")
	require.Equal(t, reprocess.OutForRepair, c.world().Pieces[c.recorder].State)

	b.get("/kit/" + c.kit + "/declaration/" + c.recorder)
	require.Equal(t, http.StatusOK, b.status, b.body)
	for _, words := range []string{"Declaration of contamination status", "It was cleaned and disinfected",
		"Model recorder, recorder", "R-0017", "Bench wipe, lot W-77", "1 min 01 s of 1 min needed",
		"Workshop, hall 3", "Ben Bench", "with their own secret, entry"} {
		require.Contains(t, b.body, words)
	}
	b.get("/kit/" + c.kit + "/declaration/" + c.phone)
	require.Equal(t, http.StatusNotFound, b.status)
	require.Contains(t, b.body, "No declaration of this piece is recorded.")

	c.clock.step(9 * 24 * time.Hour)
	b.still("ben")
	b.get("/repairs")
	require.Contains(t, b.body, "At Workshop, hall 3 since 24 Nov 2026, 9 days.")
	require.Contains(t, b.body, "Was expected 30 Nov 2026, 3 days late. Ask for it.")
	b.get(c.path("repair-day"))
	b.tap("The repair takes until another day", "piece", c.recorder, "expected", "x")
	require.Equal(t, http.StatusBadRequest, b.status)
	b.get(c.path("repair-day"))
	b.tap("The repair takes until another day", "piece", c.recorder, "expected", "2026-12-10")
	b.get("/repairs")
	require.Contains(t, b.body, "Expected 10 Dec 2026.")
	for why, pairs := range map[string][]string{
		"is no amount of money":         {"outcome", "repaired", "cost", "84 EUR"},
		"The cost has no currency.":     {"outcome", "repaired", "cost", "84,50"},
		"is no outcome of a repair":     {},
		"is before it was sent, 24 Nov": {"outcome", "repaired", "on", "2026-11-20"},
	} {
		b.get(c.path("repair-back"))
		b.tap("It is back from repair", append([]string{"piece", c.recorder}, pairs...)...)
		require.Equal(t, http.StatusBadRequest, b.status, why)
		require.Contains(t, b.body, why)
	}
	b.get(c.path("repair-back"))
	b.tap("It is back from repair", "piece", c.recorder, "outcome", "repaired", "cost", "84,50",
		"currency", "EUR", "note", "new clip")
	require.Equal(t, http.StatusOK, b.status, b.body)
	require.Equal(t, reprocess.Returned, c.world().Pieces[c.recorder].State)
	b.get("/repairs")
	require.Contains(t, b.body, "Back 3 Dec 2026: repaired, 84.50 EUR.")
	b.get(c.path("history"))
	require.Contains(t, b.body, "Recorder: sent to repair, Workshop, hall 3, 24 Nov 2026: declared as exposed and decontaminated; clip")
	require.Contains(t, b.body, "Recorder: back from repair 3 Dec 2026: repaired, 84.50 EUR (new clip)")
	desk := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	desk.get(c.path("send-repair"))
	require.Equal(t, http.StatusForbidden, desk.status)
	desk.get(c.path("repair-back"))
	require.Equal(t, http.StatusOK, desk.status)
}

// What a decision sent off is on the list, and asks where it is.
func TestARepairWithoutAnAddress(t *testing.T) {
	c := newClinic(t)
	c.must(reprocess.Aside{Kit: c.kit, Piece: c.phone, To: reprocess.OutForRepair, Reason: "screen",
		Declaration: reprocess.NotExposed})
	b := c.bench
	b.get("/repairs")
	require.Contains(t, b.body, "Where it was sent is not recorded: open the kit and add it.")
	b.get(c.path("send-repair"))
	b.tap("Send a piece to repair", "piece", c.phone, "reason", "screen", "to", "Workshop",
		"declaration", reprocess.StillContaminated, "left", "touched by gloves; bagged", "secret", testSecret)
	require.Equal(t, http.StatusOK, b.status, b.body)
	b.get("/kit/" + c.kit + "/declaration/" + c.phone)
	require.Contains(t, b.body, "is still contaminated, as stated")
	require.Contains(t, b.body, "touched by gloves; bagged")
	require.NotContains(t, b.body, "Disinfected with")
}

// A phone that was replaced in its kit while it was away comes back as a spare.
func TestARepairOfAPieceInNoKit(t *testing.T) {
	c := newClinic(t)
	c.must(reprocess.SendToRepair{Kit: c.kit, Piece: c.phone, Reason: "screen", To: "Workshop",
		Declaration: reprocess.NotExposed})
	c.must(reprocess.Compose{Kit: c.kit, Pieces: []string{c.recorder}})
	b := c.bench
	b.get("/repairs")
	require.Contains(t, b.body, "In no kit, phone F-0017")
	b.get("/repairs/" + c.recorder)
	require.Equal(t, http.StatusNotFound, b.status, "that one is in a kit")
	b.get("/repairs/" + c.phone)
	b.post("/repairs/"+c.phone, "outcome", "repaired", "cost", "x")
	require.Equal(t, http.StatusBadRequest, b.status)
	b.post("/repairs/"+c.phone, "outcome", "repaired", "cost", "20", "currency", "EUR")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, reprocess.Returned, c.world().Pieces[c.phone].State)
	b.get("/repairs")
	require.Contains(t, b.body, "repaired, 20.00 EUR.")
	b.get("/repairs/" + c.phone)
	b.post("/repairs/"+c.phone, "outcome", "repaired")
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
}

// Money is read with point or comma, exactly, or refused.
func TestHundredths(t *testing.T) {
	for text, want := range map[string]int64{"": 0, "0": 0, "84": 8400, "84.5": 8450, "84,50": 8450,
		"0,01": 1, "999999999.99": 99999999999} {
		n, p := hundredths(text)
		require.Nil(t, p, text)
		require.Equal(t, want, n, text)
	}
	for _, text := range []string{"-1", "1.234", "1,", ",5", "1e3", "84 EUR", "1.2.3", "1,2.3", "٣",
		"1000000000"} {
		_, p := hundredths(text)
		require.NotNil(t, p, text)
		require.NotEmpty(t, p.Fix)
	}
	require.Equal(t, "84.05 EUR", money(8405, "EUR"))
}
