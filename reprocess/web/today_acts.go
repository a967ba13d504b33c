package web

import (
	"net/url"
	"time"

	"handback/reprocess"
)

// weekRoutes are the rows of the morning, the plan, kept kits and findings.
func weekRoutes() []Route {
	tick, note := acts(reprocess.ActTick), acts(reprocess.ActNote)
	keep, free := acts(reprocess.ActKeep), acts(reprocess.ActKeepEnd)
	find, routine := acts(reprocess.ActFinding), acts(reprocess.ActRoutine)
	today := func(method, path string, who Who, handle func(*Visit) error) Route {
		return Route{Method: method, Path: path, Who: who, Page: "today", Sample: sampleToday,
			Handle: handle}
	}
	closing := office(post, "/finding/:id/close", acts(reprocess.ActFindingClose), closeFinding)
	closing.Limit = mostBody
	first := today(get, "/today", tick, showToday)
	first.Place, first.Question = "Today", "What is due today?"
	return []Route{
		first,
		today(post, "/today/tick", tick, tickDay),
		today(post, "/today/note", note, noteDay),
		today(post, "/today/hand-over", acts(reprocess.ActHandOver), handOver),
		office(get, "/today/call/:kit", acts(reprocess.ActCall), showCall),
		office(post, "/today/call/:kit", acts(reprocess.ActCall), noteCall),
		office(get, "/tomorrow", tick, showTomorrow),
		office(post, "/tomorrow", acts(reprocess.ActWant), setWant),
		office(get, "/desk/kit/:kit/keep", keep, showKeep),
		office(post, "/desk/kit/:kit/keep", keep, keepKit),
		office(post, "/desk/kit/:kit/free", free, freeKit),
		office(get, "/kept", keep, showKept),
		office(post, "/kept", keep, findKept),
		office(get, "/findings", find, showFindings),
		office(get, "/findings/new", find, showNewFinding),
		office(post, "/findings/new", find, openFinding),
		office(get, "/finding/:id", find, showFinding),
		closing,
		{Method: get, Path: "/finding/:id/picture/:sha", Who: find, Handle: keptPicture},
		office(post, "/finding/:id/move", acts(reprocess.ActFindingMove), moveFinding),
		office(get, "/settings/day", routine, showRoutine),
		office(post, "/settings/day", routine, setRoutine),
	}
}

// weekday is a day as people say it.
func weekday(d reprocess.Date) string {
	t, err := time.Parse(reprocess.DateLayout, string(d))
	if err != nil {
		return "an unknown day"
	}
	return t.Weekday().String()
}

// timeOfDay is a moment of today by the clock alone.
func timeOfDay(at reprocess.Instant, now reprocess.Now) string {
	text := reprocess.Clock(at, now.Zone)
	return text[len(text)-len("15:04"):]
}

func tickDay(v *Visit) error {
	return v.onDay(reprocess.TickDay{Day: reprocess.Date(v.Field("day")), Tick: v.Field("tick"),
		Not: v.Field("not") == "yes"}, "")
}

func noteDay(v *Visit) error {
	return v.onDay(reprocess.NoteDay{Day: reprocess.Date(v.Field("day")), Note: v.Field("note")},
		"The note is in the day.")
}

func handOver(v *Visit) error {
	return v.onDay(reprocess.HandOver{Day: reprocess.Date(v.Field("day")), To: v.Field("to")},
		"The bench is handed over.")
}

// onDay does an act of the morning page and comes back to it.
func (v *Visit) onDay(cmd reprocess.Command, say string) error {
	if _, err := v.Do(cmd); err != nil {
		page, drawn := v.todayPage()
		if drawn != nil {
			return drawn
		}
		return v.Refuse(err, page)
	}
	return v.Went("/today", say)
}

func callAt(kit string) string { return "/today/call/" + url.PathEscape(kit) }

