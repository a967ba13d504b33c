package sqlite

import (
	"context"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

func TestCheckpointSaysWhatTheEntriesSay(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	note, err := b.Checkpoint(ctx)
	require.NoError(t, err)
	key, err := b.Verifier()
	require.NoError(t, err)
	cp, err := ledger.OpenCheckpoint(note, key)
	require.NoError(t, err)
	require.Equal(t, ledger.Checkpoint{Origin: b.Origin(), Size: 9, Root: cp.Root,
		At: int64(b.clock.now().UTC), Site: "Main building"}, cp)
	tree, err := ledger.Fold(b.Bodies(ctx, 1, 9))
	require.NoError(t, err)
	require.Equal(t, tree.Root(), cp.Root)

	b.clock.pass(1e12)
	again, err := b.Checkpoint(ctx)
	require.NoError(t, err)
	require.Equal(t, note, again, "one note for one size")
	file, err := os.ReadFile(b.path(filesName, "checkpoints", "9.txt"))
	require.NoError(t, err)
	require.Equal(t, note, file)
	kept, size, err := b.NewestCheckpoint(ctx)
	require.NoError(t, err)
	require.Equal(t, note, kept)
	require.Equal(t, int64(9), size)

	b.register("17")
	next, err := b.Checkpoint(ctx)
	require.NoError(t, err)
	proof, err := ledger.ProvePrefix(9, 10, b.Hashes(ctx))
	require.NoError(t, err)
	cp2, err := ledger.OpenCheckpoint(next, key)
	require.NoError(t, err)
	require.NoError(t, ledger.CheckPrefix(proof, 9, cp.Root, 10, cp2.Root))
	require.Equal(t, 2, verified(t, b.Dir()).Checkpoints)
}

func TestAnEmptyLedgerIsNotSigned(t *testing.T) {
	s := open(t, t.TempDir(), newClock())
	_, err := s.Checkpoint(context.Background())
	require.Equal(t, "empty", reprocess.AsProblem(err).Rule)
	_, _, err = s.NewestCheckpoint(context.Background())
	require.Equal(t, reprocess.NotFound, reprocess.AsProblem(err).Code)
	r, err := Verify(context.Background(), s.Dir(), VerifyOptions{})
	require.NoError(t, err)
	require.Empty(t, r.Difference)
	require.Zero(t, r.Entries)
}

// TestAnOlderCopyIsNotSignedFor: two different ledgers of one name, each signed, would be
// proof against nobody. Databases are put back from a copy, secrets stay.
func TestAnOlderCopyIsNotSignedFor(t *testing.T) {
	ctx := context.Background()
	dir, n, _ := folder(t)
	old := t.TempDir()
	require.NoError(t, os.CopyFS(old, os.DirFS(dir)))
	c := newClock()
	s := open(t, dir, c)
	b := &bench{TB: t, Store: s, clock: c, keys: 100,
		boss: reprocess.Actor{Person: &reprocess.Person{ID: "S1"}, Signed: true}}
	b.must(b.boss, reprocess.Move{Kit: "K10", Place: "shelf"})
	_, err := s.Checkpoint(ctx)
	require.NoError(t, err)
	require.NoError(t, s.Close())

	body, err := os.ReadFile(old + "/" + ledgerName)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(s.path(ledgerName), body, 0o600))
	again := open(t, dir, c)
	b.Store = again
	_, err = again.Checkpoint(ctx)
	require.Equal(t, "behind", reprocess.AsProblem(err).Rule, "shorter than what was signed")
	for i := range 2 {
		b.must(b.boss, reprocess.Move{Kit: "K10", Place: "other shelf " + strings.Repeat("i", i)})
	}
	size, err := again.Size(ctx)
	require.NoError(t, err)
	require.Equal(t, n+2, size)
	_, err = again.Checkpoint(ctx)
	require.Equal(t, "behind", reprocess.AsProblem(err).Rule, "as long, but another one")
	_, err = again.Do(ctx, b.request(b.boss, reprocess.Move{Kit: "K10", Place: "x"}))
	require.NoError(t, err, "work goes on")
}

func TestFilesAreHashedWhenAsked(t *testing.T) {
	dir, _, _ := folder(t)
	name := "2cf24dba5fb0a30e26e83b2ac5b9e29e1b161e5c1fa7425e73043362938b9824" // of "hello"
	path := dir + "/files/" + name
	require.NoError(t, os.WriteFile(path, []byte("hello"), 0o600))
	all := VerifyOptions{Files: true}
	r, err := Verify(context.Background(), dir, all)
	require.NoError(t, err)
	require.Empty(t, r.Difference)
	require.Equal(t, 1, r.Files)
	require.NoError(t, os.WriteFile(path, []byte("hallo"), 0o600))
	r, err = Verify(context.Background(), dir, all)
	require.NoError(t, err)
	require.Equal(t, "table files, row "+name+": its bytes are not the ones it is named by",
		r.Difference)
	require.Empty(t, verified(t, dir).Files, "only when asked")
}
