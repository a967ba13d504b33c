package sqlite

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// foldGolden is the fold of testdata/history.jsonl.gz: which version it is of, and the SHA-256
// of its rows. Both change together.
var foldGolden = struct {
	version int
	rows    string
}{4, "8d40b1b02e50e1bab499d1fcd6a98b55c0bc496dcf3f598dc84ac4b5f3cbc994"}

// TestTheFoldKeepsItsVersion folds a history of 20 invented days whose entries were written
// once and are kept, so that only a changed fold changes the outcome, not a changed rule.
func TestTheFoldKeepsItsVersion(t *testing.T) {
	if *newHistory {
		writeHistory(t)
	}
	const fix = "the fold changed: raise FoldVersion and update this golden"
	got := foldedHash(t, historyBodies(t))
	require.Equal(t, foldGolden.rows, got, fix)
	require.Equal(t, reprocess.FoldVersion, foldGolden.version, fix)
}

// TestTheKeptHistoryHoldsEveryEvent: what no entry of it does, the golden does not guard.
func TestTheKeptHistoryHoldsEveryEvent(t *testing.T) {
	kinds := eventKinds(t, historyBodies(t))
	for _, name := range reprocess.EventNames() {
		require.Positive(t, kinds[name], "no %s: add it to lateEvents, run this package's tests "+
			"once with -new-history and update the golden; the version stays", name)
	}
}

// TestTheGuardSeesTheFold: a golden that no entry moves guards nothing.
func TestTheGuardSeesTheFold(t *testing.T) {
	bodies := historyBodies(t)
	whole := foldedHash(t, bodies)
	for _, n := range []int{100, 200, len(bodies) - 10} {
		require.NotEqual(t, whole, foldedHash(t, slices.Delete(slices.Clone(bodies), n-1, n)), n)
	}
}

