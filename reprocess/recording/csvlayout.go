package recording

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
)

// csvUnits are the units that --csv-unit takes.
var csvUnits = map[string]bool{"mV": true, "uV": true, "V": true, "counts": true}

// layout finds the delimiter, the header and the first data row. The first data row is the
// first one with a number in which every cell is a number, missing, a clock time or the text
// of an event column; the line before it is the header.
func (t *table) layout() error {
	var before []string // the last line before the data
	found := false
	seen := 0
	err := t.eachLine(0, func(line []byte, at int) (bool, error) {
		if seen++; seen > 200 {
			return false, nil
		}
		t.delim = delimiter(line)
		c := cells(nil, line, t.delim)
		if len(c) > MaxSignals {
			return false, fmt.Errorf("the table has more than %d columns; "+
				"export fewer, or as EDF", MaxSignals)
		}
		if dataRow(c, before) {
			t.data, found = at, true
			t.columns(c, before)
			return false, nil
		}
		t.r.name(namedPerson(cleanText(line)))
		before = c
		return true, nil
	})
	if err == nil && !found {
		err = errors.New("this text holds no table of numbers; export the recording as EDF, " +
			"or as CSV with one row per sample")
	}
	return err
}

// delimiter takes the semicolon or the tab before the comma, which may be a decimal one.
func delimiter(line []byte) byte {
	for _, d := range []byte{';', '\t'} {
		if slices.Contains(line, d) {
			return d
		}
	}
	return ','
}

// dataRow tells whether the cells are samples.
func dataRow(c, head []string) bool {
	numbers := 0
	for i, s := range c {
		_, _, ok := parseDecimal(s)
		switch {
		case ok || !math.IsNaN(parseTime(s)):
			numbers++
		case absent(s) || i < len(head) && len(head) >= len(c)-1:
			// text below a header cell is an event or a remark column
		default:
			return false
		}
	}
	return numbers > 0 && numbers*2 >= len(c)-1
}

// columns names the columns and says which holds the time and which the events.
func (t *table) columns(first, head []string) {
	if len(head) > 0 && len(head) != len(first) && len(head) != len(first)-1 {
		head = nil // a line of the preamble, not a header
	}
	n := len(first)
	if n > 1 && first[n-1] == "" && (len(head) < n || head[n-1] == "") {
		n-- // a delimiter at the end of each row
	}
	t.head, t.time, t.event = head, -1, -1
	t.cols = make([]column, n)
	for i := range t.cols {
		c := &t.cols[i]
		if i < len(head) {
			c.name, c.unit = splitUnit(head[i])
		}
		_, _, number := parseDecimal(first[i])
		kind := columnKind(head, i)
		switch {
		case t.time < 0 && (kind == "time" || !number && !math.IsNaN(parseTime(first[i]))):
			t.time = i
		case t.event < 0 && kind == "event":
			t.event = i
		case !number && !absent(first[i]):
			c.skip = true
			t.r.remark("Column %d holds text and was left out.", i+1)
		}
		if c.skip && isNameColumn(c.name) {
			t.r.name(nameParts(first[i]))
		}
	}
}

func isNameColumn(name string) bool {
	return slices.Contains(nameKeys, strings.ToLower(name))
}

// columnKind reads the header cell's first word.
func columnKind(head []string, i int) string {
	if i >= len(head) {
		return ""
	}
	switch w := words(head[i]); {
	case len(w) == 0:
		return ""
	case slices.Contains([]string{"time", "t", "seconds", "second", "sec", "s", "ms", "zeit",
		"timestamp", "sample", "samples", "index", "elapsed", "clock", "date"}, w[0]):
		return "time"
	case slices.Contains([]string{"event", "events", "marker", "mark", "markers", "annotation",
		"annotations", "button", "ereignis"}, w[0]):
		return "event"
	}
	return ""
}

// words are the lower-case words of a header cell.
func words(s string) []string {
	return strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r)
	})
}

// splitUnit takes "ECG II [mV]", "ECG (uV)" or "ecg_mV" apart. A bare last word counts only
// for mV and µV: a lone V could be the name of a lead.
func splitUnit(cell string) (name, unit string) {
	for _, b := range []string{"[]", "()"} {
		open, end := strings.LastIndex(cell, b[:1]), strings.LastIndex(cell, b[1:])
		if open >= 0 && end > open {
			return strings.TrimSpace(cell[:open]), strings.TrimSpace(cell[open+1 : end])
		}
	}
	cut := strings.LastIndexFunc(cell, func(r rune) bool { return r == ' ' || r == '_' })
	switch last := cell[cut+1:]; last {
	case "mV", "uV", "µV", "μV":
		return strings.TrimSpace(cell[:max(cut, 0)]), last
	}
	return cell, ""
}

// parseTime reads a cell of the time column: a number, or a clock time (the last word of a
// date and time), as seconds of the day. NaN = none.
func parseTime(s string) float64 {
	if v, _, ok := parseDecimal(s); ok {
		return v
	}
	if i := strings.LastIndexAny(s, " T"); i >= 0 {
		s = s[i+1:]
	}
	p := strings.Split(strings.TrimSuffix(s, "Z"), ":")
	if len(p) < 2 || len(p) > 3 {
		return math.NaN()
	}
	sum := 0.0
	for _, part := range p {
		v, _, ok := parseDecimal(part)
		if !ok || v < 0 || v >= 60 {
			return math.NaN()
		}
		sum = sum*60 + v
	}
	if len(p) == 2 {
		sum *= 60
	}
	return sum
}
