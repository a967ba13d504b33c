package lookback

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// timeLayouts are the spellings of a moment; without a zone it is UTC.
var timeLayouts = []string{time.RFC3339, "2006-01-02 15:04:05", "2006-01-02 15:04"}

// ParseTime reads RFC 3339, or 2027-05-10 08:00 with or without seconds, in UTC.
func ParseTime(s string) (time.Time, error) {
	for _, layout := range timeLayouts {
		if t, err := time.Parse(layout, s); err == nil && t.Year() >= 1990 && t.Year() < 2200 {
			return t.UTC(), nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is not a time; write it like 2027-05-10 08:00", s)
}

func parseOptional(s string) (time.Time, error) {
	if s == "" {
		return time.Time{}, nil
	}
	return ParseTime(s)
}

// ReadCycles reads CSV with the columns cycle, device, attempts, released. Attempts are
// "2027-05-10 08:00:00 LOT ok", joined by "|", where ok may be seen-dry; an empty release
// means never. Errors name the line.
func ReadCycles(r io.Reader) ([]Cycle, error) {
	var out []Cycle
	seen := map[string]bool{}
	err := readRows(r, "cycle,device,attempts,released", func(row []string) error {
		c, err := parseCycle(row)
		if err == nil && seen[c.ID] {
			err = fmt.Errorf("the cycle %q stands there twice", c.ID)
		}
		seen[c.ID] = true
		out = append(out, c)
		return err
	})
	return out, err
}

func parseCycle(row []string) (Cycle, error) {
	c := Cycle{ID: row[0], Device: row[1]}
	if c.ID == "" || c.Device == "" {
		return c, errors.New("a cycle needs its number and its device")
	}
	var err error
	if row[2] != "" {
		for _, text := range strings.Split(row[2], "|") {
			a, err := parseAttempt(strings.TrimSpace(text))
			if err != nil {
				return c, err
			}
			c.Attempts = append(c.Attempts, a)
		}
	}
	if c.Released, err = parseOptional(row[3]); err != nil {
		return c, err
	}
	if !c.Released.IsZero() && c.last().After(c.Released) {
		return c, fmt.Errorf("the cycle %q was released before its last attempt", c.ID)
	}
	return c, nil
}

func parseAttempt(s string) (Attempt, error) {
	bad := fmt.Errorf("%q is not an attempt; write it like 2027-05-10 08:00:00 L7 ok", s)
	rest, outcome, found := cutLast(s)
	if !found || outcome != "ok" && outcome != "seen-dry" {
		return Attempt{}, bad
	}
	moment, lot, found := cutLast(rest)
	if !found || lot == "" {
		return Attempt{}, bad
	}
	at, err := ParseTime(moment)
	if err != nil {
		return Attempt{}, bad
	}
	return Attempt{At: at, Uses: []Use{{Lot: lot}}, OK: outcome == "ok"}, nil
}

func cutLast(s string) (before, after string, found bool) {
	i := strings.LastIndexByte(s, ' ')
	if i < 0 {
		return "", "", false
	}
	return s[:i], s[i+1:], true
}

// ReadLoans reads CSV with the columns episode, device, wearer, issued, returned; an empty
// wearer or issue is unknown, an empty return is still out. Errors name the line.
func ReadLoans(r io.Reader) ([]Loan, error) {
	var out []Loan
	seen := map[string]bool{}
	err := readRows(r, "episode,device,wearer,issued,returned", func(row []string) error {
		l, err := parseLoan(row)
		if err == nil && seen[l.Episode] {
			err = fmt.Errorf("the episode %q stands there twice", l.Episode)
		}
		seen[l.Episode] = true
		out = append(out, l)
		return err
	})
	return out, err
}

func parseLoan(row []string) (Loan, error) {
	l := Loan{Episode: row[0], Device: row[1], Wearer: row[2]}
	if l.Episode == "" || l.Device == "" {
		return l, errors.New("a loan needs its episode and its device")
	}
	var err error
	if l.Issued, err = parseOptional(row[3]); err != nil {
		return l, err
	}
	if l.Returned, err = parseOptional(row[4]); err != nil {
		return l, err
	}
	if !l.Returned.IsZero() && l.Returned.Before(l.Issued) {
		return l, fmt.Errorf("the episode %q came back before it went out", l.Episode)
	}
	return l, nil
}

// readRows checks the header to the letter and hands on one row after the other.
func readRows(r io.Reader, header string, each func([]string) error) error {
	c := csv.NewReader(r)
	first, err := c.Read()
	if err != nil || strings.TrimPrefix(strings.Join(first, ","), "\ufeff") != header {
		return fmt.Errorf("the first line must be exactly %s", header)
	}
	for {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("this is not CSV like its first line: %w", err)
		}
		if err := each(row); err != nil {
			line, _ := c.FieldPos(0)
			return fmt.Errorf("line %d: %w", line, err)
		}
	}
}
