package recording

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"unicode/utf8"
)

// Annotation lists of EDF+: `+onset [0x15 duration] 0x14 text 0x14 ... 0x00`, the rest of the
// slot filled with 0x00. The first list of the first annotation signal of each record begins
// with an empty text and gives the record's own time. An event counts from the start of the
// file and may be stored in any record.

// stretch is a run of records without a break: its first record and that record's time.
type stretch struct {
	rec int
	at  float64
}

// lister collects what the annotation signals say.
type lister struct {
	r         *Recording
	stretches []stretch
	broken    int // lists that break the form
	badBytes  int // bytes that are no UTF-8
	dropped   int // events beyond the limit
	disorder  bool
}

// annotations reads all lists and turns record times into gaps and events into sample times.
func (h *edfHeader) annotations(body []byte, n int, r *Recording) {
	if !slices.ContainsFunc(r.Signals, func(s Signal) bool { return s.Annotation }) {
		return
	}
	l := &lister{r: r}
	for rec := range n {
		first := true
		for i := range r.Signals {
			if !r.Signals[i].Annotation {
				continue
			}
			at := rec*h.recBytes + h.offset[i]
			own := l.slot(body[at:at+h.perRec[i]*h.width], first)
			if first {
				l.time(rec, own, h.duration)
			}
			first = false
		}
	}
	l.tell(h)
	l.gaps(h.duration)
	l.place(n, h.duration)
}

// slot reads the lists of one annotation signal in one record. It answers the record's own
// time, NaN where there is none.
func (l *lister) slot(b []byte, first bool) float64 {
	own := math.NaN()
	for k := 0; len(b) > 0; k++ {
		end := bytes.IndexByte(b, 0)
		if end == 0 {
			break
		}
		if end < 0 {
			l.broken++
			break
		}
		at, dur, texts, ok := parseList(b[:end])
		b = b[end+1:]
		if !ok {
			l.broken++
			continue
		}
		if k == 0 && first && texts[0] == "" {
			own, texts = at, texts[1:]
		}
		l.events(at, dur, texts)
	}
	return own
}

// parseList takes one list apart, without its closing NUL.
func parseList(b []byte) (at float64, dur *float64, texts []string, ok bool) {
	head, rest, found := bytes.Cut(b, []byte{0x14})
	if !found || len(head) < 2 || head[0] != '+' && head[0] != '-' {
		return 0, nil, nil, false
	}
	onset, length, has := strings.Cut(string(head), "\x15")
	at, ok = parseNumber(onset)
	if has && ok {
		var d float64
		if d, ok = parseNumber(length); d >= 0 {
			dur = &d
		}
	}
	rest, closed := bytes.CutSuffix(rest, []byte{0x14})
	if !closed && len(rest) > 0 {
		return 0, nil, nil, false
	}
	return at, dur, strings.Split(string(rest), "\x14"), ok && math.Abs(at) < 1e10
}

// events keeps the texts of one list.
func (l *lister) events(at float64, dur *float64, texts []string) {
	for _, t := range texts {
		if t == "" {
			continue
		}
		if len(l.r.Events) >= MaxAnnotations {
			l.dropped++
			continue
		}
		if !utf8.ValidString(t) {
			l.badBytes += badBytes(t)
			t = strings.ToValidUTF8(t, "\uFFFD")
		}
		t = strings.TrimSpace(strings.Map(printable, t))
		l.r.Events = append(l.r.Events, Event{At: at, Duration: dur, Text: t})
	}
}

func badBytes(s string) int {
	n := 0
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		if r == utf8.RuneError && size == 1 {
			n++
		}
		i += size
	}
	return n
}

// time compares a record's own time with where the one before it ended.
func (l *lister) time(rec int, own, duration float64) {
	if math.IsNaN(own) {
		if rec == 0 {
			l.stretches = append(l.stretches, stretch{0, 0})
		}
		return
	}
	if rec == 0 {
		l.stretches = append(l.stretches, stretch{0, own})
		return
	}
	last := l.stretches[len(l.stretches)-1]
	want := last.at + float64(rec-last.rec)*duration
	if math.Abs(own-want) <= 0.5e-3 {
		return
	}
	if len(l.stretches) >= maxBreaks {
		l.disorder = true
		return
	}
	l.stretches = append(l.stretches, stretch{rec, own})
}

// tell writes the remarks on what had to be skipped.
func (l *lister) tell(h *edfHeader) {
	if l.broken > 0 {
		l.r.remark("%d annotation lists break the form and were skipped.", l.broken)
	}
	if l.badBytes > 0 {
		l.r.remark("%d bytes of annotation text are no UTF-8 and were replaced.", l.badBytes)
	}
	if l.dropped > 0 {
		l.r.remark("Only the first %d annotations were kept.", MaxAnnotations)
	}
	if l.disorder {
		l.r.remark("The record times are in disorder; they were not followed to the end.")
	}
	continuous := l.r.Format == EDFPlusC || l.r.Format == BDFPlusC
	if continuous && len(l.stretches) > 1 && h.duration > 0 {
		l.r.remark("The header says continuous, but the record times jump.")
	}
	if (l.r.Format == EDFPlusD || l.r.Format == BDFPlusD) && len(l.stretches) == 0 {
		l.r.remark("The file may have gaps but gives no record times.")
	}
}

// gaps turns breaks into holes. A first record time above 0 moves the start and is none.
func (l *lister) gaps(duration float64) {
	if duration <= 0 {
		return
	}
	for i := 1; i < len(l.stretches); i++ {
		a, b := l.stretches[i-1], l.stretches[i]
		end := a.at + float64(b.rec-a.rec)*duration
		if b.at < end {
			l.r.remark("A record begins before the one in front of it has ended.")
			continue
		}
		l.r.Gaps = append(l.r.Gaps, Gap{At: end - l.stretches[0].at,
			Sample: float64(b.rec) * duration, Seconds: b.at - end})
	}
}

// place gives each event its time among the samples.
func (l *lister) place(n int, duration float64) {
	if duration <= 0 {
		return
	}
	outside := 0
	for i := range l.r.Events {
		e := &l.r.Events[i]
		for k, s := range l.stretches {
			next := n
			if k+1 < len(l.stretches) {
				next = l.stretches[k+1].rec
			}
			into := e.At - s.at
			if into >= 0 && into <= float64(next-s.rec)*duration {
				t := float64(s.rec)*duration + into
				e.Sample = &t
				break
			}
		}
		if e.Sample == nil {
			outside++
		}
	}
	if outside > 0 {
		l.r.remark("%d event marks lie outside the recorded samples.", outside)
	}
}
