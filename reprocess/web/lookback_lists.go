package web

import (
	"fmt"
	"strings"

	"handback/reprocess"
	"handback/reprocess/export"
	"handback/reprocess/lookback"
)

// describe turns the answer into lists, what is to be done first. No row is ever left out: what
// the record does not know by name stands there by its id.
func (v *Visit) describe(r lookback.Result, p *lookBackPage) error {
	var refs []reprocess.Ref
	add := func(t reprocess.Table, ids ...string) {
		for _, id := range ids {
			refs = append(refs, reprocess.Ref{Table: t, ID: id})
		}
	}
	for _, list := range [][]string{r.Caught, r.Recall, r.Embargo, r.Restart} {
		add(reprocess.TablePiece, list...)
	}
	for _, list := range [][]string{r.Exposed, r.Unreleased, r.Unbounded, r.Unresolved} {
		add(reprocess.TableLoan, list...)
	}
	for _, sources := range r.Sources {
		add(reprocess.TableLoan, sources...)
	}
	add(reprocess.TableLot, r.Batches...)
	add(reprocess.TableCycle, r.Cycles...)
	add(reprocess.TableCycle, r.Unresolved...)
	for _, id := range append(append([]string{}, r.Cycles...), r.Unresolved...) {
		if piece, ok := strings.CutPrefix(id, export.TakenOver); ok {
			add(reprocess.TablePiece, piece)
		}
		for _, begins := range []string{export.AtHandOut, export.Electrodes} {
			if loan, ok := strings.CutPrefix(id, begins); ok {
				add(reprocess.TableLoan, loan)
			}
		}
	}
	w, err := v.Store().Named(v.Context(), refs...)
	if err != nil {
		return err
	}
	p.Lists = v.lookBackLists(w, r)
	return nil
}

func (v *Visit) lookBackLists(w *reprocess.World, r lookback.Result) []lookBackList {
	pieces := func(ids []string) []link {
		var rows []link
		for _, id := range ids {
			rows = append(rows, link{To: pieceURL(w, id), Words: pieceWords(w, id)})
		}
		return rows
	}
	of := func(ids []string, row func(*reprocess.World, string) link) []link {
		var rows []link
		for _, id := range ids {
			rows = append(rows, row(w, id))
		}
		return rows
	}
	lists := []lookBackList{
		{"Call back", "With a wearer now, and the last release is affected.", "None.",
			pieces(r.Recall)},
		{"Stop", "On the shelf, and the last release is affected.", "None.", pieces(r.Embargo)},
		{"Start again", "Being reprocessed, and the running cycle is affected.", "None.",
			pieces(r.Restart)},
		{"Went out without a release", "There is no release before these loans.", "None.",
			of(r.Unreleased, v.loanRow)},
		{"Cannot be placed", "The record does not say enough. Look for the paper.", "None.",
			of(r.Unresolved, v.anyRow)},
		{"Exposed loans, with the loans before them since the last good cycle", "", "None.",
			v.exposed(w, r)},
		{"Affected cycles", "", "None.", of(r.Cycles, v.cycleRow)},
		{"Caught before a release", "Their affected cycle was never released.", "None.",
			pieces(r.Caught)}}
	if len(r.Batches) > 0 {
		lists = append(lists, lookBackList{"Prepared here from it",
			"These batches were counted with it.", "None.", of(r.Batches, batchRow)})
	}
	return lists
}

func batchRow(w *reprocess.World, id string) link {
	if l := w.Lots[id]; l != nil {
		return link{To: "/lot/" + id, Words: "Batch " + l.Number}
	}
	return link{Words: "Batch " + id}
}

// exposed lists each exposed loan with its sources.
func (v *Visit) exposed(w *reprocess.World, r lookback.Result) []link {
	unbounded := map[string]bool{}
	for _, id := range r.Unbounded {
		unbounded[id] = true
	}
	var rows []link
	for _, id := range r.Exposed {
		row := v.loanRow(w, id)
		var before []string
		for _, source := range r.Sources[id] {
			before = append(before, v.loanRow(w, source).Words)
		}
		switch {
		case len(before) == 0:
			row.Note += "; no loan before it"
		default:
			row.Note += "; before it: " + strings.Join(before, "; ")
		}
		if unbounded[id] {
			row.Note += "; no good cycle is known before it"
		}
		row.Note = strings.TrimPrefix(row.Note, "; ")
		rows = append(rows, row)
	}
	return rows
}

