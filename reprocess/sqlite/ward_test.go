package sqlite

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestAllKitsBringTheLoansOfWards: the cell that was fitted for a ward is on the ward's loan, so
// a stopped lot reaches its wearer there only when that loan is read with the kit. Source: our own
// rule that whatever a lot touched is listed.
func TestAllKitsBringTheLoansOfWards(t *testing.T) {
	b := newBench(t)
	kit := b.register("17")
	steps := b.passOf(kit, b.pieceOf(kit), "17")
	for _, s := range steps[:len(steps)-2] { // up to the release
		b.clock.pass(s.after)
		b.must(b.boss, s.cmd)
	}
	b.must(b.boss, reprocess.SetCounter{Counter: reprocess.Counter{
		Wards: []reprocess.Ward{{Name: "Ward 4"}}}})
	b.must(b.boss, reprocess.HandOut{Kit: kit, Ward: "Ward 4", Days: 5})
	b.must(b.boss, reprocess.WearAtWard{Kit: kit, Wearer: "w1"})
	w, err := b.AllKits(context.Background())
	require.NoError(t, err)
	worn := w.Loans[w.Kits[kit].Loan]
	require.True(t, worn.OnWard())
	require.True(t, w.Loans[worn.Under].ByWard())
	require.Len(t, reprocess.Reach(w, b.cells), 1)
}
