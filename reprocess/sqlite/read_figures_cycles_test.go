package sqlite

import (
	"context"
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestCyclesAreReadOnceAndNeverOld: the same cycle as long as its row is the same; a corrected
// one is read again, and what was given before stays as it was.
func TestCyclesAreReadOnceAndNeverOld(t *testing.T) {
	ctx := context.Background()
	b := newBench(t)
	kit := b.register("17")
	b.work(kit, b.pieceOf(kit), "17")
	b.register("18")
	to := b.clock.now().UTC.Add(time.Hour)
	first, err := b.Figures(ctx, 0, to)
	require.NoError(t, err)
	require.Len(t, first.Cycles, 1)
	b.must(b.boss, reprocess.Move{Kit: kit, Place: "other shelf"})
	again, err := b.Figures(ctx, 0, to)
	require.NoError(t, err)
	require.NotSame(t, first, again)
	require.Same(t, first.Cycles[0], again.Cycles[0], "its row is the same")

	kept, err := json.Marshal(first.Cycles[0])
	require.NoError(t, err)
	b.onWriter(`UPDATE cycle SET doc = json_set(doc, '$.number', 41) WHERE open = 0`)
	b.must(b.boss, reprocess.Move{Kit: kit, Place: "third shelf"})
	later, err := b.Figures(ctx, 0, to)
	require.NoError(t, err)
	require.Equal(t, 41, later.Cycles[0].Number)
	still, err := json.Marshal(first.Cycles[0])
	require.NoError(t, err)
	require.Equal(t, string(kept), string(still))
}

// The list is that of the plain query, in its order, whatever of it is known already; a row that
// is no JSON is an error and no cycle.
func TestCyclesOfAPeriodAreThoseOfThePlainQuery(t *testing.T) {
	ctx := context.Background()
	b := inventedBench(t, 90)
	var m cycleMemo
	now := b.clock.now().UTC
	for _, span := range [][2]time.Duration{{60, 30}, {90, 0}, {45, 15}, {90, 0}, {30, 5}, {9500, 9400}} {
		from, to := now.Add(-span[0]*24*time.Hour), now.Add(-span[1]*24*time.Hour)
		got, err := m.ended(ctx, b.read, from, to)
		require.NoError(t, err)
		want, err := all[reprocess.Cycle](ctx, b.read, `SELECT doc FROM cycle WHERE open = 0 AND
			ended >= ? AND ended < ? ORDER BY ended, id`, int64(from), int64(to))
		require.NoError(t, err)
		require.Equal(t, want, got)
		require.Equal(t, span[0] == 9500, len(got) == 0, "%v: %d", span, len(got))
	}
	b.onWriter(`UPDATE cycle SET doc = '{' WHERE open = 0`)
	_, err := m.ended(ctx, b.read, 0, now)
	require.Error(t, err)
}

func TestTheMemoOfCyclesIsBounded(t *testing.T) {
	var m cycleMemo
	for round := range 3 {
		var jobs []cycleJob
		for i := range maxKept/2 + 1 {
			jobs = append(jobs, cycleJob{id: fmt.Sprint(round, "-", i), doc: []byte("{}"),
				cycle: new(reprocess.Cycle)})
		}
		m.keep(jobs)
		require.LessOrEqual(t, len(m.kept), maxKept)
		require.Same(t, jobs[0].cycle, m.of(jobs[0].id, []byte("{}")))
		require.Nil(t, m.of(jobs[0].id, []byte("{ }")))
		require.Nil(t, m.of(jobs[0].id, []byte("[]")), "as long, but another")
	}
	m.keep(make([]cycleJob, maxKept+9))
	require.LessOrEqual(t, len(m.kept), maxKept)
	require.NoError(t, readJobs(nil))
}
