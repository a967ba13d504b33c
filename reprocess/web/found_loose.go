package web

import (
	"net/url"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

func foundLooseURL(piece string) string { return "/missing/found/" + url.PathEscape(piece) }

// looseLines are the missing pieces in whose place another stands, each with the way to say
// that it is found; none for who may not.
func (v *Visit) looseLines(loose []*reprocess.Piece, of func(*reprocess.Piece) bool) (all []Line) {
	if !v.entitled(reprocess.ActAside) {
		return nil
	}
	for _, p := range loose {
		if of(p) {
			all = append(all, Line{foundLooseURL(p.ID), "Found: " + string(p.Kind) + " " + p.Serial,
				"Missing; another took its place."})
		}
	}
	slices.SortFunc(all, func(a, b Line) int { return strings.Compare(a.Words, b.Words) })
	return all
}

// foundLoose is the page on which a piece that belongs to no kit is said to be found.
func (v *Visit) foundLoose() (*officePage, reprocess.FindLoose, error) {
	piece, err := sqlite.Get[reprocess.Piece](v.Context(), v.Store(), reprocess.TablePiece,
		v.Param("piece"))
	if err != nil {
		return nil, reprocess.FindLoose{}, err
	}
	w, err := v.Store().AllKits(v.Context())
	if err != nil {
		return nil, reprocess.FindLoose{}, err
	}
	cmd := reprocess.FindLoose{Piece: piece.ID, Kit: reprocess.FindLooseKit(w, piece)}
	p := titledOffice("Is the "+string(piece.Kind)+" "+piece.Serial+" found?",
		"It was missing, and another took its place. It goes on hold: whose hands it was in is not "+
			"known. Fetch what is recorded on it before anything is done with it.",
		"Put it into a kit then; infection control or a supervisor decides how it goes on.")
	if !piece.LostLoose() {
		p.Lead = []string{"It is recorded as " + reprocess.StateWords(piece.State) + "; there is nothing to say here."}
	} else {
		p.form(&form{To: foundLooseURL(piece.ID), Act: "It is found"})
	}
	p.Acts = append(p.Acts, onward{To: "/missing", Words: "What is missing"})
	return p, cmd, nil
}

func showFoundLoose(v *Visit) error {
	p, _, err := v.foundLoose()
	if err != nil {
		return err
	}
	return v.Show(p)
}

func findLoose(v *Visit) error {
	p, cmd, err := v.foundLoose()
	if err != nil {
		return err
	}
	if _, err := v.Do(cmd); err != nil {
		return v.Refuse(err, p)
	}
	return v.Went("/missing", "Recorded as found, and on hold. Put it into a kit next.")
}
