package export

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/lookback"
)

// released gives the first entries of the day, up to the release of C1 by lot T2, with the
// loan before it ended.
func released() *log {
	l := &log{}
	text := strings.SplitAfter(day().String(), "\n")
	l.WriteString(strings.Replace(strings.Join(text[:15], ""),
		`"taken_over":true}`, `"taken_over":true,"back":"2027-05-10T08:00:00.500Z"}`, 1))
	l.seq = 15
	return l
}

func wardBack(worn string) string {
	return event("taken_back", `{"kit":"K1","came":["P1","P2"],"loan":"L2",`+
		`"return":{"skin":"no","fault":"no","missing":"no","worn":"`+worn+`"}}`)
}

// A ward kept the kit. Expected lists by hand: each recorded wearer is exposed; whom nobody
// recorded stands for the ward's loan, unresolved; where a second one may have worn it without
// reprocessing in between, that is a hand-out without a release.
func TestLookBackOverAWard(t *testing.T) {
	begin := func() *log {
		l := released()
		l.add("42:00", "S1", "K1", loan("L2", `"release":15,"ward":"Ward 4"`))
		return l
	}
	worn := func(l *log) *log {
		l.add("43:00", "S1", "K1", loan("L3", `"wearer":"t1","release":15,"ward":"Ward 4","under":"L2"`))
		l.add("44:00", "S1", "K1", event("ward_returned", `{"loan":"L3","under":"L2","kit":"K1"}`))
		return l
	}
	q := lookback.Query{Lot: "T2"}
	r := ask(t, begin().String(), q)
	require.Equal(t, []string{"L2"}, r.Exposed, "the ward is asked while it keeps it")
	require.Equal(t, []string{"P1"}, r.Recall)
	require.Contains(t, r.Unresolved, "L2")

	l := begin()
	l.add("43:00", "S1", "K1", loan("L3", `"wearer":"t1","release":15,"ward":"Ward 4","under":"L2"`))
	r = ask(t, l.String(), q)
	require.Equal(t, []string{"L3"}, r.Exposed, "the one who wears it now is known")
	require.Equal(t, []string{"P1"}, r.Recall)
	require.Equal(t, []string{"L2", "L3"}, ask(t, worn(begin()).String(), q).Exposed)
	require.Equal(t, []string{"P1"}, ask(t, worn(begin()).String(), q).Recall, "it is still out")

	for _, x := range []struct {
		worn                         string
		recorded                     bool
		exposed, unreleased, unknown []string
	}{
		{"0", false, []string{}, []string{}, []string{}},
		{"1", true, []string{"L3"}, []string{}, []string{}},
		{"1", false, []string{"L2"}, []string{}, []string{"L2"}},
		{"2", true, []string{"L2", "L3"}, []string{"L2"}, []string{"L2"}},
		{"unknown", true, []string{"L2", "L3"}, []string{"L2"}, []string{"L2"}},
		{"not_asked", false, []string{"L2"}, []string{"L2"}, []string{"L2"}},
	} {
		l := begin()
		if x.recorded {
			l = worn(l)
		}
		l.add("50:00", "S1", "K1", wardBack(x.worn))
		r := ask(t, l.String(), q)
		require.Equal(t, x.exposed, r.Exposed, "%+v", x)
		require.Equal(t, x.unreleased, r.Unreleased, "%+v", x)
		unknown := []string{}
		for _, id := range r.Unresolved {
			if id != "L1" { // nobody knows when that one went out
				unknown = append(unknown, id)
			}
		}
		require.Equal(t, x.unknown, unknown, "%+v", x)
		require.Empty(t, r.Recall)
	}
}

// A cell fitted at the counter takes the place of the one fitted at the bench: by its lot the
// loan is found, and by the lot of the one it replaced it is not.
func TestLookBackOverACellOfTheCounter(t *testing.T) {
	l := released()
	l.add("41:00", "S1", "K1", event("lot_set", `{"id":"T9","kind":"cells","number":"C 9"}`),
		event("lot_set", `{"id":"T10","kind":"cells","number":"C 10"}`))
	l.add("42:00", "S1", "K1", loan("L2", `"wearer":"t1","release":15,"cell":"T10"`))
	r := ask(t, l.String(), lookback.Query{Lot: "C 10"})
	require.Equal(t, []string{"at-hand-out L2"}, r.Cycles)
	require.Equal(t, []string{"L2"}, r.Exposed)
	require.Equal(t, []string{"P1"}, r.Recall, "the phone has no cell of that kind")
	require.Equal(t, 1, r.Wearers)
	r = ask(t, l.String(), lookback.Query{Lot: "C 9"})
	require.Empty(t, r.Exposed, "that cell was taken out again")
	require.Equal(t, []string{"L2"}, ask(t, l.String(), lookback.Query{Lot: "T2"}).Exposed,
		"what wiped it is another question")
	l.add("43:00", "S1", "K1", event("hand_out_undone", `{"loan":"L2","kit":"K1","reason":"r"}`))
	require.Empty(t, ask(t, l.String(), lookback.Query{Lot: "C 10"}).Exposed)
}
