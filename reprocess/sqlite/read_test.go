package sqlite

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// TestAPageKnowsWhatTheRuleKnows walks a whole pass and asks before each step, on the page's
// partial world, what the writer's rule is about to be asked: the gate and the desk's answer
// may not differ for want of a fact.
func TestAPageKnowsWhatTheRuleKnows(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	kit := b.register("17")
	for _, s := range b.passOf(kit, b.pieceOf(kit), "17") {
		b.clock.pass(s.after)
		w, err := b.KitWorld(ctx, kit)
		require.NoError(t, err)
		whole, err := b.Everything(ctx)
		require.NoError(t, err)
		actor := reprocess.Actor{Person: whole.People["S1"], Signed: true}
		k := w.Kits[kit]
		require.Equal(t, reprocess.CanHandOut(whole, whole.Kits[kit], b.Now()),
			reprocess.CanHandOut(w, k, b.Now()))
		require.Equal(t, reprocess.GateOpen(whole, whole.Kits[kit], actor, b.Now()),
			reprocess.GateOpen(w, k, actor, b.Now()))
		if _, release := s.cmd.(reprocess.ReleaseKit); release {
			require.Nil(t, reprocess.GateOpen(w, k, actor, b.Now()))
		}
		require.NotEmpty(t, w.Containers)
		require.NotEmpty(t, w.Labels)
		require.Contains(t, w.Lots, b.cells)
		b.must(b.boss, s.cmd)
	}
}

// TestTheWholeWorldIsTheFold: what is read back equals what the entries fold to.
func TestTheWholeWorldIsTheFold(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	kit := b.register("17")
	b.work(kit, b.pieceOf(kit), "17")
	n, err := b.Size(ctx)
	require.NoError(t, err)
	folded := reprocess.NewWorld()
	count := int64(0)
	for body, err := range b.Bodies(ctx, 1, n) {
		require.NoError(t, err)
		e, err := readEntry(body)
		require.NoError(t, err)
		count++
		require.Equal(t, count, e.Seq)
		reprocess.Apply(folded, e)
	}
	require.Equal(t, n, count)
	folded.Touched()
	read, err := b.Everything(ctx)
	require.NoError(t, err)
	require.Equal(t, folded, read)
}

func TestBodiesInPages(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	kit := b.register("17")
	var moves []Request
	for i := range 2*bodiesPage + 3 {
		moves = append(moves, b.request(b.boss, reprocess.Move{Kit: kit, Place: fmt.Sprint(i)}))
	}
	b.bulk(moves)
	last, err := b.Size(ctx)
	require.NoError(t, err)
	for _, span := range [][2]int64{{1, last}, {1, bodiesPage}, {2, bodiesPage + 1}, {last, last},
		{5, 4}} {
		want := span[0]
		for body, err := range b.Bodies(ctx, span[0], span[1]) {
			require.NoError(t, err)
			env, err := ledger.ReadEnvelope(body)
			require.NoError(t, err)
			require.Equal(t, want, env.Seq)
			want++
		}
		require.Equal(t, span[1]+1, want)
	}
	var failed error
	for _, err := range b.Bodies(ctx, last, last+1) {
		failed = err
	}
	require.Equal(t, reprocess.NotFound, reprocess.AsProblem(failed).Code)
}

func TestListsOfKits(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	open, out, back, shelf := b.register("1"), b.register("2"), b.register("3"), b.register("4")
	for kit, steps := range map[string]int{open: 3, out: 12, back: 13, shelf: 11} {
		k, err := Get[reprocess.Kit](ctx, b.Store, reprocess.TableKit, kit)
		require.NoError(t, err)
		for _, s := range b.passOf(kit, k.Pieces[0], k.Number)[:steps] {
			b.clock.pass(s.after)
			b.must(b.boss, s.cmd)
		}
	}
	lists := map[string]struct {
		read func() (*reprocess.World, error)
		want []string
	}{
		"open":     {func() (*reprocess.World, error) { return b.OpenKits(ctx) }, []string{open, back}},
		"released": {func() (*reprocess.World, error) { return b.ReleasedKits(ctx) }, []string{shelf}},
		"out":      {func() (*reprocess.World, error) { return b.OutLoans(ctx) }, []string{out}},
		"all": {func() (*reprocess.World, error) { return b.AllKits(ctx) },
			[]string{open, out, back, shelf}},
	}
	whole, err := b.Everything(ctx)
	require.NoError(t, err)
	for name, list := range lists {
		w, err := list.read()
		require.NoError(t, err)
		require.ElementsMatch(t, list.want, keys(w.Kits), name)
		for id, k := range w.Kits {
			require.Equal(t, reprocess.KitState(whole.Kits[id], whole.Pieces),
				reprocess.KitState(k, w.Pieces), name)
			require.Equal(t, whole.Cycles[w.Pieces[k.Pieces[0]].Cycle],
				w.Cycles[w.Pieces[k.Pieces[0]].Cycle])
			require.Equal(t, whole.Loans[k.Loan], w.Loans[k.Loan])
		}
	}
	due := whole.Loans[whole.Kits[out].Loan].Due
	for day, want := range map[reprocess.Date]int{due: 0, due.AddDays(1): 1} {
		w, err := b.Overdue(ctx, day)
		require.NoError(t, err)
		require.Len(t, w.Kits, want, "due on the day itself is not overdue")
	}
}

