package sqlite

import (
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// lent hands a kit out under a reference, after the fact, and takes it back.
func (b *bench) lent(t *testing.T, kit, reference string) (loan, token string) {
	t.Helper()
	token, err := b.WearerToken(ctx, reference)
	require.NoError(t, err)
	boss := reprocess.Console()
	e := b.must(boss, reprocess.HandOutAfter{Kit: kit, Wearer: token, Reason: "from the box"})
	loan = e.Events[0].Event.(reprocess.HandedOut).ID
	b.clock.pass(time.Hour)
	b.must(boss, reprocess.TakeBack{Kit: kit})
	return loan, token
}

func TestErasedLinksStayErased(t *testing.T) {
	b := newBench(t)
	k1, k2 := b.register("31"), b.register("32")
	l1, t1 := b.lent(t, k1, "A-1")
	_, t2 := b.lent(t, k2, "A-2")
	kept, err := os.ReadFile(b.path(wearersName))
	require.NoError(t, err)
	console := Request{Actor: reprocess.Console()}

	_, err = b.EraseLink(ctx, console, reprocess.EraseWearer{Kit: k1, Loan: l1})
	require.Equal(t, "empty", rule(err))
	ref, err := b.WearerRef(ctx, t1)
	require.NoError(t, err)
	require.Equal(t, "A-1", ref, "a refusal erases nothing")
	_, err = b.EraseLink(ctx, console, reprocess.EraseWearer{Kit: k1, Loan: "L0", Reason: "r"})
	require.Equal(t, "unknown", rule(err))

	e, err := b.EraseLink(ctx, console,
		reprocess.EraseWearer{Kit: k1, Loan: l1, Reason: "the wearer asked"})
	require.NoError(t, err)
	require.Equal(t, t1, e.Events[0].Event.(reprocess.WearerErased).Token)
	_, err = b.WearerRef(ctx, t1)
	require.Equal(t, "erased", rule(err))
	loans, err := b.LinkLoans(ctx, "", -1)
	require.NoError(t, err)
	require.Len(t, loans, 1)

	// An older copy of the file brings the link back; the daily run erases it again.
	_, err = b.wearers.Exec(`UPDATE link SET reference = 'A-1', erased = 0 WHERE token = ?`, t1)
	require.NoError(t, err)
	n, err := b.EraseDue(ctx)
	require.NoError(t, err)
	require.Equal(t, 1, n)
	_, err = b.WearerRef(ctx, t1)
	require.Equal(t, "erased", rule(err))
	require.NotEmpty(t, kept)

	b.must(reprocess.Console(), reprocess.SetRetention{Days: 30, Reason: "policy"})
	b.clock.pass(29 * 24 * time.Hour)
	n, err = b.EraseDue(ctx)
	require.NoError(t, err)
	require.Zero(t, n)
	hold := b.must(reprocess.Console(), reprocess.SetLegalHold{Kit: k2, Reason: "a claim"})
	b.clock.pass(24 * time.Hour)
	due, held, err := b.DueLinks(ctx)
	require.NoError(t, err)
	require.Empty(t, due)
	require.Len(t, held, 1)
	n, err = b.EraseDue(ctx)
	require.NoError(t, err)
	require.Zero(t, n)
	b.must(reprocess.Console(), reprocess.LiftLegalHold{
		Hold: hold.Events[0].Event.(reprocess.LegalHoldSet).ID, Reason: "settled"})
	n, err = b.EraseDue(ctx)
	require.NoError(t, err)
	require.Equal(t, 1, n)
	_, err = b.WearerRef(ctx, t2)
	require.Equal(t, "erased", rule(err))

	r, err := Verify(ctx, b.dir, VerifyOptions{})
	require.NoError(t, err)
	require.Empty(t, r.Difference, "an erased link is no difference")
}
