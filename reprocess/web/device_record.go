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

// papersPage leads to the papers about the pieces of a kit.
type papersPage struct {
	Base
	ID, Number   string
	Declarations []link
	Records      bool // the visitor may take a device record out
	Piece        Choices
	Asked        Field
	Paper        Pick
}

// paperWho prints declarations for repair: whoever sets pieces aside or takes records out.
func paperWho() Who { return acts(reprocess.ActAside, reprocess.ActExport) }

func showPapers(v *Visit) error {
	p, _, err := v.papersPage()
	if err != nil {
		return err
	}
	return v.Show(p)
}

func (v *Visit) papersPage() (*papersPage, *view, error) {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return nil, nil, err
	}
	p := &papersPage{Base: Titled("Which paper about kit " + x.k.Number + "?"), ID: x.k.ID,
		Number: x.k.Number, Records: v.may(reprocess.ActExport), Paper: paperPick(v.Field("paper")),
		Piece: Choices{Name: "piece", Legend: "Device record of", Required: true},
		Asked: TextField("asked", "Who asked for it", "")}
	p.Asked.Hint, p.Asked.Required = "A repairer, an inspector; up to 100 characters, no wearer", true
	for _, id := range x.k.Pieces {
		p.Piece.Options = append(p.Piece.Options, Choice{Value: id, Words: capital(pieceWords(x.w, id))})
		moved, err := v.sentToRepair(id)
		if err != nil {
			return nil, nil, err
		}
		for _, e := range moved {
			p.Declarations = append(p.Declarations, link{
				To:    fmt.Sprintf("/kit/%s/papers/%d/declaration.pdf", x.k.ID, e.Seq),
				Words: "Declaration for repair: " + pieceWords(x.w, id),
				Note:  "of " + reprocess.Clock(e.At, v.Now.Zone) + ", entry " + strconv.FormatInt(e.Seq, 10)})
		}
	}
	return p, x, nil
}

// sentToRepair finds the newest entries that sent a piece to repair, three at most.
func (v *Visit) sentToRepair(piece string) ([]*reprocess.Entry, error) {
	list, err := v.Store().Entries(v.Context(), sqlite.Filter{Act: reprocess.ActAside,
		Result: reprocess.ResultDone, Ref: reprocess.Ref{Table: reprocess.TablePiece, ID: piece}}, 0, 50)
	var found []*reprocess.Entry
	for _, e := range list {
		if len(found) < 3 && hasEvent(e, func(ev reprocess.Event) bool {
			m, ok := ev.(reprocess.PieceMoved)
			return ok && m.Piece == piece && m.State == reprocess.OutForRepair
		}) {
			found = append(found, e)
		}
	}
	return found, err
}

// recordScope says whose record is taken out and for whom.
func recordScope(w *reprocess.World, piece, asked string, paper report.Paper) string {
	return pieceWords(w, piece) + ", asked for by " + asked + ", " + string(paper)
}

func takeDeviceRecord(v *Visit) error {
	p, x, err := v.papersPage()
	if err != nil {
		return err
	}
	piece, asked := v.Field("piece"), strings.Join(strings.Fields(v.Field("asked")), " ")
	p.Piece, p.Asked.Value = p.Piece.Pick(piece), asked
	paper, err := reportPaper(v.Field("paper"))
	switch {
	case err != nil:
	case !slices.Contains(x.k.Pieces, piece):
		err = &reprocess.Problem{Code: reprocess.Invalid, Rule: "piece",
			Text: "The piece was not chosen.", Fix: "Choose one of the lines."}
	case asked == "" || len([]rune(asked)) > 100:
		err = &reprocess.Problem{Code: reprocess.Invalid, Rule: "asked",
			Text: "The record has to say who asked for it, in up to 100 characters.",
			Fix:  "Type the repairer or the inspector."}
	}
	var e *reprocess.Entry
	if err == nil {
		e, err = v.takeOut("device", recordScope(x.w, piece, asked, paper))
	}
	if err != nil {
		return v.Refuse(err, p)
	}
	return v.Went(trailFilter{}.address(fmt.Sprintf("/kit/%s/papers/%d/record.pdf", x.k.ID, e.Seq),
		"piece", piece, "asked", asked, "paper", string(paper)), "")
}

func deviceRecordFile(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	piece, asked := v.Query("piece"), v.Query("asked")
	paper, err := reportPaper(v.Query("paper"))
	if err != nil {
		return err
	}
	if !slices.Contains(x.k.Pieces, piece) {
		return notFound("piece in this kit")
	}
	e, err := v.taken("device", recordScope(x.w, piece, asked, paper))
	if err != nil {
		return err
	}
	d, err := v.deviceDocument(x, piece, asked, e)
	if err != nil {
		return err
	}
	pdf, err := report.PDF(d, paper, e.At.Time())
	if err != nil {
		return err
	}
	return v.pdf(fmt.Sprintf("device-record-%s-%d.pdf", reprocess.DateIn(e.At, v.Now.Zone), e.Seq), pdf)
}

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

