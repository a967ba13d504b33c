package reprocess

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// id makes an id from the entry's number: never reused, and readable in the ledger.
func (c *Case) id(prefix string, i int) string {
	if i == 0 {
		return fmt.Sprintf("%s%d", prefix, c.Seq)
	}
	return fmt.Sprintf("%s%d-%d", prefix, c.Seq, i)
}

func (c *Case) kit(id string) (*Kit, *Problem) {
	k := c.W.Kits[id]
	if k == nil {
		return nil, missing("kit")
	}
	return k, nil
}

func (c *Case) piece(id string) (*Piece, *Problem) {
	p := c.W.Pieces[id]
	if p == nil {
		return nil, missing("piece")
	}
	return p, nil
}

// pieceOf resolves one piece of a kit. An act on a piece stands in the chain of entries of the
// kit that the command names, so the two have to belong together; a loose piece has no kit.
func (c *Case) pieceOf(kit, id string) (*Piece, *Problem) {
	piece, p := c.piece(id)
	if p == nil && piece.Kit != kit {
		number := "of another number"
		if k := c.W.Kits[kit]; k != nil {
			number = k.Number
		}
		p = conflict("other_kit", "Scan it again.", "This %s does not belong to kit %s.", piece.Kind,
			number)
	}
	return piece, p
}

// piecesOf resolves the pieces of a command: those named, which must belong to the kit, or
// all of the kit when none is named.
func (c *Case) piecesOf(kit string, ids []string) ([]*Piece, *Problem) {
	k, p := c.kit(kit)
	if p != nil {
		return nil, p
	}
	if len(ids) == 0 {
		ids = k.Pieces
	}
	var out []*Piece
	for i, id := range ids {
		piece, p := c.pieceOf(kit, id)
		if p != nil {
			return nil, p
		}
		if contains(ids[:i], id) {
			return nil, invalid("piece_twice", "Open the kit again.", "The %s is named twice.",
				piece.Kind)
		}
		out = append(out, piece)
	}
	if len(out) == 0 {
		return nil, refuse("no_pieces", "Register a recorder with it.",
			"Kit %s has no recorder and no phone.", k.Number)
	}
	return out, nil
}

// openCycle is the piece's open cycle, or nil.
func (c *Case) openCycle(p *Piece) *Cycle {
	if cy := c.W.Cycles[p.Cycle]; cy != nil && cy.Ended == 0 {
		return cy
	}
	return nil
}

// procedure is the version a piece's cycle runs under, or the one in force for a new cycle.
func (c *Case) procedure(p *Piece) (*Procedure, *Problem) {
	ref := c.W.InForce[p.Model]
	if cy := c.openCycle(p); cy != nil {
		ref = cy.Procedure
	}
	if proc := c.W.Procedures[ref]; proc != nil {
		return proc, nil
	}
	return nil, refuse("no_procedure", "Ask a supervisor to approve one.",
		"No procedure is in force for this model of %s.", p.Kind)
}

// competent checks that the person may carry out a procedure today; learning is told apart.
func (c *Case) competent(proc *Procedure) (learning bool, p *Problem) {
	switch c.Actor.Person.Competence(proc.ID, c.Now.Today()) {
	case Competent:
		return false, nil
	case LearningIt:
		return true, nil
	case Lapsed:
		return false, refuse("competence_lapsed", "Ask a supervisor to renew it.",
			"%s's competence for %q is not valid today.", c.Actor.Person.Name, proc.Name)
	}
	return false, refuse("not_competent", "Ask somebody who is, or a supervisor.",
		"%s is not entered as competent for %q.", c.Actor.Person.Name, proc.Name)
}

// mark is this moment as entries keep it.
func (c *Case) mark() Mark { return Mark{At: c.Now.UTC, Boot: c.Now.Boot, Mono: c.Now.Mono} }

// clean checks a short free text: one line, no control characters, at most max characters.
func clean(field, text string, max int) (string, *Problem) {
	text = strings.TrimSpace(strings.Join(strings.Fields(text), " "))
	if !utf8.ValidString(text) || strings.ContainsFunc(text, unicode.IsControl) {
		return "", invalid("text", "Type it again.", "%s holds characters that cannot be kept.", field)
	}
	if n := utf8.RuneCountInString(text); n > max {
		return "", invalid("text", "Make it shorter.", "%s has %d characters, %d fit.", field, n, max)
	}
	return text, nil
}

// need is clean for a text that must not be empty.
func need(field, text string, max int) (string, *Problem) {
	text, p := clean(field, text, max)
	if p == nil && text == "" {
		p = invalid("empty", "Fill it in and send again.", "%s is empty.", field)
	}
	return text, p
}

// each decides for every piece of a command in turn; the first problem refuses the whole act.
func (c *Case) each(kit string, ids []string, one func(*Case, *Piece) *Problem) *Problem {
	pieces, p := c.piecesOf(kit, ids)
	if p != nil {
		return p
	}
	for _, piece := range pieces {
		if p := one(c, piece); p != nil {
			return p
		}
	}
	return nil
}
