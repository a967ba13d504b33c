package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// halfFile makes a copy of this test program write half a file of this name and then wait.
const halfFile = "HANDBACK_TEST_HALF_FILE"

func writeHalf(path string) {
	_, err := writeOrNothing(path, func(w io.WriteSeeker) error {
		if _, err := io.WriteString(w, strings.Repeat("row\r\n", 20_000)); err != nil {
			return err
		}
		fmt.Println("half")
		select {} // until it is killed
	})
	fmt.Println("failed", err)
	os.Exit(1)
}

// TestAKilledExportLeavesNoHalfFile: what the process was killed over is not under the name that
// was asked for, whether there was a file before or not (POSIX: rename is all or nothing).
func TestAKilledExportLeavesNoHalfFile(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x.csv")
	for _, before := range []string{"", "the older export"} {
		if before != "" {
			require.NoError(t, os.WriteFile(file, []byte(before), 0o600))
		}
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), halfFile+"="+file)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		line, err := bufio.NewReader(out).ReadString('\n')
		require.NoError(t, err)
		require.Equal(t, "half\n", line)
		require.NoError(t, cmd.Process.Kill())
		require.ErrorContains(t, cmd.Wait(), "killed")
		got, err := os.ReadFile(file)
		if before == "" {
			require.ErrorIs(t, err, os.ErrNotExist)
			continue
		}
		require.NoError(t, err)
		require.Equal(t, before, string(got))
	}
	parts, err := filepath.Glob(filepath.Join(filepath.Dir(file), ".x.csv.*.part"))
	require.NoError(t, err)
	require.Len(t, parts, 2, "the halves are there, under names that say so")
}

// TestAWriterThatFailsLeavesNothing: not even the half.
func TestAWriterThatFailsLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	_, err := writeOrNothing(filepath.Join(dir, "x.csv"), func(w io.WriteSeeker) error {
		_, err := io.WriteString(w, "row\r\n")
		return errors.Join(err, errors.New("the disk is full"))
	})
	require.ErrorContains(t, err, "the disk is full")
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, left)
	size, err := writeOrNothing(filepath.Join(dir, "x.csv"), func(w io.WriteSeeker) error {
		_, err := io.WriteString(w, "row\r\n")
		return err
	})
	require.NoError(t, err)
	require.Equal(t, int64(5), size)
}

// TestTheTerminalCounts: the number over itself, wiped at the end and when it breaks off.
func TestTheTerminalCounts(t *testing.T) {
	entries := func(yield func([]byte, error) bool) {
		for range 2*progressStep + 1 {
			if !yield(nil, nil) {
				return
			}
		}
	}
	var screen bytes.Buffer
	n := 0
	for range counted(&screen, entries, 10_001) {
		n++
	}
	require.Equal(t, 2*progressStep+1, n)
	require.Equal(t, "\r5000 of 10001 entries\r10000 of 10001 entries\r\033[K", screen.String())
	screen.Reset()
	for range counted(&screen, entries, 10_001) {
		break
	}
	require.Equal(t, "\r\033[K", screen.String())
}
