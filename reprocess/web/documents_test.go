package web

import (
	"bytes"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/report"
	"handback/reprocess/sqlite"
)

// aPDF is a small document of the pages of paper, printed here.
func aPDF(t testing.TB, text string) []byte {
	t.Helper()
	b, err := report.PDF(report.Document{Title: text, Blocks: []report.Block{report.Text(text)}},
		report.A4, time.Unix(0, 0))
	require.NoError(t, err)
	return b
}

// brings sends the form at a page with a PDF and expects it to be kept.
func (b *browser) brings(page, to string, pdf []byte, pairs ...string) string {
	b.site.t.Helper()
	b.get(page)
	require.Equal(b.site.t, http.StatusOK, b.status, b.body)
	b.sendFile(to, "file", pdf, pairs...)
	require.Equal(b.site.t, http.StatusSeeOther, b.status, b.body)
	return b.header.Get("Location")
}

func newPaper(kind, about, title, edition string) []string {
	return []string{"kind", kind, "about", about, "title", title, "edition", edition,
		"dated", "2026-10-01"}
}

// A supervisor adds, renews, attaches and withdraws; what was refused keeps what was typed.
func TestADocumentFromFirstToLast(t *testing.T) {
	c := newClinic(t)
	boss := c.person("Sue Super", "sue", reprocess.RoleSupervisor)
	boss.get("/documents/new")
	about := "model:" + c.models[0]
	require.Contains(t, boss.body, "/documents/new?about=model%3A"+c.models[0])
	page := "/documents/new?about=" + about
	first := aPDF(t, "Handbook, 4th edition")
	for says, x := range map[string]struct {
		pdf  []byte
		edit func(p []string)
	}{
		"This file is no PDF.":              {[]byte("GIF89a"), func([]string) {}},
		"No file was chosen.":               {nil, func([]string) {}},
		"is no kind of document":            {first, func(p []string) { p[1] = "letter" }},
		"The title is empty.":               {first, func(p []string) { p[5] = " " }},
		"The version or edition is empty.":  {first, func(p []string) { p[7] = "" }},
		"The date of the paper is missing.": {first, func(p []string) { p[9] = "" }},
		"30 Nov 2026 is still to come.":     {first, func(p []string) { p[9] = "2026-11-30" }},
		"The date of the paper:":            {first, func(p []string) { p[9] = "last year" }},
		"is not about a model":              {first, func(p []string) { p[1] = "competence" }},
	} {
		pairs := newPaper("instructions", about, "Handbook", "4")
		pairs = append(pairs, "lang", "Englisch")
		x.edit(pairs)
		boss.get(page)
		boss.sendFile("/documents/new", "file", x.pdf, pairs...)
		require.Equal(t, http.StatusBadRequest, boss.status, says)
		require.Contains(t, boss.body, says)
		require.Contains(t, boss.body, `value="Englisch"`, "what was typed stays: "+says)
	}
	at := boss.brings(page, "/documents/new", first, newPaper("instructions", about, "Handbook", "4")...)
	boss.get(at)
	for _, says := range []string{"<h1>Handbook</h1>", "Version 4, of 1 Oct 2026", "counts now",
		"kept by Sue Super", "Model recorder", "Open version 4"} {
		require.Contains(t, boss.body, says)
	}
	boss.get(page)
	boss.sendFile("/documents/new", "file", first, newPaper("data_sheet", about, "Twice", "1")...)
	require.Equal(t, http.StatusConflict, boss.status)
	require.Contains(t, boss.body, "This very file is kept already: Handbook, version 4.")

	boss.get(at + "/version")
	require.Contains(t, boss.body, "version 4 of 1 Oct 2026 counts now")
	boss.sendFile(at+"/version", "file", aPDF(t, "5th"), "edition", "4", "dated", "2026-11-01")
	require.Equal(t, http.StatusConflict, boss.status)
	require.Contains(t, boss.body, "is called 4 already")
	boss.brings(at+"/version", at+"/version", aPDF(t, "5th"), "edition", "5", "dated", "2026-11-01")
	boss.get(at) // with the notice of what was done
	boss.get(at)
	require.Contains(t, boss.body, "superseded on 24 Nov 2026 by version 5")
	require.Equal(t, 1, strings.Count(boss.body, "counts now"))

	boss.get(at + "/about")
	boss.post(at+"/about", "about", "")
	require.Contains(t, boss.body, "Nobody said what it is also about.")
	boss.post(at+"/about", "about", "model:"+c.models[1])
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)
	boss.get("/models/" + c.models[1])
	require.Contains(t, boss.body, "Documents (1)")

	boss.get(at + "/withdraw")
	boss.post(at+"/withdraw", "reason", "recalled", "secret", "wrong wrong wrong")
	require.Equal(t, http.StatusForbidden, boss.status)
	require.Contains(t, boss.body, `value="recalled"`)
	boss.post(at+"/withdraw", "reason", " ", "secret", testSecret)
	require.Contains(t, boss.body, "The reason is empty.")
	boss.post(at+"/withdraw", "reason", "recalled by the maker", "secret", testSecret)
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)
	boss.get(at)
	require.Contains(t, boss.body, "Withdrawn on 24 Nov 2026 by Sue Super: recalled by the maker.")
	require.NotContains(t, boss.body, "A newer version came")
	boss.post(at+"/withdraw", "reason", "again", "secret", testSecret)
	require.Equal(t, http.StatusConflict, boss.status)
	boss.get(at + "/withdraw")
	require.Equal(t, http.StatusSeeOther, boss.status)
	boss.get(at + "/1.pdf")
	require.Equal(t, string(first), boss.body, "it stays readable")
	boss.get("/documents")
	require.Contains(t, boss.body, "None is on file.")
	require.Contains(t, boss.body, "withdrawn on 24 Nov 2026")
	boss.get("/models/" + c.models[1])
	require.Contains(t, boss.body, "Documents (0)")

	r, err := sqlite.Verify(t.Context(), c.dir, sqlite.VerifyOptions{Files: true})
	require.NoError(t, err)
	require.Empty(t, r.Difference)
	require.Equal(t, 2, r.Files, "nothing of what was no PDF is kept")
}

