package recording

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// edfMaker writes EDF files for the tests, in the layout of edfplus.info/specs/edf.html. Every
// field can be replaced by any text.
type edfMaker struct {
	version, patient, recording, date, clock, head, reserved, records, duration, ns string
	signals                                                                         []edfSignal
	body                                                                            []byte
}

type edfSignal struct{ label, unit, pmin, pmax, dmin, dmax, samples string }

func ecgSignal(samples string) edfSignal {
	return edfSignal{"ECG II", "mV", "-10", "10", "-32768", "32767", samples}
}

func marks(slots string) edfSignal {
	return edfSignal{"EDF Annotations", "", "-1", "1", "-32768", "32767", slots}
}

// newEDF has n records of one second with one signal of 100 samples.
func newEDF(n int) *edfMaker {
	return &edfMaker{version: "0", patient: "X X X X", recording: "Startdate 24-NOV-2026 X X X",
		date: "24.11.26", clock: "10.00.00", reserved: "EDF+C", records: fmt.Sprint(n),
		duration: "1", signals: []edfSignal{ecgSignal("100")}, body: make([]byte, n*200)}
}

func (m *edfMaker) bytes() []byte {
	var b strings.Builder
	put := func(s string, n int) { fmt.Fprintf(&b, "%-*s", n, s) }
	ns, head := fmt.Sprint(len(m.signals)), fmt.Sprint(256*(1+len(m.signals)))
	if m.ns != "" {
		ns = m.ns
	}
	if m.head != "" {
		head = m.head
	}
	for _, f := range []struct {
		s string
		n int
	}{{m.version, 8}, {m.patient, 80}, {m.recording, 80}, {m.date, 8}, {m.clock, 8}, {head, 8},
		{m.reserved, 44}, {m.records, 8}, {m.duration, 8}, {ns, 4}} {
		put(f.s, f.n)
	}
	for _, c := range []struct {
		of func(edfSignal) string
		n  int
	}{{func(s edfSignal) string { return s.label }, 16},
		{func(edfSignal) string { return "" }, 80},
		{func(s edfSignal) string { return s.unit }, 8},
		{func(s edfSignal) string { return s.pmin }, 8},
		{func(s edfSignal) string { return s.pmax }, 8},
		{func(s edfSignal) string { return s.dmin }, 8},
		{func(s edfSignal) string { return s.dmax }, 8},
		{func(edfSignal) string { return "" }, 80},
		{func(s edfSignal) string { return s.samples }, 8},
		{func(edfSignal) string { return "" }, 32}} {
		for _, s := range m.signals {
			put(c.of(s), c.n)
		}
	}
	return append([]byte(b.String()), m.body...)
}

func (m *edfMaker) read(t *testing.T) *Recording {
	t.Helper()
	r, err := Read("x.edf", m.bytes(), Options{})
	require.NoError(t, err)
	return r
}

// withMarks makes n records of one second whose only signal are annotation slots.
func withMarks(lists ...string) *edfMaker {
	m := newEDF(len(lists))
	m.signals = []edfSignal{ecgSignal("10"), marks("40")}
	m.body = nil
	for _, l := range lists {
		rec := make([]byte, 100)
		copy(rec[20:], l)
		m.body = append(m.body, rec...)
	}
	return m
}
