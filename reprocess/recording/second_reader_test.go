package recording

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// secondReader shares no code with this package and is written in another language, from the
// published layouts (its first lines name them).
const secondReader = "../../testdata/read_recordings.py"

// otherSignal and otherFile are what it tells of a file.
type otherSignal struct {
	Label, Unit, SHA256 string
	Rate                float64
	N, Sum, Min, Max    int
	Low, High           *float64
}

type otherFile struct {
	File, Refused string
	Records       int
	Signals       []otherSignal
	Events        [][3]any
	Gaps          [][2]float64
}

func runSecond(t *testing.T, args ...string) []byte {
	t.Helper()
	path, err := exec.LookPath("python3")
	require.NoError(t, err, "python3 is needed for the second reader; install with: "+
		"apt-get install -y python3")
	cmd := exec.Command(path, append([]string{secondReader}, args...)...)
	cmd.Env = append(os.Environ(), "PYTHONDONTWRITEBYTECODE=1", "PYTHONIOENCODING=utf-8")
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	require.NoError(t, err, errs.String())
	return out
}

func secondOpinion(t *testing.T, paths ...string) []otherFile {
	t.Helper()
	var all []otherFile
	for _, line := range strings.Split(strings.TrimSpace(string(runSecond(t, paths...))), "\n") {
		var f otherFile
		require.NoError(t, json.Unmarshal([]byte(line), &f), line)
		all = append(all, f)
	}
	require.Len(t, all, len(paths))
	return all
}

// Every file of the set, every sample of every signal: the second reader finds the same
// numbers, rates, events and holes, and refuses the same files.
func TestASecondReaderAgrees(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join(recordings, "edf", "*"))
	require.NoError(t, err)
	paths = append(paths, filepath.Join(recordings, "ecg208_60s.hea"))
	require.Len(t, paths, 26)
	refused, compared := 0, 0
	for i, other := range secondOpinion(t, paths...) {
		data, err := os.ReadFile(paths[i])
		require.NoError(t, err)
		r, err := Read(other.File, data, Options{Sibling: beside})
		require.Equal(t, other.Refused != "", err != nil, "%s: %s, %v", other.File, other.Refused, err)
		if err != nil {
			refused++
			continue
		}
		compared += agree(t, r, other)
	}
	require.Equal(t, 5, refused)
	require.Equal(t, 22, compared, "one signal each, and two of mixed_rates.edf")
}

func beside(base string) ([]byte, error) { return os.ReadFile(filepath.Join(recordings, base)) }

// agree compares a recording with what the other reader tells, and counts the signals.
func agree(t *testing.T, r *Recording, other otherFile) int {
	t.Helper()
	if r.RecordsFound != nil {
		require.Equal(t, other.Records, *r.RecordsFound, other.File)
	}
	n := 0
	for i := range r.Signals {
		s := &r.Signals[i]
		if s.Annotation {
			continue
		}
		require.Less(t, n, len(other.Signals), other.File)
		theirs, low, high := other.Signals[n], other.Signals[n].Low, other.Signals[n].High
		theirs.Low, theirs.High = nil, nil
		ours, least, most := tell(s)
		require.Equal(t, theirs, ours, other.File)
		require.Equal(t, low != nil, s.step != 0, other.File)
		if low != nil {
			require.InDelta(t, *low, least, 1e-9, other.File)
			require.InDelta(t, *high, most, 1e-9, other.File)
		}
		n++
	}
	require.Len(t, other.Signals, n, other.File)
	require.Len(t, other.Events, len(r.Events), other.File)
	for i, e := range r.Events {
		require.InDelta(t, other.Events[i][0], e.At, 1e-9, other.File)
		require.Equal(t, other.Events[i][2], e.Text)
		if e.Duration == nil {
			require.Nil(t, other.Events[i][1])
			continue
		}
		require.InDelta(t, other.Events[i][1], *e.Duration, 1e-9)
	}
	if s := r.Signals[0]; s.Rate > 0 { // without a record duration nobody can tell of holes
		require.Len(t, other.Gaps, len(r.Gaps), other.File)
		for i, g := range r.Gaps {
			require.Equal(t, other.Gaps[i], [2]float64{g.At, g.Seconds}, other.File)
		}
	}
	return n
}

