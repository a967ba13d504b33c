package reprocess

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The rules of documents are the task's own words (issue "The working week", findings and
// documents) and the practice page P15; limits without a source are our own choice.

func paperFile(letter, edition string) DocumentFile {
	return DocumentFile{Edition: edition, Dated: "2026-10-01", SHA256: hashOf(letter), Bytes: 1000}
}

func aboutModel(ids ...string) []Subject {
	var all []Subject
	for _, id := range ids {
		all = append(all, Subject{Kind: OnModel, ID: id})
	}
	return all
}

// instructions adds instructions for models and gives their id.
func (c *clinic) instructions(letter, edition string, models ...string) string {
	c.t.Helper()
	e := c.do(c.actor("boss"), AddDocument{Kind: DocInstructions, Title: "Recorder A, handbook",
		About: aboutModel(models...), DocumentFile: paperFile(letter, edition)})
	return e.Events[0].Event.(DocumentAdded).ID
}

// A PDF begins with %PDF- (ISO 32000-1, 7.5.2) and has at most 16 MiB; the limit is exact.
func TestWhatIsKeptAsADocument(t *testing.T) {
	full := append([]byte("%PDF-1.7\n"), make([]byte, MostDocumentBytes-9)...)
	require.Nil(t, CheckPDF([]byte("%PDF-")))
	require.Nil(t, CheckPDF(full))
	for name, x := range map[string]struct {
		content []byte
		rule    string
		says    string
	}{
		"empty":     {nil, "document", "No file"},
		"too large": {append(bytes.Clone(full), 0), "document_size", "16.1 MiB and at most 16 MiB"},
		"text":      {[]byte("hello"), "not_pdf", "no PDF"},
		"short":     {[]byte("%PDF"), "not_pdf", "no PDF"},
		"space":     {[]byte(" %PDF-1.7"), "not_pdf", "no PDF"},
		"small":     {[]byte("%pdf-1.7"), "not_pdf", "no PDF"},
	} {
		p := CheckPDF(x.content)
		require.NotNil(t, p, name)
		require.Equal(t, x.rule, p.Rule, name)
		require.Contains(t, p.Text, x.says, name)
		require.NotEmpty(t, p.Fix, name)
	}
}

func TestWhatADocumentNeeds(t *testing.T) {
	for name, x := range map[string]struct {
		rule string
		edit func(*AddDocument)
	}{
		"kind":             {"kind", func(a *AddDocument) { a.Kind = "letter" }},
		"title":            {"empty", func(a *AddDocument) { a.Title = "  " }},
		"title long":       {"text", func(a *AddDocument) { a.Title = strings.Repeat("x", 81) }},
		"nothing":          {"about", func(a *AddDocument) { a.About = nil }},
		"no such model":    {"unknown", func(a *AddDocument) { a.About = aboutModel("M99") }},
		"no sort":          {"about", func(a *AddDocument) { a.About = []Subject{{Kind: "wearer", ID: "x"}} }},
		"twice":            {"about_twice", func(a *AddDocument) { a.About = aboutModel("M10", "M10") }},
		"of a person":      {"about", func(a *AddDocument) { a.About = []Subject{{Kind: OnPerson, ID: "ada"}} }},
		"two sorts":        {"about", func(a *AddDocument) { a.About = append(aboutModel("M10"), Subject{Kind: OnProduct, ID: "D14"}) }},
		"no version":       {"empty", func(a *AddDocument) { a.Edition = "" }},
		"version long":     {"text", func(a *AddDocument) { a.Edition = strings.Repeat("x", 41) }},
		"no date":          {"date", func(a *AddDocument) { a.Dated = "" }},
		"broken date":      {"date", func(a *AddDocument) { a.Dated = "1.10.2026" }},
		"tomorrow":         {"date", func(a *AddDocument) { a.Dated = "2026-11-25" }},
		"ends too soon":    {"date", func(a *AddDocument) { a.Until = "2026-09-30" }},
		"broken last day":  {"date", func(a *AddDocument) { a.Until = "soon" }},
		"language long":    {"text", func(a *AddDocument) { a.Lang = strings.Repeat("x", 31) }},
		"hash":             {"document", func(a *AddDocument) { a.SHA256 = hashOf("A") }},
		"no bytes":         {"document", func(a *AddDocument) { a.Bytes = 0 }},
		"one byte too far": {"document", func(a *AddDocument) { a.Bytes = MostDocumentBytes + 1 }},
	} {
		c := newClinic(t)
		a := AddDocument{Kind: DocInstructions, Title: "Handbook", About: aboutModel("M10"),
			DocumentFile: paperFile("a", "4")}
		x.edit(&a)
		_, p := c.try(c.actor("boss"), a)
		require.NotNil(t, p, name)
		require.Equal(t, x.rule, p.Rule, name+": "+p.Text)
	}
	c := newClinic(t)
	c.do(c.actor("ina"), AddDocument{Kind: DocInstructions, Title: strings.Repeat("x", 80),
		About: aboutModel("M10", "M11"), DocumentFile: DocumentFile{Edition: strings.Repeat("4", 40),
			Dated: "2026-11-24", Until: "2026-11-24", Lang: "English", SHA256: hashOf("a"),
			Bytes: MostDocumentBytes}}) // each at its limit
}

