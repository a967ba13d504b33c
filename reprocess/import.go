package reprocess

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"maps"
	"strconv"
	"strings"
)

// MostImportRows is how many kits one file may bring.
const MostImportRows = 2000

// RowFault is one thing in a file that cannot be taken over: the line as a text editor counts
// it, the column's name (empty: the whole line), what is wrong and what to do.
type RowFault struct {
	Row    int
	Column string
	Text   string
	Fix    string
}

// ImportColumn is one column of the file: its name, what stands in it with its unit, and an
// invented example.
type ImportColumn struct{ Name, Unit, Example string }

// importColumns is the file's layout. Names are stable; columns are only ever added.
var importColumns = []ImportColumn{
	{"number", "(pool number, up to 5 signs)", "17"},
	{"place", "(where it lies)", "shelf A"},
	{"recorder_model", "(name as described here)", "Recorder A"},
	{"recorder_serial", "(as on the plate)", "R40017"},
	{"recorder_udi", "(as scanned, may be empty)", ""},
	{"recorder_cycles", "(earlier cycles; unknown or >=40)", ">=40"},
	{"phone_model", "(empty: no phone)", "Phone P"},
	{"phone_serial", "(as on the plate)", "F70017"},
	{"phone_udi", "(as scanned, may be empty)", ""},
	{"phone_cycles", "(earlier cycles; unknown or >=40)", "unknown"},
	{"state", "(here, out or ready)", "out"},
	{"out_since", "(day, 2026-11-24)", "2026-11-10"},
	{"due", "(day, 2026-11-24)", "2026-12-01"},
	{"days", "(planned wear, days)", "14"},
	{"wearer", "(reference, no name)", "W-1042"},
	{"ready_until", "(last day of the paper release, 2026-11-24)", ""},
}

// ImportColumns lists the columns in the order of the template.
func ImportColumns() []ImportColumn { return importColumns }

// ImportTemplate is an empty file to fill in: RFC 4180 with a header and a line of units, which
// is skipped when it is read back.
func ImportTemplate() []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	var names, units []string
	for _, c := range importColumns {
		names, units = append(names, c.Name), append(units, c.Unit)
	}
	_ = w.Write(names) // a buffer takes everything
	_ = w.Write(units)
	w.Flush()
	return b.Bytes()
}

// ParseKitsCSV reads kits as they stand on paper and tries each against a copy of the world, in
// order, so that doubles inside the file are found too. Either every row is good, or every
// row's faults come back and nothing else. The world has to hold all kits, pieces and models.
// Opening.Wearer holds the reference as typed: the caller puts a random token in its place.
// Delimiters are comma, semicolon or tab, whichever the header has; a byte order mark is
// skipped.
func ParseKitsCSV(r io.Reader, w *World, now Now) ([]RegisterKit, []RowFault) {
	rows, faults := readCSV(r)
	if len(faults) > 0 {
		return nil, faults
	}
	x := &importer{w: w.forImport(), now: now, numbers: map[string]int{}, serials: map[string]int{}}
	if faults := x.header(rows[0]); len(faults) > 0 {
		return nil, faults
	}
	for _, row := range rows[1:] {
		x.take(row)
	}
	switch {
	case len(x.faults) > 0:
		return nil, x.faults
	case len(x.kits) == 0:
		return nil, []RowFault{{Row: 1, Text: "The file has no kit.",
			Fix: "Put one kit in each line below the units."}}
	}
	return x.kits, nil
}

// forImport is a copy that new kits can be tried in: whatever an import adds to is copied.
func (w *World) forImport() *World {
	c := *w
	c.Kits, c.Pieces = maps.Clone(w.Kits), maps.Clone(w.Pieces)
	c.Loans, c.Labels = maps.Clone(w.Loans), maps.Clone(w.Labels)
	c.touched = map[Ref]bool{}
	return &c
}

// importer tries row after row.
type importer struct {
	w       *World
	now     Now
	columns []string // by position
	kits    []RegisterKit
	faults  []RowFault
	numbers map[string]int // pool number → line
	serials map[string]int // model and serial → line
}

// header checks the names of the columns: each known and there once.
func (x *importer) header(row csvRow) []RowFault {
	var faults []RowFault
	seen := map[string]bool{}
	for _, cell := range row.cells {
		name := strings.ToLower(strings.TrimSpace(cell))
		switch {
		case !knownColumn(name):
			faults = append(faults, RowFault{row.line, name, fmt.Sprintf("There is no column %q.",
				name), "Use the names of the template."})
		case seen[name]:
			faults = append(faults, RowFault{row.line, name, "The column stands there twice.",
				"Take one of them out."})
		}
		seen[name] = true
		x.columns = append(x.columns, name)
	}
	for _, must := range []string{"number", "recorder_model", "recorder_serial"} {
		if !seen[must] {
			faults = append(faults, RowFault{row.line, must, "The column is missing.",
				"Use the names of the template."})
		}
	}
	return faults
}

func knownColumn(name string) bool {
	for _, c := range importColumns {
		if c.Name == name {
			return true
		}
	}
	return false
}

// take reads one row and tries it.
func (x *importer) take(row csvRow) {
	if units(row.cells) || empty(row.cells) {
		return
	}
	if len(row.cells) > len(x.columns) {
		x.fault(row.line, "", "Correct the line; a comma inside a cell needs quotation marks.",
			"The line has %d cells, the header %d.", len(row.cells), len(x.columns))
		return
	}
	cells := map[string]string{}
	for i, cell := range row.cells {
		cells[x.columns[i]] = strings.TrimSpace(cell)
	}
	before := len(x.faults)
	cmd := x.command(row.line, cells)
	x.doubles(row.line, cmd)
	if len(x.faults) == before {
		x.try(row.line, cmd)
	}
}

