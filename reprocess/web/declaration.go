package web

import (
	"fmt"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/report"
)

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
