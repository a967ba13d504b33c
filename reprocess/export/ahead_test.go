package export

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/ledger"
)

// numbered gives n small entries; at the one numbered broken there is an error instead.
func numbered(n, broken int, err error) Entries {
	return func(yield func([]byte, error) bool) {
		var body []byte // one memory for all, as a careful source would
		for i := 1; i <= n; i++ {
			if i == broken {
				yield(nil, err)
				return
			}
			body = fmt.Appendf(body[:0], `{"seq":%d,"site":"Main building"}`, i)
			if !yield(body, nil) {
				return
			}
		}
	}
}

// TestReadingAheadKeepsOrder for lengths around one, two and three portions.
func TestReadingAheadKeepsOrder(t *testing.T) {
	for _, n := range []int{0, 1, aheadEntries - 1, aheadEntries, aheadEntries + 1,
		2 * aheadEntries, 2*aheadEntries + 1, 3*aheadEntries + 7} {
		seq := int64(0)
		for line, err := range inOrder(numbered(n, 0, nil)) {
			require.NoError(t, err)
			seq++
			require.Equal(t, seq, line.Seq)
			require.Equal(t, ledger.LeafHash(fmt.Appendf(nil, `{"seq":%d,"site":"Main building"}`, seq)),
				line.leaf)
		}
		require.Equal(t, int64(n), seq)
	}
}

// TestReadingAheadTellsErrorsInOrder: what stands before a fault comes first, and nothing after.
func TestReadingAheadTellsErrorsInOrder(t *testing.T) {
	gone := errors.New("the disk is gone")
	for _, at := range []int{1, 2, aheadEntries, aheadEntries + 1, 2*aheadEntries + 5} {
		seq := 0
		for line, err := range inOrder(numbered(3*aheadEntries, at, gone)) {
			if err != nil {
				require.Equal(t, gone, err)
				require.Nil(t, line)
				seq = -seq
				continue
			}
			require.GreaterOrEqual(t, seq, 0, "nothing follows an error")
			seq++
		}
		require.Equal(t, -(at - 1), seq, at)
	}
	broken := func(yield func([]byte, error) bool) {
		_ = yield([]byte(`{"seq":1}`), nil) && yield([]byte(`{"seq":`), nil) && yield([]byte(`{"seq":3}`), nil)
	}
	var told []string
	for line, err := range inOrder(broken) {
		if err != nil {
			told = append(told, "error")
		} else {
			told = append(told, fmt.Sprint(line.Seq))
		}
	}
	require.Equal(t, []string{"1", "error"}, told)
}

// TestReadingAheadStopsWhenToldTo: whoever has enough is not asked again.
func TestReadingAheadStopsWhenToldTo(t *testing.T) {
	for _, enough := range []int{1, aheadEntries, aheadEntries + 3} {
		n := 0
		for range inOrder(numbered(3*aheadEntries, 0, nil)) {
			if n++; n == enough {
				break
			}
		}
		require.Equal(t, enough, n)
	}
}