// Who may: technicians, infection control and supervisors; papers about the staff only the
// latter. Withdrawing is signed and has a reason.
func TestWhoKeepsAndWithdrawsDocuments(t *testing.T) {
	c := newClinic(t)
	boss, ina := c.actor("boss"), c.actor("ina")
	add := AddDocument{Kind: DocCertificate, Title: "Course", DocumentFile: paperFile("a", "1"),
		About: []Subject{{Kind: OnPerson, ID: "ada"}}}
	c.refused("role", c.actor("ada"), add)
	c.refused("role", ina, add)
	id := c.do(boss, add).Events[0].Event.(DocumentAdded).ID
	c.refused("role", ina, RenewDocument{Document: id, DocumentFile: paperFile("b", "2")})
	c.refused("role", ina, WithdrawDocument{Document: id, Reason: "left"})
	c.refused("role", c.actor("ada"), WithdrawDocument{Document: id, Reason: "mine"})
	unsigned := boss
	unsigned.Signed = false
	p := c.refused("signature", unsigned, WithdrawDocument{Document: id, Reason: "wrong"})
	require.Equal(t, Forbidden, p.Code)
	c.refused("empty", boss, WithdrawDocument{Document: id, Reason: " "})
	c.refused("unknown", boss, WithdrawDocument{Document: "Q1", Reason: "wrong"})
	c.do(boss, WithdrawDocument{Document: id, Reason: "wrong person"})
	d := c.w.Documents[id]
	require.Equal(t, "wrong person", d.Withdrawn.Reason)
	require.Equal(t, "Bea Boss", d.Withdrawn.Name)
	for _, cmd := range []Command{WithdrawDocument{Document: id, Reason: "again"},
		RenewDocument{Document: id, DocumentFile: paperFile("b", "2")},
		AttachDocument{Document: id, About: Subject{Kind: OnPerson, ID: "dan"}}} {
		c.refused("withdrawn", boss, cmd)
	}
	for who, may := range map[string]bool{"ada": true, "boss": true, "dan": false, "ina": false} {
		require.Equal(t, may, d.MayRead(c.w.People[who]), who)
	}
	require.True(t, d.MayRead(&Person{ID: "x", Roles: []Role{RoleAuditor}}))
	require.False(t, d.MayRead(nil))
	other := c.w.Documents[c.instructions("c", "4", "M10")]
	require.True(t, other.MayRead(c.w.People["dan"]))
	require.False(t, other.MayRead(nil))
}

// A newer version supersedes the older one, which stays with its number, edition and bytes.
func TestANewerVersionSupersedes(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	id := c.instructions("a", "4", "M10")
	renew := func(letter, edition string, dated Date) RenewDocument {
		f := paperFile(letter, edition)
		f.Dated = dated
		return RenewDocument{Document: id, DocumentFile: f}
	}
	c.refused("unknown", boss, RenewDocument{Document: "Q0", DocumentFile: paperFile("b", "5")})
	c.refused("same_file", boss, renew("a", "5", "2026-10-01"))
	c.refused("same_edition", boss, renew("b", "4", "2026-10-01"))
	c.refused("older_paper", boss, renew("b", "5", "2026-09-30"))
	c.refused("empty", boss, renew("b", "", "2026-10-01"))
	first := c.now.UTC
	c.wait(time.Hour)
	c.do(boss, renew("b", "5", "2026-10-01")) // of the same day is newer enough
	d := c.w.Documents[id]
	require.Equal(t, 2, d.Newest().No)
	require.Equal(t, hashOf("a"), d.Version(1).SHA256)
	require.Equal(t, "5", d.Next(1).Edition)
	require.Nil(t, d.Next(2))
	require.Nil(t, d.Version(0))
	require.Nil(t, d.Version(3))
	require.Equal(t, c.now.UTC, d.Next(1).At)
	require.Equal(t, 1, d.At(first).No)
	require.Equal(t, 1, d.At(c.now.UTC-1).No)
	require.Equal(t, 2, d.At(c.now.UTC).No)
	require.Nil(t, d.At(first-1))
	c.refused("on_file", boss, renew("a", "6", "2026-10-01")) // its own old bytes
	c.do(boss, WithdrawDocument{Document: id, Reason: "wrong"})
	require.Nil(t, d.At(c.now.UTC))
	require.NotNil(t, c.w.Documents[id].At(c.now.UTC-1))
}

