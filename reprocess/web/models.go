package web

import (
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
)

// models lists the models, recorders first, by name.
func modelsOf(w *reprocess.World) []*reprocess.Model {
	var all []*reprocess.Model
	for _, m := range w.Models {
		all = append(all, m)
	}
	slices.SortFunc(all, func(a, b *reprocess.Model) int {
		if a.Kind != b.Kind {
			return strings.Compare(string(b.Kind), string(a.Kind))
		}
		return strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name))
	})
	return all
}

func showModels(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	p := titledOffice("Which model?")
	var rows []ruledLine
	for _, m := range modelsOf(w) {
		rows = append(rows, ruledLine{To: "/models/" + m.ID, Words: m.Name,
			Notes: []string{modelNote(w, m)}})
	}
	p.list("", "No model is described yet.", rows...)
	p.act("/models/new", "Describe a model")
	return v.Show(p)
}

// modelNote says what a model is and whether it can be reprocessed.
func modelNote(w *reprocess.World, m *reprocess.Model) string {
	note := string(m.Kind)
	if m.Retired {
		note += ", no longer used"
	}
	if proc := w.Procedures[w.InForce[m.ID]]; proc != nil {
		return fmt.Sprintf("%s; procedure version %d is in force", note, proc.Version)
	}
	return note + "; no procedure is in force yet"
}

func (v *Visit) modelPage(w *reprocess.World, m reprocess.Model) *officePage {
	p := titledOffice("What does the maker say about this model?")
	f := &form{To: "/models/new", Act: "Keep this model"}
	if m.ID != "" {
		f.To = "/models/" + m.ID
		p.list("", "", ruledLine{To: "/procedures/" + m.ID, Words: "Procedure of this model"},
			v.documentsLine(w, aboutModel(m.ID)))
	}
	f.must("name", "Name of the model", m.Name, "As on the plate, up to 60 characters")
	f.one("kind", "What is it?", string(m.Kind),
		Choice{Value: string(reprocess.Recorder), Words: "Recorder"},
		Choice{Value: string(reprocess.Phone), Words: "Phone"})
	f.text("ifu", "Instructions for use", m.IFU, "Document and version, up to 80 characters")
	f.number("cycle_limit", "Most reprocessing cycles by the maker", m.CycleLimit,
		"Empty: the maker states none")
	f.number("wear_days", "Days a fresh cell lasts worn", m.WearDays, "Empty: not stated")
	parts := TextField("parts", "Parts without a label that travel with it",
		strings.Join(m.Parts, "\n"))
	parts.Lines, parts.Hint = 4, "One a line, such as charging cable"
	f.field(parts)
	evidenceFields(f, m)
	if m.ID != "" {
		f.tick("retired", "No longer used", "No new pieces of this model", m.Retired)
	}
	p.form(f)
	return p
}

func showNewModel(v *Visit) error {
	return v.Show(v.modelPage(reprocess.NewWorld(), reprocess.Model{}))
}

func showModel(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	m := w.Models[v.Param("id")]
	if m == nil {
		return notFound("model")
	}
	return v.Show(v.modelPage(w, *m))
}

// setModel keeps a model, new (no id) or changed.
func setModel(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	t := v.typing()
	m := reprocess.Model{ID: v.Param("id"), Name: t.text("name"), IFU: t.text("ifu"),
		Kind: reprocess.Kind(t.text("kind")), Parts: lines(t.text("parts")),
		CycleLimit: t.whole("cycle_limit", "Most cycles"),
		WearDays:   t.whole("wear_days", "Days a cell lasts"), Retired: t.yes("retired")}
	t.readEvidence(&m)
	if err := t.err(); err != nil {
		return v.Refuse(err, v.modelPage(w, m))
	}
	if _, err := v.Do(reprocess.SetModel{Model: m}); err != nil {
		return v.Refuse(err, v.modelPage(w, m))
	}
	return v.Went("/models", m.Name+" is kept.")
}
