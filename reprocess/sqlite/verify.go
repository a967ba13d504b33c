package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// VerifyOptions say against what a folder is checked beyond itself.
type VerifyOptions struct {
	Key        string // public key obtained elsewhere; empty: the folder's own, if it has one
	Checkpoint []byte // a signed checkpoint kept elsewhere; empty: none
	Files      bool   // hash every file whose name is a hash as well

	portion int // rows held before some are let go of; 0: the usual number
}

// Report is the outcome of Verify. Tables and NotFolded together name every table.
type Report struct {
	Entries     int64
	Root        ledger.Hash // of those entries, recomputed
	Difference  string      // the first one, "entry N: …" or "table T, row K: …"; empty: none
	Tables      []string    // recomputed from the entries, row by row
	NotFolded   []NotFolded
	Checkpoints int      // signed statements found, each checked
	Newest      int64    // size of the newest of them, 0: none
	KeyGiven    bool     // the key came from outside the folder
	KeyUsed     bool     // signatures were checked at all
	Files       int      // hashed
	Unnamed     []string // kept files that no entry names, or whose removal is recorded; no fault
}

// NotFolded is a table that does not follow from the entries, with the reason.
type NotFolded struct{ Table, Reason string }

// notFolded is the closed list of tables that verify does not recompute. A test walks the
// schema: every table is here or recomputed.
var notFolded = append([]NotFolded{
	{"entry", "the entries themselves: every other table follows from them"},
	{"checkpoint", "signed statements: signature, size and root of each are checked"},
	{"migration", "how the schema came about: compared with this program's own"},
	{"fold", "which fold wrote the read tables: compared with this program's own"},
}, append(draftTables, authTables...)...)

// ledgerTables are recomputed beside the read tables.
var ledgerTables = []string{"node", "key", "chain", "act", "act_ref", "entry_block"}

// difference is a finding, not a failure of the check.
type difference struct{ text string }

func (d *difference) Error() string { return d.text }

func entryDiffers(seq int64, format string, args ...any) error {
	return &difference{fmt.Sprintf("entry %d: ", seq) + fmt.Sprintf(format, args...)}
}

func rowDiffers(table string, row any, format string, args ...any) error {
	return &difference{fmt.Sprintf("table %s, row %v: ", table, row) + fmt.Sprintf(format, args...)}
}

// Verify recomputes a data folder from its entries alone: bytes, numbers, hashes, kit chains,
// signed checkpoints and every row of every folded table. It changes nothing and works beside
// a running server, from one snapshot. The report names the first difference; an error means
// that the folder cannot be read, or that another fold than this program's wrote its read
// tables. Memory is bounded by the devices and cycles, not by the entries; about 80
// microseconds per entry.
func Verify(ctx context.Context, dir string, o VerifyOptions) (Report, error) {
	r, moved, err := verifyOnce(ctx, dir, o)
	if moved && err == nil { // a server started meanwhile: its log is there now
		r, moved, err = verifyOnce(ctx, dir, o)
	}
	if moved && err == nil {
		err = unusable("The folder changed while it was checked.",
			errors.New("something writes to it without the write-ahead log"))
	}
	return r, err
}

