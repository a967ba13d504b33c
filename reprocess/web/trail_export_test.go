package web

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"

	"handback/reprocess"
	"handback/reprocess/export"
	"handback/reprocess/ledger"
	"handback/reprocess/sqlite"
)

// The lines are the entries as they were hashed, as many as there were when it was asked.
func TestLinesOfEverything(t *testing.T) {
	c := newClinic(t)
	b := c.auditor()
	n := c.entryCount()
	file := fileOf(t, b, "ndjson")
	c.must(reprocess.Move{Kit: c.kit, Place: "later"})
	b.get(file)
	require.Equal(t, http.StatusOK, b.status)
	lines := strings.Split(strings.TrimSuffix(b.body, "\n"), "\n")
	require.Len(t, lines, int(n))
	for i, line := range lines {
		body, err := c.store.Body(context.Background(), int64(i+1))
		require.NoError(t, err)
		require.Equal(t, string(body), line)
	}
}

// The bundle holds what the writer's own tests check against the schema of HL7.
func TestFHIRFromThePage(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.auditor()
	b.get(fileOf(t, b, "fhir", "kit", "17"))
	require.Equal(t, "application/fhir+json", b.header.Get("Content-Type"))
	require.True(t, strings.HasPrefix(b.body, `{"resourceType":"Bundle"`))
	require.Contains(t, b.body, `"AuditEvent"`)
	require.True(t, strings.HasSuffix(b.body, "]}\n"), "whole")
}

func TestTableOfCycles(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.auditor()
	b.get(fileOf(t, b, "cycles", "kit", "17", "from", "2026-11-24"))
	rows, err := csv.NewReader(strings.NewReader(b.body)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 3, "a heading, recorder and phone")
	b.get(fileOf(t, b, "cycles", "from", "2026-11-25"))
	require.Equal(t, 1, strings.Count(b.body, "\r\n"))
}

// The evidence file is checked by the rules of its format (reprocess/ledger) with the key of
// the site, and a changed byte is found.
func TestEvidenceFromThePage(t *testing.T) {
	c := newClinic(t)
	c.release()
	c.clock.step(24 * time.Hour) // so that the day is a part of the record
	b := c.auditor()
	for _, pairs := range [][]string{nil, {"kit", "17"}, {"from", "2026-11-24", "to", "2026-11-24"}} {
		b.get(fileOf(t, b, "evidence", pairs...))
		require.Equal(t, http.StatusOK, b.status, b.body)
		require.Equal(t, "application/zip", b.header.Get("Content-Type"))
		file := []byte(b.body)
		options := ledger.CheckOptions{VKey: c.store.VerifierKey(), CSV: export.CSV}
		r, err := ledger.CheckEvidence(bytes.NewReader(file), int64(len(file)), options)
		require.NoError(t, err)
		require.True(t, r.KeyConfirmed)
		require.Equal(t, pairs == nil, r.Whole)
		if len(pairs) == 2 {
			require.Equal(t, c.kit, r.Kit, "the roll call shows that the kit is complete")
		}
		file[bytes.Index(file, []byte(`"act":`))+7] ^= 1
		_, err = ledger.CheckEvidence(bytes.NewReader(file), int64(len(file)), options)
		require.Error(t, err)
	}
}

// What a form cannot show is refused before anything is recorded.
func TestCopyRefusals(t *testing.T) {
	c := newClinic(t)
	b := c.auditor()
	n := c.entryCount()
	for _, x := range []struct {
		form, want string
		pairs      []string
	}{{"cycles", "by period and kit only", []string{"act", "wet"}},
		{"evidence", "by period and kit only", []string{"words", "wipe"}},
		{"entries", "There is no kit", []string{"kit", "99"}}} {
		b.get("/trail/copy")
		b.post("/trail/copy", append([]string{"form", x.form}, x.pairs...)...)
		require.GreaterOrEqual(t, b.status, 400, x.form)
		require.Contains(t, b.text(), x.want, x.form)
		require.Contains(t, b.body, fmt.Sprintf(`name="%s" value="%s"`, x.pairs[0], x.pairs[1]))
	}
	require.Equal(t, n, c.entryCount())
	b.get("/trail/copy")
	b.post("/trail/copy", "form", "paper plane")
	require.Equal(t, http.StatusBadRequest, b.status)
}

// A copy belongs to who took it, for an hour, and to the filter that its entry names.
func TestACopyIsFetchedOnlyAsItWasTaken(t *testing.T) {
	c := newClinic(t)
	b := c.auditor()
	file := fileOf(t, b, "entries", "kit", "17")
	seq := c.entryCount()
	other := c.person("Hal Auditor", "hal", reprocess.RoleAuditor)
	other.get(file)
	require.Equal(t, http.StatusUnprocessableEntity, other.status)
	for _, address := range []string{
		fmt.Sprintf("/trail/copy/%d/file", seq), fmt.Sprintf("/trail/copy/%d/file?kit=17&act=wet", seq),
		fmt.Sprintf("/trail/copy/%d/file?kit=17", seq-1), "/trail/copy/99999/file?kit=17",
		fmt.Sprintf("/trail/copy/%d/print?kit=17", seq)} {
		b.get(address)
		require.GreaterOrEqual(t, b.status, 400, address)
		require.NotContains(t, b.body, "seq,at", address)
	}
	c.clock.step(copyLives)
	b.signIn("gil", testSecret)
	b.get(file)
	require.Equal(t, http.StatusOK, b.status)
	c.clock.step(time.Millisecond)
	b.get(file)
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.text(), "within the last hour")
}

