package labels

import (
	"fmt"
	"time"
)

// Most is how many labels one request may ask for: about a second of work on one core.
const Most = 1000

// Paper is a size of sheet.
type Paper string

// The papers.
const (
	A4     Paper = "A4"     // 210 x 297 mm, ISO 216
	Letter Paper = "Letter" // 215.9 x 279.4 mm, ANSI/ASME Y14.1
)

// Size gives width and height, zero for an unknown paper.
func (p Paper) Size() (Millimetres, Millimetres) {
	switch p {
	case A4:
		return 210, 297
	case Letter:
		return 215.9, 279.4
	}
	return 0, 0
}

// Correction makes up for a printer that shifts or scales. The whole page is scaled from its
// top left corner, then moved right by X and down by Y.
type Correction struct {
	X, Y           Millimetres // 10 mm either way at most
	ScaleX, ScaleY float64     // 0.95 to 1.05; 0: not scaled
}

func (c Correction) orNone() Correction {
	if c.ScaleX == 0 {
		c.ScaleX = 1
	}
	if c.ScaleY == 0 {
		c.ScaleY = 1
	}
	return c
}

func (c Correction) check() error {
	c = c.orNone()
	if !(c.X >= -10 && c.X <= 10 && c.Y >= -10 && c.Y <= 10) {
		return fmt.Errorf("the offsets %s and %s are too large: give at most 10 mm either way",
			c.X, c.Y)
	}
	for _, s := range []float64{c.ScaleX, c.ScaleY} {
		if !(s >= 0.95 && s <= 1.05) {
			return fmt.Errorf("the scale %.3f is not between 0.95 and 1.05: "+
				"set the print dialog to 100 %% first", s)
		}
	}
	return nil
}

// Sheet is how labels lie on paper.
type Sheet struct {
	Name          string // as shown to a person
	Paper         Paper
	Form          Form
	Columns, Rows int
	Left, Top     Millimetres // margins
	Width, Height Millimetres // of one cell; the label stands in its middle
	GapX, GapY    Millimetres // between cells
	Cut           bool        // plain paper: print thin lines to cut along
}

// Presets are named by size and count, never by a maker's number.
func Presets() []Sheet {
	return []Sheet{
		{"38.1 x 21.2, 65 on A4", A4, Wide, 5, 13, 4.75, 10.7, 38.1, 21.2, 2.5, 0, false},
		{"63.5 x 38.1, 21 on A4", A4, Wide, 3, 7, 7.25, 15.15, 63.5, 38.1, 2.5, 0, false},
		{"66.7 x 25.4, 30 on Letter", Letter, Wide, 3, 10, 4.75, 12.7, 66.7, 25.4, 3.15, 0, false},
		{"38.1 x 21.2, 60 to cut on Letter",
			Letter, Wide, 5, 12, 8.7, 12.5, 38.1, 21.2, 2, 0, true},
		{"20.5 x 38, 54 to cut on A4", A4, Upright, 9, 6, 8.75, 22, 20.5, 38, 1, 2, true},
		{"20.5 x 38, 54 to cut on Letter", Letter, Upright, 9, 6, 11.7, 17, 20.5, 38, 1, 2, true},
		{"20.5 x 30, 72 to cut on A4", A4, Smallest, 9, 8, 8.75, 18, 20.5, 30, 1, 2, true},
		{"20.5 x 30, 63 to cut on Letter", Letter, Smallest, 9, 7, 11.7, 22, 20.5, 30, 1, 2, true},
	}
}

// Preset finds one by its name.
func Preset(name string) (Sheet, error) {
	for _, s := range Presets() {
		if s.Name == name {
			return s, nil
		}
	}
	return Sheet{}, fmt.Errorf("there is no sheet %q: choose one from the list", name)
}

// Job is one request to print a sheet.
type Job struct {
	Sheet      Sheet
	Style      Style // its Form is that of the sheet
	Start      int   // cell to begin with, for sheets already begun: 1 is top left, 0 as 1
	Correction Correction
	Date       time.Time // of the file; nothing on the labels
}

const (
	ruleLength Millimetres = 100
	ruleRoom   Millimetres = 8   // margin the check rule needs
	rulePlace  Millimetres = 5.6 // its upper edge, below what printers cannot reach
)

