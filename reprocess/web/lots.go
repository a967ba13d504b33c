package web

import (
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

func showLots(v *Visit) error {
	w, err := v.stock()
	if err != nil {
		return err
	}
	p := titledOffice("Which lot?")
	for _, kind := range []struct{ id, words string }{{reprocess.LotDisinfectant, "Disinfectant"},
		{reprocess.LotCells, "Cells"}, {reprocess.LotElectrodes, "Electrodes"}} {
		var rows []ruledLine
		for _, l := range lotsOf(w, func(l *reprocess.Lot) bool { return l.Kind == kind.id }) {
			rows = append(rows, ruledLine{To: "/lot/" + l.ID, Words: lotWords(w, l),
				Notes: []string{lotNote(l, v.today())}})
		}
		p.list(kind.words, "None is recorded.", rows...)
	}
	if v.entitled(reprocess.ActLot) {
		p.act("/lots/new", "Record a lot")
	}
	return v.Show(p)
}

func lotNote(l *reprocess.Lot, today reprocess.Date) string {
	switch {
	case l.Stopped != nil:
		return "Stopped: " + l.Stopped.Reason
	case l.Ended != 0:
		return "Used up"
	case l.Expiry == "":
		return "Expiry not recorded"
	case l.Expiry < today:
		return "Expired on " + reprocess.Day(l.Expiry)
	}
	return "Expires " + reprocess.Day(l.Expiry)
}

func lotPage(w *reprocess.World, l reprocess.Lot) *officePage {
	p := titledOffice("What stands on the delivery?")
	f := &form{To: "/lots/new", Act: "Keep this lot"}
	if l.ID != "" {
		p.Title, f.To = "What is right about this lot?", "/lot/"+l.ID+"/correct"
	}
	f.one("kind", "What is it?", l.Kind,
		Choice{Value: reprocess.LotDisinfectant, Words: "Disinfectant"},
		Choice{Value: reprocess.LotCells, Words: "Cells"},
		Choice{Value: reprocess.LotElectrodes, Words: "Electrodes"})
	var products []Choice
	for _, d := range productsOf(w) {
		if d.Use != reprocess.MadeHere && (!d.Retired || d.ID == l.Product) {
			products = append(products, Choice{Value: d.ID, Words: d.Name})
		}
	}
	if len(products) == 1 && l.Product == "" && l.ID == "" {
		l.Product = products[0].Value
	}
	if len(products) > 0 {
		f.choices(Choices{Name: "product", Legend: "Which disinfectant?",
			Hint: "For disinfectant only", Options: products}.Pick(l.Product))
	} else {
		f.say("", "No disinfectant is described yet; a supervisor does it under Supplies.")
	}
	f.text("name", "Designation", l.Name, "For cells and electrodes, such as LR03")
	f.text("number", "Lot number", l.Number, "As printed; cells may show none")
	f.day("expiry", "Expires", l.Expiry, "The last usable day")
	f.number("count", "How many containers came", l.Count,
		"Of disinfectant; empty: nobody counted, and no stock is reckoned")
	p.form(f)
	return p
}

func showNewLot(v *Visit) error {
	w, err := v.stock()
	if err != nil {
		return err
	}
	return v.Show(lotPage(w, reprocess.Lot{Product: v.Query("product"), Kind: v.Query("kind")}))
}

// setLot keeps a lot, new (no id) or corrected.
func setLot(v *Visit) error {
	w, err := v.stock()
	if err != nil {
		return err
	}
	t := v.typing()
	l := reprocess.Lot{ID: v.Param("id"), Kind: t.text("kind"), Name: t.text("name"),
		Number: t.text("number"), Expiry: t.day("expiry", "Expires"),
		Count: t.whole("count", "How many containers came")}
	if l.Kind == reprocess.LotDisinfectant {
		if l.Product = t.text("product"); l.Product == "" {
			t.bad("product", "Choose it from the list.", "It is not said which disinfectant it is.")
		}
	}
	if err := t.err(); err != nil {
		return v.Refuse(err, lotPage(w, l))
	}
	if _, err := v.Do(reprocess.SetLot{Lot: l}); err != nil {
		return v.Refuse(err, lotPage(w, l))
	}
	return v.Went("/lots", "The lot is kept.")
}

func (v *Visit) lot() (*reprocess.Lot, *reprocess.World, error) {
	l, err := sqlite.Get[reprocess.Lot](v.Context(), v.Store(), reprocess.TableLot, v.Param("id"))
	if err != nil {
		return nil, nil, err
	}
	w, err := v.stock()
	return l, w, err
}

func showLot(v *Visit) error {
	l, w, err := v.lot()
	if err != nil {
		return err
	}
	p := titledOffice(lotWords(w, l), lotNote(l, v.today()))
	var rows []ruledLine
	for _, c := range openContainers(w) {
		if c.Lot == l.ID {
			rows = append(rows, containerLine(w, c, v.today()))
		}
	}
	if l.Kind == reprocess.LotDisinfectant {
		p.list("Open containers of it", "None is open.", rows...)
		p.list("Product", "It is not described here.", productLines(w, l.Product)...)
	}
	p.list("Where it is", "", ruledLine{To: "/lot/" + l.ID + "/reach",
		Words: "Which kits were touched by it?"})
	if rows := batchesOf(w, l); len(rows) > 0 {
		p.list("Prepared from it here", "", rows...)
	}
	switch {
	case l.Stopped == nil && v.entitled(reprocess.ActLotStop):
		p.act("/lot/"+l.ID+"/stop", "Stop this lot")
	case l.Stopped != nil && v.entitled(reprocess.ActLotLift):
		p.act("/lot/"+l.ID+"/lift", "Lift the stop")
	}
	if v.entitled(reprocess.ActLot) && l.From == "" {
		p.act("/lot/"+l.ID+"/correct", "Correct what was typed")
	}
	p.list("", "", v.endTap(l)...)
	return v.Show(p)
}

func productLines(w *reprocess.World, id string) []ruledLine {
	if d := w.Products[id]; d != nil {
		return []ruledLine{{To: "/product/" + d.ID, Words: d.Name}}
	}
	return nil
}

func showLotCorrection(v *Visit) error {
	l, w, err := v.lot()
	if err != nil {
		return err
	}
	return v.Show(lotPage(w, *l))
}

// stopReasons are offered so that stopping takes two taps.
var stopReasons = []string{"Smell, colour or clouding is wrong", "Leaking or dried out",
	"Maker or supplier warned", "Skin trouble was told", "Strength is in doubt"}

func stopPage(w *reprocess.World, l *reprocess.Lot, other string) *officePage {
	p := titledOffice("Why is "+lotWords(w, l)+" stopped?",
		"It stops at once for everybody. Kits released on it are stopped until somebody decides.")
	to := "/lot/" + l.ID + "/stop"
	var rows []ruledLine
	for _, reason := range stopReasons {
		rows = append(rows, ruledLine{Taps: []tap{{To: to, Words: reason,
			Kept: []Kept{{"reason", reason}}}}})
	}
	p.list("", "", rows...)
	f := &form{To: to, Act: "Stop this lot"}
	f.must("reason", "Another reason", other, "Up to 200 characters, no names of wearers")
	p.form(f)
	return p
}

func showLotStop(v *Visit) error {
	l, w, err := v.lot()
	if err != nil {
		return err
	}
	return v.Show(stopPage(w, l, ""))
}

func stopLot(v *Visit) error {
	l, w, err := v.lot()
	if err != nil {
		return err
	}
	if _, err := v.Do(reprocess.StopLot{Lot: l.ID, Reason: v.Field("reason")}); err != nil {
		return v.Refuse(err, stopPage(w, l, v.Field("reason")))
	}
	return v.Went("/lot/"+l.ID+"/reach", "The lot is stopped.")
}

func liftPage(w *reprocess.World, l *reprocess.Lot, reason string) *officePage {
	p := titledOffice("Why may " + lotWords(w, l) + " be used again?")
	if l.Stopped != nil {
		p.Lead = []string{"Stopped: " + l.Stopped.Reason}
	}
	f := &form{To: "/lot/" + l.ID + "/lift", Act: "Lift the stop"}
	f.must("reason", "Reason", reason, "Up to 200 characters")
	f.field(SignField())
	p.form(f)
	return p
}

func showLotLift(v *Visit) error {
	l, w, err := v.lot()
	if err != nil {
		return err
	}
	return v.Show(liftPage(w, l, ""))
}

func liftLot(v *Visit) error {
	l, w, err := v.lot()
	if err != nil {
		return err
	}
	page := liftPage(w, l, v.Field("reason"))
	actor, err := v.Sign()
	if err != nil {
		return v.Refuse(err, page)
	}
	cmd := reprocess.LiftLot{Lot: l.ID, Reason: v.Field("reason")}
	if _, err := v.DoAs(cmd, actor); err != nil {
		return v.Refuse(err, page)
	}
	return v.Went("/lot/"+l.ID, "The stop is lifted.")
}

// productsOf lists the disinfectants by name.
func productsOf(w *reprocess.World) []*reprocess.Product {
	var all []*reprocess.Product
	for _, d := range w.Products {
		all = append(all, d)
	}
	slices.SortFunc(all, func(a, b *reprocess.Product) int {
		return strings.Compare(strings.ToLower(a.Name)+a.ID, strings.ToLower(b.Name)+b.ID)
	})
	return all
}
