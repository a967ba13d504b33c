package web

import (
	"fmt"
	"net/url"
	"slices"
	"strings"

	"handback/reprocess"
)

// subjectSorts are what documents are about, in the order of the list.
var subjectSorts = []struct {
	kind  reprocess.SubjectKind
	words string
}{{reprocess.OnModel, "About a model"}, {reprocess.OnProduct, "About a disinfectant"},
	{reprocess.OnPerson, "About somebody on the staff"},
	{reprocess.OnCheck, "About a technical check"}}

func kindChoices(kinds []reprocess.DocumentKind) []Choice {
	var all []Choice
	for _, k := range kinds {
		all = append(all, Choice{Value: string(k), Words: k.Words()})
	}
	return all
}

// documentFilter is what the list is narrowed to; empty fields are all.
type documentFilter struct {
	kind  reprocess.DocumentKind
	on    reprocess.SubjectKind
	about *reprocess.Subject
}

func (v *Visit) documentFilter() (f documentFilter, err error) {
	f.kind, f.on = reprocess.DocumentKind(v.Query("kind")), reprocess.SubjectKind(v.Query("on"))
	if f.kind != "" && f.kind.Words() == "" || f.on != "" && len(reprocess.DocumentKinds(f.on)) == 0 {
		return f, notFound("kind of document")
	}
	if key := v.Query("about"); key != "" {
		s, ok := reprocess.ParseSubject(key)
		if !ok {
			return f, notFound("subject of documents")
		}
		f.about = &s
	}
	return f, nil
}

func (f documentFilter) lets(d *reprocess.Document) bool {
	return (f.kind == "" || d.Kind == f.kind) && (f.on == "" || d.OnA(f.on)) &&
		(f.about == nil || d.IsAbout(*f.about))
}

// showDocuments lists the documents that the visitor may read, what counts first.
func showDocuments(v *Visit) error {
	f, err := v.documentFilter()
	if err != nil {
		return err
	}
	w, err := v.Store().Documents(v.Context())
	if err != nil {
		return err
	}
	var current, gone []ruledLine
	for _, d := range v.readable(w) {
		if !f.lets(d) {
			continue
		}
		line := ruledLine{To: documentAt(d.ID), Words: d.Title, Notes: []string{documentNote(d)}}
		if f.about == nil {
			line.Notes = append(line.Notes, aboutWords(w, d))
		}
		if d.Withdrawn != nil {
			line.Notes = append(line.Notes, withdrawnWords(d.Withdrawn, v.Now))
			gone = append(gone, line)
			continue
		}
		if until := untilWords(d.Newest().Until, v.today()); until != "" {
			line.Notes = append(line.Notes, until)
		}
		current = append(current, line)
	}
	return v.Show(v.documentsPage(w, f, current, gone))
}

// readable lists the loaded documents that the visitor may read.
func (v *Visit) readable(w *reprocess.World) []*reprocess.Document {
	var all []*reprocess.Document
	for _, d := range w.Documents {
		if d.MayRead(v.Person) {
			all = append(all, d)
		}
	}
	reprocess.SortDocuments(all)
	return all
}

func (v *Visit) documentsPage(w *reprocess.World, f documentFilter,
	current, gone []ruledLine) *officePage {
	p := titledOffice("Which paper says how?")
	heading := "Counts now"
	for _, one := range subjectSorts {
		if f.on == one.kind {
			heading += ": " + strings.ToLower(one.words)
		}
	}
	if f.kind != "" {
		heading += ": " + strings.ToLower(f.kind.Words())
	}
	add := "/documents/new"
	if f.about != nil {
		name := v.foundName(w, *f.about)
		p.Title = "Which papers are there about " + name + "?"
		add += "?about=" + url.QueryEscape(f.about.Key())
	}
	p.list(heading, "None is on file.", current...)
	if len(gone) > 0 {
		p.list("Withdrawn", "", gone...)
	}
	if v.entitled(reprocess.ActDocument) {
		p.act(add, "Add a document")
	}
	if f.about != nil {
		if to := v.subjectPage(*f.about); to != "" {
			p.act(to, "Back to "+v.foundName(w, *f.about))
		}
		p.act("/documents", "All documents")
		return p
	}
	if f.kind != "" || f.on != "" {
		p.act("/documents", "All documents")
		return p
	}
	p.list("Only some of them", "", v.narrower(w)...)
	return p
}

