package web

import (
	"strconv"
	"strings"

	"handback/reprocess"
)

// officePage is a page of the quieter places (supplies, procedures, labels, staff): lines to
// read, ruled lists and forms in the order they are worked, and where to go on.
type officePage struct {
	Base
	Lead         []string
	Code         string // a one-time code, set large
	Picture      string // address of a picture of a label
	PictureWords string
	Blocks       []block
	Acts         []onward
}

// block is a ruled list or a form.
type block struct {
	List *ruled
	Form *form
}

// ruled is a list of ruled lines; None is said when it is empty.
type ruled struct {
	Heading string
	Rows    []ruledLine
	None    string
	ID      string   // the heading's, for a list that a form leads to: it gets the focus
	Says    []string // what holds for every row, said once
}

// ruledLine is one line: with To the whole line leads there, with Taps it can be acted on.
type ruledLine struct {
	To, Words string
	Notes     []string
	File      bool // leads to a file to keep
	Taps      []tap
}

// tap is an act of one tap.
type tap struct {
	To, Words string
	Main      bool
	Kept      []Kept
}

// form is one form. Get asks only; everything else posts.
type form struct {
	Heading, To, Act string
	Get, File, Small bool
	Kept             []Kept
	Parts            []part
	Folded           *folded
}

// folded are parts of a form that are seldom wanted; Open when something stands in them.
type folded struct {
	Words string
	Open  bool
	Parts []part
}

// fold puts the parts from the n-th on behind a line that opens.
func (f *form) fold(n int, words string, open bool) {
	f.Folded = &folded{words, open, f.Parts[n:]}
	f.Parts = f.Parts[:n:n]
}

// part is a field, a choice, or words between them.
type part struct {
	Heading, Text string
	Field         *Field
	Choices       *Choices
}

// onward leads on.
type onward struct {
	To, Words string
	Main      bool
}

func titledOffice(title string, lead ...string) *officePage {
	return &officePage{Base: Titled(title), Lead: lead}
}

func (p *officePage) list(heading, none string, rows ...ruledLine) {
	p.Blocks = append(p.Blocks, block{List: &ruled{Heading: heading, Rows: rows, None: none}})
}

// answer adds the list that answers a form whose address ends in #answer: without a script the
// browser jumps to it, with one its heading is focused, so that it is not below the fold.
func (p *officePage) answer(heading, none string, rows ...ruledLine) {
	p.Blocks = append(p.Blocks, block{List: &ruled{Heading: heading, Rows: rows, None: none,
		ID: answerID}})
}

const answerID = "answer"

func (p *officePage) form(f *form) { p.Blocks = append(p.Blocks, block{Form: f}) }

func (p *officePage) act(to, words string) {
	p.Acts = append(p.Acts, onward{To: to, Words: words, Main: len(p.Acts) == 0})
}

func (f *form) field(x Field)     { f.Parts = append(f.Parts, part{Field: &x}) }
func (f *form) choices(x Choices) { f.Parts = append(f.Parts, part{Choices: &x}) }
func (f *form) say(heading, text string) {
	f.Parts = append(f.Parts, part{Heading: heading, Text: text})
}

// text adds an ordinary field.
func (f *form) text(name, label, value, hint string) {
	x := TextField(name, label, value)
	x.Hint = hint
	f.field(x)
}

// must adds a field that cannot be empty.
func (f *form) must(name, label, value, hint string) {
	x := TextField(name, label, value)
	x.Hint, x.Required = hint, true
	f.field(x)
}

// number adds a field for a whole number; 0 is shown as empty.
func (f *form) number(name, label string, value int, hint string) {
	x := TextField(name, label, shown(value))
	x.Hint, x.Keys = hint, "numeric"
	f.field(x)
}

// day adds a field for a day.
func (f *form) day(name, label string, value reprocess.Date, hint string) {
	x := TextField(name, label, string(value))
	x.Hint, x.Kind = hint, "date"
	f.field(x)
}

