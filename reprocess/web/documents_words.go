package web

import (
	"fmt"
	"net/url"
	"strings"

	"handback/reprocess"
)

func documentAt(id string) string { return "/document/" + url.PathEscape(id) }

// versionAt is the address of the PDF of one version; page 0 is its beginning.
func versionAt(id string, no, page int) string {
	address := fmt.Sprintf("%s/%d.pdf", documentAt(id), no)
	if page > 0 {
		address += fmt.Sprintf("#page=%d", page)
	}
	return address
}

func documentsAbout(s reprocess.Subject) string {
	return "/documents?about=" + url.QueryEscape(s.Key())
}

func aboutModel(id string) reprocess.Subject {
	return reprocess.Subject{Kind: reprocess.OnModel, ID: id}
}

func aboutProduct(id string) reprocess.Subject {
	return reprocess.Subject{Kind: reprocess.OnProduct, ID: id}
}

func aboutPerson(id string) reprocess.Subject {
	return reprocess.Subject{Kind: reprocess.OnPerson, ID: id}
}

// subjectName names what a document is about.
func subjectName(w *reprocess.World, s reprocess.Subject) string {
	switch s.Kind {
	case reprocess.OnModel:
		return modelName(w, s.ID)
	case reprocess.OnProduct:
		if p := w.Products[s.ID]; p != nil {
			return p.Name
		}
		return "disinfectant " + s.ID
	case reprocess.OnPerson:
		return nameOf(w, s.ID)
	}
	return capital(s.Words)
}

// subjectPage is where a subject itself is shown, "" for a visitor who may not open it.
func (v *Visit) subjectPage(s reprocess.Subject) string {
	switch s.Kind {
	case reprocess.OnModel:
		return "/procedures/" + s.ID
	case reprocess.OnProduct:
		return "/product/" + s.ID
	case reprocess.OnPerson:
		if v.entitled(reprocess.ActPerson) {
			return "/staff/" + s.ID
		}
	case reprocess.OnCheck:
		return "/checks/" + s.ID
	}
	return ""
}

func aboutWords(w *reprocess.World, d *reprocess.Document) string {
	var all []string
	for _, s := range d.About {
		all = append(all, subjectName(w, s))
	}
	return "about " + strings.Join(all, ", ")
}

// documentNote says kind, version and date of a document as it counts now.
func documentNote(d *reprocess.Document) string {
	n := d.Newest()
	note := d.Kind.Words() + ", version " + n.Edition + ", of " + reprocess.Day(n.Dated)
	if n.Lang != "" {
		note += ", " + n.Lang
	}
	return note
}

// untilWords says how a last day stands to today, "" for none.
func untilWords(until, today reprocess.Date) string {
	switch {
	case until == "":
		return ""
	case until < today:
		return "ended on " + reprocess.Day(until)
	case until == today:
		return "ends today"
	}
	return "until " + reprocess.Day(until)
}

func withdrawnWords(x *reprocess.Withdrawal, now reprocess.Now) string {
	return "withdrawn on " + reprocess.Day(reprocess.DateIn(x.At, now.Zone)) + " by " + x.Name + ": " +
		x.Reason
}

// documentsLine leads from a thing to its documents; what the visitor may not read and what
// is withdrawn does not count.
func (v *Visit) documentsLine(w *reprocess.World, s reprocess.Subject) ruledLine {
	n := 0
	for _, d := range w.DocumentsOf(s) {
		if d.Withdrawn == nil && d.MayRead(v.Person) {
			n++
		}
	}
	return ruledLine{To: documentsAbout(s), Words: fmt.Sprintf("Documents (%d)", n)}
}

// documentWords is an event about a document in words; empty for any other.
func documentWords(w *reprocess.World, event reprocess.Event) string {
	titled := func(id string) string {
		if d := w.Documents[id]; d != nil {
			return d.Title
		}
		return "document " + id
	}
	switch ev := event.(type) {
	case reprocess.DocumentAdded:
		d := &reprocess.Document{About: ev.About}
		return strings.ToLower(ev.Kind.Words()) + " kept: " + ev.Title + ", version " + ev.Edition +
			", " + aboutWords(w, d)
	case reprocess.DocumentRenewed:
		return "newer version kept: " + titled(ev.Document) + ", version " + ev.Edition
	case reprocess.DocumentAttached:
		return titled(ev.Document) + " is also about " + subjectName(w, ev.About)
	case reprocess.DocumentWithdrawn:
		return titled(ev.Document) + " withdrawn: " + ev.Reason
	}
	return ""
}

// begunWith names the instructions that counted when a cycle began, "" for none.
func begunWith(list []reprocess.InstructionsUsed) string {
	if len(list) == 0 {
		return ""
	}
	return ", by the instructions " + reprocess.InstructionWords(list)
}

// paperLine is a document at the step, or, None, that there is none.
type paperLine struct {
	To, Words string
	None      bool
}

