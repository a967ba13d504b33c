package ledger

import (
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Checkpoint says: at this time the log with this origin had this many entries and this root.
// Its text is the tlog-checkpoint of c2sp.org with two extension lines, each line ended by LF:
//
//	site/8f3a2c                                     origin: which log, never changed
//	1234                                            size, decimal, no leading zero
//	47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=    root, standard base64 with padding
//	time 2026-11-24T14:05:00.000Z                   when it was made
//	site Ward 3                                     where, in words
//
// Signed, the text is followed by an empty line and one signature line per key:
//
//	— site/8f3a2c Az3grl…                           em dash U+2014, key name, base64
//
// (c2sp.org/signed-note, Ed25519, type 1). The key's name must be the origin. One text has one
// spelling: what is read prints back to the same bytes.
type Checkpoint struct {
	Origin string // name of the log: printable, no space and no +, at most 100 bytes
	Size   int64  // number of entries, from 0
	Root   Hash   // root of the tree of that size
	At     int64  // Unix milliseconds
	Site   string // printable words, at most 100 bytes, no space at either end
}

// FormatCheckpoint prints the text to be signed.
func FormatCheckpoint(c Checkpoint) (string, error) {
	text := fmt.Sprintf("%s\n%d\n%s\ntime %s\nsite %s\n", c.Origin, c.Size,
		base64.StdEncoding.EncodeToString(c.Root[:]), FormatTime(c.At), c.Site)
	_, err := ParseCheckpoint(text)
	if err != nil {
		return "", err
	}
	return text, nil
}

// ParseCheckpoint reads exactly what FormatCheckpoint prints.
func ParseCheckpoint(text string) (Checkpoint, error) {
	lines := strings.Split(text, "\n")
	if len(lines) != 6 || lines[5] != "" {
		return Checkpoint{}, errors.New("a checkpoint has five lines: origin, size, root, time, site")
	}
	c := Checkpoint{Origin: lines[0]}
	if err := CheckOrigin(c.Origin); err != nil {
		return Checkpoint{}, err
	}
	var err error
	if c.Size, err = parseSize(lines[1]); err != nil {
		return Checkpoint{}, err
	}
	if c.Root, err = parseRoot(lines[2]); err != nil {
		return Checkpoint{}, err
	}
	at, okTime := strings.CutPrefix(lines[3], "time ")
	site, okSite := strings.CutPrefix(lines[4], "site ")
	if !okTime || !okSite {
		return Checkpoint{}, errors.New("lines 4 and 5 of a checkpoint begin with time and site")
	}
	if c.At, err = ParseTime(at); err != nil {
		return Checkpoint{}, err
	}
	c.Site = site
	return c, checkSite(site)
}

// CheckOrigin says whether a text can name a log (and its key): the name is written before a
// space in a signature line and before a + in a key.
func CheckOrigin(s string) error {
	if s == "" || len(s) > 100 || !printable(s) || strings.ContainsFunc(s, unicode.IsSpace) ||
		strings.Contains(s, "+") {
		return fmt.Errorf("an origin is 1 to 100 printable bytes without space or +, not %q", clip(s))
	}
	return nil
}

func checkSite(s string) error {
	if s == "" || len(s) > 100 || !printable(s) || strings.TrimSpace(s) != s {
		return fmt.Errorf("a site is 1 to 100 printable bytes, no space at the ends, not %q", clip(s))
	}
	return nil
}

// printable: valid UTF-8 and nothing that does not show on paper.
func printable(s string) bool {
	return utf8.ValidString(s) &&
		!strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) })
}

func parseSize(s string) (int64, error) {
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < 0 || n > MaxInt || strconv.FormatInt(n, 10) != s {
		return 0, fmt.Errorf("%q is not a number of entries", clip(s))
	}
	return n, nil
}

func parseRoot(s string) (Hash, error) {
	b, err := base64.StdEncoding.DecodeString(s)
	if err != nil || len(b) != len(Hash{}) || base64.StdEncoding.EncodeToString(b) != s {
		return Hash{}, fmt.Errorf("%q is not a root of 32 bytes in base64", clip(s))
	}
	return Hash(b), nil
}
