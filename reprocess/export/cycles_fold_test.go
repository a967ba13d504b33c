package export

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// history is the kept history in which every kind of event happens.
func history(t *testing.T) Entries {
	t.Helper()
	f, err := os.Open("../sqlite/testdata/history.jsonl.gz")
	require.NoError(t, err)
	t.Cleanup(func() { f.Close() })
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	var bodies [][]byte
	lines := bufio.NewScanner(z)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		bodies = append(bodies, bytes.Clone(lines.Bytes()))
	}
	require.NoError(t, lines.Err())
	require.Greater(t, len(bodies), 300)
	return func(yield func([]byte, error) bool) {
		for _, b := range bodies {
			if !yield(b, nil) {
				return
			}
		}
	}
}

// rowsWith folds with room for so many cycles and gives every row of the table of cycles.
func rowsWith(t *testing.T, entries Entries, slack int) (rows []string, packed int) {
	t.Helper()
	f := newFold()
	f.slack = slack
	for line, err := range inOrder(entries) {
		require.NoError(t, err)
		require.NoError(t, f.take(line.Entry))
	}
	for _, a := range f.about {
		if a.packed != nil {
			packed++
		}
	}
	for _, id := range f.order {
		row, err := f.cycle(id)
		require.NoError(t, err)
		require.NotNil(t, row, id)
		var b bytes.Buffer
		out, err := newCSV(&b, cycleColumns)
		require.NoError(t, err)
		require.NoError(t, out.row(row))
		rows = append(rows, b.String())
	}
	return rows, packed
}

// TestPackedCyclesGiveTheSameRows: with no room at all every cycle is packed as soon as its piece
// stands in another, and taken out again whenever it is named.
func TestPackedCyclesGiveTheSameRows(t *testing.T) {
	entries := history(t)
	whole, none := rowsWith(t, entries, 1<<20)
	require.Zero(t, none)
	require.Greater(t, len(whole), 20)
	tight, packed := rowsWith(t, entries, -1<<20)
	require.Positive(t, packed)
	require.Equal(t, whole, tight)
}

// TestCyclesNamedByEvents: an event that has a cycle and is not asked for it would change one that
// is packed, unseen. Those that change only the cycle their piece stands in are listed.
func TestCyclesNamedByEvents(t *testing.T) {
	elsewhere := map[string]string{"repair_sent": "the repair remembers it",
		"cycle_restarted":  "only while its piece stands in it",
		"sample_drawn":     "it only lists what it drew from",
		"sample_read":      "it only says what was read there",
		"piece_registered": "the one that the piece stands in"}
	for _, name := range reprocess.EventNames() {
		for _, facts := range []string{`{"cycle":"Y1"}`, `{"cycles":["Y1"]}`,
			`{"cycles":[{"piece":"P1","cycle":"Y1"}]}`, `{"repair":{"cycle":"Y1"}}`} {
			var b reprocess.Box
			text := fmt.Sprintf(`{"data":%s,"event":%q}`, facts, name)
			if json.Unmarshal([]byte(text), &b) != nil {
				continue // it has no such member
			}
			if elsewhere[name] == "" {
				require.Equal(t, []string{"Y1"}, cyclesNamed(b.Event), name)
			}
		}
	}
}

// TestTheFoldHoldsTheWorkInHand: cycles in the world stay few, and nothing else collects beside
// what is packed, however long the history.
func TestTheFoldHoldsTheWorkInHand(t *testing.T) {
	f, most := newFold(), 0
	f.slack = 3
	add := func(seq int64, events ...reprocess.Event) {
		e := &reprocess.Entry{Seq: seq, At: reprocess.Instant(seq), Result: reprocess.ResultDone,
			Kit: "K1"}
		for _, ev := range events {
			e.Events = append(e.Events, reprocess.Box{Event: ev})
		}
		require.NoError(t, f.take(e))
		most = max(most, len(f.w.Cycles))
	}
	add(1, reprocess.PieceRegistered{Piece: reprocess.Piece{ID: "P1", Kit: "K1"}})
	for n := int64(2); n < 1000; n += 2 {
		id := fmt.Sprint("Y", n)
		add(n, reprocess.CycleOpened{Cycle: id, Piece: "P1", Kit: "K1", Number: int(n)},
			reprocess.HandedOut{Loan: reprocess.Loan{ID: fmt.Sprint("L", n), Kit: "K1"}},
			reprocess.ContainerOpened{Container: reprocess.Container{ID: fmt.Sprint("C", n)}})
		add(n+1, reprocess.StepRecorded{Cycle: id, Piece: "P1",
			Record: reprocess.Record{Kind: reprocess.RecAnswer, Step: reprocess.StepCleaning}})
	}
	require.LessOrEqual(t, most, 3+2+1)
	require.Empty(t, f.w.Loans)
	require.Empty(t, f.w.Containers)
	require.Len(t, f.order, 499)
	for i, id := range f.order {
		row, err := f.cycle(id)
		require.NoError(t, err)
		require.Equal(t, 2*i+2, row.Number)
		require.Len(t, row.Records, 1)
		if packed := f.about[id].packed; packed != nil {
			require.Less(t, len(packed), 200)
		}
	}
}

// TestDamagedPacking is an error and no other cycle.
func TestDamagedPacking(t *testing.T) {
	var p packer
	b, err := p.pack(&reprocess.Cycle{ID: "Y1", Piece: "P1"})
	require.NoError(t, err)
	_, err = p.unpack(b[:len(b)-2])
	require.Error(t, err)
	back, err := p.unpack(b)
	require.NoError(t, err)
	require.Equal(t, &reprocess.Cycle{ID: "Y1", Piece: "P1"}, back)
}