// foldedHash hashes every row that a fold of the entries leaves, in one order.
func foldedHash(t *testing.T, bodies [][]byte) string {
	t.Helper()
	fold, h := newPortions(0, nil), sha256.New() // few rows, none is written
	out := json.NewEncoder(h)
	put := putter(func(query string, args ...any) error { return out.Encode(args) })
	require.NoError(t, foldBodies(t.Context(), put, fold, bodies))
	w := fold.world
	for _, table := range readTables {
		ids := table.ids(w)
		slices.Sort(ids)
		require.NotEmpty(t, ids, "the history has no row of %s", table.name)
		for _, id := range ids {
			row, err := table.row(id, w.Get(reprocess.Ref{Table: table.name, ID: id}))
			require.NoError(t, err)
			require.NoError(t, out.Encode([]any{table.name, table.fields(), row}))
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// aged makes a closed folder look as an older fold left it: with its version, and with rows
// that this fold does not make.
func aged(t testing.TB, dir string, version int) {
	t.Helper()
	tamper(t, dir, func(db *sql.DB) {
		mustExec(t, db, `UPDATE fold SET version = ?`, version)
		mustExec(t, db, `DELETE FROM cycle`)
		mustExec(t, db, `DELETE FROM act WHERE seq % 2 = 0`)
		mustExec(t, db, `UPDATE kit SET doc = '{"id":"K10","old":"field"}', number = 'old'`)
		mustExec(t, db, `INSERT INTO in_force (id, doc) VALUES ('M999', '"R999@1"')`)
	})
}

// otherFold checks that verify says why it cannot compare, in place of a difference.
func otherFold(t testing.TB, dir, fix string) {
	t.Helper()
	r, err := Verify(context.Background(), dir, VerifyOptions{})
	p := reprocess.AsProblem(err)
	require.NotNil(t, p, "%+v", r)
	require.Equal(t, "fold", p.Rule)
	require.Equal(t, "This folder was last written by another version of the program.", p.Text)
	require.Equal(t, fix, p.Fix)
	require.Empty(t, r.Difference)
}

const startItOnce = "Start it once, or verify with that version."

// TestAnOlderFoldIsFoldedAnew: the first start of a new program on an older folder leaves what
// a fold of all entries gives, says so once, and touches nothing else.
func TestAnOlderFoldIsFoldedAnew(t *testing.T) {
	dir, entries, _ := folder(t)
	want := dump(t, dir)
	for _, version := range []int{0, -1, reprocess.FoldVersion - 1} {
		aged(t, dir, version)
		require.NotEqual(t, want, dump(t, dir))
		otherFold(t, dir, startItOnce)
		var log bytes.Buffer
		s, err := Open(dir, Options{Clock: newClock().now, Log: slog.New(slog.NewTextHandler(&log, nil))})
		require.NoError(t, err)
		require.NoError(t, s.Close())
		require.Equal(t, 1, bytes.Count(log.Bytes(), []byte("folded anew")), log.String())
		require.Contains(t, log.String(), fmt.Sprintf("entries=%d", entries))
		require.Equal(t, want, dump(t, dir))
		verified(t, dir)
	}
	before := dump(t, dir)
	var log bytes.Buffer
	s, err := Open(dir, Options{Clock: newClock().now, Log: slog.New(slog.NewTextHandler(&log, nil))})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.NotContains(t, log.String(), "folded", "a folder of this fold is left alone")
	require.Equal(t, before, dump(t, dir))
}

// dump reads every row of the folder but the signed statements that a start may add.
func dump(t testing.TB, dir string) string {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, ledgerName))
	require.NoError(t, err)
	defer db.Close()
	tables := append([]string{"entry", "fold"}, ledgerTables...)
	for _, table := range readTables {
		tables = append(tables, string(table.name))
	}
	var text bytes.Buffer
	for _, table := range tables {
		rows, err := db.Query("SELECT * FROM " + table + " ORDER BY 1, 2")
		if err != nil {
			rows, err = db.Query("SELECT * FROM " + table) // of one column
		}
		require.NoError(t, err, table)
		columns, err := rows.Columns()
		require.NoError(t, err)
		s := &stream{rows: rows, n: len(columns)}
		for require.NoError(t, s.next()); s.row != nil; require.NoError(t, s.next()) {
			fmt.Fprintln(&text, table, s.row)
		}
		rows.Close()
	}
	return text.String()
}

// TestAFolderFromBeforeFoldsHadNumbers has no such table at all.
func TestAFolderFromBeforeFoldsHadNumbers(t *testing.T) {
	dir, _, _ := folder(t)
	want := dump(t, dir)
	aged(t, dir, 0)
	beforeFolds(t, dir)
	otherFold(t, dir, startItOnce)
	require.NoError(t, open(t, dir, newClock()).Close())
	require.Equal(t, want, dump(t, dir))
	verified(t, dir)
}

// beforeFolds takes away the step that brought the fold's number, and every later one.
func beforeFolds(t *testing.T, dir string) {
	t.Helper()
	beforeStep(t, dir, "fold")
}

// beforeStep takes away the step of this name and every later one, with the tables and indexes
// they made.
func beforeStep(t *testing.T, dir, name string) {
	t.Helper()
	steps, err := migrations()
	require.NoError(t, err)
	made := regexp.MustCompile(`(?m)^CREATE (?:UNIQUE )?(TABLE|INDEX) (\w+)`)
	var drops []string
	first := 0
	for _, m := range steps {
		if strings.HasSuffix(m.name, "_"+name) {
			first = m.version
		}
		if first == 0 {
			continue
		}
		for _, x := range made.FindAllStringSubmatch(m.text, -1) {
			drops = append(drops, "DROP "+x[1]+" "+x[2])
		}
	}
	require.NotEmpty(t, drops)
	slices.Sort(drops) // an index goes before its table
	for _, drop := range drops {
		onFile(t, dir, drop)
	}
	onFile(t, dir, fmt.Sprintf(`DELETE FROM migration WHERE version >= %d`, first))
}

// TestANewerFoldIsRefused: this program does not know what a newer fold adds.
func TestANewerFoldIsRefused(t *testing.T) {
	dir, _, _ := folder(t)
	aged(t, dir, reprocess.FoldVersion+1)
	before := dump(t, dir)
	_, err := Open(dir, Options{Clock: newClock().now})
	p := reprocess.AsProblem(err)
	require.Equal(t, "fold", p.Rule)
	require.Equal(t, "This folder was last written by a newer version of the program.", p.Text)
	require.NotEmpty(t, p.Fix)
	require.Equal(t, before, dump(t, dir))
	otherFold(t, dir, "Verify with that version: it is newer than this one.")
}

// TestTheVersionIsOneRow: two rows are somebody's doing; a start puts it right.
func TestTheVersionIsOneRow(t *testing.T) {
	for _, query := range []string{`DELETE FROM fold`,
		`INSERT INTO fold (version) SELECT version FROM fold`} {
		dir, _, _ := folder(t)
		tamper(t, dir, func(db *sql.DB) { mustExec(t, db, query) })
		r, err := Verify(context.Background(), dir, VerifyOptions{})
		require.NoError(t, err)
		require.Contains(t, r.Difference, "table fold, row version: ")
		require.NoError(t, open(t, dir, newClock()).Close())
		verified(t, dir)
	}
}

// TestAFailingFoldLeavesTheFolder makes the writes to each folded table fail in turn (as SQLite
// itself is tested: sqlite.org/testing.html, anomaly testing).
func TestAFailingFoldLeavesTheFolder(t *testing.T) {
	dir, _, _ := folder(t)
	want := dump(t, dir)
	aged(t, dir, 0)
	before := dump(t, dir)
	for _, table := range []string{"act", "act_ref", "settings", "person", "kit", "cycle", "loan",
		"phone", "fold"} {
		onFile(t, dir, `CREATE TRIGGER boom BEFORE INSERT ON `+table+
			` BEGIN SELECT raise(ABORT, 'boom'); END`)
		_, err := Open(dir, Options{Clock: newClock().now})
		require.ErrorContains(t, err, "boom", table)
		require.Equal(t, "The read tables cannot be folded from the entries.",
			reprocess.AsProblem(err).Text)
		require.Equal(t, before, dump(t, dir), table)
		onFile(t, dir, `DROP TRIGGER boom`)
	}
	require.NoError(t, open(t, dir, newClock()).Close())
	require.Equal(t, want, dump(t, dir))
	verified(t, dir)
}

func onFile(t testing.TB, dir, query string) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, ledgerName))
	require.NoError(t, err)
	defer db.Close()
	_, err = db.Exec(query)
	require.NoError(t, err, query)
}

