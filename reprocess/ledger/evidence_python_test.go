package ledger

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const script = "../../testdata/verify_evidence.py"

// python runs python3 and answers its output and exit code.
func python(t testing.TB, stdin string, args ...string) (string, int) {
	path, err := exec.LookPath("python3")
	if err != nil {
		t.Fatal("python3 is needed for the second check; install with: apt-get install -y python3")
	}
	cmd := exec.Command(path, args...)
	cmd.Env = append(os.Environ(), "PYTHONDONTWRITEBYTECODE=1", "PYTHONIOENCODING=utf-8")
	cmd.Stdin = strings.NewReader(stdin)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	require.NotContains(t, errs.String(), "Traceback")
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return string(out), cmd.ProcessState.ExitCode()
}

// module is python3 -c with the script imported as v.
func module(t testing.TB, stdin, code string) []string {
	code = "import sys, io, os\nsys.path.insert(0, '" + filepath.Dir(script) + "')\n" +
		"import verify_evidence as v\n" + code
	out, exit := python(t, stdin, "-c", code)
	require.Zero(t, exit)
	return strings.Fields(out)
}

// verdict is 0, 1 or 2 as a check by this package gives it.
func verdict(err error) string {
	var u *Unreadable
	switch {
	case err == nil:
		return "0"
	case errors.As(err, &u):
		return "2"
	}
	return "1"
}

// RFC 8032 section 7.1, tests 1 to 3: public key, message, signature.
func TestPythonEd25519(t *testing.T) {
	const vectors = `
d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a -
e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155
5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b
3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c 72
92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da
085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00
fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025 af82
6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac
18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a
`
	got := module(t, vectors, `
words = [bytes.fromhex(x.strip("-")) for x in sys.stdin.read().split()]
for key, message, r, s in zip(*[iter(words)] * 4):
    signature = r + s
    print(int(v.ed25519_verify(key, message, signature)))
    print(int(v.ed25519_verify(key, message + b"x", signature)))
    for i in range(0, 64, 5):
        bad = bytearray(signature)
        bad[i] ^= 1
        print(int(v.ed25519_verify(key, message, bytes(bad))))
    s = int.from_bytes(signature[32:], "little") + v.L  # the same point, a second spelling
    print(int(v.ed25519_verify(key, message, signature[:32] + s.to_bytes(32, "little"))))
`)
	want := strings.Fields(strings.Repeat("1 0 "+strings.Repeat("0 ", 13)+"0 ", 3))
	require.Equal(t, want, got)
}

// The two readers of entry bytes agree on every seed, good and bad.
func TestPythonReadsEntriesAlike(t *testing.T) {
	var in strings.Builder
	var want []string
	seeds := append([]string(nil), goodBytes...)
	for _, c := range badBytes {
		seeds = append(seeds, c.b)
	}
	seeds = append(seeds, `{"a":`+strings.Repeat("[", 30000), `{"a":Infinity}`, `{"a":-Infinity}`)
	for _, b := range seeds {
		fmt.Fprintln(&in, hex.EncodeToString([]byte(b)))
		want = append(want, verdict(Check([]byte(b))))
	}
	got := module(t, in.String(), `
for row in sys.stdin.read().split("\n")[:-1]:
    try:
        v.parse_canonical(bytes.fromhex(row))
        print(0)
    except ValueError:
        print(1)
`)
	require.Len(t, got, len(seeds))
	for i := range seeds {
		require.Equal(t, want[i], got[i], "%s", clip(seeds[i]))
	}
}

// pyCase is one file with what a reader brings along.
type pyCase struct {
	what string
	file []byte
	opt  CheckOptions
}

// compare runs both checks over all cases in one run of python3.
func compare(t testing.TB, cases []pyCase) {
	dir := t.TempDir()
	put := func(i int, suffix string, b []byte) {
		name := filepath.Join(dir, fmt.Sprintf("%05d.%s", i, suffix))
		require.NoError(t, os.WriteFile(name, b, 0o600))
	}
	for i, c := range cases {
		put(i, "zip", c.file)
		if c.opt.VKey != "" {
			put(i, "key", []byte(c.opt.VKey))
		}
		if c.opt.Retained != nil {
			put(i, "note", c.opt.Retained)
		}
	}
	got := module(t, dir, `
def read(name):
    return open(name, "rb").read() if os.path.exists(name) else None
dir = sys.stdin.read()
for name in sorted(n[:-4] for n in os.listdir(dir) if n.endswith(".zip")):
    base = os.path.join(dir, name)
    key = read(base + ".key")
    try:
        c = v.Check(open(base + ".zip", "rb"), key and key.decode(), read(base + ".note"))
        list(c.report())
        print(0)
    except v.Difference:
        print(1)
    except v.Unreadable:
        print(2)
`)
	require.Len(t, got, len(cases))
	for i, c := range cases {
		_, err := checkFile(c.file, c.opt)
		require.Equal(t, verdict(err), got[i], "%s: %v", c.what, err)
	}
}

