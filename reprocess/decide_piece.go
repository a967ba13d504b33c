package reprocess

// RegisterPiece adds a recorder or phone that is in no kit yet: a spare, or what replaces one
// that broke. Compose puts it into a kit; until it has passed a cycle there it is not released.
type RegisterPiece struct {
	Kind  Kind     `json:"kind"`
	Piece NewPiece `json:"piece"`
}

// Act is "register".
func (RegisterPiece) Act() Act { return ActRegister }

// Needs pieces of the same serial, and the label.
func (r RegisterPiece) Needs() Needs {
	n := Needs{Serials: []string{r.Piece.Serial}}
	if r.Piece.Code != "" {
		n.Labels = []string{r.Piece.Code}
	}
	return n
}

func (r RegisterPiece) decide(c *Case) *Problem {
	if r.Kind != Recorder && r.Kind != Phone {
		return invalid("kind", "Choose recorder or phone.", "%q is no kind of piece.", r.Kind)
	}
	piece, p := r.Piece.piece(c, Kit{Site: c.W.Settings.Site}, r.Kind, 0)
	if p != nil {
		return p
	}
	label, p := r.Piece.label(c, piece.ID)
	if p != nil {
		return p
	}
	c.emit(PieceRegistered{piece})
	if label != nil {
		c.emit(label)
	}
	return nil
}
