package invent

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// With somebody who keeps files the history has documents through the real rules; without,
// not one act more.
func TestTheInventedPapers(t *testing.T) {
	var kept []Paper
	plan := func(keep func(Paper) (string, int64, error)) *reprocess.World {
		t.Helper()
		o := Options{Now: 1_795_000_000_000, Seed: 7, Days: 3, Kits: 12, Keep: keep}
		p, err := History(o)
		require.NoError(t, err)
		return replayed(p)
	}
	require.Empty(t, plan(nil).Documents)
	w := plan(func(p Paper) (string, int64, error) {
		kept = append(kept, p)
		return strings.Repeat(string(rune('a'+len(kept))), 64), 9, nil
	})
	require.Len(t, kept, 5)
	require.Len(t, w.Documents, 4)
	versions, told := 0, 0
	for _, d := range w.Documents {
		versions += len(d.Versions)
	}
	require.Equal(t, 5, versions, "one paper was renewed")
	for _, proc := range w.Procedures {
		require.Equal(t, 2, reprocess.PageIn(proc.IFU))
	}
	for _, c := range w.Cycles {
		told += len(c.Instructions)
	}
	require.Positive(t, told, "what counted stands in the cycles")
	for _, p := range kept {
		for _, page := range p.Pages {
			require.Contains(t, page, lead, "every page says that it is invented")
		}
	}
}
