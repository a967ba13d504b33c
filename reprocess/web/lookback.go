package web

import (
	"cmp"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strings"
	"time"

	"handback/reprocess"
	"handback/reprocess/export"
	"handback/reprocess/lookback"
	"handback/reprocess/sqlite"
)

// lookBackKeys are what a look-back can be asked by, as typed. All that are filled have to fit.
type lookBackKeys struct {
	Lot, Product, Container, Piece, Model, Person, Procedure, Instrument, From, To string
}

func (k *lookBackKeys) fields() []struct {
	name, words string
	value       *string
} {
	return []struct {
		name, words string
		value       *string
	}{{"lot", "lot", &k.Lot}, {"product", "disinfectant", &k.Product},
		{"container", "container", &k.Container}, {"piece", "recorder, phone or kit", &k.Piece},
		{"model", "model", &k.Model}, {"person", "person", &k.Person},
		{"procedure", "procedure", &k.Procedure},
		{"instrument", "instrument", &k.Instrument}, {"from", "from", &k.From}, {"to", "to", &k.To}}
}

// lookBackPage asks what failed, or answers.
type lookBackPage struct {
	Base
	Fields  []Field
	Picks   []Pick
	Pieces  []link // of a kit that was named: one has to be chosen
	Failed  []link // corrections after which a release no longer passes
	Open    bool   // the form is unfolded
	Asked   string
	Counts  string
	Lists   []lookBackList
	Caution string
	How     string
	Answer  bool
	Kept    []Kept // of the form that freezes the answer; empty: not for this visitor
	Note    Field
	Secret  Field
}

// lookBackList is one list of the answer; None is said when it is empty.
type lookBackList struct {
	Heading, About, None string
	Rows                 []link
}

func lookBack(v *Visit) error {
	k := readKeys(v.Query)
	w, err := v.setUp()
	if err != nil {
		return err
	}
	p := lookBackForm(w, k)
	if k == (lookBackKeys{}) {
		if p.Failed, err = v.failedReleases(); err != nil {
			return err
		}
		return v.Show(p)
	}
	if err := v.answerLookBack(w, k, p); err != nil {
		p.Open = true
		return v.Refuse(err, p)
	}
	return v.Show(p)
}

// readKeys reads what was typed, from an address or a form.
func readKeys(value func(string) string) (k lookBackKeys) {
	for _, f := range k.fields() {
		*f.value = strings.Join(strings.Fields(value(f.name)), " ")
	}
	return k
}

func lookBackForm(w *reprocess.World, k lookBackKeys) *lookBackPage {
	p := &lookBackPage{Base: Titled("What did a failure reach?"), Open: true,
		Caution: cautionWords("list of exposed")}
	add := func(name, label, value, kind, hint string) {
		f := TextField(name, label, value)
		f.Kind, f.Hint = kind, hint
		p.Fields = append(p.Fields, f)
	}
	add("lot", "Lot, as printed", k.Lot, "text", "Of a disinfectant, of cells or of electrodes")
	add("container", "Container, by its number", k.Container, "text", "")
	add("piece", "Recorder or phone, by its serial", k.Piece, "text", "Or the number of a kit")
	add("instrument", "Instrument, by its number", k.Instrument, "text",
		"Hydrometer, voltmeter, reading machine: as it was entered")
	add("from", "Disinfected from", k.From, "datetime-local", "Time at the clinic, included")
	add("to", "Disinfected before", k.To, "datetime-local", "Time at the clinic")
	p.Picks = []Pick{
		pickOf("product", "Disinfectant", "Any", k.Product, productChoices(w)),
		pickOf("person", "Person", "Anybody", k.Person, peopleChoices(w)),
		pickOf("procedure", "Procedure version", "Any", k.Procedure, procedureChoices(w)),
		pickOf("model", "Model", "Any", k.Model, modelChoices(w))}
	return p
}

// cautionWords finds a line of the list of cautions by some of its words.
func cautionWords(part string) string {
	for _, c := range cautions {
		if strings.Contains(c.Words, part) {
			return c.Words
		}
	}
	return ""
}

func productChoices(w *reprocess.World) []Choice {
	var all []Choice
	for _, id := range slices.Sorted(maps.Keys(w.Products)) {
		all = append(all, Choice{Value: id, Words: w.Products[id].Name})
	}
	return byWords(all)
}

func modelChoices(w *reprocess.World) []Choice {
	var all []Choice
	for _, id := range slices.Sorted(maps.Keys(w.Models)) {
		all = append(all, Choice{Value: id, Words: w.Models[id].Name})
	}
	return byWords(all)
}

func byWords(all []Choice) []Choice {
	slices.SortStableFunc(all, func(a, b Choice) int {
		return cmp.Compare(strings.ToLower(a.Words), strings.ToLower(b.Words))
	})
	return all
}

// lookBackQuery reads the question; p gets the pieces of a kit to choose from.
func (v *Visit) lookBackQuery(k lookBackKeys, p *lookBackPage) (q lookback.Query, err error) {
	q = lookback.Query{Lot: k.Lot, Product: k.Product, Container: k.Container, Model: k.Model,
		Person: k.Person, Procedure: k.Procedure, Instrument: k.Instrument}
	if q.From, err = v.clinicTime("Disinfected from", k.From); err != nil {
		return q, err
	}
	if q.To, err = v.clinicTime("Disinfected before", k.To); err != nil {
		return q, err
	}
	q.Piece, err = v.pieceNamed(k, p)
	return q, err
}