// tick adds one line that can be ticked.
func (f *form) tick(name, legend, words string, picked bool) {
	f.choices(Choices{Name: name, Legend: legend, Many: true,
		Options: []Choice{{Value: "yes", Words: words, Picked: picked}}})
}

// one adds a choice of one line.
func (f *form) one(name, legend, picked string, options ...Choice) {
	f.choices(Choices{Name: name, Legend: legend, Required: true, Options: options}.Pick(picked))
}

// many adds a choice of any number of lines.
func (f *form) many(name, legend, hint string, picked []string, options ...Choice) {
	f.choices(Choices{Name: name, Legend: legend, Hint: hint, Many: true,
		Options: options}.Pick(picked...))
}

func shown(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// typing reads a form strictly and keeps the first thing that cannot be understood.
type typing struct {
	v       *Visit
	problem *reprocess.Problem
}

func (v *Visit) typing() *typing { return &typing{v: v} }

// err is a nil error when everything was understood.
func (t *typing) err() error {
	if t.problem == nil {
		return nil
	}
	return t.problem
}

func (t *typing) text(name string) string { return t.v.Field(name) }

func (t *typing) yes(name string) bool { return t.v.Field(name) == "yes" }

// whole reads a whole number; empty is 0.
func (t *typing) whole(name, what string) int {
	text := t.v.Field(name)
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil || len(text) > 7 || strings.Trim(text, "0123456789") != "" {
		t.bad(name, "Type figures only, such as 60, or leave it empty.",
			what+": "+strconv.Quote(text)+" is no whole number.")
	}
	return n
}

// day reads a day; empty is none.
func (t *typing) day(name, what string) reprocess.Date {
	d, err := reprocess.ParseDate(t.v.Field(name))
	if err != nil {
		t.bad(name, "Type it like 2026-11-24.", what+": "+err.Error()+".")
	}
	return d
}

func (t *typing) bad(rule, fix, text string) {
	if t.problem == nil {
		t.problem = &reprocess.Problem{Code: reprocess.Invalid, Rule: rule, Text: text, Fix: fix}
	}
}

// lines splits a text of several lines, without the empty ones.
func lines(text string) []string {
	var out []string
	for _, l := range strings.Split(text, "\n") {
		if l = strings.TrimSpace(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}

// setUp is the world of the small tables.
func (v *Visit) setUp() (*reprocess.World, error) { return v.Store().SetUp(v.Context()) }

// today is the day at the clinic.
func (v *Visit) today() reprocess.Date { return v.Now.Today() }

func sampleOffice() Page {
	p := titledOffice("Which container is first?", "Use the first one.")
	p.Code, p.Picture, p.PictureWords = "7M2N-4P6R", "/label/x.svg", "the label"
	p.list("Open", "None is open.", ruledLine{To: "/container/B1", Words: "House wipe, lot E70",
		Notes: []string{"use by 8 Dec 2026"}}, ruledLine{Words: "An old one",
		Taps: []tap{{To: "/container/B1/close", Words: "Empty", Main: true,
			Kept: []Kept{{"why", "empty"}}}}})
	p.list("Closed", "None is closed.")
	f := &form{Heading: "Another", To: "/supplies", Act: "Keep it", Kept: []Kept{{"a", "b"}}}
	f.say("Lot", "As printed")
	f.must("lot", "Lot", "E70", "As printed")
	f.tick("more", "More", "Yes", true)
	f.tick("seldom", "Seldom", "Yes", false)
	f.fold(len(f.Parts)-1, "Corrections", true)
	p.form(f)
	p.answer("Answer", "None.", ruledLine{Words: "70 % v/v"})
	p.form(&form{To: "/kits", Act: "Find", Get: true, Small: true})
	p.act("/supplies", "Back")
	return p
}

// moment writes a moment in the zone of the clinic, such as "24 Nov 2026 14:05".
func (v *Visit) moment(i reprocess.Instant) string { return reprocess.Clock(i, v.Now.Zone) }

// entitled tells whether the visitor has a role for an act by the table of rights.
func (v *Visit) entitled(a reprocess.Act) bool { return acts(a).lets(v.Person) }
