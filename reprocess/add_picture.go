package reprocess

// AddPicture keeps a picture of a damage or of a display with a piece. The server stored the
// picture before, re-encoded so that no place and no name travels in it.
type AddPicture struct {
	Kit    string `json:"kit"`
	Piece  string `json:"piece"`
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
	About  string `json:"about"`
}

// PictureAdded says that a picture was kept.
type PictureAdded struct {
	Kit    string `json:"kit"`
	Piece  string `json:"piece"`
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
	About  string `json:"about"`
}

// EventName is "picture_added".
func (PictureAdded) EventName() string { return "picture_added" }

// ActPicture is anybody's at the bench or the desk.
const ActPicture Act = "picture"

// MostPictureBytes is how large a kept picture may be.
const MostPictureBytes = 2 << 20

// Act is "picture".
func (AddPicture) Act() Act { return ActPicture }

// Needs the kit and the piece.
func (a AddPicture) Needs() Needs { return Needs{Kit: a.Kit, Pieces: []string{a.Piece}} }

func (a AddPicture) decide(c *Case) *Problem {
	if _, p := c.piecesOf(a.Kit, []string{a.Piece}); p != nil {
		return p
	}
	about, p := need("What the picture shows", a.About, 120)
	if p != nil {
		return p
	}
	if !isHash(a.SHA256) || a.Bytes < 1 || a.Bytes > MostPictureBytes {
		return invalid("picture", "Take the picture again.", "The picture was not kept.")
	}
	c.emit(PictureAdded{Kit: a.Kit, Piece: a.Piece, SHA256: a.SHA256, Bytes: a.Bytes, About: about})
	return nil
}
