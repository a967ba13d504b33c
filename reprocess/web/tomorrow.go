package web

import (
	"fmt"
	"strings"

	"handback/reprocess"
)

// planDays is how far the plan is shown, in days from today.
const planDays = 14

func joined(lines []string) string { return strings.Join(lines, "\n") }

// outlookWords puts a day's outlook into one line and its figures.
func outlookWords(w *reprocess.World, o reprocess.Outlook) (words, note string) {
	words = modelName(w, o.Model) + ": "
	switch short, best := o.Short(), o.ShortAtBest(); {
	case short == 0:
		words += "enough"
	case best == short:
		words += fmt.Sprintf("%d short", short)
	case best == 0:
		words += fmt.Sprintf("%d short, unless the bench and the returns bring them", short)
	default:
		words += fmt.Sprintf("%d short, %d at best", short, best)
	}
	note = fmt.Sprintf("Wanted %d", o.Want)
	if o.Given > 0 {
		note += fmt.Sprintf(", handed out %d", o.Given)
	}
	if o.Before > 0 {
		note += fmt.Sprintf(", wanted before %d", o.Before)
	}
	note += fmt.Sprintf(". Ready %d, at the bench %d, due back before %d.", o.Ready, o.Bench,
		o.DueBack)
	return words, note
}

// shortLines are what the morning page says: a shortage of today at any hour, that of the next
// day with something wanted from the hour that the clinic sets.
func shortLines(w *reprocess.World, now reprocess.Now) []Line {
	today := now.Today()
	days := []reprocess.Date{today}
	if now.UTC >= reprocess.AtHour(today, w.Settings.ShortFrom(), now.Zone) {
		days = append(days, nextWanted(w, today))
	}
	var all []Line
	for _, day := range days {
		for _, o := range reprocess.OutlookOn(w, day, now) {
			if o.Short() > 0 {
				words, note := outlookWords(w, o)
				all = append(all, Line{"/tomorrow", dayWords(day, today) + ", " + words, note})
			}
		}
	}
	return all
}

// nextWanted is the first day after today on which something is wanted, empty without one.
func nextWanted(w *reprocess.World, today reprocess.Date) reprocess.Date {
	next := reprocess.Date("")
	for _, x := range w.Wants {
		if x.Count > 0 && x.Day > today && (next == "" || x.Day < next) {
			next = x.Day
		}
	}
	return next
}

// dayWords is a day as a plan says it.
func dayWords(day, today reprocess.Date) string {
	switch day {
	case today:
		return "Today"
	case today.AddDays(1):
		return "Tomorrow"
	}
	return weekday(day) + " " + reprocess.Day(day)
}

func showTomorrow(v *Visit) error {
	page, err := v.tomorrowPage()
	if err != nil {
		return err
	}
	return v.Show(page)
}

func (v *Visit) tomorrowPage() (*officePage, error) {
	today := v.Now.Today()
	w, err := v.Store().Week(v.Context(), today)
	if err != nil {
		return nil, err
	}
	p := titledOffice("Are there enough kits?", "As of "+v.moment(v.Now.UTC)+
		". Nothing is promised: a kit at the bench may fail, a wearer may come late.")
	for n := range planDays + 1 {
		day := today.AddDays(n)
		var rows []ruledLine
		for _, o := range reprocess.OutlookOn(w, day, v.Now) {
			words, note := outlookWords(w, o)
			rows = append(rows, ruledLine{Words: words, Notes: []string{note}})
		}
		if len(rows) > 0 {
			p.list(dayWords(day, today), "", rows...)
		}
	}
	if len(p.Blocks) == 0 {
		p.Lead = append(p.Lead, "Nothing is wanted yet for the next days.")
	}
	if v.entitled(reprocess.ActWant) {
		p.form(v.wantForm(w))
	}
	p.Acts = append(p.Acts, onward{To: "/ready", Words: "Which kits can go out?"})
	return p, nil
}

func (v *Visit) wantForm(w *reprocess.World) *form {
	f := &form{Heading: "How many are wanted?", To: "/tomorrow", Act: "Put it into the plan"}
	day := v.Field("day")
	if day == "" {
		day = string(v.Now.Today().AddDays(1))
	}
	f.day("day", "On which day?", reprocess.Date(day), "")
	var models []Choice
	for _, m := range reprocess.RecorderModels(w) {
		models = append(models, Choice{Value: m.ID, Words: m.Name})
	}
	picked := v.Field("model")
	if picked == "" && len(models) == 1 {
		picked = models[0].Value
	}
	f.one("model", "Which model?", picked, models...)
	n := TextField("count", "How many?", v.Field("count"))
	n.Keys, n.Required, n.Hint = "numeric", true, "It replaces what was said before; 0 takes it away"
	f.field(n)
	return f
}

func setWant(v *Visit) error {
	t := v.typing()
	cmd := reprocess.SetWant{Day: reprocess.Date(v.Field("day")), Model: v.Field("model"),
		Count: t.whole("count", "How many")}
	if v.Field("count") == "" {
		t.bad("count", "Type a whole number; 0 takes it away.", "How many are wanted was not said.")
	}
	err := t.err()
	if err == nil {
		_, err = v.Do(cmd)
	}
	if err != nil {
		page, drawn := v.tomorrowPage()
		if drawn != nil {
			return drawn
		}
		return v.Refuse(err, page)
	}
	return v.Went("/tomorrow", "It is in the plan.")
}
