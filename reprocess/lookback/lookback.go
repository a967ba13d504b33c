// Package lookback answers the hard question after a failure: which cycles were touched by
// it, who wore what was released by them, who wore it before, and what is to be stopped or
// called back now. It only computes lists; people decide. The package knows no clock, no
// files and no network.
package lookback

import (
	"fmt"
	"slices"
	"time"
)

// Use is one container that served an attempt at disinfection.
type Use struct{ Product, Lot, Container string }

// Attempt is one disinfection step. A step that went on from a second container has two uses.
type Attempt struct {
	At         time.Time // start
	Uses       []Use
	Person     string
	Instrument string
	OK         bool // conforming; false when it was seen dry or broken off
}

// Cycle is one pass of a piece through reprocessing.
type Cycle struct {
	ID, Device, Model, Procedure string
	Attempts                     []Attempt // any order; sorted by start before use
	People, Instruments          []string  // of the other steps, the releaser included
	Released                     time.Time // zero: never
}

// Loan is one issue and return of a piece.
type Loan struct {
	Episode, Device string
	Wearer          string    // reference; empty: unknown
	Issued          time.Time // zero: unknown
	Returned        time.Time // zero: still out
}

// Query joins all its filled keys by "and"; the window is half open, From <= start < To.
type Query struct {
	Product, Lot, Container string
	Piece, Model, Procedure string
	Person, Instrument      string
	From, To                time.Time // zero: open on that side
	AsOf                    time.Time // later entries are ignored; zero: none are
}

// Check refuses a query without any key and a window that holds nothing.
func (q Query) Check() error {
	if q.From.IsZero() && q.To.IsZero() && q.attempt() == (Query{}) && q.whole() == (Query{}) {
		return fmt.Errorf("a look-back needs at least one key, such as a lot, a piece or a time")
	}
	if !q.From.IsZero() && !q.To.IsZero() && !q.From.Before(q.To) {
		return fmt.Errorf("the window holds nothing: its end must lie after its start")
	}
	return nil
}

// attempt and whole are the keys that one attempt and a whole cycle answer.
func (q Query) attempt() Query {
	return Query{Product: q.Product, Lot: q.Lot, Container: q.Container, Person: q.Person,
		Instrument: q.Instrument}
}

func (q Query) whole() Query {
	return Query{Piece: q.Piece, Model: q.Model, Procedure: q.Procedure}
}

// Affected tells whether the failure reached a cycle. Attempts before the last conforming one
// are cleared by it; of what remains, that one included, any that matches counts, so that a
// later attempt which was itself no good clears nothing.
func (q Query) Affected(c Cycle) bool {
	if !fits(q.Piece, c.Device) || !fits(q.Model, c.Model) || !fits(q.Procedure, c.Procedure) {
		return false
	}
	for i := len(c.Attempts) - 1; i >= 0; i-- {
		if q.matches(c, c.Attempts[i]) {
			return true
		}
		if c.Attempts[i].OK {
			return false
		}
	}
	return false
}

func (q Query) matches(c Cycle, a Attempt) bool {
	inside := !a.At.Before(q.From) && (q.To.IsZero() || a.At.Before(q.To))
	person := fits(q.Person, a.Person) || slices.Contains(c.People, q.Person)
	tool := fits(q.Instrument, a.Instrument) || slices.Contains(c.Instruments, q.Instrument)
	return inside && person && tool && q.used(a.Uses)
}

// used wants all three keys in one and the same use.
func (q Query) used(uses []Use) bool {
	if q.Product == "" && q.Lot == "" && q.Container == "" {
		return true
	}
	return slices.ContainsFunc(uses, func(u Use) bool {
		return fits(q.Product, u.Product) && fits(q.Lot, u.Lot) && fits(q.Container, u.Container)
	})
}

func fits(key, value string) bool { return key == "" || key == value }

// Result is the answer; every list is in order of text, each name once, none is nil.
type Result struct {
	Cycles     []string            // affected
	Caught     []string            // devices whose affected cycle was never released
	Exposed    []string            // episodes whose release came from an affected cycle
	Unreleased []string            // episodes issued with no release before them: an alarm
	Sources    map[string][]string // of each exposed episode, in order of time
	Unbounded  []string            // exposed, with no conforming cycle before: sources are all earlier
	Recall     []string            // devices with a wearer, last release affected
	Embargo    []string            // devices on the shelf, last release affected
	Restart    []string            // devices whose running cycle is affected
	Unresolved []string            // episodes and cycles that the records cannot place
	Batches    []string            // lots prepared here from what was asked for
	Wearers    int                 // distinct known references among the exposed
}
