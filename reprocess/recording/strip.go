package recording

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"
	"strings"
)

// The strip at true scale: 25 mm/s and 10 mm/mV in rows of 10 s on a grid of 1 mm, every fifth
// line stronger, with a pulse of 1 mV and 200 ms at the left of each row. A row is 270 mm wide
// (20 mm for the pulse and its margins, 250 mm for the signal) and 40 mm high.
const (
	RowSeconds  = 10
	rowMM       = 40
	wideMM      = 270
	leftMM      = 16 // where the signal begins
	mmPerSecond = 25
	mmPerMV     = 10
	pxPerMM     = 8 // of the PNG: 203 dots per inch
	stripMost   = 60.0
)

// BenchCheck is the purpose limit that every strip carries.
const BenchCheck = "bench check, not for diagnosis"

// StripText is what is written on the strip beside the trace.
type StripText struct {
	Device  string // number of the device, may be empty
	Date    string // of the test, as it is to be shown, may be empty
	SHA256  string // of the recording's file, hexadecimal, may be empty
	From    float64
	Seconds float64 // how much to draw; 0 = 20 s
}

// trace is what both pictures draw: per row and column the lowest and highest point, in mm
// above the middle of the row.
type trace struct {
	rows  [][][2]float64 // one column per 1/8 mm; NaN where there is no sample
	lines []string       // the writing
}

// newTrace cuts the wanted part of a lead into rows and columns. Every column keeps its lowest
// and highest sample, so that a spike of two samples is not lost; each row is shifted to its
// median, so that an offset does not push it off the paper.
func newTrace(r *Recording, lead int, t StripText) (*trace, error) {
	s := &r.Signals[lead]
	switch {
	case s.NoScale != "":
		return nil, errors.New("no strip can be drawn: the lead has no millivolts")
	case s.Rate <= 0 || s.N == 0:
		return nil, errors.New("no strip can be drawn: the lead has no sampling rate")
	}
	if t.Seconds == 0 {
		t.Seconds = 2 * RowSeconds
	}
	if !(t.Seconds > 0 && t.Seconds <= stripMost) || !(t.From >= 0 && t.From < 1e9) {
		return nil, fmt.Errorf("a strip shows up to %.0f seconds", stripMost)
	}
	joints := make([]int, len(r.Gaps))
	for i, g := range r.Gaps {
		joints[i] = int(math.Round(g.Sample * s.Rate))
	}
	out := &trace{lines: stripLines(s, lead, t)}
	for k := range int(math.Ceil(t.Seconds/RowSeconds - 1e-9)) {
		begin := t.From + float64(k)*RowSeconds
		length := min(RowSeconds, t.Seconds-float64(k)*RowSeconds)
		out.rows = append(out.rows, traceRow(s, begin, length, joints))
	}
	return out, nil
}

func stripLines(s *Signal, lead int, t StripText) []string {
	label := s.Label
	if label == "" {
		label = fmt.Sprintf("signal %d", lead+1)
	}
	if r := []rune(label); len(r) > 40 {
		label = string(r[:40])
	}
	first := fmt.Sprintf("25 mm/s | 10 mm/mV | %.6g Hz | %s | from %.4g s, rows shifted to "+
		"their middle | %s", s.Rate, label, t.From, BenchCheck)
	var second []string
	for _, part := range [][2]string{{"device ", t.Device}, {"", t.Date}, {"sha256 ", t.SHA256}} {
		if part[1] != "" {
			second = append(second, part[0]+part[1])
		}
	}
	return []string{first, strings.Join(second, " | ")}
}

// traceRow fills the columns of one row; no line is drawn across a joint.
func traceRow(s *Signal, begin, seconds float64, joints []int) [][2]float64 {
	from := min(s.N, int(math.Ceil(begin*s.Rate-1e-6)))
	to := min(s.N, int(math.Ceil((begin+seconds)*s.Rate-1e-6)))
	columns := make([][2]float64, RowSeconds*mmPerSecond*pxPerMM)
	for i := range columns {
		columns[i] = [2]float64{math.NaN(), math.NaN()}
	}
	x := s.Samples(from, max(from, to))
	kept := make([]float64, 0, len(x))
	for _, v := range x {
		if !math.IsNaN(v) {
			kept = append(kept, v)
		}
	}
	if len(kept) == 0 {
		return columns
	}
	middle := median(kept)
	last := math.NaN()
	perSecond := float64(mmPerSecond * pxPerMM)
	for i, v := range x {
		y := (v - middle) * mmPerMV
		if _, joint := slices.BinarySearch(joints, from+i); joint {
			last = math.NaN()
		}
		at := (float64(from+i)/s.Rate - begin) * perSecond
		joinColumns(columns, at, perSecond/s.Rate, last, y)
		last = y
	}
	return columns
}

