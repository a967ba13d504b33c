package sqlite

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestSettingsOfEveryConnection reads back what the connection strings ask for: a pragma sent
// through a pool would reach one connection only.
func TestSettingsOfEveryConnection(t *testing.T) {
	b := newBench(t)
	common := map[string]string{"busy_timeout": "5000", "foreign_keys": "1",
		"recursive_triggers": "1", "cache_size": "-16000", "trusted_schema": "0",
		"journal_mode": "wal", "synchronous": "2"}
	writer := map[string]string{"query_only": "0", "journal_size_limit": "67108864"}
	require.NoError(t, b.side(context.Background(), func(tx *sql.Tx) error {
		for name, want := range merge(common, writer) {
			require.Equal(t, want, pragma(t, tx, name), name)
		}
		return nil
	}))
	require.Equal(t, 1, b.writeDB.Stats().MaxOpenConnections)

	var conns []*sql.Conn
	for range 8 { // all at once, so that each is a connection of its own
		c, err := b.read.Conn(context.Background())
		require.NoError(t, err)
		conns = append(conns, c)
	}
	for _, c := range conns {
		for name, want := range merge(common, map[string]string{"query_only": "1"}) {
			require.Equal(t, want, pragma(t, c, name), name)
		}
		_, err := c.ExecContext(context.Background(), `DELETE FROM act`)
		require.ErrorContains(t, err, "readonly")
		require.NoError(t, c.Close())
	}
}

func merge(a, b map[string]string) map[string]string {
	m := map[string]string{}
	for _, from := range []map[string]string{a, b} {
		for k, v := range from {
			m[k] = v
		}
	}
	return m
}

func pragma(t testing.TB, q querier, name string) string {
	t.Helper()
	var value string
	require.NoError(t, q.QueryRowContext(context.Background(), "PRAGMA "+name).Scan(&value))
	return value
}

// TestTheWriterTakesTheLockAtOnce: a deferred transaction that reads first and writes later
// fails at once when somebody wrote in between (SQLITE_BUSY_SNAPSHOT, code 517).
func TestTheWriterTakesTheLockAtOnce(t *testing.T) {
	b := newBench(t)
	require.NoError(t, b.side(context.Background(), func(*sql.Tx) error {
		other, err := sql.Open("sqlite", "file:"+b.path(ledgerName)+"?_txlock=immediate")
		require.NoError(t, err)
		defer other.Close()
		_, err = other.Begin()
		require.ErrorContains(t, err, "locked")
		return nil
	}))
}

func TestAFolderHasOneServer(t *testing.T) {
	b := newBench(t)
	_, err := Open(b.Dir(), Options{Clock: b.clock.now})
	require.Equal(t, "locked", reprocess.AsProblem(err).Rule)
	require.NoError(t, b.Close())
	again := open(t, b.Dir(), b.clock)
	require.NoError(t, again.Close())
	require.NoError(t, again.Close(), "closing twice does nothing")
	_, err = again.Do(context.Background(), b.request(b.boss, reprocess.NotOurs{}))
	require.Equal(t, "closing", reprocess.AsProblem(err).Rule)
}

func TestSecretsAreForTheServerOnly(t *testing.T) {
	b := newBench(t)
	info, err := os.Stat(b.path(secretsName))
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o700), info.Mode().Perm())
	files, err := os.ReadDir(b.path(secretsName))
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 4)
	for _, f := range files {
		info, err := f.Info()
		require.NoError(t, err)
		require.Equal(t, os.FileMode(0o600), info.Mode().Perm(), f.Name())
	}
	info, err = os.Stat(b.path(ledgerName))
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
}

// TestALedgerWithoutItsSecretsIsRefused: new secrets would disown every earlier signature.
func TestALedgerWithoutItsSecretsIsRefused(t *testing.T) {
	for _, name := range []string{pepperFile, originFile, keyFile, vkeyFile} {
		dir, _, _ := folder(t)
		require.NoError(t, os.Remove(filepath.Join(dir, secretsName, name)))
		_, err := Open(dir, Options{Clock: newClock().now})
		require.ErrorContains(t, err, "restore it from its own backup", name)
	}
}

func TestTheSameFolderKeepsItsNameAndKey(t *testing.T) {
	b := newBench(t)
	key, origin := b.VerifierKey(), b.Origin()
	require.NoError(t, b.Close())
	again := open(t, b.Dir(), b.clock)
	require.Equal(t, key, again.VerifierKey())
	require.Equal(t, origin, again.Origin())
	other := newBench(t)
	require.NotEqual(t, key, other.VerifierKey())
	require.NotEqual(t, origin, other.Origin())
}

func TestMigrations(t *testing.T) {
	all, err := migrations()
	require.NoError(t, err)
	require.NotEmpty(t, all)
	fresh := func() *sql.DB {
		db, err := openWriter(context.Background(), filepath.Join(t.TempDir(), "m.db"))
		require.NoError(t, err)
		t.Cleanup(func() { db.Close() })
		return db
	}
	ctx := context.Background()
	db := fresh()
	require.NoError(t, migrate(ctx, db, all[:1]))
	require.NoError(t, migrate(ctx, db, all), "an older schema is brought on")
	require.NoError(t, migrate(ctx, db, all), "and stays")
	require.ErrorContains(t, migrate(ctx, db, all[:len(all)-1]), "use the newer program")

	changed := append([]migration(nil), all...)
	changed[0].sum = strings.Repeat("0", 64)
	require.ErrorContains(t, migrate(ctx, db, changed), "ran with another text")

	broken := append([]migration(nil), all...)
	broken = append(broken, migration{version: len(all) + 1, name: "broken",
		text: "CREATE TABLE half (x INTEGER) STRICT; SELECT nonsense", sum: "x"})
	require.ErrorContains(t, migrate(ctx, db, broken), "schema step broken")
	require.NoError(t, migrate(ctx, db, all), "a failed step leaves nothing behind")
	var n int
	require.NoError(t, db.QueryRow(`SELECT count(*) FROM sqlite_master WHERE name = 'half'`).Scan(&n))
	require.Zero(t, n)
}

// TestEntriesAreOnlyEverAdded tries every way around, INSERT OR REPLACE among them: without
// recursive_triggers it would slip past the delete trigger.
func TestEntriesAreOnlyEverAdded(t *testing.T) {
	b := newBench(t)
	for _, query := range []string{
		`UPDATE entry SET body = x'00' WHERE seq = 1`,
		`DELETE FROM entry WHERE seq = 9`,
		`INSERT OR REPLACE INTO entry (seq, body) VALUES (3, x'00')`,
		`REPLACE INTO entry (seq, body) VALUES (9, x'00')`,
		`INSERT INTO entry (seq, body) VALUES (11, x'00')`,
		`INSERT INTO entry (body) VALUES (x'00')`,
		`INSERT INTO entry (seq, body) VALUES (1, x'00') ON CONFLICT DO UPDATE SET body = x'00'`,
		`UPDATE node SET h = x'00'`, `DELETE FROM node`,
		`INSERT OR REPLACE INTO node (i, h) VALUES (3, x'00')`,
		`UPDATE key SET seq = 99`, `DELETE FROM key`,
		`INSERT OR REPLACE INTO key (key, seq) SELECT key, 77 FROM key`,
	} {
		err := b.side(context.Background(), func(tx *sql.Tx) error {
			_, err := tx.Exec(query)
			require.Error(t, err, query)
			return err
		})
		require.Error(t, err, query)
	}
	verified(t, b.Dir())
}
