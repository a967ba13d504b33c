package web

import (
	"strconv"
	"time"

	"handback/labels"
	"handback/reprocess"
)

// slipSheet is the slip as a page for paper: what the PDF says, on A4, A5 or Letter.
type slipSheet struct {
	Base
	Head, Kit string
	QR        qrPicture
	Contents  []Term
	Changes   []slipDates
	Bring     string // heading of the last day
	Last      string
	AskUs     string
	Caution   []string
	Released  string
	NotProof  string
	Back      string
}

// slipDates is one thing to change, with the days in words.
type slipDates struct {
	Heading string
	Days    []string
}

// slipRows are the rows of the slip's page and file. Printing needs no right to give a code:
// after a longer loan the counter prints it anew.
func slipRoutes() []Route {
	readers := acts(reprocess.ActLabelBind, reprocess.ActExtend)
	return []Route{
		office(get, "/labels/slip/:id", readers, showSlip),
		office(post, "/labels/slip/:id", slipWho(), makeSlip),
		office(get, "/labels/slip/:id/slip.pdf", readers, slipFile),
		{Method: get, Path: "/labels/slip/:id/print", Who: readers, Page: "slip", Sample: sampleSlip,
			Handle: showSlipSheet},
	}
}

func showSlipSheet(v *Visit) error {
	k, w, code, err := v.codedKit()
	if err != nil {
		return err
	}
	slip, err := v.slipOf(k, w, code, v.Query("due"))
	if err != nil {
		return asInvalid(err)
	}
	small := slip // the code is the one of the file, whose rows are fewer
	small.Contents = fitContents(slip.Contents)
	modules, err := labels.SlipSymbol(small, labels.Style{Base: v.server.cfg.BaseURL})
	if err != nil {
		return asInvalid(err)
	}
	p := slipSheetOf(slip, modules)
	p.Back = "/labels/slip/" + k.ID + "?due=" + v.Query("due")
	return v.Show(p)
}

// slipSheetOf puts a slip on the page; every word of it is the slip's own.
func slipSheetOf(s labels.Slip, modules [][]bool) *slipSheet {
	p := &slipSheet{Base: Titled(labels.SlipHead + ": kit " + s.Kit), Head: labels.SlipHead,
		Kit: "Kit " + s.Kit, QR: qrOf(modules), Bring: labels.SlipBringBack,
		Last: labels.SlipDay(s.BringBack), AskUs: s.AskUs, Caution: s.Caution(),
		Released: s.ReleasedLine(), NotProof: labels.SlipNotProof}
	p.OwnHeading = true
	for _, item := range s.Contents {
		p.Contents = append(p.Contents, Term{item.Name, strconv.Itoa(item.Count)})
	}
	for _, c := range s.Changes() {
		d := slipDates{Heading: c.Heading}
		for _, day := range c.Days {
			d.Days = append(d.Days, labels.SlipDay(day))
		}
		p.Changes = append(p.Changes, d)
	}
	return p
}

func sampleSlip() Page {
	day := time.Date(2026, 11, 24, 14, 5, 0, 0, time.UTC)
	p := slipSheetOf(labels.Slip{Kit: "17", Contents: []labels.Item{{Name: "Recorder", Count: 1}},
		Electrodes: []time.Time{day.AddDate(0, 0, 3)}, BringBack: day.AddDate(0, 0, 14),
		AskUs: "555 0100", CoinCells: true, Released: day}, [][]bool{{true, false}, {true, true}})
	p.Back = "/labels/slip/K1"
	return p
}
