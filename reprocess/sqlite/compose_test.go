package sqlite

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestAPieceMovesBetweenKits: the kit that a piece leaves is changed although the command does
// not name it, so the writer has to load it with the piece, from a cold cache as well. Source:
// our own rule that a piece is in one kit at a time.
func TestAPieceMovesBetweenKits(t *testing.T) {
	for _, cold := range []bool{false, true} {
		b := newBench(t)
		ctx := context.Background()
		from, to := b.register("17"), b.register("18")
		moved, displaced := b.pieceOf(from), b.pieceOf(to)
		steps := b.passOf(from, moved, "17")
		for _, s := range steps[:len(steps)-2] { // up to the release
			b.clock.pass(s.after)
			b.must(b.boss, s.cmd)
		}
		if cold {
			require.NoError(t, b.Close())
			b.Store = open(t, b.Dir(), b.clock)
		}
		b.must(b.boss, reprocess.Compose{Kit: to, Pieces: []string{moved}})
		old, err := Get[reprocess.Kit](ctx, b.Store, reprocess.TableKit, from)
		require.NoError(t, err)
		require.Empty(t, old.Pieces)
		require.Nil(t, old.Release)
		for piece, kit := range map[string]string{moved: to, displaced: ""} {
			p, err := Get[reprocess.Piece](ctx, b.Store, reprocess.TablePiece, piece)
			require.NoError(t, err)
			require.Equal(t, kit, p.Kit, piece)
		}
		b.refused("not_released", b.boss, reprocess.HandOut{Kit: from, Wearer: "w", Days: 3})
		verified(t, b.Dir())
		b.must(b.boss, reprocess.Compose{Kit: from, Pieces: []string{displaced}})
		verified(t, b.Dir())
	}
}
