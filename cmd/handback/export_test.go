package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/export"
)

// kitNumber is the pool number of the first kit, as the database has it.
func kitNumber(t testing.TB, dir string) string {
	t.Helper()
	return strings.TrimSpace(shell(t, "file:"+dir+"/ledger.db?immutable=1",
		"SELECT doc ->> 'number' FROM kit ORDER BY id LIMIT 1"))
}

// exported writes one file and gives its path.
func exported(t testing.TB, dir, format string, more ...string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "out."+format)
	ok(t, append([]string{"export", "--data", dir, "--format", format, "--out", file}, more...)...)
	return file
}

// TestExportNDJSONIsWhatIsStored: read by SQLite's own shell.
func TestExportNDJSONIsWhatIsStored(t *testing.T) {
	dir := invented(t, 3)
	before := sums(t, dir)
	got, err := os.ReadFile(exported(t, dir, "ndjson"))
	require.NoError(t, err)
	require.Equal(t, before, sums(t, dir), "nothing in the folder changes")
	want := shell(t, "file:"+dir+"/ledger.db?immutable=1",
		"SELECT CAST(body AS TEXT) FROM entry ORDER BY seq")
	require.Equal(t, want, string(got))
	require.Equal(t, byte('{'), got[0])
}

// compareCSV reads both files with Python's own parsers and compares them row by row.
const compareCSV = `
import csv, json, sys
rows = list(csv.reader(open(sys.argv[1], newline='', encoding='utf-8'), strict=True))
lines = [json.loads(l) for l in open(sys.argv[2], encoding='utf-8')]
head, rows = rows[0], rows[1:]
assert len(rows) == len(lines), (len(rows), len(lines))
for row, e in zip(rows, lines):
    assert len(row) == len(head), row
    r = dict(zip(head, row))
    for k in ('seq', 'at', 'act', 'result', 'by', 'name', 'site', 'kit', 'key'):
        assert r[k] == str(e.get(k, '')), (k, r[k], e)
    assert r['events'].split() == list(dict.fromkeys(x['event'] for x in e.get('events', []))), e
    assert (r['refusal'] != '') == ('refusal' in e), e
print(len(rows), '|'.join(head))
`

func columnNames(t export.Table) []string {
	var names []string
	for _, c := range export.Columns(t) {
		names = append(names, c.Name)
	}
	return names
}

// TestExportCSVByOtherReaders: Python's csv module, strict, and the import of SQLite's shell.
func TestExportCSVByOtherReaders(t *testing.T) {
	dir := invented(t, 20)
	lines := exported(t, dir, "ndjson")
	for _, table := range export.Tables() {
		file := exported(t, dir, "csv", "--table", string(table))
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		require.True(t, bytes.HasSuffix(text, []byte("\r\n")), "RFC 4180: CRLF after the last row")
		require.False(t, bytes.HasPrefix(text, []byte("\xef\xbb\xbf")))
		db := filepath.Join(t.TempDir(), "x.db")
		imported := strings.Fields(shell(t, db, ".import --csv '"+file+"' t",
			"SELECT count(*) FROM t; SELECT count(*) FROM pragma_table_info('t')"))
		want := fmt.Sprint(bytes.Count(text, []byte("\r\n")) - 1)
		require.Equal(t, []string{want, fmt.Sprint(len(export.Columns(table)))}, imported)
		if table == export.TableEntries {
			got := python(t, compareCSV, file, lines)
			require.Equal(t, want+" "+strings.Join(columnNames(table), "|")+"\n", got)
		}
	}
}

