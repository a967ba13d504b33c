package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// repairActs send a piece off with its declaration, and record what is heard of it.
var repairActs = []smallAct{
	{path: "send-repair", act: reprocess.ActRepairSend,
		words: "Send a piece to repair", question: "What goes to repair, and how is it declared?",
		when: func(x *view) bool { return x.anyPiece(func(t reprocess.Track) bool { return !away(t) }) },
		said: "Declared and sent off. Print the declaration and put it with the piece.",
		form: sendRepairForm, command: sendRepairCommand},
	{path: "repair-day", act: reprocess.ActRepairNews,
		words: "The repair takes until another day", question: "When is it expected back?",
		when: func(x *view) bool { return x.anyPiece(awayOpen) }, said: "The new day stands.",
		form: func(x *view, p *actPage) {
			x.pieceChoice(p, awayOpen)
			p.field(dayField("expected", "Expected back on", x.typed["expected"]))
			x.note(p, "note", "Why", false)
		},
		command: func(x *view) (reprocess.Command, error) {
			return reprocess.ExpectRepair{Kit: x.k.ID, Piece: x.typed["piece"],
				Expected: reprocess.Date(x.typed["expected"]), Note: x.typed["note"]}, nil
		}},
	{path: "repair-back", act: reprocess.ActRepairNews,
		words: "It is back from repair", question: "What came of the repair?",
		when: func(x *view) bool { return x.anyPiece(awayOrOpen) },
		said: "Back from repair. It goes through the bench before it is handed out again.",
		form: repairBackForm, command: repairBackCommand},
}

// away is at a repairer with everything recorded; a piece that a decision sent off is not.
func away(t reprocess.Track) bool {
	return t.Piece.State == reprocess.OutForRepair && t.Piece.Repair.Open()
}

func awayOpen(t reprocess.Track) bool { return t.Piece.Repair.Open() }

func awayOrOpen(t reprocess.Track) bool {
	return t.Piece.Repair.Open() || t.Piece.State == reprocess.OutForRepair
}

func (x *view) anyPiece(fits func(reprocess.Track) bool) bool {
	return slices.ContainsFunc(x.tracks, fits)
}

func dayField(name, label, value string) Field {
	f := TextField(name, label, value)
	f.Kind = "date"
	return f
}

func sendRepairForm(x *view, p *actPage) {
	x.pieceChoice(p, func(t reprocess.Track) bool { return !away(t) })
	c := Choices{Name: "declaration", Legend: "Declaration of contamination status", Required: true,
		Options: []Choice{
			{Value: reprocess.NotExposed, Words: "Not exposed: never in use"},
			{Value: reprocess.Decontaminated, Words: "Exposed and decontaminated",
				Note: "needs a finished disinfection in this cycle"},
			{Value: reprocess.StillContaminated, Words: "Still contaminated"}}}
	p.choices(c.Pick(x.typed["declaration"]))
	left := TextField("left", "If still contaminated: with what, where, how it is packed",
		x.typed["left"])
	left.Hint = "No names of wearers, no diagnoses."
	p.field(left)
	for _, f := range []Field{TextField("reason", "What is to be repaired", x.typed["reason"]),
		TextField("to", "To whom it is sent", x.typed["to"])} {
		f.Required = true
		p.field(f)
	}
	p.field(dayField("sent", "Sent on, if not today", x.typed["sent"]))
	p.field(dayField("expected", "Expected back on, if known", x.typed["expected"]))
}

func sendRepairCommand(x *view) (reprocess.Command, error) {
	return reprocess.SendToRepair{Kit: x.k.ID, Piece: x.typed["piece"],
		Declaration: x.typed["declaration"], Left: x.typed["left"], Reason: x.typed["reason"],
		To: x.typed["to"], Sent: reprocess.Date(x.typed["sent"]),
		Expected: reprocess.Date(x.typed["expected"])}, nil
}

