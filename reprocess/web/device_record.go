package web

import (
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

func samplePapers() Page {
	return &papersPage{Base: Titled("Which paper about kit 17?"), ID: "K18", Number: "17", Records: true,
		Declarations: []link{{To: "/kit/K18/papers/9/declaration.pdf", Words: "Declaration for repair",
			Note: "of 24 Nov 2026"}}, Asked: TextField("asked", "Who asked for it", ""),
		Piece: Choices{Name: "piece", Legend: "Device record of", Options: []Choice{{Value: "P1",
			Words: "Kit 17, recorder 1234"}}}, Paper: paperPick("")}
}