// cyclesCSV compares the table of cycles with the database's own rows of cycles, which come
// from another path through the program.
const cyclesCSV = `
import csv, json, sqlite3, sys
db = sqlite3.connect('file:' + sys.argv[2] + '/ledger.db?immutable=1', uri=True)
docs = {r[0]: json.loads(r[1]) for r in db.execute('SELECT id, doc FROM cycle')}
rows = list(csv.DictReader(open(sys.argv[1], newline='', encoding='utf-8')))
assert len(rows) == len(docs), (len(rows), len(docs))
released = 0
for r in rows:
    d = docs[r['cycle']]
    for k in ('piece', 'kit', 'procedure', 'opened', 'end', 'ended', 'releaser', 'loan'):
        assert r[k] == str(d.get(k, '')), (k, r, d)
    lots = []
    for x in d['records']:
        if x['kind'] == 'wet_now' and not x.get('undone') and x['lot'] not in lots:
            lots.append(x['lot'])
    assert r['lots'].split() == lots, (r, d)
    if r['end'] == 'released':
        released += 1
        assert float(r['contact_s']) >= int(r['needed_s']) > 0, r
        assert r['wet_long_enough'] == 'yes', r
print(len(rows) > 50 and released > 20)
`

func TestExportCyclesAgreeWithTheDatabase(t *testing.T) {
	dir := invented(t, 60)
	require.Equal(t, "True\n", python(t, cyclesCSV, exported(t, dir, "csv", "--table", "cycles"), dir))
}

// TestExportFilters: by SQL on the table act; the window is half open.
func TestExportFilters(t *testing.T) {
	dir := invented(t, 3)
	file := "file:" + dir + "/ledger.db?immutable=1"
	count := func(cond string) string {
		return strings.TrimSpace(shell(t, file, "SELECT count(*) FROM act WHERE "+cond))
	}
	ask := func(more ...string) string {
		got := answer(t, append([]string{"export", "--data", dir, "--format", "ndjson", "--json",
			"--out", filepath.Join(t.TempDir(), "x")}, more...)...)
		requireKeys(t, got, "format", "table", "out", "count", "entries", "bytes")
		return fmt.Sprint(got["count"])
	}
	at := strings.TrimSpace(shell(t, file, "SELECT at FROM act WHERE seq = 70"))
	moment := strings.TrimSpace(shell(t, file,
		"SELECT strftime('%Y-%m-%dT%H:%M:%fZ', "+at+" / 1000.0, 'unixepoch')"))
	require.Equal(t, count("at >= "+at), ask("--from", moment))
	require.Equal(t, count("at < "+at), ask("--to", moment))
	require.NotEqual(t, "0", ask("--to", moment))
	id := strings.TrimSpace(shell(t, file, "SELECT id FROM kit ORDER BY id LIMIT 1"))
	require.Equal(t, count("kit = '"+id+"'"), ask("--kit", id))
	require.Equal(t, ask("--kit", id), ask("--kit", kitNumber(t, dir)))
	require.Equal(t, count("kit = '"+id+"' AND at >= "+at), ask("--kit", id, "--from", moment))
	require.Equal(t, "0", ask("--to", "1999-01-01 00:00"))
	require.Equal(t, count("1 = 1"), ask())
}

func TestExportBesideAServer(t *testing.T) {
	store := openInvented(t, 3)
	size, err := store.Size(t.Context())
	require.NoError(t, err)
	text, err := os.ReadFile(exported(t, store.Dir(), "ndjson"))
	require.NoError(t, err)
	require.EqualValues(t, size, bytes.Count(text, []byte("\n")))
}

func TestExportSaysWhatItWrote(t *testing.T) {
	dir, file := invented(t, 3), filepath.Join(t.TempDir(), "c.csv")
	out := ok(t, "export", "--data", dir, "--format", "csv", "--out", file, "--table", "cycles")
	info, err := os.Stat(file)
	require.NoError(t, err)
	require.Contains(t, out, " rows of cycles, ")
	require.Contains(t, out, fmt.Sprintf(", %d bytes, ", info.Size()))
	require.EqualValues(t, 0o600, info.Mode().Perm(), "it holds who did what")
	got := answer(t, "export", "--data", dir, "--format", "csv", "--out", file, "--json")
	require.Equal(t, "entries", got["table"])
	b, err := json.Marshal(got["entries"])
	require.NoError(t, err)
	require.Equal(t, fmt.Sprint(got["count"]), string(b))
}

