package web

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
)

// mayDocument tells whether a visitor may change a document: papers about the staff are a
// supervisor's.
func (v *Visit) mayDocument(d *reprocess.Document, act reprocess.Act) bool {
	return d.Withdrawn == nil && v.entitled(act) &&
		(!d.OnA(reprocess.OnPerson) || v.Person.Has(reprocess.RoleSupervisor))
}

// document finds the document of the address, if the visitor may read it.
func (v *Visit) document() (*reprocess.Document, *reprocess.World, error) {
	w, err := v.Store().Documents(v.Context())
	if err != nil {
		return nil, nil, err
	}
	d := w.Documents[v.Param("id")]
	switch {
	case d == nil:
		return nil, nil, notFound("document")
	case !d.MayRead(v.Person):
		return nil, nil, &reprocess.Problem{Code: reprocess.Forbidden, Rule: "role",
			Text: "This paper is about somebody on the staff.",
			Fix:  "They, a supervisor or an auditor can open it."}
	}
	return d, w, nil
}

func showDocument(v *Visit) error {
	d, w, err := v.document()
	if err != nil {
		return err
	}
	return v.Show(v.documentPage(w, d))
}

func (v *Visit) documentPage(w *reprocess.World, d *reprocess.Document) *officePage {
	p := titledOffice(d.Title, documentNote(d)+".")
	switch until := untilWords(d.Newest().Until, v.today()); {
	case d.Withdrawn != nil:
		p.Lead = append(p.Lead, sentence(withdrawnWords(d.Withdrawn, v.Now))+
			" It stays readable and does not count any more.")
	case until != "":
		p.Lead = append(p.Lead, sentence(until))
	}
	var versions []ruledLine
	for no := len(d.Versions); no > 0; no-- {
		versions = append(versions, v.versionLine(d, d.Version(no)))
	}
	p.list("Versions", "", versions...)
	var about []ruledLine
	for _, s := range d.About {
		about = append(about, ruledLine{To: v.subjectPage(s), Words: subjectName(w, s)})
	}
	p.list("About", "", about...)
	p.act(versionAt(d.ID, d.Newest().No, 0), "Open version "+d.Newest().Edition)
	if v.mayDocument(d, reprocess.ActDocument) {
		p.act(documentAt(d.ID)+"/version", "A newer version came")
		if len(v.otherSubjects(w, d.About...)) > 0 {
			p.act(documentAt(d.ID)+"/about", "It is about something else too")
		}
	}
	if v.mayDocument(d, reprocess.ActDocumentWithdraw) {
		p.act(documentAt(d.ID)+"/withdraw", "It does not count any more")
	}
	p.act("/documents", "All documents")
	return p
}

// asked is a page that asks one thing of a document.
type asked func(*Visit, *reprocess.World, *reprocess.Document) *officePage

// askDocument shows such a page; what is withdrawn has nothing to be asked.
func askDocument(page asked) func(*Visit) error {
	return func(v *Visit) error {
		d, w, err := v.document()
		if err != nil {
			return err
		}
		if d.Withdrawn != nil {
			return v.Went(documentAt(d.ID), "")
		}
		return v.Show(page(v, w, d))
	}
}

// leave leads away from a form without what it asks; the form's own act is the next one.
func (p *officePage) leave(to, words string) {
	p.Acts = append(p.Acts, onward{To: to, Words: words})
}

func newerPage(v *Visit, _ *reprocess.World, d *reprocess.Document) *officePage {
	p := titledOffice("Which version came?", d.Title+": version "+d.Newest().Edition+" of "+
		reprocess.Day(d.Newest().Dated)+" counts now. It stays readable.")
	f := &form{To: documentAt(d.ID) + "/version", Act: "Keep the newer version", File: true}
	v.fileParts(f)
	p.form(f)
	p.leave(documentAt(d.ID), "Not now")
	return p
}

func aboutPage(v *Visit, w *reprocess.World, d *reprocess.Document) *officePage {
	p := titledOffice("What is it about too?", d.Title+" is "+aboutWords(w, d)+".")
	f := &form{To: documentAt(d.ID) + "/about", Act: "Keep this"}
	f.one("about", "It is also about", v.Field("about"), v.otherSubjects(w, d.About...)...)
	p.form(f)
	p.leave(documentAt(d.ID), "Not now")
	return p
}

