package sqlite

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// verified checks a folder that has to be in order.
func verified(t testing.TB, dir string) Report {
	t.Helper()
	r, err := Verify(context.Background(), dir, VerifyOptions{})
	require.NoError(t, err)
	require.Empty(t, r.Difference)
	require.Positive(t, r.Entries)
	return r
}

// folder makes a closed folder with one checkpoint in the middle and two kits, one after a
// whole pass; it answers how many entries there are and the size of the checkpoint.
func folder(t testing.TB) (dir string, entries, signed int64) {
	b := &bench{TB: t, clock: newClock()}
	dir = t.TempDir()
	s, err := Open(dir, Options{Clock: b.clock.now})
	require.NoError(t, err)
	b.Store = s
	b.setUp()
	kit := b.register("17")
	b.work(kit, b.pieceOf(kit), "17")
	note, err := s.Checkpoint(context.Background())
	require.NoError(t, err)
	key, err := s.Verifier()
	require.NoError(t, err)
	cp, err := ledger.OpenCheckpoint(note, key)
	require.NoError(t, err)
	other := b.register("18")
	b.refused("not_released", b.boss, reprocess.HandOut{Kit: other, Wearer: "w", Days: 3})
	e := b.must(b.boss, reprocess.Move{Kit: other, Place: "drawer"})
	require.NoError(t, s.Close())
	return dir, e.Seq, cp.Size
}

func TestVerifyOfAnUntouchedFolder(t *testing.T) {
	dir, n, signed := folder(t)
	r := verified(t, dir)
	require.Equal(t, n, r.Entries)
	require.Equal(t, 1, r.Checkpoints)
	require.Equal(t, signed, r.Newest)
	require.True(t, r.KeyUsed)
	require.False(t, r.KeyGiven)
	require.Len(t, r.Tables, len(reprocess.Tables())+len(ledgerTables))
}

// TestVerifyLeavesNothingBehind: a check must not change the folder, not even by files that
// the engine makes to read (common practice in audits: work on evidence, never in it).
func TestVerifyLeavesNothingBehind(t *testing.T) {
	dir, _, _ := folder(t)
	before := listing(t, dir)
	verified(t, dir)
	require.Equal(t, before, listing(t, dir))
	require.NotContains(t, before, "ledger.db-wal")
}

func listing(t testing.TB, dir string) string {
	t.Helper()
	var lines []string
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		info, err := e.Info()
		require.NoError(t, err)
		line := e.Name() + " " + info.ModTime().String()
		if info.Mode().IsRegular() {
			sum, err := hashFile(filepath.Join(dir, e.Name()))
			require.NoError(t, err)
			line += " " + sum
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, "\n")
}

func TestVerifyBesideARunningServer(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	verified(t, b.Dir())
	b.work(kit, b.pieceOf(kit), "17")
	verified(t, b.Dir())
}

// tamper changes a closed folder as somebody with the file and any SQLite program could, past
// the triggers, and puts the triggers back as they were.
func tamper(t testing.TB, dir string, change func(db *sql.DB)) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, ledgerName))
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	db.SetMaxOpenConns(1)
	rows, err := db.Query(`SELECT name, sql FROM sqlite_master WHERE type = 'trigger'`)
	require.NoError(t, err)
	triggers := map[string]string{}
	for rows.Next() {
		var name, text string
		require.NoError(t, rows.Scan(&name, &text))
		triggers[name] = text
	}
	require.NoError(t, rows.Err())
	require.NotEmpty(t, triggers)
	for name := range triggers {
		mustExec(t, db, "DROP TRIGGER "+name)
	}
	change(db)
	for _, text := range triggers {
		mustExec(t, db, text)
	}
}

func mustExec(t testing.TB, db *sql.DB, query string, args ...any) {
	t.Helper()
	r, err := db.Exec(query, args...)
	require.NoError(t, err, query)
	if n, err := r.RowsAffected(); !strings.Contains(query, "TRIGGER") {
		require.NoError(t, err)
		require.Positive(t, n, "%s touched nothing", query)
	}
}

