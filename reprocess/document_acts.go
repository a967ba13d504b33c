package reprocess

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

// MostDocumentBytes is how large a kept document may be: 16 MiB. Instructions with pictures
// are usually a third of that (our own choice).
const MostDocumentBytes = 16 << 20

// CheckPDF looks at the bytes of a document before they are kept: a PDF begins with "%PDF-"
// (ISO 32000-1, 7.5.2). What is inside is not judged.
func CheckPDF(content []byte) *Problem {
	switch {
	case len(content) == 0:
		return invalid("document", "Choose a PDF file.", "No file was chosen.")
	case len(content) > MostDocumentBytes:
		return invalid("document_size", "Choose a smaller file, or the part that is needed.",
			"This file has %s and at most 16 MiB are kept.", mebibytes(len(content)))
	case !bytes.HasPrefix(content, []byte("%PDF-")):
		return invalid("not_pdf", "Choose the paper as a PDF file.", "This file is no PDF.")
	}
	return nil
}

// mebibytes rounds up, so that a file that is too large never reads as if it fitted.
func mebibytes(n int) string {
	tenths := (n*10 + 1<<20 - 1) >> 20
	return fmt.Sprintf("%d.%d MiB", tenths/10, tenths%10)
}

// AddDocument adds a document with its first version. The server stored the file before.
type AddDocument struct {
	Kind  DocumentKind `json:"kind"`
	Title string       `json:"title"`
	About []Subject    `json:"about"`
	DocumentFile
}

// RenewDocument adds a newer version to a document; the one before is superseded by it.
type RenewDocument struct {
	Document string `json:"document"`
	DocumentFile
}

// AttachDocument says that a document is about one thing more.
type AttachDocument struct {
	Document string  `json:"document"`
	About    Subject `json:"about"`
}

// WithdrawDocument says that a document does not count any more. It stays readable.
type WithdrawDocument struct {
	Document string `json:"document"`
	Reason   string `json:"reason"`
}

// The events of documents.
type (
	// DocumentAdded adds a document with its first version.
	DocumentAdded struct {
		ID    string       `json:"id"`
		Kind  DocumentKind `json:"kind"`
		Title string       `json:"title"`
		About []Subject    `json:"about"`
		DocumentFile
	}
	// DocumentRenewed adds its next version.
	DocumentRenewed struct {
		Document string `json:"document"`
		No       int    `json:"no"`
		DocumentFile
	}
	// DocumentAttached attaches it to one thing more.
	DocumentAttached struct {
		Document string  `json:"document"`
		About    Subject `json:"about"`
	}
	// DocumentWithdrawn ends it.
	DocumentWithdrawn struct {
		Document string `json:"document"`
		Reason   string `json:"reason"`
	}
)

// EventName is "document_added".
func (DocumentAdded) EventName() string { return "document_added" }

// EventName is "document_renewed".
func (DocumentRenewed) EventName() string { return "document_renewed" }

// EventName is "document_attached".
func (DocumentAttached) EventName() string { return "document_attached" }

// EventName is "document_withdrawn".
func (DocumentWithdrawn) EventName() string { return "document_withdrawn" }

// The acts on documents.
const (
	ActDocument         Act = "document"
	ActDocumentWithdraw Act = "document_withdraw"
)

// TableDocument holds the documents.
const TableDocument Table = "document"

// Act is "document".
func (AddDocument) Act() Act { return ActDocument }

// Act is "document".
func (RenewDocument) Act() Act { return ActDocument }

// Act is "document".
func (AttachDocument) Act() Act { return ActDocument }

// Act is "document_withdraw".
func (WithdrawDocument) Act() Act { return ActDocumentWithdraw }

// Needs the pieces of checks, and whatever is kept under the same hash.
func (a AddDocument) Needs() Needs {
	return Needs{Pieces: piecesIn(a.About...), Hashes: []string{a.SHA256}}
}

// Needs the document, and whatever is kept under the same hash.
func (r RenewDocument) Needs() Needs {
	return Needs{Rows: []Ref{{TableDocument, r.Document}}, Hashes: []string{r.SHA256}}
}

// Needs the document and the piece of a check.
func (a AttachDocument) Needs() Needs {
	return Needs{Rows: []Ref{{TableDocument, a.Document}}, Pieces: piecesIn(a.About)}
}

// Needs the document.
func (x WithdrawDocument) Needs() Needs {
	return Needs{Rows: []Ref{{TableDocument, x.Document}}}
}

