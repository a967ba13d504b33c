package recording

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// The layout follows the published EDF and EDF+ descriptions (edfplus.info/specs/edf.html and
// edfplus.html). The fixed part is 256 bytes of left-aligned ASCII padded with spaces; then 256
// bytes per signal, stored column by column for all signals together: column start = 256 +
// ns × offset.
const (
	edfFixed  = 256
	perSignal = 256
)

// field is one fixed-width field: its first byte and its length.
type field struct{ at, size int }

// Fields of the fixed part; bytes 0 to 7 are the version, which isEDF and isBDF look at.
var (
	fPatient   = field{8, 80}
	fRecording = field{88, 80}
	fDate      = field{168, 8}
	fTime      = field{176, 8}
	fHeadSize  = field{184, 8}
	fReserved  = field{192, 44}
	fRecords   = field{236, 8}
	fDuration  = field{244, 8}
	fSignals   = field{252, 4}
)

// Columns of the signal part; at is the offset that is multiplied by the number of signals.
var (
	cLabel     = field{0, 16}
	cDimension = field{96, 8}
	cPhysMin   = field{104, 8}
	cPhysMax   = field{112, 8}
	cDigMin    = field{120, 8}
	cDigMax    = field{128, 8}
	cSamples   = field{216, 8}
)

// columnAt is where the entry of signal i begins in a header of ns signals.
func columnAt(c field, ns, i int) int { return edfFixed + ns*c.at + i*c.size }

func isEDF(data []byte) bool {
	return len(data) >= 8 && strings.TrimRight(string(data[:8]), " \x00") == "0"
}

func isBDF(data []byte) bool { return bytes.HasPrefix(data, []byte("\xffBIOSEMI")) }

// edfHeader is the header as far as the reader needs it.
type edfHeader struct {
	width    int // bytes per sample: 2 (EDF) or 3 (BDF)
	size     int // bytes of the whole header
	duration float64
	records  int // as stated; may be −1 or nonsense
	known    bool
	perRec   []int // samples per record
	offset   []int // of each signal inside a record, in bytes
	recBytes int
}

func (h *edfHeader) text(data []byte, f field) string {
	return cleanText(data[f.at : f.at+f.size])
}

func (h *edfHeader) column(data []byte, c field, i int) string {
	at := columnAt(c, len(h.perRec), i)
	return cleanText(data[at : at+c.size])
}

// edfHeaderOf reads the header and puts signals, start and remarks into r.
func edfHeaderOf(data []byte, r *Recording) (*edfHeader, error) {
	h := &edfHeader{width: 2}
	if isBDF(data) {
		h.width = 3
	}
	if len(data) < edfFixed {
		return nil, errEndsInHeader
	}
	ns, ok := parseCount(h.text(data, fSignals))
	if !ok || ns < 1 || ns > MaxSignals {
		return nil, fmt.Errorf("the number of signals in the header is out of range (1 to %d); "+
			"the file is damaged: export it again as EDF", MaxSignals)
	}
	h.size = edfFixed + ns*perSignal
	if len(data) < h.size {
		return nil, errEndsInHeader
	}
	if n, ok := parseCount(h.text(data, fHeadSize)); !ok || n != h.size {
		r.remark("The header-size field is wrong; %d bytes were used.", h.size)
	}
	h.perRec, h.offset = make([]int, ns), make([]int, ns)
	r.Format = h.format(data)
	h.counts(data, r)
	h.who(data, r)
	h.start(data, r)
	return h, h.signals(data, r)
}

var errEndsInHeader = errors.New("the file ends inside its header; stop the recorder before " +
	"taking the card or cable off, and export again as EDF")

// format reads the reserved field, which EDF+ and BDF+ begin with their name.
func (h *edfHeader) format(data []byte) Format {
	kind := strings.ToUpper(h.text(data, fReserved))
	continuous := strings.HasPrefix(kind, "EDF+C") || strings.HasPrefix(kind, "BDF+C")
	broken := strings.HasPrefix(kind, "EDF+D") || strings.HasPrefix(kind, "BDF+D")
	i := 0
	if continuous {
		i = 1
	} else if broken {
		i = 2
	}
	if h.width == 3 {
		return [...]Format{BDF, BDFPlusC, BDFPlusD}[i]
	}
	return [...]Format{EDF, EDFPlusC, EDFPlusD}[i]
}

// isPlus tells whether the annotations and the long texts of EDF+ are to be expected.
func isPlus(f Format) bool { return f != EDF && f != BDF }

// counts reads the record count and the record duration; both may be nonsense.
func (h *edfHeader) counts(data []byte, r *Recording) {
	h.records, h.known = parseCount(h.text(data, fRecords))
	if h.known {
		n := h.records
		r.RecordsHeader = &n
	}
	d, comma, ok := parseDecimal(h.text(data, fDuration))
	if !ok || d < 0 {
		d = 0
	}
	if comma && ok {
		r.remark("The record duration is written with a decimal comma; read as a dot.")
	}
	h.duration = d
	if d == 0 {
		r.remark("The record duration is 0: there is no sampling rate, so the signal is " +
			"not judged.")
	}
}

