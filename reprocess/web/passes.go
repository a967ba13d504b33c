package web

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// passesPage lists the passes and asks for the next one.
func (v *Visit) passesPage(w *reprocess.World, name string, until reprocess.Date) *officePage {
	p := titledOffice("Who from outside may read?",
		"A pass reads the audit trail, checks, figures, look-backs and device records until the end "+
			"of its last day, and may take exports out. It never acts and never sees a wearer reference.")
	var now, over []ruledLine
	for _, who := range peopleOf(w, v.today()) {
		if !who.Pass {
			continue
		}
		line := ruledLine{Words: who.Name, Notes: []string{"signs in as " + who.SignIn,
			"until " + reprocess.Day(who.Left)}}
		if hasLeft(who, v.today()) {
			over = append(over, ruledLine{To: "/passes/" + who.ID, Words: who.Name,
				Notes: []string{"ended on " + reprocess.Day(who.Left)}})
			continue
		}
		if w.Secrets[who.ID] == "" {
			line.Notes = append(line.Notes, "code not used yet")
		}
		line.To = "/passes/" + who.ID
		line.Taps = []tap{{To: "/passes/" + who.ID + "/end", Words: "End it now"}}
		now = append(now, line)
	}
	p.list("Passes now", "None.", now...)
	f := &form{Heading: "A new pass", To: "/passes", Act: "Give a pass"}
	f.must("name", "Name", name, "Of the inspector, as it stands under every export")
	f.day("until", "Last day", until, "Ends by itself at the end of it; up to 92 days from now")
	f.field(SignField())
	p.form(f)
	if len(over) > 0 {
		p.list("Ended", "", over...)
	}
	return p
}

func showPasses(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	return v.Show(v.passesPage(w, "", v.today().AddDays(1)))
}

// issuePass adds the person and shows the one-time code once, in the answer itself.
func issuePass(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	name, until := v.Field("name"), reprocess.Date(v.Field("until"))
	page := v.passesPage(w, name, until)
	actor, err := v.Sign()
	if err != nil {
		return v.Refuse(err, page)
	}
	e, err := v.DoAs(reprocess.IssuePass{Name: name, Until: until}, actor)
	if err != nil {
		return v.Refuse(err, page)
	}
	who := passOf(e)
	code, err := v.Store().ResetSecret(v.Context(), sqlite.By{Actor: actor}, who.ID,
		passPhone(who.Name))
	if err != nil {
		return v.Refuse(err, page)
	}
	p := titledOffice("Give "+who.Name+" this code", "It is shown only now, and lasts a day. They "+
		"sign in as "+who.SignIn+" until "+reprocess.Day(who.Left)+".",
		"They open "+strings.ToLower(v.server.cfg.BaseURL.String())+"/secret/"+code)
	p.Code = code
	p.act("/passes", "Done")
	return v.Show(p)
}

// passPhone names the browser in which the code is used, within the length of such names.
func passPhone(name string) string {
	runes := []rune("Pass " + name)
	return strings.TrimSpace(string(runes[:min(len(runes), 30)]))
}

func passOf(e *reprocess.Entry) reprocess.Person {
	for _, box := range e.Events {
		if set, ok := box.Event.(reprocess.PersonSet); ok {
			return set.Person
		}
	}
	return reprocess.Person{}
}

// endPass needs no second form: it takes something away, and a new pass brings it back.
func endPass(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	page := v.passesPage(w, "", v.today().AddDays(1))
	if _, err := v.Do(reprocess.EndPass{Person: v.Param("id")}); err != nil {
		return v.Refuse(err, page)
	}
	if err := v.Store().SignOutEverywhere(v.Context(), v.Param("id")); err != nil {
		return err
	}
	return v.Went("/passes", "The pass has ended.")
}

// passShown is how many entries of a pass its page shows.
const passShown = 200

// showPass tells what was done with one pass: sign-ins, exports, and pages by the hour.
func showPass(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	who := w.People[v.Param("id")]
	if who == nil || !who.Pass {
		return &reprocess.Problem{Code: reprocess.NotFound, Rule: "unknown",
			Text: "There is no such pass.", Fix: "Open the list of passes."}
	}
	p := titledOffice("What was done with the pass of "+who.Name+"?", "Signs in as "+who.SignIn+
		", last day "+reprocess.Day(who.Left)+". Pages are counted by the hour.")
	if now := v.server.tally.soFar(who.ID); len(now) > 0 {
		p.list("This hour so far", "", ruledLine{Words: capital(countWords(now, pageWords))})
	}
	lines, err := v.passLines(w, who.ID)
	if err != nil {
		return err
	}
	p.list("On record", "Nothing yet.", lines...)
	p.act("/passes", "All passes")
	return v.Show(p)
}

// passLines are the entries by or about somebody with a pass, the newest first; each leads into
// the trail for whoever reads it.
func (v *Visit) passLines(w *reprocess.World, id string) ([]ruledLine, error) {
	by, err := v.Store().Entries(v.Context(), sqlite.Filter{By: id}, 0, passShown)
	if err != nil {
		return nil, err
	}
	about, err := v.Store().Entries(v.Context(), sqlite.Filter{Ref: reprocess.Ref{
		Table: reprocess.TablePerson, ID: id}}, 0, passShown)
	if err != nil {
		return nil, err
	}
	all := append(by, about...)
	slices.SortFunc(all, func(a, b *reprocess.Entry) int { return cmp.Compare(b.Seq, a.Seq) })
	all = slices.CompactFunc(all, func(a, b *reprocess.Entry) bool { return a.Seq == b.Seq })
	var lines []ruledLine
	for _, e := range all[:min(len(all), passShown)] {
		line := ruledLine{Words: strings.Join(trailWords(w, e), " "),
			Notes: []string{v.zoned(e.At) + ", by " + e.Name}}
		if e.Refusal != nil {
			line.Notes = append(line.Notes, "refused: "+e.Refusal.Text)
		}
		if readsTrail.lets(v.Person) {
			line.To = fmt.Sprintf("/trail/%d", e.Seq)
		}
		lines = append(lines, line)
	}
	return lines, nil
}