func repairBackForm(x *view, p *actPage) {
	x.pieceChoice(p, awayOrOpen)
	c := Choices{Name: "outcome", Legend: "What came of it", Required: true}
	for _, r := range reprocess.RepairOutcomes() {
		c.Options = append(c.Options, Choice{Value: r.ID, Words: capital(r.Words)})
	}
	p.choices(c.Pick(x.typed["outcome"]))
	p.field(dayField("on", "Back on, if not today", x.typed["on"]))
	cost := TextField("cost", "Cost, if there is a bill", x.typed["cost"])
	cost.Hint, cost.Keys = "Such as 84.50 or 84,50", "decimal"
	p.field(cost)
	currency := TextField("currency", "Currency", x.typed["currency"])
	currency.Hint = "Such as EUR"
	p.field(currency)
	x.note(p, "note", "What was done", false)
}

func repairBackCommand(x *view) (reprocess.Command, error) {
	cost, p := hundredths(x.typed["cost"])
	if p != nil {
		return nil, p
	}
	return reprocess.RepairBack{Kit: x.k.ID, Piece: x.typed["piece"], Outcome: x.typed["outcome"],
		On: reprocess.Date(x.typed["on"]), Cost: cost, Currency: x.typed["currency"],
		Note: x.typed["note"]}, nil
}

// hundredths reads money with point or comma and at most two figures behind it; empty is none.
func hundredths(text string) (int64, *reprocess.Problem) {
	if text == "" {
		return 0, nil
	}
	whole, part, cut := strings.Cut(strings.Replace(text, ",", ".", 1), ".")
	figures := whole + part
	bad := whole == "" || len(whole) > 9 || strings.Trim(figures, "0123456789") != "" ||
		cut && len(part) != 1 && len(part) != 2
	if !bad {
		n, err := strconv.ParseInt((figures + "00")[:len(whole)+2], 10, 64)
		if err == nil {
			return n, nil
		}
	}
	return 0, &reprocess.Problem{Code: reprocess.Invalid, Rule: "cost",
		Text: strconv.Quote(text) + " is no amount of money.",
		Fix:  "Type it like 84.50 or 84,50, without the currency."}
}

// money writes hundredths with their currency.
func money(n int64, currency string) string {
	return fmt.Sprintf("%d.%02d %s", n/100, n%100, currency)
}

// repairRows are the list of what is at repair, and the declaration on paper.
func repairRows() []Route {
	return []Route{
		office(get, "/repairs", signedIn, showRepairs),
		office(get, "/repairs/:piece", acts(reprocess.ActRepairNews), showLoose),
		office(post, "/repairs/:piece", acts(reprocess.ActRepairNews), looseBack),
		{Method: get, Path: "/kit/:id/declaration/:piece", Who: signedIn, Page: "declaration",
			Sample: sampleDeclaration, Handle: showDeclaration},
	}
}

// showRepairs lists pieces at repair, the longest first, and what came back.
func showRepairs(v *Visit) error {
	w, err := v.Store().Pieces(v.Context())
	if err != nil {
		return err
	}
	var there, back []*reprocess.Piece
	for _, p := range w.Pieces {
		switch {
		case p.State == reprocess.OutForRepair || p.Repair.Open():
			there = append(there, p)
		case p.Repair != nil:
			back = append(back, p)
		}
	}
	day := func(p *reprocess.Piece) string {
		if p.Repair == nil {
			return ""
		}
		return string(p.Repair.Sent) + string(p.Repair.Back)
	}
	order := func(a, b *reprocess.Piece) int { return strings.Compare(day(a)+a.ID, day(b)+b.ID) }
	slices.SortFunc(there, order)
	slices.SortFunc(back, func(a, b *reprocess.Piece) int { return order(b, a) })
	page := titledOffice("What is at repair?")
	page.list("", "Nothing is at repair.", v.repairLines(w, there)...)
	if len(back) > 0 {
		page.list("Came back", "", v.repairLines(w, back)...)
	}
	return v.Show(page)
}

