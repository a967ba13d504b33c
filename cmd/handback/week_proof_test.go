package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// thursday: an inspector with a pass for two days reads, checks and takes a copy out, and may
// not write; the lost kit is found.
func (w *week) thursday() {
	w.t.Helper()
	w.until(4, 8, 0)
	w.sunniva.open("/passes")
	w.sunniva.stands("Give a pass", "name", "Vera Sand", "until", "2026-11-27", "secret", dayPassword)
	w.did(reprocess.ActPass, "")
	code := regexp.MustCompile(`/secret/([0-9A-Z-]+)`).FindStringSubmatch(w.sunniva.body)
	require.NotEmpty(w.t, code, w.sunniva.words())
	vera := &worker{w.plain(), "", dayPassword}
	vera.after = w.lens.after
	vera.open("/secret/" + code[1])
	vera.stands("Keep this secret", "secret", dayPassword, "secret_again", dayPassword)
	w.reads(vera)
	w.mayNotWrite(vera)
	w.takesOut(vera)
	w.foundAgain("101")
}

// reads opens what a pass is for.
func (w *week) reads(b *worker) {
	w.t.Helper()
	for _, path := range []string{"/trail", "/trail/checks", "/figures", "/lookback", "/sample",
		"/competence", "/kit/" + w.kits["111"] + "/history", "/kit/" + w.kits["111"] + "/papers"} {
		b.open(path)
	}
	require.NotContains(w.t, b.body, "A-111")
	b.open("/trail/checks")
	b.stands("Check everything now")
	require.Contains(w.t, b.words(), "No difference was found.")
	w.sunniva.open("/competence")
	require.NotContains(w.t, w.sunniva.words(), "Vera Sand", "a pass is nobody of the staff")
	w.lens.print(w.sunniva, "competence")
}

// mayNotWrite sends what others may send, with the inspector's own session and form token: all of
// it is refused, and nothing is done.
func (w *week) mayNotWrite(b *worker) {
	w.t.Helper()
	b.open("/trail/checks")
	token := regexp.MustCompile(`name="token" value="([^"]*)"`).FindStringSubmatch(b.body)
	require.NotEmpty(w.t, token)
	before, err := w.store.Size(w.t.Context())
	require.NoError(w.t, err)
	for _, path := range []string{"/take-in", "/stop", "/today/note", "/passes",
		"/kit/" + w.kits["118"] + "/step", "/kit/" + w.kits["113"] + "/release",
		"/desk/kit/" + w.kits["113"] + "/out", "/lot/" + w.lot + "/stop"} {
		res, err := b.client.PostForm("http://"+w.addr+path, url.Values{"token": {token[1]},
			"find": {"118"}, "reason": {"x"}, "note": {"x"}, "secret": {dayPassword}})
		require.NoError(w.t, err)
		require.NoError(w.t, res.Body.Close())
		require.Equal(w.t, http.StatusForbidden, res.StatusCode, path)
	}
	after, err := w.store.Size(w.t.Context())
	require.NoError(w.t, err)
	require.Equal(w.t, before, after)
}

// takesOut takes the evidence file, which is checked without the server.
func (w *week) takesOut(b *worker) {
	w.t.Helper()
	b.open("/trail/copy")
	b.stands("Take it out", "form", "evidence")
	w.did(reprocess.ActExport, "", "") // the roll call before it is one as well
	save := regexp.MustCompile(`class="act" href="([^"]*)" download`).FindStringSubmatch(b.body)
	require.NotEmpty(w.t, save, b.words())
	b.open(strings.ReplaceAll(save[1], "&amp;", "&"))
	file := filepath.Join(w.t.TempDir(), "evidence.zip")
	require.NoError(w.t, os.WriteFile(file, []byte(b.body), 0o600))
	require.Contains(w.t, ok(w.t, "verify", "--evidence", file),
		"both tables agree with the entries")
}