// callPage asks what came of a call and shows those before.
func (v *Visit) callPage(id string) (*officePage, error) {
	w, k, l, err := v.loanOut(id, "Nobody has to be called about it.")
	if err != nil {
		return nil, err
	}
	p := titledOffice("What came of the call about kit " + k.Number + "?")
	if b, back := reprocess.CallBackOf(w, k, v.Now); back {
		p.Lead = append(v.callBackNotes(w, b), tellWords)
	}
	if l.Due != "" {
		p.Lead = append(p.Lead, "Due back "+reprocess.Day(l.Due)+".")
	}
	p.list("Calls so far", "Nobody was called yet.", pastCalls(l, v.Now)...)
	if acts(reprocess.ActView).lets(v.Person) {
		p.list("", "", ruledLine{To: "/overdue", Words: "Look up the wearer’s reference"})
	}
	f := &form{To: callAt(id), Act: "Note the call", Kept: []Kept{{"loan", l.ID}}}
	f.one("result", "What came of it?", v.Field("result"),
		Choice{Value: reprocess.CallNotReached, Words: "Not reached"},
		Choice{Value: reprocess.CallReached, Words: "Reached, no day promised"},
		Choice{Value: reprocess.CallWillBring, Words: "Will bring it on the day below"})
	f.day("on", "The day they promised", reprocess.Date(v.Field("on")), "")
	f.text("note", "A note, if one helps", v.Field("note"), "No names, no numbers of people")
	p.form(f)
	if acts(reprocess.ActMissing).lets(v.Person) && !k.Loss.Open() {
		p.list("", "", ruledLine{To: deskAt(id) + "/missing", Words: "It is lost",
			Notes: []string{"Note the call first; then say what is on it, and whom you tell."}})
	}
	return p, nil
}

func pastCalls(l *reprocess.Loan, now reprocess.Now) []ruledLine {
	var all []ruledLine
	for _, c := range l.Calls {
		row := ruledLine{Words: upper(callWords(c.Result, c.On)),
			Notes: []string{c.Name + ", " + reprocess.Clock(c.At, now.Zone)}}
		if c.Note != "" {
			row.Notes = append(row.Notes, c.Note)
		}
		all = append(all, row)
	}
	return all
}

func showCall(v *Visit) error {
	page, err := v.callPage(v.Param("kit"))
	if err != nil {
		return err
	}
	return v.Show(page)
}

func noteCall(v *Visit) error {
	id := v.Param("kit")
	_, err := v.Do(reprocess.CallOverdue{Kit: id, Loan: v.Field("loan"), Result: v.Field("result"),
		On: reprocess.Date(v.Field("on")), Note: v.Field("note")})
	if err != nil {
		page, drawn := v.callPage(id)
		if drawn != nil {
			return drawn
		}
		return v.Refuse(err, page)
	}
	return v.Went("/today", "The call is noted.")
}

// routinePage asks how the day goes.
func routinePage(s reprocess.Settings, ticks string) *officePage {
	p := titledOffice("What is on the daily list?")
	f := &form{To: "/settings/day", Act: "Keep it"}
	list := TextField("ticks", "Done every day, one line each", ticks)
	list.Lines, list.Hint = 6, "Up to 12 lines. Empty: the three that stand here at first."
	f.field(list)
	f.text("short_from", "From which hour is tomorrow’s shortage shown?", s.ShortFrom(),
		"Such as 14:00")
	f.text("keep_until", "Until which hour is a kit kept on the day of an appointment?",
		s.KeepUntil(), "Such as 18:00. What is kept already keeps its hour.")
	p.form(f)
	p.act("/today", "What is due today?")
	p.Acts[0].Main = false
	return p
}

func showRoutine(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	return v.Show(routinePage(w.Settings, joined(w.Settings.Ticks())))
}

func setRoutine(v *Visit) error {
	r := reprocess.Routine{Ticks: lines(v.raw("ticks")), ShortFrom: v.Field("short_from"),
		KeepUntil: v.Field("keep_until")}
	if _, err := v.Do(reprocess.SetRoutine{Routine: r}); err != nil {
		return v.Refuse(err, routinePage(reprocess.Settings{Routine: &r}, v.raw("ticks")))
	}
	return v.Went("/today", "The day goes like this from now on.")
}
