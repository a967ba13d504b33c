package export

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess/lookback"
)

// Entries written by hand, expected lists worked out by hand after the steps of look-back in
// our infection control reference (Rutala and Weber 2007; CDC). The hour is 08:00 of one day.

func at(t testing.TB, clock string) time.Time {
	t.Helper()
	v, err := time.Parse(time.RFC3339, "2027-05-10T08:"+clock+"Z")
	require.NoError(t, err)
	return v
}

func ask(t testing.TB, text string, q lookback.Query) lookback.Result {
	t.Helper()
	r, err := LookBack(q, lines([]byte(text)), map[string]string{"t1": "w-7", "t2": "w-7"})
	require.NoError(t, err)
	return r
}

func loan(id, more string) string {
	return event("handed_out", `{"id":"`+id+`","kit":"K1","pieces":["P1","P2"],`+more+`}`)
}

// season adds to the day: after C1 (released 40:00, T1 seen dry, then T2) and the broken C2,
// the kit goes out unreleased, comes back, and is reprocessed with T1.
func season() *log {
	l := &log{}
	text := strings.SplitAfter(day().String(), "\n")
	l.WriteString(strings.Replace(strings.Join(text[:15], ""), // up to the release
		`"taken_over":true}`, `"taken_over":true,"back":"2027-05-10T08:00:00.500Z"}`, 1))
	l.seq = 15
	l.add("41:00", "S1", "K1", event("lot_set", `{"id":"T9","kind":"cells","number":"C 9"}`),
		event("container_opened", `{"id":"B2","lot":"T2","number":"17"}`),
		event("procedure_approved", `{"id":"R1","version":2,"name":"Old way"}`),
		event("procedure_approved", `{"id":"R1","version":3,"name":"New way"}`))
	l.add("42:00", "S1", "K1", loan("L2", `"wearer":"t1","release":15`))
	l.add("43:00", "S1", "K1", event("taken_back", `{"kit":"K1","came":["P1","P2"],"loan":"L2",`+
		`"return":{"skin":"no","fault":"no","missing":"no"}}`))
	l.add("44:00", "S1", "K1", loan("L3", `"wearer":"t2","after":true,"out":"2027-05-10T08:44:00.000Z"`))
	l.add("45:00", "S1", "K1", event("taken_back", `{"kit":"K1","came":["P1","P2"],"loan":"L3",`+
		`"return":{"skin":"no","fault":"no","missing":"no"}}`))
	l.add("46:00", "S2", "K1", event("cycle_opened", `{"cycle":"C3","piece":"P1","kit":"K1",`+
		`"number":5,"procedure":"R1@3"}`), record("C3", "P1", `"step":"disinfection","kind":"wet_now",`+
		`"container":"B1","lot":"T1","product":"D1","needed_s":60`))
	return l
}

func TestLookBackByLot(t *testing.T) {
	text := season().String()
	r := ask(t, text, lookback.Query{Lot: "L 8"}) // the printed number of T2
	require.Equal(t, []string{"C1"}, r.Cycles)
	require.Equal(t, []string{"L2", "L3"}, r.Exposed)
	require.Equal(t, []string{"L3"}, r.Unreleased, "recorded after the fact")
	require.Equal(t, map[string][]string{"L2": {"L1"}, "L3": {"L1", "L2"}}, r.Sources)
	require.Equal(t, []string{"L1"}, r.Unresolved, "nobody knows when it went out")
	require.Equal(t, 1, r.Wearers, "two tokens of one wearer")
	require.Equal(t, r, ask(t, text, lookback.Query{Lot: "T2"}))

	r = ask(t, text, lookback.Query{Lot: "T1"})
	require.Equal(t, []string{"C3"}, r.Cycles, "a conforming one clears an earlier try")
	require.Equal(t, []string{"P1"}, r.Restart)
	require.Equal(t, []string{"P1"}, r.Caught)
	require.Empty(t, r.Exposed)
}

func TestLookBackByCells(t *testing.T) {
	r := ask(t, season().String(), lookback.Query{Lot: "C 9"})
	require.Equal(t, []string{"C1"}, r.Cycles)
	require.Equal(t, []string{"L2", "L3"}, r.Exposed)
	require.Equal(t, []string{"L3"}, r.Unreleased, "the phone has no cells and raises nothing more")
}

func TestLookBackKeysNarrow(t *testing.T) {
	text := season().String()
	for _, q := range []lookback.Query{{Container: "B2"}, {Container: "17"},
		{Product: "Wipe", To: at(t, "40:00")}, {Model: "Rook, 3", Lot: "T2"},
		{Procedure: "R1@2"}, {Procedure: "Old way"},
		{Piece: "0042", From: at(t, "20:00"), To: at(t, "20:01")}} {
		require.Equal(t, []string{"C1"}, ask(t, text, q).Cycles, "%+v", q)
	}
	require.Equal(t, []string{"C1", "C3"}, ask(t, text, lookback.Query{Procedure: "R1"}).Cycles)
	require.Equal(t, []string{"C1", "C3"}, ask(t, text, lookback.Query{Person: "=Eve"}).Cycles)
	require.Empty(t, ask(t, text, lookback.Query{Piece: "P1", From: at(t, "20:01"),
		To: at(t, "46:00")}).Cycles, "the window is half open at its end")
}

