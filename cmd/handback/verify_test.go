package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"handback/reprocess/sqlite"
)

// Exit codes, words and keys: our own list of commands.

func vkey(t testing.TB, dir string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, "secrets", "public-key"))
	require.NoError(t, err)
	return strings.TrimSpace(string(b))
}

func TestVerifyDataSaysWhatWasRecomputed(t *testing.T) {
	dir := invented(t, 3)
	before := sums(t, dir)
	out := ok(t, "verify", "--data", dir)
	count := strings.TrimSpace(shell(t, "file:"+dir+"/ledger.db?immutable=1",
		"SELECT count(*) FROM entry"))
	require.True(t, strings.HasPrefix(out, count+" entries, no difference\n"), out)
	for _, words := range []string{"recomputed: kit\n", "recomputed: node\n", "not recomputed: entry: ",
		"not recomputed: checkpoint: ", "internally consistent, key not confirmed"} {
		require.Contains(t, out, words)
	}
	require.Contains(t, ok(t, "verify", "--data", dir, "--key", vkey(t, dir)), "with the key you gave")
	require.Equal(t, before, sums(t, dir), "verify changes nothing")

	got := answer(t, "verify", "--data", dir, "--json")
	requireKeys(t, got, "entries", "root", "difference", "recomputed", "not_recomputed",
		"checkpoints", "newest_checkpoint", "key_confirmed", "files")
	require.Equal(t, count, fmt.Sprint(got["entries"]))
	require.Nil(t, got["difference"])
	require.Nil(t, got["files"])
	require.EqualValues(t, 0, answer(t, "verify", "--data", dir, "--files", "--json")["files"])
}

// TestVerifyDataNamesTheFirstDifference: whoever can write the file can also drop triggers.
func TestVerifyDataNamesTheFirstDifference(t *testing.T) {
	dir := invented(t, 3)
	file := filepath.Join(dir, "ledger.db")
	id := strings.TrimSpace(shell(t, file, "SELECT min(id) FROM kit"))
	shell(t, file, "UPDATE kit SET doc = replace(doc, 'site', 'sitf') WHERE id = '"+id+"'")
	require.True(t, strings.HasPrefix(firstLine(t, "verify", "--data", dir),
		"table kit, row "+id+": "))

	shell(t, file, "DROP TRIGGER entry_no_update; UPDATE entry SET body = "+
		"CAST(replace(CAST(body AS TEXT), '\"result\":\"done\"', '\"result\":\"dome\"') AS BLOB)"+
		" WHERE seq = 7")
	require.True(t, strings.HasPrefix(firstLine(t, "verify", "--data", dir), "entry 7: "))
	code, out, _ := call("verify", "--data", dir, "--json")
	require.Equal(t, exitDifference, code)
	require.Contains(t, out, `"difference":"entry 7: `)
}

// TestVerifyDataShowsDamagedTextOnOneLine: bytes that are no text, line ends and what steers a
// terminal do not reach the screen.
func TestVerifyDataShowsDamagedTextOnOneLine(t *testing.T) {
	dir := invented(t, 3)
	shell(t, filepath.Join(dir, "ledger.db"),
		"UPDATE kit SET doc = doc || char(10) || char(27) || '[2J' || CAST(X'ff' AS TEXT)")
	code, out, _ := call("verify", "--data", dir)
	require.Equal(t, exitDifference, code)
	require.True(t, utf8.ValidString(out))
	require.NotContains(t, out, "\x1b")
	require.Equal(t, 2, strings.Count(out, "\n"), out)
}

func TestVerifyDataBesideAServer(t *testing.T) {
	store := openInvented(t, 3)
	require.Contains(t, ok(t, "verify", "--data", store.Dir()), "no difference")
}

func TestVerifyAgainstAKeptCheckpoint(t *testing.T) {
	store := openInvented(t, 3)
	note, err := store.Checkpoint(t.Context())
	require.NoError(t, err)
	require.NoError(t, store.Close())
	kept := filepath.Join(t.TempDir(), "kept.txt")
	require.NoError(t, os.WriteFile(kept, note, 0o600))
	require.Contains(t, ok(t, "verify", "--data", store.Dir(), "--checkpoint", kept),
		"no difference")
	other := invented(t, 3) // the same history with another key: a replaced folder
	requireRefused(t, "not one of this ledger", "verify", "--data", other, "--checkpoint", kept)
	require.NoError(t, os.WriteFile(kept, nil, 0o600))
	requireRefused(t, "is empty", "verify", "--data", store.Dir(), "--checkpoint", kept)
}

func TestVerifyRefuses(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "x.zip")
	require.NoError(t, os.WriteFile(file, []byte("no zip"), 0o600))
	requireRefused(t, "--data or --evidence is missing", "verify")
	requireRefused(t, "not both", "verify", "--data", dir, "--evidence", file)
	requireRefused(t, "no ledger", "verify", "--data", dir)
	requireRefused(t, "not an evidence file", "verify", "--evidence", file)
	requireRefused(t, "not an evidence file", "verify", "--evidence", dir)
	requireRefused(t, "cannot be read", "verify", "--evidence", file+"x")
	requireRefused(t, "not a public key", "verify", "--data", dir, "--key", "k")
	requireRefused(t, "--key is empty", "verify", "--data", dir, "--key", "")
	requireRefused(t, "checkpoint cannot be read", "verify", "--data", dir, "--checkpoint", file+"x")
	requireRefused(t, "goes with --data", "verify", "--evidence", file, "--files")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "ledger.db"), []byte("no database"), 0o600))
	requireRefused(t, "cannot be", "verify", "--data", dir)
}

