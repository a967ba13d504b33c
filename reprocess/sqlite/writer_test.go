package sqlite

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

func TestOnePassOfAKit(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	b.work(kit, b.pieceOf(kit), "17")
	k, err := Get[reprocess.Kit](context.Background(), b.Store, reprocess.TableKit, kit)
	require.NoError(t, err)
	require.NotEmpty(t, k.Loan)
	p, err := Get[reprocess.Piece](context.Background(), b.Store, reprocess.TablePiece, k.Pieces[0])
	require.NoError(t, err)
	require.Equal(t, reprocess.Returned, p.State)
	require.Equal(t, 1, p.Cycles)
}