func TestPrintedList(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.auditor()
	b.get(takeOut(t, b, "print", "kit", "17"))
	require.Equal(t, http.StatusOK, b.status)
	for _, want := range []string{"kit 17", "by Gil Auditor", "24 Nov 2026 14:", "Count",
		"How this was checked: no checkpoint has been signed yet", "<thead>", "Released, signed"} {
		require.Contains(t, b.text(), want)
	}
	require.Less(t, strings.Index(b.text(), "Registered as kit"),
		strings.Index(b.text(), "Released, signed"), "paper begins with the oldest")
	_, err := c.store.Checkpoint(context.Background())
	require.NoError(t, err)
	b.get(takeOut(t, b, "print", "kit", "17"))
	require.Contains(t, b.text(), "newest checkpoint over")
}

// Two thousand entries go on paper, one more does not.
func TestTheLongestPrintedList(t *testing.T) {
	c := newClinic(t)
	before, err := c.store.Count(context.Background(), sqlite.Filter{Kit: c.kit})
	require.NoError(t, err)
	var moves []sqlite.Request
	for i := range mostPrinted - int(before) {
		moves = append(moves, sqlite.Request{Actor: c.boss,
			Cmd: reprocess.Move{Kit: c.kit, Place: fmt.Sprintf("shelf %d", i)}})
	}
	_, err = c.store.DoMany(context.Background(), moves)
	require.NoError(t, err)
	b := c.auditor()
	b.get(takeOut(t, b, "print", "kit", "17"))
	require.Equal(t, mostPrinted, strings.Count(b.body, `<tr><td class="number">`))
	c.must(reprocess.Move{Kit: c.kit, Place: "one more"})
	b.get("/trail/copy?kit=17")
	b.post("/trail/copy", "form", "print", "kit", "17")
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.text(), "2001 entries do not go on paper well; 2000 do.")
}

// Infection control reads and takes nothing out; others do not come in.
func TestWhoReadsAndWhoTakes(t *testing.T) {
	c := newClinic(t)
	reader := c.person("Ines Control", "ines", reprocess.RoleInfection)
	reader.get("/trail")
	require.Equal(t, http.StatusOK, reader.status)
	require.NotContains(t, reader.body, "/trail/copy")
	reader.get("/trail/checks")
	require.NotContains(t, reader.body, "Check everything now")
	for _, address := range []string{"/trail/copy", "/trail/copy/1/file", "/trail/copy/1/print"} {
		reader.get(address)
		require.Equal(t, http.StatusForbidden, reader.status, address)
	}
	for _, address := range []string{"/trail", "/trail/1", "/trail/checks", "/lookback", "/sample"} {
		c.bench.get(address)
		require.Equal(t, http.StatusForbidden, c.bench.status, address)
	}
}

// served answers one request with a stream and gives what a client of another make reads.
func served(t *testing.T, write func(io.Writer) error) ([]byte, error) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s := &fasthttp.Server{Handler: func(ctx *fasthttp.RequestCtx) {
		ctx.Response.SetBodyStream(stream(write), -1)
	}}
	done := make(chan error, 1)
	go func() { done <- s.Serve(ln) }()
	res, err := http.Get("http://" + ln.Addr().String())
	require.NoError(t, err)
	body, err := io.ReadAll(res.Body)
	require.NoError(t, res.Body.Close())
	require.NoError(t, s.Shutdown())
	require.NoError(t, <-done)
	return body, err
}

// A file that breaks off is an error at the client (RFC 9112, section 8: an incomplete chunked
// body), a panic too; a whole one is not.
func TestABrokenDownloadIsSeen(t *testing.T) {
	long := strings.Repeat("row\r\n", 40_000)
	for name, write := range map[string]func(io.Writer) error{
		"error": func(w io.Writer) error {
			_, err := io.WriteString(w, long)
			return errors.Join(err, errors.New("the disk is gone"))
		},
		"panic": func(w io.Writer) error {
			if _, err := io.WriteString(w, long); err != nil {
				return err
			}
			panic("fault")
		},
	} {
		body, err := served(t, write)
		require.ErrorIs(t, err, io.ErrUnexpectedEOF, name)
		require.Less(t, len(body), len(long)+1, name)
	}
	body, err := served(t, func(w io.Writer) error {
		_, err := io.WriteString(w, long)
		return err
	})
	require.NoError(t, err)
	require.Equal(t, long, string(body))
}

// A reader that goes away ends the writing.
func TestAReaderThatLeavesEndsTheWriting(t *testing.T) {
	ended := make(chan error, 1)
	r := stream(func(w io.Writer) error {
		for {
			if _, err := io.WriteString(w, "row\r\n"); err != nil {
				ended <- err
				return err
			}
		}
	})
	_, err := r.Read(make([]byte, 10))
	require.NoError(t, err)
	require.NoError(t, r.Close())
	require.ErrorIs(t, <-ended, io.ErrClosedPipe)
}
