package reprocess

import (
	"regexp"
	"slices"
)

// NewPiece describes one piece at registration.
type NewPiece struct {
	Model  string `json:"model"`
	Serial string `json:"serial"`
	UDI    string `json:"udi,omitempty"`
	Code   string `json:"code,omitempty"` // of its label
	Cycles int    `json:"cycles,omitempty"`
	Least  bool   `json:"least,omitempty"` // earlier cycles unknown
}

// Opening is where a kit stands when it is taken over from paper.
type Opening struct {
	Out    Date   `json:"out,omitempty"` // out since
	Due    Date   `json:"due,omitempty"`
	Days   int    `json:"days,omitempty"`
	Wearer string `json:"wearer,omitempty"` // random token
	Ready  Date   `json:"ready,omitempty"`  // released on paper until this day
}

// RegisterKit adds a kit: a recorder, a paired phone if there is one, number and place.
type RegisterKit struct {
	Number   string    `json:"number"`
	Place    string    `json:"place,omitempty"`
	Recorder NewPiece  `json:"recorder"`
	Phone    *NewPiece `json:"phone,omitempty"`
	Opening  *Opening  `json:"opening,omitempty"`
}

// Act is "register".
func (RegisterKit) Act() Act { return ActRegister }

// Needs kits and pieces of the same number and serials, and the labels.
func (r RegisterKit) Needs() Needs {
	n := Needs{Numbers: []string{r.Number}}
	for _, p := range r.pieces() {
		n.Serials = append(n.Serials, p.Serial)
		if p.Code != "" {
			n.Labels = append(n.Labels, p.Code)
		}
	}
	return n
}

func (r RegisterKit) pieces() []NewPiece {
	list := []NewPiece{r.Recorder}
	if r.Phone != nil {
		list = append(list, *r.Phone)
	}
	return list
}

// poolNumber is what still fits on a label beside the word "recorder".
var poolNumber = regexp.MustCompile(`^[A-Z0-9][A-Z0-9-]{0,4}$`)

// serialForm is the 82 characters that GS1 allows in a serial, 40 at most here.
var serialForm = regexp.MustCompile(`^[A-Za-z0-9!"%&'()*+,\-./:;<=>?_]{1,40}$`)

func (r RegisterKit) decide(c *Case) *Problem {
	if !poolNumber.MatchString(r.Number) {
		return invalid("number", "Up to five capitals, digits and hyphens, such as 17 or A-3.",
			"%q cannot be a pool number.", r.Number)
	}
	for _, k := range c.W.Kits {
		if k.Number == r.Number && !k.Retired {
			return conflict("number_taken", "Choose another number.",
				"There is a kit %s already.", r.Number)
		}
	}
	place, p := clean("Place", r.Place, 40)
	if p != nil {
		return p
	}
	k := Kit{ID: c.id("K", 0), Number: r.Number, Site: c.W.Settings.Site, Place: place,
		PlaceAt: c.Now.UTC, PlaceBy: c.Actor.Person.ID,
		Recording: Recording{Status: RecordingNone, At: c.Now.UTC, By: c.Actor.Person.ID}}
	return r.compose(c, k)
}

func (r RegisterKit) compose(c *Case, k Kit) *Problem {
	e := KitRegistered{Kit: k}
	var labels []Event
	for i, n := range r.pieces() {
		piece, p := n.piece(c, k, []Kind{Recorder, Phone}[i], i)
		if p != nil {
			return p
		}
		label, p := n.label(c, piece.ID)
		if p != nil {
			return p
		}
		if label != nil {
			labels = append(labels, label)
		}
		e.Pieces = append(e.Pieces, piece)
		e.Kit.Pieces = append(e.Kit.Pieces, piece.ID)
	}
	if p := r.opening(c, &e); p != nil {
		return p
	}
	c.emit(e)
	for _, l := range labels {
		c.emit(l)
	}
	return nil
}

