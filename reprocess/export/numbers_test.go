package export

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// fiveEntries are bodies with nothing but what a choice reads, all of one moment.
func fiveEntries(yield func([]byte, error) bool) {
	for seq := 1; seq <= 5; seq++ {
		if !yield([]byte(fmt.Sprintf(`{"at":"2026-11-24T14:05:00.000Z","kit":"K%d","seq":%d}`,
			seq%2, seq)), nil) {
			return
		}
	}
}

// Numbers choose alone or together with kit and period; none chooses nothing, nil everything.
func TestOnlyTheseNumbers(t *testing.T) {
	at := reprocess.Instant(1_795_529_100_000) // 24 Nov 2026 14:05 UTC, by date(1)
	for name, x := range map[string]struct {
		choice Choice
		want   int64
	}{
		"nil":             {Choice{}, 5},
		"none":            {Choice{Only: &Numbers{}}, 0},
		"first and last":  {Choice{Only: &Numbers{1, 5}}, 2},
		"not there":       {Choice{Only: &Numbers{0, 6}}, 0},
		"and a kit":       {Choice{Only: &Numbers{1, 2, 5}, Kit: "K1"}, 2},
		"and a period":    {Choice{Only: &Numbers{1}, From: at, To: at + 1}, 1},
		"period is over":  {Choice{Only: &Numbers{1}, To: at}, 0},
		"period is ahead": {Choice{Only: &Numbers{1}, From: at + 1}, 0},
	} {
		var b bytes.Buffer
		n, err := WriteNDJSON(&b, fiveEntries, x.choice)
		require.NoError(t, err, name)
		require.Equal(t, x.want, n, name)
		require.Equal(t, int(x.want), bytes.Count(b.Bytes(), []byte{'\n'}), name)
	}
	require.True(t, Choice{}.All())
	require.False(t, Choice{Only: &Numbers{}}.All())
}
