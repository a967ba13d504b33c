package web

import (
	"slices"
	"strings"

	"handback/reprocess"
)

// proceduresNamed lists the newest version of each procedure, by name.
func proceduresNamed(w *reprocess.World) []*reprocess.Procedure {
	var all []*reprocess.Procedure
	for _, ref := range w.InForce {
		if proc := w.Procedures[ref]; proc != nil {
			all = append(all, proc)
		}
	}
	slices.SortFunc(all, func(a, b *reprocess.Procedure) int {
		return strings.Compare(a.Name+a.ID, b.Name+b.ID)
	})
	return all
}

func procedureName(w *reprocess.World, id string) string {
	for _, proc := range proceduresNamed(w) {
		if proc.ID == id {
			return proc.Name
		}
	}
	return id
}

var standingWords = map[reprocess.Standing]string{reprocess.NotCompetent: "not valid today",
	reprocess.Lapsed: "not valid today", reprocess.LearningIt: "learning, countersigned",
	reprocess.Competent: "competent today"}

func competenceLines(v *Visit, w *reprocess.World, who *reprocess.Person) []ruledLine {
	var rows []ruledLine
	for i, c := range who.Competences {
		until := "without end"
		if c.Until != "" {
			until = "until " + reprocess.Day(c.Until)
		}
		alone := reprocess.Person{Competences: who.Competences[i : i+1]}
		line := ruledLine{Words: procedureName(w, c.Procedure),
			Notes: []string{"from " + reprocess.Day(c.From) + ", " + until,
				standingWords[alone.Competence(c.Procedure, v.today())]}}
		if c.Name != "" {
			line.Notes = append(line.Notes, "signed off by "+c.Name)
		}
		if c.Until == "" || c.Until > v.today() {
			line.Taps = []tap{{To: "/staff/" + who.ID + "/competence-end", Words: "Ends today",
				Kept: []Kept{{"procedure", c.Procedure}, {"from", string(c.From)}}}}
		}
		rows = append(rows, line)
	}
	return rows
}

func competenceForm(w *reprocess.World, who *reprocess.Person, today reprocess.Date) *form {
	f := &form{Heading: "Enter a competence", To: "/staff/" + who.ID + "/competence",
		Act: "Enter it", Small: true}
	var choices []Choice
	for _, proc := range proceduresNamed(w) {
		choices = append(choices, Choice{Value: proc.ID, Words: proc.Name})
	}
	if len(choices) == 0 {
		f.say("", "No procedure is in force yet.")
	} else {
		f.many("procedures", "Procedures", "", nil, choices...)
	}
	f.day("from", "From", today, "")
	f.day("until", "Until", "", "The last day; empty: without end")
	f.tick("learning", "Learning", "Works under their own secret, somebody competent countersigns",
		false)
	return f
}

// addCompetence enters competence for the ticked procedures; earlier rows stay, and the best
// row of a day counts.
func addCompetence(v *Visit) error {
	old, w, err := v.person()
	if err != nil {
		return err
	}
	t, who := v.typing(), *old
	row := reprocess.Competence{From: t.day("from", "From"), Until: t.day("until", "Until"),
		Learning: t.yes("learning")}
	ids := v.Fields("procedures")
	if len(ids) == 0 {
		t.bad("procedure", "Tick at least one.", "No procedure is ticked.")
	}
	if err := t.err(); err != nil {
		return v.Refuse(err, v.personPage(w, who))
	}
	who.Competences = slices.Clone(old.Competences)
	for _, id := range ids {
		row.Procedure = id
		who.Competences = append(who.Competences, row)
	}
	if _, err := v.Do(reprocess.SetPerson{Person: who}); err != nil {
		return v.Refuse(err, v.personPage(w, *old))
	}
	return v.Went("/staff/"+who.ID, "The competence is entered.")
}

// endCompetence makes today the last day of a row.
func endCompetence(v *Visit) error {
	old, w, err := v.person()
	if err != nil {
		return err
	}
	who := *old
	who.Competences = slices.Clone(old.Competences)
	today := v.today()
	for i, c := range who.Competences {
		if c.Procedure == v.Field("procedure") && string(c.From) == v.Field("from") &&
			(c.Until == "" || c.Until > today) {
			who.Competences[i].Until = max(today, c.From)
		}
	}
	if _, err := v.Do(reprocess.SetPerson{Person: who}); err != nil {
		return v.Refuse(err, v.personPage(w, *old))
	}
	return v.Went("/staff/"+who.ID, "It ends today.")
}