func (v *Visit) repairLines(w *reprocess.World, pieces []*reprocess.Piece) []ruledLine {
	var rows []ruledLine
	for _, p := range pieces {
		row := ruledLine{To: "/kit/" + p.Kit, Words: upper(kitNumber(w, p.Kit)) + ", " + string(p.Kind) + " " + p.Serial}
		row.Notes = repairNotes(p, v.today())
		if p.Kit == "" {
			row.To, row.Words = "/repairs/"+p.ID, "In no kit, "+string(p.Kind)+" "+p.Serial
		}
		rows = append(rows, row)
		if p.Repair != nil && p.Repair.Seq != 0 && p.Kit != "" {
			rows = append(rows, ruledLine{To: declarationURL(p.Kit, p.ID),
				Words: "Its declaration, to print"})
		}
	}
	return rows
}

func declarationURL(kit, piece string) string { return "/kit/" + kit + "/declaration/" + piece }

// repairNotes says where a piece is, since when, until when, and what came of it.
func repairNotes(p *reprocess.Piece, today reprocess.Date) []string {
	r := p.Repair
	if r == nil || r.To == "" && r.Back == "" {
		return []string{"Where it was sent is not recorded: open the kit and add it."}
	}
	var notes []string
	if r.To != "" {
		notes = append(notes, "At "+r.To+" since "+reprocess.Day(r.Sent)+".")
	}
	if r.Open() {
		if days := r.Sent.DaysUntil(today); days > 0 {
			notes[0] = strings.TrimSuffix(notes[0], ".") + ", " + count(days, "day", "days") + "."
		}
	}
	switch {
	case !r.Open():
		words := "Back " + reprocess.Day(r.Back) + ": " + reprocess.OutcomeWords(r.Outcome)
		if r.Cost > 0 {
			words += ", " + money(r.Cost, r.Currency)
		}
		notes = append(notes, words+".")
	case r.Expected != "" && r.Expected < today:
		notes = append(notes, "Was expected "+reprocess.Day(r.Expected)+", "+
			count(r.Expected.DaysUntil(today), "day", "days")+" late. Ask for it.")
	case r.Expected != "":
		notes = append(notes, "Expected "+reprocess.Day(r.Expected)+".")
	}
	if r.Note != "" {
		notes = append(notes, upper(r.Note)+".")
	}
	return notes
}

// declarationPage is the paper that goes with a piece.
type declarationPage struct {
	Base
	Clinic, Declared string
	Lines            []Term
	Kit              string
}

func showDeclaration(v *Visit) error {
	w, err := v.Store().KitWorld(v.Context(), v.Param("id"))
	if err != nil {
		return notKnown(err, "There is no such kit here.")
	}
	p := w.Pieces[v.Param("piece")]
	if p == nil || p.Kit != v.Param("id") || p.Repair == nil || p.Repair.Seq == 0 {
		return &reprocess.Problem{Code: reprocess.NotFound, Rule: "no_declaration",
			Text: "No declaration of this piece is recorded.", Fix: "Declare it and send it to repair."}
	}
	page := declarationOf(w, p, v.Now)
	lines, err := v.disinfectedBy(p)
	if err != nil {
		return err
	}
	page.Lines = slices.Insert(page.Lines, 3, lines...)
	return v.Show(page)
}

// declaredWords are the three statements as they stand on the paper.
var declaredWords = map[string]string{
	reprocess.NotExposed: "This device has not been in use. It was not exposed to anybody’s skin, " +
		"blood or other fluids.",
	reprocess.Decontaminated: "This device has been in use. It was cleaned and disinfected on the " +
		"outside as stated below. Its inside was not disinfected.",
	reprocess.StillContaminated: "This device has been in use and is still contaminated, as stated " +
		"below. Open it only with protection."}

