package web

import (
	"crypto/rand"
	"fmt"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sampling"
)

// sampleKeys are what a sample is planned by, as typed; with a seed it is drawn.
type sampleKeys struct{ From, To, Rate, Confidence, Failures, Seed string }

func (k *sampleKeys) fields() []struct {
	name  string
	value *string
} {
	return []struct {
		name  string
		value *string
	}{{"from", &k.From}, {"to", &k.To}, {"rate", &k.Rate}, {"confidence", &k.Confidence},
		{"failures", &k.Failures}, {"seed", &k.Seed}}
}

func readSample(value func(string) string) (k sampleKeys) {
	for _, f := range k.fields() {
		*f.value = strings.TrimSpace(value(f.name))
	}
	return k
}

func (k sampleKeys) kept() []Kept {
	var all []Kept
	for _, f := range k.fields() {
		all = append(all, Kept{f.name, *f.value})
	}
	return all
}

// samplePage plans a sample of released cycles, and shows what was drawn.
type samplePage struct {
	Base
	Fields []Field
	Open   bool
	Plan   string // in words, empty before there is one
	Then   string // what the outcome would show
	Kept   []Kept
	Draws  bool // the visitor may draw
	Facts  []entryFact
	Rows   []link
	How    string
	Runs   []link // samples drawn before
}

func sampleForm(k sampleKeys) *samplePage {
	p := &samplePage{Base: Titled("Which records do you read?"), Open: true}
	add := func(name, label, value, kind, hint string) {
		f := TextField(name, label, value)
		f.Kind, f.Hint, f.Required = kind, hint, true
		p.Fields = append(p.Fields, f)
	}
	add("from", "Released from", k.From, "date", "A day at the clinic, included")
	add("to", "Released to", k.To, "date",
		"Included, and over: the same seed then always draws the same sample")
	add("rate", "Bad records that would be tolerated", k.Rate, "text", "With the sign, such as 5%")
	add("confidence", "Confidence", k.Confidence, "text", "With the sign, such as 95%")
	add("failures", "Bad records allowed in the sample", k.Failures, "text", "0 for none")
	return p
}

func showSample(v *Visit) error {
	k := readSample(v.Query)
	if k == (sampleKeys{}) {
		p := sampleForm(sampleKeys{Failures: "0"})
		var err error
		if p.Runs, err = v.sampleRuns(); err != nil {
			return err
		}
		return v.Show(p)
	}
	p := sampleForm(k)
	s, err := v.planned(k)
	if err == nil && k.Seed != "" {
		err = v.drawn(p, s)
	}
	if err != nil {
		return v.Refuse(err, p)
	}
	p.Open, p.Plan, p.Then = false, s.words(), s.then()
	if k.Seed == "" {
		p.Kept, p.Draws = k.kept(), v.may(reprocess.ActSample)
	}
	return v.Show(p)
}

// sample is a plan over the cycles of a period.
type sample struct {
	keys             sampleKeys
	rate, confidence sampling.Share
	failures         int
	cycles           []*reprocess.Cycle
	plan             sampling.Plan
}

// planned reads the keys and plans; every fault is a sentence.
func (v *Visit) planned(k sampleKeys) (*sample, error) {
	s := &sample{keys: k}
	bad := func(err error) error {
		return &reprocess.Problem{Code: reprocess.Invalid, Rule: "sample", Err: err,
			Text: capital(err.Error()) + ".", Fix: "Change it and ask again."}
	}
	var err error
	if s.rate, err = sampling.ParseShare(k.Rate); err != nil {
		return nil, bad(err)
	}
	if s.confidence, err = sampling.ParseShare(k.Confidence); err != nil {
		return nil, bad(err)
	}
	s.failures, err = strconv.Atoi(k.Failures)
	if err != nil || s.failures < 0 || s.failures > sampling.MaxFailures {
		return nil, bad(fmt.Errorf("the bad records allowed are a whole number from 0 to %d, not %q",
			sampling.MaxFailures, k.Failures))
	}
	if err := v.population(s); err != nil {
		return nil, err
	}
	s.plan, err = sampling.Pool(int64(len(s.cycles)), s.rate, s.confidence, s.failures)
	if err != nil {
		return nil, bad(err)
	}
	return s, nil
}

// population lists the cycles of the period. It has to be over: else what is released later
// would change what the seed draws.
func (v *Visit) population(s *sample) error {
	from, to, err := v.window(s.keys.From, s.keys.To)
	switch {
	case err != nil:
		return err
	case from == 0 || to == 0:
		return &reprocess.Problem{Code: reprocess.Invalid, Rule: "window",
			Text: "A sample needs a period.", Fix: "Fill in both days."}
	case to > v.Now.UTC:
		return &reprocess.Problem{Code: reprocess.Refused, Rule: "not_over",
			Text: "The period is not over yet.", Fix: "Let it end yesterday or earlier."}
	}
	if s.cycles, err = v.Store().ReleasedCycles(v.Context(), from, to); err != nil {
		return err
	}
	if len(s.cycles) == 0 {
		return &reprocess.Problem{Code: reprocess.Refused, Rule: "empty",
			Text: "No cycle was released in this period.", Fix: "Choose another period."}
	}
	return nil
}

