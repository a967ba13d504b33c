package recording

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode/utf16"
)

// CSV has no rules for units, so none is guessed: a unit stands in the header cell, in
// brackets or as its last word, or the person gives it. What is detected: the delimiter (; tab
// or comma), a decimal comma, UTF-8 and UTF-16 marks, quoted cells, comment lines, the time
// column, an event column. A cell that holds no number is missing, never zero.

// readCSV reads a text table.
func readCSV(data []byte, o Options) (*Recording, error) {
	if _, ok := csvUnits[o.CSVUnit]; !ok && o.CSVUnit != "" {
		return nil, fmt.Errorf("%q is no unit for a CSV; --csv-unit takes mV, uV, V or counts",
			o.CSVUnit)
	}
	if o.CSVRate < 0 || o.CSVRate > maxRate || math.IsNaN(o.CSVRate) {
		return nil, errors.New("--csv-rate is the sampling rate in Hz, such as 250")
	}
	r := &Recording{Format: CSV}
	t := &table{r: r, text: toLines(data)}
	if err := t.layout(); err != nil {
		return nil, err
	}
	if err := t.rows(); err != nil {
		return nil, err
	}
	t.brokenTail()
	t.guessTime()
	rate, err := t.timing(o.CSVRate)
	if err != nil {
		return nil, err
	}
	return r, t.finish(rate, o.CSVUnit)
}

// utf16Order answers the byte order that a UTF-16 mark states, nil without one.
func utf16Order(data []byte) binary.ByteOrder {
	switch {
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}):
		return binary.LittleEndian
	case bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return binary.BigEndian
	}
	return nil
}

// toLines turns the bytes into UTF-8 or Latin-1 text without its mark.
func toLines(data []byte) []byte {
	order := utf16Order(data)
	if order == nil {
		data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
		if !bytes.Contains(data, []byte("\n")) && bytes.Contains(data, []byte("\r")) {
			data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
		}
		return data
	}
	out := make([]byte, 0, len(data))
	for i := 2; i+1 < len(data); i += 2 {
		u := rune(order.Uint16(data[i:]))
		if utf16.IsSurrogate(u) {
			u = '\uFFFD'
		}
		out = append(out, string(u)...)
	}
	return out
}

// table is a CSV while it is being read.
type table struct {
	r     *Recording
	text  []byte
	delim byte
	head  []string // header cells, nil without a header
	data  int      // where the first data row begins in text
	cols  []column
	time  int // column of the time, −1 without one
	event int
	kept  int // cells kept so far; a cell takes two bytes of the file at least
	bad   int // cells that are neither a number nor a sign of absence
	rowsN int

	comma bool // some cell had a decimal comma
}

// column is one column of the table.
type column struct {
	name, unit string
	values     []float64 // signals and time
	skip       bool      // text that is no event
}

// eachLine calls f with every line but comments and blank ones, from byte offset at on.
func (t *table) eachLine(at int, f func(line []byte, at int) (bool, error)) error {
	for n := 0; at < len(t.text); {
		end := bytes.IndexByte(t.text[at:], '\n')
		next := at + end + 1
		if end < 0 {
			end, next = len(t.text)-at, len(t.text)
		}
		if end > MaxLineBytes {
			return fmt.Errorf("a line is longer than %d KiB; this is no table of samples: "+
				"export as EDF", MaxLineBytes>>10)
		}
		line := bytes.TrimSpace(bytes.TrimRight(t.text[at:at+end], "\r"))
		if len(line) > 0 && line[0] != '#' {
			if n++; n > MaxRows {
				return fmt.Errorf("the table has more than %d rows; export a shorter piece",
					MaxRows)
			}
			line := bytes.TrimRight(t.text[at:at+end], "\r")
			if more, err := f(line, at); err != nil || !more {
				return err
			}
		} else if len(line) > 0 {
			t.r.name(namedPerson(cleanText(line)))
		}
		at = next
	}
	return nil
}

// cells appends the cells of one line to out, split at the delimiter; quoted ones may hold it.
func cells(out []string, line []byte, delim byte) []string {
	for len(out) <= MaxSignals {
		if len(line) > 0 && line[0] == '"' {
			if end := bytes.IndexByte(line[1:], '"'); end >= 0 {
				rest := line[end+2:]
				if len(rest) == 0 || rest[0] == delim {
					out = append(out, cleanText(line[1:end+1]))
					if len(rest) == 0 {
						return out
					}
					line = rest[1:]
					continue
				}
			}
		}
		i := bytes.IndexByte(line, delim)
		if i < 0 {
			return append(out, cleanText(line))
		}
		out = append(out, cleanText(line[:i]))
		line = line[i+1:]
	}
	return out
}

// absent are the spellings of a missing value.
func absent(s string) bool {
	switch strings.ToLower(s) {
	case "", "nan", "-", "--", "∞", "-∞", "inf", "-inf", "+inf", "null", "na", "n/a":
		return true
	}
	return false
}

// reserve sizes the columns once: by the lines that are there, and by two bytes a cell.
func (t *table) reserve() {
	lines := bytes.Count(t.text[t.data:], []byte("\n")) + 1
	n := min(lines, MaxRows, (len(t.text)-t.data)/2/len(t.cols)+1)
	for i := range t.cols {
		if !t.cols[i].skip {
			t.cols[i].values = make([]float64, 0, n)
		}
	}
}

// rows reads all data rows into the columns.
func (t *table) rows() error {
	t.reserve()
	var c []string // used again for each row
	return t.eachLine(t.data, func(line []byte, _ int) (bool, error) {
		c = cells(c[:0], line, t.delim)
		if len(c) > len(t.cols) && !(len(c) == len(t.cols)+1 && c[len(c)-1] == "") {
			return false, fmt.Errorf("data row %d has %d cells instead of %d; "+
				"export the table again, or as EDF", t.rowsN+1, len(c), len(t.cols))
		}
		if t.kept += len(t.cols); t.kept > len(t.text)/2+MaxSignals {
			return false, errors.New("most cells of the table are missing; " +
				"export it again, or as EDF")
		}
		for i := range t.cols {
			cell := ""
			if i < len(c) {
				cell = c[i]
			}
			t.cell(i, cell)
		}
		t.rowsN++
		return true, nil
	})
}

// cell keeps one cell according to what its column is.
func (t *table) cell(i int, cell string) {
	col := &t.cols[i]
	switch {
	case i == t.event:
		v := 0.0
		if n, _, ok := parseDecimal(cell); !absent(cell) && (!ok || n != 0) {
			v = 1
			t.mark(cell)
		}
		col.values = append(col.values, v)
	case i == t.time:
		col.values = append(col.values, parseTime(cell))
	case col.skip:
	default:
		v, comma, ok := parseDecimal(cell)
		if t.comma = t.comma || comma; !ok {
			v = math.NaN()
			if !absent(cell) {
				t.bad++
			}
		}
		col.values = append(col.values, v)
	}
}

// mark keeps an event at the first row of a run; its row becomes a time when the rate is known.
func (t *table) mark(cell string) {
	done := t.cols[t.event].values
	if len(done) > 0 && done[len(done)-1] != 0 || len(t.r.Events) >= MaxAnnotations {
		return
	}
	if _, _, number := parseDecimal(cell); number {
		cell = "event"
	}
	t.r.Events = append(t.r.Events, Event{At: float64(t.rowsN), Text: cell})
}
