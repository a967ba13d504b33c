package reprocess

import "slices"

// exportKinds are the ways a part of the record leaves: files, the printed list, and a sample
// that somebody draws to read, whose seed stands in the scope.
var exportKinds = []string{"csv", "ndjson", "fhir", "evidence", "print", "sample",
	"report", "device"}

// RecordExport is wanting to take a copy of a part of the record away. It stands before the
// first byte leaves; the entry says what was chosen, so that an auditor sees who took what.
type RecordExport struct {
	Format string `json:"format"`          // csv, ndjson, fhir, evidence, print, sample, report, device
	Table  string `json:"table,omitempty"` // of csv: entries or cycles
	Scope  string `json:"scope"`           // what was chosen, in words
	Size   int64  `json:"size"`            // entries there were to choose from
}

// Act is "export".
func (RecordExport) Act() Act { return ActExport }

// Needs nothing but who asks.
func (RecordExport) Needs() Needs { return Needs{} }

func (r RecordExport) decide(c *Case) *Problem {
	if !slices.Contains(exportKinds, r.Format) {
		return invalid("format", "Choose one of the files on the page.",
			"%q is no form in which the record is given out.", r.Format)
	}
	scope, p := need("What is chosen", r.Scope, 500)
	if p != nil {
		return p
	}
	table, p := clean("The table", r.Table, 20)
	if p != nil {
		return p
	}
	if r.Size < 1 || r.Size >= c.Seq {
		return invalid("size", "Open the page again.",
			"There are %d entries to give out, not %d.", c.Seq-1, r.Size)
	}
	c.emit(Exported{Format: r.Format, Table: table, Scope: scope, Size: r.Size})
	return nil
}
