package sqlite

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// swapBench has two released kits, the first of them out.
func swapBench(t *testing.T) (b *bench, from, to string) {
	b = newBench(t)
	from, to = b.register("17"), b.register("19")
	for kit, number := range map[string]string{from: "17", to: "19"} {
		b.toShelf(kit, number)
	}
	b.must(b.boss, reprocess.HandOut{Kit: from, Wearer: "w1", Days: 14})
	return b, from, to
}

// toShelf works a kit up to its release and no further.
func (b *bench) toShelf(kit, number string) {
	b.Helper()
	for _, s := range b.passOf(kit, b.pieceOf(kit), number) {
		b.clock.pass(s.after)
		b.must(b.boss, s.cmd)
		if s.cmd.Act() == reprocess.ActRelease {
			return
		}
	}
}

func (b *bench) halves(from, to, key string) (Request, Request) {
	out, in := reprocess.Swap{From: from, To: to, Return: reprocess.Return{Fault: "yes"},
		Recording: reprocess.RecordingUnknown}.Halves()
	first, second := b.request(b.boss, out), b.request(b.boss, in)
	first.Key, second.Key = key, key+"-b"
	return first, second
}

// Both halves stand, each in the chain of its own kit, and sent twice they count once.
func TestASwapIsTwoEntriesInOneTransaction(t *testing.T) {
	b, from, to := swapBench(t)
	ctx := context.Background()
	before, err := b.Size(ctx)
	require.NoError(t, err)
	first, second := b.halves(from, to, "k1")
	for range 2 {
		e, err := b.DoBoth(ctx, first, second)
		require.NoError(t, err)
		require.Equal(t, to, e.Kit)
	}
	after, err := b.Size(ctx)
	require.NoError(t, err)
	require.Equal(t, before+2, after)
	in, err := b.Entries(ctx, Filter{Kit: from, Act: reprocess.ActSwap}, 0, 5)
	require.NoError(t, err)
	require.Len(t, in, 1)
	verified(t, b.Dir())
	refused, other := b.halves(from, to, "k2")
	_, err = b.DoBoth(ctx, refused, other)
	require.Equal(t, "not_out", reprocess.AsProblem(err).Rule)
	last, err := b.Size(ctx)
	require.NoError(t, err)
	require.Equal(t, after+1, last, "the refusal is one entry; its other half leaves none")
	verified(t, b.Dir())
}

// A write that fails for one half takes the other with it, whichever it is.
func TestASwapThatCannotBeWrittenLeavesNothing(t *testing.T) {
	b, from, to := swapBench(t)
	ctx := context.Background()
	for half := range int64(2) {
		before, err := b.Size(ctx)
		require.NoError(t, err)
		b.onWriter(fmt.Sprintf(`CREATE TEMP TRIGGER boom BEFORE INSERT ON main.entry
			WHEN NEW.seq = %d BEGIN SELECT raise(ABORT, 'boom'); END`, before+1+half))
		first, second := b.halves(from, to, fmt.Sprint("k", half))
		_, err = b.DoBoth(ctx, first, second)
		require.Equal(t, reprocess.Internal, reprocess.AsProblem(err).Code)
		after, err := b.Size(ctx)
		require.NoError(t, err)
		require.Equal(t, before, after, "half %d", half)
		b.onWriter(`DROP TRIGGER temp.boom`)
		w, err := b.KitWorld(ctx, from)
		require.NoError(t, err)
		require.True(t, w.Loans[w.Kits[from].Loan].Open())
	}
	first, second := b.halves(from, to, "k9")
	_, err := b.DoBoth(ctx, first, second)
	require.NoError(t, err)
	verified(t, b.Dir())
}

// A ward's loan and its wearers', with the server started anew between all acts: what is read
// is what was folded.
func TestWardsAreReadBack(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	b.toShelf(kit, "17")
	again := func() {
		require.NoError(t, b.Close())
		b.Store = open(t, b.Dir(), b.clock)
	}
	b.must(b.boss, reprocess.SetCounter{Counter: reprocess.Counter{
		Wards: []reprocess.Ward{{Name: "Ward 4", Ring: "ext. 2140"}}}})
	for _, cmd := range []reprocess.Command{
		reprocess.HandOut{Kit: kit, Ward: "Ward 4", Days: 10},
		reprocess.WearAtWard{Kit: kit, Wearer: "w1", Flags: []string{"respiratory"}},
		reprocess.Extend{Kit: kit, Days: 12},
		reprocess.BackOnWard{Kit: kit},
		reprocess.HandOutAfter{Kit: kit, Wearer: "w2", Reason: "the next bed"},
		reprocess.TakeBack{Kit: kit, Return: reprocess.Return{Worn: "2"}},
	} {
		again()
		b.must(b.boss, cmd)
		verified(t, b.Dir())
	}
	loans, err := b.LoansOfKit(context.Background(), kit, 9)
	require.NoError(t, err)
	require.Len(t, loans, 3)
	for _, l := range loans {
		require.False(t, l.Open(), l.ID)
	}
	late, err := b.Overdue(context.Background(), "2999-01-01")
	require.NoError(t, err)
	require.Empty(t, late.Kits)
}

// Losses and repairs, with the server started anew between all acts.
func TestLossesAndRepairsAreReadBack(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	piece := b.pieceOf(kit)
	b.toShelf(kit, "17")
	for _, cmd := range []reprocess.Command{
		reprocess.DeclareMissing{Kit: kit, Data: reprocess.DataYes, Note: "left in a taxi"},
		reprocess.TellLoss{Kit: kit, Who: "Data protection"},
		reprocess.TakeBack{Kit: kit},
		reprocess.SendToRepair{Kit: kit, Piece: piece, Declaration: reprocess.StillContaminated,
			Left: "dust; bagged", Reason: "clip", To: "a workshop", Expected: "2099-01-01"},
		reprocess.ExpectRepair{Kit: kit, Piece: piece, Expected: "2099-02-01"},
		reprocess.RepairBack{Kit: kit, Piece: piece, Outcome: "repaired", Cost: 8450, Currency: "EUR"},
	} {
		require.NoError(t, b.Close())
		b.Store = open(t, b.Dir(), b.clock)
		b.must(b.boss, cmd)
		verified(t, b.Dir())
	}
	w, err := b.Pieces(context.Background())
	require.NoError(t, err)
	require.NotZero(t, w.Kits[kit].Loss.Found)
	require.Equal(t, "Data protection", w.Kits[kit].Loss.ToldWho)
	r := w.Pieces[piece].Repair
	require.Equal(t, reprocess.Date("2099-02-01"), r.Expected)
	require.EqualValues(t, 8450, r.Cost)
}
