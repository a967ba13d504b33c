package labels

import (
	"encoding/binary"
	"fmt"

	"golang.org/x/image/font/gofont/gomonobold"
)

// face reads outlines and widths of a TrueType font: tables head, hhea, hmtx, loca, glyf,
// cmap format 4 and OS/2 (OpenType specification 1.9). It reads only the fonts that are
// built in, whose tables are known to be sound.
type face struct {
	tables   map[string][]byte
	perEm    int // font units per em
	cap      int // height of H in font units
	longLoca bool
	hMetrics int
}

// mono is the face of the labels, Go Mono Bold (BSD licence).
var mono = newFace(gomonobold.TTF)

func newFace(ttf []byte) *face {
	f := &face{tables: map[string][]byte{}}
	for i := range u16(ttf, 4) {
		record := ttf[12+16*i:]
		from := binary.BigEndian.Uint32(record[8:])
		f.tables[string(record[:4])] = ttf[from : from+binary.BigEndian.Uint32(record[12:])]
	}
	f.perEm = u16(f.tables["head"], 18)
	f.longLoca = u16(f.tables["head"], 50) == 1
	f.hMetrics = u16(f.tables["hhea"], 34)
	f.cap = u16(f.tables["OS/2"], 88)
	return f
}

func u16(b []byte, at int) int { return int(binary.BigEndian.Uint16(b[at:])) }
func i16(b []byte, at int) int { return int(int16(binary.BigEndian.Uint16(b[at:]))) }

// glyph gives the number of the outline of a letter, 0 when the face has none.
func (f *face) glyph(r rune) int {
	cmap := f.tables["cmap"]
	for i := range u16(cmap, 2) {
		record := cmap[4+8*i:]
		sub := cmap[binary.BigEndian.Uint32(record[4:]):]
		if u16(record, 0) == 3 && u16(record, 2) == 1 && u16(sub, 0) == 4 && r <= 0xffff {
			return segment(sub, int(r))
		}
	}
	return 0
}

// segment searches a cmap subtable of format 4.
func segment(sub []byte, r int) int {
	twice := u16(sub, 6)
	ends, starts := sub[14:], sub[16+twice:]
	deltas, offsets := sub[16+2*twice:], sub[16+3*twice:]
	for i := 0; i < twice; i += 2 {
		if r > u16(ends, i) {
			continue
		}
		if r < u16(starts, i) {
			return 0
		}
		if u16(offsets, i) == 0 {
			return (r + u16(deltas, i)) & 0xffff
		}
		return u16(offsets, i+u16(offsets, i)+2*(r-u16(starts, i)))
	}
	return 0
}

// advance is the width of a glyph in font units.
func (f *face) advance(glyph int) int {
	return u16(f.tables["hmtx"], 4*min(glyph, f.hMetrics-1))
}

// width is how wide text is when capitals are as high as capHeight. It refuses a letter that
// the face does not have, because it would print as an empty box.
func (f *face) width(text string, capHeight Millimetres) (Millimetres, error) {
	units := 0
	for _, r := range text {
		g := f.glyph(r)
		if g == 0 {
			return 0, fmt.Errorf("the sign %q in %q cannot be printed on labels: "+
				"use Latin, Greek or Cyrillic letters", r, text)
		}
		units += f.advance(g)
	}
	return Millimetres(units) * capHeight / Millimetres(f.cap), nil
}

// em is the font size, in the unit of capHeight, at which capitals have that height.
func (f *face) em(capHeight Millimetres) Millimetres {
	return capHeight * Millimetres(f.perEm) / Millimetres(f.cap)
}

// pen takes an outline; the signatures are those of image/vector.
type pen interface {
	MoveTo(x, y float32)
	LineTo(x, y float32)
	QuadTo(bx, by, cx, cy float32)
	ClosePath()
}

type point struct {
	x, y int
	on   bool // on the curve, else a control point
}

