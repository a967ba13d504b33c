package ledger

import (
	"bytes"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// What parses prints back to the same bytes: manifest, proof line, signed note, key.

func FuzzManifest(f *testing.F) {
	m := manifest{origin: origin, at: 1795529999000, scope: ScopeEverything, entries: 12}
	for range memberManifest - memberEntries {
		m.members = append(m.members, memberSum{59, EmptyRoot})
	}
	f.Add(m.format())
	f.Add("evidence 1\norigin x\nat \nscope \nentries 0\n")
	_, err := parseManifest(m.format())
	require.NoError(f, err, "the seed is a good one")
	f.Fuzz(func(t *testing.T, text string) {
		if m, err := parseManifest(text); err == nil {
			require.Equal(t, text, m.format())
			require.NoError(t, m.check())
		}
	})
}

func FuzzProofLine(f *testing.F) {
	for _, l := range []proofLine{{1, 0, EmptyRoot}, {17, 4, Hash{}}, {1, 52, Hash{1}}} {
		f.Add(l.String())
		_, err := parseProofLine(l.String())
		require.NoError(f, err)
	}
	f.Add("17 3 " + EmptyRoot.String() + "\n")
	f.Add("0 1 " + EmptyRoot.String() + "\n")
	f.Fuzz(func(t *testing.T, line string) {
		if p, err := parseProofLine(line); err == nil {
			require.Equal(t, line, p.String())
		}
	})
}

func FuzzOpen(f *testing.F) {
	s, v, _ := testKey(f, 1, origin)
	msg, err := SignCheckpoint(goodCheckpoint(), s)
	require.NoError(f, err)
	f.Add(msg)
	f.Add(append(bytes.Clone(msg), "— x AAAAAAA=\n"...))
	f.Add(bytes.Replace(msg, []byte("\n\n"), []byte("\n\n\n"), 1))
	f.Fuzz(func(t *testing.T, b []byte) {
		if c, err := OpenCheckpoint(b, v); err == nil {
			again, err := SignCheckpoint(c, s)
			require.NoError(t, err)
			require.Equal(t, string(again), string(b), "only what this key signs opens")
		}
	})
}

func FuzzVerifier(f *testing.F) {
	_, _, vkey := testKey(f, 1, origin)
	f.Add(vkey)
	f.Add(vkey + "=")
	f.Add("a+00000000+AQ==")
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := ParseVerifier(s); err == nil {
			require.NoError(t, CheckOrigin(v.Name()))
			require.True(t, bytes.HasPrefix([]byte(s), []byte(v.Name()+"+")))
		}
	})
}

// Whatever the bytes, the check answers; and it accepts nothing but what it would write.
func FuzzEvidence(f *testing.F) {
	w := newWorld(f, 3)
	whole := written(f, w.evidence(f, nil))
	f.Add(whole)
	f.Add(written(f, w.ofKit(f, "K-1")))
	f.Add(whole[:len(whole)/2])
	f.Add([]byte("PK\x03\x04"))
	_, err := checkFile(whole, CheckOptions{CSV: testCSV})
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, b []byte) {
		if _, err := checkFile(b, CheckOptions{CSV: testCSV, VKey: w.vkey}); err == nil {
			require.Equal(t, string(b), string(packed(t, members(t, b))))
		}
	})
}

// Frozen files: what an earlier program wrote is still accepted, and the same facts still give
// the same bytes. If this fails the format has changed: give it a new version number.
func TestFrozenEvidence(t *testing.T) {
	w := newWorld(t, 6)
	for name, ev := range map[string]Evidence{"whole.zip": w.evidence(t, nil),
		"device.zip": w.ofKit(t, "K-2")} {
		frozen, err := os.ReadFile("testdata/frozen/" + name)
		require.NoError(t, err)
		r, err := checkFile(frozen, CheckOptions{CSV: testCSV, VKey: w.vkey,
			Retained: w.checkpoint(t, 8)})
		require.NoError(t, err, name)
		require.True(t, r.KeyConfirmed)
		require.Equal(t, RetainedSame, r.Retained)
		require.Equal(t, frozen, written(t, ev), name)
	}
}
