package sqlite

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

func TestWearerTokens(t *testing.T) {
	c := fresh(t)
	a, err := c.WearerToken(ctx, " A-2041 ")
	require.NoError(t, err)
	require.Regexp(t, `^[0-9a-f]{32}$`, a)
	b, err := c.WearerToken(ctx, "A-2041")
	require.NoError(t, err)
	require.NotEqual(t, a, b, "a new one for every loan: loans cannot be joined by it")
	c.reopen()
	ref, err := c.WearerRef(ctx, a)
	require.NoError(t, err)
	require.Equal(t, "A-2041", ref)
	for _, unknown := range []string{"", b[1:], strings.Repeat("0", 32)} {
		_, err = c.WearerRef(ctx, unknown)
		require.Equal(t, "no_link", rule(err))
	}
}

// Nobody else on the machine reads the references, from the first moment on: they stand in the
// write-ahead log before they stand in the file.
func TestWearerFilesAreClosedToOthers(t *testing.T) {
	c := fresh(t)
	_, err := c.WearerToken(ctx, "A-2041")
	require.NoError(t, err)
	files, err := filepath.Glob(filepath.Join(c.dir, wearersName+"*"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, path := range files {
		info, err := os.Stat(path)
		require.NoError(t, err)
		require.Equal(t, os.FileMode(0o600), info.Mode().Perm(), path)
	}
}

func TestReferencesAreCodes(t *testing.T) {
	for reference, ok := range map[string]bool{
		"7": true, "A-2041/b.2_x": true, strings.Repeat("9", 40): true,
		"": false, "   ": false, strings.Repeat("9", 41): false, "Ida Lund": false,
		"Lund,Ida": false, "Łund": false, "a\tb": false, "a@b": false, "A;1": false,
	} {
		_, err := checkReference(reference)
		require.Equal(t, ok, err == nil, "%q", reference)
		if err != nil {
			require.Equal(t, "reference", rule(err))
			require.Contains(t, err.Error(), "never a name")
		}
	}
}

// The link is made before the entry and found again after it.
func TestLoansOfAReference(t *testing.T) {
	b := newBench(t)
	var want []string
	for _, number := range []string{"17", "18"} {
		token, err := b.WearerToken(ctx, "a-2041")
		require.NoError(t, err)
		kit := b.register(number)
		b.must(b.boss, reprocess.HandOutAfter{Kit: kit, Wearer: token, Reason: "on paper"})
		want = append(want, token)
		b.clock.pass(time.Hour)
	}
	other, err := b.WearerToken(ctx, "A-20411")
	require.NoError(t, err)
	loans, err := b.LoansOf(ctx, "A-2041")
	require.NoError(t, err)
	require.Len(t, loans, 2)
	require.Equal(t, want, []string{loans[0].Wearer, loans[1].Wearer})
	require.Equal(t, "loan_stands", rule(b.DropWearer(ctx, want[0])))

	require.NoError(t, b.EraseWearer(ctx, want[0]))
	loans, err = b.LoansOf(ctx, "a-2041")
	require.NoError(t, err)
	require.Len(t, loans, 1)
	_, err = b.LoansOf(ctx, "")
	require.Equal(t, "reference", rule(err))

	require.NoError(t, b.DropWearer(ctx, other))
	_, err = b.WearerRef(ctx, other)
	require.Equal(t, "no_link", rule(err))
	require.NoError(t, b.Close())
	r, err := Verify(ctx, b.Dir(), VerifyOptions{})
	require.NoError(t, err)
	require.Empty(t, r.Difference, "erasing leaves the ledger as it was")
}

// What is erased is not to be found in any file of the folder (GDPR article 17).
func TestErasedIsGone(t *testing.T) {
	c := fresh(t)
	found := func(what string) bool {
		for _, name := range []string{wearersName, wearersName + "-wal", ledgerName,
			ledgerName + "-wal"} {
			b, err := os.ReadFile(filepath.Join(c.dir, name))
			require.NoError(t, err)
			if bytes.Contains(b, []byte(what)) {
				return true
			}
		}
		return false
	}
	token, err := c.WearerToken(ctx, "QX-77-ERASE-ME")
	require.NoError(t, err)
	dropped, err := c.WearerToken(ctx, "QX-78-DROP-ME")
	require.NoError(t, err)
	for range 300 {
		_, err = c.WearerToken(ctx, "filler")
		require.NoError(t, err)
	}
	require.True(t, found("QX-77-ERASE-ME"), "before, it is found")
	require.NoError(t, c.EraseWearer(ctx, token))
	require.NoError(t, c.DropWearer(ctx, dropped))
	require.False(t, found("QX-77-ERASE-ME"))
	require.False(t, found("QX-78-DROP-ME"))
	require.True(t, found(token), "that there was a loan stays known")
	_, err = c.WearerRef(ctx, token)
	require.Equal(t, "erased", rule(err))
	require.Contains(t, err.Error(), "2026-11-24")
	require.NoError(t, c.EraseWearer(ctx, token), "again")
	require.Equal(t, "no_link", rule(c.EraseWearer(ctx, "0")))
}

func TestManyLinksAreKeptTogetherOrNotAtAll(t *testing.T) {
	c := fresh(t)
	require.NoError(t, c.KeepWearers(ctx, map[string]string{"t1": "A-1", "t2": "A-2"}))
	ref, err := c.WearerRef(ctx, "t2")
	require.NoError(t, err)
	require.Equal(t, "A-2", ref)
	err = c.KeepWearers(ctx, map[string]string{"t3": "A-3", "t4": "Ida Lund", "t5": "A-5"})
	require.Equal(t, "reference", rule(err))
	for _, token := range []string{"t3", "t4", "t5"} {
		_, err = c.WearerRef(ctx, token)
		require.Equal(t, "no_link", rule(err))
	}
	require.Error(t, c.KeepWearers(ctx, map[string]string{"t1": "A-9"}), "a link never changes")
	ref, err = c.WearerRef(ctx, "t1")
	require.NoError(t, err)
	require.Equal(t, "A-1", ref)
}

func BenchmarkWearerToken(b *testing.B) {
	c := fresh(b)
	for b.Loop() {
		_, err := c.WearerToken(ctx, "A-2041")
		require.NoError(b, err)
	}
}
