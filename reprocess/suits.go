package reprocess

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"handback/reprocess/spectrum"
)

// Suit answers "is this container good enough for this piece today?" before the wipe.
type Suit struct {
	Container *Container
	Lot       *Lot
	Product   *Product
	NeededS   int // contact time, s
	Until     Date
	Why       []string // sentences: which claim covers which need, for how long
	Covered   []Covered

	stock *Lot // what a batch was prepared from, nil for delivered lots
}

// Covered says by what one needed claim is covered, and at which time.
type Covered struct {
	Need    string
	By      string // the claim; empty: the page of the instructions that somebody signed
	Seconds int
}

// UseBy is the last usable day of an opened container: the least of the printed expiry and
// opened-on plus the days after opening, that day included. Unknown figures give no day, and
// no day blocks: a use-by after opening cannot be inferred from the expiry.
func UseBy(p *Product, l *Lot, c *Container) Date {
	if l.Expiry == "" || c.Opened == "" || p.OpenDays <= 0 {
		return ""
	}
	return min(l.Expiry, c.Opened.AddDays(p.OpenDays))
}

// Suits decides whether a container may be used on a piece of a model under a procedure, for
// a return with these flags, on a day.
func Suits(w *World, container string, piece *Piece, proc *Procedure, flags []string,
	today Date) (Suit, *Problem) {
	con := w.Containers[container]
	if con == nil {
		return Suit{}, missing("container")
	}
	return suitsOn(w, con, piece, proc, flags, today)
}

// suitsOn is Suits for a container as it was on that day.
func suitsOn(w *World, con *Container, piece *Piece, proc *Procedure, flags []string,
	today Date) (Suit, *Problem) {
	s, p := w.chain(con)
	if p != nil {
		return s, p
	}
	if p := s.usable(today); p != nil {
		return s, p
	}
	if p := s.fits(w, piece, proc); p != nil {
		return s, p
	}
	return s.covers(w.Settings.Policy, proc, flags)
}

// chain follows container → lot → product.
func (w *World) chain(c *Container) (Suit, *Problem) {
	l := w.Lots[c.Lot]
	if l == nil {
		return Suit{}, missing("lot for this container")
	}
	p := w.Products[l.Product]
	if p == nil || l.Kind != LotDisinfectant {
		return Suit{}, refuse("not_disinfectant", "Scan the bottle or tub.",
			"This container holds no disinfectant.")
	}
	return Suit{Container: c, Lot: l, Product: p, Until: UseBy(p, l, c), stock: w.Lots[l.From]}, nil
}

const takeAnother = "Take another container."

// usable checks stop, end and dates.
func (s Suit) usable(today Date) *Problem {
	switch {
	case s.Lot.Stopped != nil:
		return refuse("lot_stopped", takeAnother, "Lot %s was stopped: %s", s.Lot.Number,
			s.Lot.Stopped.Reason)
	case s.stock != nil && s.stock.Stopped != nil:
		return refuse("lot_stopped", takeAnother, "Lot %s, of which this was prepared, was stopped: %s",
			s.stock.Number, s.stock.Stopped.Reason)
	case s.Lot.From != "" && s.stock == nil:
		return missing("lot of which this was prepared")
	case s.Container.Closed != 0:
		return refuse("container_closed", takeAnother, "This container was closed: %s.",
			s.Container.Why)
	case s.Lot.Expiry == "":
		return refuse("expiry_unknown", "Enter the printed expiry of the lot.",
			"The expiry of lot %s is not recorded.", s.Lot.Number)
	case s.Container.Opened == "":
		return refuse("open_date_unknown",
			"Throw it away, or ask a supervisor to enter a proven date.",
			"Nobody recorded when this container was opened.")
	case s.Product.OpenDays <= 0:
		return refuse("open_days_unknown", "Ask a supervisor to enter it from the label.",
			"How long %s keeps after opening is not recorded.", s.Product.Name)
	case today > s.Lot.Expiry:
		return refuse("expired", takeAnother, "Lot %s expired on %s; today is %s.",
			s.Lot.Number, Day(s.Lot.Expiry), Day(today))
	case today > s.Until:
		return refuse("use_by", takeAnother,
			"Opened %s, usable for %d days: until %s; today is %s.", Day(s.Container.Opened),
			s.Product.OpenDays, Day(s.Until), Day(today))
	case s.Container.Opened > today:
		return refuse("open_date_future", "Check the date.",
			"This container is recorded as opened on %s, which is to come.", Day(s.Container.Opened))
	}
	return nil
}