// answerLookBack runs the look-back over every entry there is now and puts it on the page.
func (v *Visit) answerLookBack(w *reprocess.World, k lookBackKeys, p *lookBackPage) error {
	q, err := v.lookBackQuery(k, p)
	if err != nil {
		return err
	}
	q.AsOf = v.Now.UTC.Time()
	r, size, err := v.runLookBack(q)
	if err != nil {
		return err
	}
	if err := v.describe(r, p); err != nil {
		return err
	}
	p.Answer, p.Open = true, false
	p.Asked = k.words(w)
	v.offerFreeze(k, p)
	p.Counts = fmt.Sprintf("%s affected, %s exposed, %s behind them.",
		many(len(r.Cycles), "cycle"), many(len(r.Exposed), "loan"),
		many(r.Wearers, "known wearer"))
	how, err := v.howChecked()
	p.How = fmt.Sprintf("Looked back by %s, %s, over %s. ", v.Person.Name, v.zoned(v.Now.UTC),
		entriesOf(size)) + how
	return err
}

func many(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func (k lookBackKeys) words(w *reprocess.World) string {
	var parts []string
	for _, f := range k.fields() {
		value := keyValue(w, f.name, *f.value)
		if f.name == "from" || f.name == "to" {
			value = strings.Replace(value, "T", " ", 1)
		}
		if value != "" {
			parts = append(parts, f.words+" "+value)
		}
	}
	return strings.Join(parts, ", ")
}

// keyValue is the value of a key as people call it: of an id the name, of the rest itself.
func keyValue(w *reprocess.World, key, value string) string {
	switch key {
	case "product":
		if p := w.Products[value]; p != nil {
			return p.Name
		}
	case "model":
		if m := w.Models[value]; m != nil {
			return m.Name
		}
	case "person":
		return nameIn(w, value)
	case "procedure":
		return versionName(w, value)
	}
	return value
}

// runLookBack reads beside the writer; references tell which loans were one wearer's and are
// not shown.
func (v *Visit) runLookBack(q lookback.Query) (r lookback.Result, size int64, err error) {
	snap, err := sqlite.OpenSnapshot(v.Context(), v.Store().Dir())
	if err != nil {
		return r, 0, err
	}
	defer snap.Close()
	references, err := snap.References(v.Context())
	if err != nil {
		return r, 0, err
	}
	r, err = export.LookBack(q, snap.Bodies(v.Context()), references)
	if err != nil {
		return r, 0, lookBackProblem(err)
	}
	return r, snap.Size(), snap.Check()
}

// lookBackProblem: what the look-back says about its keys is a sentence for the person; a
// problem of the store stays one.
func lookBackProblem(err error) error {
	if p := reprocess.AsProblem(err); p.Rule != "fault" {
		return err
	}
	return &reprocess.Problem{Code: reprocess.Invalid, Rule: "lookback", Err: err,
		Text: capital(err.Error()) + ".", Fix: "Change what is typed and ask again."}
}

// localLayouts are the spellings of a moment in the zone of the clinic.
var localLayouts = []string{"2006-01-02T15:04", "2006-01-02 15:04", "2006-01-02T15:04:05",
	"2006-01-02 15:04:05", "2006-01-02"}

// clinicTime reads a moment at the clinic; empty is none.
func (v *Visit) clinicTime(field, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	zone := v.Now.Zone
	if zone == nil {
		zone = time.UTC
	}
	for _, layout := range localLayouts {
		t, err := time.ParseInLocation(layout, text, zone)
		if err == nil && t.Year() >= 1990 && t.Year() < 2200 {
			return t.UTC(), nil
		}
	}
	return time.Time{}, &reprocess.Problem{Code: reprocess.Invalid, Rule: "time",
		Text: fmt.Sprintf("%s: %q is not a time.", field, text),
		Fix:  "Type it like 2026-11-24 14:05."}
}

// pieceNamed finds the piece: a serial or id as it is, a kit's number where it has one piece.
func (v *Visit) pieceNamed(k lookBackKeys, p *lookBackPage) (string, error) {
	if k.Piece == "" {
		return "", nil
	}
	kits, err := v.Store().KitsNumbered(v.Context(), k.Piece)
	if err != nil || len(kits) == 0 {
		return k.Piece, err
	}
	var refs []reprocess.Ref
	for _, kit := range kits {
		for _, id := range kit.Pieces {
			refs = append(refs, reprocess.Ref{Table: reprocess.TablePiece, ID: id})
		}
	}
	if len(refs) == 1 {
		return refs[0].ID, nil
	}
	w, err := v.Store().Named(v.Context(), refs...)
	if err != nil {
		return "", err
	}
	for _, r := range refs {
		one := k
		one.Piece = r.ID
		p.Pieces = append(p.Pieces, link{To: one.address(), Words: pieceWords(w, r.ID)})
	}
	return "", &reprocess.Problem{Code: reprocess.Invalid, Rule: "piece",
		Text: fmt.Sprintf("%q is a kit of several pieces.", k.Piece),
		Fix:  "Choose one of them below: each was disinfected by itself."}
}

func (k lookBackKeys) address() string { return "/lookback?" + k.pairs() }

// pairs is the question as it stands behind the question mark of an address.
func (k lookBackKeys) pairs() string {
	values := url.Values{}
	for _, f := range k.fields() {
		if *f.value != "" {
			values.Set(f.name, *f.value)
		}
	}
	return values.Encode()
}

// offerFreeze adds the form that keeps this answer, for whoever may sign it.
func (v *Visit) offerFreeze(k lookBackKeys, p *lookBackPage) {
	if !v.entitled(reprocess.ActFreezeLookBack) {
		return
	}
	for _, f := range k.fields() {
		if *f.value != "" {
			p.Kept = append(p.Kept, Kept{f.name, *f.value})
		}
	}
	p.Note = TextField("note", "What happened", v.Field("note"))
	p.Note.Required, p.Note.Hint = true, "Up to 200 characters; no names of wearers"
	p.Secret = SignField()
}
