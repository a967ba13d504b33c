package sqlite

import (
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// The policy is written with the settings: a store that opens the folder again holds the rules
// to it, the verifier folds it from the entries, and a changed row is named.
func TestThePolicyIsKeptAndVerified(t *testing.T) {
	b := newBench(t)
	dir := b.Dir()
	b.must(b.boss, reprocess.SetPolicy{Policy: reprocess.Policy{Base: []string{"VIR-L"},
		Flags: []reprocess.PolicyFlag{{Flag: "gastro", Adds: []string{"VIR-F"}}}}})
	want := &reprocess.Policy{Base: []string{"VIR-L"},
		Flags: []reprocess.PolicyFlag{{Flag: "gastro", Adds: []string{"VIR-F"}}}}
	require.NoError(t, b.Close())
	verified(t, dir)

	again := open(t, dir, b.clock)
	w, err := again.SetUp(t.Context())
	require.NoError(t, err)
	require.Equal(t, want, w.Settings.Policy)
	b.Store = again
	b.must(b.boss, reprocess.SetSettings{Settings: reprocess.Settings{Zone: "UTC"}})
	w, err = again.SetUp(t.Context())
	require.NoError(t, err)
	require.Equal(t, want, w.Settings.Policy, "the other settings leave it alone")

	_, err = again.writeDB.Exec(`UPDATE settings SET doc = replace(doc, 'VIR-L', 'VIR-E')`)
	require.NoError(t, err)
	require.NoError(t, again.Close())
	r, err := Verify(t.Context(), dir, VerifyOptions{})
	require.NoError(t, err)
	require.Contains(t, r.Difference, "table settings, row Main building")
}
