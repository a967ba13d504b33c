package report

import (
	"strings"

	"handback/reprocess/figures"
)

func (b Heading) set(p *press) {
	p.y += 3
	p.room(36)
	p.lines(bold, 13, 6.5, string(b))
	p.y += 0.5
}

func (b Text) set(p *press) {
	p.lines(plain, 10, 4.8, string(b))
	p.y += 1.6
}

func (b Strong) set(p *press) {
	p.lines(bold, 10.5, 5, string(b))
	p.y += 1.6
}

func (b Code) set(p *press) {
	for _, line := range strings.Split(strings.TrimRight(string(b), "\n"), "\n") {
		for _, part := range p.wrap(mono, 8.5, line, p.width()) {
			p.room(4)
			p.put(mono, 8.5, marginX, 4, part)
			p.y += 4
		}
	}
	p.y += 2
}

func (b Terms) set(p *press) {
	const names = 42.0
	for _, t := range b {
		left := p.wrap(plain, 9.5, t.Name, names-3)
		right := p.wrap(plain, 9.5, t.Value, p.width()-names)
		n := max(len(left), len(right))
		p.room(4.6 * float64(min(n, 8)))
		for i := range n {
			p.room(4.6)
			if i < len(left) {
				p.put(plain, 9.5, marginX, 4.6, left[i])
			}
			if i < len(right) {
				p.put(plain, 9.5, marginX+names, 4.6, right[i])
			}
			p.y += 4.6
		}
	}
	p.y += 2
}

func (b Options) set(p *press) {
	for i, line := range b.Lines {
		lines := p.wrap(bold, 11, line, p.width()-12)
		p.room(6*float64(len(lines)) + 3)
		p.pdf.SetLineWidth(0.3)
		p.pdf.Rect(marginX, p.y+0.8, 4.4, 4.4, "D")
		face := plain
		if i == b.Chosen {
			p.pdf.SetFillColor(0, 0, 0)
			p.pdf.Rect(marginX+0.9, p.y+1.7, 2.6, 2.6, "F")
			face = bold
		}
		for _, text := range lines {
			p.put(face, 11, marginX+8, 6, text)
			p.y += 6
		}
		p.y += 1.5
	}
	p.y += 1
}

func (b Sign) set(p *press) {
	p.room(22)
	p.y += 14
	p.pdf.SetLineWidth(0.2)
	p.pdf.Line(marginX, p.y, marginX+80, p.y)
	p.pdf.Line(marginX+90, p.y, marginX+130, p.y)
	p.put(plain, 8.5, marginX, 5, string(b))
	p.put(plain, 8.5, marginX+90, 5, "Date")
	p.y += 7
}

func (Page) set(p *press) { p.newPage() }

// set draws the symbol 45 mm wide with the four modules of white that readers need.
func (b QR) set(p *press) {
	const side = 45.0
	if len(b) == 0 {
		return
	}
	p.room(side + 2)
	m := side / float64(len(b)+8)
	p.pdf.SetFillColor(0, 0, 0)
	for y, row := range b {
		for x := 0; x < len(row); x++ {
			n := 0
			for x+n < len(row) && row[x+n] {
				n++
			}
			if n > 0 { // a run in one piece, so that no seam shows
				p.pdf.Rect(marginX+m*float64(x+4), p.y+m*float64(y+4), m*float64(n), m, "F")
				x += n
			}
		}
	}
	p.y += side + 2
}

// set draws the chart 130 mm wide, its title and what it is above it.
func (b Chart) set(p *press) {
	d, ok := b.Draw()
	if !ok {
		p.room(12)
		p.lines(bold, 10, 4.8, b.Title)
		Text(b.Says).set(p)
		return
	}
	const wide = 130.0
	k := wide / d.W
	p.room(d.H*k + 22)
	p.lines(bold, 10, 4.8, b.Title)
	p.lines(plain, 9, 4.2, b.Says)
	p.y += 1
	p.draw(d, k)
	p.y += d.H*k + 1
	says := "No signal."
	if n := b.Signals(); n > 0 {
		says = "Empty squares are signals: look for the cause."
	}
	Text(says).set(p)
}

func (p *press) draw(d figures.Drawing, k float64) {
	at := func(s figures.Spot) (x, y float64) { return marginX + s.X*k, p.y + s.Y*k }
	line := func(a, b figures.Spot) {
		x1, y1 := at(a)
		x2, y2 := at(b)
		p.pdf.Line(x1, y1, x2, y2)
	}
	p.pdf.SetLineWidth(0.2)
	for i := 1; i < len(d.Axis); i++ {
		line(d.Axis[i-1], d.Axis[i])
	}
	line(d.Centre[0], d.Centre[1])
	p.pdf.SetDashPattern([]float64{1.2, 0.9}, 0)
	for _, l := range d.Limits {
		line(l[0], l[1])
	}
	p.pdf.SetDashPattern(nil, 0)
	p.pdf.SetLineWidth(0.45)
	for i := 1; i < len(d.Data); i++ {
		line(d.Data[i-1], d.Data[i])
	}
	p.pdf.SetFillColor(0, 0, 0)
	for _, s := range d.Data {
		x, y := at(s)
		p.pdf.Rect(x-0.9, y-0.9, 1.8, 1.8, "F")
	}
	for _, s := range d.Signal {
		x, y := at(s)
		p.pdf.Rect(x-2.3, y-2.3, 4.6, 4.6, "D")
	}
	p.pdf.SetFont(mono, "", 8)
	for _, t := range d.Texts {
		x, y := at(t.Spot)
		if t.Right {
			x -= p.pdf.GetStringWidth(t.Text)
		}
		p.pdf.Text(x, y, t.Text)
	}
}
