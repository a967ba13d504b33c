package sqlite

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// pictured keeps bytes as a picture of the first kit's recorder.
func (b *bench) pictured(content string) string {
	b.Helper()
	sha, err := b.KeepFile([]byte(content))
	require.NoError(b, err)
	w, err := b.SetUp(context.Background())
	require.NoError(b, err)
	require.NotNil(b, w)
	k := b.kitWorld()
	b.must(b.boss, reprocess.AddPicture{Kit: k.ID, Piece: k.Pieces[0], SHA256: sha,
		Bytes: int64(len(content)), About: "the display"})
	return sha
}

// kitWorld is any kit of the bench.
func (b *bench) kitWorld() *reprocess.Kit {
	b.Helper()
	var id string
	require.NoError(b, b.read.QueryRow(`SELECT id FROM kit ORDER BY id LIMIT 1`).Scan(&id))
	k, err := Get[reprocess.Kit](context.Background(), b.Store, reprocess.TableKit, id)
	require.NoError(b, err)
	return k
}

func (b *bench) verifyFiles() Report {
	b.Helper()
	r, err := Verify(context.Background(), b.Dir(), VerifyOptions{Files: true})
	require.NoError(b, err)
	return r
}

// What an entry names and is not there, and one changed byte, are told apart; a file that no
// entry names is told and is no fault.
func TestVerifyHoldsTheFilesAgainstTheEntries(t *testing.T) {
	b := newBench(t)
	b.register("31")
	sha := b.pictured("a picture of a crack")
	r := b.verifyFiles()
	require.Empty(t, r.Difference)
	require.Empty(t, r.Unnamed)
	require.Equal(t, 1, r.Files)

	stray, err := b.KeepFile([]byte("nobody named me"))
	require.NoError(t, err)
	r = b.verifyFiles()
	require.Empty(t, r.Difference)
	require.Equal(t, []string{stray}, r.Unnamed)

	path := b.filePath(sha)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	broken := append([]byte(nil), whole...)
	broken[3] ^= 1
	require.NoError(t, os.WriteFile(path, broken, 0o600))
	require.Contains(t, b.verifyFiles().Difference, sha+": its bytes are not the ones")

	require.NoError(t, os.WriteFile(b.filePath(stray), []byte("changed"), 0o600))
	require.Contains(t, b.verifyFiles().Difference, "; 2 such files in all")
	require.NoError(t, os.Remove(b.filePath(stray)))

	require.NoError(t, os.Remove(path))
	require.Contains(t, b.verifyFiles().Difference, "names this picture and it is not there")
	r, err = Verify(context.Background(), b.Dir(), VerifyOptions{})
	require.NoError(t, err)
	require.Empty(t, r.Difference, "files are looked at when it is asked for")

	require.NoError(t, os.RemoveAll(filepath.Join(b.Dir(), "files")))
	require.Contains(t, b.verifyFiles().Difference, "it is not there")
}

// Removal by the clinic's rule: an entry names the hash, the bytes go, verify is content; and
// bytes that lie there again are told.
func TestFilesAreRemovedByTheRule(t *testing.T) {
	b := newBench(t)
	b.register("31")
	old := b.pictured("taken long ago")
	b.must(b.boss, reprocess.SetBenchRules{BenchRules: reprocess.BenchRules{KeepMonths: 12,
		Reason: "house rule 4"}})
	ctx := context.Background()
	size := func() int64 {
		n, err := b.Size(ctx)
		require.NoError(t, err)
		return n
	}
	before := size()
	n, err := b.RemoveOldFiles(ctx, reprocess.Console())
	require.NoError(t, err)
	require.Zero(t, n)
	require.Equal(t, before, size(), "nothing due leaves no entry")

	b.clock.pass(400 * 24 * time.Hour)
	young := b.pictured("taken today")
	before = size()
	n, err = b.RemoveOldFiles(ctx, reprocess.Console())
	require.NoError(t, err)
	require.Equal(t, 1, n)
	require.Equal(t, before+1, size())
	require.NoFileExists(t, b.filePath(old))
	require.FileExists(t, b.filePath(young))
	_, err = b.KeptFile(old)
	require.Equal(t, "file_gone", reprocess.AsProblem(err).Rule)
	entries, err := b.Entries(ctx, Filter{Act: reprocess.ActRemoveFiles}, 0, 9)
	require.NoError(t, err)
	require.Equal(t, reprocess.FilesRemoved{Files: []string{old}, Months: 12},
		entries[0].Events[0].Event)
	r := b.verifyFiles()
	require.Empty(t, r.Difference)
	require.Empty(t, r.Unnamed)

	again, err := b.KeepFile([]byte("taken long ago"))
	require.NoError(t, err)
	require.Equal(t, []string{again}, b.verifyFiles().Unnamed)
	n, err = b.RemoveOldFiles(ctx, reprocess.Console())
	require.NoError(t, err)
	require.Zero(t, n)
	require.NoFileExists(t, b.filePath(old), "swept without a new entry")

	b.pictured("taken long ago")
	require.Empty(t, b.verifyFiles().Difference, "kept again is kept")
	n, err = b.RemoveOldFiles(ctx, reprocess.Console())
	require.NoError(t, err)
	require.Zero(t, n)
	require.FileExists(t, b.filePath(old))
}
