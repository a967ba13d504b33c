// Package recording reads the short test recording that a recorder makes on the bench before
// it is released, measures it, judges the measures against a profile and draws the strip.
//
// The purpose is a bench check of equipment: the numbers say whether a recorder picks up,
// stores and hands over a signal. They say nothing about the heart of whoever wore it.
//
// Read understands EDF, EDF+C, EDF+D, BDF and BDF+ (edf.go), CSV (csv.go) and WFDB records in
// formats 16 and 212 (wfdb.go). Memory is sized by the length of the file, never by what its
// header promises. Whatever had to be repaired is kept as a remark; whatever cannot be read is
// an error whose text is the whole sentence: what is wrong, and what to export instead.
//
// Units: seconds, hertz, millivolts and microvolts (in the names), samples counted from 0.
// The package does no I/O and reads no clock.
package recording

import (
	"fmt"
	"slices"
	"time"
)

// Limits of what is read. They bound the work on a hostile file; none is a clinical limit.
const (
	MaxBytes       = 64 << 20 // length of one file
	MaxSignals     = 64       // signals of a file, columns of a CSV
	MaxRecordBytes = 1 << 20  // one EDF data record
	MaxAnnotations = 10_000   // event marks kept
	MaxRows        = 10_000_000
	MaxLineBytes   = 64 << 10
	maxBreaks      = 10_000 // places where record times jump
	maxRemarks     = 200
	maxRate        = 1e6 // Hz; anything above is not a sampling rate
)

// Format names a layout as it was found in the file.
type Format string

// The formats that Read understands.
const (
	EDF      Format = "EDF"
	EDFPlusC Format = "EDF+C"
	EDFPlusD Format = "EDF+D"
	BDF      Format = "BDF"
	BDFPlusC Format = "BDF+C"
	BDFPlusD Format = "BDF+D"
	CSV      Format = "CSV"
	WFDB     Format = "WFDB"
)

// Millivolts and Microvolts carry their unit in the type.
type (
	Millivolts float64
	Microvolts float64
)

// Options says what a file cannot say of itself.
type Options struct {
	// CSVUnit is the unit of CSV values: "mV", "uV", "V" or "counts"; empty asks.
	CSVUnit string
	// CSVRate is the sampling rate of a CSV in Hz; 0 takes it from the time column.
	CSVRate float64
	// Sibling gives the bytes of a file that lies beside the one read, by its plain base
	// name; only WFDB needs it. It must not return more than MaxBytes.
	Sibling func(base string) ([]byte, error)
}

// Recording is a file that has been understood.
type Recording struct {
	Format  Format
	Signals []Signal
	Events  []Event
	Gaps    []Gap

	// RecordsHeader is the record count as the header states it, RecordsFound the count of
	// complete records in the file; both are nil for formats without records.
	RecordsHeader, RecordsFound *int

	// Start is the local start time without zone; StartKnown tells whether there is one.
	Start      time.Time
	StartKnown bool

	// CutShort: the last part of the file is missing; PromisedSeconds is the length that
	// the header promised, 0 where it promised nothing believable.
	CutShort        bool
	PromisedSeconds float64

	// Mismatched: a signal is not the one its WFDB header states, by its first value or sum.
	Mismatched bool

	// NameInside: a header names a person. The name itself is not kept.
	NameInside bool

	// Remarks are the repairs, one sentence each, in the order of the file.
	Remarks []string

	names []string // parts of the person's name, only to blank them out of other texts
}

// Event is one mark of the event button or another annotation.
type Event struct {
	// At is seconds from the start of the file, gaps included.
	At float64 `json:"at_seconds"`
	// Sample is the time among the samples kept (gaps left out), nil outside them.
	Sample *float64 `json:"sample_seconds"`
	// Duration is in seconds, nil where none is given.
	Duration *float64 `json:"duration_seconds"`
	Text     string   `json:"text"`
}

// Gap is a hole in the recording.
type Gap struct {
	At      float64 // seconds from the start of the file, holes before it included
	Sample  float64 // the same place as time among the samples kept
	Seconds float64 // length of the hole
}

// remark keeps one repair; a sentence is kept once.
func (r *Recording) remark(format string, args ...any) {
	s := fmt.Sprintf(format, args...)
	if len(r.Remarks) < maxRemarks && !slices.Contains(r.Remarks, s) {
		r.Remarks = append(r.Remarks, s)
	}
}

// GapSeconds adds up all holes.
func (r *Recording) GapSeconds() float64 {
	sum := 0.0
	for _, g := range r.Gaps {
		sum += g.Seconds
	}
	return sum
}

// Lead finds the signal to judge. want counts from 1; 0 takes the first signal labelled as
// an ECG, else the first that is not an annotation.
func (r *Recording) Lead(want int) (int, error) {
	if want < 0 || want > len(r.Signals) {
		return 0, fmt.Errorf("there is no signal %d: the file has %d; give --lead 1 to %d",
			want, len(r.Signals), len(r.Signals))
	}
	i := want - 1
	if want == 0 {
		i = r.firstLead()
	}
	if i < 0 {
		return 0, fmt.Errorf("the file holds event marks but no signal; " +
			"export the recording again with its ECG lead")
	}
	s := &r.Signals[i]
	if s.Annotation {
		return 0, fmt.Errorf("signal %d holds the event marks, not an ECG; "+
			"choose another with --lead", i+1)
	}
	if s.Unreadable != "" {
		return 0, fmt.Errorf("signal %d cannot be read: %s; choose another with --lead, "+
			"or export again as EDF", i+1, s.Unreadable)
	}
	return i, nil
}

func (r *Recording) firstLead() int {
	i := slices.IndexFunc(r.Signals, func(s Signal) bool { return !s.Annotation && s.isECG() })
	if i < 0 {
		i = slices.IndexFunc(r.Signals, func(s Signal) bool { return !s.Annotation })
	}
	return i
}

// hideNames blanks a name that the header gave out of every text that may be shown.
func (r *Recording) hideNames() {
	if len(r.names) == 0 {
		return
	}
	for i := range r.Signals {
		r.Signals[i].Label = hide(r.Signals[i].Label, r.names)
	}
	for i := range r.Events {
		r.Events[i].Text = hide(r.Events[i].Text, r.names)
	}
	r.names = nil
}
