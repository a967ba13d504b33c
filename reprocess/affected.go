package reprocess

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
)

// AffectedItem is one number, or one range of numbers, of a list that a maker sent; or what of
// it was not understood. Nothing that was typed is ever left out.
type AffectedItem struct {
	Line     int    // 1-based
	Text     string // as typed
	From, To string // the ends, both included; equal for one number; empty with a Fault
	Fault    string // a sentence: why it was not understood
}

// The bounds of a list; our own choice. A wider range is more likely a slip than a warning.
const (
	widestRange  = 10000 // numbers in one range
	longestItem  = 80    // characters of one item
	longestList  = 20000 // bytes of a list
	mostAffected = 2000  // items of a list
)

// ReadAffected reads numbers separated by line breaks, commas or semicolons; a range is written
// 1200-1260, 1200..1260, 1200 to 1260, or with a dash, both ends in full. known tells whether
// something is a number of ours as it stands: a serial may hold a comma or a hyphen, so what is
// known is taken as one number, and as a range too where it reads like one.
func ReadAffected(text string, known func(string) bool) ([]AffectedItem, *Problem) {
	if len(text) > longestList {
		return nil, invalid("list", "Send it in parts.", "The list has %d characters, %d fit.",
			len(text), longestList)
	}
	var all []AffectedItem
	for n, line := range ListLines(text) {
		items := []string{line}
		if !known(line) {
			items = strings.FieldsFunc(line, func(r rune) bool { return r == ',' || r == ';' })
		}
		for _, item := range items {
			if item = strings.TrimSpace(item); item != "" {
				all = append(all, readItem(n+1, item, known)...)
			}
		}
	}
	if len(all) > mostAffected {
		return nil, invalid("list", "Send it in parts.", "The list has %d numbers and ranges, %d fit.",
			len(all), mostAffected)
	}
	return all, nil
}

// ListLines splits a list into lines as the record can keep them: blanks and dashes plain, and
// what cannot be seen marked, so that it is not read as something else.
func ListLines(text string) []string {
	text = strings.ReplaceAll(strings.TrimRightFunc(text, unicode.IsSpace), "\r\n", "\n")
	if text == "" {
		return nil
	}
	var lines []string
	for _, line := range strings.Split(strings.ToValidUTF8(text, "\uFFFD"), "\n") {
		line = plainLine(strings.ReplaceAll(line, "\r", " "))
		lines = append(lines, strings.Map(visible, line))
	}
	return lines
}

func visible(r rune) rune {
	if unicode.IsControl(r) {
		return unicode.ReplacementChar
	}
	return r
}

// plainLine writes the dashes and blanks of typography plainly. An en dash between numbers
// means a range and stays.
func plainLine(line string) string {
	return strings.Join(strings.Fields(strings.NewReplacer("\u2010", "-", "\u2011", "-",
		"\u2212", "-", "\u2014", "–").Replace(line)), " ")
}

func readItem(line int, text string, known func(string) bool) []AffectedItem {
	item := AffectedItem{Line: line, Text: text}
	if item.Fault = strange(text); item.Fault != "" {
		return []AffectedItem{item}
	}
	one := item
	one.From, one.To = text, text
	from, to, isRange := cutEnds(text)
	if !isRange {
		if strings.Contains(text, " ") && !known(text) {
			one.From, one.To = "", ""
			one.Fault = "This is not one number, and not a range such as 1200-1260."
		}
		return []AffectedItem{one}
	}
	item.From, item.To = from, to
	item.Fault = rangeFault(from, to)
	hyphen := strings.Count(text, "-") > 0 && !strings.ContainsAny(text, " –") &&
		!strings.Contains(text, "..")
	switch {
	case known(text) && item.Fault == "":
		return []AffectedItem{one, item}
	case known(text), hyphen && !sameForm(from, to):
		return []AffectedItem{one} // a hyphen inside one number
	case item.Fault != "":
		item.From, item.To = "", ""
	}
	return []AffectedItem{item}
}

// strange refuses what no number of ours can hold: digits of other scripts would match nothing
// and look like a match.
func strange(text string) string {
	if len([]rune(text)) > longestItem {
		return fmt.Sprintf("This is longer than %d characters.", longestItem)
	}
	for _, r := range text {
		switch {
		case r > unicode.MaxASCII && (unicode.IsDigit(r) || unicode.IsNumber(r)),
			r >= 0xFF01 && r <= 0xFF5E:
			return "This holds figures or signs of another script; type them as 0 to 9."
		case r == unicode.ReplacementChar, unicode.IsControl(r), unicode.Is(unicode.Cf, r):
			return "This holds a character that cannot be seen; type it again."
		}
	}
	return ""
}

