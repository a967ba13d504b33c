package sqlite

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/figures"
)

// TestFiguresAreCountedOnceAsLongAsNothingHappens: the same facts while no entry is added, new
// ones after any; source: our own rule that all of them follow from the entries.
func TestFiguresAreCountedOnceAsLongAsNothingHappens(t *testing.T) {
	ctx := context.Background()
	b := newBench(t)
	kit := b.register("17")
	b.work(kit, b.pieceOf(kit), "17")
	to := b.clock.now().UTC.Add(1)
	first, err := b.Figures(ctx, 0, to)
	require.NoError(t, err)
	require.Len(t, first.Cycles, 1)
	again, err := b.Figures(ctx, 0, to)
	require.NoError(t, err)
	require.Same(t, first, again)
	other, err := b.Figures(ctx, 1, to)
	require.NoError(t, err)
	require.NotSame(t, first, other, "another period")

	b.must(b.boss, reprocess.Move{Kit: kit, Place: "other shelf"})
	moved, err := b.Figures(ctx, 0, to)
	require.NoError(t, err)
	require.NotSame(t, first, moved)
	require.Equal(t, "other shelf", moved.World.Kits[kit].Place)
	require.NotEqual(t, "other shelf", first.World.Kits[kit].Place, "what was given stays")

	b.refused("no_cycle", b.boss, reprocess.ReleaseKit{Kit: kit})
	last, err := b.Figures(ctx, 0, to.Add(24*time.Hour))
	require.NoError(t, err)
	require.Len(t, last.Refused, 1, "a refusal is an entry too")
}

// The memo never holds more than its bound, and never facts of an older record for a newer one.
func TestTheMemoOfFiguresIsBounded(t *testing.T) {
	var m figuresMemo
	old, young := &figures.Facts{}, &figures.Facts{}
	m.put(5, figuresSpan{0, 1}, young)
	m.put(4, figuresSpan{0, 2}, old)
	require.Nil(t, m.get(5, figuresSpan{0, 2}))
	require.Nil(t, m.get(4, figuresSpan{0, 1}))
	require.Same(t, young, m.get(5, figuresSpan{0, 1}))
	for i := range reprocess.Instant(3 * maxSpans) {
		m.put(5, figuresSpan{i, i + 1}, young)
		require.LessOrEqual(t, len(m.facts), maxSpans)
	}
}
