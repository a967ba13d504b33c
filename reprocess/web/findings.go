package web

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// findingsShown is how many closed ones the list shows.
const findingsShown = 20

func findingAt(id string) string { return "/finding/" + url.PathEscape(id) }

// dueFindings are the open findings due today or over, the oldest day first.
func dueFindings(w *reprocess.World, today reprocess.Date) []*reprocess.Finding {
	var all []*reprocess.Finding
	for _, f := range w.Findings {
		if f.Closed == 0 && f.Due <= today {
			all = append(all, f)
		}
	}
	slices.SortFunc(all, func(a, b *reprocess.Finding) int {
		return cmp.Or(cmp.Compare(a.Due, b.Due), cmp.Compare(a.ID, b.ID))
	})
	return all
}

func findingLines(w *reprocess.World, list []*reprocess.Finding, now reprocess.Now) []Line {
	var all []Line
	for _, f := range list {
		all = append(all, Line{findingAt(f.ID), f.Text, findingNote(w, f, now)})
	}
	return all
}

// findingNote says who puts it right by when, or who did.
func findingNote(w *reprocess.World, f *reprocess.Finding, now reprocess.Now) string {
	if f.Closed != 0 {
		return "Closed by " + nameOf(w, f.ClosedBy) + " on " +
			reprocess.Day(reprocess.DateIn(f.Closed, now.Zone)) + ": " + f.Done + "."
	}
	note := nameOf(w, f.Owner) + ", by " + reprocess.Day(f.Due)
	if f.Overdue(now.Today()) {
		note += ", " + count(f.Due.DaysUntil(now.Today()), "day", "days") + " over"
	}
	note += "."
	if f.Action != "" {
		note += " To do: " + f.Action + "."
	}
	return note
}

// showFindings lists what is open, on screen and on paper, and what was closed last.
func showFindings(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	open, err := v.Store().Findings(v.Context(), "")
	if err != nil {
		return err
	}
	closed, err := v.Store().ClosedFindings(v.Context(), findingsShown)
	if err != nil {
		return err
	}
	p := titledOffice("What has to be put right?", "As of "+v.moment(v.Now.UTC)+": "+
		count(len(open), "open finding", "open findings")+".")
	p.list("Open", "Nothing is open.", findingRows(w, open, v.Now)...)
	p.list("Closed last", "None was closed yet.", findingRows(w, closed, v.Now)...)
	p.act("/findings/new", "Write a finding down")
	return v.Show(p)
}

func findingRows(w *reprocess.World, list []*reprocess.Finding, now reprocess.Now) []ruledLine {
	var rows []ruledLine
	for _, f := range list {
		rows = append(rows, ruledLine{To: findingAt(f.ID), Words: f.Text,
			Notes: []string{findingNote(w, f, now)}})
	}
	return rows
}

// newFindingPage asks for a finding; kit and entry come from the page it was opened on.
func (v *Visit) newFindingPage(kit, entry string) (*officePage, error) {
	w, err := v.setUp()
	if err != nil {
		return nil, err
	}
	p := titledOffice("What was found?")
	f := &form{To: "/findings/new", Act: "Write it down"}
	if kit != "" {
		k, err := sqlite.Get[reprocess.Kit](v.Context(), v.Store(), reprocess.TableKit, kit)
		if err != nil {
			return nil, notKnown(err, "There is no such kit here.")
		}
		p.Lead = append(p.Lead, "About kit "+k.Number+".")
		f.Kept = append(f.Kept, Kept{"kit", kit})
	}
	if entry != "" {
		p.Lead = append(p.Lead, "About entry "+entry+".")
		f.Kept = append(f.Kept, Kept{"entry", entry})
	}
	f.must("text", "What was found", v.Field("text"), "Up to 200 characters. No wearers’ names.")
	f.text("action", "What is to be done", v.Field("action"), "")
	owner := Choices{Name: "owner", Legend: "Who puts it right?", Required: true,
		Options: staffChoices(w, v.Now.Today(), "")}
	picked := v.Field("owner")
	if picked == "" {
		picked = v.Person.ID
	}
	f.choices(owner.Pick(picked))
	f.day("due", "By which day?", reprocess.Date(v.Field("due")), "")
	p.form(f)
	return p, nil
}

func showNewFinding(v *Visit) error {
	page, err := v.newFindingPage(v.Query("kit"), v.Query("entry"))
	if err != nil {
		return err
	}
	return v.Show(page)
}

func openFinding(v *Visit) error {
	cmd := reprocess.OpenFinding{Text: v.Field("text"), Action: v.Field("action"),
		Owner: v.Field("owner"), Due: reprocess.Date(v.Field("due")), Kit: v.Field("kit")}
	if text := v.Field("entry"); text != "" {
		if cmd.Entry = trailNumber(text); cmd.Entry == 0 {
			return notFound("entry")
		}
	}
	if _, err := v.Do(cmd); err != nil {
		page, drawn := v.newFindingPage(v.Field("kit"), v.Field("entry"))
		if drawn != nil {
			return err
		}
		return v.Refuse(err, page)
	}
	return v.Went("/findings", "The finding is written down.")
}