func TestFindingThings(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	kit := b.register("17")
	piece := b.pieceOf(kit)
	b.work(kit, piece, "17")
	l, err := b.LabelByCode(ctx, code("17"))
	require.NoError(t, err)
	require.Equal(t, piece, l.Target)
	k, err := b.KitByNumber(ctx, "Main building", "17")
	require.NoError(t, err)
	require.Equal(t, kit, k.ID)
	p, err := b.PieceBySerial(ctx, "SN-17")
	require.NoError(t, err)
	require.Equal(t, piece, p.ID)
	cycles, err := b.CyclesOfPiece(ctx, piece, 10)
	require.NoError(t, err)
	require.Len(t, cycles, 1)
	loans, err := b.LoansOfKit(ctx, kit, 10)
	require.NoError(t, err)
	require.Len(t, loans, 1)
	byWearer, err := b.LoansOfWearer(ctx, "w17")
	require.NoError(t, err)
	require.Equal(t, loans, byWearer)
	labels, err := b.LabelsOf(ctx, piece)
	require.NoError(t, err)
	require.Equal(t, []*reprocess.Label{l}, labels)
	containers, err := b.Containers(ctx, "")
	require.NoError(t, err)
	require.Len(t, containers, 1)
	lots, err := b.Lots(ctx)
	require.NoError(t, err)
	require.Len(t, lots, 2)
	supplies, err := b.Supplies(ctx)
	require.NoError(t, err)
	require.Len(t, supplies.Lots, 2)

	for _, err := range []error{
		second(b.LabelByCode(ctx, "no")), second(b.KitByNumber(ctx, "Main building", "18")),
		second(b.KitByNumber(ctx, "Other", "17")), second(b.KitWorld(ctx, "K0")),
		second(b.Entry(ctx, 0)), second(Get[reprocess.Kit](ctx, b.Store, reprocess.TableKit, "")),
	} {
		require.Equal(t, reprocess.NotFound, reprocess.AsProblem(err).Code)
	}
	_, err = Get[reprocess.Kit](ctx, b.Store, "kit; DROP TABLE kit", "x")
	require.Error(t, err)
}

func second[T any](_ T, err error) error { return err }

func TestTheAuditTrailByFilter(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	kit, other := b.register("17"), b.register("18")
	piece := b.pieceOf(kit)
	begin := b.Now().UTC
	b.work(kit, piece, "17")
	b.refused("not_released", b.boss, reprocess.HandOut{Kit: other, Wearer: "w", Days: 3})
	n, err := b.Size(ctx)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		f    Filter
		want int64
	}{
		"all":      {Filter{}, n},
		"kit":      {Filter{Kit: kit}, 14},
		"other":    {Filter{Kit: other}, 2},
		"person":   {Filter{By: "console"}, 2},
		"act":      {Filter{Act: reprocess.ActStep}, 8},
		"refused":  {Filter{Result: reprocess.ResultRefused}, 1},
		"rule":     {Filter{Rule: "not_released"}, 1},
		"from":     {Filter{From: begin + 1}, 14},
		"to":       {Filter{To: begin + 1}, n - 14},
		"piece":    {Filter{Ref: reprocess.Ref{Table: reprocess.TablePiece, ID: piece}}, 14},
		"bottle":   {Filter{Ref: reprocess.Ref{Table: reprocess.TableContainer, ID: b.container}}, 2},
		"together": {Filter{Kit: kit, Act: reprocess.ActWet, By: "S1", From: begin}, 2},
		"none":     {Filter{Kit: "K0"}, 0},
	} {
		count, err := b.Count(ctx, c.f)
		require.NoError(t, err)
		require.Equal(t, c.want, count, name)
		// Pages of three give the same entries, newest first, each once.
		before, seen := int64(0), int64(0)
		for {
			page, err := b.Entries(ctx, c.f, before, 3)
			require.NoError(t, err)
			if len(page) == 0 {
				break
			}
			for _, e := range page {
				require.True(t, before == 0 || e.Seq < before, name)
				before, seen = e.Seq, seen+1
			}
		}
		require.Equal(t, c.want, seen, name)
	}
}

// TestTheKeptSetUpIsNeverStale: pages share the decoded small tables, and a change shows on
// the first page after its answer.
func TestTheKeptSetUpIsNeverStale(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	for i := range 20 {
		name := fmt.Sprintf("Pawn %d", i)
		model := id(b.must(b.boss, reprocess.SetModel{Model: reprocess.Model{Name: name,
			Kind: reprocess.Recorder}}))
		first, err := b.SetUp(ctx)
		require.NoError(t, err)
		require.Equal(t, name, first.Models[model].Name)
		first.Models["stray"] = nil // a page's own map
		again, err := b.SetUp(ctx)
		require.NoError(t, err)
		require.Same(t, first.Models[model], again.Models[model], "decoded once")
		require.NotContains(t, again.Models, "stray")
	}
}

func TestNowIsInTheZoneOfTheClinic(t *testing.T) {
	b := newBench(t)
	b.clock.ms.Store(time.Date(2026, 11, 24, 23, 30, 0, 0, time.UTC).UnixMilli())
	require.Equal(t, reprocess.Date("2026-11-25"), b.Now().Today(), "Berlin is an hour ahead")
	b.must(b.boss, reprocess.SetSettings{Settings: reprocess.Settings{Zone: "America/Lima"}})
	require.Equal(t, reprocess.Date("2026-11-24"), b.Now().Today())
	kit := b.register("17")
	e := b.must(b.boss, reprocess.Move{Kit: kit, Place: "x"})
	require.Equal(t, "2026-11-24T23:30:03.000Z", e.At.String(), "entries are in UTC all the same")
}