// fits checks the product against model and procedure: material, kind and strength.
func (s Suit) fits(w *World, piece *Piece, proc *Procedure) *Problem {
	model := w.Models[piece.Model]
	switch {
	case s.Product.HandRub:
		return refuse("hand_rub", "Take a surface disinfectant.",
			"%s is a hand rub; it is for hands, not for devices.", s.Product.Name)
	case s.Product.Use == Concentrate:
		return refuse("concentrate", "Prepare a batch of it first.",
			"%s is a concentrate; it is diluted before it is used.", s.Product.Name)
	case model == nil:
		return missing("model")
	case !contains(s.Product.Models, model.ID):
		return refuse("not_compatible", "Take a product listed for it.",
			"%s is not listed as compatible with %s.", s.Product.Name, model.Name)
	}
	return s.strongEnough(proc)
}

// covers matches the claims against what this return needs. "As in the instructions, page n",
// signed by a supervisor, stands for the procedure's set; whatever a flag or the clinic's policy
// adds must be claimed.
func (s Suit) covers(policy *Policy, proc *Procedure, flags []string) (Suit, *Problem) {
	base := tokens(proc.Needed)
	if len(base) == 0 {
		base = spectrum.Base()
	}
	offers := s.Product.offers()
	if s.Product.AsWritten != "" && s.Product.WrittenS > 0 {
		for _, t := range base {
			offers = append(offers, spectrum.Offer{Token: t, Seconds: s.Product.WrittenS})
		}
	}
	r, err := spectrum.JudgeBy(policy.Rows(), flagsOf(flags),
		slices.Concat(base, policy.base()), offers)
	if err != nil {
		return s, &Problem{Code: Refused, Rule: "claims", Text: title(err.Error()) + ".",
			Fix: "Ask a supervisor to correct the procedure or the flags.", Err: err}
	}
	s.Why = r.Why
	switch r.Verdict {
	case spectrum.Stop:
		return s, refuse("stop_flag", "Ask infection control.", "%s", strings.Join(r.Why, " "))
	case spectrum.Pass:
		s.NeededS = max(r.Seconds, proc.FloorS)
		s.Covered = s.Product.coveredBy(r)
		return s, nil
	}
	return s, refuse("claims", takeAnother, "%s does not claim all that is needed: %s",
		s.Product.Name, strings.Join(r.Why, " "))
}

func (p *Product) offers() []spectrum.Offer {
	var out []spectrum.Offer
	for _, c := range p.Claims {
		out = append(out, spectrum.Offer{Token: spectrum.Token(c.Token), Seconds: c.Seconds})
	}
	return out
}

func tokens(texts []string) []spectrum.Token {
	var out []spectrum.Token
	for _, t := range texts {
		out = append(out, spectrum.Token(t))
	}
	return out
}

func flagsOf(texts []string) []spectrum.Flag {
	var out []spectrum.Flag
	for _, t := range texts {
		out = append(out, spectrum.Flag(t))
	}
	return out
}

// SuitWords says in one sentence what a suitable container is good for.
func (s Suit) SuitWords() string {
	return fmt.Sprintf("%s, lot %s: suits, keep it wet for %d s. Usable until %s.",
		s.Product.Name, s.Lot.Number, s.NeededS, Day(s.Until))
}

// coveredBy tells claims from what only the signed page of the instructions stands for.
func (p *Product) coveredBy(r spectrum.Result) []Covered {
	var all []Covered
	for _, need := range r.Needed {
		cover := r.Covered[need]
		c := Covered{Need: string(need), Seconds: cover.Seconds}
		if slices.ContainsFunc(p.Claims, func(x Claim) bool {
			return x.Token == string(cover.By) && x.Seconds == cover.Seconds
		}) {
			c.By = string(cover.By)
		}
		all = append(all, c)
	}
	return all
}

// CoverWords says in one sentence which claim covers which need, at which time; empty for a
// container that does not suit.
func (s Suit) CoverWords() string {
	var all []string
	for _, c := range s.Covered {
		words := fmt.Sprintf("%s (%s)", spectrum.Token(c.Need).Words(), c.Need)
		switch c.By {
		case c.Need:
			words += fmt.Sprintf(" claimed at %d s", c.Seconds)
		case "":
			words += fmt.Sprintf(" as in the instructions, %s, %d s", s.Product.AsWritten, c.Seconds)
		default:
			words += fmt.Sprintf(" covered by %s, claimed at %d s", c.By, c.Seconds)
		}
		all = append(all, words)
	}
	if len(all) == 0 {
		return ""
	}
	return "Needed: " + strings.Join(all, "; ") + "."
}

// FirstToExpire names among suitable containers the one to be used up first: the earliest
// last day, on equal days the one that was opened first, then by id. ok is false for none.
func FirstToExpire(suits []Suit) (first Suit, ok bool) {
	if len(suits) == 0 {
		return Suit{}, false
	}
	return slices.MinFunc(suits, func(a, b Suit) int {
		return cmp.Or(cmp.Compare(a.Until, b.Until),
			cmp.Compare(a.Container.Opened, b.Container.Opened),
			cmp.Compare(a.Container.ID, b.Container.ID))
	}), true
}