// TestEveryTamperingIsNamed follows the list of attacks in RFC 6962's own setting: edit,
// delete, insert, reorder, truncate, and the read tables, which nobody hashes.
func TestEveryTamperingIsNamed(t *testing.T) {
	cases := []struct{ name, want, query string }{
		{"edit an entry", "entry 5: its bytes are not the ones",
			`UPDATE entry SET body = cast(replace(body, 'Ada Quill', 'Eve Quill') AS BLOB)
			WHERE seq = 5`},
		{"edit the last entry", "entry 26: its bytes are not the ones",
			`UPDATE entry SET body = cast(replace(body, 'drawer', 'pocket') AS BLOB) WHERE seq = 26`},
		{"reformat an entry", "entry 5: its bytes are not in their one form",
			`UPDATE entry SET body = cast(replace(body, ',"by"', ', "by"') AS BLOB) WHERE seq = 5`},
		{"delete an entry", "entry 9: missing", `DELETE FROM entry WHERE seq = 9`},
		{"delete the first", "entry 1: missing", `DELETE FROM entry WHERE seq = 1`},
		{"cut the last", "entry 26: missing", `DELETE FROM entry WHERE seq = 26`},
		{"swap two", "entry 8: its bytes say that it is entry 9",
			`UPDATE entry SET body = (SELECT body FROM entry o WHERE o.seq = 17 - entry.seq)
			WHERE seq IN (8, 9)`},
		{"insert at the end", "entry 27: has no stored hash",
			`INSERT INTO entry (seq, body) SELECT 27, cast(replace(body, '"seq":26', '"seq":27')
			AS BLOB) FROM entry WHERE seq = 26`},
		{"insert in between", "entry 5: its bytes say that it is entry 4",
			`UPDATE entry SET body = (SELECT body FROM entry o WHERE o.seq = 4) WHERE seq = 5`},
		{"change a leaf hash", "table node, row 7: is not the hash of entry 5",
			`UPDATE node SET h = randomblob(32) WHERE i = 7`},
		{"change an inner hash", "table node, row 2: is not the hash of its two halves",
			`UPDATE node SET h = randomblob(32) WHERE i = 2`},
		{"drop a hash", "table node, row 10: missing", `DELETE FROM node WHERE i = 10`},
		{"forget a key", "table key, row k-3: missing", `DELETE FROM key WHERE key = 'k-3'`},
		{"swap a key", "table key, row k-5: says [5 k-x]",
			`UPDATE key SET key = 'k-x' WHERE seq = 5`},
		{"hide a refusal", "table act, row 25: says", `UPDATE act SET result = 'done' WHERE seq = 25`},
		{"drop an act", "table act, row 11: missing", `DELETE FROM act WHERE seq = 11`},
		{"drop a reference", "table act_ref, row 11 piece P10-1: ",
			`DELETE FROM act_ref WHERE seq = 11 AND kind = 'piece'`},
		{"cut a kit's chain", "table chain, row K10: does not name",
			`UPDATE chain SET n = n - 1 WHERE kit = 'K10'`},
		{"drop a kit's chain", "table chain, row K10: missing", `DELETE FROM chain WHERE kit = 'K10'`},
		{"change a state", "table piece, row P10-1: state is released",
			`UPDATE piece SET state = 'released' WHERE id = 'P10-1'`},
		{"change a document", "table piece, row P10-1: doc is",
			`UPDATE piece SET doc = replace(doc, '"returned"', '"released"') WHERE id = 'P10-1'`},
		{"drop a loan", "table loan, row L22: missing", `DELETE FROM loan`},
		{"add a person", "table person, row S99: follows from no entry",
			`INSERT INTO person (id, sign_in, left_on, doc) SELECT 'S99', 'eve', '', doc FROM person`},
		{"swap the mark of a secret", "table secret_mac, row S1: doc is",
			`UPDATE secret_mac SET doc = '"ffff"'`},
		{"move a checkpoint", "table checkpoint, row 22: the note says size 23",
			`UPDATE checkpoint SET size = 22`},
		{"alter a step of the schema", "table migration, row 1: says",
			`UPDATE migration SET sha256 = '00' WHERE version = 1`},
		{"alter a checkpoint", "table checkpoint, row 23: the signature",
			`UPDATE checkpoint SET note = replace(note, 'Main', 'Nain')`},
	}
	whole, n, signed := folder(t)
	require.Equal(t, int64(26), n, "the cases name entries by number")
	require.Equal(t, int64(23), signed)
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			require.NoError(t, os.CopyFS(dir, os.DirFS(whole)))
			verified(t, dir)
			tamper(t, dir, func(db *sql.DB) { mustExec(t, db, c.query) })
			r, err := Verify(context.Background(), dir, VerifyOptions{})
			require.NoError(t, err)
			require.True(t, strings.HasPrefix(r.Difference, c.want), r.Difference)
		})
	}
}

