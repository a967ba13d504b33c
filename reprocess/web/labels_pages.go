package web

import (
	"crypto/rand"
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// mostKitsPrinted bounds one sheet job, so that its address stays short.
const mostKitsPrinted = 200

func showLabels(v *Visit) error {
	without, err := v.Store().Unlabelled(v.Context())
	if err != nil {
		return err
	}
	last, err := v.Store().LastBlank(v.Context())
	if err != nil {
		return err
	}
	p := titledOffice("What is printed?")
	rows := []ruledLine{
		{To: "/labels/kits", Words: "Labels for kits", Notes: []string{fmt.Sprintf(
			"%d %s without a label on some piece", len(without.Kits),
			oneOrMany(len(without.Kits), "kit is", "kits are"))}},
		{To: "/labels/blanks", Words: "Blank stickers, to be bound by scanning",
			Notes: []string{lastBlankWords(last)}},
		{To: "/supplies", Words: "Label of a container",
			Notes: []string{"on the container's own page"}}}
	p.list("", "", rows...)
	if fit, err := (labels.Style{Base: v.server.cfg.BaseURL}).Fit(); err == nil && fit.Small {
		p.Lead = []string{smallWords(fit)}
	}
	p.list("Printed on every label", "", ruledLine{Words: v.server.cfg.BaseURL.String(),
		Notes: []string{"the address this server is configured with; labels stay for years"}})
	return v.Show(p)
}

func lastBlankWords(last int) string {
	if last == 0 {
		return "none was printed yet"
	}
	return "the last one was no. " + strconv.Itoa(last)
}

func smallWords(f labels.Fit) string {
	return (&labels.SmallModule{Fit: f}).Error()
}

// showLabelKits offers kits to be ticked, those without labels first.
func showLabelKits(v *Visit) error {
	page, err := v.labelKitsPage(nil)
	if err != nil {
		return err
	}
	return v.Show(page)
}

func (v *Visit) labelKitsPage(picked []string) (*officePage, error) {
	without, err := v.Store().Unlabelled(v.Context())
	if err != nil {
		return nil, err
	}
	w, err := v.Store().AllKits(v.Context())
	if err != nil {
		return nil, err
	}
	if picked == nil {
		for id := range without.Kits {
			picked = append(picked, id)
		}
	}
	p := titledOffice("Labels for which kits?",
		"A piece without a label gets its first one. Nothing is withdrawn here.")
	text := v.Query("find")
	find := &form{To: "/labels/kits", Act: "Find", Get: true, Small: true}
	find.text("find", "Number or serial", text, "Empty shows all")
	p.form(find)
	var options []Choice
	for _, fresh := range []bool{true, false} {
		for _, k := range kitsWhere(w, func(k *reprocess.Kit) bool {
			return !k.Retired && matches(w, k, text) && (without.Kits[k.ID] != nil) == fresh
		}) {
			note := "has its labels"
			if fresh {
				note = "has a piece without a label"
			}
			options = append(options, Choice{Value: k.ID, Words: "Kit " + k.Number, Note: note})
		}
	}
	if len(options) == 0 {
		p.Lead = append(p.Lead, "No kit has that number or serial.")
		return p, nil
	}
	f := &form{To: "/labels/kits", Act: "Labels for these kits"}
	f.many("kits", "Kits", "", picked, options[:min(len(options), mostKitsPrinted)]...)
	p.form(f)
	return p, nil
}

// labelKits issues the labels that are missing, then leads to printing.
func labelKits(v *Visit) error {
	ids := v.Fields("kits")
	if len(ids) == 0 || len(ids) > mostKitsPrinted {
		page, err := v.labelKitsPage(ids)
		if err != nil {
			return err
		}
		return v.Refuse(&reprocess.Problem{Code: reprocess.Invalid, Rule: "kits",
			Text: fmt.Sprintf("%d kits are chosen.", len(ids)),
			Fix:  fmt.Sprintf("Choose 1 to %d.", mostKitsPrinted)}, page)
	}
	w, err := v.Store().AllKits(v.Context())
	if err != nil {
		return err
	}
	for _, id := range ids {
		if w.Kits[id] == nil {
			return notFound("kit")
		}
		for _, piece := range w.Kits[id].Pieces {
			if err := v.firstLabel(id, piece); err != nil {
				return err
			}
		}
	}
	return v.Went("/labels/print?kits="+url.QueryEscape(strings.Join(ids, ",")), "")
}

// firstLabel issues a label to a piece that has none in force.
func (v *Visit) firstLabel(kit, piece string) error {
	now, err := v.inForce(piece)
	if err != nil || now != nil {
		return err
	}
	code, err := labels.NewCode(rand.Reader)
	if err != nil {
		return err
	}
	_, err = v.Store().Do(v.Context(), sqlite.Request{Actor: v.Actor(), PhoneAt: v.PhoneAt(),
		Cmd: reprocess.Reissue{Kit: kit, Kind: reprocess.CodePiece, Target: piece,
			Code: string(code), Reason: "first label"}})
	return err
}

// inForce is the label of a piece, container or slip that counts, nil when there is none.
func (v *Visit) inForce(target string) (*reprocess.Label, error) {
	all, err := v.Store().LabelsOf(v.Context(), target)
	if err != nil {
		return nil, err
	}
	for _, l := range all {
		if l.Withdrawn == 0 {
			return l, nil
		}
	}
	return nil, nil
}

func blanksPage(last int, count string) *officePage {
	p := titledOffice("How many blank stickers?", "They are numbered on, from "+
		strconv.Itoa(last+1)+". Each is bound to a container or a piece by scanning it.")
	f := &form{To: "/labels/blanks", Act: "Make them"}
	n := TextField("count", "Stickers", count)
	n.Keys, n.Required, n.Hint = "numeric", true, "1 to 200"
	f.field(n)
	p.form(f)
	again := &form{Heading: "Print some again", To: "/labels/print", Act: "Print again",
		Get: true, Small: true}
	again.text("first", "From number", "", "Those that are still blank")
	again.text("last", "To number", "", "")
	p.form(again)
	return p
}

func showBlanks(v *Visit) error {
	last, err := v.Store().LastBlank(v.Context())
	if err != nil {
		return err
	}
	return v.Show(blanksPage(last, "65"))
}

func makeBlanks(v *Visit) error {
	last, err := v.Store().LastBlank(v.Context())
	if err != nil {
		return err
	}
	page := blanksPage(last, v.Field("count"))
	t := v.typing()
	count := t.whole("count", "Stickers")
	if last+count > labels.MostNumber {
		t.bad("count", "Ask for fewer, or use up what is printed.", fmt.Sprintf(
			"Stickers are numbered up to %d, and %d are used.", labels.MostNumber, last))
	}
	if count < 1 || count > 200 {
		t.bad("count", "Type 1 to 200.", "So many stickers cannot be made at once.")
	}
	if err := t.err(); err != nil {
		return v.Refuse(err, page)
	}
	cmd := reprocess.IssueBlanks{First: last + 1}
	for range count {
		code, err := labels.NewCode(rand.Reader)
		if err != nil {
			return err
		}
		cmd.Codes = append(cmd.Codes, string(code))
	}
	e, err := v.Do(cmd)
	if err != nil {
		return v.Refuse(err, page)
	}
	first, last := blankRange(e)
	return v.Went(fmt.Sprintf("/labels/print?first=%d&last=%d", first, last),
		fmt.Sprintf("Stickers %d to %d are made.", first, last))
}

// blankRange reads the numbers that an entry issued, so that a form sent twice prints the same.
func blankRange(e *reprocess.Entry) (first, last int) {
	for _, box := range e.Events {
		if made, ok := box.Event.(reprocess.LabelIssued); ok {
			n, _ := strconv.Atoi(made.Number) // written by us
			if first == 0 {
				first = n
			}
			last = n
		}
	}
	return first, last
}
