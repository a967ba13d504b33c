package reprocess

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// DocumentKind says what a kept paper is.
type DocumentKind string

// The kinds of documents.
const (
	DocInstructions DocumentKind = "instructions"
	DocSheet        DocumentKind = "data_sheet"
	DocCertificate  DocumentKind = "certificate"
	DocCompetence   DocumentKind = "competence"
	DocTest         DocumentKind = "test_paper"
)

// SubjectKind says what sort of thing a document is about.
type SubjectKind string

// The sorts of subjects.
const (
	OnModel   SubjectKind = "model"
	OnProduct SubjectKind = "product"
	OnPerson  SubjectKind = "person"
	OnCheck   SubjectKind = "check" // the result of one technical check
)

// documentKind is one row of the table of kinds: its words and what it can be about.
type documentKind struct {
	Kind  DocumentKind
	Words string
	On    []SubjectKind
}

var documentKinds = []documentKind{
	{DocInstructions, "Instructions for use", []SubjectKind{OnModel, OnProduct}},
	{DocSheet, "Data sheet", []SubjectKind{OnModel, OnProduct}},
	{DocCertificate, "Certificate", []SubjectKind{OnModel, OnProduct, OnPerson}},
	{DocCompetence, "Competence paper", []SubjectKind{OnPerson}},
	{DocTest, "Test or calibration paper", []SubjectKind{OnCheck}},
}

// DocumentKinds lists the kinds that a subject can have, all for an empty one.
func DocumentKinds(on SubjectKind) []DocumentKind {
	var all []DocumentKind
	for _, k := range documentKinds {
		if on == "" || contains(k.On, on) {
			all = append(all, k.Kind)
		}
	}
	return all
}

// Words is the kind as people read it, "" for an unknown one.
func (k DocumentKind) Words() string {
	for _, row := range documentKinds {
		if row.Kind == k {
			return row.Words
		}
	}
	return ""
}

// Subject is what a document is about. Of a check it is the result that one entry recorded;
// its words are kept, because a piece keeps its newest result alone.
type Subject struct {
	Kind  SubjectKind `json:"kind"`
	ID    string      `json:"id"`              // model, product, person, or the piece of a check
	Check string      `json:"check,omitempty"` // id of the rule of a check
	Entry int64       `json:"entry,omitempty"` // entry of that result
	Words string      `json:"words,omitempty"` // of that result, set by the rule
}

// Key writes a subject as one text: "model:M3", "check:P4:K9-1:120". ParseSubject reads it.
func (s Subject) Key() string {
	key := string(s.Kind) + ":" + s.ID
	if s.Kind == OnCheck {
		key += ":" + s.Check + ":" + strconv.FormatInt(s.Entry, 10)
	}
	return key
}

// ParseSubject reads what Key writes, strictly; ok is false for anything else.
func ParseSubject(key string) (s Subject, ok bool) {
	parts := strings.Split(key, ":")
	s.Kind = SubjectKind(parts[0])
	switch {
	case s.Kind == OnCheck && len(parts) == 4:
		n, err := strconv.ParseInt(parts[3], 10, 64)
		s.ID, s.Check, s.Entry = parts[1], parts[2], n
		ok = err == nil && n > 0 && s.Check != ""
	case contains([]SubjectKind{OnModel, OnProduct, OnPerson}, s.Kind) && len(parts) == 2:
		s.ID, ok = parts[1], true
	}
	return s, ok && s.ID != "" && s.Key() == key
}

// same compares subjects without their words.
func (s Subject) same(o Subject) bool { return s.Key() == o.Key() }

// DocumentFile is one version as it was brought: what its title page says, and its bytes by
// their hash.
type DocumentFile struct {
	Edition string `json:"edition"`          // version or edition, as printed
	Dated   Date   `json:"dated"`            // of the paper
	Lang    string `json:"lang,omitempty"`   // empty: not stated
	Until   Date   `json:"until,omitempty"`  // its last day, where it has one
	SHA256  string `json:"sha256,omitempty"` // of the kept PDF
	Bytes   int64  `json:"bytes,omitempty"`
}

// DocumentVersion is a version with when and by whom it was added.
type DocumentVersion struct {
	No int `json:"no"` // 1-based within the document
	DocumentFile
	Seq  int64   `json:"seq"`
	At   Instant `json:"at"`
	By   string  `json:"by"`
	Name string  `json:"name"`
}

// Document is one paper in all its versions, the oldest first. The newest counts until the
// document is withdrawn; the older ones stay readable.
type Document struct {
	ID        string            `json:"id"`
	Kind      DocumentKind      `json:"kind"`
	Title     string            `json:"title"`
	About     []Subject         `json:"about"`
	Versions  []DocumentVersion `json:"versions"`
	Withdrawn *Withdrawal       `json:"withdrawn,omitempty"`
}