// declarationFile is the declaration of contamination status that goes with a piece to repair:
// one of three, as it was declared in the entry.
func declarationFile(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	e, err := v.Store().Entry(v.Context(), trailNumber(v.Param("seq")))
	if err != nil {
		return missingEntry(err)
	}
	for _, b := range e.Events {
		m, ok := b.Event.(reprocess.PieceMoved)
		if ok && m.State == reprocess.OutForRepair && e.Kit == x.k.ID {
			paper, err := reportPaper(v.Query("paper"))
			if err != nil {
				return err
			}
			d, err := v.declaration(x, m, e)
			if err != nil {
				return err
			}
			pdf, err := report.PDF(d, paper, e.At.Time())
			if err != nil {
				return err
			}
			return v.pdf(fmt.Sprintf("declaration-%d.pdf", e.Seq), pdf)
		}
	}
	return notFound("declaration of this kit")
}

// declarations are the three, in the order of the form; exactly one is made.
var declarations = []struct{ id, words string }{
	{reprocess.NotExposed, "Not exposed: this device was never in use."},
	{reprocess.Decontaminated, "Exposed and decontaminated: cleaned and disinfected as recorded below."},
	{reprocess.StillContaminated, "Still contaminated: handle it as such; what is left is said below."}}

func (v *Visit) declaration(x *view, m reprocess.PieceMoved, e *reprocess.Entry) (
	d report.Document, err error) {
	id, reason, _ := strings.Cut(m.Reason, ": ")
	options := report.Options{Chosen: -1}
	for i, o := range declarations {
		options.Lines = append(options.Lines, o.words)
		if o.id == id {
			options.Chosen = i
		}
	}
	w, err := v.Store().Named(v.Context(), reprocess.Ref{Table: reprocess.TablePiece, ID: m.Piece})
	if err != nil {
		return d, err
	}
	p := w.Pieces[m.Piece]
	if p == nil || options.Chosen < 0 {
		return d, notFound("declaration of this kit")
	}
	d.Title = "Declaration of contamination status"
	d.Foot = fmt.Sprintf("Declaration, %s, entry %d", pieceWords(w, m.Piece), e.Seq)
	terms := report.Terms{{Name: "Device", Value: string(p.Kind)}, {Name: "Serial", Value: p.Serial}}
	if model := w.Models[p.Model]; model != nil {
		terms = append(terms, report.Term{Name: "Model", Value: model.Name})
	}
	terms = append(terms, report.Term{Name: "From", Value: orNot(w.Settings.Clinic) + ", " + orNot(w.Settings.Site)},
		report.Term{Name: "Ask", Value: orNot(w.Settings.Contact)},
		report.Term{Name: "Reason", Value: reason},
		report.Term{Name: "Declared by", Value: fmt.Sprintf("%s, %s, entry %d", e.Name, v.zoned(e.At), e.Seq)})
	d.Blocks = []report.Block{terms, report.Heading("Exactly one of these is declared"), options}
	if id == reprocess.Decontaminated {
		blocks, err := v.wipedBlocks(w, m.Piece, e)
		if err != nil {
			return d, err
		}
		d.Blocks = append(d.Blocks, blocks...)
	}
	d.Blocks = append(d.Blocks, report.Text("It says what was done and recorded here; whoever receives the device "+
		"still protects themselves as their own rules say."), report.Sign("Signed for the clinic"))
	return d, nil
}

// wipedBlocks are the disinfection that the declaration stands on: of the cycle that the entry
// broke off, or the newest one before it.
func (v *Visit) wipedBlocks(w *reprocess.World, piece string, e *reprocess.Entry) ([]report.Block, error) {
	cycles, err := v.Store().CyclesOfPiece(v.Context(), piece, 200)
	if err != nil {
		return nil, err
	}
	for _, c := range cycles {
		best, ok := c.Progress().Wet.Best()
		if c.Opened > e.At || !ok {
			continue
		}
		with, err := v.cycleWorld([]*reprocess.Cycle{c})
		if err != nil {
			return nil, err
		}
		var lots []string
		for _, id := range best.Lots {
			lots = append(lots, lotName(with, id, with.Lots[id]))
		}
		return []report.Block{report.Heading("The disinfection it stands on"), report.Terms{
			{Name: "Cycle", Value: strconv.Itoa(c.Number) + ", begun " + reprocess.Clock(c.Opened, v.Now.Zone)},
			{Name: "Disinfectant, lot", Value: strings.Join(lots, ", ")},
			{Name: "Wet", Value: fmt.Sprintf("%s from %s; needed %s", spoken(int(best.MS/1000)),
				reprocess.Clock(best.From.At, v.Now.Zone), spoken(best.NeededS))}}}, nil
	}
	return []report.Block{report.Text("No disinfection of this device is on record.")}, nil
}

func samplePapers() Page {
	return &papersPage{Base: Titled("Which paper about kit 17?"), ID: "K18", Number: "17", Records: true,
		Declarations: []link{{To: "/kit/K18/papers/9/declaration.pdf", Words: "Declaration for repair",
			Note: "of 24 Nov 2026"}}, Asked: TextField("asked", "Who asked for it", ""),
		Piece: Choices{Name: "piece", Legend: "Device record of", Options: []Choice{{Value: "P1",
			Words: "Kit 17, recorder 1234"}}}, Paper: paperPick("")}
}