// A PDF is sent as a PDF and as nothing else, with the bytes that were brought; a damaged or
// missing file is never sent.
func TestADocumentIsSentAsAPDF(t *testing.T) {
	c := newClinic(t)
	boss := c.person("Sue Super", "sue", reprocess.RoleSupervisor)
	about := "model:" + c.models[0]
	pdf := aPDF(t, "Handbook")
	at := boss.brings("/documents/new?about="+about, "/documents/new", pdf,
		newPaper("instructions", about, "Handbook", "4")...)
	c.bench.get(at + "/1.pdf")
	require.Equal(t, http.StatusOK, c.bench.status)
	require.Equal(t, string(pdf), c.bench.body)
	h := c.bench.header
	require.Equal(t, "application/pdf", h.Get("Content-Type"))
	require.Equal(t, "nosniff", h.Get("X-Content-Type-Options"))
	require.Equal(t, documentPolicy, h.Get("Content-Security-Policy"))
	require.Contains(t, h.Get("Content-Security-Policy"), "sandbox")
	require.Regexp(t, `^inline; filename="instructions-Q[0-9]+-1\.pdf"$`, h.Get("Content-Disposition"))
	require.Equal(t, "no-store", h.Get("Cache-Control"))
	for _, none := range []string{"/2.pdf", "/0.pdf", "/1", "/01.pdf", "/x.pdf", "/1.pdf.pdf", "/-1.pdf"} {
		c.bench.get(at + none)
		require.Equal(t, http.StatusNotFound, c.bench.status, none)
	}
	for _, none := range []string{"/document/Q0", "/document/Q0/1.pdf", "/documents?kind=letter",
		"/documents?on=wearer", "/documents?about=wearer:W1", "/documents?about=model"} {
		c.bench.get(none)
		require.Equal(t, http.StatusNotFound, c.bench.status, none)
	}
	stranger := c.enrolled()
	stranger.get(at + "/1.pdf")
	require.Equal(t, http.StatusSeeOther, stranger.status)
	require.Empty(t, stranger.body)

	files, err := filepath.Glob(filepath.Join(c.dir, "files", "*", "*"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	require.NoError(t, os.WriteFile(files[0], append(bytes.Clone(pdf), ' '), 0o600))
	c.bench.get(at + "/1.pdf")
	require.Equal(t, http.StatusServiceUnavailable, c.bench.status)
	require.Contains(t, c.bench.body, "damaged")
	require.NotContains(t, c.bench.header.Get("Content-Type"), "pdf")
	require.NoError(t, os.Remove(files[0]))
	c.bench.get(at + "/1.pdf")
	require.Equal(t, http.StatusNotFound, c.bench.status)
}

// The exact size is taken over the wire and one byte more is refused in a sentence; the other
// addresses of documents stay at the usual limit of a form.
func TestTheSizeOfADocument(t *testing.T) {
	c := newClinic(t)
	boss := c.person("Sue Super", "sue", reprocess.RoleSupervisor)
	about := "model:" + c.models[0]
	page := "/documents/new?about=" + about
	large := append([]byte("%PDF-1.7\n"), bytes.Repeat([]byte{'x'}, reprocess.MostDocumentBytes-8)...)
	boss.get(page)
	boss.sendFile("/documents/new", "file", large, newPaper("instructions", about, "Handbook", "4")...)
	require.Equal(t, http.StatusBadRequest, boss.status)
	require.Contains(t, boss.body, "This file has 16.1 MiB and at most 16 MiB are kept.")
	at := boss.brings(page, "/documents/new", large[:len(large)-1],
		newPaper("instructions", about, "Handbook", "4")...)
	boss.get(at)
	boss.sendFile(at+"/withdraw", "file", large[:1<<20])
	require.Equal(t, http.StatusRequestEntityTooLarge, boss.status)
}

// Who may: the bench and the desk read, technicians and infection control add, papers about
// the staff are the supervisor's, the auditor's and the person's own.
func TestWhoReadsAndKeepsDocuments(t *testing.T) {
	c := newClinic(t)
	boss := c.person("Sue Super", "sue", reprocess.RoleSupervisor)
	who := map[string]*browser{"desk": c.person("Dan Desk", "dan", reprocess.RoleFrontDesk),
		"tech":     c.person("Tim Tech", "tim", reprocess.RoleTechnician),
		"control":  c.person("Ina Control", "ina", reprocess.RoleInfection),
		"auditor":  c.person("Odd Audit", "odd", reprocess.RoleAuditor),
		"bench":    c.bench,
		"supervis": boss}
	ben := ""
	for id, p := range c.world().People {
		if p.SignIn == "ben" {
			ben = id
		}
	}
	model, person := "model:"+c.models[0], "person:"+ben
	paper := boss.brings("/documents/new?about="+model, "/documents/new", aPDF(t, "a"),
		newPaper("instructions", model, "Handbook", "4")...)
	course := boss.brings("/documents/new?about="+person, "/documents/new", aPDF(t, "b"),
		append(newPaper("certificate", person, "Course in wiping", "1"), "until", "2026-12-24")...)
	for name, b := range who {
		b.get("/documents")
		require.Contains(t, b.body, "Handbook", name)
		reads := name == "bench" || name == "auditor" || name == "supervis"
		require.Equal(t, reads, strings.Contains(b.body, "Course in wiping"), name)
		b.get(course)
		require.Equal(t, reads, b.status == http.StatusOK, name)
		b.get(course + "/1.pdf")
		require.Equal(t, reads, b.status == http.StatusOK, name)
		if !reads {
			require.Equal(t, http.StatusForbidden, b.status, name)
		}
		keeps := name == "tech" || name == "control" || name == "supervis"
		b.get(paper)
		require.Equal(t, keeps, strings.Contains(b.body, "A newer version came"), name)
		b.sendFile(paper+"/version", "file", []byte("%PDF-1.4 "+name), "edition", name, "dated", "2026-11-20")
		require.Equal(t, keeps, b.status == http.StatusSeeOther, name+b.body)
		b.get("/today")
		require.Equal(t, reads && name != "auditor", strings.Contains(b.body, "Certificate about Ben Bench, until 24 Dec 2026."), name)
	}
	tim := who["tech"]
	tim.get("/documents/new")
	require.NotContains(t, tim.body, "person%3A", "papers about the staff are not offered")
	tim.get("/documents/new?about=" + model)
	tim.sendFile("/documents/new", "file", aPDF(t, "c"), newPaper("certificate", person, "Mine", "1")...)
	require.Equal(t, http.StatusForbidden, tim.status)
	require.Contains(t, tim.body, "Only a supervisor keeps papers about the staff.")
	tim.get(paper)
	tim.post(paper+"/withdraw", "reason", "no", "secret", testSecret)
	require.Equal(t, http.StatusForbidden, tim.status)
	boss.get("/staff/" + ben)
	require.Contains(t, boss.body, "Documents (1)")
	boss.get("/documents?about=" + person)
	require.Contains(t, boss.body, "Which papers are there about Ben Bench?")
	boss.get("/documents?kind=certificate")
	require.NotContains(t, boss.body, "Handbook")
	boss.get("/documents?on=model")
	require.NotContains(t, boss.body, "Course in wiping")
	require.Less(t, len(boss.body), 20_000, "page weight, uncompressed")
}

// One tap from the step: the instructions of the model at its page, and at the disinfection
// the data sheet; the version stands in the record of the cycle, and a change is told.
func TestTheInstructionsAtTheStep(t *testing.T) {
	c := newClinic(t)
	boss := c.person("Sue Super", "sue", reprocess.RoleSupervisor)
	c.bench.get(c.path())
	require.Contains(t, c.bench.body, "No instructions for use of Model recorder are on file.")
	require.NotContains(t, c.bench.body, "/documents/new", "the bench reads")
	boss.get("/settings/documents")
	boss.post("/settings/documents", "instructions", "")
	require.Contains(t, boss.body, "It is not said")
	boss.post("/settings/documents", "instructions", "demand")
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)
	c.bench.get(c.path())
	c.bench.post(c.path("step"), "step", "receipt", "piece", c.recorder, "piece", c.phone,
		"answers", "condition=whole old_cell=yes recording=arrived")
	require.Equal(t, http.StatusUnprocessableEntity, c.bench.status)
	require.Contains(t, c.bench.body, "this clinic demands them before a cycle")
	boss.get("/settings/documents")
	boss.post("/settings/documents", "instructions", "remark")
	require.Equal(t, http.StatusForbidden, boss.status)
	boss.post("/settings/documents", "instructions", "remark", "reason", "not yet", "secret", testSecret)
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)

	model := "model:" + c.models[0]
	handbook := boss.brings("/documents/new?about="+model, "/documents/new", aPDF(t, "a"),
		newPaper("instructions", model, "Handbook", "4")...)
	var product reprocess.Product
	for _, p := range c.world().Products {
		product = *p
	}
	boss.get("/product/" + product.ID)
	require.Contains(t, boss.body, "No data sheet is attached")
	on := "product:" + product.ID
	sheet := boss.brings("/documents/new?about="+on, "/documents/new", aPDF(t, "b"),
		newPaper("data_sheet", on, "Wipe sheet", "2")...)
	boss.get("/product/" + product.ID)
	require.NotContains(t, boss.body, "No data sheet is attached")
	require.Contains(t, boss.body, "Documents (1)")
	require.NotEmpty(t, c.world().Products[product.ID].Sheet)

	c.bench.get(c.path())
	require.Contains(t, c.bench.body, `<a href="`+handbook+`/1.pdf">Instructions: Handbook, version 4</a>`)
	require.NotContains(t, c.bench.body, "Wipe sheet", "only where it is used")
	c.bench.post(c.path("step"), "step", "receipt", "piece", c.recorder, "piece", c.phone,
		"answers", "condition=whole old_cell=yes recording=arrived")
	require.Equal(t, http.StatusSeeOther, c.bench.status, c.bench.body)
	c.bench.get(c.path())
	c.bench.post(c.path("step"), "step", "cleaning", "piece", c.recorder, "piece", c.phone,
		"answers", "clean=yes parts_clean=yes")
	require.Equal(t, http.StatusSeeOther, c.bench.status, c.bench.body)
	product.AsWritten, product.WrittenS = "page 14", 60
	c.must(reprocess.SetProduct{Product: product})
	c.bench.get(c.path())
	require.Contains(t, c.bench.body, handbook+`/1.pdf#page=14">Instructions: Handbook, version 4, page 14</a>`)
	require.Contains(t, c.bench.body, sheet+`/1.pdf">Data sheet: Wipe sheet, version 2</a>`)
	require.NotContains(t, c.bench.body, "changed while it ran")

	boss.brings(handbook+"/version", handbook+"/version", aPDF(t, "c"), "edition", "5", "dated", "2026-11-20")
	c.bench.get(c.path())
	told := "Recorder: The instructions changed while it ran: Handbook, version 4 when it began, then Handbook, version 5."
	require.Contains(t, c.bench.body, told)
	require.Contains(t, c.bench.body, handbook+"/2.pdf#page=14")
	c.bench.get(c.path("release"))
	require.Contains(t, c.bench.body, "Handbook, version 4. The instructions changed while it ran")
	require.Contains(t, c.bench.body, "No instructions for use were on file.", "of the phone")
	c.bench.get(c.path("history"))
	require.Contains(t, c.bench.body, "cycle 1 begun, by the instructions Handbook, version 4")
}

