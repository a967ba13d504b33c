package reprocess

import (
	"cmp"
	"slices"
)

// The acts of what is counted rather than written down one by one: the server's, by the console.
const (
	ActTurnedAway Act = "turned_away"
	ActPassRead   Act = "pass_read"
	ActPassUse    Act = "pass_use"
)

// Counted is how often one kind of thing happened.
type Counted struct {
	Of string `json:"of"`
	N  int64  `json:"n"`
}

// hourMS is the span that one count is about.
const hourMS = 60 * 60 * 1000

// HourOf is the full hour (UTC) in which a moment lies.
func HourOf(at Instant) Instant { return at - at%hourMS }

// turnedAwayKinds are the refusals without a session, with their words; names are only ever
// added. Who it was and from where is in the log of the server, never here: a count of tries says
// that somebody guesses, and a wrong name may hold a secret typed into the wrong field.
var turnedAwayKinds = []Reason{
	{ID: "secret", Words: "wrong name or secret"},
	{ID: "wait", Words: "told to wait after wrong secrets"},
	{ID: "closed", Words: "name closed after 100 wrong secrets"},
	{ID: "session", Words: "unknown or ended session"},
	{ID: "phone", Words: "phone not enrolled"},
	{ID: "code", Words: "one-time code not valid"},
	{ID: "form", Words: "form from elsewhere or too old"},
	{ID: "often", Words: "asked too often in a minute"},
}

// TurnedAwayWords is a kind of refusal in words; false: there is no such kind.
func TurnedAwayWords(kind string) (string, bool) {
	_, ok := reasonIn(turnedAwayKinds, kind)
	return wordsIn(turnedAwayKinds, kind), ok
}

// CountTurnedAway writes down how often who was not signed in was refused in one hour.
type CountTurnedAway struct {
	From   Instant   `json:"from"` // the full hour
	Counts []Counted `json:"counts"`
}

// CountPassRead writes down what somebody read with a pass in one hour.
type CountPassRead struct {
	Person string    `json:"person"`
	From   Instant   `json:"from"` // the full hour
	Pages  []Counted `json:"pages"`
}

// UsePass is a sign-in with a pass.
type UsePass struct{}

type (
	// TurnedAway is one hour's count of refusals without a session.
	TurnedAway struct {
		From   Instant   `json:"from"`
		Counts []Counted `json:"counts"`
	}
	// PassRead is one hour's count of pages read with a pass.
	PassRead struct {
		Person string    `json:"person"`
		From   Instant   `json:"from"`
		Pages  []Counted `json:"pages"`
	}
	// PassUsed is a sign-in with a pass.
	PassUsed struct {
		Person string `json:"person"`
	}
)

// EventName is "turned_away".
func (TurnedAway) EventName() string { return "turned_away" }

// EventName is "pass_read".
func (PassRead) EventName() string { return "pass_read" }

// EventName is "pass_used".
func (PassUsed) EventName() string { return "pass_used" }

// Act is "turned_away".
func (CountTurnedAway) Act() Act { return ActTurnedAway }

// Act is "pass_read".
func (CountPassRead) Act() Act { return ActPassRead }

// Act is "pass_use".
func (UsePass) Act() Act { return ActPassUse }

// Needs nothing.
func (CountTurnedAway) Needs() Needs { return Needs{} }

// Needs nothing beyond the staff.
func (CountPassRead) Needs() Needs { return Needs{} }

// Needs nothing beyond the staff.
func (UsePass) Needs() Needs { return Needs{} }

func (x CountTurnedAway) decide(c *Case) *Problem {
	counts, p := c.counted(x.From, x.Counts)
	if p != nil {
		return p
	}
	for _, n := range counts {
		if _, ok := TurnedAwayWords(n.Of); !ok {
			return invalid("kind", "Count by a kind of the list.", "%q is no kind of refusal.", n.Of)
		}
	}
	c.emit(TurnedAway{From: x.From, Counts: counts})
	return nil
}

func (x CountPassRead) decide(c *Case) *Problem {
	pages, p := c.counted(x.From, x.Pages)
	if p != nil {
		return p
	}
	if who := c.W.People[x.Person]; who == nil || !who.Pass {
		return missing("pass")
	}
	for i, n := range pages {
		if pages[i].Of, p = need("The page", n.Of, 60); p != nil {
			return p
		}
	}
	c.emit(PassRead{Person: x.Person, From: x.From, Pages: pages})
	return nil
}

// counted checks one hour's counts and orders them: only the server counts, each kind stands
// once, and what is written down has happened.
func (c *Case) counted(from Instant, counts []Counted) ([]Counted, *Problem) {
	if !c.Actor.isConsole() {
		return nil, &Problem{Code: Forbidden, Rule: "server_counts",
			Text: "The server counts by itself.", Fix: "Nothing is to be done."}
	}
	if from <= 0 || from != HourOf(from) || from > c.Now.UTC {
		return nil, invalid("hour", "Count by full hours that have begun.", "%s is no such hour.", from)
	}
	counts = slices.SortedFunc(slices.Values(counts), func(a, b Counted) int {
		return cmp.Compare(a.Of, b.Of)
	})
	for i, n := range counts {
		if n.N < 1 || (i > 0 && counts[i-1].Of == n.Of) {
			return nil, invalid("count", "Count each kind once.", "%d of %q is no count.", n.N, n.Of)
		}
	}
	if len(counts) == 0 {
		return nil, invalid("count", "Nothing is to be done.", "There is nothing to count.")
	}
	return counts, nil
}

func (UsePass) decide(c *Case) *Problem {
	if !c.Actor.Person.Pass {
		return refuse("no_pass", "Nothing is to be done.", "%s has no pass.", c.Actor.Person.Name)
	}
	c.emit(PassUsed{Person: c.Actor.Person.ID})
	return nil
}