// TestLookBackAsOf: what was entered later is not known.
func TestLookBackAsOf(t *testing.T) {
	q := lookback.Query{Lot: "T2", AsOf: at(t, "42:30")}
	r := ask(t, season().String(), q)
	require.Equal(t, []string{"L2"}, r.Exposed)
	require.Equal(t, []string{"P1"}, r.Recall)
	require.Empty(t, r.Unreleased)
	q.AsOf = at(t, "41:30")
	require.Equal(t, []string{"P1"}, ask(t, season().String(), q).Embargo)
}

// TestLookBackOverAPaperRelease: what was ready before the log began cannot be placed, and
// says so, unless the window begins after it.
func TestLookBackOverAPaperRelease(t *testing.T) {
	l := &log{}
	l.add("00:00", "S1", "", event("lot_set", `{"id":"T1","kind":"disinfectant","number":"7"}`))
	l.add("00:01", "S1", "K1", event("kit_registered", `{"kit":{"id":"K1","number":"12","site":"A",`+
		`"pieces":["P1"],"recording":{"status":"unknown"},"release":{"seq":0,"at":"2027-05-10T08:00:00.000Z",`+
		`"by":"","name":"N","meaning":"m","taken_over":true}},"pieces":[{"id":"P1","kind":"recorder",`+
		`"model":"M1","serial":"1","kit":"K1","state":"released"}]}`))
	l.add("05:00", "S1", "K1", event("handed_out", `{"id":"L1","kit":"K1","pieces":["P1"],"release":2}`))
	l.add("06:00", "S1", "K1", event("hand_out_undone", `{"loan":"L1","kit":"K1","reason":"r"}`))
	l.add("07:00", "S1", "K1", event("handed_out", `{"id":"L2","kit":"K1","pieces":["P1"],"release":2}`))
	r := ask(t, l.String(), lookback.Query{Lot: "7"})
	require.Equal(t, []string{"taken-over P1"}, r.Unresolved)
	require.Empty(t, r.Unreleased, "it went out on a release, if one on paper")
	require.Empty(t, ask(t, l.String(), lookback.Query{Lot: "7", From: at(t, "01:00")}).Unresolved)
	r = ask(t, l.String(), lookback.Query{Piece: "P1", From: at(t, "00:00")})
	require.NotContains(t, r.Exposed, "L1", "the pack never left")
}

// TestLookBackRemembersWhatAWettingReplaced: the piece was wet long enough by T1, then wetted
// anew by T2 and left: T1 is still the last conforming one, so both count.
func TestLookBackRemembersWhatAWettingReplaced(t *testing.T) {
	l := &log{}
	l.WriteString(strings.Join(strings.SplitAfter(day().String(), "\n")[:3], ""))
	l.seq = 3
	l.add("10:00", "S2", "K1", wet("wet_now", `,"container":"B1","lot":"T1","product":"D1","needed_s":60`))
	l.add("11:05", "S2", "K1", wet("looks_wet", ""))
	l.add("12:00", "S2", "K1", wet("wet_now", `,"container":"B2","lot":"T2","product":"D1","needed_s":60`))
	for _, lot := range []string{"T1", "T2"} {
		require.Equal(t, []string{"C1"}, ask(t, l.String(), lookback.Query{Lot: lot}).Cycles, lot)
	}
}

func TestLookBackRefuses(t *testing.T) {
	twins := strings.Replace(season().String(), `"number":"L 8"`, `"number":"C 9"`, 1)
	same := strings.Replace(season().String(), `"serial":"+7"`, `"serial":"0042"`, 1)
	electrodes := strings.Replace(season().String(), `"kind":"cells"`, `"kind":"electrodes"`, 1)
	for _, c := range []struct {
		says, text string
		q          lookback.Query
	}{
		{"at least one key", season().String(), lookback.Query{}},
		{`knows no lot "L8"`, season().String(), lookback.Query{Lot: "L8"}},
		{"give the id", twins, lookback.Query{Lot: "C 9"}},
		{"P1 or P2; give the id", same, lookback.Query{Piece: "0042"}},
		{"has no product", electrodes, lookback.Query{Lot: "T9", Product: "D1"}},
		{"has no product", season().String(), lookback.Query{Lot: "T9", Product: "D1"}},
		{`knows no instrument "I1"`, season().String(), lookback.Query{Instrument: "I1"}},
		{"cannot be read", "{\n", lookback.Query{Lot: "T1"}},
	} {
		_, err := LookBack(c.q, lines([]byte(c.text)), nil)
		require.ErrorContains(t, err, c.says)
	}
}
