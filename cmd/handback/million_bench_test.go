package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/sqlite"
)

// BenchmarkLong measures a long history: writing it, checking it, taking it out, reading pages
// of it, and beside them what the machine does with the same bytes and rows. -entries says how
// long, -ledger keeps it for the next run.
func BenchmarkLong(b *testing.B) {
	dir, n, took := longLedger(b)
	if took > 0 {
		b.Run("write/bulk", func(b *testing.B) {
			for b.Loop() {
			}
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(float64(n)/took.Seconds(), "entries/s")
		})
	}
	b.Run("yard/sha256", func(b *testing.B) { hashBytes(b, dir) })
	b.Run("yard/sqlite3", func(b *testing.B) { dumpRows(b, dir) })
	b.Run("program/verify", func(b *testing.B) { program(b, n, "verify", "--data", dir) })
	b.Run("program/lookback", func(b *testing.B) {
		program(b, n, "lookback", "--data", dir, "--from", "2000-01-01 00:00")
	})
	out := filepath.Join(b.TempDir(), "out")
	for _, f := range [][]string{{"ndjson"}, {"csv"}, {"csv", "--table", "cycles"}, {"fhir"},
		{"evidence"}} {
		args := append([]string{"export", "--data", dir, "--out", out, "--format"}, f...)
		b.Run("program/"+f[len(f)-1], func(b *testing.B) { program(b, n, args...) })
	}
	b.Run("program/verify-evidence", func(b *testing.B) {
		if _, err := os.Stat(out); err != nil {
			b.Fatal("run program/evidence with it: it checks that file")
		}
		program(b, n, "verify", "--evidence", out)
	})
	b.Run("refold", func(b *testing.B) { foldAgain(b, dir, n) })
	longPages(b, dir)
}

// perEntry reports the time for each entry.
func perEntry(b *testing.B, n int64) {
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/entry")
}

var mostHeld = regexp.MustCompile(`VmHWM:\s+([0-9]+) kB`)

// program runs the program itself and reports the most memory it held, and its processor time.
func program(b *testing.B, n int64, args ...string) {
	var peak, cpu float64
	told := filepath.Join(b.TempDir(), "status")
	for b.Loop() {
		cmd := exec.Command(os.Args[0], args...)
		cmd.Env = append(os.Environ(), asProgram+"="+told)
		out, err := cmd.CombinedOutput()
		require.NoError(b, err, "%s", out)
		status, err := os.ReadFile(told)
		require.NoError(b, err)
		m := mostHeld.FindSubmatch(status)
		require.NotNil(b, m)
		kib, err := strconv.ParseFloat(string(m[1]), 64)
		require.NoError(b, err)
		peak = max(peak, kib/1024)
		cpu += (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()
	}
	perEntry(b, n)
	b.ReportMetric(peak, "peak-MiB")
	b.ReportMetric(cpu/float64(b.N), "cpu-s")
}

// hashBytes is SHA-256 over the bytes of all entries, read into memory before.
func hashBytes(b *testing.B, dir string) {
	snap, err := sqlite.OpenSnapshot(context.Background(), dir)
	require.NoError(b, err)
	var all bytes.Buffer
	for body, err := range snap.Bodies(context.Background()) {
		require.NoError(b, err)
		all.Write(body)
	}
	require.NoError(b, snap.Close())
	b.SetBytes(int64(all.Len()))
	for b.Loop() {
		sha256.Sum256(all.Bytes())
	}
	perEntry(b, snap.Size())
}

// dumpRows is the shell of the database reading the same rows.
func dumpRows(b *testing.B, dir string) {
	shell, err := exec.LookPath("sqlite3")
	require.NoError(b, err, "install sqlite3")
	for b.Loop() {
		cmd := exec.Command(shell, "-readonly", filepath.Join(dir, "ledger.db"),
			"SELECT seq, body FROM entry")
		cmd.Stdout = io.Discard
		require.NoError(b, cmd.Run())
	}
}

// foldAgain makes the store fold all entries anew, as after a change of the fold.
func foldAgain(b *testing.B, dir string, n int64) {
	db, err := sql.Open("sqlite", filepath.Join(dir, "ledger.db"))
	require.NoError(b, err)
	_, err = db.Exec(`UPDATE fold SET version = 0`)
	require.NoError(b, err)
	require.NoError(b, db.Close())
	program(b, n, justOpen, dir)
}