// trace draws text with its baseline from x, y, so many units of the pen for one font unit.
func (f *face) trace(p pen, text string, x, y, unit float64) {
	for _, r := range text {
		g := f.glyph(r)
		for _, contour := range f.contours(g) {
			traceContour(p, contour, func(c point) (float32, float32) {
				return float32(x + float64(c.x)*unit), float32(y - float64(c.y)*unit)
			})
		}
		x += float64(f.advance(g)) * unit
	}
}

// traceContour walks a closed contour of quadratic curves; between two control points lies
// an implied point on the curve.
func traceContour(p pen, c []point, at func(point) (float32, float32)) {
	start := c[0]
	if !start.on {
		start = middle(c[0], c[len(c)-1])
	}
	x, y := at(start)
	p.MoveTo(x, y)
	for i := range c {
		next := c[(i+1)%len(c)]
		switch {
		case c[i].on && next.on:
			x, y = at(next)
			p.LineTo(x, y)
		case !c[i].on:
			if !next.on {
				next = middle(c[i], next)
			}
			bx, by := at(c[i])
			x, y = at(next)
			p.QuadTo(bx, by, x, y)
		}
	}
	p.ClosePath()
}

func middle(a, b point) point { return point{(a.x + b.x) / 2, (a.y + b.y) / 2, true} }

// outline gives the glyf entry of a glyph, empty for a space.
func (f *face) outline(glyph int) []byte {
	loca, glyf := f.tables["loca"], f.tables["glyf"]
	if f.longLoca {
		from := binary.BigEndian.Uint32(loca[4*glyph:])
		to := binary.BigEndian.Uint32(loca[4*glyph+4:])
		return glyf[from:to]
	}
	return glyf[2*u16(loca, 2*glyph) : 2*u16(loca, 2*glyph+2)]
}

// contours gives the closed curves of a glyph, of a composite one those of its parts.
func (f *face) contours(glyph int) [][]point {
	data := f.outline(glyph)
	if len(data) == 0 {
		return nil
	}
	if i16(data, 0) < 0 {
		return f.composite(data[10:])
	}
	return simple(data)
}

// composite puts parts at whole offsets; the built-in fonts neither scale nor turn parts.
func (f *face) composite(data []byte) [][]point {
	const words, more = 1, 32
	var all [][]point
	for {
		flags, part := u16(data, 0), f.contours(u16(data, 2))
		dx, dy, size := int(int8(data[4])), int(int8(data[5])), 6
		if flags&words != 0 {
			dx, dy, size = i16(data, 4), i16(data, 6), 8
		}
		for _, contour := range part {
			for i := range contour {
				contour[i].x, contour[i].y = contour[i].x+dx, contour[i].y+dy
			}
			all = append(all, contour)
		}
		if flags&more == 0 {
			return all
		}
		data = data[size:]
	}
}

// simple unpacks flags and coordinates, both run-length coded.
func simple(data []byte) [][]point {
	count := i16(data, 0)
	ends, data := data[10:10+2*count], data[10+2*count:]
	total := u16(ends, 2*count-2) + 1
	data = data[2+u16(data, 0):] // hinting
	flags := make([]byte, 0, total)
	for len(flags) < total {
		flag := data[0]
		data = data[1:]
		flags = append(flags, flag)
		if flag&8 != 0 {
			for range data[0] {
				flags = append(flags, flag)
			}
			data = data[1:]
		}
	}
	xs, data := coordinates(flags, data, 2, 16)
	ys, _ := coordinates(flags, data, 4, 32)
	contours, from := make([][]point, count), 0
	for i := range contours {
		for ; from <= u16(ends, 2*i); from++ {
			contours[i] = append(contours[i], point{xs[from], ys[from], flags[from]&1 != 0})
		}
	}
	return contours
}

// coordinates sums up the steps along one axis and gives what follows them.
func coordinates(flags, data []byte, short, same byte) ([]int, []byte) {
	at, all := 0, make([]int, len(flags))
	for i, flag := range flags {
		switch {
		case flag&short != 0:
			step := int(data[0])
			if flag&same == 0 {
				step = -step
			}
			at, data = at+step, data[1:]
		case flag&same == 0:
			at, data = at+i16(data, 0), data[2:]
		}
		all[i] = at
	}
	return all, data
}