// The same bytes are kept once; what was withdrawn may come again.
func TestTheSameBytesAreOneDocument(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	id := c.instructions("a", "4", "M10")
	again := AddDocument{Kind: DocInstructions, Title: "Phone", About: aboutModel("M11"),
		DocumentFile: paperFile("a", "7")}
	p := c.refused("on_file", boss, again)
	require.Equal(t, Conflict, p.Code)
	require.Contains(t, p.Text, "Recorder A, handbook, version 4")
	c.refused("about_twice", boss, AttachDocument{Document: id, About: Subject{Kind: OnModel, ID: "M10"}})
	c.refused("about", boss, AttachDocument{Document: id, About: Subject{Kind: OnProduct, ID: "D14"}})
	c.do(boss, AttachDocument{Document: id, About: Subject{Kind: OnModel, ID: "M11"}})
	require.Len(t, c.w.DocumentsOf(Subject{Kind: OnModel, ID: "M11"}), 1)
	c.do(boss, WithdrawDocument{Document: id, Reason: "wrong"})
	c.do(boss, again)
}

func TestADocumentIsAboutThirtyThingsAtMost(t *testing.T) {
	c := newClinic(t)
	var ids []string
	for i := range 31 {
		ids = append(ids, "MX"+itoa(int64(i)))
		c.w.Models[ids[i]] = &Model{ID: ids[i], Name: ids[i], Kind: Recorder}
	}
	add := func(ids []string) AddDocument {
		return AddDocument{Kind: DocInstructions, Title: "All", About: aboutModel(ids...),
			DocumentFile: paperFile("a", "1")}
	}
	c.refused("about", c.actor("boss"), add(ids))
	c.do(c.actor("boss"), add(ids[:30]))
}

// The tester's paper goes to the newest result of a check, and says which one afterwards.
func TestAPaperOfATechnicalCheck(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	c.do(boss, SetChecks{Model: "M10", Checks: []CheckRule{{Words: "safety", Months: 12}}})
	rule := c.w.Models["M10"].Checks[0].ID
	check := func(on Date) Subject {
		e := c.do(boss, RecordCheck{Kit: "K18", Piece: "P18-1", Check: rule, On: on, Result: "passed",
			Tester: "Workshop"})
		return Subject{Kind: OnCheck, ID: "P18-1", Check: rule, Entry: e.Seq}
	}
	old := check("2026-10-01")
	add := AddDocument{Kind: DocTest, Title: "Report 12", DocumentFile: paperFile("a", "1"),
		About: []Subject{old}}
	add.About[0].Words = "what the caller says does not count"
	id := c.do(boss, add).Events[0].Event.(DocumentAdded).ID
	require.Equal(t, "safety, recorder R-0017, 1 Oct 2026", c.w.Documents[id].About[0].Words)
	newest := check("2026-11-01")
	require.Len(t, c.w.DocumentsOf(old), 1, "it stays with the result it is about")
	require.Empty(t, c.w.DocumentsOf(newest))
	add.SHA256 = hashOf("b")
	c.refused("check_gone", boss, add)
	add.About = []Subject{{Kind: OnCheck, ID: "P99", Check: rule, Entry: newest.Entry}}
	c.refused("unknown", boss, add)
	add.About = []Subject{newest}
	add.Kind = DocSheet
	c.refused("about", boss, add)
}

// Keys of subjects read back as themselves and nothing else does.
func TestSubjectKeys(t *testing.T) {
	for _, s := range []Subject{{Kind: OnModel, ID: "M1"}, {Kind: OnProduct, ID: "D1"},
		{Kind: OnPerson, ID: "S1-2"}, {Kind: OnCheck, ID: "P1-1", Check: "K9-1", Entry: 12}} {
		got, ok := ParseSubject(s.Key())
		require.True(t, ok, s.Key())
		require.Equal(t, s, got)
	}
	for _, text := range []string{"", "model", "model:", "model:M1:2", "wearer:W1", "check:P1:K1",
		"check:P1:K1:0", "check:P1:K1:-3", "check:P1:K1:012", "check::K1:3", "check:P1::3", "Model:M1"} {
		_, ok := ParseSubject(text)
		require.False(t, ok, text)
	}
}

