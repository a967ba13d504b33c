package web

import (
	"context"
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// reference is what stands behind a loan, in the file of links.
func (c *clinic) reference(loan string) (string, error) {
	return c.store.WearerRef(context.Background(), c.world().Loans[loan].Wearer)
}

func TestHandOutKeepsTheReferenceApart(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut()
	b.get(c.desk("loan"))
	require.Contains(t, b.body, "<title>Out: kit 17, due back 1 Dec 2026</title>")
	require.Contains(t, b.body, "not known: the standard procedure")
	require.NotContains(t, b.body, "A-1044")
	k := c.world().Kits[c.kit]
	ref, err := c.reference(k.Loan)
	require.NoError(t, err)
	require.Equal(t, "A-1044", ref)
	e := c.newest(reprocess.ActIssue)
	body, err := json.Marshal(e)
	require.NoError(t, err)
	require.NotContains(t, string(body), "A-1044", "the ledger never holds it")
	require.NotContains(t, c.logged(), "A-1044")
}

func TestHandOutRefusals(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	for why, pairs := range map[string][]string{
		"without spaces":                  {"reference", "Mrs Smith", "days", "7"},
		"The planned days cannot be read": {"reference", "A-1", "days", "7,5"},
		"0 planned days cannot be right":  {"reference", "A-1", "days", "0"},
		"401 planned days":                {"reference", "A-1", "days", "401"},
		"23 Nov 2026 is past.":            {"reference", "A-1", "days", "7", "due", "2026-11-23"},
		"is not a day like":               {"reference", "A-1", "days", "7", "due", "8 Dec"},
		"none is ticked":                  {"reference", "A-1", "days", "7", "told", "some"},
	} {
		b.get(c.desk("out"))
		b.post(c.desk("out"), append(pairs, "checks", "all")...)
		require.Equal(t, http.StatusBadRequest, b.status, "%s: %s", why, b.body)
		require.Contains(t, b.body, why)
		require.Contains(t, b.body, "Who will wear kit 17?", why)
	}
	require.Equal(t, 0, c.count(reprocess.ActIssue, reprocess.ResultDone))
	b.get(c.desk("out"))
	b.post(c.desk("out"), "reference", "A-1", "days", "7")
	require.Equal(t, http.StatusBadRequest, b.status, "the short list is not passed over in silence")
	require.Contains(t, b.body, "is not answered")
	b.post(c.desk("out"), "reference", "A-1", "days", "7", "checks", "each", "check.slip", "no other")
	require.Contains(t, b.body, `<details open>`)
	require.Contains(t, b.body, `value="no other" checked`)
	require.Equal(t, 0, c.count(reprocess.ActIssue, reprocess.ResultDone))
	for _, ref := range []string{"A-1"} {
		loans, err := c.store.LoansOf(context.Background(), ref)
		require.NoError(t, err)
		require.Empty(t, loans)
	}
	// Released when the page was drawn, broken when it was sent: refused, and the answer shown.
	b.get(c.desk("out"))
	c.act(reprocess.BreakRelease{Kit: c.kit, Why: "wet"})
	b.post(c.desk("out"), "reference", "A-1", "days", "7", "checks", "all")
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "Kit 17 is not released")
	require.Contains(t, b.body, "<title>Not released: kit 17</title>")
	tech := c.person("Tia Tech", "tia", reprocess.RoleTechnician)
	tech.get(c.desk("out"))
	require.Equal(t, http.StatusForbidden, tech.status)
}

// The same form sent twice counts once and leaves one link.
func TestHandOutTwiceCountsOnce(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get(c.desk("out"))
	token, key := b.hidden()
	form := fields("token", token, "key", key, "reference", "A-1044", "days", "7", "checks", "all")
	b.send(c.desk("out"), form)
	first := c.world().Loans[c.world().Kits[c.kit].Loan].Wearer
	b.send(c.desk("out"), form)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, 1, c.count(reprocess.ActIssue, reprocess.ResultDone))
	ref, err := c.store.WearerRef(context.Background(), first)
	require.NoError(t, err, "the link of the loan stays")
	require.Equal(t, "A-1044", ref)
}

func TestUndoAndExtend(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut()
	b.get(c.desk("loan"))
	b.post(c.desk("extend"), "days", "x")
	require.Equal(t, http.StatusBadRequest, b.status)
	b.get(c.desk("loan"))
	b.post(c.desk("extend"), "days", "10")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(c.desk("loan"))
	require.Contains(t, b.body, "due back 4 Dec 2026")
	b.post(c.desk("undo"), "reason", "")
	require.Equal(t, http.StatusBadRequest, b.status)
	b.get(c.desk("loan"))
	b.post(c.desk("undo"), "reason", "came back sealed")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(c.desk())
	require.Contains(t, b.body, "<title>Released: kit 17</title>")
	b.get(c.desk("loan"))
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
}

// After the fact: signed, in the zone of the clinic, on call-back.
func TestHandOutAfterTheFact(t *testing.T) {
	c := newClinic(t)
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	for why, pairs := range map[string][]string{
		"This has to be signed.":               {"reason", "gone"},
		"The time cannot be read.":             {"reason", "gone", "out", "yesterday", "secret", testSecret},
		"How it happened is empty.":            {"reason", "", "secret", testSecret},
		"is still to come.":                    {"reason", "gone", "out", "2026-11-24T18:00", "secret", testSecret},
		"never a name":                         {"reason", "gone", "reference", "Mr X", "secret", testSecret},
		"The name or the secret is not right.": {"reason", "gone", "secret", "wrong and long"},
	} {
		b.get(c.desk("after"))
		b.post(c.desk("after"), pairs...)
		require.GreaterOrEqual(t, b.status, 400, why)
		if why != "The name or the secret is not right." {
			require.Contains(t, b.body, why)
		}
		require.Equal(t, 0, c.count(reprocess.ActIssueAfter, reprocess.ResultDone), why)
	}
	c.clock.step(time.Hour)
	b.still("dana")
	b.get(c.desk("after"))
	b.post(c.desk("after"), "reason", "gone over the weekend", "out", "2026-11-21T10:30",
		"reference", "W-9", "secret", testSecret)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	w := c.world()
	l := w.Loans[w.Kits[c.kit].Loan]
	require.True(t, l.After)
	require.Equal(t, reprocess.InstantOf(time.Date(2026, 11, 21, 10, 30, 0, 0, time.UTC)), l.Out)
	require.Equal(t, reprocess.Recalled, w.Pieces[c.recorder].State)
	b.get(c.desk())
	require.Contains(t, b.body, "It is being called back.")
	require.Contains(t, b.body, ">Take back</button>")
}