func (n NewPiece) piece(c *Case, k Kit, kind Kind, i int) (Piece, *Problem) {
	m := c.W.Models[n.Model]
	switch {
	case m == nil || m.Retired:
		return Piece{}, missing("model of " + string(kind))
	case m.Kind != kind:
		return Piece{}, invalid("model", "Choose a model of "+string(kind)+".",
			"%s is no %s.", m.Name, kind)
	case !serialForm.MatchString(n.Serial):
		return Piece{}, invalid("serial", "Type it as on the plate, without blanks.",
			"%q cannot be a serial.", n.Serial)
	case n.Cycles < 0 || n.Cycles > 100000:
		return Piece{}, invalid("cycles", "Type the number of earlier cycles.",
			"%d earlier cycles cannot be right.", n.Cycles)
	}
	for _, p := range c.W.Pieces {
		if p.Serial != n.Serial || p.Model != n.Model {
			continue
		}
		if p.State != Retired {
			return Piece{}, conflict("serial_taken", "Check the plate.",
				"A %s with serial %s is registered already.", kind, n.Serial)
		}
		if n.Cycles < p.Cycles {
			return Piece{}, invalid("cycles", "Type at least that number of earlier cycles.",
				"This %s had %d cycles when it was retired here.", kind, p.Cycles)
		}
	}
	udi, p := checkUDI(n.UDI)
	return Piece{ID: c.id("P", i+1), Kind: kind, Model: n.Model, Serial: n.Serial, UDI: udi,
		Kit: k.ID, Site: k.Site, State: Registered, Cycles: n.Cycles, AtLeast: n.Least}, p
}

// label issues the piece's label or binds a blank.
func (n NewPiece) label(c *Case, piece string) (Event, *Problem) {
	if n.Code == "" {
		return nil, nil
	}
	l := c.W.Labels[n.Code]
	if l == nil {
		return LabelIssued{Label{Code: n.Code, Kind: CodePiece, Target: piece}}, nil
	}
	if p := bindable(l); p != nil {
		return nil, p
	}
	return LabelBound{Code: l.Code, Kind: CodePiece, Target: piece}, nil
}

func bindable(l *Label) *Problem {
	switch {
	case l.Withdrawn != 0:
		return refuse("label_withdrawn", "Take another sticker.", "This label was withdrawn.")
	case l.Kind != CodeBlank:
		return conflict("label_bound", "Take a blank sticker.",
			"This label belongs to something already.")
	}
	return nil
}

// opening sets the state that paper says; it is marked as taken over and stays separable.
func (r RegisterKit) opening(c *Case, e *KitRegistered) *Problem {
	o := r.Opening
	if o == nil {
		return nil
	}
	for _, d := range []Date{o.Out, o.Due, o.Ready} {
		if _, err := ParseDate(string(d)); err != nil {
			return invalid("date", "Type it like 2026-11-24.", "%s.", err)
		}
	}
	switch {
	case o.Out != "" && o.Ready != "":
		return invalid("opening", "Give one of the two.",
			"A kit is either out or ready, not both.")
	case o.Out != "":
		return r.openingOut(c, e)
	case o.Ready != "":
		return r.openingReady(c, e)
	}
	for i := range e.Pieces {
		e.Pieces[i].TakenOver = true
	}
	return nil
}

func (r RegisterKit) openingOut(c *Case, e *KitRegistered) *Problem {
	o := r.Opening
	if o.Out > c.Now.Today() {
		return invalid("date", "Give the day it went out.", "%s is still to come.", Day(o.Out))
	}
	for i := range e.Pieces {
		e.Pieces[i].State, e.Pieces[i].TakenOver = Issued, true
	}
	e.Kit.Recording.Status = RecordingUnknown
	e.Kit.Place = "with a wearer"
	e.Loan = &Loan{ID: c.id("L", 0), Kit: e.Kit.ID, Pieces: e.Kit.Pieces, Wearer: o.Wearer,
		Out: dayStart(o.Out, c.Now), OutBy: c.Actor.Person.ID, Days: o.Days, Due: o.Due,
		TakenOver: true}
	e.Kit.Loan = e.Loan.ID
	return nil
}

