package web

import (
	"slices"
	"strings"

	"handback/reprocess"
)

// whole is the step with every question open.
func (x *view) whole(g group) *askForm {
	f := &askForm{Question: questions[g.step.ID], Step: g.step.ID, Pieces: g.ids(),
		Buttons: []button{{"", "Record it", true}},
		Outbox:  "kit " + x.k.Number + ", " + strings.ToLower(g.step.Words)}
	for _, a := range x.asks(g.step.ID, g.tracks) {
		f.Asks = append(f.Asks, x.line(a, g))
	}
	if reprocess.Measures(g.step.ID) {
		with := instrumentField(x.v)
		f.Asks = append(f.Asks, askLine{Field: &with})
	}
	if len(g.tracks) > 1 && !g.step.KitWide {
		f.Scope = x.scope(g)
	}
	return f
}

// instrumentField asks what was measured with.
func instrumentField(v *Visit) Field {
	f := TextField("instrument", "Measured with, by its number", v.Field("instrument"))
	f.Hint = "Voltmeter or reading machine; may stay empty"
	return f
}

// scope asks which of the pieces the answers are for.
func (x *view) scope(g group) *Choices {
	c := Choices{Name: "for", Legend: "Which is it for?", Required: true,
		Options: []Choice{{Value: "both", Words: "Both alike"}}}
	for _, t := range g.tracks {
		c.Options = append(c.Options, Choice{Value: t.Piece.ID,
			Words: "Only the " + string(t.Piece.Kind)})
	}
	pick := x.typed["for"]
	if pick == "" && g.has(x.piece) {
		pick = x.piece
	}
	c = c.Pick(pick)
	return &c
}

// line is one question as a form asks it.
func (x *view) line(a reprocess.Ask, g group) askLine {
	name, value := "a-"+a.ID, x.typed[a.ID]
	switch a.Kind {
	case reprocess.AskChoice:
		c := Choices{Name: name, Legend: a.Words, Required: !x.partly(a, g)}
		for _, o := range a.Choices {
			c.Options = append(c.Options, Choice{Value: o.Value, Words: o.Words,
				Note: effectWords(o.Effect)})
		}
		c = c.Pick(value)
		return askLine{Choices: &c}
	case reprocess.AskCells:
		return x.cellsLine(a, g, value)
	case reprocess.AskNumber:
		f := TextField(name, a.Words, value)
		f.Keys, f.Required = "numeric", !x.partly(a, g)
		return askLine{Field: &f}
	case reprocess.AskCode:
		f := CodeField(name, a.Words, value)
		f.Hint = "Scan it, or type its 17 letters."
		if value == "" {
			f.Value = x.code
		}
		f.Required, f.Scan = true, ScanFills
		return askLine{Field: &f}
	}
	f := TextField(name, a.Words, value)
	f.Hint = "No names. May stay empty."
	switch {
	case a.Kind == reprocess.AskVolts:
		f.Hint = "With its unit, such as 1.58 V. May stay empty."
	case a.Kind == reprocess.AskDay:
		f.Kind, f.Hint = "date", "A zinc-air cell runs down from then on, worn or not. Empty: today."
	case a.ByCampaign():
		f.Hint, f.Required = x.wantedVersion(a, g), !x.partly(a, g)
	}
	return askLine{Field: &f}
}

// wantedVersion says which version a campaign wants where one is read off.
func (x *view) wantedVersion(a reprocess.Ask, g group) string {
	for _, t := range g.tracks {
		if want, ok := x.w.VersionWanted(t.Piece, a.ID); ok {
			return "Type what it shows. A campaign wants " + want + "."
		}
	}
	return "Type what it shows."
}

// partly tells whether a question is not for every piece of the group: then a form that may be
// sent for one of them cannot require it.
func (x *view) partly(a reprocess.Ask, g group) bool {
	return x.full && len(a.For) > 0 && len(a.For) < len(g.tracks)
}

func effectWords(e reprocess.Effect) string {
	switch e {
	case reprocess.EffectHold:
		return "puts it on hold at once"
	case reprocess.EffectAgain:
		return "to be done again"
	}
	return ""
}

// boxes lists the boxes of cells that fit every recorder of a group, the first to expire first.
func (x *view) boxes(g group) []*reprocess.Lot {
	var all []*reprocess.Lot
	for id, l := range x.w.Lots {
		fits := l.Kind == reprocess.LotCells
		for _, t := range g.tracks {
			fits = fits && (t.Piece.Kind != reprocess.Recorder ||
				reprocess.CellsFit(x.w, t.Piece, id, x.v.Now.Today()) == nil)
		}
		if fits {
			all = append(all, l)
		}
	}
	slices.SortFunc(all, func(a, b *reprocess.Lot) int {
		return strings.Compare(string(a.Expiry)+a.ID, string(b.Expiry)+b.ID)
	})
	return all
}

func cellsWords(l *reprocess.Lot) string {
	if l == nil {
		return "an unknown box"
	}
	words := l.Name
	if l.Number != "" {
		words += ", lot " + l.Number
	}
	return words + ", good until " + reprocess.Day(l.Expiry)
}

// otherCells says which boxes there are and do not fit the device, "" for none.
func (x *view) otherCells(g group) string {
	var said []string
	for _, t := range g.tracks {
		for id, l := range x.w.Lots {
			if t.Piece.Kind != reprocess.Recorder || l.Kind != reprocess.LotCells {
				continue
			}
			p := reprocess.CellsFit(x.w, t.Piece, id, x.v.Now.Today())
			if p != nil && p.Rule == "cell_kind" {
				said = append(said, p.Text+" "+p.Fix)
			}
		}
	}
	if len(said) == 0 {
		return ""
	}
	return " " + slices.Min(said)
}

// cautionOf is the caution of a step; flat round cells have their own where cells are handled.
func (x *view) cautionOf(g group) string {
	for _, t := range g.tracks {
		if g.step.ID == reprocess.StepBattery && t.Piece.Kind == reprocess.Recorder &&
			x.w.Models[t.Piece.Model].SwallowCaution() {
			return swallowCaution
		}
	}
	return cautionAt(g.step)
}

func (x *view) cellsLine(a reprocess.Ask, g group, value string) askLine {
	c := Choices{Name: "a-" + a.ID, Legend: a.Words, Required: true}
	for _, l := range x.boxes(g) {
		c.Options = append(c.Options, Choice{Value: l.ID, Words: cellsWords(l)})
	}
	if len(c.Options) == 0 {
		c.Fault = "No box of cells is in date for this device’s longest wear. " +
			"Take in a fresh box first, under Supplies." + x.otherCells(g)
	}
	c = c.Pick(value)
	return askLine{Choices: &c}
}
