package reprocess

// FindLoose says that a lost piece is there again to which no kit belongs any more: another one
// took its place meanwhile. What happened can always be recorded (P4); it goes on hold, for
// nobody knows in whose hands it was, and is put into a kit before anything is done with it.
type FindLoose struct {
	Piece string `json:"piece"`
	Kit   string `json:"kit,omitempty"` // whose open loss names it; empty: none does
}

// ReasonFoundLoose is why such a piece is on hold.
const ReasonFoundLoose = "found_loose"

// LostLoose tells whether a piece is missing and belongs to no kit any more: only such a one is
// found by FindLoose.
func (p *Piece) LostLoose() bool { return p.Kit == "" && p.State == Missing }

// FindLooseKit names the kit whose open loss a missing piece without a kit stands in, or "".
func FindLooseKit(w *World, p *Piece) string {
	for _, k := range w.Kits {
		if p.LostLoose() && k.Loss.Open() && contains(k.Loss.Pieces, p.ID) {
			return k.ID
		}
	}
	return ""
}

// Act is "aside".
func (FindLoose) Act() Act { return ActAside }

// Needs the piece, and the kit that lost it.
func (f FindLoose) Needs() Needs { return Needs{Kit: f.Kit, Pieces: []string{f.Piece}} }

func (f FindLoose) decide(c *Case) *Problem {
	piece, p := c.piece(f.Piece)
	if p != nil {
		return p
	}
	switch {
	case piece.Kit != "":
		return conflict("in_kit", "Take its kit back, or bring it back on the page of the kit.",
			"This %s belongs to a kit.", piece.Kind)
	case piece.State != Missing:
		return conflict("already_done", "Nothing to do.", "This %s is recorded as %s.", piece.Kind,
			piece.State)
	}
	if f.Kit != "" {
		k, p := c.kit(f.Kit)
		if p != nil {
			return p
		}
		if !k.Loss.Open() || !contains(k.Loss.Pieces, piece.ID) {
			return conflict("other_kit", "Open the list of what is missing again.",
				"Kit %s does not miss this %s.", k.Number, piece.Kind)
		}
	}
	c.emit(PieceMoved{Piece: piece.ID, State: Returned, Loss: f.Kit,
		Reason: "found after another took its place"})
	c.emit(Held{Piece: piece.ID, Grade: GradeHold, Reason: ReasonFoundLoose})
	return nil
}
