// Package report sets documents on paper: headings, sentences, terms, tables, charts and one
// QR symbol, in black, on A4 or Letter, with page numbers. The same document gives the same
// bytes; the date of the file is an argument. Lengths are millimetres, sizes of type points.
package report

import (
	"bytes"
	"fmt"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"

	"handback/reprocess/figures"
)

// Paper is a size of sheet.
type Paper string

// The papers.
const (
	A4     Paper = "A4"     // 210 x 297 mm, ISO 216
	Letter Paper = "Letter" // 215.9 x 279.4 mm, ANSI/ASME Y14.1
)

func (p Paper) size() (w, h float64, ok bool) {
	switch p {
	case A4:
		return 210, 297, true
	case Letter:
		return 215.9, 279.4, true
	}
	return 0, 0, false
}

// Document is what is set: a title, its blocks in order, and what stands at every foot.
type Document struct {
	Title  string
	Foot   string // short; the page number stands beside it
	Blocks []Block
}

// Block is one part of a document.
type Block interface{ set(p *press) }

type (
	// Heading begins a section and never stands alone at the foot of a page.
	Heading string
	// Text is one paragraph.
	Text string
	// Strong is a paragraph in bold type: a result, a choice.
	Strong string
	// Code is text whose letters matter, monospaced, line by line.
	Code string
	// Terms are names with their values.
	Terms []Term
	// Term is one of them.
	Term struct{ Name, Value string }
	// Table has a heading row that is repeated on every page; columns of Right are figures.
	Table struct {
		Caption string
		Head    []string
		Right   []bool
		Rows    [][]string
	}
	// Chart is a control chart; its table is a block of its own.
	Chart struct{ figures.Chart }
	// QR is a symbol of modules without its quiet zone.
	QR [][]bool
	// Options are exclusive lines of which one is chosen, as of a declaration.
	Options struct {
		Lines  []string
		Chosen int
	}
	// Sign is room to sign by hand, over its name.
	Sign string
	// Page begins a new page.
	Page struct{}
)

const (
	marginX, marginTop, marginFoot = 18.0, 16.0, 20.0
	point                          = 25.4 / 72
)

// press sets blocks one after another.
type press struct {
	pdf         *fpdf.Fpdf
	w, h        float64
	y           float64 // upper edge of what comes next
	title, foot string
	pages, of   int
}

// PDF sets the document. The paper has to be known.
func PDF(d Document, paper Paper, date time.Time) ([]byte, error) {
	if _, _, ok := paper.size(); !ok {
		return nil, fmt.Errorf("the paper %q is not known: use A4 or Letter", paper)
	}
	first, err := print(d, paper, date, 0) // to count the pages
	if err != nil {
		return nil, err
	}
	p, err := print(d, paper, date, first.pages)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if err := p.pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("the PDF could not be made: %w", err)
	}
	return out.Bytes(), nil
}

// print sets the whole document once; of is how many pages there will be.
func print(d Document, paper Paper, date time.Time, of int) (*press, error) {
	w, h, _ := paper.size()
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: w, Ht: h}})
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(date.UTC())
	pdf.SetModificationDate(date.UTC())
	pdf.SetProducer("", false)
	pdf.SetTitle(d.Title, true)
	pdf.SetLang("en")
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetCellMargin(0)
	for _, f := range []struct {
		name string
		ttf  []byte
	}{{plain, goregular.TTF}, {bold, gobold.TTF}, {mono, gomono.TTF}} {
		pdf.AddUTF8FontFromBytes(f.name, "", bytes.Clone(f.ttf)) // the library writes into them
	}
	p := &press{pdf: pdf, w: w, h: h, title: d.Title, foot: d.Foot, of: of}
	p.newPage()
	p.lines(bold, 18, 7.5, d.Title)
	p.y += 1
	p.rule(0.5)
	p.y += 3
	for _, b := range d.Blocks {
		b.set(p)
	}
	return p, pdf.Error()
}

// The faces.
const plain, bold, mono = "plain", "bold", "mono"

// newPage begins a page and writes its foot at once.
func (p *press) newPage() {
	p.pdf.AddPage()
	p.pages++
	p.y = marginTop
	foot := p.h - 12
	p.pdf.SetLineWidth(0.1)
	p.pdf.Line(marginX, foot-4, p.w-marginX, foot-4)
	p.pdf.SetFont(plain, "", 8)
	number := fmt.Sprintf("page %d of %d", p.pages, p.of)
	p.pdf.Text(p.w-marginX-p.pdf.GetStringWidth(number), foot, number)
	p.pdf.Text(marginX, foot, p.fit(p.foot, p.width()-30))
}

// fit cuts a text to a width in the present font.
func (p *press) fit(s string, width float64) string {
	r := []rune(s)
	for len(r) > 0 && p.pdf.GetStringWidth(string(r)) > width {
		r = r[:len(r)-1]
	}
	return string(r)
}

func (p *press) width() float64 { return p.w - 2*marginX }

// room begins a new page when less than this is left on the present one.
func (p *press) room(mm float64) {
	if p.y+mm > p.h-marginFoot {
		p.newPage()
	}
}

func (p *press) rule(thick float64) {
	p.pdf.SetLineWidth(thick)
	p.pdf.Line(marginX, p.y, p.w-marginX, p.y)
}

// lines sets wrapped text over the whole width; size in points, pitch in mm.
func (p *press) lines(face string, size, pitch float64, text string) {
	for _, line := range p.wrap(face, size, text, p.width()) {
		p.room(pitch)
		p.put(face, size, marginX, pitch, line)
		p.y += pitch
	}
}

// put writes one line whose row is pitch high, its upper edge at y.
func (p *press) put(face string, size, x, pitch float64, line string) {
	p.pdf.SetFont(face, "", size)
	p.pdf.Text(x, p.y+(pitch+size*point*0.7)/2, line)
}
