package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// benchRecord is the bench source as a WFDB record in two files (wfdb.io/spec).
func benchRecord(more string) (header, signal []byte) {
	var sum int16
	for i := range 60 * 250 {
		v := int16(beat(float64(i%250)-125, 1.2) * 200)
		sum += v
		signal = append(signal, byte(v), byte(uint16(v)>>8))
	}
	return []byte(fmt.Sprintf("r 1 250 15000%s\nr.dat 16 200 12 0 0 %d 0 ECG\n", more, sum)), signal
}

// sendFiles posts several files under one name, as a form with "multiple" does.
func (b *browser) sendFiles(path string, files ...[]byte) {
	b.site.t.Helper()
	token, key := b.hidden()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for i, p := 0, []string{"token", token, "key", key, "source", "bench"}; i+1 < len(p); i += 2 {
		require.NoError(b.site.t, w.WriteField(p[i], p[i+1]))
	}
	for i, content := range files {
		part, err := w.CreateFormFile("file", fmt.Sprintf("Doe^Jane %d.dat", i))
		require.NoError(b.site.t, err)
		_, err = part.Write(content)
		require.NoError(b.site.t, err)
	}
	require.NoError(b.site.t, w.Close())
	req, err := http.NewRequest(http.MethodPost, b.site.url(path), &body)
	require.NoError(b.site.t, err)
	req.Header.Set("Content-Type", w.FormDataContentType())
	b.do(req)
	if b.status == http.StatusSeeOther {
		b.get(b.header.Get("Location"))
	}
}

func hexSum(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}

func TestTwoFilesChosenTogetherAreOneTest(t *testing.T) {
	for _, swapped := range []bool{false, true} {
		c := newClinic(t)
		c.canExport()
		c.toTest()
		header, signal := benchRecord("")
		files := [][]byte{header, signal}
		if swapped {
			files[0], files[1] = signal, header
		}
		c.bench.get(c.path("test"))
		c.bench.sendFiles(c.path("test"), files...)
		require.Contains(t, c.bench.body, "<h1>Usable signal")
		require.Contains(t, c.bench.body, "WFDB")
		c.bench.tap("Use this test", "memory", "yes")
		test := c.lastTest()
		require.Equal(t, []string{hexSum(header), hexSum(signal)}, test.Hashes())
		for _, content := range files {
			kept, err := c.store.KeptFile(hexSum(content))
			require.NoError(t, err)
			require.Equal(t, content, kept)
		}
	}
}

func TestTwoFilesOneAfterTheOtherFindEachOther(t *testing.T) {
	for _, headerFirst := range []bool{false, true} {
		c := newClinic(t)
		c.canExport()
		c.toTest()
		header, signal := benchRecord("")
		first, second := signal, header
		if headerFirst {
			first, second = header, signal
		}
		c.bench.get(c.path("test"))
		c.bench.sendFiles(c.path("test"), first)
		if headerFirst {
			require.Equal(t, http.StatusUnprocessableEntity, c.bench.status)
			require.Contains(t, c.bench.body, "its signal file is missing")
			require.Contains(t, c.bench.body, "or export the recording as EDF")
		} else {
			require.Contains(t, c.bench.body, "give its .hea file too")
		}
		c.bench.get(c.path("test"))
		c.bench.sendFiles(c.path("test"), second)
		require.Contains(t, c.bench.body, "<h1>Usable signal", c.bench.body)
		c.bench.tap("Use this test", "memory", "yes")
		require.Equal(t, []string{hexSum(header), hexSum(signal)}, c.lastTest().Hashes())
	}
}

func TestTwoFilesThatDoNotBelongTogetherFail(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	header, signal := benchRecord("")
	signal[4001] ^= 1
	c.bench.get(c.path("test"))
	c.bench.sendFiles(c.path("test"), header, signal)
	require.Contains(t, c.bench.body, "<h1>No usable signal")
	require.Contains(t, c.bench.body, "do not belong together")

	c.bench.get(c.path("test"))
	c.bench.sendFiles(c.path("test"), header, signal, signal)
	require.Equal(t, http.StatusBadRequest, c.bench.status)
	require.Contains(t, c.bench.body, "the two files of one record")
}

// A header that names a person is dropped with its signal file.
func TestAHeaderWithANameIsNotKept(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	header, signal := benchRecord("")
	header = append(header, []byte("# Name: Millerova, Anna\n")...)
	c.bench.get(c.path("test"))
	c.bench.sendFiles(c.path("test"), header, signal)
	require.Contains(t, c.bench.body, "carries a person’s name")
	drafts, err := c.store.Drafts(c.bench.ctx(), c.kit)
	require.NoError(t, err)
	require.Empty(t, drafts)
	requireNowhere(t, c.dir, "Millerova")
}

func TestTheClockOfTheRecorderIsAFactOnThePage(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	header, signal := benchRecord(" 10:00:00 24/11/2020")
	c.bench.get(c.path("test"))
	c.bench.sendFiles(c.path("test"), header, signal)
	require.Contains(t, c.bench.body, "<h1>Usable signal, with remarks")
	require.Contains(t, c.bench.body, "the file waited, or the clock is behind")
	require.Equal(t, 1, strings.Count(c.bench.body, "By the recorder"))

	c.upload(benchCSV(60, 1.2, 0.01))
	require.Contains(t, c.bench.body, "<h1>Usable signal:")
	require.Contains(t, c.bench.body, "not judged", "a CSV has no date")
}
