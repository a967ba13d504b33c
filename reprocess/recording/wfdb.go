package recording

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// readWFDB reads a record by its header. The signal files come through o.Sibling, which sees
// nothing but a plain base name.
func readWFDB(data []byte, o Options) (*Recording, error) {
	r := &Recording{Format: WFDB}
	h, err := parseWFDBHeader(data, r)
	if err != nil {
		return nil, err
	}
	if o.Sibling == nil {
		return nil, errors.New("a WFDB header needs its signal file beside it; " +
			"give both, or export as EDF")
	}
	r.Signals = make([]Signal, len(h.lines))
	files := map[string][]byte{}
	for i := range h.lines {
		h.place(i)
		h.read(i, r, files, o)
	}
	if i := slices.IndexFunc(r.Signals, func(s Signal) bool { return s.N > 0 }); i < 0 {
		return nil, fmt.Errorf("no signal of this record can be read: %s; "+
			"export in format 16 or 212, or as EDF", r.Signals[0].Unreadable)
	}
	return r, nil
}

// place counts the signals that share the file of signal i and finds its place among them:
// a file holds one sample of each signal in turn.
func (h *wfdbHeader) place(i int) {
	w := &h.lines[i]
	for k, other := range h.lines {
		if other.file != w.file {
			continue
		}
		if k < i {
			w.position++
		}
		w.inFrame++
		if w.problem == "" && (other.format != w.format || other.perFrame != 1) {
			w.problem = "its file mixes formats"
		}
	}
}

// plainName refuses everything that could lead out of the header's own folder.
func plainName(s string) bool {
	return s != "" && s != "-" && s != "~" && !strings.HasPrefix(s, ".") &&
		!strings.ContainsAny(s, "/\\:\x00")
}

// read loads the file of signal i and checks it against the header.
func (h *wfdbHeader) read(i int, r *Recording, files map[string][]byte, o Options) {
	w, s := &h.lines[i], &r.Signals[i]
	s.Label, s.Rate = w.label, h.rate
	if w.problem == "" && !plainName(w.file) {
		w.problem = "its file is not a plain name beside the header"
	}
	if w.problem == "" {
		w.problem = h.load(w, files, o)
	}
	if w.problem == "" {
		h.scale(i, r)
		h.samples16or212(i, r, files[w.file][w.skip:])
	}
	if w.problem != "" {
		s.Unreadable = w.problem
		r.remark("Signal %d was not read: %s.", i+1, w.problem)
	}
}

func (h *wfdbHeader) load(w *wfdbLine, files map[string][]byte, o Options) (problem string) {
	data, known := files[w.file]
	if !known {
		got, err := o.Sibling(w.file)
		if err != nil {
			return "its signal file is missing beside the header"
		}
		data, files[w.file] = got, got
	}
	if len(data) > MaxBytes {
		return fmt.Sprintf("its signal file is longer than %d MiB", MaxBytes>>20)
	}
	if w.skip >= len(data) {
		return "its signal file is too short"
	}
	return ""
}

// scale sets millivolts = (stored − baseline) / gain.
func (h *wfdbHeader) scale(i int, r *Recording) {
	w, s := &h.lines[i], &r.Signals[i]
	s.base, s.step, s.ends = w.baseline, 1/w.gain, true
	s.lo, s.hi = -1<<15, 1<<15-1
	if w.format == "212" {
		s.lo, s.hi = -1<<11, 1<<11-1
	}
	if !w.gainGiven {
		r.remark("Signal %d gives no gain; the format's default of %d per mV was taken.",
			i+1, wfdbGain)
	}
	s.setUnit(w.unit)
}

// samples16or212 finds the samples and checks count, first value and checksum.
func (h *wfdbHeader) samples16or212(i int, r *Recording, data []byte) {
	w, s := &h.lines[i], &r.Signals[i]
	total, odd := len(data)/2, len(data)%2
	if w.format == "212" {
		total, odd = samples212(len(data))
	}
	frames := total / w.inFrame
	if frames == 0 {
		w.problem = "its signal file holds no whole sample"
		return
	}
	s.N = frames
	if h.samples > 0 {
		s.N = min(frames, h.samples)
	}
	s.digital = decodeWFDB(data, w)
	switch {
	case h.samples > frames:
		r.CutShort, r.PromisedSeconds = true, float64(h.samples)/h.rate
		r.remark("The header promises %d samples; %d are in the file.", h.samples, frames)
	case h.samples > 0 && frames > h.samples && !(w.format == "212" && frames == h.samples+1):
		r.remark("%s holds more samples than the header says; the rest was left out.", "The file")
	}
	if odd > 0 && h.samples != frames {
		r.remark("The last byte of the signal file is no whole sample and was dropped.")
	}
	h.verify(i, r)
}

// samples212 counts the whole samples in n bytes: two in three bytes; a tail of two bytes
// still holds one.
func samples212(n int) (samples, odd int) {
	samples, odd = n/3*2, n%3
	if odd == 2 {
		return samples + 1, 0
	}
	return samples, odd
}

// verify compares the first value and the 16-bit sum of all samples; both are remarks, since
// they say that something changed but not what.
func (h *wfdbHeader) verify(i int, r *Recording) {
	w, s := &h.lines[i], &r.Signals[i]
	if w.hasFirst && w.skew == 0 && s.Digital(0) != int32(w.first) {
		r.Mismatched = true
		r.remark("Signal %d does not begin with the value its header states.", i+1)
	}
	if !w.hasSum || h.samples != s.N {
		return
	}
	var sum int16
	for k := range s.N {
		sum += int16(s.Digital(k))
	}
	if sum != int16(w.sum) {
		r.Mismatched = true
		r.remark("Signal %d does not match its checksum: the file may be damaged.", i+1)
	}
}

// decodeWFDB gives the stored number of each sample. Format 212: byte 0 is the low 8 bits of
// sample A, the low nibble of byte 1 its high 4; the high nibble of byte 1 the high 4 of
// sample B, byte 2 its low 8; sign from bit 11.
func decodeWFDB(data []byte, w *wfdbLine) func(int) int32 {
	step, off := w.inFrame, w.position
	if w.format == "16" {
		return func(k int) int32 {
			p := data[(k*step+off)*2:]
			return int32(int16(uint16(p[0]) | uint16(p[1])<<8))
		}
	}
	return func(k int) int32 {
		j := k*step + off
		p := data[j/2*3:]
		v := uint32(p[0]) | uint32(p[1]&0x0f)<<8
		if j%2 == 1 {
			v = uint32(p[2]) | uint32(p[1]>>4)<<8
		}
		return int32(v<<20) >> 20
	}
}
