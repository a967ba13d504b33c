package recording

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// The header of a WFDB record (wfdb.io/spec/header-files.html, signal-files.html): one record
// line `name signals rate samples time date`, then one line per signal
// `file format gain(baseline)/unit resolution zero first checksum block description`; lines
// that begin with # are comments. Absent values have defaults that bite, so each one used is
// remarked: rate 250 Hz, gain 200 per mV, baseline = zero of the converter.
const (
	wfdbRate = 250
	wfdbGain = 200
)

// wfdbLine is one signal line.
type wfdbLine struct {
	file, format      string
	skip              int // bytes before the first sample
	gain, baseline    float64
	gainGiven         bool
	unit, label       string
	first, sum        int
	hasFirst, hasSum  bool
	perFrame, skew    int
	zero              int
	baselineGiven     bool
	problem           string
	position, inFrame int // place among the signals of its file, and how many those are
}

// wfdbHeader is the whole header.
type wfdbHeader struct {
	rate    float64
	samples int // 0 = take from the file
	lines   []wfdbLine
}

// parseWFDBHeader reads the text of a .hea file. Lines are counted before anything is sized.
func parseWFDBHeader(data []byte, r *Recording) (*wfdbHeader, error) {
	if len(data) > 1<<20 {
		return nil, errors.New("the .hea file is far too long for a header; export as EDF")
	}
	var lines []string
	for _, l := range strings.Split(string(data), "\n") {
		l = cleanText([]byte(l))
		if strings.HasPrefix(l, "#") {
			r.name(namedPerson(l))
		} else if l != "" {
			lines = append(lines, l)
		}
	}
	if len(lines) == 0 {
		return nil, errors.New("the .hea file is empty; export the recording again as EDF")
	}
	h := &wfdbHeader{}
	ns, err := h.recordLine(lines[0], r)
	if err != nil {
		return nil, err
	}
	if ns > len(lines)-1 {
		return nil, fmt.Errorf("the header promises %d signals but describes %d; "+
			"export the recording again", ns, len(lines)-1)
	}
	for i, l := range lines[1 : 1+ns] {
		w, err := parseSignalLine(l, i)
		if err != nil {
			return nil, err
		}
		h.lines = append(h.lines, w)
	}
	return h, nil
}

// recordLine reads the first line and answers the number of signals.
func (h *wfdbHeader) recordLine(line string, r *Recording) (int, error) {
	f := strings.Fields(line)
	if len(f) < 2 {
		return 0, errors.New("the first line of the .hea file is no WFDB record line; " +
			"export the recording again, or as EDF")
	}
	if strings.Contains(f[0], "/") {
		return 0, errors.New("this record is split into segments, which are not read here; " +
			"export it as one piece, or as EDF")
	}
	ns, ok := parseCount(f[1])
	if !ok || ns < 1 || ns > MaxSignals {
		return 0, fmt.Errorf("the number of signals in the header is out of range (1 to %d); "+
			"export the recording again", MaxSignals)
	}
	h.rate = wfdbRate
	if len(f) > 2 {
		rate, _, _ := strings.Cut(f[2], "/")
		rate, _, _ = strings.Cut(rate, "(")
		v, ok := parseNumber(rate)
		if !ok || v <= 0 || v > maxRate {
			return 0, errors.New("the sampling rate in the .hea file cannot be read; " +
				"export the recording again, or as EDF")
		}
		h.rate = v
	} else {
		r.remark("The header gives no sampling rate; the format's default of %d Hz was taken.",
			wfdbRate)
	}
	if len(f) > 3 {
		if h.samples, ok = parseCount(f[3]); !ok || h.samples < 0 {
			return 0, errors.New("the number of samples in the .hea file cannot be read; " +
				"export the recording again, or as EDF")
		}
	}
	r.startTime(f)
	return ns, nil
}

// parseSignalLine reads one signal line.
func parseSignalLine(line string, i int) (wfdbLine, error) {
	w := wfdbLine{gain: wfdbGain, unit: "mV", perFrame: 1}
	f := strings.Fields(line)
	if len(f) < 2 {
		return w, fmt.Errorf("line %d of the .hea file is no signal line; "+
			"export the recording again, or as EDF", i+2)
	}
	w.file = f[0]
	w.parseFormat(f[1])
	bad := false
	number := func(k int) (int, bool) {
		if len(f) <= k {
			return 0, false
		}
		v, ok := parseCount(f[k])
		bad = bad || !ok
		return v, ok
	}
	if len(f) > 2 {
		bad = !w.parseGain(f[2])
	}
	number(3)
	w.zero, _ = number(4)
	w.first, w.hasFirst = number(5)
	w.sum, w.hasSum = number(6)
	number(7)
	if len(f) > 8 {
		w.label = strings.Join(f[8:], " ")
	}
	if !w.baselineGiven {
		w.baseline = float64(w.zero)
	}
	if bad {
		return w, fmt.Errorf("line %d of the .hea file holds a number that cannot be read; "+
			"export the recording again, or as EDF", i+2)
	}
	return w, nil
}

// parseFormat reads `format[xN][:skew][+offset]`.
func (w *wfdbLine) parseFormat(s string) {
	take := func(mark string) int {
		head, tail, found := strings.Cut(s, mark)
		if !found {
			return 0
		}
		s = head
		n, err := strconv.Atoi(tail)
		if err != nil || n < 0 {
			w.problem = "its format cannot be read"
		}
		return n
	}
	w.skip, w.skew = take("+"), take(":")
	if n := take("x"); n > 1 {
		w.perFrame = n
		w.problem = fmt.Sprintf("it has %d samples per frame", n)
	}
	w.format = s
	if w.problem == "" && s != "16" && s != "212" {
		w.problem = "it is not stored in format 16 or 212"
	}
}

// parseGain reads `gain[(baseline)][/unit]`.
func (w *wfdbLine) parseGain(s string) bool {
	s, unit, found := strings.Cut(s, "/")
	if found && unit != "" {
		w.unit = unit
	}
	s, base, found := strings.Cut(s, "(")
	if found {
		b, ok := parseCount(strings.TrimSuffix(base, ")"))
		if !ok || !strings.HasSuffix(base, ")") {
			return false
		}
		w.baseline, w.baselineGiven = float64(b), true
	}
	g, ok := parseNumber(s)
	if ok && g != 0 {
		w.gain, w.gainGiven = g, true
	}
	return ok
}
