package web

import (
	"fmt"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// mostShown is how many loans a list of this page names.
const mostShown = 20

// retentionPage says what is kept how long, what goes next and what is held.
func (v *Visit) retentionPage(w *reprocess.World, days int, reason string) (*officePage, error) {
	due, held, err := v.Store().DueLinks(v.Context())
	if err != nil {
		return nil, err
	}
	p := titledOffice("How long are wearer references kept?",
		linkWords(w.Settings), "Local policy decides. The loan and its count stay; after that "+
			"nobody can be reached through it. Backups of the references keep them until they are "+
			"thrown away.")
	if n := len(due); n > 0 {
		p.list(fmt.Sprintf("Go at the next daily run: %d", n), "", v.linkLines(w, due)...)
	}
	if n := len(held); n > 0 {
		p.list(fmt.Sprintf("Due, but held: %d", n), "", v.linkLines(w, held)...)
	}
	p.list("Legal holds", "None.", v.holdLines(w)...)
	p.act("/retention/hold", "Set a legal hold")
	f := &form{To: "/retention", Act: "Keep this figure", Heading: "Days after the return"}
	f.number("days", "Days", days, "30 to 36500; empty: until erased by hand")
	f.must("reason", "Reason", reason, "Such as the paragraph of your policy")
	f.field(SignField())
	p.form(f)
	find := &form{Heading: "Erase one by hand", To: "/retention#" + answerID, Act: "Show its loans",
		Get: true, Small: true}
	find.text("number", "Number of the kit", v.Query("number"), "")
	p.form(find)
	return p, v.foundLinks(w, p)
}

func linkWords(s reprocess.Settings) string {
	if s.LinkDays == 0 {
		return "They are kept until somebody erases them by hand: no figure was set."
	}
	return fmt.Sprintf("They are kept %d days after the return, then erased (%s).", s.LinkDays,
		s.LinkReason)
}

func (v *Visit) foundLinks(w *reprocess.World, p *officePage) error {
	number := v.Query("number")
	if number == "" {
		return nil
	}
	k, err := v.Store().KitByNumber(v.Context(), w.Settings.Site, number)
	if err != nil && reprocess.AsProblem(err).Code == reprocess.NotFound {
		p.answer("Loans of kit "+number, "There is no such kit.")
		return nil
	}
	if err != nil {
		return err
	}
	loans, err := v.Store().LinkLoans(v.Context(), k.ID, mostShown)
	if err != nil {
		return err
	}
	p.answer("Loans of kit "+number, "None that has come back and still has its reference.",
		v.linkLines(w, loans)...)
	return nil
}

func (v *Visit) linkLines(w *reprocess.World, loans []*reprocess.Loan) []ruledLine {
	holds := reprocess.LegalHolds(w)
	var rows []ruledLine
	for _, l := range loans[:min(len(loans), mostShown)] {
		row := ruledLine{To: "/retention/loan/" + l.ID, Words: "Loan " + l.ID,
			Notes: []string{"back " + v.moment(l.Back)}}
		if h := holds.KeepsLoan(l); h != nil {
			row.Notes = append(row.Notes, "held: "+h.Reason)
		}
		rows = append(rows, row)
	}
	if more := len(loans) - mostShown; more > 0 {
		rows = append(rows, ruledLine{Words: fmt.Sprintf("and %d more", more)})
	}
	return rows
}

func (v *Visit) holdLines(w *reprocess.World) []ruledLine {
	var rows []ruledLine
	for _, h := range reprocess.LegalHolds(w) {
		rows = append(rows, ruledLine{To: "/retention/hold/" + h.ID, Words: v.holdWhat(h),
			Notes: []string{h.Reason, "since " + v.moment(h.At)}})
	}
	return rows
}

// holdWhat says what a legal hold is on.
func (v *Visit) holdWhat(h *reprocess.LegalHold) string {
	switch {
	case h.Kit != "":
		if w, err := v.Store().KitWorld(v.Context(), h.Kit); err == nil && w.Kits[h.Kit] != nil {
			return "Kit " + w.Kits[h.Kit].Number
		}
		return "Kit " + h.Kit
	case h.Loan != "":
		return "Loan " + h.Loan
	case h.To == "":
		return "Everything from " + reprocess.Day(h.From) + " on"
	}
	return "Everything from " + reprocess.Day(h.From) + " to " + reprocess.Day(h.To)
}

func showRetention(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	p, err := v.retentionPage(w, w.Settings.LinkDays, "")
	if err != nil {
		return err
	}
	return v.Show(p)
}

func setRetention(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	t := v.typing()
	days := t.whole("days", "Days")
	page, err := v.retentionPage(w, days, v.Field("reason"))
	if err != nil {
		return err
	}
	return v.signed(t.err(), page, "/retention", "The figure is kept.",
		reprocess.SetRetention{Days: days, Reason: v.Field("reason")})
}

// signed does a signed command of a page, after what was typed could be read.
func (v *Visit) signed(typed error, page *officePage, to, say string, cmd reprocess.Command) error {
	if typed != nil {
		return v.Refuse(typed, page)
	}
	actor, err := v.Sign()
	if err == nil {
		_, err = v.DoAs(cmd, actor)
	}
	if err != nil {
		return v.Refuse(err, page)
	}
	return v.Went(to, say)
}

func newLegalHoldPage(number string, s reprocess.SetLegalHold) *officePage {
	p := titledOffice("What must not be erased?", "On one kit, on one loan, or on a period. It "+
		"blocks the erasing of references and the removal of files until it is lifted.")
	f := &form{To: "/retention/hold", Act: "Set the legal hold"}
	f.text("number", "Number of the kit", number, "")
	f.text("loan", "Or a loan", s.Loan, "As the audit trail names it, such as L12")
	f.day("from", "Or from this day", s.From, "")
	f.day("to", "To this day", s.To, "Empty: open")
	f.must("reason", "Reason", s.Reason, "Up to 200 characters, no names of wearers")
	f.field(SignField())
	p.form(f)
	return p
}

func showNewLegalHold(v *Visit) error {
	return v.Show(newLegalHoldPage("", reprocess.SetLegalHold{}))
}

func setLegalHold(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	t := v.typing()
	s := reprocess.SetLegalHold{Loan: t.text("loan"), From: t.day("from", "First day"),
		To: t.day("to", "Last day"), Reason: t.text("reason")}
	page := newLegalHoldPage(t.text("number"), s)
	if number := t.text("number"); number != "" {
		k, err := v.Store().KitByNumber(v.Context(), w.Settings.Site, number)
		if err != nil {
			return v.Refuse(err, page)
		}
		s.Kit = k.ID
	}
	return v.signed(t.err(), page, "/retention", "The legal hold stands.", s)
}

func (v *Visit) legalHoldPage(reason string) (*officePage, *reprocess.LegalHold, error) {
	w, err := v.setUp()
	if err != nil {
		return nil, nil, err
	}
	h := w.Legal[v.Param("id")]
	if h == nil {
		return nil, nil, notFound("legal hold")
	}
	p := titledOffice("Why may this legal hold end?", v.holdWhat(h)+".",
		"Set "+v.moment(h.At)+": "+h.Reason)
	f := &form{To: "/retention/hold/" + h.ID, Act: "Lift the legal hold"}
	f.must("reason", "Reason", reason, "Up to 200 characters")
	f.field(SignField())
	p.form(f)
	return p, h, nil
}

func showLegalHold(v *Visit) error {
	p, _, err := v.legalHoldPage("")
	if err != nil {
		return err
	}
	return v.Show(p)
}

func liftLegalHold(v *Visit) error {
	p, h, err := v.legalHoldPage(v.Field("reason"))
	if err != nil {
		return err
	}
	return v.signed(nil, p, "/retention", "The legal hold is lifted.",
		reprocess.LiftLegalHold{Hold: h.ID, Reason: v.Field("reason")})
}

func (v *Visit) eraseLinkPage(reason string) (*officePage, *reprocess.Loan, error) {
	w, err := v.Store().LoanWorld(v.Context(), v.Param("id"))
	if err != nil {
		return nil, nil, err
	}
	l := w.Loans[v.Param("id")]
	if l == nil {
		return nil, nil, notFound("loan")
	}
	p := titledOffice("Erase the reference of loan "+l.ID+"?",
		upper(kitNumber(w, l.Kit))+", back "+v.moment(l.Back)+".",
		"It cannot be brought back. In a look-back this wearer still counts and cannot be reached.")
	if no := reprocess.Erasable(w, l); no != nil {
		p.Lead = append(p.Lead, no.Text+" "+no.Fix)
		p.act("/retention", "Back")
		return p, l, nil
	}
	f := &form{To: "/retention/loan/" + l.ID, Act: "Erase the reference"}
	f.must("reason", "Reason", reason, "Up to 200 characters, no names of wearers")
	f.field(SignField())
	p.form(f)
	return p, l, nil
}

func showEraseLink(v *Visit) error {
	p, _, err := v.eraseLinkPage("")
	if err != nil {
		return err
	}
	return v.Show(p)
}

func eraseLink(v *Visit) error {
	p, l, err := v.eraseLinkPage(v.Field("reason"))
	if err != nil {
		return err
	}
	actor, err := v.Sign()
	if err == nil {
		_, err = v.Store().EraseLink(v.Context(), sqlite.Request{Actor: actor, Key: v.Key(),
			PhoneAt: v.PhoneAt()},
			reprocess.EraseWearer{Kit: l.Kit, Loan: l.ID, Reason: v.Field("reason")})
	}
	if err != nil {
		return v.Refuse(err, p)
	}
	return v.Went("/retention", "The reference is erased.")
}