// findingPage is one finding whole: what, who, by when, and the way to close it.
func (v *Visit) findingPage(id string) (*officePage, error) {
	f, err := sqlite.Get[reprocess.Finding](v.Context(), v.Store(), reprocess.TableFinding, id)
	if err != nil {
		return nil, notKnown(err, "There is no such finding here.")
	}
	w, err := v.setUp()
	if err != nil {
		return nil, err
	}
	p := titledOffice("Is this put right?", f.Text+".", findingNote(w, f, v.Now),
		"Found by "+nameOf(w, f.By)+", "+v.moment(f.At)+".")
	rows, err := v.findingLinks(f)
	if err != nil {
		return nil, err
	}
	if len(rows) > 0 {
		p.list("", "", rows...)
	}
	if f.Closed != 0 {
		p.Title = "What was put right?"
		p.act("/findings", "What has to be put right?")
		return p, nil
	}
	if v.Person.ID == f.Owner || v.entitled(reprocess.ActFindingMove) {
		p.form(v.closeForm(id))
	} else {
		p.Lead = append(p.Lead, "Its owner, infection control or a supervisor closes it.")
	}
	if v.entitled(reprocess.ActFindingMove) {
		p.form(v.moveForm(w, f))
	}
	return p, nil
}

// findingLinks lead to what a finding is about and to what shows that it was put right.
func (v *Visit) findingLinks(f *reprocess.Finding) ([]ruledLine, error) {
	var rows []ruledLine
	if f.Kit != "" {
		k, err := sqlite.Get[reprocess.Kit](v.Context(), v.Store(), reprocess.TableKit, f.Kit)
		if err != nil {
			return nil, err
		}
		rows = append(rows, ruledLine{To: v.atKit(f.Kit), Words: "About kit " + k.Number})
	}
	trail := func(words string, seq int64) {
		row := ruledLine{Words: fmt.Sprintf("%s entry %d", words, seq)}
		if readsTrail.lets(v.Person) {
			row.To = fmt.Sprintf("/trail/%d", seq)
		}
		rows = append(rows, row)
	}
	if f.Entry != 0 {
		trail("About", f.Entry)
	}
	if figures, ok := strings.CutPrefix(f.Evidence, "entry "); ok {
		n, _ := strconv.ParseInt(figures, 10, 64)
		trail("Shown by", n)
	} else if f.Evidence != "" {
		rows = append(rows, ruledLine{To: findingAt(f.ID) + "/picture/" + f.Evidence,
			Words: "Shown by this picture"})
	}
	return rows, nil
}

func (v *Visit) closeForm(id string) *form {
	f := &form{To: findingAt(id) + "/close", Act: "Close it", File: true}
	f.must("done", "What was done", v.Field("done"), "Up to 200 characters. No wearers’ names.")
	f.text("entry", "Number of the entry that shows it", v.Field("entry"), "Or add a picture below")
	picture := pictureField()
	picture.Required, picture.Label = false, "Picture that shows it"
	f.field(picture)
	return f
}

func (v *Visit) moveForm(w *reprocess.World, f *reprocess.Finding) *form {
	m := &form{Heading: "Somebody else, or another day", To: findingAt(f.ID) + "/move",
		Act: "Change it", Small: true}
	owner := Choices{Name: "owner", Legend: "Who puts it right?", Required: true,
		Options: staffChoices(w, v.Now.Today(), "")}
	m.choices(owner.Pick(or(v.Field("owner"), f.Owner)))
	m.day("due", "By which day?", reprocess.Date(or(v.Field("due"), string(f.Due))), "")
	m.must("reason", "Why", v.Field("reason"), "")
	m.fold(0, "Open to change it", v.Field("reason") != "")
	return m
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

func showFinding(v *Visit) error {
	page, err := v.findingPage(v.Param("id"))
	if err != nil {
		return err
	}
	return v.Show(page)
}

func closeFinding(v *Visit) error {
	id := v.Param("id")
	evidence, err := v.shownEvidence()
	if err == nil {
		_, err = v.Do(reprocess.CloseFinding{Finding: id, Done: v.Field("done"), Evidence: evidence})
	}
	if err != nil {
		return v.refuseFinding(id, err)
	}
	return v.Went("/findings", "The finding is closed.")
}

// shownEvidence is the entry typed, or else the picture that came along, kept before the entry that
// names it. Not both: the record has to say which one shows it.
func (v *Visit) shownEvidence() (string, error) {
	typed := strings.TrimPrefix(v.Field("entry"), "entry ")
	content, _, err := v.File("file")
	switch {
	case err != nil:
		return "", err
	case len(content) == 0 && typed == "":
		return "", nil
	case len(content) == 0:
		return "entry " + typed, nil
	case typed != "":
		return "", &reprocess.Problem{Code: reprocess.Invalid, Rule: "evidence",
			Text: "An entry and a picture were both given.", Fix: "Give the one that shows it."}
	}
	sha, _, err := v.keepPicture()
	return sha, err
}

func moveFinding(v *Visit) error {
	id := v.Param("id")
	_, err := v.Do(reprocess.MoveFinding{Finding: id, Owner: v.Field("owner"),
		Due: reprocess.Date(v.Field("due")), Reason: v.Field("reason")})
	if err != nil {
		return v.refuseFinding(id, err)
	}
	return v.Went(findingAt(id), "It is changed.")
}

func (v *Visit) refuseFinding(id string, err error) error {
	page, drawn := v.findingPage(id)
	if drawn != nil {
		return drawn
	}
	return v.Refuse(err, page)
}

// openFindings are those about a kit that are not put right yet.
func (v *Visit) openFindings(kit string) ([]*reprocess.Finding, error) {
	list, err := v.Store().Findings(v.Context(), kit)
	return slices.DeleteFunc(list, func(f *reprocess.Finding) bool { return f.Closed != 0 }), err
}
