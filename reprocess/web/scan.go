package web

import "handback/labels"

// scanPageOf asks for one label at the bench. It only leads on; nothing is recorded by a scan.
func scanPageOf(text string) *findPage {
	p := findPageOf("Which kit is in my hand?", "Label, or the kit’s number", text)
	p.Find.Hint = "The 17 letters and figures in any grouping, or the pool number"
	p.To, p.Act = "/scan", "Open it"
	return p
}

func sampleScan() Page { return scanPageOf("99").unsure("There is no kit 99 here.") }

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
	return v.cannotConfirm(scanPageOf(text), err)
}
