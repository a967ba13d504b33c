package web

import (
	"context"
	"encoding/csv"
	"fmt"
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// auditor is somebody who reads the record and takes copies out.
func (s *testSite) auditor() *browser {
	s.t.Helper()
	return s.person("Gil Auditor", "gil", reprocess.RoleAuditor)
}

func (b *browser) text() string { return html.UnescapeString(b.body) }

// personID finds somebody by the short name of the sign-in.
func (s *testSite) personID(short string) string {
	s.t.Helper()
	w, err := s.store.SetUp(context.Background())
	require.NoError(s.t, err)
	for id, p := range w.People {
		if p.SignIn == short {
			return id
		}
	}
	s.t.Fatal("there is no " + short)
	return ""
}

func (s *testSite) entryCount() int64 {
	s.t.Helper()
	n, err := s.store.Size(context.Background())
	require.NoError(s.t, err)
	return n
}

func TestTrailTellsEntriesInSentences(t *testing.T) {
	c := newClinic(t)
	c.release()
	c.clock.step(time.Minute)
	c.bench.get(c.path())
	b := c.auditor()
	b.get("/trail")
	require.Equal(t, http.StatusOK, b.status)
	for _, want := range []string{"Released, signed", "Ben Bench, signed", "kit 17",
		"Gil Auditor on the staff: an auditor", "What happened?", "everything.",
		"24 Nov 2026 14:"} {
		require.Contains(t, b.text(), want)
	}
	require.Less(t, strings.Index(b.text(), "Released, signed"),
		strings.Index(b.text(), "Registered as kit 17"), "the newest stands first")
}

// Every filter lets through what it says and nothing else; the counts are told.
func TestTrailFilters(t *testing.T) {
	c := newClinic(t)
	c.release()
	_, err := c.store.Do(context.Background(), sqlite.Request{Actor: c.boss,
		Cmd: reprocess.ReleaseKit{Kit: c.kit}})
	require.Error(t, err)
	b := c.auditor()
	ben := c.personID("ben")
	for address, want := range map[string][2]string{
		"/trail?kit=17":                              {"Whole surface wet", "on the staff"},
		"/trail?kit=" + c.kit:                        {"Whole surface wet", "on the staff"},
		"/trail?person=" + ben:                       {"Whole surface wet", "Registered as kit"},
		"/trail?act=release":                         {"Released, signed", "Whole surface wet"},
		"/trail?result=refused":                      {"Refused: ", "Released, signed"},
		"/trail?lot=W-77":                            {"Whole surface wet", "Dry"},
		"/trail?container=" + c.tub:                  {"opened, lot Bench wipe W-77", "Registered as kit"},
		"/trail?procedure=" + c.procedures[0] + "@1": {"Cycle 1 begun", "opened, lot"},
		"/trail?words=bench+WIPE":                    {"“Bench wipe” described", "Released, signed"},
		"/trail?from=2026-11-24&to=2026-11-24":       {"Released, signed", "There is no such entry"},
		"/trail?from=2026-11-25":                     {"There is no such entry", "Released, signed"},
		"/trail?to=2026-11-23":                       {"There is no such entry", "Released, signed"},
		"/trail?act=override":                        {"There is no such entry", "Released, signed"},
		"/trail?words=%25v":                          {"“Bench wipe” described", "Released, signed"},
	} {
		b.get(address)
		require.Equal(t, http.StatusOK, b.status, address)
		list := regexp.MustCompile(`(?s)<ul class="ruled">.*`).FindString(b.text())
		require.Contains(t, list, want[0], address)
		require.NotContains(t, list, want[1], address)
	}
}

// What cannot be found is said; the filter stays typed.
func TestTrailFilterRefusals(t *testing.T) {
	c := newClinic(t)
	b := c.auditor()
	for address, want := range map[string]string{
		"/trail?kit=99":                           "There is no kit “99” here.",
		"/trail?lot=Z":                            "There is no lot “Z” here.",
		"/trail?container=Z":                      "There is no container “Z” here.",
		"/trail?person=S99":                       "There is no person",
		"/trail?act=delete":                       "There is no act",
		"/trail?result=both":                      "There is no outcome",
		"/trail?procedure=Q@1":                    "There is no procedure version",
		"/trail?from=24.11.2026":                  "is not a day",
		"/trail?from=2026-11-25&to=2026-11-24":    "ends before it begins",
		"/trail?words=" + strings.Repeat("a+", 9): "too many words",
	} {
		b.get(address)
		require.Contains(t, []int{http.StatusBadRequest, http.StatusNotFound}, b.status, address)
		require.Contains(t, b.text(), want, address)
		require.Contains(t, b.body, `action="/trail"`, address)
	}
	b.get("/trail?kit=99")
	require.Contains(t, b.body, `name="kit" type="text" value="99"`)
}

// Pages of fifty by the number of the last entry; every entry is on exactly one.
func TestTrailPages(t *testing.T) {
	c := newClinic(t)
	for i := range 2 * trailLength {
		c.must(reprocess.Move{Kit: c.kit, Place: fmt.Sprintf("shelf %d", i)})
	}
	b := c.auditor()
	seen := map[string]bool{}
	address, pages := "/trail?kit=17", 0
	for address != "" {
		b.get(address)
		require.Equal(t, http.StatusOK, b.status)
		for _, m := range regexp.MustCompile(`<li><a href="(/trail/\d+)">`).FindAllStringSubmatch(b.body, -1) {
			require.False(t, seen[m[1]], m[1])
			seen[m[1]] = true
		}
		address = ""
		if m := regexp.MustCompile(`class="act" href="([^"]*)">What was before`).
			FindStringSubmatch(b.body); m != nil {
			address = html.UnescapeString(m[1])
			require.Contains(t, address, "kit=17")
		}
		pages++
	}
	n, err := c.store.Count(context.Background(), sqlite.Filter{Kit: c.kit})
	require.NoError(t, err)
	require.Len(t, seen, int(n))
	require.Equal(t, 3, pages)
}

// The words of the record are escaped wherever they stand, whatever they are.
func TestTheRecordIsEscaped(t *testing.T) {
	c := newClinic(t)
	evil := `<script>alert("x")</script>'&{{.Body}}`
	e := c.must(reprocess.Move{Kit: c.kit, Place: evil})
	b := c.auditor()
	take := takeOut(t, b, "print", "kit", "17")
	for _, address := range []string{"/trail", fmt.Sprintf("/trail/%d", e.Seq), take} {
		b.get(address)
		require.Equal(t, http.StatusOK, b.status, address)
		require.NotContains(t, b.body, "<script>alert", address)
		require.Contains(t, b.body, "&lt;script&gt;alert", address)
	}
	b.get("/trail?words=" + `%3Cscript%3E`)
	require.NotContains(t, b.body, "<script>alert")
	require.NotContains(t, b.body, `value="<script>`)
}

// The entry page shows figures, signature, bytes and a proof that the page checked.
func TestEntryPage(t *testing.T) {
	c := newClinic(t)
	c.release()
	released := c.entryCount()
	b := c.auditor()
	b.get(fmt.Sprintf("/trail/%d", released))
	require.Equal(t, http.StatusOK, b.status)
	for _, want := range []string{"Signed", "Printed name", "Ben Bench", "At the clinic", "UTC",
		"2026-11-24T14:", "Meaning", "Everyday, recorder”, version 1", c.procedures[0] + "@1",
		"No checkpoint covers this entry yet"} {
		require.Contains(t, b.text(), want)
	}
	body, err := c.store.Body(context.Background(), released)
	require.NoError(t, err)
	require.Contains(t, b.text(), string(body), "the bytes as hashed")
	_, err = c.store.Checkpoint(context.Background())
	require.NoError(t, err)
	b.get(fmt.Sprintf("/trail/%d", released))
	proof, err := c.store.Proof(context.Background(), released)
	require.NoError(t, err)
	require.NotEmpty(t, proof.Path)
	for _, h := range proof.Path {
		require.Contains(t, b.body, h.String())
	}
	require.Contains(t, b.body, proof.Leaf.String())
	require.Contains(t, b.body, proof.Checkpoint.Root.String())
	for _, bad := range []string{"0", "-1", "01", "99999", "x", "9223372036854775808"} {
		b.get("/trail/" + bad)
		require.Equal(t, http.StatusNotFound, b.status, bad)
		require.Contains(t, b.text(), "There is no such entry.")
	}
}

// A tap that was taken back leads to what took it back, and the other way round.
func TestEntriesPointAtEachOther(t *testing.T) {
	c := newClinic(t)
	c.step([]string{c.recorder, c.phone}, reprocess.StepReceipt, "condition", "whole",
		"recording", "arrived", "old_cell", "yes")
	step := c.entryCount()
	undo := c.act(reprocess.Undo{Kit: c.kit, Of: step})
	held := c.act(reprocess.PutOnHold{Kit: c.kit, Piece: c.recorder, Reason: "cracked"})
	b := c.auditor()
	b.get(fmt.Sprintf("/trail/%d", step))
	require.Contains(t, b.body, fmt.Sprintf(`<a href="/trail/%d">Taken back by entry %[1]d</a>`, undo.Seq))
	b.get(fmt.Sprintf("/trail/%d", undo.Seq))
	require.Contains(t, b.body, fmt.Sprintf(`<a href="/trail/%d">Takes back entry %[1]d</a>`, step))
	decided := c.must(reprocess.DecideHold{Kit: c.kit, Piece: c.recorder, Hold: held.Seq,
		To: "go_on", Reason: "a scratch only"})
	b.get(fmt.Sprintf("/trail/%d", held.Seq))
	require.Contains(t, b.body, fmt.Sprintf(`Decided by entry %d`, decided.Seq))
}

var readyAt = regexp.MustCompile(`href="(/trail/copy/\d+/file[^"]*)"`)

// takeOut takes a copy out by the pages and gives the address that it leads to.
func takeOut(t *testing.T, b *browser, form string, pairs ...string) string {
	t.Helper()
	address := trailFilter{}.address("/trail/copy", pairs...)
	b.get(address)
	require.Equal(t, http.StatusOK, b.status, b.body)
	b.post("/trail/copy", append([]string{"form", form}, pairs...)...)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	return b.header.Get("Location")
}

func fileOf(t *testing.T, b *browser, form string, pairs ...string) string {
	t.Helper()
	b.get(takeOut(t, b, form, pairs...))
	m := readyAt.FindStringSubmatch(b.body)
	require.NotNil(t, m, b.body)
	return html.UnescapeString(m[1])
}

// A table holds exactly the filtered entries; the export is an entry before it, not in it.
func TestTableOfFilteredEntries(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.auditor()
	before := c.entryCount()
	file := fileOf(t, b, "entries", "kit", "17", "act", "wet")
	e, err := c.store.Entry(context.Background(), c.entryCount())
	require.NoError(t, err)
	require.Equal(t, before+1, e.Seq)
	require.Equal(t, reprocess.ActExport, e.Act)
	require.Equal(t, "Gil Auditor", e.Name)
	require.Equal(t, "kit 17, acts “record wetness”", e.Events[0].Event.(reprocess.Exported).Scope)
	b.get(file)
	require.Equal(t, http.StatusOK, b.status)
	require.Equal(t, "text/csv; charset=utf-8", b.header.Get("Content-Type"))
	require.Equal(t, fmt.Sprintf(`attachment; filename="entries-2026-11-24-%d.csv"`, e.Seq),
		b.header.Get("Content-Disposition"))
	rows, err := csv.NewReader(strings.NewReader(b.body)).ReadAll()
	require.NoError(t, err)
	require.Equal(t, "seq", rows[0][0])
	n, err := c.store.Count(context.Background(), sqlite.Filter{Kit: c.kit, Act: reprocess.ActWet})
	require.NoError(t, err)
	require.Len(t, rows, int(n)+1)
	for _, row := range rows[1:] {
		require.Equal(t, "wet", row[4])
	}
	plain := b.body
	b.get(file + "&excel=1")
	require.Equal(t, "\ufeff"+plain, b.body)
	require.Equal(t, before+1, c.entryCount(), "fetching again is the same copy")
}

// TestTheTrailByModelStateAndSite: each of them alone finds what it names and nothing else, and a
// name that nothing has is said.
func TestTheTrailByModelStateAndSite(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.auditor()
	w := c.world()
	recorder := w.Pieces[c.recorder].Model
	b.get("/trail?model=" + recorder)
	require.Contains(t, b.text(), "Released, signed")
	require.NotContains(t, b.text(), "Gil Auditor on the staff")
	b.get("/trail?state=released")
	require.Contains(t, b.text(), "Released, signed")
	require.Contains(t, b.text(), "kits that are released now")
	b.get("/trail?state=retired")
	require.NotContains(t, b.text(), "Released, signed")
	b.get("/trail?site=" + strings.ReplaceAll(w.Settings.Site, " ", "%20"))
	require.Contains(t, b.text(), "Released, signed")
	b.get("/trail?site=Elsewhere")
	require.NotContains(t, b.text(), "Released, signed")
	for _, address := range []string{"/trail?model=M0", "/trail?state=germ-free"} {
		b.get(address)
		require.Equal(t, http.StatusNotFound, b.status, address)
	}
}