// tell says of a signal of ours what the other reader says, by its digital values, and the
// physical ones of the smallest and the largest.
func tell(s *Signal) (o otherSignal, least, most float64) {
	o = otherSignal{Label: s.Label, Unit: s.Unit, Rate: s.Rate, N: s.N}
	sum := sha256.New()
	for i := range s.N {
		d := int(s.Digital(i))
		if i == 0 || d < o.Min {
			o.Min, least = d, s.Physical(i)
		}
		if i == 0 || d > o.Max {
			o.Max, most = d, s.Physical(i)
		}
		o.Sum += d
		_ = binary.Write(sum, binary.LittleEndian, int32(d))
	}
	o.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return o, least, most
}

// WFDB formats 16 and 212, one to three signals, odd and even lengths, made by a writer of the
// tests: the second reader finds the same samples, and its sums fit those in the header.
func TestASecondReaderAgreesOnWFDB(t *testing.T) {
	dir := t.TempDir()
	var paths []string
	var all []*Recording
	for _, format := range []string{"16", "212"} {
		for ns := 1; ns <= 3; ns++ {
			for _, n := range []int{1, 2, 3, 501} {
				head, data, _ := wfdbOf(format, ns, n)
				path := filepath.Join(dir, fmt.Sprintf("f%s-%d-%d.hea", format, ns, n))
				require.NoError(t, os.WriteFile(path, []byte(strings.ReplaceAll(head, "r.dat",
					filepath.Base(path)+".dat")), 0o600))
				require.NoError(t, os.WriteFile(path+".dat", data, 0o600))
				r, err := readRecord(head, map[string][]byte{"r.dat": data})
				require.NoError(t, err)
				paths, all = append(paths, path), append(all, r)
			}
		}
	}
	for i, other := range secondOpinion(t, paths...) {
		require.Empty(t, other.Refused, paths[i])
		require.NotZero(t, agree(t, all[i], other))
	}
	// A damaged file is found by both.
	require.NoError(t, os.WriteFile(paths[0]+".dat", []byte{9, 9}, 0o600))
	require.Equal(t, "checksum", secondOpinion(t, paths[0])[0].Refused)
}

// otherPNG is what the second program tells of a strip.
type otherPNG struct {
	Order         []string
	Width, Height int
	PerMetre      [3]int `json:"per_metre"`
	Dark          int
	Columns       string
}

// The strip as another decoder sees it: true scale (8000 pixels a metre, 8 a millimetre) and
// every dark pixel of every column. One flipped bit is found.
func TestASecondProgramSeesTheSameStrip(t *testing.T) {
	_, b := goodStrip(t, StripText{SHA256: strings.Repeat("a", 64)})
	path := filepath.Join(t.TempDir(), "strip.png")
	require.NoError(t, os.WriteFile(path, b, 0o600))
	var other otherPNG
	require.NoError(t, json.Unmarshal(runSecond(t, "--png", path), &other))
	require.Equal(t, []string{"IHDR", "pHYs", "PLTE", "IDAT", "IEND"}, other.Order)
	require.Equal(t, [3]int{8000, 8000, 1}, other.PerMetre)
	require.Equal(t, 2160, other.Width)
	require.Equal(t, 640, other.Height)
	img, err := png.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	dark, columns := darkness(img.(*image.Paletted))
	require.Equal(t, dark, other.Dark)
	require.Equal(t, columns, other.Columns)
	require.Greater(t, dark, 2160, "there is a trace")
	b[len(b)/2] ^= 1
	require.NoError(t, os.WriteFile(path, b, 0o600))
	_, err = exec.Command("python3", secondReader, "--png", path).Output()
	require.Error(t, err)
}

// darkness counts the darkest pixels of a strip, and sums them up by columns.
func darkness(img *image.Paletted) (n int, columns string) {
	sum := sha256.New()
	for x := range img.Rect.Dx() {
		col := uint16(0)
		for y := range img.Rect.Dy() {
			if img.ColorIndexAt(x, y) == 3 {
				col++
			}
		}
		n += int(col)
		_ = binary.Write(sum, binary.LittleEndian, col)
	}
	return n, hex.EncodeToString(sum.Sum(nil))
}
