package sqlite

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"sync"

	_ "modernc.org/sqlite" // the driver registers itself as "sqlite"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// Options are what the caller owns: the clock, the source of randomness and the log.
type Options struct {
	Clock  func() reprocess.Now // the present; needed for writing
	Random io.Reader            // 32 good bytes at a time; nil: the system's
	Site   string               // name of the site for a new folder, such as "Main building"
	Log    *slog.Logger         // nil: nothing is logged

	// HashKiB is the memory of one new hash of a secret; 0 is the full cost. Only tests set it,
	// to be quick (a test of package reprocess sees to that); below 8 there is no hash.
	HashKiB uint32

	portion int // rows that folding anew holds before some are let go of; 0: the usual number
}

// Store is one open data folder. Safe for use by several goroutines.
type Store struct {
	dir     string
	opts    Options
	log     *slog.Logger
	lock    *os.File
	writeDB *sql.DB // one connection, owned by the writer goroutine
	read    *sql.DB // query-only
	wearers *sql.DB // links from loan tokens to wearer references, one connection
	secrets secrets
	jobs    chan *job
	closing chan struct{}
	done    chan struct{}
	once    sync.Once
	setUp   setUp
	figures figuresMemo
	drafts  sync.Mutex // one piece of an upload at a time
}

// The folders and files of a data folder.
const (
	lockName    = "lock"
	ledgerName  = "ledger.db"
	filesName   = "files"
	secretsName = "secrets"
)

// minSQLite is the first version in which two connections to a WAL cannot corrupt it
// (sqlite.org/wal.html#walresetbug).
const minSQLite = 3_051_003

// Open opens a data folder for writing and makes it if it is not there. A folder that another
// server holds, a schema or a fold from a newer program and a ledger without its signing key
// are refused, each with a *reprocess.Problem that says what to do. Read tables that an older
// fold wrote are folded anew from the entries first.
func Open(dir string, o Options) (*Store, error) {
	s := &Store{dir: dir, opts: o, log: o.Log, jobs: make(chan *job, 256),
		closing: make(chan struct{}), done: make(chan struct{})}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if s.opts.Random == nil {
		s.opts.Random = rand.Reader
	}
	if s.opts.Site == "" {
		s.opts.Site = "unnamed site" // until the settings name it
	}
	if s.opts.HashKiB == 0 {
		s.opts.HashKiB = argonKiB
	}
	if o.Clock == nil {
		return nil, errors.New("sqlite: Options.Clock is missing")
	}
	w := newScribe(s)
	err := s.open(context.Background())
	if err == nil {
		err = w.prepare(context.Background())
	}
	if err == nil {
		err = w.refold(context.Background())
	}
	if err == nil {
		err = w.fillBlocks(context.Background())
	}
	if err != nil {
		s.closeAll()
		return nil, err
	}
	go s.writer(w)
	return s, nil
}

// open does everything but start the writer; on an error closeAll cleans up.
func (s *Store) open(ctx context.Context) error {
	for _, d := range []string{s.dir, s.path(filesName), s.path(secretsName)} {
		if err := os.MkdirAll(d, 0o700); err != nil {
			return unusable("The data folder cannot be made.", err)
		}
	}
	if err := os.Chmod(s.path(secretsName), 0o700); err != nil {
		return unusable("The folder of secrets cannot be closed to others.", err)
	}
	var err error
	if s.lock, err = lockFile(s.path(lockName)); err != nil {
		return err
	}
	if s.writeDB, err = openWriter(ctx, s.path(ledgerName)); err != nil {
		return err
	}
	all, err := migrations()
	if err != nil {
		return err
	}
	if err := migrate(ctx, s.writeDB, all); err != nil {
		return unusable("The database cannot be brought to this program's form.", err)
	}
	if s.read, err = openReader(ctx, s.path(ledgerName), ""); err != nil {
		return err
	}
	if err := s.openSecrets(ctx); err != nil {
		return err
	}
	return s.openSides(ctx)
}

