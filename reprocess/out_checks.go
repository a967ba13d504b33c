package reprocess

import (
	"strconv"
	"strings"
)

// OutAsk is one row of the short list before a kit leaves: answered yes, or not done because
// of a reason; "not asked" is recorded as such.
type OutAsk struct {
	ID    string
	Words string   // the question; "{charge}" stands for the clinic's figure
	Done  string   // the answer yes as a sentence
	Not   []Reason // why it was not done
	Phone bool     // only of a kit with a phone

	Wearer bool // only where it goes to a wearer; a ward does it for each of its own
}

// noteReason wants a note of its own.
const noteReason = "other"

var otherOut = Reason{ID: noteReason, Words: "another reason"}

// outAsks is the table; rows are only ever added. Source: our own practice, common at
// counters that lend recorders.
var outAsks = []OutAsk{
	{ID: "configured", Wearer: true, Words: "Configured for this wearer?", Done: "configured for this wearer",
		Not: []Reason{{ID: "ward", Words: "the ward does it"},
			{ID: "none", Words: "this model needs none"},
			{ID: "down", Words: "the system was down"}, otherOut}},
	{ID: "arrived", Wearer: true, Words: "A test recording with the wearer has arrived at the reading place?",
		Done: "a test recording with the wearer arrived at the reading place",
		Not: []Reason{{ID: "ward", Words: "it is put on at the ward"},
			{ID: "network", Words: "no network here"},
			{ID: "closed", Words: "nobody at the reading place"}, otherOut}},
	{ID: "phone", Words: "Phone on and charged at least {charge} %?",
		Done: "phone on and charged enough", Phone: true,
		Not: []Reason{{ID: "charging", Words: "charges at the wearer’s first"},
			{ID: "power_bank", Words: "a power bank goes along"}, otherOut}},
	{ID: "slip", Words: "Slip given?", Done: "slip given",
		Not: []Reason{{ID: "printer", Words: "the printer did not work"},
			{ID: "told", Words: "told by word of mouth"},
			{ID: "ward", Words: "the ward gives it"}, otherOut}},
}

// OutAsks lists the whole table, for settings and documentation.
func OutAsks() []OutAsk { return outAsks }

func outAsk(id string) OutAsk {
	for _, a := range outAsks {
		if a.ID == id {
			return a
		}
	}
	return OutAsk{ID: id, Words: id, Done: id}
}

// The answers besides NotAsked.
const (
	OutYes = "yes"
	OutNo  = "no"
)

// OutCheck is one answer: yes, no with why, or not asked.
type OutCheck struct {
	Ask    string `json:"ask"`
	Answer string `json:"answer"`         // yes, no, not_asked
	Why    string `json:"why,omitempty"`  // id of a reason of the ask
	Note   string `json:"note,omitempty"` // with "another reason", at most 80 characters
}

// Words is an answer as histories and loans show it.
func (o OutCheck) Words() string {
	ask := outAsk(o.Ask)
	switch {
	case o.Answer == OutYes:
		return ask.Done
	case o.Answer == NotAsked:
		return "not asked: " + ask.Done
	case o.Note != "":
		return "not done: " + ask.Done + ", because: " + o.Note
	}
	return "not done: " + ask.Done + ", because " + ask.reason(o.Why)
}

func (a OutAsk) reason(id string) string { return wordsIn(a.Not, id) }

// Charge is the charge of the phone asked at hand-out, in per cent.
func (s Settings) Charge() int {
	if s.MinCharge == 0 {
		return 50
	}
	return s.MinCharge
}

// WantedOut lists what is asked before this kit leaves, with the clinic's figures in the
// words, and which of it may not be left open.
func WantedOut(w *World, k *Kit) (asks []OutAsk, must []string) { return wantedOut(w, k, false) }

// WantedToWard is WantedOut for a kit that a ward keeps: nobody wears it yet.
func WantedToWard(w *World, k *Kit) (asks []OutAsk, must []string) { return wantedOut(w, k, true) }