func withdrawPage(v *Visit, _ *reprocess.World, d *reprocess.Document) *officePage {
	p := titledOffice("Why does it not count any more?", d.Title+", in all its versions. It stays "+
		"readable, with this reason, and cannot count again.")
	f := &form{To: documentAt(d.ID) + "/withdraw", Act: "Withdraw it"}
	f.must("reason", "Why", v.Field("reason"), "Up to 200 characters")
	f.field(SignField())
	p.form(f)
	p.leave(documentAt(d.ID), "Not now")
	return p
}

// versionLine is one version: the newest says that it counts, an older one what superseded it.
func (v *Visit) versionLine(d *reprocess.Document, n *reprocess.DocumentVersion) ruledLine {
	line := ruledLine{To: versionAt(d.ID, n.No, 0), Words: "Version " + n.Edition + ", of " +
		reprocess.Day(n.Dated)}
	next := d.Next(n.No)
	switch {
	case next != nil:
		line.Notes = append(line.Notes, "superseded on "+
			reprocess.Day(reprocess.DateIn(next.At, v.Now.Zone))+" by version "+next.Edition)
	case d.Withdrawn == nil:
		line.Notes = append(line.Notes, "counts now")
	}
	if n.Lang != "" {
		line.Notes = append(line.Notes, n.Lang)
	}
	if until := untilWords(n.Until, v.today()); until != "" && next == nil {
		line.Notes = append(line.Notes, until)
	}
	return withNotes(line, "kept by "+n.Name+", "+v.moment(n.At),
		fmt.Sprintf("PDF, %s, SHA-256 begins %s", sizeWords(n.Bytes), n.SHA256[:min(12, len(n.SHA256))]))
}

func withNotes(line ruledLine, more ...string) ruledLine {
	line.Notes = append(line.Notes, more...)
	return line
}

// changed refuses on the page that asked, or goes back to the document. What was withdrawn
// meanwhile is shown as it is.
func (v *Visit) changed(d *reprocess.Document, w *reprocess.World, page asked, err error,
	say string) error {
	switch {
	case err != nil && d.Withdrawn != nil:
		return v.Refuse(err, v.documentPage(w, d))
	case err != nil:
		return v.Refuse(err, page(v, w, d))
	}
	return v.Went(documentAt(d.ID), say)
}

func renewDocument(v *Visit) error {
	d, w, err := v.document()
	if err != nil {
		return err
	}
	file, err := v.typedFile()
	if err == nil {
		_, err = v.Do(reprocess.RenewDocument{Document: d.ID, DocumentFile: file})
	}
	return v.changed(d, w, newerPage, err, "The newer version counts now. The one before stays readable.")
}

func attachDocument(v *Visit) error {
	d, w, err := v.document()
	if err != nil {
		return err
	}
	s, ok := reprocess.ParseSubject(v.Field("about"))
	if !ok {
		err = &reprocess.Problem{Code: reprocess.Invalid, Rule: "about",
			Text: "Nobody said what it is also about.", Fix: "Choose one of the lines."}
	} else {
		_, err = v.Do(reprocess.AttachDocument{Document: d.ID, About: s})
	}
	return v.changed(d, w, aboutPage, err, "It is kept that the document is about this too.")
}

func withdrawDocument(v *Visit) error {
	d, w, err := v.document()
	if err != nil {
		return err
	}
	actor, err := v.Sign()
	if err == nil {
		_, err = v.DoAs(reprocess.WithdrawDocument{Document: d.ID, Reason: v.Field("reason")}, actor)
	}
	return v.changed(d, w, withdrawPage, err, "It is withdrawn and does not count any more.")
}

// documentPolicy lets nothing of a PDF run or load: whoever wrote it is not known here.
const documentPolicy = "default-src 'none'; sandbox; frame-ancestors 'none'"

// documentFile sends the kept bytes of one version, to be shown, never as anything but a PDF.
func documentFile(v *Visit) error {
	d, _, err := v.document()
	if err != nil {
		return err
	}
	text, _ := strings.CutSuffix(v.Param("file"), ".pdf")
	no, err := strconv.Atoi(text)
	n := d.Version(no)
	if err != nil || n == nil || v.Param("file") != strconv.Itoa(no)+".pdf" {
		return notFound("version of this document")
	}
	content, err := v.Store().KeptFile(n.SHA256)
	if err != nil {
		return err
	}
	if p := reprocess.CheckPDF(content); p != nil {
		return p
	}
	v.c.Set(fiber.HeaderContentSecurityPolicy, documentPolicy)
	return v.pdf(fmt.Sprintf("%s-%s-%d.pdf", strings.ReplaceAll(string(d.Kind), "_", "-"), d.ID, no),
		content)
}
