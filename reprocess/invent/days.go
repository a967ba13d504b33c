package invent

import (
	"time"

	"handback/reprocess"
)

// day plays one day of the past: weekends are closed.
func (s *sim) day(day int) {
	start := s.o.Now - reprocess.Instant(int64(s.o.Days-day)*dayMS)
	midnight := start - start%dayMS
	s.now = max(s.now, midnight+reprocess.Instant(8*60*60*1000))
	if w := s.now.Time().Weekday(); w == time.Saturday || w == time.Sunday {
		return
	}
	s.supplies(day)
	if wanted := min(s.o.Kits-2, 6+day*s.o.Kits/max(1, s.o.Days*2/3)); len(s.kits) < wanted {
		s.register()
	}
	s.due(day)
	s.book(day)
	s.checks()
	s.returns(day)
	s.bench(5)
	for range s.demand() {
		s.handOut()
	}
}

// demand is how many kits are asked for on a day.
func (s *sim) demand() int {
	n := len(s.kits)/30 + 1
	if s.chance(65) {
		n--
	}
	return n
}

// supplies keeps lots and tubs in date.
func (s *sim) supplies(day int) {
	if day > 0 && day%120 == 0 {
		s.stock()
	}
	c := s.w.Containers[s.wipes]
	if c == nil || s.used > 45 || c.Opened.AddDays(26) <= s.date() ||
		c.Lot != s.wipeLot {
		s.after(time.Minute)
		s.openWipes()
	}
}

func (s *sim) state(kit string) reprocess.State {
	return reprocess.KitState(s.w.Kits[kit], s.w.Pieces)
}

// returns takes back what is due; some come late.
func (s *sim) returns(day int) {
	for _, id := range s.kits {
		l := s.w.Loans[s.w.Kits[id].Loan]
		if s.state(id) != reprocess.Issued || l.Due > s.date() || s.late(id, day) || s.chance(25) {
			continue
		}
		s.about(4 * time.Minute)
		s.takeBack(id)
	}
}

func (s *sim) takeBack(kit string) {
	r := reprocess.Return{Skin: "no", Fault: "no", Missing: "no", Place: "dirty box",
		Left: reprocess.LeftDiscarded}
	switch {
	case s.chance(3):
		r.Skin = "yes"
	case s.chance(3):
		r.Missing, r.Short = "yes", []string{reprocess.ShortElectrodes}
	case s.chance(20):
		r.Skin, r.Fault, r.Missing, r.Left = "", "", "", reprocess.NotAsked
	}
	s.do(s.who(dario), false, reprocess.TakeBack{Kit: kit, Return: r})
}

// bench works through up to n kits that wait.
func (s *sim) bench(n int) {
	for _, id := range s.kits {
		if n == 0 {
			return
		}
		switch s.state(id) {
		case reprocess.Quarantined:
			s.decide(id)
		case reprocess.Returned, reprocess.Registered, reprocess.InReprocessing:
			s.reprocess(id)
			n--
		}
	}
}

// decide settles the holds of a kit, sooner or later.
func (s *sim) decide(kit string) {
	if !s.chance(40) {
		return
	}
	for _, id := range s.w.Kits[kit].Pieces {
		for len(s.w.Pieces[id].Holds) > 0 && s.err == nil {
			h := s.w.Pieces[id].Holds[0]
			s.about(10 * time.Minute)
			if h.Grade == reprocess.GradeTechnician {
				s.do(s.who(theo), true, reprocess.TechnicianDone{Kit: kit, Piece: id, Hold: h.Seq,
					Reason: "lead set exchanged, records again"})
				continue
			}
			s.do(s.who(ines), true, reprocess.DecideHold{Kit: kit, Piece: id, Hold: h.Seq,
				To: reprocess.DecideGoOn, Reason: "looked at, contact part exchanged"})
		}
	}
}

// handOut lends the kit that was released first; one whose release lapsed is re-checked.
func (s *sim) handOut() {
	s.about(5 * time.Minute)
	id := s.oldest()
	if id == "" {
		return
	}
	if a := reprocess.CanHandOut(s.w, s.w.Kits[id], reprocess.Now{UTC: s.now}); a.Rule == "lapsed" {
		s.do(s.who(rosa), true, reprocess.Recheck{Kit: id})
	}
	var flags []string
	if s.chance(4) {
		flags = []string{"respiratory"}
	}
	s.do(s.who(dario), false, reprocess.HandOut{Kit: id, Wearer: s.token(),
		Days: []int{3, 7, 7, 14, 14}[s.rng.IntN(5)], Flags: flags, Checks: s.shortList(id),
		Cell: s.cellAtOut(id), Pads: s.pads})
}

// shortList is what was gone through before a kit left; now and then something was not done.
func (s *sim) shortList(kit string) []reprocess.OutCheck {
	checks := reprocess.AllDone(s.w, s.w.Kits[kit])
	for i := range checks {
		if checks[i].Ask == "arrived" && s.chance(6) {
			checks[i].Answer, checks[i].Why = reprocess.OutNo, "closed"
		}
	}
	return checks
}

func (s *sim) oldest() string {
	best := ""
	for _, id := range s.inState(reprocess.Released) {
		if best == "" || s.w.Kits[id].Release.At < s.w.Kits[best].Release.At {
			best = id
		}
	}
	return best
}