// foundAgain: whoever had it is not known, so what is on it is secured before anything else.
func (w *week) foundAgain(number string) {
	w.t.Helper()
	w.back(w.dario, number)
	require.Contains(w.t, w.dario.words(), "It was not recorded as out.")
	w.ada.open("/kit/" + w.kits[number])
	w.ada.stands("Nobody knows yet; the old cell stays in")
	w.toDrying(w.ada)
	w.ada.stands("Both: seals")
	w.ada.press("New cell from LR03", "a-charge", "80")
	require.Equal(w.t, http.StatusUnprocessableEntity, w.ada.status)
	require.Contains(w.t, w.ada.words(), "nothing may be erased and no cell pulled before")
	w.ada.open("/kit/" + w.kits[number])
	w.ada.follow("Say where the last recording is")
	w.ada.stands("Say where the last recording is", "status", "arrived")
	w.ada.open("/kit/" + w.kits[number])
	w.ada.stands("New cell from LR03", "a-charge", "80")
	w.did(reprocess.ActRecording, number)
}

// friday: the ward gives its kit back, the year is printed.
func (w *week) friday() {
	w.t.Helper()
	w.until(5, 8, 0)
	w.back(w.dario, "132", "worn", "1")
	w.sunniva.open("/figures/year")
	w.year, w.counted = w.sunniva.body, w.clock.Now().UTC.Time()
	w.lens.print(w.sunniva, "year")
}

// closed ends the server and reads every entry as it was hashed.
func (w *week) closed() []entryLine {
	w.t.Helper()
	w.stop()
	require.Contains(w.t, ok(w.t, "verify", "--data", w.dir), "entries, no difference")
	file, err := os.Open(exported(w.t, w.dir, "ndjson"))
	require.NoError(w.t, err)
	defer file.Close()
	var all []entryLine
	lines := bufio.NewScanner(file)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		var e entryLine
		require.NoError(w.t, json.Unmarshal(lines.Bytes(), &e))
		all = append(all, e)
	}
	require.NoError(w.t, lines.Err())
	return all
}

// found holds the script, the print and the bytes against the entries.
func (w *week) found(all []entryLine) {
	w.t.Helper()
	w.everyEntry(all)
	w.theYear(all)
	w.oneByte()
}

// oneByte changes one byte of one entry in the folder: the check names that entry.
func (w *week) oneByte() {
	w.t.Helper()
	file := filepath.Join(w.dir, "ledger.db")
	whole, err := os.ReadFile(file)
	require.NoError(w.t, err)
	at := bytes.Index(whole, []byte(`"act":"lot_stop"`))
	require.Positive(w.t, at)
	whole[at+len(`"act":"lot_st`)] ^= 1
	require.NoError(w.t, os.WriteFile(file, whole, 0o600))
	seq := strings.TrimSpace(shell(w.t, file,
		`SELECT seq FROM entry WHERE CAST(body AS TEXT) LIKE '%"act":"lot_stnp"%'`))
	require.NotEmpty(w.t, seq)
	require.Contains(w.t, firstLine(w.t, "verify", "--data", w.dir), "entry "+seq)
}

// everyEntry finds each act of the script with its kit, and of those acts nothing beside it.
func (w *week) everyEntry(all []entryLine) {
	w.t.Helper()
	number := map[string]string{"": ""}
	for n, id := range w.kits {
		number[id] = n
	}
	acts := map[reprocess.Act]bool{}
	var said, kept []string
	for _, l := range w.script {
		said = append(said, string(l.act)+" "+l.number)
		acts[l.act] = true
	}
	for _, e := range all {
		if acts[reprocess.Act(e.Act)] && e.Result == "done" && e.At.After(weekStart.Add(20*time.Minute)) {
			kept = append(kept, e.Act+" "+number[e.Kit])
		}
	}
	slices.Sort(said)
	slices.Sort(kept)
	require.Equal(w.t, strings.Join(said, "\n"), strings.Join(kept, "\n"))
}
