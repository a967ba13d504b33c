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

var numberAndUnit = regexp.MustCompile(`([0-9]) (µV|mV|s|%|min|/min|times)\b?`)

// together keeps numbers with their units.
func together(text string) string { return numberAndUnit.ReplaceAllString(text, "$1\u00a0$2") }