// cutEnds finds the two ends of what reads like a range.
func cutEnds(text string) (from, to string, ok bool) {
	for _, mark := range []string{"..", "–", " to ", " - "} {
		if from, to, ok = strings.Cut(text, mark); ok {
			return strings.TrimSpace(from), strings.TrimSpace(to), true
		}
	}
	// A bare hyphen: in the middle, so that prefixes with hyphens of their own stay whole.
	for i, r := range text {
		if r == '-' && sameForm(text[:i], text[i+1:]) {
			return text[:i], text[i+1:], true
		}
	}
	return "", "", false
}

// sameForm tells whether two ends are the same letters before a number.
func sameForm(from, to string) bool {
	a, n := splitNumber(from)
	b, m := splitNumber(to)
	return n != "" && m != "" && strings.EqualFold(a, b)
}

// splitNumber cuts the digits at the end.
func splitNumber(s string) (prefix, digits string) {
	i := len(s)
	for i > 0 && s[i-1] >= '0' && s[i-1] <= '9' {
		i--
	}
	return s[:i], s[i:]
}

func rangeFault(from, to string) string {
	if !sameForm(from, to) {
		return "Both ends of a range have to be written in full, such as R-1200..R-1260."
	}
	_, a := splitNumber(from)
	_, b := splitNumber(to)
	low, err1 := strconv.ParseUint(a, 10, 63)
	high, err2 := strconv.ParseUint(b, 10, 63)
	switch {
	case err1 != nil || err2 != nil:
		return "The numbers of this range are too long."
	case low > high:
		return "This range runs backwards; write the lower number first."
	case high-low >= widestRange:
		return fmt.Sprintf("This range holds more than %d numbers; check it.", widestRange)
	}
	return ""
}

// Covers tells whether a number of ours is in the item. Capitals do not matter; in a range
// leading zeros do not matter either, so that rather one too many is found.
func (i AffectedItem) Covers(number string) bool {
	if i.Fault != "" || number == "" {
		return false
	}
	if i.From == i.To {
		return strings.EqualFold(number, i.From)
	}
	prefix, digits := splitNumber(number)
	want, a := splitNumber(i.From)
	_, b := splitNumber(i.To)
	// A range of bare figures must not find letters before them, and the other way round; the
	// prefix of a longer run of figures is empty either way.
	if digits == "" || !strings.EqualFold(prefix, want) {
		return false
	}
	n, err := strconv.ParseUint(digits, 10, 63)
	low, _ := strconv.ParseUint(a, 10, 63)
	high, _ := strconv.ParseUint(b, 10, 63)
	return err == nil && low <= n && n <= high
}

// AffectedFound is an item with what of ours it covers.
type AffectedFound struct {
	Item   AffectedItem
	Pieces []*Piece
	Lots   []*Lot
}

// Affected is a maker's list laid beside what is ours.
type Affected struct {
	Serials, Lots []AffectedFound
}

// FindAffected reads both lists and finds every piece and every lot of ours. World: all pieces
// and all lots.
func FindAffected(w *World, serials, lots string) (a Affected, p *Problem) {
	bySerial := func(s string) bool {
		for _, piece := range w.Pieces {
			if strings.EqualFold(piece.Serial, s) {
				return true
			}
		}
		return false
	}
	byLot := func(s string) bool {
		for _, l := range w.Lots {
			if strings.EqualFold(l.Number, s) {
				return true
			}
		}
		return false
	}
	items, p := ReadAffected(serials, bySerial)
	if p != nil {
		return a, p
	}
	for _, i := range items {
		f := AffectedFound{Item: i}
		for _, id := range sortedKeys(w.Pieces) {
			if i.Covers(w.Pieces[id].Serial) {
				f.Pieces = append(f.Pieces, w.Pieces[id])
			}
		}
		a.Serials = append(a.Serials, f)
	}
	if items, p = ReadAffected(lots, byLot); p != nil {
		return a, p
	}
	for _, i := range items {
		f := AffectedFound{Item: i}
		for _, id := range sortedKeys(w.Lots) {
			if i.Covers(w.Lots[id].Number) {
				f.Lots = append(f.Lots, w.Lots[id])
			}
		}
		a.Lots = append(a.Lots, f)
	}
	return a, nil
}

// Pieces lists every piece that was found, each once, by id.
func (a Affected) Pieces() []*Piece {
	found := map[string]*Piece{}
	for _, f := range a.Serials {
		for _, p := range f.Pieces {
			found[p.ID] = p
		}
	}
	var all []*Piece
	for _, id := range sortedKeys(found) {
		all = append(all, found[id])
	}
	return all
}

// LotIDs lists every lot that was found, each once, by id.
func (a Affected) LotIDs() []string {
	found := map[string]bool{}
	for _, f := range a.Lots {
		for _, l := range f.Lots {
			found[l.ID] = true
		}
	}
	return sortedKeys(found)
}

// understood tells whether anything in the lists could be read.
func (a Affected) understood() bool {
	for _, f := range append(append([]AffectedFound{}, a.Serials...), a.Lots...) {
		if f.Item.Fault == "" {
			return true
		}
	}
	return false
}
