package recording

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"hash/crc32"
	"image"
	"image/png"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func goodStrip(t *testing.T, text StripText) (*image.Paletted, []byte) {
	t.Helper()
	r, err := Read("good_c.edf", load(t, "edf/good_c.edf"), Options{})
	require.NoError(t, err)
	b, err := StripPNG(r, 0, text)
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	return img.(*image.Paletted), b
}

// chunks takes a PNG apart (layout and checksums of the PNG specification).
func chunks(t *testing.T, b []byte) (names []string, data map[string][]byte) {
	t.Helper()
	data = map[string][]byte{}
	for at := 8; at < len(b); {
		n := int(binary.BigEndian.Uint32(b[at:]))
		name := string(b[at+4 : at+8])
		require.Equal(t, crc32.ChecksumIEEE(b[at+4:at+8+n]), binary.BigEndian.Uint32(b[at+8+n:]))
		names, data[name] = append(names, name), b[at+8:at+8+n]
		at += 12 + n
	}
	return names, data
}

// 20 s at 8 px/mm: 2160 × 640 px, pHYs 8000 × 8000 per metre between IHDR and the palette,
// two bits a pixel; small enough to keep.
func TestStripPNG(t *testing.T) {
	img, b := goodStrip(t, StripText{})
	require.Equal(t, image.Rect(0, 0, 2160, 640), img.Rect)
	names, data := chunks(t, b)
	require.Equal(t, []string{"IHDR", "pHYs", "PLTE"}, names[:3])
	require.Equal(t, []byte{0, 0, 0x1f, 0x40, 0, 0, 0x1f, 0x40, 1}, data["pHYs"])
	require.Equal(t, byte(2), data["IHDR"][8], "bits a pixel")
	require.Less(t, len(b), 20_000)
	img, _ = goodStrip(t, StripText{Seconds: 30})
	require.Equal(t, image.Rect(0, 0, 2160, 960), img.Rect)
}

// dark answers the topmost and lowest dark pixel of a column between two rows of pixels.
func dark(img *image.Paletted, x, from, to int) (top, low int) {
	top, low = -1, -1
	for y := from; y < to; y++ {
		if img.ColorIndexAt(x, y) == 3 {
			if top < 0 {
				top = y
			}
			low = y
		}
	}
	return top, low
}

// The calibration pulse is 1 mV = 80 px high and 200 ms = 40 px wide; so is the scale of the
// trace: the R wave of the bench wave, 0.999 mV over the isoelectric line, at 0.5 s.
func TestStripScale(t *testing.T) {
	img, _ := goodStrip(t, StripText{})
	foot, _ := dark(img, 30, 0, 280)
	roof, _ := dark(img, 60, 0, 280)
	require.Equal(t, 80, foot-roof)
	left, right := 0, 0
	for x := range 120 {
		if top, _ := dark(img, x, 0, 280); top == roof {
			if left == 0 {
				left = x
			}
			right = x
		}
	}
	require.InDelta(t, 40, right-left, 2)
	rest, _ := dark(img, 128+30, 0, 280)
	peak, at := 640, 0
	for x := 128; x < 128+200; x++ {
		if top, _ := dark(img, x, 0, 280); top < peak {
			peak, at = top, x
		}
	}
	require.InDelta(t, 80, rest-peak, 1)
	require.InDelta(t, 128+100, at, 1)
}

// A spike of two samples at 1000 Hz is narrower than a pixel and still drawn to its top.
func TestStripKeepsSpikes(t *testing.T) {
	x := make([]float64, 20000)
	x[3333], x[3334] = 1.5, 1.5
	b, err := StripPNG(inMillivolts(x, 1000), 0, StripText{})
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	top, _ := dark(img.(*image.Paletted), 128+666, 0, 280)
	require.InDelta(t, 160-120, top, 1)
}

