package export

import (
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// What was gone through before a kit left stands in the columns of answers and reasons.
func TestTheShortListIsExported(t *testing.T) {
	f := facts{}
	f.take(reprocess.HandedOut{Loan: reprocess.Loan{ID: "L1", Cell: "T17", Checks: []reprocess.OutCheck{
		{Ask: "configured", Answer: "yes"}, {Ask: "slip", Answer: "no", Why: "other", Note: "no paper"},
		{Ask: "phone", Answer: "not_asked"}}}}, newNames())
	require.Equal(t, []string{"configured=yes", "slip=no", "phone=not_asked"}, f.lists[answerTexts])
	require.Equal(t, []string{"other", "no paper"}, f.lists[reasons])
	require.Equal(t, []string{"T17"}, f.lists[lotIDs])
}
