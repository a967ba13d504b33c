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

// slipPage asks what the record does not know yet, and leads to the paper once the slip has a
// code. Of a kit that is out the loan says the day, and only the loan.
func slipPage(k *reprocess.Kit, l *reprocess.Loan, due, paper string, ready bool) *officePage {
	p := titledOffice("When is kit "+k.Number+" to come back?",
		"The slip lies in the bag: contents, days, whom to ask. It never carries a name.")
	at := "/labels/slip/" + k.ID
	q := "?" + url.Values{"due": {due}, "paper": {orText(paper, string(labels.A4))}}.Encode()
	if ready {
		p.list("Ready", "", ruledLine{To: at + "/print" + q, Words: "Slip of kit " + k.Number +
			" as a page", Notes: []string{"to print on A4, A5 or Letter"}},
			ruledLine{To: at + "/slip.pdf" + q, Words: "Slip of kit " + k.Number + " as PDF", File: true})
	}
	f := &form{To: at, Act: "Make the slip"}
	if l.Open() && l.Due != "" {
		p.Title = "The slip of kit " + k.Number + ", due back " + reprocess.Day(l.Due)
		f.Kept = append(f.Kept, Kept{"due", string(l.Due)})
	} else {
		f.day("due", labels.SlipBringBack, reprocess.Date(due), "The last day")
	}
	f.one("paper", "Paper of the PDF", orText(paper, string(labels.A4)),
		Choice{Value: string(labels.A4), Words: "A4"},
		Choice{Value: string(labels.Letter), Words: "Letter"})
	p.form(f)
	return p
}

func showSlip(v *Visit) error {
	k, w, err := v.kitWorld()
	if err != nil {
		return err
	}
	due := v.Query("due")
	l := w.Loans[k.Loan]
	if l.Open() && l.Due != "" {
		due = string(l.Due)
	}
	code, err := v.inForce(k.ID)
	if err != nil {
		return err
	}
	page := slipPage(k, l, due, v.Query("paper"), code != nil && due != "")
	if code == nil && !slipWho().lets(v.Person) {
		page = titledOffice("Kit "+k.Number+" has no slip yet",
			"Whoever works at the bench makes the first one; after that it is printed here.")
	}
	page.act("/kit/"+k.ID, "Back to the kit")
	if l.Open() && acts(reprocess.ActReturn).lets(v.Person) {
		page.act(deskAt(k.ID)+"/loan", "Back to the loan")
	}
	return v.Show(page)
}

// makeSlip gives the kit's slip a code, once, and leads to the paper when all that stands on it
// is known.
func makeSlip(v *Visit) error {
	k, w, err := v.kitWorld()
	if err != nil {
		return err
	}
	due, paper := v.Field("due"), v.Field("paper")
	page := slipPage(k, w.Loans[k.Loan], due, paper, false)
	page.act("/kit/"+k.ID, "Back to the kit")
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

// codedKit is a kit with the code of its slip.
func (v *Visit) codedKit() (*reprocess.Kit, *reprocess.World, labels.Code, error) {
	k, w, err := v.kitWorld()
	if err != nil {
		return nil, nil, "", err
	}
	code, err := v.inForce(k.ID)
	if err == nil && code == nil {
		err = notFound("slip")
	}
	if err != nil {
		return nil, nil, "", err
	}
	return k, w, labels.Code(code.Code), nil
}

func slipFile(v *Visit) error {
	k, w, code, err := v.codedKit()
	if err != nil {
		return err
	}
	content, err := v.slipPDF(k, w, code, v.Query("due"), v.Query("paper"))
	if err != nil {
		return asInvalid(err)
	}
	return v.Download("slip-"+strings.ToLower(k.Number)+".pdf", "application/pdf", content)
}

func (v *Visit) slipPDF(k *reprocess.Kit, w *reprocess.World, code labels.Code,
	due, paper string) ([]byte, error) {
	slip, err := v.slipOf(k, w, code, due)
	if err != nil {
		return nil, err
	}
	slip.Contents = fitContents(slip.Contents)
	return labels.SlipPDF([]labels.Slip{slip}, labels.Paper(paper),
		labels.Style{Base: v.server.cfg.BaseURL}, v.Now.UTC.Time())
}

// slipOf is what stands on the slip, whatever it is printed as. A kit that is out has the days
// of its loan as they are now: an older address must not print the days of before.
func (v *Visit) slipOf(k *reprocess.Kit, w *reprocess.World, code labels.Code,
	due string) (labels.Slip, error) {
	day, err := reprocess.ParseDate(due)
	if err != nil {
		return labels.Slip{}, err
	}
	if l := w.Loans[k.Loan]; l.Open() && l.Due != "" && l.Due != day {
		return labels.Slip{}, &reprocess.Problem{Code: reprocess.Conflict, Rule: "other_due",
			Text: "Kit " + k.Number + " is due back on " + reprocess.Day(l.Due) + ", not on " +
				reprocess.Day(day) + ".", Fix: "Open its slip again, or change the days of the loan first."}
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
	return slip, nil
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