// An offset does not push the trace off the paper; what lies outside its row is left out.
func TestStripOffset(t *testing.T) {
	b := benchWave(250, 60, 1, 20)
	for i := range b {
		b[i] += 250
	}
	hold(b, 1000, 1100, 300)
	tr, err := newTrace(inMillivolts(b, 250), 0, StripText{})
	require.NoError(t, err)
	require.InDelta(t, 0, tr.rows[0][20][0], 0.5)
	require.True(t, offPaper(tr.rows[0][850]))
	require.True(t, offPaper([2]float64{math.NaN(), 0}))
	require.False(t, offPaper([2]float64{-30, 30}), "crosses the paper")
}

// Neighbouring columns touch: the trace has no holes, at any rate.
func TestStripHasNoHoles(t *testing.T) {
	for _, fs := range []float64{100, 128, 250, 333, 1000} {
		tr, err := newTrace(inMillivolts(benchWave(fs, 60, 1, 20), fs), 0, StripText{})
		require.NoError(t, err)
		for _, row := range tr.rows {
			for c := 3; c < len(row)-3; c++ {
				require.False(t, math.IsNaN(row[c][0]), "%v %d", fs, c)
				require.LessOrEqual(t, row[c][0], row[c-1][1]+0.15, "%v %d", fs, c)
				require.GreaterOrEqual(t, row[c][1], row[c-1][0]-0.15, "%v %d", fs, c)
			}
		}
	}
}

// Where something is missing the trace breaks off instead of drawing a step.
func TestStripBreaksAtGap(t *testing.T) {
	x := make([]float64, 5000)
	hold(x, 1000, 5000, 1)
	r := inMillivolts(x, 250)
	tall := func() float64 {
		tr, err := newTrace(r, 0, StripText{})
		require.NoError(t, err)
		most := 0.0
		for _, c := range tr.rows[0] {
			most = max(most, c[1]-c[0])
		}
		return most
	}
	require.InDelta(t, 10, tall(), 1e-9, "a step is drawn")
	r.Gaps = []Gap{{At: 4, Sample: 4, Seconds: 2}}
	require.InDelta(t, 0, tall(), 1e-9)
}

func TestStripWriting(t *testing.T) {
	s := &Signal{Label: "ECG II", Rate: 250}
	lines := stripLines(s, 0, StripText{Device: "R-017", Date: "2026-11-24", SHA256: "abc"})
	for _, want := range []string{"25 mm/s", "10 mm/mV", "250 Hz", "ECG II", BenchCheck} {
		require.Contains(t, lines[0], want)
	}
	require.Equal(t, "device R-017 | 2026-11-24 | sha256 abc", lines[1])
	require.Contains(t, stripLines(&Signal{Rate: 1}, 2, StripText{})[0], "signal 3")
	long := &Signal{Label: strings.Repeat("ä", 90), Rate: 250}
	require.Contains(t, stripLines(long, 0, StripText{})[0], strings.Repeat("ä", 40)+" | from")
	// the longest line fits beside the margin
	full := stripLines(s, 0, StripText{Device: strings.Repeat("D", 20), Date: "2026-11-24 10:00",
		SHA256: strings.Repeat("f", 64)})
	for _, l := range full {
		require.Less(t, 128+len(l)*glyphWide*2, 2160)
	}
}

// readText reads the writing back from the picture, dot by dot.
func readText(img *image.Paletted, x, y, size, n int) string {
	var out strings.Builder
	for k := range n {
		var g [5]byte
		for c := range 5 {
			for row := range glyphHigh {
				if img.ColorIndexAt(x+(k*glyphWide+c)*size, y+row*size) == 3 {
					g[c] |= 1 << row
				}
			}
		}
		found := '\uFFFD'
		for i, h := range glyphs {
			if h == g {
				found = rune(' ' + i)
				break
			}
		}
		out.WriteRune(found)
	}
	return out.String()
}