// evidence writes an evidence file of a folder.
func evidence(t testing.TB, dir string, more ...string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "evidence.zip")
	ok(t, append([]string{"export", "--data", dir, "--format", "evidence", "--out", file},
		more...)...)
	return file
}

// TestEvidenceIsBelievedByTheOtherProgram: the script in testdata was written from the
// description of the format alone.
func TestEvidenceIsBelievedByTheOtherProgram(t *testing.T) {
	dir := invented(t, 3)
	number := kitNumber(t, dir)
	for _, more := range [][]string{nil, {"--kit", number},
		{"--from", "2026-11-24 00:00", "--to", "2026-11-25T00:00:00Z"},
		{"--kit", number, "--from", "2026-11-24 00:00"}} {
		file := evidence(t, dir, more...)
		out := ok(t, "verify", "--evidence", file)
		require.True(t, strings.HasPrefix(out, "internally consistent, key not confirmed"), out)
		require.Contains(t, out, "both tables agree")
		out = ok(t, "verify", "--evidence", file, "--key", vkey(t, dir))
		require.True(t, strings.HasPrefix(out, "consistent, and signed with the key you gave"), out)
		if len(more) == 2 {
			require.Contains(t, out, "are here, according to the roll call")
		}
		tool(t, "python3", "python3", filepath.Join("..", "..", "testdata", "verify_evidence.py"),
			file, "--key", vkey(t, dir))
	}
	require.Contains(t, ok(t, "verify", "--data", dir), "no difference")
}

func TestEvidenceJSON(t *testing.T) {
	dir := invented(t, 3)
	file := evidence(t, dir)
	got := answer(t, "verify", "--evidence", file, "--key", vkey(t, dir), "--json")
	requireKeys(t, got, "consistent", "difference", "key_confirmed", "key", "origin", "entries",
		"first", "last", "whole", "scope", "checkpoint_entries", "tables_recomputed", "complete_kit",
		"complete_kit_entries", "kept_checkpoint")
	require.Equal(t, true, got["consistent"])
	require.Equal(t, true, got["whole"])
	require.Equal(t, true, got["tables_recomputed"])
	require.Nil(t, got["difference"])
}

// TestOneChangedByteIsSeen: a byte in each stretch of the file, CHECK.txt but for its name and
// sum included, since the zip has a sum of it.
func TestOneChangedByteIsSeen(t *testing.T) {
	file := evidence(t, invented(t, 3), "--from", "2026-11-25 00:00")
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	for at := 0; at < len(whole); at += 1 + len(whole)/97 {
		damaged := append([]byte(nil), whole...)
		damaged[at] ^= 1
		require.NoError(t, os.WriteFile(file, damaged, 0o600))
		code, _, _ := call("verify", "--evidence", file)
		require.NotZero(t, code, "byte %d", at)
		if at > 4 {
			require.Equal(t, exitDifference, code, "byte %d", at)
		}
	}
	require.NoError(t, os.WriteFile(file, whole[:len(whole)-1], 0o600))
	code, _, _ := call("verify", "--evidence", file)
	require.NotZero(t, code)
}

// TestEvidenceAgainstAKeptCheckpoint: the log grew since; a foreign log differs.
func TestEvidenceAgainstAKeptCheckpoint(t *testing.T) {
	store := openInvented(t, 3)
	note, err := store.Checkpoint(t.Context())
	require.NoError(t, err)
	require.NoError(t, store.Close())
	kept := filepath.Join(t.TempDir(), "kept.txt")
	require.NoError(t, os.WriteFile(kept, note, 0o600))
	for _, more := range [][]string{nil, {"--kit", kitNumber(t, store.Dir())}} {
		require.Contains(t, ok(t, "verify", "--evidence", evidence(t, store.Dir(), more...),
			"--checkpoint", kept), "begins with the log of the checkpoint you kept")
	}
	require.Contains(t, firstLine(t, "verify", "--evidence", evidence(t, invented(t, 3)),
		"--checkpoint", kept), "does not go with this file")
}

// TestEvidenceBesideAServer: it alone may write, so its newest checkpoint is used.
func TestEvidenceBesideAServer(t *testing.T) {
	store := openInvented(t, 3)
	file := filepath.Join(t.TempDir(), "evidence.zip")
	args := []string{"export", "--data", store.Dir(), "--format", "evidence", "--out", file}
	requireFailed(t, "has not signed a checkpoint yet", args...)
	require.NoFileExists(t, file)
	_, err := store.Checkpoint(t.Context())
	require.NoError(t, err)
	size, err := store.Size(t.Context())
	require.NoError(t, err)
	require.Contains(t, ok(t, args...), fmt.Sprintf("from a log of %d entries", size))
	require.Contains(t, ok(t, "verify", "--evidence", file), "scope: everything")
}

// TestEvidenceOfNothingIsRefused: an empty period, and a folder in which nothing happened.
func TestEvidenceOfNothingIsRefused(t *testing.T) {
	dir, out := invented(t, 3), filepath.Join(t.TempDir(), "e.zip")
	requireFailed(t, "no entry to show for", "export", "--data", dir, "--format", "evidence",
		"--out", out, "--to", "2020-01-01 00:00")
	empty := filepath.Join(t.TempDir(), "data")
	store, err := sqlite.Open(empty, sqlite.Options{Clock: inventedClock})
	require.NoError(t, err)
	require.NoError(t, store.Close())
	requireFailed(t, "log is empty", "export", "--data", empty, "--format", "evidence", "--out", out)
	left, err := os.ReadDir(filepath.Dir(out))
	require.NoError(t, err)
	require.Empty(t, left, "nothing half-named")
}