func wantedOut(w *World, k *Kit, ward bool) (asks []OutAsk, must []string) {
	var off []string
	if c := w.Settings.Counter; c != nil {
		off, must = c.Off, c.Must
	}
	charge := strconv.Itoa(w.Settings.Charge())
	for _, a := range outAsks {
		if contains(off, a.ID) || a.Wearer && ward || a.Phone && !k.HasPhone(w.Pieces) {
			continue
		}
		a.Words = strings.ReplaceAll(a.Words, "{charge}", charge)
		asks = append(asks, a)
	}
	return asks, must
}

// HasPhone tells whether a phone belongs to the kit.
func (k *Kit) HasPhone(pieces map[string]*Piece) bool {
	for _, id := range k.Pieces {
		if p := pieces[id]; p != nil && p.Kind == Phone {
			return true
		}
	}
	return false
}

// AllDone answers yes to everything that is asked of this kit.
func AllDone(w *World, k *Kit) []OutCheck {
	asks, _ := WantedOut(w, k)
	return yesTo(asks)
}

// AllDoneToWard is AllDone for a kit that a ward keeps.
func AllDoneToWard(w *World, k *Kit) []OutCheck {
	asks, _ := WantedToWard(w, k)
	return yesTo(asks)
}

func yesTo(asks []OutAsk) []OutCheck {
	var all []OutCheck
	for _, a := range asks {
		all = append(all, OutCheck{Ask: a.ID, Answer: OutYes})
	}
	return all
}

// checkedOut gives one answer for each ask of the list. Where nothing was answered and nothing
// is demanded, nothing is kept: an old phone in the outbox knows no list.
func (c *Case) checkedOut(k *Kit, given []OutCheck, ward bool) ([]OutCheck, *Problem) {
	asks, must := wantedOut(c.W, k, ward)
	var out []OutCheck
	for _, a := range asks {
		check := OutCheck{Ask: a.ID, Answer: NotAsked}
		for _, g := range given {
			if g.Ask == a.ID {
				check = g
			}
		}
		check, p := a.checked(check)
		if p != nil {
			return nil, p
		}
		if check.Answer == NotAsked && contains(must, a.ID) {
			return nil, refuse("unchecked", "Answer it: yes, or not done because of a reason.",
				"%q is not answered, and this clinic wants an answer.", a.Words)
		}
		out = append(out, check)
	}
	for i, g := range given {
		twice := false
		for _, before := range given[:i] {
			twice = twice || before.Ask == g.Ask
		}
		if twice || !answered(out, g.Ask) {
			return nil, invalid("ask", "Open the page again.", "%q is not asked here, or twice.", g.Ask)
		}
	}
	if len(given) == 0 {
		return nil, nil
	}
	return out, nil
}

func answered(list []OutCheck, ask string) bool {
	for _, o := range list {
		if o.Ask == ask {
			return true
		}
	}
	return false
}

func (a OutAsk) checked(o OutCheck) (OutCheck, *Problem) {
	switch o.Answer {
	case "":
		return o, invalid("unanswered", "Say that all is done, or answer each.",
			"%q is not answered.", a.Words)
	case OutYes, NotAsked:
		o.Why, o.Note = "", ""
		return o, nil
	case OutNo:
		note, p := clean("The reason", o.Note, 80)
		if p != nil {
			return o, p
		}
		o.Note = note
		for _, r := range a.Not {
			switch {
			case r.ID != o.Why:
			case r.ID == noteReason && note == "":
				return o, invalid("why", "Write the reason in a few words.",
					"%q was not done for another reason, and the reason is empty.", a.Words)
			default:
				if r.ID != noteReason {
					o.Note = ""
				}
				return o, nil
			}
		}
		return o, invalid("why", "Choose why it was not done.",
			"%q was not done, and no reason is chosen.", a.Words)
	}
	return o, invalid("answer", "Answer yes, or not done because of a reason.",
		"%q is no answer to %q.", o.Answer, a.Words)
}
