package ledger

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestEvidenceChangedMembers(t *testing.T) {
	w := newWorld(t, 6)
	file := written(t, w.evidence(t, nil))
	require.Equal(t, file, packed(t, members(t, file)), "what was read prints back")
	for name := range members(t, file) {
		m := members(t, file)
		m[name] = append(m[name], 'x')
		_, err := checkFile(packed(t, m), CheckOptions{})
		if name == "CHECK.txt" {
			require.NoError(t, err, "the page proves nothing and may be translated")
			continue
		}
		require.Error(t, err, name)
		m[name] = nil
		_, err = checkFile(packed(t, m), CheckOptions{})
		if name != "proof.txt" && name != "rollcall.ndjson" { // these are empty here
			require.Error(t, err, name)
		}
	}
}

// wrongCase is a change to a file that the key's owner signs again, and what the check says.
type wrongCase struct {
	what, want string
	file       []byte
	change     func(m map[string][]byte, man *manifest)
}

func wrongCases(t testing.TB, w *world) []wrongCase {
	whole := written(t, w.evidence(t, nil))
	part := written(t, w.evidence(t, []int64{3, 4, 8}))
	lines := func(m map[string][]byte) [][]byte {
		return bytes.SplitAfter(bytes.TrimSuffix(m["entries.ndjson"], []byte("\n")), []byte("\n"))
	}
	return append(wrongMembers(whole, part), []wrongCase{
		{"edited", "do not give the root", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = bytes.Replace(m["entries.ndjson"], []byte(`"seq":11}`),
				[]byte(`"seq":11,"x":1}`), 1)
		}},
		{"edited, quoted later", "entry 4: it does not quote", whole, func(m map[string][]byte,
			_ *manifest) {
			m["entries.ndjson"] = bytes.Replace(m["entries.ndjson"], []byte("ok"), []byte("no"), 1)
		}},
		{"one left out", "does not say what stands at number 1", whole, func(m map[string][]byte,
			_ *manifest) {
			m["entries.ndjson"] = bytes.Join(lines(m)[1:], nil)
			m["entries.ndjson"] = append(m["entries.ndjson"], '\n')
		}},
		{"swapped", "does not say what stands at number 1", whole, func(m map[string][]byte,
			_ *manifest) {
			l := lines(m)
			l[0], l[1] = l[1], l[0]
			m["entries.ndjson"] = append(bytes.Join(l, nil), '\n')
		}},
		{"order", "entry 4: it is out of order", part, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = bytes.Join([][]byte{lines(m)[0], lines(m)[1], lines(m)[1], {'\n'}}, nil)
		}},
		{"spelling", "the entry in line 1", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = append([]byte(" "), m["entries.ndjson"]...)
		}},
		{"no last LF", "does not end", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = bytes.TrimSuffix(m["entries.ndjson"], []byte("\n"))
		}},
		{"long line", "does not end", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = bytes.Repeat([]byte("x"), MaxBytes+2)
		}},
	}...)
}

// wrongMembers goes on with the other members.
func wrongMembers(whole, part []byte) []wrongCase {
	return []wrongCase{
		{"count", "MANIFEST.txt lists 13", whole, func(_ map[string][]byte,
			man *manifest) {
			man.entries = 13
		}},
		{"scope", "entries are left out", part, func(_ map[string][]byte,
			man *manifest) {
			man.scope = ScopeEverything
		}},
		{"origin", "name different logs", whole, func(_ map[string][]byte,
			man *manifest) {
			man.origin = "site/x"
		}},
		{"proof more", "more lines than", part, func(m map[string][]byte, _ *manifest) {
			m["proof.txt"] = append(m["proof.txt"], m["proof.txt"]...)
		}},
		{"proof less", "does not say what stands at number 9", part, func(m map[string][]byte,
			_ *manifest) {
			m["proof.txt"] = m["proof.txt"][:bytes.LastIndexByte(bytes.TrimSuffix(m["proof.txt"],
				[]byte("\n")), '\n')+1]
			m["proof.txt"] = bytes.TrimSuffix(m["proof.txt"], []byte("x"))
			m["proof.txt"] = m["proof.txt"][:bytes.Index(m["proof.txt"], []byte("9 "))]
		}},
		{"proof hash", "do not give the root", part, func(m map[string][]byte, _ *manifest) {
			b := m["proof.txt"]
			b[len(b)-2] ^= 1
		}},
		{"proof order", "stands where number 1 is due", part, func(m map[string][]byte, _ *manifest) {
			at := bytes.IndexByte(m["proof.txt"], '\n') + 1
			m["proof.txt"] = append(bytes.Clone(m["proof.txt"][at:]), m["proof.txt"][:at]...)
		}},
		{"proof spelling", "is not a line like", part, func(m map[string][]byte, _ *manifest) {
			m["proof.txt"] = append([]byte("0"), m["proof.txt"]...)
		}},
		{"table", "table entries.csv, row 1:", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.csv"] = bytes.ToUpper(m["entries.csv"])
		}},
		{"table row", "table cycles.csv, row 3:", whole, func(m map[string][]byte, _ *manifest) {
			m["cycles.csv"] = bytes.Replace(m["cycles.csv"], []byte("\n2,"), []byte("\n7,"), 1)
		}},
		{"table more", "table cycles.csv, row 12:", whole, func(m map[string][]byte, _ *manifest) {
			m["cycles.csv"] = append(m["cycles.csv"], "9,\r\n"...)
		}},
		{"table less", "table cycles.csv, row 11:", whole, func(m map[string][]byte, _ *manifest) {
			m["cycles.csv"] = m["cycles.csv"][:len(m["cycles.csv"])-3]
		}},
		{"key without LF", "key.txt is not", whole, func(m map[string][]byte, _ *manifest) {
			m["key.txt"] = bytes.TrimSuffix(m["key.txt"], []byte("\n"))
		}},
		{"checkpoint", "checkpoint.txt: ", whole, func(m map[string][]byte,
			_ *manifest) {
			m["checkpoint.txt"][0] ^= 1
		}},
		{"long key", "key.txt is longer", whole, func(m map[string][]byte, _ *manifest) {
			m["key.txt"] = bytes.Repeat([]byte("x"), maxSmall+1)
		}},
		{"long page", "CHECK.txt is longer", whole, func(m map[string][]byte, _ *manifest) {
			m["CHECK.txt"] = bytes.Repeat([]byte("x"), maxSmall+1)
		}},
		{"roll line", "rollcall.ndjson is not", whole, func(m map[string][]byte, _ *manifest) {
			m["rollcall.ndjson"] = []byte("{}\n")
		}},
	}
}

// Signed by the real key and yet wrong: each is found, with the number where there is one.
func TestEvidenceWrongThoughSigned(t *testing.T) {
	w := newWorld(t, 9)
	for _, c := range wrongCases(t, w) {
		_, err := checkFile(w.resigned(t, c.file, func(map[string][]byte, *manifest) {}),
			CheckOptions{CSV: testCSV})
		require.NoError(t, err, "%s: unchanged", c.what)
		_, err = checkFile(w.resigned(t, c.file, c.change), CheckOptions{CSV: testCSV})
		require.ErrorContains(t, err, c.want, c.what)
		require.NotContains(t, err.Error(), "\n")
	}
}
