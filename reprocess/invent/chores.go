package invent

import (
	"fmt"
	"time"

	"handback/reprocess"
)

// chore is something that happened once, so many days before the demo opens; a day on which
// the clinic is closed puts it off to the next one.
type chore struct {
	left int
	do   func(*sim)
}

// chores are in the order they happened.
var chores = []chore{
	{60, (*sim).sentAway},
	{48, (*sim).backFromRepair},
	{45, (*sim).foundAndClosed},
	{40, (*sim).electrodes},
	{30, func(s *sim) {
		s.do(s.who(dario), false, reprocess.NotOurs{Note: "a recorder of another clinic, in a padded bag",
			Place: "post"})
	}},
	{27, func(s *sim) { s.lentTo("Day clinic") }},
	{25, (*sim).backOnWard},
	{23, (*sim).fromWard},
	{20, func(s *sim) {
		s.do(s.who(theo), false, reprocess.SetCampaign{Campaign: reprocess.Campaign{Name: "App to 7.2",
			Model: s.model(modelPhone).ID, What: reprocess.VersionApp, Target: newApp}})
	}},
	{16, (*sim).warned},
	{filed, (*sim).exports},
	{12, (*sim).foundLate},
	{learnt, (*sim).learnHeight},
	{8, (*sim).foundKit},
}

// due does the chores whose day has come.
func (s *sim) due(day int) {
	left := s.o.Days - day
	for s.chores < len(chores) && chores[s.chores].left >= left {
		c := chores[s.chores]
		s.chores++
		if c.left <= s.o.Days { // a shorter history begins after it
			s.about(3 * time.Minute)
			c.do(s)
		}
	}
}

// The versions that run on the pieces: of the recorders, of the app before and after.
const (
	oldSoftware    = "2.0"
	oldApp, newApp = "7.1", "7.2"
)

// technical lists what is checked of each model, and how a day goes here.
func (s *sim) technical(boss string) {
	s.do(boss, false, reprocess.SetChecks{Model: s.model(modelA).ID, Checks: []reprocess.CheckRule{
		{Words: "maintenance", Months: 24, Basis: "Recorder A instructions, page 31"}}})
	s.do(boss, false, reprocess.SetChecks{Model: s.model(modelPhone).ID, Checks: []reprocess.CheckRule{
		{Words: "electrical safety", On: "charger", Months: 12, Basis: "the clinic’s list of mains devices"}}})
	s.do(boss, false, reprocess.SetRoutine{Routine: reprocess.Routine{ShortFrom: "06:00"}})
}

// commissioned enters the first check of a new kit and what runs on it.
func (s *sim) commissioned(kit string) {
	for _, id := range s.w.Kits[kit].Pieces {
		what, version := reprocess.VersionSoftware, oldSoftware
		if s.w.Pieces[id].Kind == reprocess.Phone {
			what, version = reprocess.VersionApp, oldApp
			if s.phoneIsNew() {
				version = newApp
			}
		}
		s.do(s.who(theo), false, reprocess.SetVersion{Kit: kit, Piece: id, What: what, Version: version})
		for _, c := range s.w.Checks(s.w.Pieces[id], s.date()) {
			s.check(kit, id, c.Rule.ID)
		}
	}
}

// phoneIsNew tells whether the campaign for the app has begun: a new phone comes with it.
func (s *sim) phoneIsNew() bool { return len(s.w.Settings.Campaigns) > 0 }

func (s *sim) check(kit, piece, rule string) {
	s.do(s.who(theo), false, reprocess.RecordCheck{Kit: kit, Piece: piece, Check: rule, On: s.date(),
		Result: "passed", Tester: "Moorland workshop (invented)"})
}

// checks makes, once a week, most of the technical checks that come due.
func (s *sim) checks() {
	if s.now.Time().Weekday() != time.Monday {
		return
	}
	for _, kit := range s.kits {
		if s.state(kit) == reprocess.Issued {
			continue
		}
		for _, id := range s.w.Kits[kit].Pieces {
			for _, c := range s.w.Checks(s.w.Pieces[id], s.date()) {
				if c.Days <= 21 && s.chance(50) {
					s.after(10 * time.Minute)
					s.check(kit, id, c.Rule.ID)
				}
			}
		}
	}
}

// sentAway sends a recorder to its maker, still contaminated, with the declaration for it.
func (s *sim) sentAway() {
	if ready := s.inState(reprocess.Released); len(ready) > 0 {
		s.repair = ready[0]
		s.do(s.who(theo), true, reprocess.SendToRepair{Kit: s.repair, Piece: s.w.Kits[s.repair].Pieces[0],
			Declaration: reprocess.StillContaminated, Reason: "the door of the cell does not latch",
			Left: "not opened; outside only wiped; one bag", To: "The maker’s workshop",
			Expected: s.date().AddDays(14)})
	}
}

