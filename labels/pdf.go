package labels

import (
	"bytes"
	"fmt"
	"regexp"
	"strconv"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gomonobold"
)

// document writes pages of millimetres.
type document struct {
	pdf    *fpdf.Fpdf
	height Millimetres // of the page begun last
	moved  bool        // that page stands under a correction
}

// newDocument begins a file whose dates are the given one, so that the same input gives the
// same bytes.
func newDocument(date time.Time) *document {
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(date.UTC())
	pdf.SetModificationDate(date.UTC())
	pdf.SetProducer("", false)
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	d := &document{pdf: pdf}
	d.font("mono", gomonobold.TTF)
	return d
}

// font gives the library a font. It gets its own copy, because it writes into the bytes it is
// given: with the shared ones the next file would differ, and two at once would race.
func (d *document) font(family string, ttf []byte) {
	d.pdf.AddUTF8FontFromBytes(family, "", bytes.Clone(ttf))
}

// page begins a page. Everything on it, the check rule too, stands under the correction.
func (d *document) page(width, height Millimetres, c Correction) {
	d.finishPage()
	d.pdf.AddPageFormat("P", fpdf.SizeType{Wd: float64(width), Ht: float64(height)})
	d.height = height
	if c = c.orNone(); c != (Correction{ScaleX: 1, ScaleY: 1}) {
		k, h := pointsPerMM, float64(height)
		d.pdf.RawWriteStr(fmt.Sprintf("q %.6f 0 0 %.6f %.4f %.4f cm", c.ScaleX, c.ScaleY,
			k*float64(c.X), k*(h-float64(c.Y)-h*c.ScaleY)))
		d.moved = true
	}
}

func (d *document) finishPage() {
	if d.moved {
		d.pdf.RawWriteStr("Q")
		d.moved = false
	}
}

// place draws a label with its top left corner at x, y.
func (d *document) place(l drawing, x, y Millimetres) {
	for _, b := range l.bars {
		d.fill(bar{x + b.x, y + b.y, b.w, b.h})
	}
	for _, w := range l.words {
		w.x, w.baseline = w.x+x, w.baseline+y
		d.write("mono", w, mono)
	}
	s := l.symbol
	s.x, s.y = s.x+x, s.y+y
	d.pdf.RawWriteStr(s.pdfPath(d.height))
}

func (d *document) fill(b bar) {
	d.pdf.SetFillColor(0, 0, 0)
	d.pdf.Rect(float64(b.x), float64(b.y), float64(b.w), float64(b.h), "F")
}

func (d *document) write(family string, w word, f *face) {
	d.pdf.SetFont(family, "", 10)
	d.pdf.SetFontUnitSize(float64(f.em(w.cap)))
	d.pdf.Text(float64(w.x), float64(w.baseline), w.text)
}

// bytes ends the file and tells print dialogs not to scale it.
func (d *document) bytes() ([]byte, error) {
	d.finishPage()
	var out bytes.Buffer
	if err := d.pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("the PDF could not be made: %w", err)
	}
	return noScaling(out.Bytes())
}

var (
	rootOf    = regexp.MustCompile(`/Root (\d+) 0 R`)
	sizeOf    = regexp.MustCompile(`/Size (\d+)`)
	infoOf    = regexp.MustCompile(`/Info \d+ 0 R`)
	idOf      = regexp.MustCompile(`/ID ?\[[^\]]*\]`)
	lastXref  = regexp.MustCompile(`startxref\s+(\d+)\s+%%EOF\s*$`)
	errNoPDF  = fmt.Errorf("the PDF writer made a file of unknown form")
	asPrinted = "/ViewerPreferences << /PrintScaling /None >>"
)

// noScaling adds PrintScaling None (ISO 32000-1, 12.2) to the catalog by an incremental
// update (7.5.6), because the PDF library cannot say it: a new catalog, a cross-reference
// section with that one object, and a trailer that points back. The key is of PDF 1.6, so
// the header becomes 1.7.
func noScaling(pdf []byte) ([]byte, error) {
	end := lastXref.FindSubmatch(pdf)
	at := bytes.LastIndex(pdf, []byte("trailer"))
	if end == nil || at < 0 || !bytes.HasPrefix(pdf, []byte("%PDF-1.")) {
		return nil, errNoPDF
	}
	trailer := pdf[at:]
	root, size := rootOf.FindSubmatch(trailer), sizeOf.FindSubmatch(trailer)
	if root == nil || size == nil {
		return nil, errNoPDF
	}
	head := []byte("\n" + string(root[1]) + " 0 obj")
	from := bytes.LastIndex(pdf, head)
	length := bytes.Index(pdf[max(from, 0):], []byte("endobj"))
	if from < 0 || length < 0 {
		return nil, errNoPDF
	}
	catalog := pdf[from+1 : from+length]
	inner := bytes.LastIndex(catalog, []byte(">>"))
	if inner < 0 {
		return nil, errNoPDF
	}
	out := append([]byte("%PDF-1.7"), pdf[len("%PDF-1.7"):]...)
	object := len(out)
	out = fmt.Appendf(out, "%s%s\n>>\nendobj\n", catalog[:inner], asPrinted)
	xref := len(out)
	number, _ := strconv.Atoi(string(root[1]))
	out = fmt.Appendf(out, "xref\n%d 1\n%010d 00000 n \n", number, object)
	out = fmt.Appendf(out, "trailer\n<< /Size %s %s %s %s /Prev %s >>\n",
		size[1], root[0], infoOf.Find(trailer), idOf.Find(trailer), end[1])
	return fmt.Appendf(out, "startxref\n%d\n%%%%EOF\n", xref), nil
}
