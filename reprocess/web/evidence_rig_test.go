package web

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

func (b *browser) ctx() context.Context { return context.Background() }

// as does a command as the person whose browser it is.
func (c *clinic) as(b *browser, cmd reprocess.Command) {
	c.t.Helper()
	w, err := c.store.SetUp(context.Background())
	require.NoError(c.t, err)
	for _, p := range w.People {
		if p.SignIn == "ben" {
			_, err := c.store.Do(b.ctx(), sqlite.Request{Cmd: cmd, Actor: reprocess.Actor{Person: p}})
			require.NoError(c.t, err, "%T", cmd)
			return
		}
	}
	require.Fail(c.t, "ben is not on the staff")
}

// edfWithName is an EDF of one lead whose patient field names a person (edfplus.info, header:
// 80 characters of local patient identification).
func edfWithName(seconds int) []byte {
	var h strings.Builder
	field := func(text string, n int) { fmt.Fprintf(&h, "%-*s", n, text) }
	field("0", 8)
	field("12345 M 02-MAY-1960 Miller_Anna", 80)
	field("Startdate 24-NOV-2026 X X X", 80)
	field("24.11.26", 8)
	field("10.00.00", 8)
	field("512", 8)
	field("", 44)
	field(fmt.Sprint(seconds), 8)
	field("1", 8)
	field("1", 4)
	field("ECG", 16)
	field("", 80)
	field("mV", 8)
	field("-10", 8)
	field("10", 8)
	field("-32768", 8)
	field("32767", 8)
	field("", 80)
	field("250", 8)
	field("", 32)
	data := []byte(h.String())
	for i := 0; i < seconds*250; i++ {
		v := int16(beat(float64(i%250)-125, 1.2) * 3276.75)
		data = append(data, byte(v), byte(uint16(v)>>8))
	}
	return data
}

// requireNowhere looks for a text in every file of a folder.
func requireNowhere(t testing.TB, dir, text string) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		b, err := os.ReadFile(path)
		if err == nil && strings.Contains(string(b), text) {
			require.Failf(t, "found", "%q is in %s", text, path)
		}
		return err
	}))
}
