package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/stretchr/testify/require"
)

// What the day leaves behind: a table that an auditor takes out, and a folder that proves
// itself and cannot be changed unnoticed.

// table takes the entries out as CSV in the browser and gives them as maps by column name.
func (c *dayClinic) table(in context.Context) []map[string]string {
	c.t.Helper()
	p := c.phone(in, "owen")
	p.signIn("owen", dayPassword)
	p.tap("What happened, and who did it?")
	p.says("Release")
	p.look("32-trail")
	p.tap("Print these or take a copy out")
	p.look("33-copy")
	p.fold("Table of the entries")
	p.tap("Take it out")
	p.look("34-copy-ready")
	file := p.download("Save the file")
	lines, err := csv.NewReader(bytes.NewReader(file)).ReadAll() // RFC 4180
	require.NoError(c.t, err)
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, name := range lines[0] {
			row[name] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// verified compares the table with the day, then the folder with itself, then changes one
// byte of one entry in a copy.
func (c *dayClinic) verified(rows []map[string]string) {
	t := c.t
	t.Helper()
	count := map[string]int{}
	for i, row := range rows {
		require.Equal(t, fmt.Sprint(i+1), row["seq"], "without gaps")
		if row["kit_number"] == "17" {
			count[row["act"]+" "+row["result"]+" "+row["name"]]++
		}
	}
	require.Equal(t, 1, count["return done Dario Moss"], "%v", count)
	require.Equal(t, 2, count["release refused Ada Lind"], "too early, and too short")
	require.Equal(t, 1, count["release done Ada Lind"])
	require.Equal(t, 1, count["issue done Dario Moss"])

	require.Contains(t, ok(t, "verify", "--data", c.dir), "entries, no difference")
	copied := filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.CopyFS(copied, os.DirFS(c.dir)))
	require.Contains(t, ok(t, "verify", "--data", copied), "entries, no difference")
	file := filepath.Join(copied, "ledger.db")
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	at := bytes.Index(whole, []byte(`"act":"issue"`))
	require.Positive(t, at)
	whole[at+len(`"act":"iss`)] ^= 1
	require.NoError(t, os.WriteFile(file, whole, 0o600))
	seq := strings.TrimSpace(shell(t, file,
		`SELECT seq FROM entry WHERE CAST(body AS TEXT) LIKE '%"act":"isste"%'`))
	require.NotEmpty(t, seq)
	require.Contains(t, firstLine(t, "verify", "--data", copied), "entry "+seq)
	require.Contains(t, ok(t, "verify", "--data", c.dir), "entries, no difference")
}