// The tester's paper hangs on the result of a check.
func TestThePaperOfACheck(t *testing.T) {
	c := newClinic(t)
	tim := c.person("Tim Tech", "tim", reprocess.RoleTechnician)
	c.must(reprocess.SetChecks{Model: c.models[0], Checks: []reprocess.CheckRule{{Words: "safety", Months: 12}}})
	rule := c.world().Models[c.models[0]].Checks[0].ID
	tim.get("/checks/" + c.recorder)
	require.NotContains(t, tim.body, "Papers of the testers")
	e := c.must(reprocess.RecordCheck{Kit: c.kit, Piece: c.recorder, Check: rule, On: "2026-11-02",
		Result: "passed", Tester: "Workshop"})
	tim.get("/checks/" + c.recorder)
	require.Contains(t, tim.body, "Documents (0)")
	key := "check:" + c.recorder + ":" + rule + ":" + strconv.FormatInt(e.Seq, 10)
	tim.get("/documents?about=" + key)
	require.Contains(t, tim.body, "Which papers are there about this technical check?")
	at := tim.brings("/documents/new?about="+key, "/documents/new", aPDF(t, "report"),
		newPaper("test_paper", key, "Report 12", "1")...)
	tim.get(at)
	require.Contains(t, tim.body, "Safety, recorder R-0017, 2 Nov 2026")
	tim.get("/checks/" + c.recorder)
	require.Contains(t, tim.body, "Documents (1)")
	tim.get("/documents/new?about=" + strings.Replace(key, ":"+strconv.FormatInt(e.Seq, 10), ":1", 1))
	tim.sendFile("/documents/new", "file", aPDF(t, "other"),
		newPaper("test_paper", strings.Replace(key, ":"+strconv.FormatInt(e.Seq, 10), ":1", 1), "R", "1")...)
	require.Equal(t, http.StatusUnprocessableEntity, tim.status)
	require.Contains(t, tim.body, "not the newest result")
}
