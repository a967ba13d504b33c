package labels

import (
	"fmt"
	"math"
	"strings"
)

// drawing is a label before it becomes PDF, PNG or SVG: black on white, from the top left.
type drawing struct {
	width, height Millimetres
	bars          []bar
	words         []word
	symbol        symbol
	title         string // for people who do not see it
}

// bar is a filled rectangle.
type bar struct{ x, y, w, h Millimetres }

// word is text on one line: x of its left edge, y of its baseline, height of its capitals.
type word struct {
	x, baseline, cap Millimetres
	text             string
}

// symbol is a QR symbol: its top left module without quiet zone, and the size of a module.
type symbol struct {
	x, y, module Millimetres
	matrix       [][]bool
}

// run is a row of black modules that touch each other.
type run struct{ x, y, n int }

// runs takes the matrix apart, from the top and from the left.
func (s symbol) runs() []run {
	var all []run
	for y, row := range s.matrix {
		for x := 0; x < len(row); x++ {
			from := x
			for x < len(row) && row[x] {
				x++
			}
			if x > from {
				all = append(all, run{from, y, x - from})
			}
		}
	}
	return all
}

// pdfPath is the symbol as one filled path in whole modules under one matrix. Drawn in any
// other way, rows miss each other by a dot at some resolutions and whole labels do not read.
// height is that of the page.
func (s symbol) pdfPath(height Millimetres) string {
	const k = pointsPerMM
	var b strings.Builder
	fmt.Fprintf(&b, "q 0 g %.6f 0 0 %.6f %.6f %.6f cm\n", k*float64(s.module),
		-k*float64(s.module), k*float64(s.x), k*float64(height-s.y))
	for _, r := range s.runs() {
		fmt.Fprintf(&b, "%d %d %d 1 re\n", r.x, r.y, r.n)
	}
	b.WriteString("f Q")
	return b.String()
}

// Fit is how a symbol sits in its square box.
type Fit struct {
	Version int         // of the symbol, 1 to 4
	Module  Millimetres // one module as printed
	Symbol  Millimetres // the side without quiet zone
	Box     Millimetres // the side with quiet zone
	Small   bool        // Module is under MinModule: many phones will not read it
}

// MinModule is the smallest module that phones read in spite of blur and ink; 0.35 mm is
// where every reader fails.
const MinModule Millimetres = 0.50

// leastModule is where printing is refused even to somebody who insists: three dots of a
// 203 dpi head.
const leastModule Millimetres = 0.375

const (
	slack     Millimetres = 0.4    // by so much a box may grow to give whole dots
	tolerance Millimetres = 0.0005 // for decimals
)

// fitBox finds the module of a symbol in a box. With known dots a module has whole dots, the
// nearest number that stays in the box and its slack. It refuses what no phone reads.
func fitBox(modules int, level Level, box Millimetres, dpi DPI) (Fit, error) {
	module := ModuleIn(box, modules)
	if dpi < 0 || dpi > 0 && dpi < 150 {
		return Fit{}, fmt.Errorf("%d dots an inch are too few for labels: use 203 or more", dpi)
	}
	if dpi > 0 {
		dots := math.Floor(float64(ModuleIn(box+slack, modules)/dpi.Dot()) + 1e-9)
		module = Millimetres(dots) * dpi.Dot()
	}
	fit := Fit{Version: (modules - 17) / 4, Module: module, Symbol: module * Millimetres(modules),
		Box: module * Millimetres(modules+2*quiet), Small: module < MinModule-tolerance}
	switch {
	case fit.Version > maxVersion:
		return fit, fmt.Errorf("the address on the label is too long for it (QR version %d, at "+
			"most %d): use a shorter host name", fit.Version, maxVersion)
	case module < leastModule-tolerance:
		return fit, fmt.Errorf("one module of the symbol would be %s, and nothing reads less than "+
			"%s: use a shorter host name or a printer with more dots an inch", module, leastModule)
	case level == LevelQ && box < 18-tolerance:
		return fit, fmt.Errorf("level Q needs a box of 18 mm and this one has %s: use level M", box)
	case level == LevelH && fit.Symbol < 15-tolerance:
		return fit, fmt.Errorf("level H needs a symbol of 15 mm and this one has %s: "+
			"use level M", fit.Symbol)
	}
	return fit, nil
}

// placeSymbol makes the symbol of a text in the middle of a box at x, y.
func placeSymbol(text string, box bar, s Style) (symbol, error) {
	matrix, err := Matrix(text, s.level())
	if err != nil {
		return symbol{}, err
	}
	fit, err := fitBox(len(matrix), s.level(), box.w, s.DPI)
	if err != nil {
		return symbol{}, err
	}
	if fit.Small && !s.AcceptSmall {
		return symbol{}, &SmallModule{fit}
	}
	inset := (box.w - fit.Symbol) / 2
	return symbol{box.x + inset, box.y + inset, fit.Module, matrix}, nil
}

// SmallModule is the refusal of modules under MinModule; a person may insist, with
// Style.AcceptSmall.
type SmallModule struct{ Fit Fit }

// Error gives the sentence.
func (e *SmallModule) Error() string {
	return fmt.Sprintf("one module of the symbol would be %s and should be %s: many phones will "+
		"not read it. Use a shorter host name, a lower level or a larger label, or insist.",
		e.Fit.Module, MinModule)
}
