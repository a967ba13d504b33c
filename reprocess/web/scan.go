package web

import (
	"handback/labels"
	"handback/reprocess"
)

// scanPage asks for one label at the bench. It only leads on; nothing is recorded by a scan.
type scanPage struct {
	Base
	State  State
	Unsure bool
	Find   Field
}

func scanPageOf(text string) *scanPage {
	f := CodeField("find", "Label, or the kit’s number", text)
	f.Required, f.First, f.Scan = true, true, ScanSends
	f.Hint = "The 17 letters and figures in any grouping, or the pool number"
	return &scanPage{Base: Titled("Which kit is in my hand?"), Find: f}
}

func sampleScan() Page {
	p := scanPageOf("99")
	p.Unsure, p.OwnHeading = true, true
	p.State = UnsureState("There is no kit 99 here.", treatAsNot)
	return p
}

func showScan(v *Visit) error { return v.Show(scanPageOf("")) }

// scan leads to what the label stands for: a kit's track, a container, a blank sticker.
func scan(v *Visit) error {
	text := v.Field("find")
	if code, err := labels.Parse(text); err == nil {
		return v.Went("/d/"+string(code), "")
	}
	found, err := v.findKit(text)
	if err == nil {
		return v.Went(kitURL(found.Kit), "")
	}
	p, status := judge(err)
	if p.Code == reprocess.Internal {
		return err
	}
	page := scanPageOf(text)
	page.Unsure, page.OwnHeading = true, true
	page.Title = "Cannot confirm: " + p.Text
	page.State = UnsureState(p.Text, p.Fix, treatAsNot)
	return v.send(status, page)
}
