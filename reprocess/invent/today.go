package invent

import (
	"time"

	"handback/reprocess"
)

// today leaves the pool as a bench finds it on a working morning: something in every state.
func (s *sim) today() {
	s.now = max(s.now, s.o.Now-reprocess.Instant(6*60*60*1000))
	s.supplies(0)
	s.fresh()
	s.shelf()
	s.away()
	s.evidence()
	s.onTheBench()
	s.toWard()
	s.shelfOf()
	s.people()
	s.desk()
	s.now = max(s.now, s.o.Now-25*60_000)
	s.testNext()
	s.now = max(s.now, s.o.Now-10*60_000)
	s.ticks(2)
	s.do(s.who(ada), false, reprocess.NoteDay{Day: s.date(),
		Note: "The lamp over the bench flickers; a new one is ordered."})
	s.now = max(s.now, s.o.Now-25_000)
	s.wetNow()
}

// fresh registers two kits that nobody has worked on yet.
func (s *sim) fresh() {
	for s.err == nil && len(s.kits) < s.o.Kits {
		s.register()
		s.after(time.Minute)
	}
}

// inState lists kits in a state, in order of registration, the newest last.
func (s *sim) inState(states ...reprocess.State) []string {
	var out []string
	for _, id := range s.kits {
		if has(states, s.state(id)) {
			out = append(out, id)
		}
	}
	return out
}

// shelf makes sure that enough kits are released.
func (s *sim) shelf() {
	for _, id := range s.inState(reprocess.Returned, reprocess.InReprocessing) {
		if len(s.inState(reprocess.Released)) >= 9 {
			break
		}
		s.reprocess(id)
	}
	for range s.o.Kits {
		if len(s.inState(reprocess.Issued)) < 20 && len(s.inState(reprocess.Released)) > 14 {
			s.handOut()
		}
	}
}

// away sets single kits aside: each of the states off the routine path once.
func (s *sim) away() {
	boss, ipc := s.who(sunniva), s.who(ines)
	released := s.inState(reprocess.Released)
	for i, act := range []func(k *reprocess.Kit) (string, bool, reprocess.Command){
		func(k *reprocess.Kit) (string, bool, reprocess.Command) {
			return boss, false, reprocess.DeclareMissing{Kit: k.ID, Data: reprocess.DataNo,
				Note: "not found at stock-taking"}
		},
		func(k *reprocess.Kit) (string, bool, reprocess.Command) {
			return boss, true, reprocess.SendToRepair{Kit: k.ID, Piece: k.Pieces[0],
				Declaration: reprocess.StillContaminated, Reason: "clip broken",
				Left: "not opened, outside only wiped; one bag", To: "The maker’s workshop",
				Expected: reprocess.DateIn(s.now, nil).AddDays(14)}
		},
		func(k *reprocess.Kit) (string, bool, reprocess.Command) {
			return boss, false, reprocess.Aside{Kit: k.ID, Piece: k.Pieces[0], To: reprocess.Retired,
				Reason: "housing worn out"}
		},
		func(k *reprocess.Kit) (string, bool, reprocess.Command) {
			return ipc, true, reprocess.StopKit{Kit: k.ID, Reason: "a question about its last lot"}
		},
	} {
		if i >= len(released) {
			break
		}
		s.about(2 * time.Minute)
		by, signed, cmd := act(s.w.Kits[released[i]])
		s.do(by, signed, cmd)
	}
	if out := s.out(); len(out) > 1 {
		k := s.w.Kits[out[1]]
		s.do(ipc, true, reprocess.StopKit{Kit: k.ID, Reason: "wearer asked to bring it back early"})
	}
}

// toWard gives the last kit of the shelf to a ward, which still keeps it.
func (s *sim) toWard() {
	ready := s.inState(reprocess.Released)
	if len(ready) < 2 {
		return
	}
	s.about(2 * time.Minute)
	s.lentTo("Ward 4")
}

// out lists the kits that are with wearers, but those that stay out over their day.
func (s *sim) out() []string {
	var out []string
	for _, id := range s.inState(reprocess.Issued) {
		if !s.over[id] && !s.w.Loans[s.w.Kits[id].Loan].ByWard() {
			out = append(out, id)
		}
	}
	return out
}

// stands are where half-done kits of the morning stand still.
var stands = []reprocess.StepID{reprocess.StepCleaning, reprocess.StepDisinfection,
	reprocess.StepDrying, reprocess.StepBattery, reprocess.StepFunction, reprocess.StepPacking,
	reprocess.StepRelease, reprocess.StepRelease}

// onTheBench takes kits back this morning: some in the box, some half done, one on hold.
func (s *sim) onTheBench() {
	out := s.out()
	for i, id := range out {
		if len(s.inState(reprocess.Issued)) <= 6 || i >= len(stands)+3 {
			break
		}
		s.about(3 * time.Minute)
		s.takeBack(id)
		if i < 2 {
			s.signKit(id)
			continue
		}
		if i == 2 {
			s.do(s.who(ada), false, reprocess.PutOnHold{Kit: id, Piece: s.w.Kits[id].Pieces[0],
				Reason: "skin_broken", Note: "told at the desk"})
			continue
		}
		p := pass{s: s, kit: s.w.Kits[id], by: s.who(ada), stop: stands[i-3]}
		p.steps()
		if p.stop == reprocess.StepDrying && len(p.at(reprocess.StepDrying)) > 0 {
			s.do(p.by, false, reprocess.Look{Kit: id, Pieces: p.at(reprocess.StepDrying),
				Saw: reprocess.RecSeenDry})
		}
	}
}

// signKit remembers the label of a kit that came back, for somebody who tries the demo.
func (s *sim) signKit(kit string) {
	if s.sign == "" {
		s.sign = s.codes[kit]
	}
}

// wetNow leaves one kit wet at this moment.
func (s *sim) wetNow() {
	for _, id := range s.kits {
		p := pass{s: s, kit: s.w.Kits[id], by: s.who(ada)}
		if s.state(id) != reprocess.InReprocessing || p.next() != reprocess.StepDisinfection {
			continue
		}
		s.do(p.by, false, reprocess.WetNow{Kit: id, Pieces: p.at(reprocess.StepDisinfection),
			Container: s.wipes})
		return
	}
}
