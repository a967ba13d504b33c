package sqlite

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

func snapshot(t testing.TB, dir string) *Snapshot {
	t.Helper()
	s, err := OpenSnapshot(context.Background(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func bodiesOf(t testing.TB, s *Snapshot) [][]byte {
	t.Helper()
	var all [][]byte
	for body, err := range s.Bodies(context.Background()) {
		require.NoError(t, err)
		all = append(all, body)
	}
	return all
}

// TestSnapshotIsOneMoment: entries written after it was opened are not in it.
func TestSnapshotIsOneMoment(t *testing.T) {
	b := newBench(t)
	size, err := b.Size(t.Context())
	require.NoError(t, err)
	s := snapshot(t, b.Dir())
	b.register("17")
	require.Equal(t, size, s.Size())
	all := bodiesOf(t, s)
	require.EqualValues(t, size, len(all))
	require.Equal(t, all, bodiesOf(t, s), "it can be run again")
	for i, body := range all {
		want, err := b.Body(t.Context(), int64(i+1))
		require.NoError(t, err)
		require.Equal(t, want, body)
	}
	require.NoError(t, s.Check(), "beside a server nothing is wrong with more entries")
	require.Greater(t, snapshot(t, b.Dir()).Size(), size)
}

// TestSnapshotKnowsCheckpointsUpToItsSize: newer ones are for more entries than it has.
func TestSnapshotKnowsCheckpointsUpToItsSize(t *testing.T) {
	b := newBench(t)
	_, _, err := snapshot(t, b.Dir()).Checkpoint(t.Context())
	require.Equal(t, reprocess.NotFound, reprocess.AsProblem(err).Code)
	note, err := b.Checkpoint(t.Context())
	require.NoError(t, err)
	s := snapshot(t, b.Dir())
	b.register("17")
	_, err = b.Checkpoint(t.Context())
	require.NoError(t, err)
	got, size, err := s.Checkpoint(t.Context())
	require.NoError(t, err)
	require.Equal(t, note, got)
	require.Equal(t, s.Size(), size)
	cuts, err := s.Cuts(t.Context())
	require.NoError(t, err)
	require.Equal(t, []int64{size}, cuts)
	root, err := ledger.RootAt(size, s.Hashes(t.Context()))
	require.NoError(t, err)
	vkey, err := s.VKey()
	require.NoError(t, err)
	require.Equal(t, b.VerifierKey(), vkey)
	key, err := ledger.ParseVerifier(vkey)
	require.NoError(t, err)
	cp, err := ledger.OpenCheckpoint(got, key)
	require.NoError(t, err)
	require.Equal(t, root, cp.Root)
	signer, err := s.Signer()
	require.NoError(t, err)
	require.Equal(t, b.Origin(), signer.Name())
}

// TestSnapshotOfAFolderAtRest changes nothing, and tells when a server started meanwhile.
func TestSnapshotOfAFolderAtRest(t *testing.T) {
	b := newBench(t)
	require.NoError(t, b.Close())
	s := snapshot(t, b.Dir())
	require.NotEmpty(t, bodiesOf(t, s))
	require.NoError(t, s.Check())
	for _, more := range []string{"-wal", "-shm"} {
		require.NoFileExists(t, filepath.Join(b.Dir(), ledgerName+more))
	}
	open(t, b.Dir(), b.clock)
	require.ErrorContains(t, s.Check(), "changed while it was read")
}

func TestSnapshotRefusesWhatIsNoLedger(t *testing.T) {
	dir := t.TempDir()
	_, err := OpenSnapshot(t.Context(), dir)
	require.ErrorContains(t, err, "There is no ledger")
	require.NoError(t, os.WriteFile(filepath.Join(dir, ledgerName), nil, 0o600))
	_, err = OpenSnapshot(t.Context(), dir)
	require.ErrorContains(t, err, "cannot be read")
	b := newBench(t)
	s := snapshot(t, b.Dir())
	require.NoError(t, os.RemoveAll(filepath.Join(b.Dir(), secretsName)))
	_, err = s.VKey()
	require.ErrorContains(t, err, "public key")
	_, err = s.Signer()
	require.ErrorContains(t, err, "signing key")
}

// TestSnapshotReferences: erased links give none; letters count as the same in either case.
func TestSnapshotReferences(t *testing.T) {
	b := newBench(t)
	require.NoError(t, b.KeepWearers(t.Context(), map[string]string{"t1": "W-17", "t2": "w-17"}))
	b.clock.pass(time.Minute)
	links, err := snapshot(t, b.Dir()).References(t.Context())
	require.NoError(t, err)
	require.Equal(t, map[string]string{"t1": "w-17", "t2": "w-17"}, links)
	require.NoError(t, b.Close())
	require.NoError(t, os.Remove(filepath.Join(b.Dir(), wearersName)))
	links, err = snapshot(t, b.Dir()).References(t.Context())
	require.NoError(t, err)
	require.Empty(t, links)
}