// narrower leads to the kinds, and to the sorts of subjects, of which there is any.
func (v *Visit) narrower(w *reprocess.World) []ruledLine {
	kinds, sorts := map[reprocess.DocumentKind]int{}, map[reprocess.SubjectKind]int{}
	for _, d := range v.readable(w) {
		kinds[d.Kind]++
		if len(d.About) > 0 {
			sorts[d.About[0].Kind]++ // all of one sort
		}
	}
	var rows []ruledLine
	for _, k := range reprocess.DocumentKinds("") {
		if kinds[k] > 0 {
			rows = append(rows, ruledLine{To: "/documents?kind=" + string(k),
				Words: fmt.Sprintf("%s (%d)", k.Words(), kinds[k])})
		}
	}
	for _, s := range subjectSorts {
		if sorts[s.kind] > 0 {
			rows = append(rows, ruledLine{To: "/documents?on=" + string(s.kind),
				Words: fmt.Sprintf("%s (%d)", s.words, sorts[s.kind])})
		}
	}
	return rows
}

// foundName names a subject, also of a check about which there is no document yet.
func (v *Visit) foundName(w *reprocess.World, s reprocess.Subject) string {
	if s.Kind != reprocess.OnCheck {
		return subjectName(w, s)
	}
	for _, d := range w.DocumentsOf(s) {
		for _, one := range d.About {
			if one.Key() == s.Key() {
				return one.Words
			}
		}
	}
	return "this technical check"
}

// showNewDocument asks first what a document is about, then for the document.
func showNewDocument(v *Visit) error {
	w, err := v.Store().Documents(v.Context())
	if err != nil {
		return err
	}
	if v.Query("about") == "" {
		return v.Show(v.chooseSubject(w))
	}
	s, ok := reprocess.ParseSubject(v.Query("about"))
	if !ok {
		return notFound("subject of documents")
	}
	return v.Show(v.newDocumentPage(w, s))
}

func (v *Visit) chooseSubject(w *reprocess.World) *officePage {
	p := titledOffice("What is the paper about?")
	row := func(s reprocess.Subject) ruledLine {
		return ruledLine{To: "/documents/new?about=" + url.QueryEscape(s.Key()), Words: subjectName(w, s)}
	}
	var models, products, people []ruledLine
	for _, m := range modelsOf(w) {
		models = append(models, row(aboutModel(m.ID)))
	}
	for _, d := range productsOf(w) {
		products = append(products, row(aboutProduct(d.ID)))
	}
	p.list("A model", "No model is described yet.", models...)
	p.list("A disinfectant", "None is described yet.", products...)
	if v.entitled(reprocess.ActPerson) {
		for _, who := range peopleOf(w, v.today()) {
			if !who.Pass {
				people = append(people, row(aboutPerson(who.ID)))
			}
		}
		p.list("Somebody on the staff", "Nobody.", people...)
	}
	p.list("A technical check", "", ruledLine{To: "/checks", Words: "Choose the piece first",
		Notes: []string{"its page leads to the papers of each check"}})
	return p
}

// documentField takes the file itself.
func documentField() Field {
	f := TextField("file", "The paper as PDF", "")
	f.Kind, f.Required = "file", true
	f.Hint = "Up to 16 MiB. It is kept as it is and never changed."
	return f
}

