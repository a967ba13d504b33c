package export

import (
	"bytes"
	"encoding/csv"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Guard values: CWE-1236 and the list of formula beginnings in OWASP ASVS 1.2.10; the plain
// signed numbers that must stay are our own rule, after public reports of spoiled negatives.
func TestGuard(t *testing.T) {
	for in, want := range map[string]string{"=1+1": "'=1+1", "-5.00": "-5.00", "+5": "+5",
		"-2+3+cmd": "'-2+3+cmd", "+49 30 1234": "'+49 30 1234", "＝1+1": "'＝1+1",
		"＋1": "'＋1", "－1": "'－1", "＠a": "'＠a", "D-00042": "D-00042", "@sum": "'@sum",
		"\tx": "'\tx", "\rx": "'\rx", "\nx": "'\nx", "\x00x": "'\x00x", "-": "'-", "-5.": "'-5.",
		"-5,00": "'-5,00", "": "", "a=b": "a=b", "'=1": "''=1", "'abc": "'abc", "-٣": "'-٣"} {
		require.Equal(t, want, Guard(in), "%q", in)
		require.Equal(t, in, Unguard(want), "%q", want)
	}
}

// TestGuardIsUndoneExactly: whatever the text, and nothing computes afterwards.
func TestGuardIsUndoneExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`['=+@ａ＝\-\t0-9a.,]{0,6}`).Draw(t, "text")
		g := Guard(s)
		if Unguard(g) != s {
			t.Fatalf("%q became %q", s, Unguard(g))
		}
		if g != "" && strings.ContainsRune("=+-@\t＝", []rune(g)[0]) && !signedNumber.MatchString(g) {
			t.Fatalf("%q would be computed", g)
		}
	})
}

// TestCSVFieldsReadBack: by the standard library's reader (RFC 4180 but for CRLF in fields,
// which it folds); a lone CR comes back as LF, nothing is lost (its writer drops the CR).
func TestCSVFieldsReadBack(t *testing.T) {
	column := []column[string]{{Column{Name: "a", Text: true}, func(s string) string { return s }},
		{Column{Name: "b"}, func(s string) string { return s }}}
	texts := []string{"plain", "a,b", `say "so"`, "two\nlines", "a\rb", "a\r\nb", " edge ", "",
		"=1+1", `"`, `""`, "ü€😀"}
	var b bytes.Buffer
	w, err := newCSV(&b, column)
	require.NoError(t, err)
	for _, s := range texts {
		require.NoError(t, w.row(s))
	}
	require.EqualValues(t, len(texts), w.rows)
	require.Contains(t, b.String(), "\"a\nb\",\"a\nb\"\r\n")
	require.True(t, strings.HasPrefix(b.String(), "a,b\r\nplain,plain\r\n"))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	for i, s := range texts {
		folded := strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
		require.Equal(t, []string{Guard(folded), folded}, rows[i+1], "%q", s)
	}
}

func readTestdata(t testing.TB, parts ...string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(append([]string{"..", "..", "testdata"}, parts...)...))
	require.NoError(t, err)
	return b
}

func frozen(t testing.TB, name string) []byte { return readTestdata(t, "export", name) }

// lines gives the entries of a file in memory.
func lines(text []byte) Entries {
	return func(yield func([]byte, error) bool) {
		for line := range bytes.Lines(text) {
			if !yield(bytes.TrimSuffix(line, []byte("\n")), nil) {
				return
			}
		}
	}
}

// TestTablesAreFrozen: version 1, byte for byte. When this fails, old evidence files can no
// longer be checked: put the column back, never the file.
func TestTablesAreFrozen(t *testing.T) {
	entries := frozen(t, "entries.ndjson")
	for _, name := range []string{"entries.csv", "cycles.csv"} {
		var b bytes.Buffer
		require.NoError(t, CSV(name, lines(entries), &b))
		require.Equal(t, string(frozen(t, name)), b.String())
	}
}

func TestNDJSONGivesTheSameBytes(t *testing.T) {
	entries := frozen(t, "entries.ndjson")
	var b bytes.Buffer
	n, err := WriteNDJSON(&b, lines(entries), Choice{})
	require.NoError(t, err)
	require.EqualValues(t, 202, n)
	require.Equal(t, string(entries), b.String())
}

// TestColumnsAreDescribed: every column says what it is; a column that measures has a unit.
func TestColumnsAreDescribed(t *testing.T) {
	for _, table := range Tables() {
		columns := Columns(table)
		require.Greater(t, len(columns), 30)
		seen := map[string]bool{}
		for _, c := range columns {
			require.Regexp(t, regexp.MustCompile(`^[a-z][a-z_]*$`), c.Name)
			require.False(t, seen[c.Name], c.Name)
			seen[c.Name] = true
			require.NotEmpty(t, c.About, c.Name)
			require.Equal(t, strings.HasSuffix(c.Name, "_s"), c.Unit == "s", c.Name)
			require.Equal(t, slices.Contains([]string{"at", "phone_at", "opened", "ended"}, c.Name),
				c.Unit == "UTC", c.Name)
		}
	}
	require.Nil(t, Columns("loans"))
}

func TestUnknownTablesAndBrokenEntriesAreErrors(t *testing.T) {
	var b bytes.Buffer
	require.ErrorContains(t, CSV("loans.csv", lines(nil), &b), "no table")
	require.ErrorContains(t, CSV("entries.txt", lines(nil), &b), "not the name of a table")
	broken := errors.New("disk")
	for _, name := range []string{"entries.csv", "cycles.csv"} {
		require.ErrorContains(t, CSV(name, lines([]byte("{\n")), &b), "cannot be read")
		require.ErrorContains(t, CSV(name, lines([]byte(
			`{"seq":1,"at":"2027-05-10T08:00:00.000Z","result":"done","events":[{"event":"later"}]}`)),
			&b), "newer one wrote it")
		require.ErrorIs(t, CSV(name, func(yield func([]byte, error) bool) { yield(nil, broken) }, &b),
			broken)
		require.Error(t, CSV(name, lines(frozen(t, "entries.ndjson")), full{}))
	}
	_, err := WriteNDJSON(full{}, lines([]byte("{}\n")), Choice{})
	require.Error(t, err)
}

// full is a disk without room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }
