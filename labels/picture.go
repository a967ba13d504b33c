package labels

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"strings"

	"golang.org/x/image/vector"
)

// PNG draws one label in black and white at a printer's dots per inch, 203 to 1200, with whole
// dots for every module and its true size in the pHYs chunk (PNG specification, 11.3.5.3).
func PNG(l Label, s Style, dpi DPI) ([]byte, error) {
	if dpi < 203 || dpi > 1200 {
		return nil, fmt.Errorf("%d dots an inch is not between 203 and 1200: "+
			"give what the printer prints", dpi)
	}
	s.DPI = dpi
	d, err := drawLabel(l, s)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if err := png.Encode(&out, d.raster(dpi)); err != nil {
		return nil, fmt.Errorf("the picture could not be made: %w", err)
	}
	return withSize(out.Bytes(), dpi), nil
}

// dots is a length in dots, rounded.
func (m Millimetres) dots(dpi DPI) int { return int(math.Round(float64(m / dpi.Dot()))) }

// raster draws in two colours. Text is drawn smooth and cut at one half.
func (d drawing) raster(dpi DPI) *image.Paletted {
	bounds := image.Rect(0, 0, d.width.dots(dpi), d.height.dots(dpi))
	img := image.NewPaletted(bounds, color.Palette{color.White, color.Black})
	black := func(x, y, w, h int) {
		draw.Draw(img, image.Rect(x, y, x+w, y+h), image.NewUniform(color.Black), image.Point{},
			draw.Src)
	}
	for _, b := range d.bars {
		black(b.x.dots(dpi), b.y.dots(dpi), max(b.w.dots(dpi), 1), max(b.h.dots(dpi), 1))
	}
	s := d.symbol
	left, top, module := s.x.dots(dpi), s.y.dots(dpi), s.module.dots(dpi)
	for _, r := range s.runs() {
		black(left+r.x*module, top+r.y*module, r.n*module, module)
	}
	text := image.NewAlpha(bounds)
	ink := vector.NewRasterizer(bounds.Dx(), bounds.Dy())
	d.traceWords(ink, 1/float64(dpi.Dot()))
	ink.Draw(text, bounds, image.Opaque, image.Point{})
	for i, a := range text.Pix {
		if a >= 128 {
			img.Pix[i] = 1
		}
	}
	return img
}

// traceWords draws all text, so many units of the pen for a millimetre.
func (d drawing) traceWords(p pen, unit float64) {
	for _, w := range d.words {
		size := float64(w.cap) * unit / float64(mono.cap)
		mono.trace(p, w.text, float64(w.x)*unit, float64(w.baseline)*unit, size)
	}
}

// withSize puts the chunk pHYs behind the header, which is always the first 33 bytes.
func withSize(file []byte, dpi DPI) []byte {
	const header = 8 + 8 + 13 + 4
	perMetre := uint32(math.Round(1000 / float64(dpi.Dot())))
	chunk := binary.BigEndian.AppendUint32([]byte("pHYs"), perMetre)
	chunk = append(binary.BigEndian.AppendUint32(chunk, perMetre), 1)
	out := append([]byte{}, file[:header]...)
	out = binary.BigEndian.AppendUint32(out, 9)
	out = append(out, chunk...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	return append(out, file[header:]...)
}

// SVG draws one label in true millimetres without any font: the symbol is one path in whole
// modules, text and lines are a second.
func SVG(l Label, s Style) ([]byte, error) {
	d, err := drawLabel(l, s)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%gmm" height="%gmm" `+
		`viewBox="0 0 %g %g" role="img"><title>%s</title>`, d.width, d.height, d.width, d.height,
		d.title)
	fmt.Fprintf(&b, `<rect width="%g" height="%g" fill="#fff"/>`, d.width, d.height)
	m := d.symbol
	fmt.Fprintf(&b, `<path shape-rendering="crispEdges" `+
		`transform="matrix(%.6g 0 0 %.6g %.6g %.6g)" d="`, m.module, m.module, m.x, m.y)
	for _, r := range m.runs() {
		fmt.Fprintf(&b, "M%d %dh%dv1h%dz", r.x, r.y, r.n, -r.n)
	}
	text := &svgPen{}
	for _, r := range d.bars {
		fmt.Fprintf(text, "M%.4g %.4gh%.4gv%.4gh%.4gz", r.x, r.y, r.w, r.h, -r.w)
	}
	d.traceWords(text, 1)
	fmt.Fprintf(&b, `"/><path d="%s"/></svg>`, text.String())
	b.WriteByte('\n')
	return b.Bytes(), nil
}

// svgPen writes outlines as path data, to a thousandth of a millimetre.
type svgPen struct{ strings.Builder }

func (p *svgPen) MoveTo(x, y float32) { fmt.Fprintf(p, "M%.3f %.3f", x, y) }
func (p *svgPen) LineTo(x, y float32) { fmt.Fprintf(p, "L%.3f %.3f", x, y) }
func (p *svgPen) QuadTo(bx, by, cx, cy float32) {
	fmt.Fprintf(p, "Q%.3f %.3f %.3f %.3f", bx, by, cx, cy)
}
func (p *svgPen) ClosePath() { p.WriteByte('z') }
