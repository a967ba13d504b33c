package sqlite

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// The answers of the table are compared with a walk over all entries.
func TestFiltersAgreeWithAWalk(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	kit, other := b.register("17"), b.register("18")
	b.work(kit, b.pieceOf(kit), "17")
	b.must(b.boss, reprocess.Move{Kit: other, Place: `shelf "A" 50% \ under_score`})
	last, err := b.Size(ctx)
	require.NoError(t, err)
	c, err := Get[reprocess.Container](ctx, b.Store, reprocess.TableContainer, b.container)
	require.NoError(t, err)
	for name, x := range map[string]struct {
		f    Filter
		want func(*reprocess.Entry) bool
	}{
		"kits": {Filter{Kits: []string{kit, other}}, func(e *reprocess.Entry) bool { return e.Kit != "" }},
		"lot": {Filter{Lots: []string{c.Lot, "none"}}, func(e *reprocess.Entry) bool {
			return names(e, reprocess.TableLot, c.Lot)
		}},
		"container": {Filter{Boxes: []string{b.container}}, func(e *reprocess.Entry) bool {
			return names(e, reprocess.TableContainer, b.container)
		}},
		"quotes":    {Filter{Words: []string{`"a"`}}, moved},
		"percent":   {Filter{Words: []string{"50%"}}, moved},
		"backslash": {Filter{Words: []string{`\`}}, moved},
		"underline": {Filter{Words: []string{"r_s", "SHELF"}}, moved},
		"no name of a member": {Filter{Words: []string{"mono"}},
			func(*reprocess.Entry) bool { return false }},
		"two words of which one is missing": {Filter{Words: []string{"shelf", "zebra"}},
			func(*reprocess.Entry) bool { return false }},
	} {
		var want []int64
		for seq := int64(1); seq <= last; seq++ {
			e, err := b.Entry(ctx, seq)
			require.NoError(t, err)
			if x.want(e) {
				want = append(want, seq)
			}
		}
		got, err := b.Numbers(ctx, x.f, last)
		require.NoError(t, err)
		require.Equal(t, want, got, name)
		n, err := b.Count(ctx, x.f)
		require.NoError(t, err)
		require.Equal(t, int64(len(want)), n, name)
	}
}

func moved(e *reprocess.Entry) bool { return e.Act == reprocess.ActMove }

func names(e *reprocess.Entry, table reprocess.Table, id string) bool {
	for _, b := range e.Events {
		for _, r := range refsOf(b.Event) {
			if r == (reprocess.Ref{Table: table, ID: id}) {
				return true
			}
		}
	}
	return false
}

// A procedure version finds its approval and every entry that names a cycle under it.
func TestTheTrailOfAProcedure(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	kit := b.register("17")
	b.work(kit, b.pieceOf(kit), "17")
	last, err := b.Size(ctx)
	require.NoError(t, err)
	got, err := b.Numbers(ctx, Filter{Procedure: b.procedure + "@1"}, last)
	require.NoError(t, err)
	acts := map[reprocess.Act]bool{}
	for _, seq := range got {
		e, err := b.Entry(ctx, seq)
		require.NoError(t, err)
		acts[e.Act] = true
	}
	for _, act := range []reprocess.Act{reprocess.ActProcedure, reprocess.ActStep,
		reprocess.ActWet, reprocess.ActRelease} {
		require.True(t, acts[act], act)
	}
	require.False(t, acts[reprocess.ActRegister])
	got, err = b.Numbers(ctx, Filter{Procedure: b.procedure + "@2"}, last)
	require.NoError(t, err)
	require.Empty(t, got)
}

// Every entry is proved under the newest checkpoint; the proof fails for other bytes; a newer
// entry has none.
func TestProofs(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	p, err := b.Proof(ctx, 1)
	require.NoError(t, err)
	require.Zero(t, p.Checkpoint.Size, "nothing is signed yet")
	_, err = b.Checkpoint(ctx)
	require.NoError(t, err)
	size, err := b.Size(ctx)
	require.NoError(t, err)
	for seq := int64(1); seq <= size; seq++ {
		p, err := b.Proof(ctx, seq)
		require.NoError(t, err)
		body, err := b.Body(ctx, seq)
		require.NoError(t, err)
		cp := p.Checkpoint
		require.Equal(t, size, cp.Size)
		require.NoError(t, ledger.CheckEntry(p.Path, seq, ledger.LeafHash(body), size, cp.Root))
		body[len(body)/2] ^= 1
		require.Error(t, ledger.CheckEntry(p.Path, seq, ledger.LeafHash(body), size, cp.Root))
	}
	b.register("17")
	p, err = b.Proof(ctx, size+1)
	require.NoError(t, err)
	require.Empty(t, p.Path)
	_, err = b.Proof(ctx, size+99)
	require.Equal(t, reprocess.NotFound, reprocess.AsProblem(err).Code)
	list, err := b.Checkpoints(ctx, 5)
	require.NoError(t, err)
	require.Len(t, list, 1)
	_, err = b.CheckpointOf(ctx, size+1)
	require.Equal(t, reprocess.NotFound, reprocess.AsProblem(err).Code)
}

// The window is half open, and the order does not depend on how rows were written.
func TestReleasedCycles(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	var ids []string
	for _, number := range []string{"17", "18"} {
		kit := b.register(number)
		b.work(kit, b.pieceOf(kit), number)
		w, err := b.Everything(ctx)
		require.NoError(t, err)
		for _, c := range w.Cycles {
			if c.Kit == kit {
				ids = append(ids, c.ID)
			}
		}
		b.clock.pass(time.Hour)
	}
	list, err := b.ReleasedCycles(ctx, 0, b.Now().UTC)
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.Equal(t, ids, []string{list[0].ID, list[1].ID})
	first := list[0].Ended
	list, err = b.ReleasedCycles(ctx, first, first+1)
	require.NoError(t, err)
	require.Len(t, list, 1)
	list, err = b.ReleasedCycles(ctx, first+1, b.Now().UTC)
	require.NoError(t, err)
	require.Len(t, list, 1)
	list, err = b.ReleasedCycles(ctx, 0, first)
	require.NoError(t, err)
	require.Empty(t, list)
	entries, err := b.ReleaseEntries(ctx, append(ids, "none"))
	require.NoError(t, err)
	require.Zero(t, entries["none"])
	e, err := b.Entry(ctx, entries[ids[0]])
	require.NoError(t, err)
	require.Equal(t, reprocess.ActRelease, e.Act)
}

// Rows bring what they belong to; a name that is not there is left out and no error.
func TestNamedAndAround(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	kit := b.register("17")
	piece := b.pieceOf(kit)
	b.work(kit, piece, "17")
	whole, err := b.Everything(ctx)
	require.NoError(t, err)
	cycle := whole.Pieces[piece].Cycle
	w, err := b.Named(ctx, reprocess.Ref{Table: reprocess.TableCycle, ID: cycle},
		reprocess.Ref{Table: reprocess.TableLoan, ID: "none"})
	require.NoError(t, err)
	require.Equal(t, whole.Cycles[cycle], w.Cycles[cycle])
	require.Equal(t, whole.Kits[kit], w.Kits[kit])
	require.Equal(t, whole.Pieces[piece], w.Pieces[piece])
	require.Empty(t, w.Loans)
	list, err := b.Entries(ctx, Filter{Act: reprocess.ActWet}, 0, 1)
	require.NoError(t, err)
	w, err = b.Around(ctx, list)
	require.NoError(t, err)
	require.Contains(t, w.Kits, kit)
	require.Contains(t, w.Pieces, piece)
	kits, err := b.KitsNumbered(ctx, "17")
	require.NoError(t, err)
	require.Len(t, kits, 1)
	lots, err := b.LotsNumbered(ctx, "W-77")
	require.NoError(t, err)
	require.Len(t, lots, 1)
	boxes, err := b.ContainersNumbered(ctx, b.container)
	require.NoError(t, err)
	require.Len(t, boxes, 1)
}

// The roll call is true: what it says is computed again by the reader of evidence.
func TestCallRoll(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	b.register("17")
	console := reprocess.Console()
	require.NoError(t, b.CallRoll(ctx, console))
	last, err := b.Size(ctx)
	require.NoError(t, err)
	body, err := b.Body(ctx, last)
	require.NoError(t, err)
	called, err := ledger.ReadRollCalled(body)
	require.NoError(t, err)
	heads, _, err := b.Heads(ctx)
	require.NoError(t, err)
	root, err := ledger.RollRoot(heads)
	require.NoError(t, err)
	require.Equal(t, root, called.Root)
	nobody := reprocess.Actor{Person: &reprocess.Person{ID: "S77", Name: "Nobody"}}
	require.Error(t, b.CallRoll(ctx, nobody))
}

// TestCountTo counts as far as it is asked, and like Count below that.
func TestCountTo(t *testing.T) {
	ctx := context.Background()
	b := newBench(t)
	kit := b.register("17")
	b.work(kit, b.pieceOf(kit), "17")
	b.refused("no_cycle", b.boss, reprocess.ReleaseKit{Kit: kit})
	all, err := b.Size(ctx)
	require.NoError(t, err)
	for _, f := range []Filter{{}, {Kit: kit}, {Result: reprocess.ResultDone}, {Kit: "K999"},
		{Result: reprocess.ResultRefused}, {Words: []string{"booklet"}}} {
		whole, err := b.Count(ctx, f)
		require.NoError(t, err)
		for _, most := range []int64{0, 1, whole - 1, whole, whole + 1, all} {
			if most < 0 {
				continue
			}
			n, err := b.CountTo(ctx, f, most)
			require.NoError(t, err)
			require.Equal(t, min(whole, most+1), n, "%+v to %d", f, most)
		}
	}
	n, err := b.Count(ctx, Filter{})
	require.NoError(t, err)
	require.Equal(t, all, n)
	n, err = b.Count(ctx, Filter{Result: reprocess.ResultRefused})
	require.NoError(t, err)
	require.Equal(t, int64(1), n)
	require.True(t, Filter{}.All())
	require.False(t, Filter{Kit: kit}.All())
}
