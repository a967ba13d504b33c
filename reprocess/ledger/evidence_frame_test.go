package ledger

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"hash/crc32"
	"io"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// part is one member as another zip writer is to write it.
type part struct {
	name    string
	bytes   []byte
	deflate bool
}

// framed writes parts with the standard library's zip writer, which knows nothing of evidence
// files, in the frame that the format describes: TestAnotherWriterGivesTheSameFile shows that.
func framed(t testing.TB, parts []part) []byte {
	var f bytes.Buffer
	z := zip.NewWriter(&f)
	for _, p := range parts {
		h := &zip.FileHeader{Name: p.name, CreatorVersion: 3<<8 | 20, ReaderVersion: 20,
			ExternalAttrs: 0o100644 << 16, CRC32: crc32.ChecksumIEEE(p.bytes)}
		setDate(h)
		stored := p.bytes
		if p.deflate {
			var b bytes.Buffer
			d, err := flate.NewWriter(&b, flate.BestCompression)
			require.NoError(t, err)
			_, err = d.Write(p.bytes)
			require.NoError(t, err)
			require.NoError(t, d.Close())
			h.Method, stored = zip.Deflate, b.Bytes()
		}
		h.CompressedSize64, h.UncompressedSize64 = uint64(len(stored)), uint64(len(p.bytes))
		e, err := z.CreateRaw(h)
		require.NoError(t, err)
		_, err = e.Write(stored)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return f.Bytes()
}

// setDate puts 1980-01-01 into a header that is written raw; only this method still sets the two
// fields that a raw header takes its date from.
func setDate(h *zip.FileHeader) {
	var dated interface{ SetModTime(time.Time) } = h
	dated.SetModTime(time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC))
}

// parts are the members of a file in order.
func parts(t testing.TB, file []byte) []part {
	m := members(t, file)
	var all []part
	for _, name := range memberNames {
		all = append(all, part{name: name, bytes: m[name]})
	}
	return all
}

// The whole log, a period and a device, each written by another program: the same bytes. Were
// they not, every case of TestWrongFrames would be refused for a reason that is not its own.
func TestAnotherWriterGivesTheSameFile(t *testing.T) {
	for what, file := range frames(t) {
		require.Equal(t, file, framed(t, parts(t, file)), what)
	}
}

func frames(t testing.TB) map[string][]byte {
	w := newWorld(t, 6)
	return map[string][]byte{"whole": written(t, w.evidence(t, nil)),
		"period": written(t, w.evidence(t, []int64{3, 4, 5})), "device": written(t, w.ofKit(t, "K-1"))}
}

// wrongFrames are files whose members are each as signed, and whose frame is not: left out,
// doubled (beside the first and at the end), compressed, swapped; one more, a folder, a second
// file behind, a byte before or behind, a comment, two spellings of a name, no member at all.
func wrongFrames(t testing.TB, what string, file []byte) (cases []pyCase) {
	all := parts(t, file)
	add := func(how string, b []byte) { cases = append(cases, pyCase{what + ", " + how, b, CheckOptions{}}) }
	for i, p := range all {
		add("without "+p.name, framed(t, slices.Delete(slices.Clone(all), i, i+1)))
		add("twice "+p.name, framed(t, slices.Insert(slices.Clone(all), i, p)))
		add("at the end again "+p.name, framed(t, append(slices.Clone(all), p)))
		packed := slices.Clone(all)
		packed[i].deflate = true
		add("compressed "+p.name, framed(t, packed))
		renamed := slices.Clone(all)
		renamed[i].name = "x" + p.name[1:]
		add("renamed "+p.name, framed(t, renamed))
		for j := range i {
			swapped := slices.Clone(all)
			swapped[i], swapped[j] = swapped[j], swapped[i]
			add("swapped "+p.name+" and "+all[j].name, framed(t, swapped))
		}
	}
	more := part{name: "more.txt", bytes: []byte("x\n")}
	add("one more first", framed(t, append([]part{more}, all...)))
	add("one more last", framed(t, append(slices.Clone(all), more)))
	add("a folder", framed(t, append([]part{{name: "a/"}}, all...)))
	add("no member", framed(t, nil))
	add("a byte behind", append(bytes.Clone(file), 0))
	add("itself behind", append(bytes.Clone(file), file...))
	add("its end again", append(bytes.Clone(file), file[len(file)-22:]...))
	add("a byte before", append([]byte{0}, file...))
	comment := append(bytes.Clone(file), "abc"...)
	comment[len(file)-2] = 3 // the length of the comment, as the end record gives it
	add("a comment", comment)
	directory := bytes.Clone(file)
	directory[bytes.LastIndex(directory, []byte("key.txt"))] = 'x'
	add("renamed in the directory only", directory)
	return cases
}

// Both checks find each wrong frame, and with the answer for a difference: this was an evidence
// file and is one no more. Other readers of zips accept most of them.
func TestWrongFrames(t *testing.T) {
	var all []pyCase
	for what, file := range frames(t) {
		cases := wrongFrames(t, what, file)
		for _, c := range cases {
			_, err := checkFile(c.file, CheckOptions{})
			require.Equal(t, "1", verdict(err), "%s: %v", c.what, err)
		}
		all = append(all, cases...)
	}
	compare(t, all)
}

// Bytes changed with the zip's own sums mended, so that only the manifest and the signatures
// are left to find it: every byte but those of CHECK.txt is found by both checks.
func TestEveryByteIsFoundThoughTheZipIsMended(t *testing.T) {
	var all []pyCase
	for what, file := range frames(t) {
		for i, p := range parts(t, file) {
			if what != "device" && i != memberCheck && i != memberManifest {
				continue // the members of one file are enough; the manifests differ
			}
			for at := range p.bytes {
				bad := parts(t, file)
				bad[i].bytes = bytes.Clone(p.bytes)
				bad[i].bytes[at] ^= 1
				b := framed(t, bad)
				_, err := checkFile(b, CheckOptions{})
				require.Equal(t, i == memberCheck, err == nil, "%s: %s byte %d", what, p.name, at)
				if at%16 == 0 {
					all = append(all, pyCase{what + " " + p.name, b, CheckOptions{}})
				}
			}
		}
	}
	compare(t, all)
}

// The standard library's reader opens a file with a second member of one name, or one more: that
// is why the frame is read here byte by byte.
func TestOtherReadersPassOverIt(t *testing.T) {
	file := frames(t)["device"]
	all := parts(t, file)
	for _, b := range [][]byte{framed(t, append(slices.Clone(all), all[memberKey])),
		framed(t, append(slices.Clone(all), part{name: "more.txt"}))} {
		z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
		require.NoError(t, err)
		f, err := z.Open("key.txt")
		require.NoError(t, err)
		_, err = io.ReadAll(f)
		require.NoError(t, err)
		require.Greater(t, len(z.File), len(memberNames))
	}
}
