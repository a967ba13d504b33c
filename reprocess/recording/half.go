package recording

import (
	"path"
	"regexp"
	"slices"
	"strings"
	"time"
)

// Half says which half of a recording in two files some bytes are.
type Half string

// The halves of a WFDB record. Whole is everything else, readable or not.
const (
	Whole      Half = ""
	HeaderHalf Half = "header"
	SignalHalf Half = "signal"
)

// wfdbFormats are the storage formats that signal-files.html lists.
var wfdbFormats = []string{"8", "16", "24", "32", "61", "80", "160", "212", "310", "311",
	"508", "516", "524"}

// recordName is what a record may be called (header-files.html): letters, digits, underscores
// and hyphens; a number of segments after a stroke.
var recordName = regexp.MustCompile(`^[A-Za-z0-9_-]+(/[0-9]+)?$`)

// HalfOf tells by the bytes alone, so that no name of a file need travel: a text whose lines
// have the form of a WFDB header, or bytes that are none of the files known here.
func HalfOf(data []byte) Half {
	switch {
	case len(data) == 0 || isEDF(data) || isBDF(data) || foreign(data) != nil:
		return Whole
	case !isText(data):
		return SignalHalf
	case looksLikeHeader(data):
		return HeaderHalf
	}
	return Whole
}

// looksLikeHeader asks for a record line and as many signal lines as it promises, at least one,
// each with a file and a known format.
func looksLikeHeader(data []byte) bool {
	var lines [][]string
	for _, l := range strings.Split(string(data[:min(len(data), 1<<16)]), "\n") {
		if l = cleanText([]byte(l)); l != "" && !strings.HasPrefix(l, "#") {
			lines = append(lines, strings.Fields(l))
		}
	}
	if len(lines) < 2 || len(lines[0]) < 2 || !recordName.MatchString(lines[0][0]) {
		return false
	}
	ns, ok := parseCount(lines[0][1])
	if !ok || ns < 1 || ns > MaxSignals || len(lines[1]) < 2 {
		return false
	}
	if strings.Contains(lines[0][0], "/") {
		return true // segments: the reader refuses them in its own words
	}
	stored := lines[1][1]
	for _, mark := range []string{"+", ":", "x"} {
		stored, _, _ = strings.Cut(stored, mark)
	}
	return slices.Contains(wfdbFormats, stored) && (path.Ext(lines[1][0]) != "" ||
		strings.ContainsAny(strings.ToLower(lines[1][0]), "abcdefghijklmnopqrstuvwxyz~"))
}

// startTime reads base time and base date of a record line: HH:MM:SS with or without a
// fraction, and DD/MM/YYYY (header-files.html). Without both there is no start.
func (r *Recording) startTime(fields []string) {
	if len(fields) < 6 {
		return
	}
	day, err := time.Parse("2/1/2006", fields[5])
	if err != nil || day.Year() < 1980 {
		r.remark("The start in the header cannot be read.")
		return
	}
	at, err := time.Parse("15:4:5", fields[4])
	if err != nil {
		r.remark("The start in the header cannot be read.")
		return
	}
	h, m, s := at.Clock()
	r.StartKnown = true
	r.Start = day.Add(time.Duration(h)*time.Hour + time.Duration(m)*time.Minute +
		time.Duration(s)*time.Second + time.Duration(at.Nanosecond()))
}
