package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// onWriter runs a statement on the writing connection.
func (b *bench) onWriter(query string) {
	b.Helper()
	require.NoError(b, b.side(context.Background(), func(tx *sql.Tx) error {
		_, err := tx.Exec(query)
		return err
	}), query)
}

// TestAnyFailingStatementLeavesNothing makes the writes to each table fail in turn, alone and
// within a batch: nothing of the command stays, the answer says so without foreign text, the
// same key then works, and the writer has not lost its place. (Fail-the-nth is how SQLite
// itself is tested: sqlite.org/testing.html, anomaly testing.)
func TestAnyFailingStatementLeavesNothing(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	kit := b.register("17")
	steps := b.passOf(kit, b.pieceOf(kit), "17")
	tables := []string{"entry", "node", "key", "act", "act_ref", "chain", "kit", "piece", "cycle"}
	for i, table := range tables {
		b.clock.pass(steps[i].after)
		r := b.request(b.boss, steps[i].cmd)
		if table == "piece" || table == "kit" { // these steps do not change them: let another do it
			r = b.request(b.boss, reprocess.PutOnHold{Kit: kit, Piece: b.pieceOf(kit),
				Reason: "other", Note: "looked odd"})
		}
		before, err := b.Size(ctx)
		require.NoError(t, err)
		b.onWriter(`CREATE TEMP TRIGGER boom BEFORE INSERT ON main.` + table +
			` BEGIN SELECT raise(ABORT, 'boom in ` + table + `'); END`)
		_, err = b.Do(ctx, r)
		require.Error(t, err, table)
		require.Equal(t, reprocess.Internal, reprocess.AsProblem(err).Code, table)
		require.NotContains(t, err.Error(), "boom")
		answers, err := b.DoMany(ctx, []Request{r, r})
		require.Error(t, err)
		require.Empty(t, answers)
		after, err := b.Size(ctx)
		require.NoError(t, err)
		require.Equal(t, before, after)
		verified(t, b.Dir())
		b.onWriter(`DROP TRIGGER temp.boom`)
		e, err := b.Do(ctx, r)
		require.NoError(t, err, table)
		require.Equal(t, before+1, e.Seq)
		if h, ok := r.Cmd.(reprocess.PutOnHold); ok {
			b.must(b.boss, reprocess.DecideHold{Kit: kit, Piece: h.Piece, Hold: e.Seq, To: "go_on",
				Reason: "was only dust"})
			b.must(b.boss, steps[i].cmd)
		}
	}
	verified(t, b.Dir())
}

// TestAFullDisk fills the file to its limit: what was answered stays, the person is told,
// reading goes on, and with room again so does writing. (Result code 13, SQLITE_FULL.)
func TestAFullDisk(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	kit := b.register("17")
	pages := pragma(t, b.read, "page_count")
	b.onWriter(`PRAGMA max_page_count = ` + pages)
	done, full := []int64{}, error(nil)
	for i := 0; full == nil; i++ {
		require.Less(t, i, 1000, "the disk never filled")
		e, err := b.Do(ctx, b.request(b.boss, reprocess.Move{Kit: kit,
			Place: fmt.Sprint("shelf ", i)}))
		if full = err; err == nil {
			done = append(done, e.Seq)
		}
	}
	p := reprocess.AsProblem(full)
	require.Equal(t, "disk_full", p.Rule)
	require.Equal(t, reprocess.Unavailable, p.Code)
	for _, seq := range done {
		_, err := b.Entry(ctx, seq)
		require.NoError(t, err)
	}
	_, err := b.KitWorld(ctx, kit)
	require.NoError(t, err)
	verified(t, b.Dir())
	b.onWriter(`PRAGMA max_page_count = 1000000`)
	b.must(b.boss, reprocess.Move{Kit: kit, Place: "shelf"})
	verified(t, b.Dir())
}
