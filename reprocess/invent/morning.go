package invent

import (
	"time"

	"handback/reprocess"
)

// bookDays is how many of the last days have their daily list ticked.
const bookDays = 14

// book keeps the day's list of the last days, and the calls about what is overdue.
func (s *sim) book(day int) {
	if s.o.Days-day > bookDays {
		return
	}
	s.ticks(3)
	for _, id := range s.inState(reprocess.Issued) {
		l := s.w.Loans[s.w.Kits[id].Loan]
		if l.Due < s.date() && s.chance(60) {
			s.about(3 * time.Minute)
			s.call(id, l)
		}
	}
	s.after(time.Minute)
	s.do(s.who(ada), false, reprocess.HandOver{Day: s.date(), To: s.who(milo)})
}

// ticks does the first lines of the daily list.
func (s *sim) ticks(n int) {
	for _, words := range s.w.Settings.Ticks()[:n] {
		s.after(time.Minute)
		s.do(s.who(ada), false, reprocess.TickDay{Day: s.date(), Tick: words})
	}
}

func (s *sim) call(kit string, l *reprocess.Loan) {
	c := reprocess.CallOverdue{Kit: kit, Loan: l.ID, Result: reprocess.CallNotReached}
	if s.chance(50) {
		c.Result, c.On = reprocess.CallWillBring, s.date().AddDays(2)
	}
	s.do(s.who(dario), false, c)
}

// late tells whether a kit is one of the two that stay out over their day until the demo opens.
func (s *sim) late(kit string, day int) bool {
	full := len(s.over) == 2 && !s.over[kit]
	if s.o.Days-day > 10 || full || s.w.Loans[s.w.Kits[kit].Loan].ByWard() {
		return false
	}
	s.over[kit] = true
	return true
}

// desk is the morning at the counter: a loss, an appointment, a wait, what is wanted.
func (s *sim) desk() {
	s.lost()
	s.kept()
	for _, id := range s.inState(reprocess.Returned) {
		if s.codes[id] != s.sign {
			s.about(2 * time.Minute)
			s.do(s.who(dario), false, reprocess.Wait{Kit: id, Reason: "reading", Who: "Reading place",
				Next: s.date()})
			break
		}
	}
	for _, want := range []struct {
		model       string
		days, count int
	}{{modelA, 0, 3}, {modelA, 1, 6}, {modelB, 1, len(s.kits) / 3}, {modelA, s.workdays(3), 5}} {
		s.after(20 * time.Second)
		s.do(s.who(dario), false, reprocess.SetWant{Day: s.date().AddDays(want.days),
			Model: s.model(want.model).ID, Count: want.count})
	}
}

// workdays is how many days it is until so many working days have passed.
func (s *sim) workdays(n int) int {
	days := 0
	for n > 0 {
		days++
		switch s.now.Time().AddDate(0, 0, days).Weekday() {
		case time.Saturday, time.Sunday:
		default:
			n--
		}
	}
	return days
}

// lost is a kit that a wearer left somewhere, with data on it: the clock for telling runs.
func (s *sim) lost() {
	if out := s.out(); len(out) > 3 {
		s.do(s.who(dario), false, reprocess.DeclareMissing{Kit: out[0], Data: reprocess.DataYes,
			Known: s.now - 14*60*60*1000, Note: "left on a train, told by telephone"})
	}
}

// kept keeps two kits for appointments of tomorrow.
func (s *sim) kept() {
	i := 0
	for _, id := range s.inState(reprocess.Released) {
		if i == 2 || s.modelOf(id) == modelB { // a zinc-air cell is fitted when it leaves
			continue
		}
		s.after(time.Minute)
		t := s.token()
		s.wearers[t] = []string{"A-2041", "A-2057"}[i]
		s.do(s.who(dario), false, reprocess.KeepKit{Kit: id, Token: t, Day: s.date().AddDays(1)})
		i++
	}
}

// people gives the table of competence something to say: one learns, one has to renew.
func (s *sim) people() {
	boss := s.who(sunniva)
	phone := s.w.InForce[s.model(modelPhone).ID]
	for _, x := range []struct {
		name   string
		change func(*reprocess.Competence)
	}{
		{theo, func(c *reprocess.Competence) { c.Learning = true }},
		{milo, func(c *reprocess.Competence) { c.Until = s.date().AddDays(20) }},
	} {
		p := *s.w.People[s.who(x.name)]
		p.Competences = append([]reprocess.Competence{}, p.Competences...)
		for i := range p.Competences {
			if ref := s.w.Procedures[phone]; ref != nil && p.Competences[i].Procedure != ref.ID {
				x.change(&p.Competences[i])
			}
		}
		s.do(boss, false, reprocess.SetPerson{Person: p})
	}
	s.learner()
}

// learner leaves one kit whose steps somebody competent has to countersign.
func (s *sim) learner() {
	for _, id := range append(s.inState(reprocess.Registered), s.inState(reprocess.Returned)...) {
		k := s.w.Kits[id]
		if len(k.Waiting) == 0 && s.codes[id] != s.sign {
			pass{s: s, kit: k, by: s.who(theo)}.steps()
			return
		}
	}
}

// shelfOf takes in what stands beside the wipes in use: a second product, electrodes, and a lot
// that was stopped.
func (s *sim) shelfOf() {
	bench := s.who(ada)
	s.do(bench, false, reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotDisinfectant,
		Product: s.product("Bottle I70"), Number: "I70-0042", Expiry: s.date().AddDays(300), Count: 1}})
	s.do(bench, false, reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotElectrodes,
		Name: "Electrode, long wear", Number: "EL-7731", Expiry: s.date().AddDays(25)}})
	e := s.do(bench, false, reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotDisinfectant,
		Product: s.product("Slow-drying wipe Q"), Number: "Q-0113", Expiry: s.date().AddDays(200),
		Count: 3}})
	if id := lotID(e); id != "" {
		s.do(bench, false, reprocess.OpenContainer{Lot: id, Code: s.o.Code()})
		s.about(10 * time.Minute)
		s.do(s.who(milo), false, reprocess.StopLot{Lot: id, Reason: "smells unlike the last one"})
	}
}
