package web

import (
	"crypto/rand"
	"fmt"
	"net/url"
	"strings"
	"time"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/wear"
)

// slipPage asks what the record does not know yet, and leads to the file once the slip has a
// code.
func slipPage(k *reprocess.Kit, due, paper, file string) *officePage {
	p := titledOffice("When is kit "+k.Number+" to come back?",
		"The slip lies in the bag: contents, days, whom to ask. It never carries a name.")
	if file != "" {
		p.list("Ready", "", ruledLine{To: file, Words: "Slip of kit " + k.Number + " as PDF",
			File: true})
	}
	f := &form{To: "/labels/slip/" + k.ID, Act: "Make the slip"}
	f.day("due", "Bring everything back by", reprocess.Date(due), "The last day")
	f.one("paper", "Paper", orText(paper, string(labels.A4)),
		Choice{Value: string(labels.A4), Words: "A4"},
		Choice{Value: string(labels.Letter), Words: "Letter"})
	p.form(f)
	p.act("/kit/"+k.ID, "Back to the kit")
	return p
}

func showSlip(v *Visit) error {
	k, w, err := v.kitWorld()
	if err != nil {
		return err
	}
	due, paper := v.Query("due"), v.Query("paper")
	if l := w.Loans[k.Loan]; due == "" && l.Open() {
		due = string(l.Due)
	}
	code, err := v.inForce(k.ID)
	if err != nil {
		return err
	}
	file := ""
	if code != nil && v.Query("due") != "" {
		file = "/labels/slip/" + k.ID + "/slip.pdf?" +
			url.Values{"due": {due}, "paper": {paper}}.Encode()
	}
	return v.Show(slipPage(k, due, paper, file))
}

// makeSlip gives the kit's slip a code, once, and leads to the file when all that stands on it
// is known.
func makeSlip(v *Visit) error {
	k, w, err := v.kitWorld()
	if err != nil {
		return err
	}
	due, paper := v.Field("due"), v.Field("paper")
	page := slipPage(k, due, paper, "")
	code, err := v.inForce(k.ID)
	if err != nil {
		return err
	}
	fresh, err := labels.NewCode(rand.Reader)
	if err != nil {
		return err
	}
	if code != nil {
		fresh = labels.Code(code.Code)
	}
	if _, err := v.slipPDF(k, w, fresh, due, paper); err != nil {
		return v.Refuse(asInvalid(err), page)
	}
	if code == nil {
		cmd := reprocess.Reissue{Kit: k.ID, Kind: reprocess.CodeSlip, Target: k.ID,
			Code: string(fresh), Reason: "slip"}
		if _, err := v.Do(cmd); err != nil {
			return v.Refuse(err, page)
		}
	}
	return v.Went("/labels/slip/"+k.ID+"?"+url.Values{"due": {due}, "paper": {paper}}.Encode(),
		"The slip is ready.")
}

func slipFile(v *Visit) error {
	k, w, err := v.kitWorld()
	if err != nil {
		return err
	}
	code, err := v.inForce(k.ID)
	if err != nil {
		return err
	}
	if code == nil {
		return notFound("slip")
	}
	content, err := v.slipPDF(k, w, labels.Code(code.Code), v.Query("due"), v.Query("paper"))
	if err != nil {
		return asInvalid(err)
	}
	return v.Download("slip-"+strings.ToLower(k.Number)+".pdf", "application/pdf", content)
}

func (v *Visit) slipPDF(k *reprocess.Kit, w *reprocess.World, code labels.Code,
	due, paper string) ([]byte, error) {
	day, err := reprocess.ParseDate(due)
	if err != nil {
		return nil, err
	}
	slip := labels.Slip{Kit: k.Number, Code: code, Contents: contentsOf(w, k),
		BringBack: dayTime(day), AskUs: askUs(w.Settings)}
	if r := k.Release; r != nil {
		slip.Released = v.local(r.At)
		if r.Until != 0 {
			slip.Until = v.local(r.Until.Add(-time.Millisecond)) // the last day, not the first after
		}
		slip.Battery = v.batteryDays(w, k, day)
		slip.CoinCells = coinCells(w, r)
		planSlip(&slip, w, k, v.slipBegin(w, k), day)
		slip.Cycle = cycleWords(w, k, r)
	}
	return labels.SlipPDF([]labels.Slip{slip}, labels.Paper(paper),
		labels.Style{Base: v.server.cfg.BaseURL}, v.Now.UTC.Time())
}

// local is a moment in the zone of the clinic.
func (v *Visit) local(i reprocess.Instant) time.Time {
	if v.Now.Zone == nil {
		return i.Time()
	}
	return i.Time().In(v.Now.Zone)
}

func askUs(s reprocess.Settings) string {
	if s.Contact == "" || s.Hours == "" {
		return s.Contact
	}
	return s.Contact + ", " + s.Hours
}

// contentsOf lists what is in the bag: pieces and the parts that travel with their models.
func contentsOf(w *reprocess.World, k *reprocess.Kit) []labels.Item {
	var items, parts []labels.Item
	for _, id := range k.Pieces {
		piece := w.Pieces[id]
		if piece == nil {
			continue
		}
		name := strings.ToUpper(string(piece.Kind[:1])) + string(piece.Kind[1:])
		items = append(items, labels.Item{Name: name, Count: 1})
		if m := w.Models[piece.Model]; m != nil {
			for _, part := range m.Parts {
				parts = append(parts, labels.Item{Name: strings.ToUpper(part[:1]) + part[1:], Count: 1})
			}
		}
	}
	return append(items, parts...)
}

// batteryDays are the days on which the cell is changed, as far as the record knows how long
// one lasts.
func (v *Visit) batteryDays(w *reprocess.World, k *reprocess.Kit, back reprocess.Date) []time.Time {
	var days []time.Time
	for _, d := range reprocess.CellChanges(v.slipBegin(w, k), back, k.Release.CellDays) {
		days = append(days, dayTime(d))
	}
	return days
}

// slipBegin is the day of the hand-out, today while it is still here.
func (v *Visit) slipBegin(w *reprocess.World, k *reprocess.Kit) reprocess.Date {
	if l := w.Loans[k.Loan]; l.Open() && l.Out != 0 {
		return reprocess.DateIn(l.Out, v.Now.Zone)
	}
	return v.today()
}

// coinCells tells whether a cell behind the release is one that children swallow.
func coinCells(w *reprocess.World, r *reprocess.Release) bool {
	for _, id := range r.Lots {
		if l := w.Lots[id]; l != nil && l.Kind == reprocess.LotCells {
			if cell, err := wear.CellOf(l.Name); err == nil && cell.SwallowCaution() {
				return true
			}
		}
	}
	return false
}

// cycleWords names the recorder's cycle behind the release, such as 17-0042.
func cycleWords(w *reprocess.World, k *reprocess.Kit, r *reprocess.Release) string {
	for _, line := range r.Cycles {
		piece, cycle := w.Pieces[line.Piece], w.Cycles[line.Cycle]
		if piece != nil && cycle != nil && piece.Kind == reprocess.Recorder {
			return fmt.Sprintf("%s-%04d", k.Number, cycle.Number)
		}
	}
	return ""
}
