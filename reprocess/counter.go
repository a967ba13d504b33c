package reprocess

import (
	"slices"
	"strings"
)

// Counter is what the clinic chose for its counter: the short list before a kit leaves, the
// wards that keep kits, and whom to tell of a loss. A nil one is the default of each.
type Counter struct {
	Must  []string `json:"must,omitempty"` // asks that may not be left open
	Off   []string `json:"off,omitempty"`  // asks that are not asked here
	Wards []Ward   `json:"wards,omitempty"`

	Privacy    string `json:"privacy,omitempty"`     // whom to tell of a lost kit with data on it
	LossHours  int    `json:"loss_hours,omitempty"`  // time for telling, h; 0: DefaultLossHours
	LossSource string `json:"loss_source,omitempty"` // where that limit is written
}

// Ward keeps kits for wearers; it is a custodian, never a wearer.
type Ward struct {
	Name string `json:"name"`
	Ring string `json:"ring,omitempty"` // whom to ring, such as "ext. 2140"
}

// The time for telling of a loss where the clinic set none: "not later than 72 hours after
// having become aware of it" (Regulation (EU) 2016/679, Article 33(1)). Local law sets it.
const (
	DefaultLossHours  = 72
	DefaultLossSource = "Regulation (EU) 2016/679, Article 33(1)"
)

// Limits of the choices.
const (
	mostWards     = 60
	mostLossHours = 24 * 60
)

// Loss gives the limit for telling of a loss in hours, and where it is written.
func (s Settings) Loss() (hours int, source string) {
	hours, source = DefaultLossHours, DefaultLossSource
	if c := s.Counter; c != nil && c.LossHours > 0 {
		hours, source = c.LossHours, c.LossSource
		if source == "" {
			source = "the clinic’s own rule"
		}
	}
	return hours, source
}

// PrivacyContact is whom to tell of a loss; empty when nobody was named.
func (s Settings) PrivacyContact() string {
	if s.Counter == nil {
		return ""
	}
	return s.Counter.Privacy
}

// WardList is the wards that keep kits, in the order the clinic wrote them.
func (s Settings) WardList() []Ward {
	if s.Counter == nil {
		return nil
	}
	return s.Counter.Wards
}

// Ward finds a ward by its name, any case.
func (s Settings) Ward(name string) (Ward, bool) {
	for _, w := range s.WardList() {
		if strings.EqualFold(w.Name, name) {
			return w, true
		}
	}
	return Ward{}, false
}

// SetCounter replaces the choices for the counter.
type SetCounter struct{ Counter }

// Act is "counter".
func (SetCounter) Act() Act { return ActCounter }

// Needs nothing beyond what is always loaded.
func (SetCounter) Needs() Needs { return Needs{} }

func (s SetCounter) decide(c *Case) *Problem {
	next := Counter{LossHours: s.LossHours}
	var p *Problem
	for _, list := range []struct {
		from []string
		to   *[]string
	}{{s.Must, &next.Must}, {s.Off, &next.Off}} {
		if *list.to, p = knownAsks(list.from); p != nil {
			return p
		}
	}
	for _, id := range next.Must {
		if contains(next.Off, id) {
			return invalid("ask", "Choose one of the two.",
				"%q cannot be demanded and not asked at the same time.", outAsk(id).Words)
		}
	}
	if next.Wards, p = checkWards(s.Wards); p != nil {
		return p
	}
	if next.Privacy, p = clean("Whom to tell of a loss", s.Privacy, 80); p != nil {
		return p
	}
	if next.LossSource, p = clean("Where the limit is written", s.LossSource, 80); p != nil {
		return p
	}
	if next.LossHours < 0 || next.LossHours > mostLossHours {
		return invalid("number", "Type whole hours, or leave it empty for 72 h.",
			"%d hours cannot be the time for telling of a loss.", next.LossHours)
	}
	v := c.W.Settings
	v.Counter = &next
	c.emit(SettingsSet{v})
	return nil
}

// knownAsks gives each ask once, in the order of the table.
func knownAsks(ids []string) ([]string, *Problem) {
	var out []string
	for _, a := range outAsks {
		if contains(ids, a.ID) {
			out = append(out, a.ID)
		}
	}
	for _, id := range ids {
		if !contains(out, id) {
			return nil, invalid("ask", "Choose from the list.", "%q is not asked at a hand-out.", id)
		}
	}
	return out, nil
}

func checkWards(wards []Ward) ([]Ward, *Problem) {
	if len(wards) > mostWards {
		return nil, invalid("wards", "Leave some out.", "%d wards are more than the %d that fit.",
			len(wards), mostWards)
	}
	var out []Ward
	for _, w := range wards {
		name, p := need("The name of a ward", w.Name, 30)
		if p != nil {
			return nil, p
		}
		ring, p := clean("Whom to ring", w.Ring, 40)
		if p != nil {
			return nil, p
		}
		if slices.ContainsFunc(out, func(o Ward) bool { return strings.EqualFold(o.Name, name) }) {
			return nil, invalid("wards", "Write each ward once.", "%s stands twice in the list.", name)
		}
		out = append(out, Ward{name, ring})
	}
	return out, nil
}
