package sqlite

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// killDir tells a copy of the test program to be the writing server of the kill test.
const killDir = "HANDBACK_TEST_KILL_DIR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(killDir); dir != "" {
		writeUntilKilled(dir)
	}
	if dir := os.Getenv(foldDir); dir != "" {
		foldAndWait(dir)
	}
	os.Exit(m.Run())
}

// writeUntilKilled does commands from four callers for ever and prints each acknowledged one
// as "seq key". It never returns.
func writeUntilKilled(dir string) {
	c := newClock()
	s, err := Open(dir, Options{Clock: c.now})
	if err != nil {
		fmt.Println("failed", err)
		os.Exit(1)
	}
	size, err := s.Size(context.Background())
	if err != nil {
		fmt.Println("failed", err)
		os.Exit(1)
	}
	var out sync.Mutex
	for caller := range 4 {
		go func() {
			for n := 0; ; n++ {
				key := fmt.Sprintf("k%d-%d-%d", size, caller, n)
				e, err := s.Do(context.Background(), Request{Key: key, Actor: reprocess.Console(),
					Cmd: reprocess.Move{Kit: "K10", Place: key}})
				out.Lock()
				if err != nil {
					fmt.Println("failed", err)
					os.Exit(1)
				}
				fmt.Println(e.Seq, key)
				out.Unlock()
			}
		}()
	}
	select {}
}

// TestKilledServersLoseNothing kills the server 120 times at random moments. Whatever it had
// acknowledged is there, with its number and key, and the folder verifies. A killed process
// must lose nothing in any synchronous mode (sqlite.org/pragma.html#pragma_synchronous); what
// this tests is that no answer goes out before its commit.
func TestKilledServersLoseNothing(t *testing.T) {
	const folders, rounds = 8, 15
	for i := range folders {
		t.Run(strconv.Itoa(i), func(t *testing.T) {
			t.Parallel()
			b := &bench{TB: t, clock: newClock()}
			s, err := Open(t.TempDir(), Options{Clock: b.clock.now})
			require.NoError(t, err)
			b.Store = s
			b.setUp()
			require.Equal(t, "K10", b.register("17"))
			require.NoError(t, s.Close())
			acked := 0
			for range rounds {
				acked += killOnce(t, s.Dir())
			}
			require.Positive(t, acked)
			r := verified(t, s.Dir())
			require.GreaterOrEqual(t, r.Entries, int64(10+acked))
			open(t, s.Dir(), b.clock) // and a server starts on it again
		})
	}
}

// killOnce runs a server, kills it after some acknowledgements and a random number of further
// bytes, and checks every acknowledgement that came through; it answers how many.
func killOnce(t *testing.T, dir string) int {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), killDir+"="+dir)
	pipe, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	in := bufio.NewReaderSize(pipe, 16)
	var text strings.Builder
	for range 1 + rand.IntN(12) {
		line, err := in.ReadString('\n')
		require.NoError(t, err)
		text.WriteString(line)
	}
	_, err = io.CopyN(&text, in, int64(rand.IntN(200)))
	require.NoError(t, err)
	require.NoError(t, cmd.Process.Kill())
	_, err = io.Copy(&text, in) // what was printed before the end still counts
	require.NoError(t, err)
	require.Error(t, cmd.Wait(), "it was killed")
	return checkAcked(t, dir, text.String())
}

func checkAcked(t *testing.T, dir, text string) int {
	t.Helper()
	lines := strings.Split(text, "\n")
	lines = lines[:len(lines)-1] // the last one may be cut off
	db, err := openReader(context.Background(), filepath.Join(dir, ledgerName), "")
	require.NoError(t, err)
	defer db.Close()
	for _, line := range lines {
		number, key, _ := strings.Cut(line, " ")
		require.NotEqual(t, "failed", number, line)
		want, err := strconv.ParseInt(number, 10, 64)
		require.NoError(t, err, line)
		var seq int64
		var body []byte
		require.NoError(t, db.QueryRow(`SELECT e.seq, e.body FROM key k JOIN entry e ON e.seq = k.seq
			WHERE k.key = ?`, key).Scan(&seq, &body), "acknowledged and lost: %s", line)
		require.Equal(t, want, seq)
		require.Contains(t, string(body), `"key":"`+key+`"`)
	}
	verified(t, dir)
	return len(lines)
}
