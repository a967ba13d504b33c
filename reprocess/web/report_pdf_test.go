package web

import (
	"bytes"
	"fmt"
	"net/http"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// paperText reads a PDF with poppler (apt-get install poppler-utils), lines joined.
func paperText(t *testing.T, body string) string {
	t.Helper()
	require.True(t, strings.HasPrefix(body, "%PDF-"), body[:min(len(body), 300)])
	cmd := exec.Command("pdftotext", "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader([]byte(body))
	out, err := cmd.Output()
	require.NoError(t, err, "pdftotext: apt-get install poppler-utils")
	return strings.Join(strings.Fields(string(out)), " ")
}

func TestTheAuditReportOnPaper(t *testing.T) {
	c := newClinic(t)
	c.release()
	c.must(reprocess.PutOnHold{Kit: c.kit, Piece: c.recorder, Reason: "cracked"})
	b := c.auditor()
	b.get("/figures/report")
	require.Equal(t, http.StatusOK, b.status)
	for want, pairs := range map[string][]string{
		"is not a month":         {"from", "x", "to", "", "model", "", "sample", "", "paper", ""},
		"There is no such thing": {"from", "", "to", "", "model", "", "sample", "A1", "paper", ""},
		"There is no paper":      {"from", "", "to", "", "model", "", "sample", "", "paper", "A5"},
	} {
		n := c.entryCount()
		b.post("/figures/report", pairs...)
		require.GreaterOrEqual(t, b.status, 400)
		require.Contains(t, b.text(), want)
		require.Equal(t, n, c.entryCount(), "nothing is recorded for a report that is not made")
	}
	_, err := c.store.Checkpoint(t.Context())
	require.NoError(t, err)
	b.post("/figures/report", "from", "2026-11", "to", "2026-11", "model", "", "sample", "", "paper", "Letter")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	address := b.header.Get("Location")
	b.get(address)
	require.Equal(t, "application/pdf", b.header.Get("Content-Type"))
	first, words := b.body, paperText(t, b.body)
	for _, want := range []string{"Audit report", "Nov 2026, all models", "Gil Auditor", "100 % (2 of 2)",
		"Put on hold: 1", "housing cracked", "Refused: none.", "No sample belongs to this report.",
		"Public key", c.store.Origin(), "page 1 of"} {
		require.Contains(t, words, want)
	}
	c.clock.step(time.Minute)
	b.get(address)
	require.True(t, first == b.body, "the same report is the same bytes")
	b.get("/trail?act=export")
	require.Contains(t, b.text(), "Audit report taken out: Nov 2026, all models, Letter")
	b.get(strings.Replace(address, "2026-11", "2026-10", 1))
	require.Equal(t, http.StatusUnprocessableEntity, b.status, "the address is held to its entry")
	c.clock.step(61 * time.Minute)
	b = c.auditorAgain()
	b.get(address)
	require.Contains(t, b.text(), "not taken out by you within the last hour")
}

func TestTheDeviceRecordOnPaper(t *testing.T) {
	c := newClinic(t)
	c.handedOut()
	c.must(reprocess.TakeBack{Kit: c.kit})
	b := c.auditor()
	papers := c.path("papers")
	b.get(papers)
	require.Equal(t, http.StatusOK, b.status)
	b.post(papers, "piece", "", "asked", "Repairer", "paper", "")
	require.Contains(t, b.text(), "The piece was not chosen.")
	b.post(papers, "piece", c.recorder, "asked", "", "paper", "")
	require.Contains(t, b.text(), "has to say who asked for it")
	b.post(papers, "piece", c.recorder, "asked", "Inspector of the county", "paper", "")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(b.header.Get("Location"))
	words := paperText(t, b.body)
	for _, want := range []string{"Device record", "R-0017", "Inspector of the county", "Gil Auditor",
		"Nothing was changed since 24 Nov 2026", "No checkpoint covers that entry yet", "Cycle 1, begun",
		"Ben Bench", "W-77", "Who wore it is not part of this record."} {
		require.Contains(t, words, want)
	}
	for id, l := range c.world().Loans {
		require.Contains(t, words, id)
		require.NotEmpty(t, l.Wearer)
		require.NotContains(t, words, l.Wearer, "the token of a wearer stands on no paper")
	}
	_, err := c.store.Checkpoint(t.Context())
	require.NoError(t, err)
	b.get(papers)
	b.post(papers, "piece", c.recorder, "asked", "Inspector", "paper", "")
	b.get(b.header.Get("Location"))
	require.Contains(t, paperText(t, b.body), "leads to the root that was signed over")
}

func TestTheDeclarationForRepair(t *testing.T) {
	c := newClinic(t)
	c.wiped()
	n := c.entryCount()
	c.must(reprocess.Aside{Kit: c.kit, Piece: c.recorder, To: reprocess.OutForRepair,
		Declaration: reprocess.Decontaminated, Reason: "door does not latch"})
	tech := c.person("Tia Tech", "tia", reprocess.RoleTechnician)
	tech.get(c.path("papers"))
	address := fmt.Sprintf("%s/%d/declaration.pdf", c.path("papers"), n+1)
	require.Contains(t, tech.body, address)
	require.Contains(t, tech.text(), "made by a supervisor or an auditor")
	tech.get(address)
	words := paperText(t, tech.body)
	for _, want := range []string{"Declaration of contamination status", "Exactly one of these is declared",
		"Not exposed: this device", "Exposed and decontaminated:", "Still contaminated:",
		"door does not latch", "The disinfection it stands on", "W-77", "Signed for the clinic"} {
		require.Contains(t, words, want)
	}
	tech.get(fmt.Sprintf("%s/%d/declaration.pdf", c.path("papers"), n))
	require.Equal(t, http.StatusNotFound, tech.status)
	tech.get(fmt.Sprintf("%s/%d/record.pdf", c.path("papers"), n))
	require.Equal(t, http.StatusForbidden, tech.status)
}
