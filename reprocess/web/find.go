package web

import "handback/reprocess"

// findPage asks for one label or number, at the front desk and at the bench. What cannot be
// found there is "Cannot confirm".
type findPage struct {
	Base
	State   State
	Unsure  bool
	Find    Field
	To, Act string
	Links   []link
}

func findPageOf(question, label, text string) *findPage {
	f := CodeField("find", label, text)
	f.Required, f.First, f.Scan = true, true, ScanSends
	return &findPage{Base: Titled(question), Find: f}
}

// unsure makes the page its own answer: what it was asked for cannot be confirmed.
func (p *findPage) unsure(lines ...string) *findPage {
	p.Unsure, p.OwnHeading = true, true
	p.Title = "Cannot confirm: " + lines[0]
	p.State = UnsureState(append(lines, treatAsNot)...)
	return p
}

// cannotConfirm asks again and says why nothing was found; a fault of the server stays one.
func (v *Visit) cannotConfirm(page *findPage, err error) error {
	p, status := judge(err)
	if p.Code == reprocess.Internal {
		return err
	}
	return v.send(status, page.unsure(p.Text, p.Fix))
}