// Dir is the data folder.
func (s *Store) Dir() string { return s.dir }

func (s *Store) path(parts ...string) string {
	return filepath.Join(append([]string{s.dir}, parts...)...)
}

// Close lets the waiting requests finish, then closes the folder. Calling it again does
// nothing.
func (s *Store) Close() error {
	s.once.Do(func() { close(s.closing) })
	<-s.done
	return nil
}

// closeAll closes whatever was opened, readers first so that the last connection can fold
// the write-ahead log back into the file.
func (s *Store) closeAll() {
	s.closeSides()
	for _, db := range []*sql.DB{s.read, s.writeDB} {
		if db != nil {
			if err := db.Close(); err != nil {
				s.log.Error("closing the database", "err", err)
			}
		}
	}
	if s.lock != nil {
		s.lock.Close() // this also gives the lock back
	}
}

// unusable is a problem of the folder or the database itself, told at the start.
func unusable(text string, err error) error {
	return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "folder", Err: err, Text: text,
		Fix: fmt.Sprintf("The cause is: %v.", err)}
}

// Pragmas reach every connection only through the connection string.
var (
	commonPragmas = []string{"busy_timeout(5000)", "foreign_keys(1)", "recursive_triggers(1)",
		"cache_size(-16000)", "trusted_schema(0)"}
	writerPragmas = append([]string{"journal_mode(WAL)", "synchronous(FULL)",
		"journal_size_limit(67108864)"}, commonPragmas...)
	readerPragmas = append([]string{"query_only(1)"}, commonPragmas...)
)

// dsn is the connection string of a file.
func dsn(path string, pragmas []string, more string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	q := url.Values{"_pragma": pragmas}
	return (&url.URL{Scheme: "file", Path: abs, RawQuery: q.Encode() + more}).String(), nil
}

// openWriter opens a database file for writing on one connection whose transactions all begin
// by taking the write lock.
func openWriter(ctx context.Context, path string) (*sql.DB, error) {
	db, err := openDB(ctx, path, writerPragmas, "&_txlock=immediate")
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	return db, os.Chmod(path, 0o600)
}

// openReader opens a database file for queries only; more is added to the connection string.
func openReader(ctx context.Context, path, more string) (*sql.DB, error) {
	db, err := openDB(ctx, path, readerPragmas, "&mode=ro"+more)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(8)
	db.SetMaxIdleConns(8)
	return db, nil
}

func openDB(ctx context.Context, path string, pragmas []string, more string) (*sql.DB, error) {
	name, err := dsn(path, pragmas, more)
	if err != nil {
		return nil, err
	}
	db, err := sql.Open("sqlite", name)
	if err != nil {
		return nil, err
	}
	if err := checkVersion(ctx, db); err != nil {
		db.Close()
		return nil, unusable("The database "+filepath.Base(path)+" cannot be opened.", err)
	}
	return db, nil
}

// checkVersion opens the first connection and refuses an engine with a known fault.
func checkVersion(ctx context.Context, db *sql.DB) error {
	var text string
	if err := db.QueryRowContext(ctx, `SELECT sqlite_version()`).Scan(&text); err != nil {
		return err
	}
	var major, minor, patch int
	if _, err := fmt.Sscanf(text, "%d.%d.%d", &major, &minor, &patch); err != nil {
		return fmt.Errorf("the engine names its version %q", text)
	}
	if major*1_000_000+minor*1000+patch < minSQLite {
		return fmt.Errorf("the engine %s can damage the file; 3.51.3 or later is needed", text)
	}
	return nil
}

// VerifierKey is the public key of the ledger, one line; it belongs on paper.
func (s *Store) VerifierKey() string { return s.secrets.vkey }

// Origin names this ledger in every checkpoint.
func (s *Store) Origin() string { return s.secrets.origin }

// Verifier checks what the store signs.
func (s *Store) Verifier() (ledger.Verifier, error) {
	return ledger.ParseVerifier(s.secrets.vkey)
}
