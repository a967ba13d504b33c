package web

import (
	"fmt"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// warningTyped is a maker's list as it was typed.
func (v *Visit) warningTyped() reprocess.NoteWarning {
	return reprocess.NoteWarning{Ref: v.Field("ref"), Serials: v.Field("serials"), Lots: v.Field("lots")}
}

// warningPage asks for the lists.
func warningPage(n reprocess.NoteWarning) *officePage {
	p := titledOffice("What does the maker say is affected?",
		"First it is only compared with what is ours. Nothing is held before it is signed.")
	f := &form{To: "/affected", Act: "Compare"}
	f.must("ref", "Which warning is it?", n.Ref, "Who wrote, when, about what; up to 120 characters")
	for _, x := range []struct{ name, label, value, hint string }{
		{"serials", "Serial numbers of recorders and phones", n.Serials,
			"One a line, or with commas; ranges such as 1200-1260 or R-0017..R-0020"},
		{"lots", "Lots", n.Lots, "Disinfectants, cells, electrodes; as printed, such as A1, A2"},
	} {
		field := TextField(x.name, x.label, x.value)
		field.Hint, field.Lines, field.Plain = x.hint, 4, true
		f.field(field)
	}
	p.form(f)
	return p
}

func showWarningForm(v *Visit) error { return v.Show(warningPage(reprocess.NoteWarning{})) }

// compareWarning shows what of ours is named, what is not ours and what was not understood, with
// the form that signs.
func compareWarning(v *Visit) error {
	n := v.warningTyped()
	w, a, err := v.affectedBy(n)
	if err != nil {
		return v.Refuse(err, warningPage(n))
	}
	return v.Show(v.comparedPage(w, n, a))
}

// affectedBy compares a warning with everything that is ours.
func (v *Visit) affectedBy(n reprocess.NoteWarning) (*reprocess.World, reprocess.Affected, error) {
	w, err := v.Store().AllPieces(v.Context())
	if err != nil {
		return nil, reprocess.Affected{}, err
	}
	a, problem := reprocess.FindAffected(w, n.Serials, n.Lots)
	if problem != nil {
		return w, a, problem
	}
	return w, a, nil
}

func (v *Visit) comparedPage(w *reprocess.World, n reprocess.NoteWarning,
	a reprocess.Affected) *officePage {
	p := titledOffice("Are these the ones?", fmt.Sprintf("%s: %s and %s of ours.", n.Ref,
		many(len(a.Pieces()), "piece"), many(len(a.LotIDs()), "lot")))
	v.affectedLists(p, w, a)
	f := &form{Heading: "Sign", To: "/affected/sign", Act: "Hold these pieces, stop these lots",
		Kept: []Kept{{"ref", n.Ref}, {"serials", n.Serials}, {"lots", n.Lots}}}
	f.say("", "What is in the house is on hold now; what is out is on hold as soon as it comes back. "+
		"The list is kept and compared again whenever you open it.")
	f.field(SignField())
	p.form(f)
	back := warningPage(n).Blocks[0].Form
	back.Heading, back.Small = "Change the list", true
	p.form(back)
	return p
}

// affectedLists lists what was found, then what was not: no item is left out.
func (v *Visit) affectedLists(p *officePage, w *reprocess.World, a reprocess.Affected) {
	var found, lots, none, unread []ruledLine
	named := map[string]bool{}
	for _, f := range append(append([]reprocess.AffectedFound{}, a.Serials...), a.Lots...) {
		switch {
		case f.Item.Fault != "":
			unread = append(unread, ruledLine{Words: f.Item.Text, Notes: []string{
				fmt.Sprintf("Line %d. %s", f.Item.Line, f.Item.Fault)}})
		case len(f.Pieces)+len(f.Lots) == 0:
			none = append(none, ruledLine{Words: f.Item.Text,
				Notes: []string{fmt.Sprintf("Line %d. Nothing of ours.", f.Item.Line)}})
		}
		for _, piece := range f.Pieces {
			if !named[piece.ID] {
				named[piece.ID] = true
				found = append(found, v.affectedPiece(w, piece, f.Item))
			}
		}
		for _, l := range f.Lots {
			if !named[l.ID] {
				named[l.ID] = true
				lots = append(lots, ruledLine{To: "/lot/" + l.ID + "/reach", Words: lotWords(w, l),
					Notes: []string{lotNote(l, v.today()), "named by " + f.Item.Text}})
			}
		}
	}
	if len(unread) > 0 {
		p.list("Not understood: write these again", "", unread...)
	}
	p.list("Pieces of ours", "None.", found...)
	p.list("Lots of ours", "None.", lots...)
	p.list("Not ours", "Everything named is ours.", none...)
}

func (v *Visit) affectedPiece(w *reprocess.World, piece *reprocess.Piece,
	item reprocess.AffectedItem) ruledLine {
	line := ruledLine{To: pieceURL(w, piece.ID), Words: pieceWords(w, piece.ID)}
	where := reprocess.StateWords(piece.State)
	if k := w.Kits[piece.Kit]; k != nil {
		if l := w.Loans[k.Loan]; l.Open() {
			where = "out, due day not recorded"
			if l.Due != "" {
				where = "out, due " + reprocess.Day(l.Due)
			}
		} else if k.Place != "" {
			where += ", " + k.Place
		}
	} else {
		where += ", in no kit"
	}
	line.Notes = []string{capital(where), "named by " + item.Text}
	return line
}

// signWarning keeps the list, then holds and stops what it names: one signature, one entry for
// each kit. What stands stands; what fails is told, and the page of the warning offers it again.
func signWarning(v *Visit) error {
	n := v.warningTyped()
	w, a, err := v.affectedBy(n)
	if err != nil {
		return v.Refuse(err, warningPage(n))
	}
	page := v.comparedPage(w, n, a)
	actor, err := v.Sign()
	if err != nil {
		return v.Refuse(err, page)
	}
	e, err := v.DoAs(n, actor)
	if err != nil {
		return v.Refuse(err, page)
	}
	if err := v.holdWarned(w, a, e.Seq, n.Ref, actor); err != nil {
		return err
	}
	return v.Went("/affected/"+strconv.FormatInt(e.Seq, 10), "It is signed and kept.")
}

// holdWarned does what a warning asks for and what is not done yet.
func (v *Visit) holdWarned(w *reprocess.World, a reprocess.Affected, seq int64, ref string,
	actor reprocess.Actor) error {
	byKit := map[string][]string{}
	var order []string
	for _, p := range a.Pieces() {
		if reprocess.HeldFor(p, seq) {
			continue
		}
		if byKit[p.Kit] == nil {
			order = append(order, p.Kit)
		}
		byKit[p.Kit] = append(byKit[p.Kit], p.ID)
	}
	for _, kit := range order {
		cmd := reprocess.HoldAffected{Kit: kit, Pieces: byKit[kit], Warning: seq, Ref: ref}
		if err := v.doOne(cmd, actor, "kit-"+kit); err != nil {
			return err
		}
	}
	for _, id := range a.LotIDs() {
		if w.Lots[id].Stopped != nil {
			continue
		}
		cmd := reprocess.StopLot{Lot: id, Reason: "Maker's warning: " + ref}
		if err := v.doOne(cmd, actor, "lot-"+id); err != nil {
			return err
		}
	}
	return nil
}

// doOne does one act of a list under its own key. Somebody else was first: that is as good.
func (v *Visit) doOne(cmd reprocess.Command, actor reprocess.Actor, name string) error {
	_, err := v.Store().Do(v.Context(), sqlite.Request{Cmd: cmd, Actor: actor, PhoneAt: v.PhoneAt(),
		Key: v.keyFor(name)})
	if p := reprocess.AsProblem(err); p != nil && p.Rule == "already_done" {
		return nil
	}
	return err
}

// warning reads a kept list and compares it with what is ours now.
func (v *Visit) warning() (seq int64, n reprocess.NoteWarning, w *reprocess.World,
	a reprocess.Affected, err error) {
	seq = number(v.Param("seq"))
	e, err := v.Store().Entry(v.Context(), seq)
	if err != nil {
		return seq, n, nil, a, err
	}
	for _, box := range e.Events {
		if noted, ok := box.Event.(reprocess.WarningNoted); ok {
			n = reprocess.NoteWarning{Ref: noted.Ref, Serials: strings.Join(noted.Serials, "\n"),
				Lots: strings.Join(noted.Lots, "\n")}
		}
	}
	if n.Ref == "" {
		return seq, n, nil, a, notFound("warning")
	}
	if w, err = v.Store().AllPieces(v.Context()); err != nil {
		return seq, n, nil, a, err
	}
	a, problem := reprocess.FindAffected(w, n.Serials, n.Lots)
	if problem != nil {
		return seq, n, nil, a, problem
	}
	return seq, n, w, a, nil
}

// showWarning is a kept list as things stand now: whom to call, what is on hold, what not yet.
func showWarning(v *Visit) error {
	seq, n, w, a, err := v.warning()
	if err != nil {
		return err
	}
	return v.Show(v.warningAsItStands(seq, n, w, a))
}

func (v *Visit) warningAsItStands(seq int64, n reprocess.NoteWarning, w *reprocess.World,
	a reprocess.Affected) *officePage {
	p := titledOffice("What does this warning reach?", n.Ref, fmt.Sprintf("Kept as entry %d.", seq))
	var call, open []ruledLine
	for _, piece := range a.Pieces() {
		k := w.Kits[piece.Kit]
		if k != nil && w.Loans[k.Loan].Open() {
			call = append(call, v.affectedPiece(w, piece, reprocess.AffectedItem{Text: "its serial"}))
		}
		if !reprocess.HeldFor(piece, seq) {
			open = append(open, ruledLine{Words: pieceWords(w, piece.ID), To: pieceURL(w, piece.ID),
				Notes: []string{"Not on hold for this warning: decided, or found since."}})
		}
	}
	p.list("Call: pieces that are out", "None is out.", call...)
	var touched []ruledLine
	for _, r := range reprocess.Reach(w, a.LotIDs()...) {
		if r.Place == reprocess.ReachedOut {
			touched = append(touched, v.reachLine(w, r))
		}
	}
	if len(a.LotIDs()) > 0 {
		p.listOnce("Call: kits out that these lots touched", "None is out.", touched...)
	}
	if len(open) > 0 {
		p.list("Not on hold", "", open...)
		f := &form{To: fmt.Sprintf("/affected/%d", seq), Act: "Hold these too"}
		f.field(SignField())
		p.form(f)
	}
	v.affectedLists(p, w, a)
	return p
}

// holdAgain holds what a kept list names and what is not held: registered since, or failed.
func holdAgain(v *Visit) error {
	seq, n, w, a, err := v.warning()
	if err != nil {
		return err
	}
	actor, err := v.Sign()
	if err != nil {
		return v.Refuse(err, v.warningAsItStands(seq, n, w, a))
	}
	if err := v.holdWarned(w, a, seq, n.Ref, actor); err != nil {
		return err
	}
	return v.Went(fmt.Sprintf("/affected/%d", seq), "They are on hold.")
}

// showWarnings lists the kept lists, the newest first.
func showWarnings(v *Visit) error {
	list, err := v.Store().Entries(v.Context(), sqlite.Filter{Act: reprocess.ActWarning,
		Result: reprocess.ResultDone}, 0, 100)
	if err != nil {
		return err
	}
	p := titledOffice("Which warnings were kept?")
	var rows []ruledLine
	for _, e := range list {
		for _, box := range e.Events {
			if noted, ok := box.Event.(reprocess.WarningNoted); ok {
				rows = append(rows, ruledLine{To: fmt.Sprintf("/affected/%d", e.Seq), Words: noted.Ref,
					Notes: []string{v.moment(e.At) + " by " + e.Name}})
			}
		}
	}
	p.list("", "None yet.", rows...)
	p.act("/affected", "A new one")
	return v.Show(p)
}