func piecesIn(about ...Subject) []string {
	var ids []string
	for _, s := range about {
		if s.Kind == OnCheck {
			ids = append(ids, s.ID)
		}
	}
	return ids
}

// mostSubjects bounds what one document is about; a clinic has some tens of models.
const mostSubjects = 30

func (a AddDocument) decide(c *Case) *Problem {
	if a.Kind.Words() == "" {
		return invalid("kind", "Choose from the list.", "%q is no kind of document.", a.Kind)
	}
	title, p := need("The title", a.Title, 80)
	if p != nil {
		return p
	}
	if len(a.About) == 0 {
		return invalid("about", "Choose what it is about.", "Nobody said what the document is about.")
	}
	about, p := c.subjects(a.Kind, nil, a.About...)
	if p != nil {
		return p
	}
	file, p := a.DocumentFile.checked(c, nil)
	if p != nil {
		return p
	}
	c.emit(DocumentAdded{ID: c.id("Q", 0), Kind: a.Kind, Title: title, About: about,
		DocumentFile: file})
	return nil
}

// subjects checks what a document is about besides what it is about already: each is there,
// fits the kind of document, is of the same sort as the others and is named once.
func (c *Case) subjects(kind DocumentKind, was []Subject, more ...Subject) ([]Subject, *Problem) {
	all := slices.Clone(was)
	for _, s := range more {
		s, p := c.subject(s)
		if p != nil {
			return nil, p
		}
		switch {
		case !contains(DocumentKinds(s.Kind), kind):
			return nil, invalid("about", "Choose another kind of document.",
				"A document of the kind %q is not about a %s.", kind.Words(), subjectWords[s.Kind])
		case len(all) > 0 && all[0].Kind != s.Kind:
			return nil, invalid("about", "Add it once more for the other.",
				"One document is about a %s or about a %s, not about both.",
				subjectWords[all[0].Kind], subjectWords[s.Kind])
		case slices.ContainsFunc(all, s.same):
			return nil, conflict("about_twice", "Nothing to do.", "It is about this already.")
		case len(all) == mostSubjects:
			return nil, invalid("about", "Leave some out.", "A document is about at most %d things.",
				mostSubjects)
		}
		all = append(all, s)
	}
	return all, nil
}

var subjectWords = map[SubjectKind]string{OnModel: "model", OnProduct: "disinfectant",
	OnPerson: "person", OnCheck: "technical check"}

// subject finds what a document is to be about, and whether this person may say so.
func (c *Case) subject(s Subject) (Subject, *Problem) {
	s.Words = ""
	switch s.Kind {
	case OnModel:
		if c.W.Models[s.ID] == nil {
			return s, missing("model")
		}
	case OnProduct:
		if c.W.Products[s.ID] == nil {
			return s, missing("disinfectant")
		}
	case OnPerson:
		if c.W.People[s.ID] == nil {
			return s, missing("person")
		}
		return s, c.mayPersonal()
	case OnCheck:
		return c.checkSubject(s)
	default:
		return s, invalid("about", "Open the page again.", "%q is nothing a document is about.", s.Kind)
	}
	return s, nil
}

// mayPersonal keeps papers about the staff with supervisors.
func (c *Case) mayPersonal() *Problem {
	if c.Actor.Person.Has(RoleSupervisor) {
		return nil
	}
	return &Problem{Code: Forbidden, Rule: "role", Fix: "Ask a supervisor.",
		Text: "Only a supervisor keeps papers about the staff."}
}

// checkSubject takes the newest result of a check alone: of an older one the piece keeps
// nothing that could be held against the paper.
func (c *Case) checkSubject(s Subject) (Subject, *Problem) {
	piece, p := c.piece(s.ID)
	if p != nil {
		return s, p
	}
	for _, done := range piece.Checks {
		if done.Check != s.Check || done.Seq != s.Entry {
			continue
		}
		rule, p := c.checkRule(piece, s.Check)
		if p != nil {
			return s, p
		}
		s.Words = rule.Of() + ", " + string(piece.Kind) + " " + piece.Serial + ", " + Day(done.On)
		return s, nil
	}
	return s, refuse("check_gone", "Open the checks of the piece again.",
		"This is not the newest result of a technical check.")
}

