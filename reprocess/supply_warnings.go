package reprocess

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// SupplyWarning is one thing about supplies that somebody has to do something about.
type SupplyWarning struct {
	Rule  string // stable text
	Grave bool   // work stops or is about to be done wrong; otherwise it comes soon
	Words string // one sentence
	Fix   string // what to do
	Ref   Ref    // the container, lot, product or model it is about
}

// How long before its last day something is named; common practice of stock rooms.
const (
	ContainerSoonDays = 2  // an opened container
	LotSoonDays       = 30 // what stands unopened
)

// SupplyWarnings lists what runs out, what is past its day and what stands below the number to
// be kept, the grave ones first. The world has to hold every lot that is not used up, every
// open container, and all containers of lots with a count (sqlite.Store.Stock).
func SupplyWarnings(w *World, now Now) []SupplyWarning {
	s := stockTaking{w: w, today: now.Today()}
	for _, c := range w.Containers {
		if c.Closed == 0 {
			s.container(c)
		}
	}
	for _, l := range w.Lots {
		if l.Ended == 0 && l.Stopped == nil {
			s.lot(l)
		}
	}
	for _, p := range w.Products {
		s.least(p)
	}
	for ref := range w.InForce {
		s.model(w.Models[ref])
	}
	slices.SortFunc(s.all, func(a, b SupplyWarning) int {
		if a.Grave != b.Grave {
			return map[bool]int{true: -1, false: 1}[a.Grave]
		}
		return cmp.Or(cmp.Compare(a.Words, b.Words), cmp.Compare(a.Ref.ID, b.Ref.ID))
	})
	return s.all
}

type stockTaking struct {
	w     *World
	today Date
	all   []SupplyWarning
}

func (s *stockTaking) say(rule string, grave bool, ref Ref, fix, format string, args ...any) {
	s.all = append(s.all, SupplyWarning{Rule: rule, Grave: grave, Ref: ref, Fix: fix,
		Words: fmt.Sprintf(format, args...)})
}

// container looks at one open container.
func (s *stockTaking) container(c *Container) {
	ref, name := Ref{TableContainer, c.ID}, s.w.ContainerWords(c)
	suit, p := s.w.chain(c)
	if p != nil {
		s.say(p.Rule, true, ref, p.Fix, "%s: %s", name, p.Text)
		return
	}
	if p := suit.usable(s.today); p != nil {
		s.say(p.Rule, true, ref, "Take it from the bench and throw it away, or ask a supervisor.",
			"%s is open and cannot be used: %s.", name, strings.TrimSuffix(p.Text, "."))
		return
	}
	if c.Batch != nil && len(c.Readings) == 0 {
		s.say("batch_unread", true, ref, "Read its strength.", "%s: nobody has read its strength.",
			name)
	}
	if suit.Until <= s.today.AddDays(ContainerSoonDays) {
		s.say("use_by_soon", false, ref, "Use it first.", "%s may be used until %s.", name,
			Day(suit.Until))
	}
}

// lot looks at what stands unopened, or is taken from box by box.
func (s *stockTaking) lot(l *Lot) {
	ref := Ref{TableLot, l.ID}
	switch {
	case l.Expiry == "" || l.counted() && s.left(l) == 0:
		return // nothing printed, or nothing unopened
	case l.Expiry < s.today:
		s.say("expired", false, ref, "Take it from the shelf and call it used up.",
			"%s expired on %s and is not called used up.", s.w.LotWords(l), Day(l.Expiry))
	case l.Expiry <= s.today.AddDays(LotSoonDays):
		fix := "Use it first, and order."
		if l.From != "" {
			fix = "Use it first, and prepare another."
		}
		s.say("expires_soon", false, ref, fix, "%s expires on %s.", s.w.LotWords(l), Day(l.Expiry))
	}
}

// counted tells whether a count of unopened containers can be kept of a lot.
func (l *Lot) counted() bool { return l.Kind == LotDisinfectant && l.Count > 0 }

// left is how many containers of a counted lot are unopened.
func (s *stockTaking) left(l *Lot) int {
	n := l.Count
	for _, c := range s.w.Containers {
		if c.Lot == l.ID {
			n--
		}
	}
	return max(n, 0)
}

// least compares what is unopened of a product with the number to be kept.
func (s *stockTaking) least(p *Product) {
	if p.Least == 0 || p.Retired {
		return
	}
	ref, n := Ref{TableProduct, p.ID}, 0
	for _, l := range s.w.Lots {
		if l.Product != p.ID || Openable(l, s.today) != nil {
			continue
		}
		if l.Count == 0 {
			s.say("not_counted", false, Ref{TableLot, l.ID}, "Count it and type it at the lot.",
				"%s: nobody typed how many containers came, so the stock cannot be compared with "+
					"the %d to be kept.", s.w.LotWords(l), p.Least)
			return
		}
		n += s.left(l)
	}
	if n < p.Least {
		s.say("least", n == 0, ref, "Order it.", "%s: %d unopened, %d are to be kept.", p.Name, n,
			p.Least)
	}
}

// model asks whether today's work can be done at all on a model in use.
func (s *stockTaking) model(m *Model) {
	if m == nil || m.Retired {
		return
	}
	proc := s.w.Procedures[s.w.InForce[m.ID]]
	if proc == nil {
		return
	}
	ref, piece := Ref{TableModel, m.ID}, &Piece{Model: m.ID, Kind: m.Kind}
	if proc.Row(StepDisinfection) != nil && !s.suits(piece, proc) {
		s.say("no_container", true, ref, "Open one, or take the reasons from the open ones' pages.",
			"No open container may be used on %s today.", m.Name)
	}
	if row := proc.Row(StepBattery); row != nil && contains(row.Asks, "cell") && !s.cells(piece) {
		s.say("no_cells", true, ref, "Record a fresh box, or order.",
			"No box of cells lasts for a loan of %s that begins today.", m.Name)
	}
}

func (s *stockTaking) suits(piece *Piece, proc *Procedure) bool {
	for id := range s.w.Containers {
		if _, p := Suits(s.w, id, piece, proc, nil, s.today); p == nil {
			return true
		}
	}
	return false
}

func (s *stockTaking) cells(piece *Piece) bool {
	for id := range s.w.Lots {
		if CellsFit(s.w, piece, id, s.today) == nil {
			return true
		}
	}
	return false
}

// LotWords names a lot: product or designation, and the printed number.
func (w *World) LotWords(l *Lot) string {
	name := l.Name
	if p := w.Products[l.Product]; p != nil {
		name = p.Name
	}
	if name == "" {
		name = title(l.Kind)
	}
	if l.Number == "" {
		return name + ", no lot number"
	}
	return name + ", lot " + l.Number
}

// ContainerWords names a container: product, lot and the number of its sticker.
func (w *World) ContainerWords(c *Container) string {
	words := "Container " + c.ID
	if l := w.Lots[c.Lot]; l != nil {
		words = w.LotWords(l)
	}
	if c.Number != "" {
		words += ", sticker " + c.Number
	}
	return words
}