// The data sheet of a product is the hash of the newest one that is not withdrawn; describing
// the product does not change it (P15: data sheet attached, what is missing is a remark).
func TestTheDataSheetOfAProduct(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	sheet := func(letter string) string {
		return c.do(boss, AddDocument{Kind: DocSheet, Title: "Sheet " + letter,
			About:        []Subject{{Kind: OnProduct, ID: "D14"}},
			DocumentFile: paperFile(letter, letter)}).Events[0].Event.(DocumentAdded).ID
	}
	now := func() string { return c.w.Products["D14"].Sheet }
	require.Empty(t, now())
	one := sheet("a")
	require.Equal(t, hashOf("a"), now())
	product := *c.w.Products["D14"]
	product.Sheet = hashOf("f")
	c.do(boss, SetProduct{product})
	require.Equal(t, hashOf("a"), now())
	c.do(boss, RenewDocument{Document: one, DocumentFile: paperFile("b", "2")})
	require.Equal(t, hashOf("b"), now())
	two := sheet("c")
	require.Equal(t, hashOf("c"), now())
	c.do(boss, WithdrawDocument{Document: two, Reason: "of another product"})
	require.Equal(t, hashOf("b"), now())
	c.do(boss, WithdrawDocument{Document: one, Reason: "too"})
	require.Empty(t, now())
	product = testProduct()
	product.Name, product.Sheet = "Other", hashOf("f")
	c.do(boss, SetProduct{product})
	require.Empty(t, c.w.Products["D"+itoa(c.seq)].Sheet)
	// What an entry of an earlier day says folds as it did.
	Apply(c.w, &Entry{Seq: 99, Result: ResultDone, Events: []Box{{ProductSet{Product{ID: "D9",
		Sheet: hashOf("e")}}}}})
	require.Equal(t, hashOf("e"), c.w.Products["D9"].Sheet)
}

func TestDocumentsThatRunOut(t *testing.T) {
	c := newClinic(t)
	today := c.now.Today()
	add := func(until Date, s Subject) string {
		f := paperFile(string("abcdef"[len(c.w.Documents)]), "1")
		f.Until = until
		return c.do(c.actor("boss"), AddDocument{Kind: DocCertificate, Title: "Paper", About: []Subject{s},
			DocumentFile: f}).Events[0].Event.(DocumentAdded).ID
	}
	onAda := Subject{Kind: OnPerson, ID: "ada"}
	over := add(today.AddDays(-1), onAda)
	last := add(today.AddDays(30), Subject{Kind: OnModel, ID: "M10"})
	add(today.AddDays(31), onAda)
	add("", onAda)
	left := add(today, Subject{Kind: OnPerson, ID: "dan"})
	ids := func() []string {
		var all []string
		for _, d := range DocumentsEnding(c.w, today, DocumentSoonDays) {
			all = append(all, d.ID)
		}
		return all
	}
	require.Equal(t, []string{over, left, last}, ids())
	dan := *c.w.People["dan"]
	dan.Left = today.AddDays(-1)
	c.w.People["dan"] = &dan
	require.Equal(t, []string{over, last}, ids())
	c.w.Models["M10"].Retired = true
	require.Equal(t, []string{over}, ids())
	c.do(c.actor("boss"), WithdrawDocument{Document: over, Reason: "renewed"})
	require.Empty(t, ids())
}

func TestTheOrderOfDocuments(t *testing.T) {
	c := newClinic(t)
	gone := c.instructions("a", "1", "M10")
	c.do(c.actor("boss"), WithdrawDocument{Document: gone, Reason: "wrong"})
	c.do(c.actor("boss"), AddDocument{Kind: DocSheet, Title: "A", About: aboutModel("M10"),
		DocumentFile: paperFile("b", "1")})
	c.instructions("c", "1", "M10")
	var titles []string
	for _, d := range c.w.DocumentsOf(aboutModel("M10")[0]) {
		titles = append(titles, d.Title)
	}
	require.Equal(t, []string{"Recorder A, handbook", "A", "Recorder A, handbook"}, titles)
}