// What is written can be read back from the pixels, letter by letter; no two letters look the
// same; letters outside ASCII become plain ones.
func TestFont(t *testing.T) {
	require.Len(t, glyphs, 95)
	seen := map[[5]byte]int{}
	for i, g := range glyphs {
		before, twice := seen[g]
		require.False(t, twice, "%c and %c", ' '+before, ' '+i)
		seen[g] = i
		for _, c := range g {
			require.Less(t, c, byte(1<<glyphHigh))
		}
	}
	img := image.NewPaletted(image.Rect(0, 0, 2000, 40), stripInks)
	all := " !\"#$%&'()*+,-./0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVWXYZ[\\]^_`" +
		"abcdefghijklmnopqrstuvwxyz{|}~"
	require.Equal(t, 95*12, drawText(img, 10, 10, 2, all, 3))
	require.Equal(t, all, readText(img, 10, 10, 2, 95))
	drawText(img, 10, 10, 2, "Köln µV 心", 3)
	require.Equal(t, "Koeln uV ?", readText(img, 10, 10, 2, 10))
	drawText(img, 1990, 30, 2, "outside", 3) // must not panic
}

// The purpose limit stands in the picture itself.
func TestStripSaysWhatItIs(t *testing.T) {
	img, _ := goodStrip(t, StripText{SHA256: strings.Repeat("0f", 32)})
	first := readText(img, 128, 640-40, 2, 130)
	require.Contains(t, first, BenchCheck)
	require.Contains(t, readText(img, 128, 640-22, 2, 80), strings.Repeat("0f", 32))
}

func TestStripRefusals(t *testing.T) {
	r := inMillivolts(benchWave(250, 60, 1, 20), 250)
	for _, s := range []StripText{{Seconds: -1}, {Seconds: 61}, {Seconds: math.NaN()}, {From: -1},
		{From: math.Inf(1)}} {
		_, err := StripPNG(r, 0, s)
		require.ErrorContains(t, err, "up to 60 seconds")
		_, err = StripSVG(r, 0, s)
		require.Error(t, err)
	}
	r.Signals[0].NoScale = "no usable scale"
	_, err := StripPNG(r, 0, StripText{})
	require.ErrorContains(t, err, "no millivolts")
	r = inMillivolts(nil, 0)
	_, err = StripSVG(r, 0, StripText{})
	require.ErrorContains(t, err, "no sampling rate")
	// beyond the end: an empty paper, no panic
	_, err = StripPNG(inMillivolts(benchWave(250, 60, 1, 5), 250), 0, StripText{From: 1000})
	require.NoError(t, err)
}

// The SVG is well formed, 270 × 80 mm, in millimetres, carries its words escaped, and its R
// wave is 10 mm high.
func TestStripSVG(t *testing.T) {
	r := inMillivolts(benchWave(250, 60, 1, 20), 250)
	r.Signals[0].Label = `<b>&"`
	b, err := StripSVG(r, 0, StripText{Device: "R-017"})
	require.NoError(t, err)
	d := xml.NewDecoder(bytes.NewReader(b))
	for {
		_, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
	}
	text := string(b)
	require.Contains(t, text, `width="270mm" height="80mm" viewBox="0 0 270 80"`)
	require.NotContains(t, text, "<b>")
	require.Contains(t, text, BenchCheck)
	require.Contains(t, text, "device R-017")
	path := regexp.MustCompile(`d="M3 20H5V10H10V20H12([^"]*)"`).FindStringSubmatch(text)
	require.Len(t, path, 2, "pulse of 10 mm, 5 mm wide")
	top := 40.0
	for _, v := range regexp.MustCompile(`V([0-9.]+)`).FindAllStringSubmatch(path[1], -1) {
		y, err := strconv.ParseFloat(v[1], 64)
		require.NoError(t, err)
		top = min(top, y)
	}
	require.InDelta(t, 20-9.9, top, 0.15)
	require.NotContains(t, fmt.Sprint(text), "NaN")
}

// The same recording gives the same bytes.
func TestStripIsRepeatable(t *testing.T) {
	_, a := goodStrip(t, StripText{Device: "x"})
	_, b := goodStrip(t, StripText{Device: "x"})
	require.True(t, bytes.Equal(a, b))
}
