package ledger

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// timeLayout is the one spelling of a time, always UTC.
const timeLayout = "2006-01-02T15:04:05.000Z"

// FormatTime prints Unix milliseconds as YYYY-MM-DDTHH:MM:SS.mmmZ. Outside the years 0000 to
// 9999 the text is longer and ParseTime refuses it.
func FormatTime(ms int64) string { return time.UnixMilli(ms).UTC().Format(timeLayout) }

// ParseTime reads exactly what FormatTime prints and gives Unix milliseconds. RFC 3339 allows
// more spellings and a 60th second; a record that is hashed has one spelling.
func ParseTime(s string) (int64, error) {
	if len(s) == len(timeLayout) && s[17:19] == "60" {
		return 0, fmt.Errorf("%q is a leap second; write the second after it", s)
	}
	t, err := time.Parse(timeLayout, s)
	if err != nil || t.Format(timeLayout) != s {
		return 0, fmt.Errorf("%q is not a time like 2026-11-24T14:05:00.000Z", clip(s))
	}
	return t.UnixMilli(), nil
}

// clip keeps a foreign text from flooding a sentence.
func clip(s string) string {
	if len(s) > 60 {
		return strings.ToValidUTF8(s[:60], "") + "…"
	}
	return s
}

// Envelope is what this package reads of an entry by name.
type Envelope struct {
	Seq     int64  // the entry's number, from 1
	At      int64  // Unix milliseconds
	Kit     string // the device it is about, empty for none
	KitSeq  int64  // number among that device's entries, from 1; 0 without a device
	KitPrev *Hash  // leaf hash of that device's entry before; nil for its first or for none
}

// ReadEnvelope checks entry bytes and reads the envelope. A member of the wrong kind, a missing
// seq or at, and a device chain that is only half there are errors.
func ReadEnvelope(body []byte) (Envelope, error) {
	var e Envelope
	var bad error
	seen := 0
	err := check(body, func(name, value []byte) {
		had, err := e.set(string(name), string(value))
		if had {
			seen++
		}
		if err != nil && bad == nil {
			bad = fmt.Errorf("member %s: %w", name, err)
		}
	})
	switch {
	case err != nil:
		return Envelope{}, err
	case bad != nil:
		return Envelope{}, bad
	case seen != 2:
		return Envelope{}, errors.New("an entry needs the members seq and at")
	}
	return e, e.checkChain()
}

// set takes one member; it answers whether it was one of the two mandatory ones.
func (e *Envelope) set(name, value string) (mandatory bool, err error) {
	switch name {
	case "seq":
		e.Seq, err = count(value)
		return true, err
	case "at":
		if s, err := plainText(value); err != nil {
			return true, err
		} else {
			e.At, err = ParseTime(s)
			return true, err
		}
	case "kit":
		e.Kit, err = plainText(value)
	case "kit_seq":
		e.KitSeq, err = count(value)
	case "kit_prev":
		var s string
		if s, err = plainText(value); err == nil {
			e.KitPrev = new(Hash)
			*e.KitPrev, err = ParseHash(s)
		}
	}
	return false, err
}

// checkChain: with a device there is its count, and from its second entry on the hash of the
// one before; without a device there is neither.
func (e *Envelope) checkChain() error {
	switch {
	case (e.Kit != "") != (e.KitSeq > 0):
		return errors.New("the members kit and kit_seq go together")
	case (e.KitSeq > 1) != (e.KitPrev != nil):
		return errors.New("the member kit_prev stands from the device's second entry on")
	}
	return nil
}

// count reads a number from 1.
func count(value string) (int64, error) {
	n, err := strconv.ParseInt(value, 10, 64)
	if err != nil || n < 1 {
		return 0, errors.New("must be a whole number from 1")
	}
	return n, nil
}

// plainText strips the quotes of a text that needs no escape.
func plainText(value string) (string, error) {
	if len(value) < 2 || value[0] != '"' || strings.ContainsRune(value, '\\') {
		return "", errors.New(`must be a text without \`)
	}
	return value[1 : len(value)-1], nil
}