// Withdrawal says that a document does not count any more.
type Withdrawal struct {
	Seq    int64   `json:"seq"`
	At     Instant `json:"at"`
	By     string  `json:"by"`
	Name   string  `json:"name"`
	Reason string  `json:"reason"`
}

// Newest is the version that was added last. Every document has one.
func (d *Document) Newest() DocumentVersion {
	if len(d.Versions) == 0 {
		return DocumentVersion{}
	}
	return d.Versions[len(d.Versions)-1]
}

// Version finds one by its number, nil for none.
func (d *Document) Version(no int) *DocumentVersion {
	if no < 1 || no > len(d.Versions) {
		return nil
	}
	return &d.Versions[no-1]
}

// Next is the version that superseded one, nil when none did.
func (d *Document) Next(no int) *DocumentVersion { return d.Version(no + 1) }

// At is the version that counted at a moment, nil for none.
func (d *Document) At(at Instant) *DocumentVersion {
	if d.Withdrawn != nil && d.Withdrawn.At <= at {
		return nil
	}
	for i := len(d.Versions) - 1; i >= 0; i-- {
		if d.Versions[i].At <= at {
			return &d.Versions[i]
		}
	}
	return nil
}

// IsAbout tells whether a document is about a subject.
func (d *Document) IsAbout(s Subject) bool { return slices.ContainsFunc(d.About, s.same) }

// OnA tells whether it is about any subject of a sort.
func (d *Document) OnA(kind SubjectKind) bool {
	return slices.ContainsFunc(d.About, func(s Subject) bool { return s.Kind == kind })
}

// MayRead tells whether a person may open a document: what is about somebody on the staff is
// read by that person, supervisors and auditors; everything else by everybody signed in.
func (d *Document) MayRead(p *Person) bool {
	if p == nil || !d.OnA(OnPerson) {
		return p != nil
	}
	return p.Has(RoleSupervisor, RoleAuditor) || d.IsAbout(Subject{Kind: OnPerson, ID: p.ID})
}

// DocumentsOf lists the loaded documents about a subject: what counts first, then by kind in
// the order of the table, then by title.
func (w *World) DocumentsOf(s Subject) []*Document {
	var all []*Document
	for _, d := range w.Documents {
		if d.IsAbout(s) {
			all = append(all, d)
		}
	}
	SortDocuments(all)
	return all
}

// SortDocuments orders a list: what counts first, then by kind, title and id.
func SortDocuments(all []*Document) {
	rank := func(k DocumentKind) int { return slices.Index(DocumentKinds(""), k) }
	gone := func(d *Document) int {
		if d.Withdrawn != nil {
			return 1
		}
		return 0
	}
	slices.SortFunc(all, func(a, b *Document) int {
		return cmp.Or(cmp.Compare(gone(a), gone(b)), cmp.Compare(rank(a.Kind), rank(b.Kind)),
			cmp.Compare(strings.ToLower(a.Title), strings.ToLower(b.Title)), cmp.Compare(a.ID, b.ID))
	})
}

// DocumentSoonDays is how many days before its last day a document is shown as running out.
const DocumentSoonDays = 30

// DocumentsEnding lists the loaded documents whose newest version has passed its last day or
// reaches it within so many days (both included), the oldest day first. What is withdrawn, or
// about nobody who works here and nothing in use any more, is left out.
func DocumentsEnding(w *World, today Date, days int) []*Document {
	var all []*Document
	for _, d := range w.Documents {
		until := d.Newest().Until
		if d.Withdrawn == nil && until != "" && today.DaysUntil(until) <= days &&
			slices.ContainsFunc(d.About, func(s Subject) bool { return w.inUse(s, today) }) {
			all = append(all, d)
		}
	}
	slices.SortFunc(all, func(a, b *Document) int {
		return cmp.Or(cmp.Compare(a.Newest().Until, b.Newest().Until), cmp.Compare(a.ID, b.ID))
	})
	return all
}

// inUse tells whether a subject still matters on a day; what is not loaded may.
func (w *World) inUse(s Subject, today Date) bool {
	switch s.Kind {
	case OnModel:
		return w.Models[s.ID] == nil || !w.Models[s.ID].Retired
	case OnProduct:
		return w.Products[s.ID] == nil || !w.Products[s.ID].Retired
	case OnPerson:
		p := w.People[s.ID]
		return p == nil || p.Left == "" || p.Left >= today
	}
	return true
}
