package report

import "strings"

// wrap breaks a text at spaces, and inside words that are wider than the room.
func (p *press) wrap(face string, size float64, text string, width float64) []string {
	p.pdf.SetFont(face, "", size)
	var out []string
	for _, paragraph := range strings.Split(text, "\n") {
		line := ""
		for _, word := range strings.Fields(paragraph) {
			for _, part := range p.parts(word, width) {
				next := strings.TrimSpace(line + " " + part)
				if line != "" && p.pdf.GetStringWidth(next) > width {
					out = append(out, line)
					next = part
				}
				line = next
			}
		}
		out = append(out, line)
	}
	return out
}

// parts cuts a word that does not fit on a line of its own.
func (p *press) parts(word string, width float64) []string {
	var all []string
	for word != "" {
		head := p.fit(word, width)
		if head == "" { // not even one letter fits: it stands out rather than never ends
			head = string([]rune(word)[:1])
		}
		all = append(all, head)
		word = word[len(head):]
	}
	return all
}
