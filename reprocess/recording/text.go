package recording

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// cleanText decodes a header field: a NUL byte ends it, valid UTF-8 is kept, anything else is
// read byte for byte (Latin-1), because EDF has no mark for its encoding. Control characters
// and bidirectional marks are dropped, so that a text cannot disturb the line it is shown in.
func cleanText(b []byte) string {
	if i := bytes.IndexByte(b, 0); i >= 0 {
		b = b[:i]
	}
	if plainASCII(b) {
		return strings.TrimSpace(string(b))
	}
	s := string(b)
	if !utf8.Valid(b) {
		r := make([]rune, len(b))
		for i, c := range b {
			r[i] = rune(c)
		}
		s = string(r)
	}
	return strings.TrimSpace(strings.Map(printable, s))
}

func plainASCII(b []byte) bool {
	for _, c := range b {
		if c < ' ' || c > '~' {
			return false
		}
	}
	return true
}

func printable(r rune) rune {
	switch {
	case r == '\t' || r == '\n' || r == '\r':
		return ' '
	case !unicode.IsPrint(r):
		return -1
	}
	return r
}

// parseNumber reads one number written with the characters 0-9 + - . e E only (the library's
// own parser would also take Inf, NaN, hexadecimal and underscores).
func parseNumber(s string) (float64, bool) {
	if s == "" || len(s) > 64 {
		return 0, false
	}
	for _, c := range []byte(s) {
		if (c < '0' || c > '9') && !strings.ContainsRune("+-.eE", rune(c)) {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0)
}

// parseDecimal also takes a decimal comma: one comma and no dot.
func parseDecimal(s string) (v float64, comma, ok bool) {
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		v, ok = parseNumber(strings.Replace(s, ",", ".", 1))
		return v, true, ok
	}
	v, ok = parseNumber(s)
	return v, false, ok
}

// parseCount reads a whole number that fits comfortably into an int.
func parseCount(s string) (int, bool) {
	v, ok := parseNumber(s)
	if !ok || v != math.Trunc(v) || math.Abs(v) > 1e12 {
		return 0, false
	}
	return int(v), true
}

// hide replaces every name in s, in any case, by a neutral mark.
func hide(s string, names []string) string {
	for _, n := range names {
		for from := 0; ; {
			i := indexFold(s[from:], n)
			if i < 0 {
				break
			}
			s = s[:from+i] + "[name]" + s[from+i+len(n):]
			from += i + len("[name]")
		}
	}
	return s
}

// indexFold finds needle in s without regard to case, only at byte lengths equal to needle's.
func indexFold(s, needle string) int {
	for i := 0; i+len(needle) <= len(s); i++ {
		if strings.EqualFold(s[i:i+len(needle)], needle) {
			return i
		}
	}
	return -1
}

// nobody are the words that stand in a patient field when it names no person.
var nobody = map[string]bool{"": true, "X": true, "XX": true, "XXX": true, "XXXX": true,
	"UNKNOWN": true, "ANONYMOUS": true, "ANON": true, "NONE": true, "NN": true, "NA": true,
	"M": true, "F": true, "TEST": true, "BENCH": true, "DEVICE": true, "RECORDER": true,
	"PATIENT": true, "ID": true, "NO": true, "NAME": true, "SIMULATOR": true, "MALE": true,
	"FEMALE": true, "RECORDING": true, "SOURCE": true, "CHECK": true}

// nameParts splits a text that may name a person into the parts that do: words of two letters
// or more without a digit (a word with one is a code or a date) that are no placeholder.
func nameParts(s string) []string {
	var parts []string
	for _, w := range strings.FieldsFunc(s, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\'' && r != '-'
	}) {
		w = strings.Trim(w, "-'")
		if utf8.RuneCountInString(w) >= 2 && !nobody[strings.ToUpper(w)] &&
			!strings.ContainsFunc(w, unicode.IsDigit) {
			parts = append(parts, w)
		}
	}
	return parts
}

// nameKeys are what a line of a text file begins with when a person's name follows.
var nameKeys = []string{"patient name", "patient's name", "patientname", "patient", "name",
	"surname", "first name", "last name", "firstname", "lastname", "nachname", "vorname",
	"nom", "apellido", "subject name", "wearer"}

// namedPerson gives the parts of the name that a comment or a line before the data carries.
func namedPerson(line string) []string {
	line = strings.TrimSpace(strings.TrimLeft(strings.TrimSpace(line), "#\"'<;, "))
	for _, key := range nameKeys {
		if len(line) <= len(key) || !strings.EqualFold(line[:len(key)], key) {
			continue
		}
		rest := strings.TrimLeft(line[len(key):], " \"'>")
		if rest != "" && strings.ContainsRune(":=;,\t", rune(rest[0])) {
			return nameParts(rest[1:])
		}
	}
	return nil
}
