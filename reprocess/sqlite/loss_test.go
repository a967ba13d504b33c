package sqlite

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestALossOutlastsTheKitItLeft: a lost phone that another one stands in for is still lost when
// the kit comes back, although it is no piece of the kit any more; the writer has to load it with
// the kit, from a cold cache as well. Source: our own rule that a loss ends when every piece of it
// is there again.
func TestALossOutlastsTheKitItLeft(t *testing.T) {
	for _, cold := range []bool{false, true} {
		b := newBench(t)
		phone := id(b.must(b.boss, reprocess.SetModel{Model: reprocess.Model{Name: "Wren 2",
			Kind: reprocess.Phone}}))
		withPhone := func(number string) string {
			r := registration(b.recorder, number)
			r.Phone = &reprocess.NewPiece{Model: phone, Serial: "PN-" + number, Code: code("P" + number)}
			return id(b.must(b.boss, r))
		}
		pieces := func(kit string) []string {
			k, err := Get[reprocess.Kit](context.Background(), b.Store, reprocess.TableKit, kit)
			require.NoError(t, err)
			return k.Pieces
		}
		loss := func(kit string) *reprocess.Loss {
			k, err := Get[reprocess.Kit](context.Background(), b.Store, reprocess.TableKit, kit)
			require.NoError(t, err)
			return k.Loss
		}
		kit, other := withPhone("17"), withPhone("18")
		own, lent := pieces(kit), pieces(other)
		b.must(b.boss, reprocess.DeclareMissing{Kit: kit, Pieces: own[1:], Data: reprocess.DataUnknown})
		b.must(b.boss, reprocess.Compose{Kit: kit, Pieces: []string{own[0], lent[1]}})
		if cold {
			require.NoError(t, b.Close())
			b.Store = open(t, b.Dir(), b.clock)
		}
		b.must(b.boss, reprocess.TakeBack{Kit: kit})
		require.True(t, loss(kit).Open(), "the phone is still gone")
		verified(t, b.Dir())
		b.must(b.boss, reprocess.TellLoss{Kit: kit, Who: "Data protection"})
		verified(t, b.Dir())
	}
}