// fileParts are what a version says of itself; what was typed stays.
func (v *Visit) fileParts(f *form) {
	f.must("edition", "Version or edition", v.Field("edition"), "As printed, up to 40 characters")
	f.day("dated", "Date of the paper", reprocess.Date(v.Field("dated")),
		"As printed; if none is, the day it came")
	f.text("lang", "Language", v.Field("lang"), "May stay empty")
	f.day("until", "Expires on", reprocess.Date(v.Field("until")),
		"Its last day, if it has one; the morning page tells 30 days before")
	f.field(documentField())
}

func (v *Visit) newDocumentPage(w *reprocess.World, s reprocess.Subject) *officePage {
	p := titledOffice("Which paper is it?", "About "+v.foundName(w, s)+".")
	f := &form{To: "/documents/new", Act: "Keep this document", File: true,
		Kept: []Kept{{"about", s.Key()}}}
	kinds := kindChoices(reprocess.DocumentKinds(s.Kind))
	pick := v.Field("kind")
	if len(kinds) == 1 {
		pick = kinds[0].Value
	}
	f.one("kind", "What is it?", pick, kinds...)
	f.must("title", "Title", v.Field("title"), "As on its first page, up to 80 characters; no wearer’s name")
	v.fileParts(f)
	if more := v.otherSubjects(w, s); len(more) > 0 {
		n := len(f.Parts)
		f.many("also", "Is it about others too?", "", v.Fields("also"), more...)
		f.fold(n, "About others too", len(v.Fields("also")) > 0)
	}
	p.form(f)
	return p
}

// otherSubjects lists models beside a model, disinfectants beside a disinfectant.
func (v *Visit) otherSubjects(w *reprocess.World, not ...reprocess.Subject) []Choice {
	var all []Choice
	add := func(s reprocess.Subject, retired bool) {
		listed := slices.ContainsFunc(not, func(o reprocess.Subject) bool { return o.Key() == s.Key() })
		if !listed && !retired {
			all = append(all, Choice{Value: s.Key(), Words: subjectName(w, s)})
		}
	}
	switch not[0].Kind {
	case reprocess.OnModel:
		for _, m := range modelsOf(w) {
			add(aboutModel(m.ID), m.Retired)
		}
	case reprocess.OnProduct:
		for _, d := range productsOf(w) {
			add(aboutProduct(d.ID), d.Retired)
		}
	}
	return all
}

// typedFile reads the fields of a version and keeps the file behind them.
func (v *Visit) typedFile() (reprocess.DocumentFile, error) {
	t := v.typing()
	typed := reprocess.DocumentFile{Edition: t.text("edition"), Lang: t.text("lang"),
		Dated: t.day("dated", "The date of the paper"), Until: t.day("until", "The last day")}
	if err := t.err(); err != nil {
		return typed, err
	}
	content, _, err := v.File("file")
	if err != nil {
		return typed, err
	}
	kept, err := v.Store().KeepDocument(content)
	typed.SHA256, typed.Bytes = kept.SHA256, kept.Bytes
	return typed, err
}

func addDocument(v *Visit) error {
	w, err := v.Store().Documents(v.Context())
	if err != nil {
		return err
	}
	cmd := reprocess.AddDocument{Kind: reprocess.DocumentKind(v.Field("kind")), Title: v.Field("title")}
	for _, key := range append([]string{v.Field("about")}, v.Fields("also")...) {
		s, ok := reprocess.ParseSubject(key)
		if !ok {
			return notFound("subject of documents")
		}
		cmd.About = append(cmd.About, s)
	}
	cmd.DocumentFile, err = v.typedFile()
	var e *reprocess.Entry
	if err == nil {
		e, err = v.Do(cmd)
	}
	if err != nil {
		return v.Refuse(err, v.newDocumentPage(w, cmd.About[0]))
	}
	to := "/documents"
	for _, b := range e.Events {
		if added, ok := b.Event.(reprocess.DocumentAdded); ok {
			to = documentAt(added.ID)
		}
	}
	return v.Went(to, "The document is kept.")
}