// foldDir tells a copy of the test program to fold a folder and to wait before the commit.
const foldDir = "HANDBACK_TEST_FOLD_DIR"

// foldAndWait does everything of a fold but the commit, says so and waits to be killed.
func foldAndWait(dir string) {
	fail := func(err error) {
		if err != nil {
			fmt.Println("failed", err)
			os.Exit(1)
		}
	}
	ctx := context.Background()
	db, err := openWriter(ctx, filepath.Join(dir, ledgerName))
	fail(err)
	_, err = db.Exec(`PRAGMA cache_size = 2`) // so that pages reach the log before the commit
	fail(err)
	w := newScribe(&Store{dir: dir, writeDB: db, log: slog.New(slog.DiscardHandler)})
	fail(w.prepare(ctx))
	tx, err := db.BeginTx(ctx, nil)
	fail(err)
	_, err = w.foldAnew(ctx, tx)
	fail(err)
	fmt.Println("folded")
	select {}
}

// TestAKilledFoldIsDoneAgain kills a server after the whole fold and before its commit.
func TestAKilledFoldIsDoneAgain(t *testing.T) {
	dir, _, _ := folder(t)
	want := dump(t, dir)
	aged(t, dir, 0)
	before := dump(t, dir)
	for range 3 {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), foldDir+"="+dir)
		pipe, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		line, err := bufio.NewReader(pipe).ReadString('\n')
		require.NoError(t, err)
		require.Equal(t, "folded\n", line)
		info, err := os.Stat(filepath.Join(dir, ledgerName+"-wal"))
		require.NoError(t, err)
		require.Positive(t, info.Size(), "the fold had begun to be written")
		require.NoError(t, cmd.Process.Kill())
		require.Error(t, cmd.Wait(), "it was killed")
		otherFold(t, dir, startItOnce)
		require.Equal(t, before, dump(t, dir))
	}
	require.NoError(t, open(t, dir, newClock()).Close())
	require.Equal(t, want, dump(t, dir))
	verified(t, dir)
}

// BenchmarkRefold is the first start after the fold changed, on 3 969 entries; ns/entry is what
// grows.
func BenchmarkRefold(b *testing.B) {
	s := newBench(b)
	s.pool(60)
	s.bulk(s.history(60, 5))
	size, err := s.Size(context.Background())
	require.NoError(b, err)
	require.NoError(b, s.Close())
	b.ResetTimer()
	for range b.N {
		b.StopTimer()
		onFile(b, s.Dir(), `UPDATE fold SET version = 0`)
		b.StartTimer()
		again, err := Open(s.Dir(), Options{Clock: s.clock.now})
		require.NoError(b, err)
		b.StopTimer()
		require.NoError(b, again.Close())
		b.StartTimer()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(size), "ns/entry")
}
