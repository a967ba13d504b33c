package web

import (
	"bytes"
	"fmt"
	"strconv"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// mostCSV is the largest file of kits taken over at once, in bytes.
const mostCSV = 2 << 20

func importPage(faults []reprocess.RowFault) *officePage {
	p := titledOffice("Which kits are taken over?",
		fmt.Sprintf("A table saved as CSV in UTF-8, one kit a line, at most %d. Either every line "+
			"is taken over or none.", reprocess.MostImportRows))
	if len(faults) > 0 {
		var rows []ruledLine
		for _, f := range faults[:min(len(faults), mostKits)] {
			rows = append(rows, ruledLine{Words: faultWords(f), Notes: []string{f.Fix}})
		}
		p.list(fmt.Sprintf("%d %s; nothing was taken over", len(faults),
			oneOrMany(len(faults), "fault", "faults")), "", rows...)
	}
	f := &form{To: "/kits/import", Act: "Take them over", File: true}
	file := Field{Name: "file", Label: "File", Kind: "file", Required: true}
	f.field(file)
	p.form(f)
	var columns []ruledLine
	for _, c := range reprocess.ImportColumns() {
		columns = append(columns, ruledLine{Words: c.Name, Notes: []string{c.Unit}})
	}
	p.list("Template", "", ruledLine{To: "/kits/template", Words: "Empty file with the columns",
		File: true})
	p.list("Columns", "", columns...)
	return p
}

func faultWords(f reprocess.RowFault) string {
	words := "Line " + strconv.Itoa(f.Row)
	if f.Column != "" {
		words += ", " + f.Column
	}
	return words + ": " + f.Text
}

func showImport(v *Visit) error { return v.Show(importPage(nil)) }

func kitsTemplate(v *Visit) error {
	return v.Download("kits.csv", "text/csv; charset=utf-8", reprocess.ImportTemplate())
}

// importKits tries the whole file first; only a file without any fault is committed.
func importKits(v *Visit) error {
	content, _, err := v.File("file")
	if err != nil {
		return err
	}
	w, err := v.Store().Everything(v.Context())
	if err != nil {
		return err
	}
	kits, faults := reprocess.ParseKitsCSV(bytes.NewReader(content), w, v.Now)
	if len(faults) > 0 {
		return v.Refuse(&reprocess.Problem{Code: reprocess.Invalid, Rule: "file",
			Text: "Nothing was taken over.", Fix: "Correct the lines below and send the file again."},
			importPage(faults))
	}
	out, err := v.commitKits(kits)
	if err != nil {
		return err
	}
	return v.Went("/kits", fmt.Sprintf("%d %s taken over, %d of them out.", len(kits),
		oneOrMany(len(kits), "kit is", "kits are"), out))
}

// commitKits gives each wearer's reference its token and has every kit registered under a key
// of its own, so that a form sent twice counts once.
func (v *Visit) commitKits(kits []reprocess.RegisterKit) (out int, err error) {
	var tokens []string
	requests := make([]sqlite.Request, len(kits))
	for i, k := range kits {
		if k.Opening != nil && k.Opening.Out != "" {
			out++
		}
		if k.Opening != nil && k.Opening.Wearer != "" {
			token, err := v.Store().WearerToken(v.Context(), k.Opening.Wearer)
			if err != nil {
				return 0, v.forget(tokens, err)
			}
			tokens, k.Opening.Wearer = append(tokens, token), token
		}
		requests[i] = sqlite.Request{Cmd: k, Actor: v.Actor(), Key: v.rowKey(i), PhoneAt: v.PhoneAt()}
	}
	answers, err := v.Store().DoMany(v.Context(), requests)
	if err != nil {
		return 0, err
	}
	for i, a := range answers {
		if a.Problem != nil {
			return 0, v.forget(tokens, &reprocess.Problem{Code: a.Problem.Code, Rule: a.Problem.Rule,
				Text: fmt.Sprintf("Kit %s was not taken over: %s", kits[i].Number, a.Problem.Text),
				Fix:  "Somebody registered kits meanwhile. Look at the list, then send the rest."})
		}
	}
	return out, v.forget(tokens, nil)
}

// rowKey is the idempotency key of one line, from the form's.
func (v *Visit) rowKey(i int) string {
	if v.Key() == "" {
		return ""
	}
	return v.Key() + "-" + strconv.Itoa(i)
}

// forget drops links of wearers that no loan carries.
func (v *Visit) forget(tokens []string, because error) error {
	for _, token := range tokens {
		loans, err := v.Store().LoansOfWearer(v.Context(), token)
		if err != nil || len(loans) > 0 {
			continue
		}
		if err := v.Store().DropWearer(v.Context(), token); err != nil {
			v.server.log.Error("forgetting an unused wearer link", "id", v.id, "err", err.Error())
		}
	}
	return because
}