func pieceWords(w *reprocess.World, id string) string {
	p := w.Pieces[id]
	if p == nil {
		return "Piece " + id
	}
	words := capital(string(p.Kind)) + " " + p.Serial
	if number := kitNumber(w, p.Kit); number != "" {
		words = capital(number) + ", " + string(p.Kind) + " " + p.Serial
	}
	return words
}

func pieceURL(w *reprocess.World, id string) string {
	if p := w.Pieces[id]; p != nil && w.Kits[p.Kit] != nil {
		return "/kit/" + p.Kit
	}
	return ""
}

// loanRow says a loan without its wearer.
func (v *Visit) loanRow(w *reprocess.World, id string) link {
	l := w.Loans[id]
	if l == nil {
		return link{Words: "Loan " + id}
	}
	row := link{To: "/kit/" + l.Kit + "/history",
		Words: fmt.Sprintf("Loan %s, %s", id, kitNumber(w, l.Kit))}
	row.Words += ", out " + reprocess.Clock(l.Out, v.Now.Zone)
	if l.Back != 0 {
		row.Words += ", back " + reprocess.Clock(l.Back, v.Now.Zone)
	} else {
		row.Words += ", still out"
	}
	if l.Ward != "" {
		row.Words += ", on " + l.Ward
	}
	if l.ByWard() {
		row.Note = "wearers on the ward are not all recorded; ask it"
	}
	return row
}

func (v *Visit) cycleRow(w *reprocess.World, id string) link {
	c := w.Cycles[id]
	if piece, ok := strings.CutPrefix(id, export.TakenOver); ok {
		return link{To: pieceURL(w, piece), Words: pieceWords(w, piece),
			Note: "was ready on paper before this log began"}
	}
	if loan, ok := strings.CutPrefix(id, export.Electrodes); ok {
		row := v.loanRow(w, loan)
		if l := w.Loans[loan]; l != nil && l.Pads == "" {
			row.Note = "which electrodes went along is not recorded"
		} else if l != nil {
			row.Note = "electrodes of this lot went along"
		}
		return row
	}
	if loan, ok := strings.CutPrefix(id, export.AtHandOut); ok {
		row := v.loanRow(w, loan)
		row.Note = "a cell was fitted at this hand-out"
		return row
	}
	if c == nil {
		return link{Words: "Cycle " + id}
	}
	row := link{To: "/kit/" + c.Kit + "/history",
		Words: fmt.Sprintf("%s, cycle %d", pieceWords(w, c.Piece), c.Number),
		Note:  "begun " + reprocess.Clock(c.Opened, v.Now.Zone)}
	switch {
	case c.End == reprocess.EndReleased:
		row.Note += ", released " + reprocess.Clock(c.Ended, v.Now.Zone)
	case c.Ended != 0:
		row.Note += ", broken off " + reprocess.Clock(c.Ended, v.Now.Zone)
	default:
		row.Note += ", not released"
	}
	return row
}

// anyRow is a cycle or a loan, whichever has that id.
func (v *Visit) anyRow(w *reprocess.World, id string) link {
	if w.Cycles[id] != nil || strings.HasPrefix(id, export.TakenOver) ||
		strings.HasPrefix(id, export.Electrodes) {
		return v.cycleRow(w, id)
	}
	return v.loanRow(w, id)
}

func sampleLookBack() Page {
	w := reprocess.NewWorld()
	p := lookBackForm(w, lookBackKeys{Lot: "E70"})
	p.Pieces = []link{{To: "/lookback?piece=P1", Words: "Kit 17, recorder 1234"}}
	p.Kept, p.Note = []Kept{{"lot", "E70"}}, TextField("note", "What happened", "")
	p.Secret = SignField()
	p.Answer, p.Asked, p.Counts = true, "lot E70", "1 cycle affected, 1 loan exposed."
	p.How = "Looked back by Ada Okafor."
	p.Lists = []lookBackList{{Heading: "Call back", About: "With a wearer now.", None: "None.",
		Rows: []link{{To: "/kit/K18", Words: "Kit 17, recorder 1234", Note: "before it: none"},
			{Words: "Piece P9"}}}, {Heading: "Stop", None: "None."}}
	return p
}
