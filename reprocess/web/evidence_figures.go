package web

import (
	"regexp"
	"strings"

	"handback/reprocess"
)

// limitRow is one figure of a test against its limit, as it is read on a narrow screen: a number
// and its unit stay on one line, and the lower limit stands under the one that fails.
type limitRow struct{ What, Found, Limit, Remarked, Code string }

func limitRows(all []reprocess.Measured) []limitRow {
	var rows []limitRow
	for _, m := range all {
		limit, remarked, _ := strings.Cut(m.Limit, ", ")
		r := limitRow{What: capital(m.Words), Found: "not judged", Limit: together(limit),
			Remarked: together(remarked), Code: m.Code}
		if m.Value != "" {
			r.Found = together(strings.TrimSpace(m.Value + " " + m.Unit))
		}
		rows = append(rows, r)
	}
	return rows
}

var numberAndUnit = regexp.MustCompile(`([0-9]) (µV|mV|s|%|min|/min)\b?`)

// together keeps numbers with their units.
func together(text string) string { return numberAndUnit.ReplaceAllString(text, "$1\u00a0$2") }

// testFacts are what the evidence of a function test says, read again later: what was judged and
// by which limits, the figures, and what had to be repaired. A test that nobody uploaded a file
// for says which kind of evidence there is.
type testFacts struct {
	Of      string
	Figures []limitRow
	Remarks []string
}

// testFactsOf are those of the test that an entry recorded; nil for every other entry.
func testFactsOf(e *reprocess.Entry) *testFacts {
	for _, b := range e.Events {
		ev, ok := b.Event.(reprocess.StepRecorded)
		if !ok || ev.Record.Test == nil {
			continue
		}
		t := ev.Record.Test
		f := &testFacts{Of: capital(evidenceWords[t.Kind]) + ".", Figures: limitRows(t.Measures)}
		if t.Kind == reprocess.TestFile {
			f.Of += " " + judgedWords(t) + " SHA-256 of the file: " + t.SHA256 + "."
		}
		if ref := ev.Record.Answered("reference"); ref != "" {
			f.Of += " Reference: " + ref + "."
		}
		for _, r := range t.Remarks {
			f.Remarks = append(f.Remarks, sentence(r))
		}
		return f
	}
	return nil
}

// judgedWords say of a file what of it was judged, as what, and by which limits.
func judgedWords(t *reprocess.Test) string {
	words := "Judged as " + map[string]string{"bench": "bench source",
		"person": "worn by a person"}[t.Source] + ", limits " + t.Version + "."
	if t.Format != "" {
		words = t.Format + ", lead " + t.Lead + ". " + words
	}
	return words
}
