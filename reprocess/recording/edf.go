package recording

import (
	"errors"
	"fmt"
	"strings"
)

// readEDF reads EDF, EDF+ and BDF. Data: per record signal 1's samples, then signal 2's, and
// so on; little-endian two's complement of 16 or 24 bits.
func readEDF(data []byte) (*Recording, error) {
	r := &Recording{}
	h, err := edfHeaderOf(data, r)
	if err != nil {
		return nil, err
	}
	n, err := h.recordsOf(len(data), r)
	if err != nil {
		return nil, err
	}
	body := data[h.size : h.size+n*h.recBytes]
	for i := range r.Signals {
		s := &r.Signals[i]
		if s.Annotation {
			continue
		}
		s.N = n * h.perRec[i]
		s.digital = h.decoder(body, i)
	}
	h.annotations(body, n, r)
	return r, nil
}

// signals reads the columns of the signal part.
func (h *edfHeader) signals(data []byte, r *Recording) error {
	r.Signals = make([]Signal, len(h.perRec))
	for i := range r.Signals {
		n, ok := parseCount(h.column(data, cSamples, i))
		if !ok || n < 0 || n > MaxRecordBytes {
			return fmt.Errorf("signal %d has an impossible number of samples per record; "+
				"the file is damaged: export it again as EDF", i+1)
		}
		h.perRec[i], h.offset[i] = n, h.recBytes
		h.recBytes += n * h.width
		h.signal(data, i, r)
	}
	if h.recBytes > MaxRecordBytes {
		return fmt.Errorf("one data record would be longer than %d MiB; "+
			"export again with a record duration of one second", MaxRecordBytes>>20)
	}
	if h.recBytes == 0 {
		return errors.New("no signal has any samples; export the recording again as EDF")
	}
	return nil
}

// signal reads label, unit, scale and rate of signal i.
func (h *edfHeader) signal(data []byte, i int, r *Recording) {
	s := &r.Signals[i]
	s.Label = h.column(data, cLabel, i)
	if s.Label == "EDF Annotations" || s.Label == "BDF Annotations" {
		s.Annotation = true
		return
	}
	h.scale(data, i, r)
	s.setUnit(h.column(data, cDimension, i))
	if h.duration > 0 {
		s.Rate = float64(h.perRec[i]) / h.duration
	}
	if s.Rate > maxRate {
		s.Rate = 0
		r.remark("Signal %d has an impossible sampling rate; it is not judged.", i+1)
	}
}

// scale reads the four limits; an unusable pair costs only this signal its millivolts.
func (h *edfHeader) scale(data []byte, i int, r *Recording) {
	var v [4]float64
	ok := true
	for k, c := range [4]field{cDigMin, cDigMax, cPhysMin, cPhysMax} {
		x, comma, fine := parseDecimal(h.column(data, c, i))
		if comma && fine {
			r.remark("Signal %d writes its limits with a decimal comma; read as a dot.", i+1)
		}
		v[k], ok = x, ok && fine
	}
	s := &r.Signals[i]
	s.setScale(v[0], v[1], v[2], v[3], ok)
	if s.NoScale != "" {
		r.remark("Signal %d has no usable scale: no millivolts are shown for it.", i+1)
	} else if s.step < 0 {
		r.remark("Signal %d has its limits upside down; they were kept as written.", i+1)
	}
}

// recordsOf decides how many records are read: the stated count if it is positive, but never
// more than are complete in the file.
func (h *edfHeader) recordsOf(length int, r *Recording) (int, error) {
	found := (length - h.size) / h.recBytes
	rest := (length - h.size) % h.recBytes
	r.RecordsFound = &found
	if found == 0 {
		return 0, errors.New("the file holds no complete data record; " +
			"record for a minute, stop the recorder, and export again as EDF")
	}
	switch {
	case !h.known || h.records <= 0:
		r.remark("The record count was never written (%s): the file was not closed; "+
			"%d records were found.", countText(h), found)
		h.partial(rest, found, r)
		return found, nil
	case h.records > found:
		r.remark("The header promises %d records; %d are complete.", h.records, found)
		h.promised(rest, r)
		h.partial(rest, found, r)
		return found, nil
	}
	if extra := length - h.size - h.records*h.recBytes; extra > 0 {
		r.remark("%d stray bytes after the last record were left out.", extra)
	}
	return h.records, nil
}

func countText(h *edfHeader) string {
	if !h.known {
		return "unreadable"
	}
	return fmt.Sprint(h.records)
}

// partial drops an incomplete last record, which shows that the file was cut off.
func (h *edfHeader) partial(rest, found int, r *Recording) {
	if rest == 0 {
		return
	}
	r.CutShort = true
	r.remark("Record %d is incomplete: %d of %d bytes were dropped.", found+1, rest, h.recBytes)
}

// promised believes a record count up to a year; a field filled with nines, or more than a
// year, is a placeholder and proves nothing about the end of the file.
func (h *edfHeader) promised(rest int, r *Recording) {
	const year = 366 * 24 * 3600
	seconds := float64(h.records) * h.duration
	nines := strings.Trim(fmt.Sprint(h.records), "9") == ""
	if seconds > year || nines {
		return
	}
	r.CutShort, r.PromisedSeconds = true, seconds
}

// decoder gives the stored number of each sample of signal i.
func (h *edfHeader) decoder(body []byte, i int) func(int) int32 {
	per, off, rec := h.perRec[i], h.offset[i], h.recBytes
	if h.width == 3 {
		return func(k int) int32 {
			p := body[(k/per)*rec+off+(k%per)*3:]
			return int32(uint32(p[0])<<8|uint32(p[1])<<16|uint32(p[2])<<24) >> 8
		}
	}
	return func(k int) int32 {
		p := body[(k/per)*rec+off+(k%per)*2:]
		return int32(int16(uint16(p[0]) | uint16(p[1])<<8))
	}
}
