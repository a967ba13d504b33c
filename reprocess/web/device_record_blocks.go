package web

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/report"
	"handback/reprocess/sqlite"
)

// deviceDocument is everything about one piece but who wore it.
func (v *Visit) deviceDocument(x *view, piece, asked string, e *reprocess.Entry) (
	d report.Document, err error) {
	p := x.w.Pieces[piece]
	if p == nil {
		return d, notFound("piece")
	}
	cycles, err := v.Store().CyclesOfPiece(v.Context(), piece, 5000)
	if err != nil {
		return d, err
	}
	slices.Reverse(cycles) // the oldest first, as paper is read
	d.Title = "Device record"
	d.Foot = "Device record, " + pieceWords(x.w, piece) + ", entry " + strconv.FormatInt(e.Seq, 10)
	d.Blocks = []report.Block{v.pieceTerms(x.w, p, asked, e)}
	unchanged, err := v.unchangedSince(piece, e)
	if err != nil {
		return d, err
	}
	d.Blocks = append(d.Blocks, report.Strong(unchanged))
	judged, err := v.judgedBlocks(piece, e)
	if err != nil {
		return d, err
	}
	loans, err := v.loanBlocks(p, cycles)
	if err != nil {
		return d, err
	}
	d.Blocks = append(append(d.Blocks, judged...), loans...)
	w, err := v.cycleWorld(cycles)
	if err != nil {
		return d, err
	}
	d.Blocks = append(d.Blocks, report.Heading("Cycles"))
	for _, c := range cycles {
		d.Blocks = append(d.Blocks, v.cycleBlocks(w, c, p.Model)...)
	}
	return d, nil
}

func (v *Visit) pieceTerms(w *reprocess.World, p *reprocess.Piece, asked string,
	e *reprocess.Entry) report.Terms {
	count := strconv.Itoa(p.Cycles)
	if p.AtLeast {
		count = "at least " + count + "; those before this log are not known"
	}
	terms := report.Terms{{Name: "Kind", Value: string(p.Kind)}, {Name: "Serial", Value: p.Serial}}
	if m := w.Models[p.Model]; m != nil {
		terms = append(terms, report.Term{Name: "Model", Value: m.Name})
		if m.CycleLimit > 0 {
			count += fmt.Sprintf("; the maker allows %d", m.CycleLimit)
		}
	}
	if p.UDI != "" {
		terms = append(terms, report.Term{Name: "Maker’s mark (UDI)", Value: p.UDI})
	}
	return append(terms, report.Term{Name: "Kit now", Value: numberOf(w, p.Kit)},
		report.Term{Name: "State now", Value: p.State.String()},
		report.Term{Name: "Cycles released", Value: count},
		report.Term{Name: "Clinic, site", Value: orNot(w.Settings.Clinic) + ", " + orNot(w.Settings.Site)},
		report.Term{Name: "Asked for by", Value: asked},
		report.Term{Name: "Made by", Value: fmt.Sprintf("%s, %s, entry %d", e.Name, v.zoned(e.At), e.Seq)})
}

func numberOf(w *reprocess.World, kit string) string {
	if k := w.Kits[kit]; k != nil {
		return k.Number
	}
	return "none"
}

// unchangedSince is the one line that says since when nothing was recorded about the piece, and
// how that was checked.
func (v *Visit) unchangedSince(piece string, e *reprocess.Entry) (string, error) {
	list, err := v.Store().Entries(v.Context(), sqlite.Filter{Result: reprocess.ResultDone,
		Ref: reprocess.Ref{Table: reprocess.TablePiece, ID: piece}}, e.Seq, 1)
	if err != nil || len(list) == 0 {
		return "Nothing is recorded about this device.", err
	}
	last := list[0]
	proof, err := v.Store().Proof(v.Context(), last.Seq)
	if err != nil {
		return "", err
	}
	words := fmt.Sprintf("Nothing was changed since %s (entry %d). ", v.zoned(last.At), last.Seq)
	if proof.Checkpoint.Size == 0 {
		return words + "No checkpoint covers that entry yet, so this is what the server says and no more.", nil
	}
	return words + fmt.Sprintf("Checked before printing: that entry leads to the root that was signed over %d "+
		"entries on %s, %s.", proof.Checkpoint.Size, v.zoned(proof.Checkpoint.At), proof.Checkpoint.Root), nil
}

// judgedBlocks are the holds, decisions and repairs of a piece, the oldest first.
func (v *Visit) judgedBlocks(piece string, e *reprocess.Entry) ([]report.Block, error) {
	list, err := v.Store().Entries(v.Context(), sqlite.Filter{Result: reprocess.ResultDone,
		Ref: reprocess.Ref{Table: reprocess.TablePiece, ID: piece}}, e.Seq, 20000)
	if err != nil {
		return nil, err
	}
	list = slices.DeleteFunc(list, func(e *reprocess.Entry) bool {
		return !hasEvent(e, func(ev reprocess.Event) bool {
			switch x := ev.(type) {
			case reprocess.Held:
				return x.Piece == piece
			case reprocess.HoldEnded:
				return x.Piece == piece
			case reprocess.PieceMoved:
				return x.Piece == piece
			case reprocess.StepRecorded:
				return x.Piece == piece && x.Record.Kind == reprocess.RecRepair
			}
			return false
		})
	})
	slices.Reverse(list)
	rows, err := v.trailRows(list)
	if err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		return []report.Block{report.Heading("Holds and repairs"), report.Text("None.")}, nil
	}
	t := report.Table{Head: []string{"Entry", "When", "What", "Who"}, Right: []bool{true}}
	for _, r := range rows {
		t.Rows = append(t.Rows, []string{r.Seq, r.When, strings.Join(r.Lines, " "), r.Who})
	}
	return []report.Block{report.Heading("Holds and repairs"), t}, nil
}

