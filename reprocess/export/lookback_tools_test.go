package export

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/lookback"
)

// Entries written by hand after the season of lookback_test.go; the lists worked out by hand.

// An instrument is found by what it read of a container before a wetting, and by what it
// measured in a cycle; a reading after the wetting says nothing of it.
func TestLookBackByInstrument(t *testing.T) {
	l := &log{}
	l.WriteString(strings.Join(strings.SplitAfter(day().String(), "\n")[:3], ""))
	l.seq = 3
	reading := func(number string) string {
		return event("strength_read", `{"container":"B1","reading":{"reading":"72%v/v",`+
			`"temperature":"20°C","glass":"soda-lime","instrument":"`+number+`"}}`)
	}
	l.add("08:00", "S2", "", event("container_opened", `{"id":"B1","lot":"T1"}`), reading("H-1"))
	l.add("10:00", "S2", "K1", wet("wet_now", `,"container":"B1","lot":"T1","product":"D1","needed_s":60`))
	l.add("11:05", "S2", "K1", wet("looks_wet", ""))
	l.add("12:00", "S2", "", reading("H-2"))
	l.add("13:00", "S2", "K1", record("C1", "P1", `"step":"battery","kind":"answer","instrument":"V-9"`))
	text := l.String()
	require.Equal(t, []string{"C1"}, ask(t, text, lookback.Query{Instrument: "H-1"}).Cycles)
	require.Empty(t, ask(t, text, lookback.Query{Instrument: "H-2"}).Cycles, "read afterwards")
	require.Equal(t, []string{"C1"}, ask(t, text, lookback.Query{Instrument: "V-9"}).Cycles)
	require.Equal(t, []string{"C1"}, ask(t, text, lookback.Query{Instrument: "V-9", Lot: "T1"}).Cycles)
}

// Electrodes are found at the hand-out; where they were not told the loan cannot be placed and
// says so, unless the window does not reach it.
func TestLookBackByElectrodes(t *testing.T) {
	l := season()
	l.add("50:00", "S1", "K1", event("lot_set", `{"id":"T5","kind":"electrodes","number":"A 1"}`),
		loan("L5", `"wearer":"t1","pads":"T5","release":15,"out":"2027-05-10T08:50:00.000Z"`))
	r := ask(t, l.String(), lookback.Query{Lot: "A 1"})
	require.Equal(t, []string{Electrodes + "L5"}, r.Cycles)
	require.Equal(t, []string{"L5"}, r.Exposed)
	require.Equal(t, []string{"P1"}, r.Recall, "the phone wears no electrodes")
	require.Contains(t, r.Unresolved, Electrodes+"L2")
	r = ask(t, l.String(), lookback.Query{Lot: "A 1", From: at(t, "50:00"), To: at(t, "51:00")})
	require.Equal(t, []string{"L5"}, r.Exposed)
	require.NotContains(t, r.Unresolved, Electrodes+"L2")
	require.Empty(t, ask(t, l.String(), lookback.Query{Lot: "A 1", To: at(t, "50:00")}).Exposed)
}

// What a freeze keeps is what the record says of all that is named, at that moment.
func TestFreezeKeepsTheFacts(t *testing.T) {
	f, err := Freeze(lookback.Query{Lot: "L 8", From: at(t, "00:00")}, lines([]byte(season().String())),
		map[string]string{"t1": "w-7"}, lookback.Fact{Kind: "piece", ID: "P2"}, lookback.Fact{Kind: "piece", ID: "P0"})
	require.NoError(t, err)
	require.Equal(t, []lookback.Key{{Name: "lot", Value: "L 8"}, {Name: "from", Value: "2027-05-10T08:00:00.000Z"}}, f.Keys)
	q, err := QueryOf(f.Keys)
	require.NoError(t, err)
	require.Equal(t, lookback.Query{Lot: "L 8", From: at(t, "00:00")}, q)
	_, err = QueryOf([]lookback.Key{{Name: "colour", Value: "red"}})
	require.ErrorContains(t, err, "no key")
	fact, ok := f.Fact("cycle", "C1")
	require.True(t, ok)
	require.Equal(t, "released 2027-05-10T08:40:00.000Z", fact.State)
	loan, ok := f.Fact("loan", "L2")
	require.True(t, ok)
	require.Equal(t, "back 2027-05-10T08:43:00.000Z", loan.State)
	_, ok = f.Fact("piece", "P2")
	require.True(t, ok, "asked for besides")
	_, ok = f.Fact("piece", "P0")
	require.False(t, ok, "there is no such piece")
	b, err := f.Bytes()
	require.NoError(t, err)
	require.NotContains(t, string(b), "w-7", "no reference is frozen")
	back, err := lookback.ReadFrozen(b)
	require.NoError(t, err)
	require.Equal(t, f, back)
	n := 0
	for range Upto(lines([]byte(season().String())), 3) {
		n++
	}
	require.Equal(t, 3, n)
}
