package web

import (
	"net/url"
	"slices"

	"handback/reprocess"
)

// piecePage registers a spare: a piece that is in no kit yet.
func piecePage(w *reprocess.World, kind reprocess.Kind, n reprocess.NewPiece,
	sticker string) *officePage {
	p := titledOffice("Which "+string(kind)+" is new here?",
		"It is in no kit yet. Put it into one by its serial; it is released only after a cycle there.")
	f := &form{To: "/kits/spare/" + string(kind), Act: "Register it"}
	pieceFields(f, w, kind, n, sticker)
	p.form(f)
	return p
}

func (v *Visit) spareKind() (reprocess.Kind, error) {
	kind := reprocess.Kind(v.Param("kind"))
	if !slices.Contains(reprocess.Kinds(), kind) {
		return "", notFound("kind of piece")
	}
	return kind, nil
}

func showSpare(v *Visit) error {
	kind, err := v.spareKind()
	if err != nil {
		return err
	}
	w, err := v.setUp()
	if err != nil {
		return err
	}
	return v.Show(piecePage(w, kind, reprocess.NewPiece{}, ""))
}

func registerSpare(v *Visit) error {
	kind, err := v.spareKind()
	if err != nil {
		return err
	}
	w, err := v.setUp()
	if err != nil {
		return err
	}
	t := v.typing()
	n, sticker := t.piece(kind)
	page := piecePage(w, kind, n, sticker)
	if err := t.err(); err != nil {
		return v.Refuse(err, page)
	}
	if n.Code, err = v.typedCode(string(kind) + ".code"); err != nil {
		return v.Refuse(err, page)
	}
	if _, err := v.Do(reprocess.RegisterPiece{Kind: kind, Piece: n}); err != nil {
		return v.Refuse(err, page)
	}
	return v.Went("/kits", "The "+string(kind)+" "+n.Serial+" is registered. Put it into a kit now.")
}

// officeLinks are the ways from a kit's page to its pieces, labels and slip.
func (v *Visit) officeLinks(k *reprocess.Kit) []onward {
	var all []onward
	id := url.PathEscape(k.ID)
	if k.Release != nil && acts(reprocess.ActLabelBind, reprocess.ActExtend).lets(v.Person) {
		all = append(all, onward{To: "/labels/slip/" + id, Words: "Slip for the bag"})
	}
	if v.entitled(reprocess.ActLabel) {
		all = append(all, onward{To: "/labels/kit/" + id, Words: "Its labels"})
	}
	if v.entitled(reprocess.ActCompose) {
		all = append(all, onward{To: "/kits/" + id + "/compose", Words: "Change which pieces make it"})
	}
	return all
}

// showKitLabels lists the pieces of a kit with their labels.
func showKitLabels(v *Visit) error {
	k, w, err := v.kitWorld()
	if err != nil {
		return err
	}
	p := titledOffice("Which label of kit " + k.Number + "?")
	var rows []ruledLine
	for _, id := range k.Pieces {
		l, err := v.inForce(id)
		if err != nil {
			return err
		}
		line := ruledLine{Words: "Piece " + id}
		if piece := w.Pieces[id]; piece != nil {
			line.Words = string(piece.Kind) + " " + piece.Serial
		}
		if l == nil {
			line.Notes = []string{"has no label"}
			line.Taps = []tap{{To: "/labels/kits", Words: "Make its label",
				Kept: []Kept{{"kits", k.ID}}}}
		} else {
			line.To = "/label/" + url.PathEscape(l.Code)
		}
		rows = append(rows, line)
	}
	p.list("", "The kit has no pieces.", rows...)
	p.act("/labels/print?kits="+url.QueryEscape(k.ID), "Print all of them")
	return v.Show(p)
}