// loanBlocks are the loans the piece was part of, without the wearer.
func (v *Visit) loanBlocks(p *reprocess.Piece, cycles []*reprocess.Cycle) ([]report.Block, error) {
	kits, seen := []string{p.Kit}, map[string]bool{}
	for _, c := range cycles {
		kits = append(kits, c.Kit)
	}
	var loans []*reprocess.Loan
	for _, kit := range kits {
		if kit == "" || seen[kit] {
			continue
		}
		seen[kit] = true
		list, err := v.Store().LoansOfKit(v.Context(), kit, 5000)
		if err != nil {
			return nil, err
		}
		for _, l := range list {
			if slices.Contains(l.Pieces, p.ID) && !l.Undone {
				loans = append(loans, l)
			}
		}
	}
	slices.SortFunc(loans, func(a, b *reprocess.Loan) int {
		return cmp.Or(cmp.Compare(a.Out, b.Out), cmp.Compare(a.ID, b.ID))
	})
	blocks := []report.Block{report.Heading("Loans"),
		report.Text("Who wore it is not part of this record.")}
	t := report.Table{Head: []string{"Loan", "Out", "Back", "Days planned", "Remarks"},
		Right: []bool{false, false, false, true}}
	for _, l := range loans {
		back := reprocess.Clock(l.Back, v.Now.Zone)
		if l.Back == 0 {
			back = "still out"
		}
		t.Rows = append(t.Rows, []string{l.ID, reprocess.Clock(l.Out, v.Now.Zone), back,
			strconv.Itoa(l.Days), loanRemarks(l)})
	}
	if len(t.Rows) == 0 {
		return append(blocks, report.Text("None.")), nil
	}
	return append(blocks, t), nil
}

func loanRemarks(l *reprocess.Loan) string {
	var all []string
	if l.After {
		all = append(all, "entered after the fact")
	}
	if l.TakenOver {
		all = append(all, "taken over from paper")
	}
	if l.Return != nil && l.Return.Fault == "yes" {
		all = append(all, "fault told")
	}
	return strings.Join(all, ", ")
}

// cycleWorld is what the cycles name: lots, containers, procedures.
func (v *Visit) cycleWorld(cycles []*reprocess.Cycle) (*reprocess.World, error) {
	var refs []reprocess.Ref
	for _, c := range cycles {
		for _, r := range c.Records {
			for table, id := range map[reprocess.Table]string{reprocess.TableLot: r.Lot,
				reprocess.TableContainer: r.Container} {
				if id != "" {
					refs = append(refs, reprocess.Ref{Table: table, ID: id})
				}
			}
			if lot := r.Answered("cell"); lot != "" {
				refs = append(refs, reprocess.Ref{Table: reprocess.TableLot, ID: lot})
			}
		}
	}
	return v.Store().Named(v.Context(), refs...)
}

// cycleBlocks are one cycle with its records.
func (v *Visit) cycleBlocks(w *reprocess.World, c *reprocess.Cycle, model string) []report.Block {
	end := "not ended"
	switch {
	case c.End == reprocess.EndReleased:
		end = "released " + reprocess.Clock(c.Ended, v.Now.Zone) + " by " + nameIn(w, c.Releaser)
	case c.Ended > 0:
		end = "broken off " + reprocess.Clock(c.Ended, v.Now.Zone)
	}
	t := report.Table{Caption: fmt.Sprintf("Cycle %d, begun %s, %s, %s", c.Number,
		reprocess.Clock(c.Opened, v.Now.Zone), end, versionName(w, c.Procedure)),
		Head: []string{"Entry", "When", "What", "Lot", "Who"}, Right: []bool{true}}
	for _, r := range c.Records {
		what := sentence(recordWords(r))
		if r.Undone {
			what += " Taken back: tapped by mistake."
		}
		lot := ""
		for _, id := range []string{r.Lot, r.Answered("cell")} {
			if id != "" {
				lot = lotName(w, id, w.Lots[id])
			}
		}
		t.Rows = append(t.Rows, []string{strconv.FormatInt(r.Seq, 10),
			reprocess.Clock(r.Mark.At, v.Now.Zone), what, lot, r.Name})
	}
	if len(t.Rows) == 0 {
		return []report.Block{report.Strong(t.Caption), report.Text("Nothing was recorded in it.")}
	}
	return []report.Block{t, report.Text("Instructions for use: " +
		instructionFact(w, c, model, v.Now.UTC))}
}