// joinColumns draws the line from the sample before (at the column at − step) to this one.
func joinColumns(columns [][2]float64, at, step, last, y float64) {
	if math.IsNaN(y) {
		return
	}
	if math.IsNaN(last) {
		last, step = y, 0
	}
	a, b := int(math.Floor(at-step+1e-6)), int(math.Floor(at+1e-6))
	for c := max(a, 0); c <= min(b, len(columns)-1); c++ {
		lo, hi := y, y
		if b > a {
			// the part of the line that crosses this column
			p := last + (y-last)*float64(c-a)/float64(b-a)
			q := last + (y-last)*min(1, float64(c+1-a)/float64(b-a))
			lo, hi = min(p, q), max(p, q)
		} else {
			lo, hi = min(last, y), max(last, y)
		}
		if math.IsNaN(columns[c][0]) {
			columns[c] = [2]float64{lo, hi}
		}
		columns[c] = [2]float64{min(columns[c][0], lo), max(columns[c][1], hi)}
	}
}

// Inks of the picture: paper, thin grid, strong grid, trace and writing.
var stripInks = color.Palette{color.RGBA{255, 255, 255, 255}, color.RGBA{232, 214, 205, 255},
	color.RGBA{205, 165, 150, 255}, color.RGBA{20, 20, 30, 255}}

// StripPNG draws the strip as a palette picture of 8 px/mm with the physical size in its pHYs
// chunk, so that it prints at true scale. 20 s are 2160 × 640 px.
func StripPNG(r *Recording, lead int, t StripText) ([]byte, error) {
	tr, err := newTrace(r, lead, t)
	if err != nil {
		return nil, err
	}
	img := image.NewPaletted(image.Rect(0, 0, wideMM*pxPerMM, len(tr.rows)*rowMM*pxPerMM),
		stripInks)
	drawGrid(img)
	for k, line := range tr.lines { // before the trace, which must never be hidden
		drawText(img, leftMM*pxPerMM, img.Rect.Max.Y-40+k*18, 2, line, 3)
	}
	for k, row := range tr.rows {
		drawRow(img, k*rowMM*pxPerMM, row)
	}
	var b bytes.Buffer
	e := png.Encoder{CompressionLevel: png.BestCompression}
	if err := e.Encode(&b, img); err != nil {
		return nil, err
	}
	return withPhysicalSize(b.Bytes()), nil
}

func drawGrid(img *image.Paletted) {
	size := img.Rect.Size()
	for _, ink := range []uint8{1, 2} {
		step := pxPerMM
		if ink == 2 {
			step *= 5
		}
		for x := 0; x < size.X; x += step {
			fill(img, x, 0, 1, size.Y, ink)
		}
		for y := 0; y < size.Y; y += step {
			fill(img, 0, y, size.X, 1, ink)
		}
	}
}

// drawRow draws the calibration pulse and the trace of one row that begins at pixel top.
func drawRow(img *image.Paletted, top int, row [][2]float64) {
	middle := top + rowMM*pxPerMM/2
	y := func(mm float64) int {
		mm = max(-rowMM/2, min(rowMM/2, mm)) // keep to the row
		return min(middle-int(math.Round(mm*pxPerMM)), top+rowMM*pxPerMM-2)
	}
	line := func(x0, x1 int, lo, hi float64) {
		fill(img, x0, y(hi), x1-x0, y(lo)-y(hi)+2, 3)
	}
	for _, p := range pulse {
		x0, x1 := int(p[0]*pxPerMM), int(p[2]*pxPerMM)
		line(x0, max(x1, x0+2), min(p[1], p[3]), max(p[1], p[3]))
	}
	for c, v := range row {
		if !offPaper(v) {
			line(leftMM*pxPerMM+c, leftMM*pxPerMM+c+1, v[0], v[1])
		}
	}
}

// offPaper tells whether a column has no sample or lies wholly outside its row: it is left
// out, for a line along the edge would look like cut-off tops.
func offPaper(v [2]float64) bool {
	return math.IsNaN(v[0]) || v[0] > rowMM/2 || v[1] < -rowMM/2
}

// pulse is the calibration pulse: 1 mV high, 200 ms long, with its feet; in mm, y up.
var pulse = [5][4]float64{{3, 0, 5, 0}, {5, 0, 5, 10}, {5, 10, 10, 10}, {10, 0, 10, 10},
	{10, 0, 12, 0}}

// withPhysicalSize inserts the pHYs chunk after the signature and IHDR (33 bytes): pixels per
// metre both ways, unit 1 = metre.
func withPhysicalSize(b []byte) []byte {
	const headerEnd = 33
	chunk := make([]byte, 0, 21)
	chunk = binary.BigEndian.AppendUint32(chunk, 9)
	chunk = append(chunk, "pHYs"...)
	chunk = binary.BigEndian.AppendUint32(chunk, pxPerMM*1000)
	chunk = binary.BigEndian.AppendUint32(chunk, pxPerMM*1000)
	chunk = append(chunk, 1)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	out := make([]byte, 0, len(b)+len(chunk))
	out = append(append(out, b[:headerEnd]...), chunk...)
	return append(out, b[headerEnd:]...)
}
