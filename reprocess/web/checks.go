package web

import (
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
)

// checkWords lists what is due of the technical checks of a kit, as sentences.
func checkWords(w *reprocess.World, k *reprocess.Kit, now reprocess.Now) []string {
	var all []string
	for _, id := range k.Pieces {
		p := w.Pieces[id]
		if p == nil {
			continue
		}
		for _, s := range w.Checks(p, now.Today()) {
			if s.Failed() || s.Overdue() || s.Days <= reprocess.CheckSoonDays {
				all = append(all, sentence("Technical check, "+string(p.Kind)+": "+s.Words()))
			}
		}
	}
	return all
}

// showTechnical lists what is due within the days asked for, the oldest first.
func showTechnical(v *Visit) error {
	days := reprocess.CheckSoonDays
	p := titledOffice("Which technical checks are due?")
	if text := v.Query("days"); text != "" {
		n, bad := daysOf(text)
		if bad != nil {
			return v.Refuse(bad, p)
		}
		days = n
	}
	w, err := v.inUse()
	if err != nil {
		return err
	}
	var rows []ruledLine
	for _, s := range reprocess.ChecksDue(w, v.Now, days) {
		rows = append(rows, ruledLine{To: "/checks/" + s.Piece.ID, Words: checkedPiece(s.Piece, s.Kit),
			Notes: []string{sentence(s.Words())}})
	}
	p.list(fmt.Sprintf("Within %d days", days), "None.", rows...)
	p.list("Campaigns", "None is running.", campaignLines(w)...)
	f := &form{To: "/checks", Act: "Show", Get: true, Small: true}
	f.number("days", "Within so many days", days, "Up to 400")
	p.form(f)
	if v.entitled(reprocess.ActChecks) {
		var models []ruledLine
		for _, m := range modelsOf(w) {
			models = append(models, ruledLine{To: "/models/" + m.ID + "/checks", Words: m.Name,
				Notes: []string{count(len(m.Checks), "check", "checks")}})
		}
		p.list("What each model needs", "No model is described yet.", models...)
	}
	if v.entitled(reprocess.ActCampaign) {
		p.act("/campaigns/new", "Begin a campaign")
	}
	return v.Show(p)
}

// inUse is every piece in use, those that are in no kit too.
func (v *Visit) inUse() (*reprocess.World, error) {
	return v.Store().Week(v.Context(), v.Now.Today())
}

// checkedPiece names a piece as its label does.
func checkedPiece(p *reprocess.Piece, k *reprocess.Kit) string {
	words := string(p.Kind) + ", serial " + p.Serial
	if k != nil {
		return k.Number + " " + words
	}
	return "spare " + words
}

// pieceWorld is a piece with its kit, for the pages about one piece.
func (v *Visit) pieceWorld(id string) (*reprocess.World, *reprocess.Piece, error) {
	w, err := v.Store().DocumentsBy(v.Context(), reprocess.Ref{Table: reprocess.TablePiece, ID: id})
	if err != nil {
		return nil, nil, err
	}
	if w.Pieces[id] == nil {
		return nil, nil, notFound("piece")
	}
	return w, w.Pieces[id], nil
}

func showPieceChecks(v *Visit) error {
	w, p, err := v.pieceWorld(v.Param("piece"))
	if err != nil {
		return err
	}
	return v.Show(v.technicalPage(w, p))
}

func (v *Visit) technicalPage(w *reprocess.World, piece *reprocess.Piece) *officePage {
	p := titledOffice("How is " + checkedPiece(piece, w.Kits[piece.Kit]) + " looked after?")
	all := w.Checks(piece, v.today())
	var rows []ruledLine
	for _, s := range all {
		rows = append(rows, checkLine(w, s))
	}
	p.list("", "No technical check is listed for this model.", rows...)
	if papers := v.checkPapers(w, all); len(papers) > 0 {
		p.list("Papers of the testers", "", papers...)
	}
	if len(all) > 0 && v.entitled(reprocess.ActCheck) {
		p.form(v.checkForm(piece, all))
	}
	p.list("What runs on it", "Nobody has read a version off it.", versionLines(w, piece, v.Now)...)
	if v.entitled(reprocess.ActVersion) {
		p.form(v.versionForm(piece))
	}
	if piece.Kit != "" {
		p.act(kitURL(piece.Kit), "Back to the kit")
	}
	p.act("/checks", "All that is due")
	return p
}

