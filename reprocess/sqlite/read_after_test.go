package sqlite

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestEntriesAfterOne lists what follows an entry and not the entry itself.
func TestEntriesAfterOne(t *testing.T) {
	s := newBench(t)
	s.pool(2)
	s.bulk(s.history(2, 2))
	all, err := s.Entries(t.Context(), Filter{Kit: "K10", Act: reprocess.ActStep}, 0, 1000)
	require.NoError(t, err)
	require.Greater(t, len(all), 3)
	for i, e := range all {
		later, err := s.Entries(t.Context(), Filter{Kit: "K10", Act: reprocess.ActStep, After: e.Seq},
			0, 1000)
		require.NoError(t, err)
		require.Len(t, later, i)
		for j := range later {
			require.Equal(t, all[j].Seq, later[j].Seq)
		}
		before, err := s.Entries(t.Context(), Filter{Kit: "K10", Act: reprocess.ActStep,
			After: e.Seq}, e.Seq+1, 1000)
		require.NoError(t, err)
		require.Empty(t, before, "above and below at once")
	}
	require.False(t, Filter{After: 1}.All())
}

// TestOneActOfAKitIsFoundByItsIndex: the plan of the query (sqlite.org/eqp.html) goes by kit, act
// and number, so that its cost does not grow with the kit's history.
func TestOneActOfAKitIsFoundByItsIndex(t *testing.T) {
	s := newBench(t)
	f := Filter{Kit: "K10", Act: reprocess.ActUndo, Result: reprocess.ResultDone, After: 100}
	cond, args := f.where()
	rows, err := s.read.Query("EXPLAIN QUERY PLAN SELECT "+
		f.byIndex("e.body FROM act JOIN entry e ON e.seq = act.seq")+" WHERE "+cond+" AND act.seq BETWEEN ? AND ? ORDER BY act.seq DESC LIMIT ?",
		append(args, 1, 1<<40, 50)...)
	require.NoError(t, err)
	defer rows.Close()
	var plan []string
	for rows.Next() {
		var id, parent, unused int
		var detail string
		require.NoError(t, rows.Scan(&id, &parent, &unused, &detail))
		plan = append(plan, detail)
	}
	require.NoError(t, rows.Err())
	text := strings.Join(plan, "\n")
	require.Contains(t, text, "INDEX act_kit_act (kit=? AND act=? AND seq>?")
	require.NotContains(t, text, "TEMP B-TREE")
}