// who looks for a person in the patient and recording fields. The texts are not kept.
func (h *edfHeader) who(data []byte, r *Recording) {
	patient := h.text(data, fPatient)
	parts := nameParts(patient)
	if sub := strings.Fields(patient); isPlus(r.Format) && len(sub) >= 4 {
		parts = nameParts(strings.Join(sub[3:], " "))
		if strings.Trim(sub[2], "Xx") != "" {
			r.remark("The header carries a birth date; it was not kept.")
		}
	}
	sub := strings.Fields(h.text(data, fRecording))
	if isPlus(r.Format) && len(sub) >= 4 {
		// three letters or fewer are initials, which every entry of a log carries too
		for _, p := range nameParts(sub[3]) {
			if len([]rune(p)) > 3 {
				parts = append(parts, p)
			}
		}
	}
	r.name(parts)
}

// name notes that the file names a person; the parts stay only until Read has blanked them.
func (r *Recording) name(parts []string) {
	if len(parts) == 0 {
		return
	}
	r.NameInside = true
	r.remark("The file carries a person's name; it was not kept.")
	for _, p := range parts {
		if len([]rune(p)) >= 3 && len(r.names) < 64 {
			r.names = append(r.names, p)
		}
	}
	slices.SortFunc(r.names, func(a, b string) int { return len(b) - len(a) })
}

var months = map[string]time.Month{"JAN": 1, "FEB": 2, "MAR": 3, "APR": 4, "MAY": 5, "JUN": 6,
	"JUL": 7, "AUG": 8, "SEP": 9, "OCT": 10, "NOV": 11, "DEC": 12}

// start works out date and time: the short date is dd.mm.yy (85 to 99 = 1985 to 1999, 00 to 84
// = 2000 to 2084), the long one of EDF+ stands in the recording field.
func (h *edfHeader) start(data []byte, r *Recording) {
	d, dClean := threeNumbers(h.text(data, fDate), ".")
	c, cClean := threeNumbers(h.text(data, fTime), ".")
	short, okShort := date(shortYear(d[2]), d[1], d[0])
	long, okLong := longDate(h.text(data, fRecording))
	day := short
	if okLong {
		day = long
	}
	if !okShort && !okLong {
		r.remark("The start date cannot be read; the recording has no date.")
		return
	}
	clock := time.Duration(c[0])*time.Hour + time.Duration(c[1])*time.Minute +
		time.Duration(c[2])*time.Second
	okClock := c[0] >= 0 && c[0] < 24 && c[1] >= 0 && c[1] < 60 && c[2] >= 0 && c[2] < 60
	if !okClock {
		clock = 0
		r.remark("The start time cannot be read; midnight was taken.")
	}
	r.Start, r.StartKnown = day.Add(clock), true
	if !dClean || !cClean || okShort && okLong && !short.Equal(long) || !okShort {
		r.remark("The start was repaired: read as %s.", r.Start.Format("2006-01-02 15:04:05"))
	}
}

// shortYear turns two digits into a year; the boundary is the one of the EDF+ text.
func shortYear(yy int) int {
	if yy < 0 || yy > 99 {
		return 0
	}
	if yy >= 85 {
		return 1900 + yy
	}
	return 2000 + yy
}

// threeNumbers reads "24.11.26" and, with clean = false, other separators; unreadable parts
// are −1.
func threeNumbers(s, sep string) (n [3]int, clean bool) {
	n = [3]int{-1, -1, -1}
	parts := strings.FieldsFunc(s, func(r rune) bool { return r < '0' || r > '9' })
	if len(parts) != 3 {
		return n, false
	}
	for i, p := range parts {
		if len(p) <= 4 {
			n[i], _ = parseCount(p)
		}
	}
	return n, strings.Count(s, sep) == 2
}

// longDate reads "Startdate dd-MMM-yyyy", month in any case.
func longDate(s string) (time.Time, bool) {
	w := strings.Fields(s)
	if len(w) < 2 || !strings.EqualFold(w[0], "Startdate") {
		return time.Time{}, false
	}
	p := strings.Split(w[1], "-")
	if len(p) != 3 {
		return time.Time{}, false
	}
	d, ok1 := parseCount(p[0])
	y, ok2 := parseCount(p[2])
	if !ok1 || !ok2 {
		return time.Time{}, false
	}
	return date(y, int(months[strings.ToUpper(p[1])]), d)
}

// date is a calendar day in 1985..2184; anything else is no date.
func date(y, m, d int) (time.Time, bool) {
	if y < 1985 || y > 2184 || m < 1 || m > 12 || d < 1 || d > 31 {
		return time.Time{}, false
	}
	t := time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC)
	return t, t.Day() == d
}
