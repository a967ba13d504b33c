package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/invent"
	"handback/reprocess/sqlite"
)

// Data folders of the tests of verify, export and lookback: an invented clinic of some days.

var inventedNow = reprocess.InstantOf(time.Date(2026, 11, 25, 10, 30, 0, 0, time.UTC))

func inventedClock() reprocess.Now { return reprocess.Now{UTC: inventedNow, Boot: "b1"} }

// openInvented fills a folder through the real rules and leaves it open, as by a server.
func openInvented(t testing.TB, days int) *sqlite.Store {
	t.Helper()
	store, err := sqlite.Open(filepath.Join(t.TempDir(), "data"),
		sqlite.Options{Clock: inventedClock, Site: "Main building"})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, store.Close()) })
	plan, err := invent.History(invent.Options{Now: inventedNow, Seed: 3, Days: days})
	require.NoError(t, err)
	require.NoError(t, store.KeepWearers(context.Background(), plan.Wearers))
	_, err = store.DoMany(context.Background(), requests(plan))
	require.NoError(t, err)
	return store
}

// invented is such a folder at rest.
func invented(t testing.TB, days int) string {
	t.Helper()
	store := openInvented(t, days)
	require.NoError(t, store.Close())
	return store.Dir()
}

// tool runs an independent program and gives what it prints.
func tool(t testing.TB, name, hint string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	require.NoError(t, err, "install it with: apt-get install -y "+hint)
	cmd := exec.Command(path, args...)
	cmd.Env = append(os.Environ(), "PYTHONDONTWRITEBYTECODE=1", "PYTHONIOENCODING=utf-8")
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, string(out))
	return string(out)
}

func python(t testing.TB, code string, args ...string) string {
	t.Helper()
	return tool(t, "python3", "python3", append([]string{"-c", code}, args...)...)
}

// shell runs SQL on a file with SQLite's own shell.
func shell(t testing.TB, file string, sql ...string) string {
	t.Helper()
	return tool(t, "sqlite3", "sqlite3", append([]string{file}, sql...)...)
}

// sums gives the SHA-256 of every file of a folder, by name.
func sums(t testing.TB, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		b, err := os.ReadFile(p)
		sum := sha256.Sum256(b)
		all[p] = hex.EncodeToString(sum[:])
		return err
	}))
	return all
}

// ok runs a command that must answer, and gives its standard output.
func ok(t testing.TB, args ...string) string {
	t.Helper()
	code, out, errs := call(args...)
	require.Zero(t, code, errs)
	require.Empty(t, errs)
	return out
}

// firstLine runs a command that must end with exit 1 and gives the first line of its answer.
func firstLine(t testing.TB, args ...string) string {
	t.Helper()
	code, out, errs := call(args...)
	require.Equal(t, exitDifference, code, errs)
	require.Empty(t, errs)
	line, _, _ := strings.Cut(out, "\n")
	return line
}

// requireFailed wants exit 1, one line on standard error and none on standard output.
func requireFailed(t testing.TB, says string, args ...string) {
	t.Helper()
	code, out, errs := call(args...)
	require.Equal(t, exitDifference, code, "%v", args)
	require.Empty(t, out)
	require.Equal(t, 1, strings.Count(errs, "\n"), errs)
	require.Contains(t, errs, says)
}