func (x *importer) fault(line int, column, fix, format string, args ...any) {
	x.faults = append(x.faults, RowFault{line, column, fmt.Sprintf(format, args...), fix})
}

// command reads the cells strictly; faults are noted.
func (x *importer) command(line int, cells map[string]string) RegisterKit {
	cmd := RegisterKit{Number: cells["number"], Place: cells["place"],
		Recorder: x.newPiece(line, "recorder", cells)}
	if cells["phone_model"]+cells["phone_serial"] != "" {
		phone := x.newPiece(line, "phone", cells)
		cmd.Phone = &phone
	}
	o := &Opening{Out: x.day(line, "out_since", cells), Due: x.day(line, "due", cells),
		Ready: x.day(line, "ready_until", cells), Wearer: cells["wearer"],
		Days: x.whole(line, "days", cells["days"])}
	x.state(line, cells["state"], o)
	cmd.Opening = o
	return cmd
}

// state holds the days to what the row says of itself.
func (x *importer) state(line int, state string, o *Opening) {
	switch strings.ToLower(state) {
	case "", "here":
		if *o != (Opening{}) {
			x.fault(line, "state", "Write out or ready, or empty the days and the wearer.",
				"The row has days or a wearer, but is neither out nor ready.")
		}
	case "out":
		if o.Out == "" {
			x.fault(line, "out_since", "Write the day it went out.", "The day it went out is empty.")
		}
	case "ready":
		if o.Ready == "" {
			x.fault(line, "ready_until", "Write the last day the paper release holds.",
				"The last day of the paper release is empty.")
		}
	default:
		x.fault(line, "state", "Write here, out or ready.", "%q is no state.", state)
	}
}

func (x *importer) newPiece(line int, kind string, cells map[string]string) NewPiece {
	n := NewPiece{Serial: cells[kind+"_serial"], UDI: cells[kind+"_udi"]}
	for _, m := range x.w.Models {
		if strings.EqualFold(m.Name, cells[kind+"_model"]) && !m.Retired {
			n.Model = m.ID
		}
	}
	if n.Model == "" {
		x.fault(line, kind+"_model", "Describe the model first, or write its name as it is described.",
			"There is no model %q here.", cells[kind+"_model"])
	}
	cycles := cells[kind+"_cycles"]
	if strings.EqualFold(cycles, "unknown") {
		n.Least = true
		return n
	}
	for _, sign := range []string{">=", "≥"} {
		if rest, ok := strings.CutPrefix(cycles, sign); ok {
			n.Least, cycles = true, strings.TrimSpace(rest)
		}
	}
	n.Cycles = x.whole(line, kind+"_cycles", cycles)
	return n
}

func (x *importer) whole(line int, column, text string) int {
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil || strings.Trim(text, "0123456789") != "" {
		x.fault(line, column, "Write figures only.", "%q is no whole number.", text)
	}
	return n
}

func (x *importer) day(line int, column string, cells map[string]string) Date {
	d, err := ParseDate(cells[column])
	if err != nil {
		x.fault(line, column, "Write it like 2026-11-24.", "%s.", title(err.Error()))
	}
	return d
}

// doubles finds what the file says twice, by line.
func (x *importer) doubles(line int, cmd RegisterKit) {
	if first, ok := x.numbers[cmd.Number]; ok && cmd.Number != "" {
		x.fault(line, "number", "Give each kit its own number.", "Line %d has the number %s too.",
			first, cmd.Number)
	} else {
		x.numbers[cmd.Number] = line
	}
	for i, p := range cmd.pieces() {
		key := p.Model + "\x00" + p.Serial
		if first, ok := x.serials[key]; ok && p.Serial != "" {
			x.fault(line, string(Kinds()[i])+"_serial", "Check the plates.",
				"Line %d has the serial %s too.", first, p.Serial)
		} else {
			x.serials[key] = line
		}
	}
}

// importer's supervisor for the trial; who really imports is asked when it is committed.
var trialActor = Actor{Person: &Person{ID: "trial", Name: "trial", Roles: Roles()}}

// try asks the rule in three portions, so that a fault can be laid to its column.
func (x *importer) try(line int, cmd RegisterKit) {
	portions := []struct {
		kind string
		cmd  RegisterKit
	}{{"recorder", RegisterKit{Number: cmd.Number, Place: cmd.Place, Recorder: cmd.Recorder}},
		{"phone", RegisterKit{Number: cmd.Number, Place: cmd.Place, Recorder: cmd.Recorder,
			Phone: cmd.Phone}},
		{"opening", cmd}}
	seq := int64(len(x.kits) + 1)
	for _, portion := range portions {
		events, p := Decide(x.w, portion.cmd, trialActor, x.now, seq<<32)
		if p != nil {
			x.fault(line, columnOf(portion.kind, p.Rule, &cmd), p.Fix, "%s", p.Text)
			return
		}
		if portion.kind == "opening" {
			e := &Entry{Seq: seq << 32, At: x.now.UTC, By: trialActor.Person.ID, Result: ResultDone}
			for _, event := range events {
				e.Events = append(e.Events, Box{event})
			}
			Apply(x.w, e)
		}
	}
	x.kits = append(x.kits, cmd)
}

// columnOf lays a refused rule to a column.
func columnOf(kind, rule string, cmd *RegisterKit) string {
	switch rule {
	case "number", "number_taken":
		return "number"
	case "text":
		return "place"
	case "date":
		if cmd.Opening.Out != "" {
			return "out_since"
		}
		return "ready_until"
	case "opening":
		return "state"
	case "unknown", "model":
		return kind + "_model"
	case "serial", "serial_taken":
		return kind + "_serial"
	case "udi", "cycles":
		return kind + "_" + rule
	}
	return ""
}