func checkLine(w *reprocess.World, s reprocess.CheckStanding) ruledLine {
	line := ruledLine{Words: capital(s.Rule.Of()), Notes: []string{fmt.Sprintf("every %s",
		count(s.Rule.Months, "month", "months"))}}
	if s.Rule.Basis != "" {
		line.Notes[0] += ", " + s.Rule.Basis
	}
	if s.Last == nil {
		line.Notes = append(line.Notes, "never recorded")
		return line
	}
	result := "passed"
	if s.Failed() {
		result = "failed"
	}
	line.Notes = append(line.Notes, "last: "+result+" on "+reprocess.Day(s.Last.On)+", by "+
		s.Last.Tester+inBrackets(s.Last.Note), nextWords(s))
	if s.Last.SHA256 != "" {
		line.To = checkPaperAt(s.Piece.ID, s.Last.SHA256)
		line.Notes = append(line.Notes, "with its paper")
	}
	return line
}

func nextWords(s reprocess.CheckStanding) string {
	switch {
	case s.Days < 0:
		return "overdue since " + reprocess.Day(s.Next)
	case s.Days <= reprocess.CheckSoonDays:
		return "due by " + reprocess.Day(s.Next)
	}
	return "next by " + reprocess.Day(s.Next)
}

func (v *Visit) checkForm(piece *reprocess.Piece, all []reprocess.CheckStanding) *form {
	f := &form{Heading: "Enter a check", To: "/checks/" + piece.ID, Act: "Enter it", File: true}
	c := Choices{Name: "check", Legend: "Which check?", Required: true}
	for _, s := range all {
		c.Options = append(c.Options, Choice{Value: s.Rule.ID, Words: capital(s.Rule.Of())})
	}
	pick := v.Field("check")
	if len(all) == 1 {
		pick = all[0].Rule.ID
	}
	f.choices(c.Pick(pick))
	f.day("on", "Day of the check", reprocess.Date(v.Field("on")), "As its paper says")
	f.one("result", "Result", v.Field("result"), Choice{Value: "passed", Words: "Passed"},
		Choice{Value: "failed", Words: "Failed", Note: "puts it on hold at once"})
	f.must("tester", "Who tested", v.Field("tester"), "Person or workshop")
	f.text("note", "Note", v.Field("note"), "Such as the figure that was measured")
	f.field(checkPaperField())
	return f
}

// recordCheck enters one check; its paper is kept before.
func recordCheck(v *Visit) error {
	w, piece, err := v.pieceWorld(v.Param("piece"))
	if err != nil {
		return err
	}
	cmd := reprocess.RecordCheck{Kit: piece.Kit, Piece: piece.ID, Check: v.Field("check"),
		On: reprocess.Date(v.Field("on")), Result: v.Field("result"), Tester: v.Field("tester"),
		Note: v.Field("note")}
	if cmd.SHA256, err = v.keepCheckPaper(); err == nil {
		_, err = v.Do(cmd)
	}
	if err != nil {
		return v.Refuse(err, v.technicalPage(w, piece))
	}
	return v.Went("/checks/"+piece.ID, "The check is entered.")
}

// showModelChecks lists the checks of a model, with a form for one more.
func showModelChecks(v *Visit) error {
	w, m, err := v.modelBy("id")
	if err != nil {
		return err
	}
	return v.Show(v.modelChecks(w, m))
}

// modelBy is the model that a part of the address names.
func (v *Visit) modelBy(param string) (*reprocess.World, *reprocess.Model, error) {
	w, err := v.setUp()
	if err != nil {
		return nil, nil, err
	}
	m := w.Models[v.Param(param)]
	if m == nil {
		return nil, nil, notFound("model")
	}
	return w, m, nil
}

func (v *Visit) modelChecks(w *reprocess.World, m *reprocess.Model) *officePage {
	p := titledOffice("Which technical checks does "+m.Name+" need?",
		"What an overdue check does is set for the whole clinic: now "+checkPolicy(w.Settings)+
			". A failed one always puts the piece on hold.")
	var rows []ruledLine
	for _, c := range m.Checks {
		line := ruledLine{Words: capital(c.Of()), Notes: []string{"every " +
			count(c.Months, "month", "months")}, Taps: []tap{{To: "/models/" + m.ID + "/check-end",
			Words: "Take it off the list", Kept: []Kept{{"check", c.ID}}}}}
		if c.Basis != "" {
			line.Notes = append(line.Notes, c.Basis)
		}
		rows = append(rows, line)
	}
	p.list("", "None yet.", rows...)
	f := &form{Heading: "One more", To: "/models/" + m.ID + "/checks", Act: "Add it"}
	f.must("words", "What is checked", v.Field("words"), "Such as electrical safety")
	on := Choices{Name: "on", Legend: "On what?", Required: true,
		Options: []Choice{{Value: "piece", Words: "The " + string(m.Kind) + " itself"}}}
	for _, part := range m.Parts {
		on.Options = append(on.Options, Choice{Value: "part " + part, Words: capital(part)})
	}
	f.choices(on.Pick(v.Field("on")))
	months := TextField("months", "At the latest every so many months", v.Field("months"))
	months.Keys, months.Required, months.Hint = "numeric", true, "1 to 120"
	f.field(months)
	f.text("basis", "Basis", v.Field("basis"), "Who asks for it: the instructions, a law, the clinic")
	p.form(f)
	hold := &form{Heading: "When a check is overdue", To: "/checks/policy", Act: "Keep this", Small: true}
	picked := "remark"
	if w.Settings.ChecksHold {
		picked = "hold"
	}
	hold.one("policy", "What then, for every model?", picked,
		Choice{Value: "remark", Words: "It is shown"},
		Choice{Value: "hold", Words: "The kit is neither released nor handed out"})
	p.form(hold)
	p.act("/checks", "All that is due")
	return p
}

