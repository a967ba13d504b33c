package web

import (
	"fmt"

	"handback/reprocess"
)

// matrixPage is who may carry out what, people against procedures, to be printed.
type matrixPage struct {
	Base
	AsOf       string
	Procedures []string
	Rows       []matrixRow
}

// matrixRow is one person with one cell for each procedure.
type matrixRow struct {
	Name  string
	Cells []string
}

// showMatrix draws the table of everybody who works here.
func showMatrix(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	p := &matrixPage{Base: Titled("Who may carry out which procedure?"),
		AsOf: reprocess.Clock(v.Now.UTC, v.Now.Zone)}
	procedures := proceduresNamed(w)
	for _, proc := range procedures {
		p.Procedures = append(p.Procedures, fmt.Sprintf("%s, version %d", proc.Name, proc.Version))
	}
	for _, who := range peopleOf(w, v.today()) {
		if hasLeft(who, v.today()) || who.Pass {
			continue
		}
		row := matrixRow{Name: who.Name}
		for _, proc := range procedures {
			row.Cells = append(row.Cells, matrixCell(w, who, proc.ID, v.today()))
		}
		p.Rows = append(p.Rows, row)
	}
	return v.Show(p)
}

// matrixCell is where one person stands to one procedure; an ending is said 30 days before.
func matrixCell(w *reprocess.World, who *reprocess.Person, procedure string,
	today reprocess.Date) string {
	words := ""
	switch who.Competence(procedure, today) {
	case reprocess.NotCompetent:
		return "no"
	case reprocess.Lapsed:
		return "not valid today"
	case reprocess.LearningIt:
		words = fmt.Sprintf("learning, %d of %d cycles", who.SupervisedCycles(procedure),
			w.Settings.NeedSupervised())
	case reprocess.Competent:
		words = "competent"
	}
	if until := lastDay(who, procedure, today); until != "" {
		words += " until " + reprocess.Day(until)
	}
	if who.Ends(procedure, today) != "" {
		words += ", ends soon"
	}
	return words
}

// lastDay is the last day of the rows that count today, "" when one is without end.
func lastDay(who *reprocess.Person, procedure string, today reprocess.Date) reprocess.Date {
	best := reprocess.Date("")
	for i, c := range who.Competences {
		alone := reprocess.Person{Competences: who.Competences[i : i+1]}
		if alone.Competence(procedure, today) != who.Competence(procedure, today) {
			continue
		}
		if c.Until == "" {
			return ""
		}
		best = max(best, c.Until)
	}
	return best
}

// endingWords tells somebody which of their competences end within 30 days.
func endingWords(w *reprocess.World, who *reprocess.Person, today reprocess.Date) []string {
	var all []string
	for _, proc := range proceduresNamed(w) {
		if ends := who.Ends(proc.ID, today); ends != "" {
			all = append(all, fmt.Sprintf("The competence for %s ends on %s; after that nothing of it "+
				"can be done or signed.", proc.Name, reprocess.Day(ends)))
		}
	}
	return all
}

// signOffForm offers to end somebody's learning; nil when they learn nothing.
func signOffForm(w *reprocess.World, who *reprocess.Person, v *Visit) *form {
	f := &form{Heading: "Sign off", To: "/staff/" + who.ID + "/sign-off",
		Act: "Sign that they are competent", Small: true}
	c := Choices{Name: "procedure", Legend: "For which procedure?", Required: true}
	need := w.Settings.NeedSupervised()
	for _, proc := range proceduresNamed(w) {
		if who.Competence(proc.ID, v.today()) == reprocess.LearningIt {
			c.Options = append(c.Options, Choice{Value: proc.ID, Words: proc.Name,
				Note: fmt.Sprintf("%d of %d supervised cycles", who.SupervisedCycles(proc.ID), need)})
		}
	}
	if len(c.Options) == 0 {
		return nil
	}
	f.choices(c.Pick(v.Field("procedure")))
	f.day("signed_until", "Until", reprocess.Date(v.Field("signed_until")),
		"The last day; empty: without end")
	f.field(SignField())
	return f
}

// signOff ends somebody's learning for one procedure.
func signOff(v *Visit) error {
	who, w, err := v.person()
	if err != nil {
		return err
	}
	actor, err := v.Sign()
	if err == nil {
		_, err = v.DoAs(reprocess.SignOff{Person: who.ID, Procedure: v.Field("procedure"),
			Until: reprocess.Date(v.Field("signed_until"))}, actor)
	}
	if err != nil {
		return v.Refuse(err, v.personPage(w, *who))
	}
	return v.Went("/staff/"+who.ID, who.Name+" is signed off as competent.")
}

func sampleMatrix() Page {
	return &matrixPage{Base: Titled("Who may carry out which procedure?"), AsOf: "24 Nov 2026 07:30",
		Procedures: []string{"Reprocessing of Recorder A, version 2"},
		Rows:       []matrixRow{{"Ada Okafor", []string{"competent until 8 Dec 2026, ends soon"}}}}
}