// TestAForgedLedgerFailsAgainstWhatWasSigned: every entry and hash made anew by the program
// itself fits together, so only a signed statement can tell.
func TestAForgedLedgerFailsAgainstWhatWasSigned(t *testing.T) {
	dir, n, signed := folder(t)
	note, err := os.ReadFile(filepath.Join(dir, filesName, "checkpoints", "23.txt"))
	require.NoError(t, err)
	key, err := readLine(filepath.Join(dir, secretsName, vkeyFile))
	require.NoError(t, err)
	kept := VerifyOptions{Key: key, Checkpoint: note}
	r, err := Verify(context.Background(), dir, kept)
	require.NoError(t, err)
	require.Empty(t, r.Difference)
	require.True(t, r.KeyGiven)

	forged, m, _ := folder(t) // the same acts, another folder with its own key
	require.Equal(t, n, m)
	_, err = Verify(context.Background(), forged, kept)
	require.NoError(t, err)
	r, err = Verify(context.Background(), forged, kept)
	require.NoError(t, err)
	require.Contains(t, r.Difference, "table checkpoint, row 23: ")

	tamper(t, forged, func(db *sql.DB) { mustExec(t, db, `DELETE FROM checkpoint`) })
	r, err = Verify(context.Background(), forged, kept)
	require.NoError(t, err)
	require.Empty(t, r.Difference, "the same acts at the same times are the same entries")

	shorter := filepath.Join(t.TempDir(), "short")
	b := &bench{TB: t, clock: newClock()}
	b.clock.pass(time.Minute)
	s, err := Open(shorter, Options{Clock: b.clock.now})
	require.NoError(t, err)
	b.Store = s
	b.setUp()
	require.NoError(t, s.Close())
	r, err = Verify(context.Background(), shorter, kept)
	require.NoError(t, err)
	require.Contains(t, r.Difference, "entry 10: missing; at ")
	require.Less(t, int64(10), signed)
}

func TestVerifyNamesADroppedTrigger(t *testing.T) {
	dir, _, _ := folder(t)
	db, err := sql.Open("sqlite", filepath.Join(dir, ledgerName))
	require.NoError(t, err)
	mustExec(t, db, `DROP TRIGGER entry_no_update`)
	require.NoError(t, db.Close())
	r, err := Verify(context.Background(), dir, VerifyOptions{})
	require.NoError(t, err)
	require.Equal(t, "table sqlite_master, row entry_no_update: is not as this program makes it",
		r.Difference)
}

func TestVerifyRefusesWhatIsNoLedger(t *testing.T) {
	dir := t.TempDir()
	_, err := Verify(context.Background(), dir, VerifyOptions{})
	require.ErrorContains(t, err, "There is no ledger in ")
	db, err := sql.Open("sqlite", filepath.Join(dir, ledgerName))
	require.NoError(t, err)
	_, err = db.Exec(`CREATE TABLE other (x INTEGER)`)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	_, err = Verify(context.Background(), dir, VerifyOptions{})
	require.ErrorContains(t, err, "0 entries were checked")
	require.NoError(t, os.WriteFile(filepath.Join(dir, ledgerName), []byte("not a database at all"+
		strings.Repeat(" ", 5000)), 0o600))
	_, err = Verify(context.Background(), dir, VerifyOptions{})
	require.Error(t, err)
	require.Equal(t, reprocess.Unavailable, reprocess.AsProblem(err).Code)
}

// TestEveryTableIsFoldedOrListed walks the schema itself.
func TestEveryTableIsFoldedOrListed(t *testing.T) {
	b := newBench(t)
	known := map[string]int{}
	for _, name := range ledgerTables {
		known[name]++
	}
	for _, tbl := range readTables {
		known[string(tbl.name)]++
	}
	for _, n := range notFolded {
		known[n.Table]++
		require.NotEmpty(t, n.Reason)
	}
	rows, err := b.read.Query(`SELECT name FROM sqlite_master WHERE type = 'table'`)
	require.NoError(t, err)
	defer rows.Close()
	found := 0
	for rows.Next() {
		var name string
		require.NoError(t, rows.Scan(&name))
		require.Equal(t, 1, known[name], "table %s is not folded and not listed, or twice", name)
		found++
	}
	require.NoError(t, rows.Err())
	require.Equal(t, len(known), found)
}

// TestASwappedHashIsNamed: whoever can write the file could give somebody a secret of their own
// choosing; the entries hold an HMAC of each stored hash.
func TestASwappedHashIsNamed(t *testing.T) {
	dir, _, _ := folder(t)
	tamper(t, dir, func(db *sql.DB) {
		mustExec(t, db, `INSERT INTO secret (person, phc, at) VALUES ('S1', '$argon2id$x', 0)`)
	})
	r, err := Verify(context.Background(), dir, VerifyOptions{})
	require.NoError(t, err)
	require.Equal(t, "table secret, row S1: is not the hash that the entries know of", r.Difference)
	require.NoError(t, os.Remove(filepath.Join(dir, secretsName, pepperFile)))
	verified(t, dir) // a copy without its pepper cannot tell
}