// verifyOnce checks one snapshot. Without a write-ahead log no server runs, and opening the
// file in the ordinary way would make one; so it is opened as unchanging, and moved tells when
// it was not.
func verifyOnce(ctx context.Context, dir string, o VerifyOptions) (
	r Report, moved bool, err error) {
	path := filepath.Join(dir, ledgerName)
	before, err := os.Stat(path)
	if err != nil {
		return r, false, unusable("There is no ledger in "+dir+".", err)
	}
	more, quiet := "", !exists(path+"-wal")
	if quiet {
		more = "&immutable=1"
	}
	db, err := openReader(ctx, path, more)
	if err != nil {
		return r, false, err
	}
	defer db.Close()
	r, err = verifyDB(ctx, db, dir, o)
	if quiet {
		after, statErr := os.Stat(path)
		moved = statErr != nil || !os.SameFile(before, after) || before.Size() != after.Size() ||
			!before.ModTime().Equal(after.ModTime()) || exists(path+"-wal")
	}
	return r, moved, err
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

// check is one run over one snapshot.
type check struct {
	ctx    context.Context
	tx     *sql.Tx
	opts   VerifyOptions
	report *Report
	fold   *portions
	shelf  *shelf // nil: not needed yet
	tree   *ledger.Tree
	chains map[string]link
	block  block              // the one that is being filled
	key    ledger.Verifier    // nil: none
	signed []signedSize       // checkpoints by ascending size
	book   reprocess.FileBook // what the entries say of files; nil: not asked for
}

func newCheck(ctx context.Context, tx *sql.Tx, o VerifyOptions, r *Report) *check {
	c := &check{ctx: ctx, tx: tx, opts: o, report: r, tree: new(ledger.Tree),
		chains: map[string]link{}}
	c.fold = newPortions(o.portion, c.openShelf)
	if o.Files {
		c.book = reprocess.FileBook{}
	}
	return c
}

// openShelf opens the tables for rows that are let go of.
func (c *check) openShelf() (querier, putter, error) {
	s, err := openShelf(c.ctx)
	if err != nil {
		return nil, nil, err
	}
	c.shelf = s
	return s.tx, s.put, nil
}

func (c *check) close() error {
	if c.shelf == nil {
		return nil
	}
	return noShelf(c.shelf.close())
}

func verifyDB(ctx context.Context, db *sql.DB, dir string, o VerifyOptions) (Report, error) {
	r := Report{NotFolded: notFolded, KeyGiven: o.Key != ""}
	for _, t := range readTables {
		r.Tables = append(r.Tables, string(t.name))
	}
	r.Tables = append(r.Tables, ledgerTables...)
	tx, err := db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return r, unusable("The ledger cannot be read.", err)
	}
	defer tx.Rollback() // nothing was written
	c := newCheck(ctx, tx, o, &r)
	err = errors.Join(c.run(dir), c.close())
	r.Entries, r.Root = c.tree.Size(), c.tree.Root()
	var d *difference
	var p *reprocess.Problem
	switch {
	case errors.As(err, &d):
		r.Difference = d.text
		return r, nil
	case err == nil || errors.As(err, &p):
		return r, err
	}
	return r, unusable("The ledger cannot be read.", err)
}

// run goes from what everything follows from to what follows.
func (c *check) run(dir string) error {
	if err := c.hasEntries(); err != nil {
		return err
	}
	if err := c.foldedAsHere(); err != nil {
		return err
	}
	if err := c.schemaAsHere(); err != nil {
		return err
	}
	if err := c.findKey(dir); err != nil {
		return err
	}
	steps := []func() error{c.readCheckpoints, c.entries, c.afterLast, c.chainTable,
		c.readTables, c.schema}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	if err := c.storedSecrets(dir); err != nil {
		return err
	}
	if c.opts.Files {
		return c.files(filepath.Join(dir, filesName))
	}
	return nil
}

// hasEntries refuses a file without a table of entries: nothing to check is not a clean bill.
func (c *check) hasEntries() error {
	var n int
	err := c.tx.QueryRowContext(c.ctx,
		`SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = 'entry'`).Scan(&n)
	if err == nil && n == 0 {
		err = errors.New("it has no table of entries, so 0 entries were checked")
	}
	if err != nil {
		return unusable("This is not a ledger.", err)
	}
	return nil
}

// findKey takes the key given, else the folder's own.
func (c *check) findKey(dir string) error {
	text := c.opts.Key
	if text == "" {
		line, err := readLine(filepath.Join(dir, secretsName, vkeyFile))
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		text = line
	}
	key, err := ledger.ParseVerifier(text)
	if err != nil {
		return &reprocess.Problem{Code: reprocess.Invalid, Rule: "key", Err: err,
			Text: "The public key cannot be read: " + err.Error() + ".",
			Fix:  "Give the whole line as it was printed."}
	}
	c.key, c.report.KeyUsed = key, true
	return nil
}
