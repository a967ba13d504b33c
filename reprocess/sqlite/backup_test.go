package sqlite

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// A copy is made beside an open store, without the keys, stands verify, and never overwrites.
func TestBackupBesideAnOpenStore(t *testing.T) {
	b := newBench(t)
	dir, s := b.Dir(), b.Store
	out := filepath.Join(t.TempDir(), "copy")
	r, err := Backup(t.Context(), dir, out, false)
	require.NoError(t, err)
	size, err := s.Size(t.Context())
	require.NoError(t, err)
	require.Equal(t, size, r.Entries)
	require.Positive(t, r.Entries)
	require.NoDirExists(t, filepath.Join(out, secretsName))
	_, err = Backup(t.Context(), dir, out, false)
	require.ErrorContains(t, err, "already")
	_, err = Backup(t.Context(), filepath.Join(dir, "nothing"), out+"2", false)
	require.Error(t, err)
	require.NoDirExists(t, out+"2")
	require.NoDirExists(t, out+"2.part")
}

// With its keys a copy of a stopped store opens, goes on and signs.
func TestBackupCanBePutBack(t *testing.T) {
	dir, _, _ := folder(t)
	out := filepath.Join(t.TempDir(), "copy")
	_, err := Backup(t.Context(), dir, out, true)
	require.NoError(t, err)
	info, err := os.Stat(filepath.Join(out, secretsName, "pepper"))
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	back := open(t, out, newClock())
	_, err = back.Checkpoint(t.Context())
	require.NoError(t, err)
}

// A damaged folder gives no copy that looks good.
func TestBackupOfADamagedFolder(t *testing.T) {
	dir, _, _ := folder(t)
	db, err := openWriter(t.Context(), filepath.Join(dir, ledgerName))
	require.NoError(t, err)
	_, err = db.ExecContext(t.Context(), `UPDATE settings SET doc = '{}'`)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	out := filepath.Join(t.TempDir(), "copy")
	_, err = Backup(t.Context(), dir, out, false)
	require.ErrorContains(t, err, "table settings")
	require.NoDirExists(t, out)
}
