// Package export turns entries of the audit trail into files that others read: tables as CSV,
// the entries themselves as NDJSON, one FHIR R4 Bundle, and the evidence file that an auditor
// checks offline. Everything streams: an entry is read, used and forgotten; only the table of
// cycles and the Bundle keep some hundred bytes for each cycle, because a row is written as its
// cycle stands at the end.
//
// The two tables are part of old evidence files, which are checked by computing them again, so
// the same entries must give the same bytes for ever: columns are never changed, reordered or
// removed, and a new one is a new version of the table.
package export

import (
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"slices"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// Entries is a run of canonical entry bytes in ascending order of seq; a body is used only
// until the next is asked for.
type Entries = iter.Seq2[[]byte, error]

// The formats.
const (
	FormatCSV      = "csv"
	FormatNDJSON   = "ndjson"
	FormatFHIR     = "fhir"
	FormatEvidence = "evidence"
)

// Formats lists the formats.
func Formats() []string {
	return []string{FormatCSV, FormatNDJSON, FormatFHIR, FormatEvidence}
}

// Choice says which entries (or cycles, by when they began) are wanted; the zero Choice is all
// of them. The window is half open, From <= at < To.
type Choice struct {
	From, To reprocess.Instant // 0: open on that side
	Kit      string            // id of a kit; empty: all
	Only     *Numbers          // of the table of entries and NDJSON: no others; nil: all
}

// Numbers are numbers of entries in ascending order.
type Numbers []int64

// has tells whether a number is among them; nil holds every number.
func (n *Numbers) has(seq int64) bool {
	if n == nil {
		return true
	}
	_, found := slices.BinarySearch(*n, seq)
	return found
}

// All tells whether nothing is left out.
func (c Choice) All() bool { return c == Choice{} }

// holds tells whether something of a kit at a moment is chosen.
func (c Choice) holds(at reprocess.Instant, kit string) bool {
	return at >= c.From && (c.To == 0 || at < c.To) && (c.Kit == "" || c.Kit == kit)
}

// Words says the choice in one line, for people: "everything", or kit and period.
func (c Choice) Words() string {
	if c.All() {
		return ledger.ScopeEverything
	}
	words := "all kits"
	if c.Kit != "" {
		words = "kit " + c.Kit
	}
	if c.From != 0 {
		words += " from " + c.From.String()
	}
	if c.To != 0 {
		words += " before " + c.To.String()
	}
	return words
}

// readEntry reads entry bytes; an event of a newer program is an error, never skipped.
func readEntry(body []byte) (*reprocess.Entry, error) {
	e := new(reprocess.Entry)
	if err := json.Unmarshal(body, e); err != nil {
		return nil, fmt.Errorf("an entry cannot be read: %w", err)
	}
	return e, nil
}

// WriteNDJSON writes the chosen entries as they were hashed, each with one line end. It gives
// the number of lines.
func WriteNDJSON(w io.Writer, entries Entries, c Choice) (lines int64, err error) {
	for body, err := range chosen(entries, c) {
		if err != nil {
			return lines, err
		}
		if _, err := w.Write(body); err != nil {
			return lines, err
		}
		if _, err := w.Write([]byte{'\n'}); err != nil {
			return lines, err
		}
		lines++
	}
	return lines, nil
}

// chosen keeps the entries of a choice.
func chosen(entries Entries, c Choice) Entries {
	if c.All() {
		return entries
	}
	return func(yield func([]byte, error) bool) {
		for body, err := range entries {
			if err == nil {
				var keep bool
				if keep, err = c.keeps(body); err == nil && !keep {
					continue
				}
			}
			if !yield(body, err) || err != nil {
				return
			}
		}
	}
}

// keeps reads no more of an entry than it needs.
func (c Choice) keeps(body []byte) (bool, error) {
	var e struct {
		Seq int64             `json:"seq"`
		At  reprocess.Instant `json:"at"`
		Kit string            `json:"kit"`
	}
	if err := json.Unmarshal(body, &e); err != nil {
		return false, fmt.Errorf("an entry cannot be read: %w", err)
	}
	return c.holds(e.At, e.Kit) && c.Only.has(e.Seq), nil
}