// words is the plan in a sentence.
func (s *sample) words() string {
	population := many(len(s.cycles), "cycle") + " released from " +
		reprocess.Day(reprocess.Date(s.keys.From)) + " to " +
		reprocess.Day(reprocess.Date(s.keys.To))
	if s.plan.ReviewAll {
		return "Read all of " + population + "."
	}
	return fmt.Sprintf("Read %d of %s.", s.plan.N, population)
}

func (s *sample) then() string {
	if s.plan.ReviewAll {
		return "The pool is too small, or too little is tolerated, for a part of it to show enough."
	}
	return fmt.Sprintf("If at most %d of them are bad, you can say with %s confidence that at most"+
		" %d of the %d are (below %s).", s.failures, s.confidence, s.plan.Tolerated-1,
		len(s.cycles), s.rate)
}

// drawSample draws a seed and with it the sample, as one entry.
func drawSample(v *Visit) error {
	k := readSample(v.Field)
	p := sampleForm(k)
	s, err := v.planned(k)
	if err != nil {
		return v.Refuse(err, p)
	}
	var seed sampling.Seed
	if _, err := rand.Read(seed[:]); err != nil {
		return err
	}
	e, err := v.Do(reprocess.DrawSample{From: reprocess.Date(k.From), To: reprocess.Date(k.To),
		Rate: s.rate.String(), Confidence: s.confidence.String(), Failures: s.failures,
		Seed: seed.String(), Cycles: s.ids()})
	if err != nil {
		return v.Refuse(err, p)
	}
	return v.Went("/sample/"+drawnID(e), fmt.Sprintf("Drawn. Entry %d keeps the seed.", e.Seq))
}

// ids are the cycles of the population in its order.
func (s *sample) ids() []string {
	var ids []string
	for _, c := range s.cycles {
		ids = append(ids, c.ID)
	}
	return ids
}

// drawnID is the sample of an entry: the same form sent twice draws once.
func drawnID(e *reprocess.Entry) string {
	for _, b := range e.Events {
		if x, ok := b.Event.(reprocess.SampleDrawn); ok {
			return x.ID
		}
	}
	return ""
}

// drawn puts the drawn cycles on the page, in the order drawn, each with its release entry.
func (v *Visit) drawn(p *samplePage, s *sample) error {
	seed, err := sampling.ParseSeed(s.keys.Seed)
	if err != nil {
		return &reprocess.Problem{Code: reprocess.Invalid, Rule: "seed", Err: err,
			Text: capital(err.Error()) + ".", Fix: "Copy the whole seed from the entry."}
	}
	places, err := sampling.Draw(seed, int64(len(s.cycles)), s.plan.N)
	if err != nil {
		return err
	}
	var ids []string
	var refs []reprocess.Ref
	for _, i := range places {
		ids = append(ids, s.cycles[i].ID)
		refs = append(refs, reprocess.Ref{Table: reprocess.TableCycle, ID: s.cycles[i].ID})
	}
	w, err := v.Store().Named(v.Context(), refs...)
	if err != nil {
		return err
	}
	entries, err := v.Store().ReleaseEntries(v.Context(), ids)
	if err != nil {
		return err
	}
	for n, id := range ids {
		row := v.cycleRow(w, id)
		row.Words = fmt.Sprintf("%d. %s", n+1, row.Words)
		if seq := entries[id]; seq > 0 {
			row.To = fmt.Sprintf("/trail/%d", seq)
			row.Note += fmt.Sprintf(", entry %d", seq)
		}
		p.Rows = append(p.Rows, row)
	}
	p.Facts = []entryFact{{"Tolerated", s.rate.String()}, {"Confidence", s.confidence.String()},
		{"Bad ones allowed", strconv.Itoa(s.failures)}, {"Seed", s.keys.Seed},
		{"Shown", v.zoned(v.Now.UTC) + " to " + v.Person.Name}}
	p.How, err = v.howChecked()
	return err
}

func sampleSample() Page {
	p := sampleForm(sampleKeys{From: "2026-11-01", To: "2026-11-20"})
	p.Plan, p.Then, p.Draws = "Read 59 of 1200 cycles.", "If none of them is bad …", true
	p.Kept = []Kept{{"from", "2026-11-01"}}
	p.Facts, p.How = []entryFact{{"Seed", "00ff"}}, "How this was checked: …"
	p.Rows = []link{{To: "/trail/12", Words: "1. Kit 17, recorder 1234, cycle 3",
		Note: "released 24 Nov 2026 14:05, entry 12"}, {Words: "2. Cycle Y9"}}
	p.Runs = []link{{To: "/sample/A12", Words: "1 Nov 2026 to 20 Nov 2026", Note: "2 of 59 read"}}
	return p
}