func TestPythonAgrees(t *testing.T) {
	w, other := newWorld(t, 9), newWorld(t, 8)
	_, _, foreign := testKey(t, 3, origin)
	whole, device := written(t, w.evidence(t, nil)), written(t, w.ofKit(t, "K-1"))
	cases := []pyCase{
		{"whole", whole, CheckOptions{}}, {"device", device, CheckOptions{}},
		{"key", whole, CheckOptions{VKey: w.vkey}}, {"other key", whole, CheckOptions{VKey: foreign}},
		{"no key", whole, CheckOptions{VKey: "x"}}, {"no note", whole,
			CheckOptions{Retained: []byte("x")}},
		{"nothing", nil, CheckOptions{}}, {"text", []byte("seq,at\n"), CheckOptions{}},
		{"more", append(bytes.Clone(whole), 0), CheckOptions{}},
	}
	for size := int64(0); size <= 11; size++ {
		cases = append(cases, pyCase{"kept", whole, CheckOptions{Retained: w.checkpoint(t, size)}},
			pyCase{"kept, part", device, CheckOptions{Retained: w.checkpoint(t, size)}})
	}
	for size := int64(8); size <= 10; size++ {
		cases = append(cases, pyCase{"foreign", whole, CheckOptions{Retained: other.checkpoint(t, size)}})
	}
	for _, c := range wrongCases(t, w) {
		cases = append(cases, pyCase{c.what, w.resigned(t, c.file, c.change), CheckOptions{}})
	}
	for mask := 1; mask < 1<<7; mask++ {
		var seqs []int64
		for i := range 7 {
			if mask>>i&1 == 1 {
				seqs = append(seqs, int64(i+2))
			}
		}
		cases = append(cases, pyCase{"part", written(t, w.evidence(t, seqs)), CheckOptions{}})
	}
	compare(t, cases)
}

// Random damage below a true signature: one byte of one member changed, dropped or doubled and
// everything signed again. The two checks agree on each, accepted or not.
func TestPythonAgreesOnDamage(t *testing.T) {
	w := newWorld(t, 5)
	rnd := rand.New(rand.NewPCG(2026, 11))
	var cases []pyCase
	for _, file := range [][]byte{written(t, w.evidence(t, nil)), written(t, w.ofKit(t, "K-2"))} {
		for range 120 {
			cases = append(cases, pyCase{"damage", w.resigned(t, file, func(m map[string][]byte,
				man *manifest) {
				name := memberNames[rnd.IntN(memberManifest)]
				if b := m[name]; len(b) > 0 {
					at := rnd.IntN(len(b))
					m[name] = [][]byte{append(b[:at:at], b[at+1:]...), append(b[:at+1:at+1], b[at:]...),
						append(append(b[:at:at], b[at]^1<<rnd.IntN(7)), b[at+1:]...)}[rnd.IntN(3)]
				}
			}), CheckOptions{}})
		}
	}
	compare(t, cases)
}

// Every byte of a small file, one flip each, by the script alone.
func TestPythonTamperEachByte(t *testing.T) {
	w := newWorld(t, 3)
	file := written(t, w.ofKit(t, "K-1"))
	got := module(t, hex.EncodeToString(file), `
data = bytearray.fromhex(sys.stdin.read())
v.Check(io.BytesIO(data), None, None)
for i in range(len(data)):
    data[i] ^= 0x01
    try:
        v.Check(io.BytesIO(data), None, None)
        print("byte", i)
    except v.Difference:
        pass
    data[i] ^= 0x01
print(len(data))
`)
	require.Equal(t, []string{fmt.Sprint(len(file))}, got)
}

// The command line: result lines, exit codes, one line on the right stream.
func TestPythonCommand(t *testing.T) {
	w := newWorld(t, 6)
	dir := t.TempDir()
	good, bad, kept := filepath.Join(dir, "good.zip"), filepath.Join(dir, "bad.zip"),
		filepath.Join(dir, "kept")
	file := written(t, w.ofKit(t, "K-2"))
	require.NoError(t, os.WriteFile(good, file, 0o600))
	file[2000] ^= 1
	require.NoError(t, os.WriteFile(bad, file, 0o600))
	require.NoError(t, os.WriteFile(kept, w.checkpoint(t, 8), 0o600))
	out, code := python(t, "", script, good)
	require.Zero(t, code)
	require.Contains(t, out, "internally consistent, key not confirmed\n")
	out, code = python(t, "", script, good, "--key", w.vkey, "--checkpoint", kept)
	require.Zero(t, code)
	require.Contains(t, out, "signed with the key you gave\n")
	require.Contains(t, out, "device K-2: all its 2 entries before entry 7 are here\n")
	require.Contains(t, out, "the checkpoint you kept agrees\n")
	out, code = python(t, "", script, bad)
	require.Equal(t, 1, code)
	require.Equal(t, 1, strings.Count(out, "\n"))
	out, code = python(t, "", script, filepath.Join(dir, "none.zip"))
	require.Equal(t, 2, code)
	require.Empty(t, out)
}

// Another program's zip writer gives the same file back: nothing in the frame is peculiar.
func TestPythonZipRoundTrip(t *testing.T) {
	w := newWorld(t, 4)
	file := written(t, w.evidence(t, nil))
	got := module(t, hex.EncodeToString(file), `
import zipfile
data = bytes.fromhex(sys.stdin.read())
source, copy = zipfile.ZipFile(io.BytesIO(data)), io.BytesIO()
print(source.testzip())
with zipfile.ZipFile(copy, "w") as target:
    for info in source.infolist():
        target.writestr(info, source.read(info))
print(copy.getvalue().hex())
`)
	require.Equal(t, []string{"None", hex.EncodeToString(file)}, got)
}