func declarationOf(w *reprocess.World, p *reprocess.Piece, now reprocess.Now) *declarationPage {
	r := p.Repair
	model := p.Model
	if m := w.Models[p.Model]; m != nil {
		model = m.Name
	}
	page := &declarationPage{Base: Titled("Declaration of contamination status"), Kit: p.Kit,
		Clinic: w.Settings.Clinic, Declared: declaredWords[r.Declaration]}
	page.Lines = []Term{{"Device", model + ", " + string(p.Kind)}, {"Serial", p.Serial},
		{"Of the clinic’s kit", strings.TrimPrefix(kitNumber(w, p.Kit), "kit ")}}
	if p.UDI != "" {
		page.Lines[1].Words += ", device identifier " + p.UDI
	}
	if r.Left != "" {
		page.Lines = append(page.Lines, Term{"Still on it, and how it is packed", r.Left})
	}
	page.Lines = append(page.Lines, Term{"To be repaired", r.Reason}, Term{"Sent to", r.To},
		Term{"Sent on", reprocess.Day(r.Sent)})
	if r.Expected != "" {
		page.Lines = append(page.Lines, Term{"Expected back on", reprocess.Day(r.Expected)})
	}
	page.Lines = append(page.Lines, Term{"Declared by", fmt.Sprintf("%s, %s, with their own secret, "+
		"entry %d of the record", r.Name, reprocess.Clock(r.At, now.Zone), r.Seq)})
	if c := w.Settings.Contact; c != "" {
		page.Lines = append(page.Lines, Term{"Questions", c})
	}
	return page
}

// disinfectedBy names, for a device declared as decontaminated, what wiped it and for how long.
func (v *Visit) disinfectedBy(p *reprocess.Piece) ([]Term, error) {
	if p.Repair.Declaration != reprocess.Decontaminated {
		return nil, nil
	}
	c, err := sqlite.Get[reprocess.Cycle](v.Context(), v.Store(), reprocess.TableCycle, p.Repair.Cycle)
	if err != nil {
		return nil, err
	}
	best, ok := c.Progress().Wet.Best()
	if !ok {
		return nil, nil
	}
	var refs []reprocess.Ref
	for _, id := range best.Lots {
		refs = append(refs, reprocess.Ref{Table: reprocess.TableLot, ID: id})
	}
	w, err := v.Store().Named(v.Context(), refs...)
	if err != nil {
		return nil, err
	}
	var by []string
	for _, id := range best.Lots {
		if l := w.Lots[id]; l != nil {
			by = append(by, lotWords(w, l))
		}
	}
	return []Term{{"Disinfected with", strings.Join(by, "; ")},
		{"Seen wet", fmt.Sprintf("%s of %s needed, begun %s", spoken(int(best.MS/1000)),
			spoken(best.NeededS), reprocess.Clock(best.From.At, v.Now.Zone))}}, nil
}

// repairEventWords are repairs in a history.
func repairEventWords(event reprocess.Event) (words, piece string) {
	switch ev := event.(type) {
	case reprocess.RepairSent:
		r := ev.Repair
		words = "sent to repair, " + r.To + ", " + reprocess.Day(r.Sent) + ": " +
			reasonWords(r.Declaration+": "+r.Reason)
		return words + inBrackets(r.Left), ev.Piece
	case reprocess.RepairExpected:
		return "expected back from repair " + reprocess.Day(ev.Expected) + inBrackets(ev.Note), ev.Piece
	case reprocess.RepairEnded:
		words = "back from repair " + reprocess.Day(ev.Back) + ": " + reprocess.OutcomeWords(ev.Outcome)
		if ev.Cost > 0 {
			words += ", " + money(ev.Cost, ev.Currency)
		}
		return words + inBrackets(ev.Note), ev.Piece
	}
	return "", ""
}

func sampleDeclaration() Page {
	return &declarationPage{Base: Titled("Declaration of contamination status"), Kit: "K1",
		Clinic: "Example clinic", Declared: declaredWords[reprocess.StillContaminated],
		Lines: []Term{{"Device", "Model A, recorder"}, {"Serial", "R-0017"}}}
}