func checkPolicy(s reprocess.Settings) string {
	if s.ChecksHold {
		return "the kit is neither released nor handed out"
	}
	return "it is shown, and holds nothing back"
}

func addModelCheck(v *Visit) error {
	w, m, err := v.modelBy("id")
	if err != nil {
		return err
	}
	t := v.typing()
	rule := reprocess.CheckRule{Words: t.text("words"), Basis: t.text("basis"),
		Months: t.whole("months", "Months")}
	part, isPart := strings.CutPrefix(t.text("on"), "part ")
	switch {
	case isPart:
		rule.On = part
	case t.text("on") != "piece":
		t.bad("on", "Choose the piece or a part.", "It is not said what is checked.")
	}
	err = t.err()
	if err == nil {
		_, err = v.Do(reprocess.SetChecks{Model: m.ID, Checks: append(slices.Clone(m.Checks), rule)})
	}
	if err != nil {
		return v.Refuse(err, v.modelChecks(w, m))
	}
	return v.Went("/models/"+m.ID+"/checks", "It is on the list.")
}

// endModelCheck takes a check off the list; what was recorded of it stays in the record.
func endModelCheck(v *Visit) error {
	w, m, err := v.modelBy("id")
	if err != nil {
		return err
	}
	rest := slices.DeleteFunc(slices.Clone(m.Checks), func(c reprocess.CheckRule) bool {
		return c.ID == v.Field("check")
	})
	if _, err := v.Do(reprocess.SetChecks{Model: m.ID, Checks: rest}); err != nil {
		return v.Refuse(err, v.modelChecks(w, m))
	}
	return v.Went("/models/"+m.ID+"/checks", "It is off the list.")
}

// setCheckPolicy says what an overdue check does.
func setCheckPolicy(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	s := w.Settings
	switch v.Field("policy") {
	case "hold":
		s.ChecksHold = true
	case "remark":
		s.ChecksHold = false
	default:
		return v.Refuse(&reprocess.Problem{Code: reprocess.Invalid, Rule: "policy",
			Text: "It is not said what an overdue check does.", Fix: "Choose one of the two."},
			titledOffice("What does an overdue check do?"))
	}
	if _, err := v.Do(reprocess.SetSettings{Settings: s}); err != nil {
		return v.Refuse(err, titledOffice("What does an overdue check do?"))
	}
	return v.Went("/checks", "Kept: "+checkPolicy(s)+".")
}

// technicalLinks lead to the checks and versions of each piece, and to what a campaign wants.
func (x *view) technicalLinks() []link {
	var all []link
	for _, t := range x.tracks {
		for _, c := range x.w.CampaignsOf(t.Piece) {
			all = append(all, link{To: "/campaigns/" + c.ID + "?kit=" + x.k.ID, Words: "Campaign for the " +
				string(t.Piece.Kind) + ": " + c.Name})
		}
		all = append(all, link{To: "/checks/" + t.Piece.ID,
			Words: "Checks and versions of the " + string(t.Piece.Kind)})
	}
	return all
}

// campaignTold says at the bench what a campaign still wants of a group.
func (x *view) campaignTold(g group) []string {
	var all []string
	for _, t := range g.tracks {
		for _, c := range x.w.CampaignsOf(t.Piece) {
			all = append(all, "Campaign for the "+string(t.Piece.Kind)+", not done yet: "+c.Name+".")
		}
	}
	return all
}

// dueChecks tells at the take-back what is due; only a help, so a fault of reading says nothing.
func (v *Visit) dueChecks(kit string) string {
	w, err := v.Store().KitWorld(v.Context(), kit)
	if err != nil || w.Kits[kit] == nil {
		return ""
	}
	return strings.Join(checkWords(w, w.Kits[kit], v.Now), " ")
}
