package export

import (
	"fmt"
	"io"
	"regexp"
	"strings"
	"unicode/utf8"

	"handback/reprocess/ledger"
)

// Column is one column of a table, as the printed list of columns shows it.
type Column struct {
	Name  string `json:"name"`
	Unit  string `json:"unit"` // such as "s"; empty: none
	About string `json:"about"`
	Text  bool   `json:"text"` // words of people or names: guarded against being taken for a formula
}

// column adds where the value comes from.
type column[T any] struct {
	Column
	value func(T) string
}

// Table names a table.
type Table string

// The tables.
const (
	TableEntries Table = "entries"
	TableCycles  Table = "cycles"
)

// Tables lists the tables.
func Tables() []Table { return []Table{TableEntries, TableCycles} }

// Columns lists the columns of a table in order; nil for a name that is no table.
func Columns(t Table) []Column {
	switch t {
	case TableEntries:
		return plain(entryColumns)
	case TableCycles:
		return plain(cycleColumns)
	}
	return nil
}

func plain[T any](columns []column[T]) []Column {
	var list []Column
	for _, c := range columns {
		list = append(list, c.Column)
	}
	return list
}

// WriteCSV writes a table of the chosen entries, or of the cycles that began within the
// choice, and gives the number of rows without the heading. All entries are to be given, not
// only the chosen ones: names and numbers come from earlier ones.
func WriteCSV(w io.Writer, t Table, entries Entries, c Choice) (rows int64, err error) {
	switch t {
	case TableEntries:
		return writeEntries(w, entries, c)
	case TableCycles:
		return writeCycles(w, entries, c)
	}
	return 0, fmt.Errorf("there is no table %q; there are entries and cycles", t)
}

// CSV is the ledger.CSVFunc of this package: each table from nothing but the entries given.
func CSV(name string, entries Entries, w io.Writer) error {
	t, isCSV := strings.CutSuffix(name, ".csv")
	if !isCSV {
		return fmt.Errorf("%q is not the name of a table", name)
	}
	_, err := WriteCSV(w, Table(t), entries, Choice{})
	return err
}

var _ ledger.CSVFunc = CSV

// csvWriter writes rows as RFC 4180: CRLF after each, quotes doubled.
type csvWriter[T any] struct {
	w       io.Writer
	columns []column[T]
	line    []byte
	rows    int64
}

func newCSV[T any](w io.Writer, columns []column[T]) (*csvWriter[T], error) {
	c := &csvWriter[T]{w: w, columns: columns}
	for i, col := range columns {
		c.field(i, col.Name)
	}
	return c, c.end()
}

// row writes one row.
func (c *csvWriter[T]) row(v T) error {
	for i, col := range c.columns {
		text := col.value(v)
		if col.Text {
			text = Guard(text)
		}
		c.field(i, text)
	}
	c.rows++
	return c.end()
}

// field adds one field. A lone CR counts as a line end and becomes LF, like CRLF: readers of
// CSV disagree about it, and some drop it.
func (c *csvWriter[T]) field(i int, text string) {
	if i > 0 {
		c.line = append(c.line, ',')
	}
	text = foldLines(text)
	if !strings.ContainsAny(text, ",\"\n") && strings.TrimSpace(text) == text {
		c.line = append(c.line, text...)
		return
	}
	c.line = append(c.line, '"')
	c.line = append(c.line, strings.ReplaceAll(text, `"`, `""`)...)
	c.line = append(c.line, '"')
}

func (c *csvWriter[T]) end() error {
	_, err := c.w.Write(append(c.line, '\r', '\n'))
	c.line = c.line[:0]
	return err
}

func foldLines(s string) string {
	if !strings.Contains(s, "\r") {
		return s
	}
	return strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
}

// signedNumber is what a spreadsheet reads as a number although it begins with a sign.
var signedNumber = regexp.MustCompile(`^[+-][0-9]+(\.[0-9]+)?$`)

// Guard puts an apostrophe before a text that a spreadsheet would compute (CWE-1236): one that
// begins with = + - @, tab, line end, NUL or the full-width signs, but for plain signed
// numbers. A text that looks guarded already gets another, so that Unguard is exact.
func Guard(s string) string {
	if computes(s) {
		return "'" + s
	}
	return s
}

// Unguard takes away what Guard added.
func Unguard(s string) string {
	if rest, ok := strings.CutPrefix(s, "'"); ok && computes(rest) {
		return rest
	}
	return s
}

func computes(s string) bool {
	rest := strings.TrimLeft(s, "'")
	first, size := utf8.DecodeRuneInString(rest)
	return size > 0 && strings.ContainsRune("=+-@\t\r\n\x00＝＋－＠", first) &&
		!signedNumber.MatchString(rest)
}