func TestExportRefuses(t *testing.T) {
	dir, file := invented(t, 3), filepath.Join(t.TempDir(), "x.csv")
	with := func(more ...string) []string {
		return append([]string{"export", "--data", dir, "--out", file}, more...)
	}
	requireRefused(t, "--format is missing", with()...)
	requireRefused(t, `no format "pdf"`, with("--format", "pdf")...)
	requireRefused(t, `no table "loans"`, with("--format", "csv", "--table", "loans")...)
	requireRefused(t, "goes with --format csv", with("--format", "ndjson", "--table", "cycles")...)
	requireRefused(t, "not a time", with("--format", "csv", "--from", "monday")...)
	requireRefused(t, "holds nothing", with("--format", "csv", "--from", "2026-11-02 00:00", "--to",
		"2026-11-02 00:00")...)
	requireRefused(t, `no kit "none"`, with("--format", "csv", "--kit", "none")...)
	requireRefused(t, "--kit is empty", with("--format", "csv", "--kit", "")...)
	requireRefused(t, "--data is missing", "export", "--format", "csv", "--out", file)
	requireRefused(t, "no ledger", "export", "--data", t.TempDir(), "--format", "csv", "--out", file)
	requireFailed(t, "nothing was written", "export", "--data", dir, "--format", "csv", "--out",
		filepath.Join(dir, "nowhere", "x.csv"))
	requireFailed(t, "is not a file", "export", "--data", dir, "--format", "csv", "--out", dir)
	left, err := os.ReadDir(filepath.Dir(file))
	require.NoError(t, err)
	require.Empty(t, left)
}

// TestABrokenExportLeavesNothing: an entry that cannot be read, in the middle.
func TestABrokenExportLeavesNothing(t *testing.T) {
	dir, file := invented(t, 3), filepath.Join(t.TempDir(), "x.csv")
	shell(t, filepath.Join(dir, "ledger.db"), "DROP TRIGGER entry_no_update",
		"UPDATE entry SET body = X'7B' WHERE seq = 100")
	require.NoError(t, os.WriteFile(file, []byte("older"), 0o600))
	requireFailed(t, "nothing was written", "export", "--data", dir, "--format", "csv", "--out", file)
	left, err := os.ReadDir(filepath.Dir(file))
	require.NoError(t, err)
	require.Len(t, left, 1)
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, "older", string(text), "the file of before is still there")
}

// TestExportColumns: the list that is printed beside a table.
func TestExportColumns(t *testing.T) {
	for _, table := range export.Tables() {
		out := strings.Split(strings.TrimSpace(ok(t, "export", "--columns", "--table",
			string(table))), "\n")
		require.Len(t, out, len(export.Columns(table)))
		for i, c := range export.Columns(table) {
			require.Equal(t, c.Name, strings.Fields(out[i])[0])
		}
	}
	require.Regexp(t, `contact_s +s +longest`, ok(t, "export", "--columns", "--table", "cycles"))
	require.Contains(t, ok(t, "export", "--columns", "--json"), `"name":"at","unit":"UTC"`)
	requireRefused(t, "no table", "export", "--columns", "--table", "loans")
}

// TestExportFHIR: one JSON object that Python reads, with an AuditEvent for each entry.
func TestExportFHIR(t *testing.T) {
	dir := invented(t, 3)
	got := python(t, `import json, sys
b = json.load(open(sys.argv[1], encoding='utf-8'))
kinds = [e['resource']['resourceType'] for e in b['entry']]
print(b['resourceType'], b['type'], kinds.count('AuditEvent'), kinds.count('Device') > 0)`,
		exported(t, dir, "fhir"))
	count := strings.TrimSpace(shell(t, "file:"+dir+"/ledger.db?immutable=1",
		"SELECT count(*) FROM entry"))
	require.Equal(t, "Bundle collection "+count+" True\n", got)
}
