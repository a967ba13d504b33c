package reprocess

import (
	"encoding/json"
	"fmt"
	"time"
)

// Instant is a moment as Unix milliseconds in UTC; zero means "none". It is what stands in
// INTEGER columns; in entries it is printed as 2006-01-02T15:04:05.000Z, one spelling.
type Instant int64

// InstantLayout is the one spelling of a moment in entries and exports.
const InstantLayout = "2006-01-02T15:04:05.000Z"

// InstantOf cuts a time to the millisecond.
func InstantOf(t time.Time) Instant { return Instant(t.UnixMilli()) }

// Time gives the moment as a UTC time.
func (i Instant) Time() time.Time { return time.UnixMilli(int64(i)).UTC() }

// Add moves the moment by a duration.
func (i Instant) Add(d time.Duration) Instant { return i + Instant(d.Milliseconds()) }

// Sub is the duration from o to i.
func (i Instant) Sub(o Instant) time.Duration { return time.Duration(i-o) * time.Millisecond }

// String prints the moment, or nothing for none.
func (i Instant) String() string {
	if i == 0 {
		return ""
	}
	return i.Time().Format(InstantLayout)
}

// ParseInstant reads exactly what String prints; anything else is an error.
func ParseInstant(s string) (Instant, error) {
	if s == "" {
		return 0, nil
	}
	t, err := time.Parse(InstantLayout, s)
	if err != nil || t.Format(InstantLayout) != s {
		return 0, fmt.Errorf("%q is not a time like 2026-11-24T14:05:00.000Z", s)
	}
	return InstantOf(t), nil
}

// MarshalJSON writes the one spelling.
func (i Instant) MarshalJSON() ([]byte, error) { return json.Marshal(i.String()) }

// UnmarshalJSON reads the one spelling.
func (i *Instant) UnmarshalJSON(b []byte) error {
	var s string
	if err := json.Unmarshal(b, &s); err != nil {
		return err
	}
	v, err := ParseInstant(s)
	if err == nil {
		*i = v
	}
	return err
}

// Date is a calendar day such as 2026-11-24, empty for none. A day printed on a package or
// promised to a wearer has no zone; days order as their text does.
type Date string

// DateLayout is the one spelling of a day.
const DateLayout = "2006-01-02"

// ParseDate reads one day; an empty text is no day.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(DateLayout, s)
	if s == "" {
		return "", nil
	}
	if err != nil || t.Format(DateLayout) != s || t.Year() < 1990 || t.Year() > 2199 {
		return "", fmt.Errorf("%q is not a day like 2026-11-24", s)
	}
	return Date(s), nil
}

// DateIn is the calendar day of a moment in the zone of the clinic.
func DateIn(i Instant, zone *time.Location) Date {
	if zone == nil {
		zone = time.UTC
	}
	return Date(i.Time().In(zone).Format(DateLayout))
}

// AddDays moves a day; an empty or broken day stays empty.
func (d Date) AddDays(n int) Date {
	t, err := time.Parse(DateLayout, string(d))
	if err != nil {
		return ""
	}
	return Date(t.AddDate(0, 0, n).Format(DateLayout))
}

// DaysUntil counts whole days from d to o; negative when o is earlier, 0 when either is none.
func (d Date) DaysUntil(o Date) int {
	a, err1 := time.Parse(DateLayout, string(d))
	b, err2 := time.Parse(DateLayout, string(o))
	if err1 != nil || err2 != nil {
		return 0
	}
	return int(b.Sub(a) / (24 * time.Hour))
}

// Now is the present as a value: the wall clock, the run of the server (boot) and its
// monotonic milliseconds. Only cmd reads the clock.
type Now struct {
	UTC  Instant
	Boot string
	Mono int64          // ms since this boot's start
	Zone *time.Location // of the clinic; nil is UTC
}

// Today is the calendar day at the clinic.
func (n Now) Today() Date { return DateIn(n.UTC, n.Zone) }

// Mark is a moment kept in a record, with what is needed to measure from it.
type Mark struct {
	At   Instant `json:"at"`
	Boot string  `json:"boot,omitempty"`
	Mono int64   `json:"mono,omitempty"`
}

// Elapsed is the time between two marks, in ms: while the boot is the same, the lesser of
// wall and monotonic differences, so that setting a clock forward earns nothing; across a
// restart the wall difference, reported as not exact. Never negative.
func Elapsed(from, to Mark) (ms int64, exact bool) {
	ms = int64(to.At - from.At)
	exact = from.Boot != "" && from.Boot == to.Boot
	if exact {
		ms = min(ms, to.Mono-from.Mono)
	}
	return max(ms, 0), exact
}