func (s *sim) backFromRepair() {
	if s.repair != "" {
		s.do(s.who(theo), false, reprocess.RepairBack{Kit: s.repair, Piece: s.w.Kits[s.repair].Pieces[0],
			Outcome: "repaired", Cost: 8500, Currency: "EUR", Note: "new latch"})
	}
}

// foundAndClosed is a finding that was put right the same day.
func (s *sim) foundAndClosed() {
	e := s.do(s.who(ines), false, reprocess.OpenFinding{Text: "Two opened tubs without an opening date",
		Action: "Stickers beside the tubs, shown to everybody", Owner: s.who(rosa),
		Due: s.date().AddDays(7)})
	if id := findingID(e); id != "" {
		s.after(2 * time.Hour)
		shown := s.do(s.who(rosa), false, reprocess.NoteDay{Day: s.date(),
			Note: "Stickers for opened tubs hang at the shelf; two tubs are thrown away."})
		if shown == nil {
			return
		}
		s.do(s.who(rosa), false, reprocess.CloseFinding{Finding: id,
			Done: "Stickers hang at the shelf", Evidence: fmt.Sprintf("entry %d", shown.Seq)})
	}
}

func findingID(e *reprocess.Entry) string {
	if e != nil {
		for _, b := range e.Events {
			if v, ok := b.Event.(reprocess.FindingOpened); ok {
				return v.ID
			}
		}
	}
	return ""
}

// foundLate is a finding that is over its day when the demo opens.
func (s *sim) foundLate() {
	s.do(s.who(sunniva), false, reprocess.OpenFinding{Text: "The lid of a dirty box does not shut",
		Action: "Order a new one, take this one away", Owner: s.who(milo), Due: s.date().AddDays(9)})
}

// foundKit is one about a kit, still in time.
func (s *sim) foundKit() {
	s.do(s.who(ada), false, reprocess.OpenFinding{Text: "The label of the phone begins to lift",
		Action: "Print it anew at the next return", Owner: s.who(theo), Kit: s.kits[0],
		Due: s.date().AddDays(13)})
}

// lentTo gives a kit to a ward, where somebody wears it.
func (s *sim) lentTo(ward string) string {
	ready := s.inState(reprocess.Released)
	if len(ready) < 2 {
		return ""
	}
	k := s.w.Kits[ready[len(ready)-1]]
	s.do(s.who(dario), false, reprocess.HandOut{Kit: k.ID, Ward: ward, Days: 7,
		Checks: reprocess.AllDoneToWard(s.w, k), Cell: s.cellAtOut(k.ID), Pads: s.pads})
	s.about(90 * time.Minute)
	s.do(s.who(ines), false, reprocess.WearAtWard{Kit: k.ID, Wearer: s.token()})
	s.onWard = k.ID
	return k.ID
}

func (s *sim) backOnWard() {
	if s.onWard != "" {
		s.do(s.who(ines), false, reprocess.BackOnWard{Kit: s.onWard})
	}
}

// fromWard takes the ward's kit back; nobody can say by how many it was worn.
func (s *sim) fromWard() {
	if s.onWard != "" {
		s.do(s.who(dario), false, reprocess.TakeBack{Kit: s.onWard, Return: reprocess.Return{
			Skin: "no", Missing: "no", Place: "dirty box", Worn: reprocess.WornUnknown}})
		s.onWard = ""
	}
}

// warned keeps a letter of a maker; the one piece of ours that it names goes on hold.
func (s *sim) warned() {
	const ref = "Letter of the maker of Recorder A: clips of one week may crack"
	ready := s.inState(reprocess.Released)
	if len(ready) < 8 {
		return
	}
	k := s.w.Kits[ready[2]]
	serial := s.w.Pieces[k.Pieces[0]].Serial
	e := s.do(s.who(ines), true, reprocess.NoteWarning{Ref: ref, Serials: serial + "\nR99010 to R99040"})
	if e != nil {
		s.do(s.who(ines), true, reprocess.HoldAffected{Kit: k.ID, Pieces: k.Pieces[:1], Warning: e.Seq,
			Ref: ref})
	}
}

// electrodes takes in a lot that goes along with every loan from then on.
func (s *sim) electrodes() {
	s.pads = lotID(s.do(s.who(ada), false, reprocess.SetLot{Lot: reprocess.Lot{
		Kind: reprocess.LotElectrodes, Name: "Electrode, long wear", Number: "EL-7702",
		Expiry: s.date().AddDays(90)}}))
}
