package reprocess

// Act is the stable text of what somebody does; the standard term where there is one.
type Act string

// Command is what somebody wants to do, as parsed at the edge. decide answers the events it
// leads to, or the problem; it changes nothing.
type Command interface {
	Act() Act
	Needs() Needs
	decide(c *Case) *Problem
}

// Needs lists which facts a command wants, so that the store can load them before the rule
// is asked. Settings, people, models, procedures, products and phones are always loaded.
// A kit brings its pieces, their latest cycles, its loan and the lots behind its release;
// a piece, loan, label or container brings what it belongs to.
type Needs struct {
	Kit        string   // of the entry
	Kits       []string // others
	Pieces     []string
	Labels     []string
	Containers []string
	Lots       []string
	Loans      []string
	Cycles     []string
	Numbers    []string // kits with these pool numbers, for uniqueness
	Serials    []string // pieces with these serials, for uniqueness
	LotNumbers []string // lots with these printed numbers, any case
	Hashes     []string // documents with files of these hashes
	Rows       []Ref    // rows of other tables, by id
}

// Case is one decision: the facts, who asks, when, and the number the entry will get.
type Case struct {
	W      *World
	Actor  Actor
	Now    Now
	Seq    int64
	events []Event
	past   bool // what is judged has happened: whether it was allowed, the gate asks
}

// emit adds an event to the answer.
func (c *Case) emit(e Event) { c.events = append(c.events, e) }

// Decide is the one way to events: it checks that the person may do this at all and asks the
// command's rule. The world is not changed. A problem is to be kept as a refused entry.
func Decide(w *World, cmd Command, actor Actor, now Now, seq int64) ([]Event, *Problem) {
	c := &Case{W: w, Actor: actor, Now: now, Seq: seq}
	if p := may(c, cmd.Act()); p != nil {
		return nil, p
	}
	if p := cmd.decide(c); p != nil {
		return nil, p
	}
	return c.events, nil
}
