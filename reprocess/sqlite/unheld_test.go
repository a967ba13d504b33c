package sqlite

import (
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

func TestFilesUnderALegalHoldStay(t *testing.T) {
	b := newBench(t)
	k1, k2 := b.register("31"), b.register("32")
	loan, _ := b.lent(t, k1, "A-1")
	e1 := b.must(reprocess.Console(), reprocess.TakeBack{Kit: k1})
	e2 := b.must(reprocess.Console(), reprocess.TakeBack{Kit: k2})
	book := reprocess.FileBook{"f1": {SHA256: "f1", Seq: e1.Seq, At: e1.At},
		"f2": {SHA256: "f2", Seq: e2.Seq, At: e2.At}}
	day := reprocess.DateIn(e1.At, nil)
	for _, row := range []struct {
		hold *reprocess.LegalHold
		want []string
	}{
		{nil, []string{"f1", "f2"}},
		{&reprocess.LegalHold{Kit: k1}, []string{"f2"}},
		{&reprocess.LegalHold{Loan: loan}, []string{"f2"}},
		{&reprocess.LegalHold{From: day, To: day}, nil},
		{&reprocess.LegalHold{From: day.AddDays(3)}, []string{"f1", "f2"}},
	} {
		var holds reprocess.Holds
		if row.hold != nil {
			holds = reprocess.Holds{row.hold}
		}
		got, err := b.unheld(ctx, []string{"f1", "f2"}, book, holds)
		require.NoError(t, err)
		require.Equal(t, row.want, got)
	}
}