// checked reads one version; old is the document it continues, nil for a first version.
func (f DocumentFile) checked(c *Case, old *Document) (DocumentFile, *Problem) {
	var p *Problem
	if f.Edition, p = need("The version or edition", f.Edition, 40); p != nil {
		return f, p
	}
	if f.Lang, p = clean("The language", f.Lang, 30); p != nil {
		return f, p
	}
	if f.Dated, p = docDay("The date of the paper", f.Dated); p != nil {
		return f, p
	}
	if f.Until, p = docDay("The last day", f.Until); p != nil {
		return f, p
	}
	switch {
	case f.Dated == "":
		return f, invalid("date", "Type it as printed; if none is, the day it came.",
			"The date of the paper is missing.")
	case f.Dated > c.Now.Today():
		return f, invalid("date", "Type the date that stands on it.", "%s is still to come.",
			Day(f.Dated))
	case f.Until != "" && f.Until < f.Dated:
		return f, invalid("date", "Change one of the days.", "It would end on %s, before its own date.",
			Day(f.Until))
	case !isHash(f.SHA256) || f.Bytes < 1 || f.Bytes > MostDocumentBytes:
		return f, invalid("document", "Choose the file again.", "The file was not kept.")
	}
	if old != nil {
		if p := f.newerThan(old.Newest()); p != nil {
			return f, p
		}
	}
	return f, c.onFile(f.SHA256)
}

func docDay(what string, d Date) (Date, *Problem) {
	day, err := ParseDate(string(d))
	if err != nil {
		return "", invalid("date", "Type it like 2026-11-24.", "%s: %s.", what, err)
	}
	return day, nil
}

// newerThan holds a version against the one that it would supersede.
func (f DocumentFile) newerThan(now DocumentVersion) *Problem {
	switch {
	case f.SHA256 == now.SHA256:
		return conflict("same_file", "Nothing to do, or choose the newer file.",
			"This is the very file that counts already, version %s.", now.Edition)
	case strings.EqualFold(f.Edition, now.Edition):
		return conflict("same_edition", "Read the version on the title page of the newer one.",
			"The version that counts is called %s already.", now.Edition)
	case f.Dated < now.Dated:
		return refuse("older_paper", "If the older one is to count again, withdraw this document "+
			"and add it as a new one.", "It is of %s; the version that counts is of %s.",
			Day(f.Dated), Day(now.Dated))
	}
	return nil
}

// onFile refuses bytes that are kept as another document already; withdrawn ones do not count.
func (c *Case) onFile(hash string) *Problem {
	for _, d := range c.W.Documents {
		for _, v := range d.Versions {
			if d.Withdrawn == nil && v.SHA256 == hash {
				return conflict("on_file", "Use that one: it can be about more than one thing.",
					"This very file is kept already: %s, version %s.", d.Title, v.Edition)
			}
		}
	}
	return nil
}

// document finds one that is not withdrawn, and whether this person may change it.
func (c *Case) document(id string) (*Document, *Problem) {
	d := c.W.Documents[id]
	switch {
	case d == nil:
		return nil, missing("document")
	case d.OnA(OnPerson) && !c.Actor.Person.Has(RoleSupervisor):
		return nil, c.mayPersonal()
	case d.Withdrawn != nil:
		return nil, conflict("withdrawn", "Add it as a new document if it is to count again.",
			"%s was withdrawn on %s.", d.Title, Day(DateIn(d.Withdrawn.At, c.Now.Zone)))
	}
	return d, nil
}

func (r RenewDocument) decide(c *Case) *Problem {
	d, p := c.document(r.Document)
	if p != nil {
		return p
	}
	file, p := r.DocumentFile.checked(c, d)
	if p != nil {
		return p
	}
	c.emit(DocumentRenewed{Document: d.ID, No: len(d.Versions) + 1, DocumentFile: file})
	return nil
}

func (a AttachDocument) decide(c *Case) *Problem {
	d, p := c.document(a.Document)
	if p != nil {
		return p
	}
	about, p := c.subjects(d.Kind, d.About, a.About)
	if p != nil {
		return p
	}
	c.emit(DocumentAttached{Document: d.ID, About: about[len(about)-1]})
	return nil
}

func (x WithdrawDocument) decide(c *Case) *Problem {
	d, p := c.document(x.Document)
	if p != nil {
		return p
	}
	reason, p := need("The reason", x.Reason, 200)
	if p != nil {
		return p
	}
	c.emit(DocumentWithdrawn{Document: d.ID, Reason: reason})
	return nil
}
