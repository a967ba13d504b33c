package report

// The type of tables: points and mm.
const (
	tableSize, tablePitch = 8.5, 4.0
	tablePad              = 2.5 // between columns
	rowPad                = 1.2
)

func (b Table) set(p *press) {
	columns := b.columns(p)
	p.room(26)
	if b.Caption != "" {
		p.lines(bold, 9.5, 5, b.Caption)
	}
	b.row(p, columns, b.Head, bold)
	for _, row := range b.Rows {
		height := tablePitch*float64(b.height(p, columns, row)) + rowPad
		if p.y+height > p.h-marginFoot && height < 200 {
			p.newPage()
			b.row(p, columns, b.Head, bold)
		}
		b.row(p, columns, row, plain)
	}
	p.y += 3
}

func (b Table) right(i int) bool { return i < len(b.Right) && b.Right[i] }

// columns gives the widths: what each wants, and when that is too much, the widest give way
// to a fair share of what the others leave.
func (b Table) columns(p *press) []float64 {
	want := make([]float64, len(b.Head))
	for i, row := range append([][]string{b.Head}, b.Rows...) {
		face := plain
		if i == 0 {
			face = bold
		}
		p.pdf.SetFont(face, "", tableSize)
		for j := range want {
			if j < len(row) {
				want[j] = max(want[j], p.pdf.GetStringWidth(row[j])+0.2)
			}
		}
	}
	left, open := p.width()-tablePad*float64(len(want)-1), len(want)
	given := make([]float64, len(want))
	for open > 0 {
		share, changed := left/float64(open), false
		for j, w := range want {
			if given[j] == 0 && w <= share {
				given[j], changed = max(w, 0.1), true
				left, open = left-given[j], open-1
			}
		}
		if !changed {
			for j := range want {
				if given[j] == 0 {
					given[j] = share
				}
			}
			break
		}
	}
	return given
}

func (b Table) height(p *press, columns []float64, row []string) int {
	n := 1
	for j, cell := range row {
		if j < len(columns) {
			n = max(n, len(p.wrap(plain, tableSize, cell, columns[j])))
		}
	}
	return n
}

// row sets one row and the rule under it.
func (b Table) row(p *press, columns []float64, row []string, face string) {
	x, top, deepest := marginX, p.y, p.y+tablePitch
	for j, width := range columns {
		if j < len(row) {
			p.y = top
			for _, line := range p.wrap(face, tableSize, row[j], width) {
				at := x
				if b.right(j) {
					at += width - p.pdf.GetStringWidth(line)
				}
				p.put(face, tableSize, at, tablePitch, line)
				p.y += tablePitch
			}
			deepest = max(deepest, p.y)
		}
		x += width + tablePad
	}
	p.y = deepest + rowPad/2
	p.pdf.SetLineWidth(0.1)
	p.pdf.Line(marginX, p.y, x-tablePad, p.y)
	p.y += rowPad / 2
}