// papers are the documents that the step of a group is done by: the instructions of each
// model and, where a disinfectant is chosen or at work, its own.
func (x *view) papers(g group) []paperLine {
	var all []paperLine
	seen := map[string]bool{}
	add := func(d *reprocess.Document, words string, page int) {
		n := d.Newest()
		if seen[d.ID] {
			return
		}
		seen[d.ID] = true
		words += ": " + d.Title + ", version " + n.Edition
		if page > 0 {
			words += fmt.Sprintf(", page %d", page)
		}
		all = append(all, paperLine{To: versionAt(d.ID, n.No, page), Words: words})
	}
	product := x.productAt(g)
	for _, t := range g.tracks {
		none := true
		for _, d := range x.w.DocumentsOf(aboutModel(t.Piece.Model)) {
			if d.Kind == reprocess.DocInstructions && d.Withdrawn == nil {
				none = false
				add(d, "Instructions", pageFor(t.Proc, product))
			}
		}
		if none {
			all = append(all, x.noInstructions(t.Piece.Model))
		}
	}
	if product == nil {
		return all
	}
	for _, d := range x.w.DocumentsOf(aboutProduct(product.ID)) {
		if d.Withdrawn == nil && d.Kind != reprocess.DocCertificate {
			add(d, d.Kind.Words(), 0)
		}
	}
	return all
}

// noInstructions says so, and leads there whoever may add them.
func (x *view) noInstructions(model string) paperLine {
	line := paperLine{None: true, Words: "No instructions for use of " + modelName(x.w, model) + " are on file."}
	if x.v.entitled(reprocess.ActDocument) {
		line.To = "/documents/new?about=" + url.QueryEscape(aboutModel(model).Key())
	}
	return line
}

// pageFor is the page of the instructions that a disinfectant is used by, or that the
// procedure names; 0 for none.
func pageFor(proc *reprocess.Procedure, product *reprocess.Product) int {
	if product != nil {
		if page := reprocess.PageIn(product.AsWritten); page > 0 {
			return page
		}
	}
	if proc == nil {
		return 0
	}
	return reprocess.PageIn(proc.IFU)
}

// productAt is the disinfectant of the step: the one on the surface, or else of the first
// container offered; nil at other steps.
func (x *view) productAt(g group) *reprocess.Product {
	if g.step.ID != reprocess.StepDisinfection && !g.running {
		return nil
	}
	for _, id := range x.inUse(g) {
		if c := x.w.Containers[id]; c != nil && x.w.Lots[c.Lot] != nil {
			return x.w.Products[x.w.Lots[c.Lot].Product]
		}
	}
	for _, o := range x.offers(g) {
		if o.problem == nil {
			return o.suit.Product
		}
	}
	return nil
}

// instructionsTold says when the instructions changed since an open cycle began. That there
// are none stands with the documents of the step.
func (x *view) instructionsTold(g group) []string {
	var all []string
	for _, t := range g.tracks {
		if t.Cycle == nil || t.Cycle.Ended != 0 {
			continue
		}
		remark := x.w.InstructionRemark(t.Cycle, t.Piece.Model, x.v.Now.UTC)
		now := x.w.InstructionsAt(t.Piece.Model, x.v.Now.UTC)
		if remark != "" && len(t.Cycle.Instructions)+len(now) > 0 {
			all = append(all, capital(string(t.Piece.Kind))+": "+remark)
		}
	}
	return all
}

// instructionFact is what stands in the record of a cycle: what counted when it began, and
// the remark.
func instructionFact(w *reprocess.World, c *reprocess.Cycle, model string, now reprocess.Instant) string {
	remark := w.InstructionRemark(c, model, now)
	if len(c.Instructions) == 0 {
		return remark
	}
	return strings.TrimSpace(reprocess.InstructionWords(c.Instructions) + ". " + remark)
}

// checkPapers leads to the papers of the newest result of each check.
func (v *Visit) checkPapers(w *reprocess.World, all []reprocess.CheckStanding) []ruledLine {
	var rows []ruledLine
	for _, s := range all {
		if s.Last == nil {
			continue
		}
		line := v.documentsLine(w, reprocess.Subject{Kind: reprocess.OnCheck, ID: s.Piece.ID,
			Check: s.Rule.ID, Entry: s.Last.Seq})
		line.Notes = []string{s.Rule.Of() + ", " + reprocess.Day(s.Last.On)}
		rows = append(rows, line)
	}
	return rows
}

// endingPapers are the documents whose last day is near or past, as far as the visitor may
// read them.
func (v *Visit) endingPapers(w *reprocess.World) []Line {
	var all []Line
	for _, d := range reprocess.DocumentsEnding(w, v.today(), reprocess.DocumentSoonDays) {
		if d.MayRead(v.Person) {
			all = append(all, Line{documentAt(d.ID), d.Title, sentence(d.Kind.Words() + " " +
				aboutWords(w, d) + ", " + untilWords(d.Newest().Until, v.today()))})
		}
	}
	return all
}
