package web

import (
	"handback/reprocess"
)

func (v *Visit) kitWorld() (*reprocess.Kit, *reprocess.World, error) {
	w, err := v.Store().KitWorld(v.Context(), v.Param("id"))
	if err != nil {
		return nil, nil, err
	}
	return w.Kits[v.Param("id")], w, nil
}

// serialOf gives the serial of a kit's piece of a kind, empty when it has none.
func serialOf(w *reprocess.World, k *reprocess.Kit, kind reprocess.Kind) string {
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil && p.Kind == kind {
			return p.Serial
		}
	}
	return ""
}

func composePage(k *reprocess.Kit, recorder, phone string) *officePage {
	p := titledOffice("Which pieces make kit "+k.Number+"?",
		"A release that stands ends with a change. A piece taken out belongs to no kit until it "+
			"is put into one.")
	f := &form{To: "/kits/" + k.ID + "/compose", Act: "These make the kit"}
	f.must("recorder", "Serial of the recorder", recorder, "As on the plate")
	f.text("phone", "Serial of the phone", phone, "Empty: no phone")
	p.form(f)
	return p
}

func showCompose(v *Visit) error {
	k, w, err := v.kitWorld()
	if err != nil {
		return err
	}
	return v.Show(composePage(k, serialOf(w, k, reprocess.Recorder),
		serialOf(w, k, reprocess.Phone)))
}

func composeKit(v *Visit) error {
	k, _, err := v.kitWorld()
	if err != nil {
		return err
	}
	page := composePage(k, v.Field("recorder"), v.Field("phone"))
	cmd := reprocess.Compose{Kit: k.ID}
	for _, name := range []string{"recorder", "phone"} {
		serial := v.Field(name)
		if serial == "" {
			continue
		}
		piece, err := v.Store().PieceBySerial(v.Context(), serial)
		if err != nil {
			return v.Refuse(err, page)
		}
		cmd.Pieces = append(cmd.Pieces, piece.ID)
	}
	if _, err := v.Do(cmd); err != nil {
		return v.Refuse(err, page)
	}
	return v.Went("/kit/"+k.ID, "Kit "+k.Number+" is put together anew.")
}
