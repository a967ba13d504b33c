package web

import "handback/reprocess"

// endTap offers to call a lot used up, or to take that back.
func (v *Visit) endTap(l *reprocess.Lot) []ruledLine {
	at := "/lot/" + l.ID
	switch {
	case l.Ended == 0 && v.entitled(reprocess.ActLotEnd):
		return []ruledLine{{Taps: []tap{{To: at + "/used-up", Words: "It is used up"}}}}
	case l.Ended != 0 && v.entitled(reprocess.ActLotResume):
		return []ruledLine{{Words: "Called used up " + v.moment(l.Ended),
			Taps: []tap{{To: at + "/resume", Words: "There is some left after all"}}}}
	}
	return nil
}

func endLot(v *Visit) error {
	if _, err := v.Do(reprocess.EndLot{Lot: v.Param("id")}); err != nil {
		return err
	}
	return v.Went("/lot/"+v.Param("id"), "It is called used up and offered no more.")
}

func resumeLot(v *Visit) error {
	if _, err := v.Do(reprocess.ResumeLot{Lot: v.Param("id")}); err != nil {
		return err
	}
	return v.Went("/lot/"+v.Param("id"), "It is offered again.")
}

func reopenContainer(v *Visit) error {
	if _, err := v.Do(reprocess.ReopenContainer{Container: v.Param("id")}); err != nil {
		return err
	}
	return v.Went("/container/"+v.Param("id"), "The container counts as open again.")
}

// supplyAt is the page of what a warning is about.
func supplyAt(r reprocess.Ref) string {
	switch r.Table {
	case reprocess.TableContainer:
		return "/container/" + r.ID
	case reprocess.TableLot:
		return "/lot/" + r.ID
	case reprocess.TableProduct:
		return "/product/" + r.ID
	}
	return ""
}

// supplyWarnings are the warnings as lines, the grave ones first.
func supplyWarnings(w *reprocess.World, now reprocess.Now) []ruledLine {
	var rows []ruledLine
	for _, x := range reprocess.SupplyWarnings(w, now) {
		rows = append(rows, ruledLine{To: supplyAt(x.Ref), Words: x.Words, Notes: []string{x.Fix}})
	}
	return rows
}
