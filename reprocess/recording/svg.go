package recording

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"strings"
)

// StripSVG draws the same strip as an SVG whose units are millimetres.
func StripSVG(r *Recording, lead int, t StripText) ([]byte, error) {
	tr, err := newTrace(r, lead, t)
	if err != nil {
		return nil, err
	}
	high := len(tr.rows) * rowMM
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%dmm" height="%dmm" `+
		`viewBox="0 0 %d %d" role="img">`+"\n", wideMM, high, wideMM, high)
	fmt.Fprintf(&b, "<title>%s</title>\n", escape(BenchCheck+". "+strings.Join(tr.lines, " ")))
	fmt.Fprintf(&b, `<rect width="%d" height="%d" fill="#fff"/>`+"\n", wideMM, high)
	svgGrid(&b, high, 1, "#e8d6cd", 0.1)
	svgGrid(&b, high, 5, "#cda596", 0.15)
	for k, line := range tr.lines {
		fmt.Fprintf(&b, `<text x="%d" y="%.1f" font-size="2.2" font-family="monospace" `+
			`fill="#14141e" stroke="#fff" stroke-width=".6" paint-order="stroke">%s</text>`+"\n",
			leftMM, float64(high)-3.4+2.6*float64(k), escape(line))
	}
	for k, row := range tr.rows {
		svgRow(&b, float64(k*rowMM+rowMM/2), row)
	}
	b.WriteString("</svg>\n")
	return b.Bytes(), nil
}

func escape(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a strings.Builder never fails
	return b.String()
}

func svgGrid(b *bytes.Buffer, high, step int, ink string, wide float64) {
	fmt.Fprintf(b, `<path stroke="%s" stroke-width="%g" d="`, ink, wide)
	for x := 0; x <= wideMM; x += step {
		fmt.Fprintf(b, "M%d 0V%d", x, high)
	}
	for y := 0; y <= high; y += step {
		fmt.Fprintf(b, "M0 %dH%d", y, wideMM)
	}
	b.WriteString("\"/>\n")
}

// svgRow draws the pulse and the trace around the row's middle line, in mm from the top.
func svgRow(b *bytes.Buffer, middle float64, row [][2]float64) {
	fmt.Fprintf(b, `<path fill="none" stroke="#14141e" stroke-width=".25" `+
		`d="M3 %gH5V%gH10V%gH12`, middle, middle-mmPerMV, middle)
	pen := false
	for c, v := range row {
		if offPaper(v) {
			pen = false
			continue
		}
		x := leftMM + float64(c)/pxPerMM
		move := "L"
		if !pen {
			move = "M"
		}
		fmt.Fprintf(b, "%s%.4g %.5g", move, x, middle-clip(v[0]))
		if v[1] > v[0] {
			fmt.Fprintf(b, "V%.5g", middle-clip(v[1]))
		}
		pen = true
	}
	b.WriteString("\"/>\n")
}

// clip keeps a point inside its row, in mm above the middle.
func clip(mm float64) float64 { return max(-rowMM/2, min(rowMM/2, mm)) }