// check refuses a sheet that does not fit its paper or whose cells are too small.
func (s Sheet) check() error {
	width, height := s.Paper.Size()
	w, h := s.Form.Size()
	for _, m := range []Millimetres{s.Left, s.Top, s.Width, s.Height, s.GapX, s.GapY} {
		if !(m >= 0 && m <= 500) {
			return fmt.Errorf("a margin, size or gap of the sheet is %s: give 0 to 500 mm", m)
		}
	}
	right := s.Left + s.Width*Millimetres(s.Columns) + s.GapX*Millimetres(s.Columns-1)
	bottom := s.Top + s.Height*Millimetres(s.Rows) + s.GapY*Millimetres(s.Rows-1)
	switch {
	case width == 0:
		return fmt.Errorf("the paper %q is not known: use A4 or Letter", s.Paper)
	case w == 0:
		return fmt.Errorf("the label form %q is not known: use wide, upright or smallest", s.Form)
	case s.Columns < 1 || s.Rows < 1 || s.Columns > 100 || s.Rows > 100:
		return fmt.Errorf("a sheet needs 1 to 100 columns and rows: this one has %d and %d",
			s.Columns, s.Rows)
	case s.Width < w-tolerance || s.Height < h-tolerance:
		return fmt.Errorf("the cells of the sheet are %s x %s and the label is %s x %s: "+
			"choose a smaller label", s.Width, s.Height, w, h)
	case right > width+tolerance || bottom > height+tolerance:
		return fmt.Errorf("the cells reach to %s x %s and the paper is %s x %s: "+
			"correct margins, gaps or counts", right, bottom, width, height)
	case s.Top < ruleRoom:
		return fmt.Errorf("the top margin is %s and the 100 mm check line needs %s: "+
			"give more", s.Top, ruleRoom)
	}
	return nil
}

// Cell gives the place of a cell on its page, counted from 0 by rows.
func (s Sheet) Cell(i int) (x, y Millimetres) {
	i %= s.Columns * s.Rows
	column, row := Millimetres(i%s.Columns), Millimetres(i/s.Columns)
	return s.Left + column*(s.Width+s.GapX), s.Top + row*(s.Height+s.GapY)
}

// SheetPDF prints labels cell by cell on as many pages as they need, at true size.
func SheetPDF(all []Label, j Job) ([]byte, error) {
	j.Style.Form = j.Sheet.Form
	if err := j.check(len(all)); err != nil {
		return nil, err
	}
	doc := newDocument(j.Date)
	perPage, at := j.Sheet.Columns*j.Sheet.Rows, max(j.Start-1, 0)
	width, height := j.Sheet.Paper.Size()
	for i, l := range all {
		if i == 0 || at%perPage == 0 {
			doc.page(width, height, j.Correction)
			doc.checkRule(width)
		}
		d, err := drawLabel(l, j.Style)
		if err != nil {
			return nil, numbered(err, i, len(all))
		}
		x, y := j.Sheet.Cell(at)
		if j.Sheet.Cut {
			doc.frame(bar{x, y, j.Sheet.Width, j.Sheet.Height})
		}
		doc.place(d, x+(j.Sheet.Width-d.width)/2, y+(j.Sheet.Height-d.height)/2)
		at++
	}
	return doc.bytes()
}

// numbered says which label of several is meant.
func numbered(err error, i, n int) error {
	if n == 1 {
		return err
	}
	return fmt.Errorf("label %d of %d: %w", i+1, n, err)
}

func (j Job) check(n int) error {
	if err := checkCount(n); err != nil {
		return err
	}
	if err := j.Sheet.check(); err != nil {
		return err
	}
	if cells := j.Sheet.Columns * j.Sheet.Rows; j.Start < 0 || j.Start > cells {
		return fmt.Errorf("the sheet has cells 1 to %d and printing cannot begin at %d",
			cells, j.Start)
	}
	return j.Correction.check()
}

func checkCount(n int) error {
	switch {
	case n < 1:
		return fmt.Errorf("no label was chosen: choose at least one")
	case n > Most:
		return fmt.Errorf("%d labels are too many at once: print at most %d", n, Most)
	}
	return nil
}

// checkRule is a line of exactly 100 mm between two ticks, measured over all, in the top
// margin and under the same correction as the labels.
func (d *document) checkRule(width Millimetres) {
	const tick, thick Millimetres = 2.4, 0.25
	x := (width - ruleLength) / 2
	d.fill(bar{x, rulePlace + (tick-thick)/2, ruleLength, thick})
	d.fill(bar{x, rulePlace, thick, tick})
	d.fill(bar{x + ruleLength - thick, rulePlace, thick, tick})
	const left, right = "This line is 100 mm.", "If not: print at 100 %."
	const capHeight = 1.3
	d.write("mono", word{x - 2 - widthOf(left, capHeight), rulePlace + 1.85, capHeight, left}, mono)
	d.write("mono", word{x + ruleLength + 2, rulePlace + 1.85, capHeight, right}, mono)
}

// frame is a thin line round a cell to cut along.
func (d *document) frame(b bar) {
	const thin = 0.1
	d.pdf.SetLineWidth(thin)
	d.pdf.Rect(float64(b.x), float64(b.y), float64(b.w), float64(b.h), "D")
}