func (r RegisterKit) openingReady(c *Case, e *KitRegistered) *Problem {
	until := r.Opening.Ready
	if until < c.Now.Today() || until > c.Now.Today().AddDays(longestLoan) {
		return invalid("date", "Give the last day the paper release holds.",
			"A paper release until %s cannot be taken over.", Day(until))
	}
	for _, n := range r.pieces() {
		for _, p := range c.W.Pieces {
			if p.Serial == n.Serial && p.Model == n.Model {
				return refuse("known_here", "Register it without the paper release and reprocess it.",
					"The %s with serial %s was retired here, so no paper releases it.", p.Kind, p.Serial)
			}
		}
	}
	for i := range e.Pieces {
		e.Pieces[i].State, e.Pieces[i].TakenOver = Released, true
	}
	e.Kit.Release = &Release{Name: c.Actor.Person.Name, Meaning: "taken over from paper",
		Until: dayStart(until.AddDays(1), c.Now), TakenOver: true}
	return nil
}

// Compose changes which pieces make a kit; a standing release ends.
type Compose struct {
	Kit    string   `json:"kit"`
	Pieces []string `json:"pieces"` // recorder first
}

// Move says where a kit lies now.
type Move struct {
	Kit   string `json:"kit"`
	Place string `json:"place"`
}

// Act is "compose".
func (Compose) Act() Act { return ActCompose }

// Act is "move".
func (Move) Act() Act { return ActMove }

// Needs the kit and the pieces.
func (x Compose) Needs() Needs { return Needs{Kit: x.Kit, Pieces: x.Pieces} }

// Needs the kit.
func (m Move) Needs() Needs { return Needs{Kit: m.Kit} }

func (x Compose) decide(c *Case) *Problem {
	k, p := c.kit(x.Kit)
	if p != nil {
		return p
	}
	if s := KitState(k, c.W.Pieces); s == Issued || s == Recalled {
		return refuse("out", "Take it back first.", "Kit %s is out.", k.Number)
	}
	if len(x.Pieces) == 0 || len(x.Pieces) > 2 {
		return invalid("pieces", "One recorder and at most one phone.", "%d pieces are no kit.",
			len(x.Pieces))
	}
	for i, id := range x.Pieces {
		piece, p := c.piece(id)
		if p != nil {
			return p
		}
		if piece.Kind != []Kind{Recorder, Phone}[i] || slices.Contains(x.Pieces[:i], id) {
			return invalid("pieces", "The recorder first, then its phone.",
				"These pieces do not make a kit.")
		}
		if p := x.free(k, piece); p != nil {
			return p
		}
	}
	if p := x.recordingFirst(c, k); p != nil {
		return p
	}
	c.emit(KitComposed{Kit: k.ID, Pieces: x.Pieces})
	return nil
}

// free refuses pieces of another kit that are not in the house.
func (x Compose) free(k *Kit, piece *Piece) *Problem {
	if piece.Kit == k.ID {
		return nil
	}
	switch piece.State {
	case Issued, Recalled, Retired, Missing, OutForRepair:
		return refuse("not_here", "Choose another piece.", "This %s is recorded as %s.",
			piece.Kind, piece.State)
	}
	return nil
}

// recordingFirst keeps a recorder in its kit while the kit's recording is not safe: where the
// recording is, is known of the kit, and another kit would let it be erased. One that is gone
// can be replaced.
func (x Compose) recordingFirst(c *Case, k *Kit) *Problem {
	leaving := append(slices.Clone(k.Pieces), x.Pieces...)
	for _, id := range leaving {
		piece := c.W.Pieces[id]
		if piece == nil || piece.Kind != Recorder || piece.State == Missing ||
			piece.State == Retired || piece.Kit == k.ID && slices.Contains(x.Pieces, id) {
			continue
		}
		if from := c.W.Kits[piece.Kit]; from != nil && !from.Recording.Safe() {
			return refuse("recording_first",
				"Fetch it, or have it signed as given up with a reason.",
				"The recording of kit %s is %s, and this would take its recorder away.",
				from.Number, recordingWords(from.Recording.Status))
		}
	}
	return nil
}

func (m Move) decide(c *Case) *Problem {
	k, p := c.kit(m.Kit)
	if p != nil {
		return p
	}
	place, p := need("Place", m.Place, 40)
	if p != nil {
		return p
	}
	c.emit(KitMoved{Kit: k.ID, Place: place})
	return nil
}
