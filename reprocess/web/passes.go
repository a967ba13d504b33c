package web

import (
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
			over = append(over, ruledLine{Words: who.Name,
				Notes: []string{"ended on " + reprocess.Day(who.Left)}})
			continue
		}
		if w.Secrets[who.ID] == "" {
			line.Notes = append(line.Notes, "code not used yet")
		}
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
