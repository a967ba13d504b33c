package web

import (
	"fmt"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// reachWorld is every kit with its pieces, latest cycles and loans, and every lot.
func (v *Visit) reachWorld() (*reprocess.World, error) {
	w, err := v.Store().AllKits(v.Context())
	if err != nil {
		return nil, err
	}
	all, err := v.Store().Lots(v.Context())
	for _, l := range all {
		w.Lots[l.ID] = l
	}
	return w, err
}

// batchesOf lists what was prepared here from a lot.
func batchesOf(w *reprocess.World, l *reprocess.Lot) []ruledLine {
	var rows []ruledLine
	for _, id := range w.WithBatches(l.ID) {
		if id != l.ID {
			rows = append(rows, ruledLine{To: "/lot/" + id, Words: lotWords(w, w.Lots[id])})
		}
	}
	return rows
}

// showReach lists the kits that a lot touched: whom to call, what to fetch from the shelf, what
// to disinfect again. It names kits and due days, never wearers; it prints.
func showReach(v *Visit) error {
	l, _, err := v.lot()
	if err != nil {
		return err
	}
	w, err := v.reachWorld()
	if err != nil {
		return err
	}
	p := titledOffice("Which kits did "+lotWords(w, l)+" touch?", lotNote(l, v.today())+".")
	if l.Stopped != nil {
		p.Lead = append(p.Lead, "Stopped "+v.moment(l.Stopped.At)+" by "+nameIn(w, l.Stopped.By)+".")
	}
	if l.Stopped == nil {
		p.Lead = append(p.Lead, "It is not stopped: nothing is held back for it.")
	}
	if l.Kind == reprocess.LotElectrodes {
		p.Lead = append(p.Lead, "Only kits at whose hand-out this lot was chosen: ask whoever has "+
			"handed electrodes out since they came.")
	}
	v.reachLists(p, w, reprocess.Reach(w, l.ID))
	switch {
	case !v.entitled(reprocess.ActLotStop):
	case l.Stopped == nil:
		p.act("/lot/"+l.ID+"/stop", "Stop this lot")
	case l.Stopped.Reason == reprocess.StopReasonFollows:
		p.act("/lot/"+l.ID+"/stop", "Say why it is stopped")
	}
	p.Acts = append(p.Acts, onward{To: "/lot/" + l.ID, Words: "The lot"})
	return v.Show(p)
}

// reachLists are the three lists with what to do about each.
func (v *Visit) reachLists(p *officePage, w *reprocess.World, all []reprocess.Reached) {
	rows := map[reprocess.ReachedPlace][]ruledLine{}
	for _, r := range all {
		rows[r.Place] = append(rows[r.Place], v.reachLine(w, r))
	}
	p.listOnce("Call: out with a wearer", "None is out.", rows[reprocess.ReachedOut]...)
	p.listOnce("Fetch: released, in the house", "None stands ready.", rows[reprocess.ReachedShelf]...)
	p.listOnce("Go on with another: in work", "None is in work.", rows[reprocess.ReachedWork]...)
	p.Lead = append(p.Lead, fmt.Sprintf("%d out, %d ready, %d in work.",
		len(rows[reprocess.ReachedOut]), len(rows[reprocess.ReachedShelf]),
		len(rows[reprocess.ReachedWork])))
}

func (v *Visit) reachLine(w *reprocess.World, r reprocess.Reached) ruledLine {
	line := ruledLine{To: "/kit/" + r.Kit.ID, Words: "Kit " + r.Kit.Number}
	for _, id := range r.Lots {
		line.Notes = append(line.Notes, lotWords(w, w.Lots[id]))
	}
	switch r.Place {
	case reprocess.ReachedOut:
		due := "due day not recorded"
		if r.Due != "" {
			due = "due " + reprocess.Day(r.Due)
		}
		line.Words += ", " + due
		line.Notes = append(line.Notes, "Infection control decides whether it is called back; it "+
			"cannot be handed out again on this release.")
	case reprocess.ReachedShelf:
		line.Words += ", " + placeOf(r.Kit)
		line.Notes = append(line.Notes, "It is not handed out while the lot is stopped: disinfect it "+
			"again with another, or fit another cell.")
	default:
		line.Notes = append(line.Notes, "It is not released on this: do that step again with another.")
	}
	return line
}

// mostUses is how many entries the list of a container shows.
const mostUses = 500

// showUsed lists the wipes with a container, the newest first: kit, when, by whom, which entry.
func showUsed(v *Visit) error {
	c, w, err := v.container()
	if err != nil {
		return err
	}
	list, err := v.Store().Entries(v.Context(), sqlite.Filter{Act: reprocess.ActWet,
		Boxes: []string{c.ID}, Result: reprocess.ResultDone}, 0, mostUses+1)
	if err != nil {
		return err
	}
	around, err := v.Store().Around(v.Context(), list)
	if err != nil {
		return err
	}
	p := titledOffice("Which kits were wiped with it?", containerWords(w, c)+".")
	if len(list) > mostUses {
		list = list[:mostUses]
		p.Lead = append(p.Lead, fmt.Sprintf("Only the newest %d wipes are shown.", mostUses))
	}
	var rows []ruledLine
	for _, e := range list {
		rows = append(rows, ruledLine{To: "/kit/" + e.Kit + "/history",
			Words: capital(kitNumber(around, e.Kit)) + ", " + v.moment(e.At),
			Notes: []string{fmt.Sprintf("Entry %d, by %s", e.Seq, e.Name)}})
	}
	p.list("", "No kit was wiped with it.", rows...)
	p.Acts = append(p.Acts, onward{To: "/lot/" + c.Lot + "/reach", Words: "Where those kits are now"},
		onward{To: "/container/" + c.ID, Words: "The container"})
	return v.Show(p)
}
