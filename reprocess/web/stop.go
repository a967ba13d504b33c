package web

import (
	"slices"
	"strconv"
	"strings"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// stopAsk lists the lots that can be stopped, what stands open at the bench first: a tap on a
// lot and a tap on the reason stop it.
func stopAsk(v *Visit, w *reprocess.World, text string) *officePage {
	p := titledOffice("Which lot is stopped?", "A tap on the lot, then one on the reason; or at once, "+
		"and the reason afterwards. It stops for everybody; infection control or a supervisor lifts it.")
	open := map[string]bool{}
	var atBench []ruledLine
	for _, c := range openContainers(w) {
		l := w.Lots[c.Lot]
		if l == nil || l.Stopped != nil {
			continue
		}
		open[l.ID] = true
		atBench = append(atBench, ruledLine{To: stopAt(l), Words: containerWords(w, c),
			Notes: containerLine(w, c, v.today()).Notes, Taps: []tap{{To: stopAt(l),
				Words: "Stop it now, say why afterwards",
				Kept:  []Kept{{"reason", reprocess.StopReasonFollows}}}}})
	}
	p.list("Open at the bench", "Nothing is open.", atBench...)
	rest := func(heading string, want func(*reprocess.Lot) bool) {
		var rows []ruledLine
		for _, l := range lotsOf(w, want) {
			if l.Stopped == nil && l.Ended == 0 && !open[l.ID] {
				rows = append(rows, ruledLine{To: stopAt(l), Words: lotWords(w, l),
					Notes: []string{lotNote(l, v.today())}})
			}
		}
		if len(rows) > 0 {
			p.list(heading, "", rows...)
		}
	}
	rest("Cells and electrodes", func(l *reprocess.Lot) bool {
		return l.Kind != reprocess.LotDisinfectant
	})
	past := func(l *reprocess.Lot) bool { return l.Expiry != "" && l.Expiry < v.today() }
	rest("Not open", func(l *reprocess.Lot) bool {
		return l.Kind == reprocess.LotDisinfectant && !past(l)
	})
	code := CodeField("find", "Or scan its sticker", text)
	code.Hint = "The 17 letters, the number on the sticker, or the lot number as printed"
	code.Required, code.Scan = true, ScanSends
	f := &form{To: "/stop", Act: "Find it", Small: true}
	f.field(code)
	p.form(f)
	rest("Expired, not open", func(l *reprocess.Lot) bool {
		return l.Kind == reprocess.LotDisinfectant && past(l)
	})
	stoppedLots(p, w)
	if v.entitled(reprocess.ActWarning) {
		p.list("", "", ruledLine{To: "/affected", Words: "The maker sent a list of serials or lots"},
			ruledLine{To: "/affected/kept", Words: "Lists kept before"})
	}
	return p
}

func stopAt(l *reprocess.Lot) string { return "/lot/" + l.ID + "/stop" }

// stoppedLots lists what is stopped already, with where it went.
func stoppedLots(p *officePage, w *reprocess.World) {
	var rows []ruledLine
	for _, l := range lotsOf(w, func(l *reprocess.Lot) bool { return l.Stopped != nil }) {
		rows = append(rows, ruledLine{To: "/lot/" + l.ID + "/reach", Words: lotWords(w, l),
			Notes: []string{l.Stopped.Reason}})
		if l.Stopped.Reason == reprocess.StopReasonFollows {
			rows[len(rows)-1].To = stopAt(l)
		}
	}
	if len(rows) > 0 {
		p.list("Stopped already: which kits they touched", "", rows...)
	}
}

func showStop(v *Visit) error {
	w, err := v.stock()
	if err != nil {
		return err
	}
	return v.Show(stopAsk(v, w, ""))
}

// findToStop leads from a sticker or a printed number to the lot.
func findToStop(v *Visit) error {
	w, err := v.stock()
	if err != nil {
		return err
	}
	text := v.Field("find")
	found, err := v.lotsNamed(text)
	page := stopAsk(v, w, text)
	switch {
	case err != nil:
		return v.Refuse(err, page)
	case len(found) == 0:
		return v.Refuse(&reprocess.Problem{Code: reprocess.NotFound, Rule: "unknown",
			Text: "Nothing here has the number " + strconv.Quote(text) + ".",
			Fix:  "Choose the lot from the list."}, page)
	case len(found) == 1:
		if s := w.Lots[found[0]].Stopped; s != nil && s.Reason != reprocess.StopReasonFollows {
			return v.Went("/lot/"+found[0]+"/reach", "It is stopped already.")
		}
		return v.Went("/lot/"+found[0]+"/stop", "")
	}
	many := titledOffice("Which of these is stopped?")
	var rows []ruledLine
	for _, id := range found {
		rows = append(rows, ruledLine{To: "/lot/" + id + "/stop", Words: lotWords(w, w.Lots[id]),
			Notes: []string{lotNote(w.Lots[id], v.today())}})
	}
	many.list("", "", rows...)
	return v.Show(many)
}

// lotsNamed finds the lots that a label's code, a sticker's number or a printed lot number may
// mean.
func (v *Visit) lotsNamed(text string) ([]string, error) {
	var ids []string
	add := func(id string) {
		if id != "" && !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	if code, err := labels.Parse(text); err == nil {
		label, err := v.Store().LabelByCode(v.Context(), string(code))
		if err != nil || label.Kind != reprocess.CodeContainer {
			return nil, err
		}
		c, err := sqlite.Get[reprocess.Container](v.Context(), v.Store(), reprocess.TableContainer,
			label.Target)
		if err != nil {
			return nil, err
		}
		return []string{c.Lot}, nil
	}
	text = strings.Join(strings.Fields(text), " ")
	if text == "" {
		return nil, nil
	}
	boxes, err := v.Store().ContainersNumbered(v.Context(), text)
	if err != nil {
		return nil, err
	}
	for _, c := range boxes {
		add(c.Lot)
	}
	lots, err := v.Store().LotsNumbered(v.Context(), text)
	for _, l := range lots {
		add(l.ID)
	}
	return ids, err
}
