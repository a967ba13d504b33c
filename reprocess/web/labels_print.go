package web

import (
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// printJob is what the print page asks: which labels, and how they lie on the paper.
type printJob struct {
	kits, first, last, container string // as in the address
	preset, start, level         string
	x, y, scaleX, scaleY, dpi    string
	insist                       bool
	small                        bool // a module is too small: offer to insist
}

func (v *Visit) printJob() printJob {
	j := printJob{kits: v.Query("kits"), first: v.Query("first"), last: v.Query("last"),
		container: v.Query("container"), preset: v.Query("preset"), start: v.Query("start"),
		level: v.Query("level"), x: v.Query("x"), y: v.Query("y"), scaleX: v.Query("scale_x"),
		scaleY: v.Query("scale_y"), dpi: v.Query("dpi"), insist: v.Query("insist") == "yes"}
	if j.preset == "" {
		j.preset = labels.Presets()[0].Name
	}
	if j.level == "" {
		j.level = string(labels.LevelM)
	}
	return j
}

// rollName stands for one label a page, in place of a preset.
const rollName = "roll"

func (v *Visit) printPage(j printJob) *officePage {
	p := titledOffice("How do the labels lie on the paper?",
		"Print at 100 %, not fitted to the page. The line below the labels is 100 mm long: "+
			"measure it and correct the scale if it is not.")
	f := &form{To: "/labels/sheet.pdf", Act: "Make the file", Get: true}
	for _, k := range []Kept{{"kits", j.kits}, {"first", j.first}, {"last", j.last},
		{"container", j.container}} {
		if k.Value != "" {
			f.Kept = append(f.Kept, k)
		}
	}
	if j.small {
		f.tick("insist", "Small modules", "Print them all the same; I have tried that our phones "+
			"read them", j.insist)
	}
	var sheets []Choice
	for _, s := range labels.Presets() {
		sheets = append(sheets, Choice{Value: s.Name, Words: s.Name + " (mm)"})
	}
	sheets = append(sheets, Choice{Value: rollName, Words: "Roll of 38.1 x 21.2",
		Note: "one label a page"})
	f.one("preset", "Sheet", j.preset, sheets...)
	f.text("start", "First free cell", orText(j.start, "1"), "1 is top left, counted by rows")
	f.one("level", "How much of the symbol may be lost", j.level, v.levels()...)
	n := len(f.Parts)
	f.text("x", "Move right, mm", orText(j.x, "0"), "Up to 10 either way, such as 0.5 or -0.5")
	f.text("y", "Move down, mm", orText(j.y, "0"), "Up to 10 either way")
	f.text("scale_x", "Scale of the width, %", orText(j.scaleX, "100"), "95 to 105: 100 mm wanted, "+
		"divided by mm measured, times 100")
	f.text("scale_y", "Scale of the height, %", orText(j.scaleY, "100"), "95 to 105")
	f.text("dpi", "Printer's dots per inch", j.dpi, "203 to 1200, as its data sheet says; empty: "+
		"not known")
	f.fold(n, "Corrections for this printer", j.x+j.y+j.scaleX+j.scaleY+j.dpi != "")
	p.form(f)
	return p
}

// levels are the levels with the size of module each gives under the configured address.
func (v *Visit) levels() []Choice {
	var all []Choice
	for _, l := range []struct {
		level labels.Level
		words string
	}{{labels.LevelL, "About 7 %"}, {labels.LevelM, "About 15 %, usual"},
		{labels.LevelQ, "About 25 %"}, {labels.LevelH, "About 30 %"}} {
		c := Choice{Value: string(l.level), Words: l.words}
		fit, err := (labels.Style{Base: v.server.cfg.BaseURL, Level: l.level}).Fit()
		switch {
		case err != nil:
			continue
		case fit.Small:
			c.Note = "module " + fit.Module.String() + ": many phones will not read it"
		default:
			c.Note = "module " + fit.Module.String()
		}
		all = append(all, c)
	}
	return all
}

func showPrint(v *Visit) error {
	j := v.printJob()
	page := v.printPage(j)
	if _, err := v.labelsOf(j); err != nil {
		return v.Refuse(err, page)
	}
	return v.Show(page)
}

// sheetPDF makes the file, or the print page again with what does not fit.
func sheetPDF(v *Visit) error {
	j := v.printJob()
	content, err := v.printed(j)
	var small *labels.SmallModule
	if errors.As(err, &small) {
		j.small = true
		err = &reprocess.Problem{Code: reprocess.Refused, Rule: "small_module",
			Text: sentenceOf(small), Fix: "Choose a lower level, or tick below that you insist."}
	}
	if err != nil {
		return v.Refuse(asInvalid(err), v.printPage(j))
	}
	return v.Download("labels.pdf", "application/pdf", content)
}

// asInvalid gives the plain sentence of a leaf package as a problem.
func asInvalid(err error) error {
	var p *reprocess.Problem
	if errors.As(err, &p) {
		return p
	}
	return &reprocess.Problem{Code: reprocess.Invalid, Rule: "print", Text: sentenceOf(err),
		Fix: "Correct it and try again."}
}

func (v *Visit) printed(j printJob) ([]byte, error) {
	all, err := v.labelsOf(j)
	if err != nil {
		return nil, err
	}
	t := v.typing()
	job := labels.Job{Date: v.Now.UTC.Time(), Start: int(t.decimal("start", j.start, 1)),
		Style: labels.Style{Base: v.server.cfg.BaseURL, Level: labels.Level(j.level),
			DPI: labels.DPI(t.decimal("dpi", j.dpi, 0)), AcceptSmall: j.insist},
		Correction: labels.Correction{X: labels.Millimetres(t.decimal("x", j.x, 0)),
			Y:      labels.Millimetres(t.decimal("y", j.y, 0)),
			ScaleX: t.decimal("scale_x", j.scaleX, 100) / 100,
			ScaleY: t.decimal("scale_y", j.scaleY, 100) / 100}}
	if err := t.err(); err != nil {
		return nil, err
	}
	if j.preset == rollName {
		return labels.RollPDF(all, job.Style, job.Date)
	}
	if job.Sheet, err = labels.Preset(j.preset); err != nil {
		return nil, err
	}
	job.Style.Form = job.Sheet.Form
	return labels.SheetPDF(all, job)
}

// decimal reads a number with a decimal point or comma; empty is otherwise.
func (t *typing) decimal(name, text string, otherwise float64) float64 {
	if text == "" {
		return otherwise
	}
	n, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || strings.Trim(text, "0123456789.,-") != "" || len(text) > 10 {
		t.bad(name, "Type a number, such as 0.5.", strconv.Quote(text)+" is no number.")
	}
	return n
}

// labelsOf makes the labels of a job: of kits, of a container, or blank ones.
func (v *Visit) labelsOf(j printJob) ([]labels.Label, error) {
	switch {
	case j.kits != "":
		return v.kitLabels(strings.Split(j.kits, ","))
	case j.container != "":
		l, err := v.containerLabel(j.container)
		return []labels.Label{l}, err
	}
	first, err1 := strconv.Atoi(j.first)
	last, err2 := strconv.Atoi(j.last)
	if err1 != nil || err2 != nil || first < 1 || last < first || last-first >= labels.Most {
		return nil, &reprocess.Problem{Code: reprocess.Invalid, Rule: "range",
			Text: "These numbers are no range of stickers.",
			Fix:  "Type the first and the last number, such as 1 and 65."}
	}
	blank, err := v.Store().Blanks(v.Context(), first, last)
	if err != nil {
		return nil, err
	}
	var all []labels.Label
	for _, l := range blank {
		n, _ := strconv.Atoi(l.Number) // written by us
		all = append(all, labels.BlankLabel{Code: labels.Code(l.Code), Number: n})
	}
	if len(all) == 0 {
		return nil, &reprocess.Problem{Code: reprocess.NotFound, Rule: "unknown",
			Text: fmt.Sprintf("None of the stickers %d to %d is blank.", first, last),
			Fix:  "Make new ones."}
	}
	return all, nil
}

func (v *Visit) kitLabels(ids []string) ([]labels.Label, error) {
	w, err := v.Store().AllKits(v.Context())
	if err != nil {
		return nil, err
	}
	var all []labels.Label
	for _, id := range ids {
		k := w.Kits[id]
		if k == nil {
			return nil, notFound("kit")
		}
		for _, piece := range k.Pieces {
			l, err := v.inForce(piece)
			if err != nil {
				return nil, err
			}
			if l != nil && w.Pieces[piece] != nil {
				all = append(all, labels.DeviceLabel{Code: labels.Code(l.Code), Number: k.Number,
					Piece: string(w.Pieces[piece].Kind), Clinic: w.Settings.LabelLine})
			}
		}
	}
	if len(all) == 0 {
		return nil, &reprocess.Problem{Code: reprocess.NotFound, Rule: "unknown",
			Text: "None of these kits has a label.", Fix: "Choose them again under Labels."}
	}
	return all, nil
}

func (v *Visit) containerLabel(id string) (labels.Label, error) {
	c, err := sqlite.Get[reprocess.Container](v.Context(), v.Store(), reprocess.TableContainer, id)
	if err != nil {
		return nil, err
	}
	l, err := v.inForce(id)
	if err != nil {
		return nil, err
	}
	if l == nil {
		return nil, notFound("label of this container")
	}
	w, err := v.stock()
	if err != nil {
		return nil, err
	}
	return labelOfContainer(w, c, labels.Code(l.Code)), nil
}

// labelOfContainer is the label of a container: of a batch when it was prepared and when it is
// thrown away, of another when it was opened and until when it is used.
func labelOfContainer(w *reprocess.World, c *reprocess.Container, code labels.Code) labels.Label {
	if c.Batch != nil {
		return labels.BatchLabel{Code: code, Prepared: dayTime(c.Opened), Discard: dayTime(useBy(w, c))}
	}
	return labels.ContainerLabel{Code: code, Opened: dayTime(c.Opened), UseBy: dayTime(useBy(w, c))}
}

// dayTime is a day as package labels prints it; no day leaves the line to write on.
func dayTime(d reprocess.Date) time.Time {
	t, err := time.Parse(reprocess.DateLayout, string(d))
	if err != nil {
		return time.Time{}
	}
	return t
}

// showContainerLabel issues the label of a container that has none by a tap, or shows it.
func showContainerLabel(v *Visit) error {
	c, w, err := v.container()
	if err != nil {
		return err
	}
	l, err := v.inForce(c.ID)
	if err != nil {
		return err
	}
	if l != nil {
		return v.Went("/label/"+url.PathEscape(l.Code), "")
	}
	p := titledOffice(containerWords(w, c), "It has no label.")
	p.list("", "", ruledLine{Taps: []tap{{To: "/labels/again/container/" + c.ID, Main: true,
		Words: "Make its label", Kept: []Kept{{"reason", "first label"}}}}})
	return v.Show(p)
}
