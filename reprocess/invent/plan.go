// Package invent makes up a clinic and its history for the demo: everything happens through
// the real rules, by the same commands that people send, in an invented place with invented
// people. It is pure: the same start and seed give the same history, byte for byte.
package invent

import (
	"fmt"
	"math/rand/v2"
	"time"

	"handback/reprocess"
)

// Act is one command of the history, with who asked and when.
type Act struct {
	Cmd    reprocess.Command
	Person *reprocess.Person // nil: the console
	Signed bool
	Now    reprocess.Now
}

// Plan is the whole invented history in order, and what somebody who tries it needs.
type Plan struct {
	Acts   []Act
	People []reprocess.Person // one per role first; the demo gives them secrets
	Label  string             // code of one label: the recorder of a kit that came back
	Kit    string             // number of that kit
	// Wearers are the invented references behind the tokens of the loans.
	Wearers map[string]string
}

// Options say how much is invented.
type Options struct {
	Now  reprocess.Instant
	Seed uint64
	Days int // of history before Now; two years by default
	Kits int // 44 by default
	// Code draws a label code; nil: 17 letters from Seed, without a right check letter.
	Code func() string
	// Keep stores the PDF of an invented paper and gives its hash and size; nil: no documents.
	Keep func(Paper) (sha256 string, bytes int64, err error)
	// Files stores test recordings and pictures; nil: tests are seen by people, nothing is kept.
	Files Files
}

// History invents a plan. It fails only when the rules refuse what it takes for granted,
// which a test would show first.
func History(o Options) (Plan, error) {
	if o.Days == 0 {
		o.Days = 730
	}
	if o.Kits == 0 {
		o.Kits = 44
	}
	s := &sim{o: o, w: reprocess.NewWorld(),
		wearers: map[string]string{}, over: map[string]bool{},
		rng: rand.New(rand.NewPCG(o.Seed, 17))}
	s.now = o.Now - reprocess.Instant(int64(o.Days)*dayMS)
	if s.o.Code == nil {
		s.o.Code = s.code
	}
	s.setUp()
	for day := range o.Days {
		s.day(day)
	}
	s.today()
	return s.plan(), s.err
}

const dayMS = 24 * 60 * 60 * 1000

// sim keeps a world of its own beside the plan, so that it knows what each act led to.
type sim struct {
	o    Options
	w    *reprocess.World
	rng  *rand.Rand
	now  reprocess.Instant
	seq  int64
	acts []Act
	err  error

	wearers map[string]string
	kits    []string          // ids in order of registration
	codes   map[string]string // of the recorder of each kit
	phones  map[string]string // of its phone
	wipes   string            // container in use
	used    int               // times it was used
	wipeLot string
	oldLot  string // the lot before it
	cells   string
	air     string // cells of the model on zinc-air
	pads    string // electrodes that go along
	sign    string // sample label

	chores int             // how many of them are done
	repair string          // kit whose recorder was sent away
	onWard string          // kit that a ward keeps
	over   map[string]bool // kits that stay out over their day
}

// do decides and applies one command. A refusal that the history means to show is asked for
// by refused; any other is an error of the plan.
func (s *sim) do(person string, signed bool, cmd reprocess.Command) *reprocess.Entry {
	if s.err != nil {
		return nil
	}
	e, p := s.act(person, signed, cmd)
	if p != nil {
		s.err = fmt.Errorf("inventing act %d (%T by %s): %w", s.seq, cmd, person, p)
	}
	return e
}

// refused plays an act that the rules must not let through.
func (s *sim) refused(person string, signed bool, cmd reprocess.Command) {
	if s.err != nil {
		return
	}
	if _, p := s.act(person, signed, cmd); p == nil {
		s.err = fmt.Errorf("inventing act %d: %T was not refused", s.seq, cmd)
	}
}

func (s *sim) act(person string, signed bool, cmd reprocess.Command) (*reprocess.Entry,
	*reprocess.Problem) {
	actor := reprocess.Console()
	a := Act{Cmd: cmd, Signed: signed, Now: reprocess.Now{UTC: s.now}}
	if person != "" {
		who := *s.w.People[person]
		a.Person = &who
		actor = reprocess.Actor{Person: &who, Signed: signed}
	}
	s.seq++
	s.acts = append(s.acts, a)
	events, p := reprocess.Decide(s.w, cmd, actor, a.Now, s.seq)
	e := &reprocess.Entry{Seq: s.seq, At: s.now, Act: cmd.Act(), Result: reprocess.ResultDone,
		By: actor.Person.ID, Name: actor.Person.Name}
	if p != nil {
		return nil, p
	}
	for _, ev := range events {
		e.Events = append(e.Events, reprocess.Box{Event: ev})
	}
	reprocess.Apply(s.w, e)
	s.w.Touched()
	return e, nil
}

// after moves the clock on.
func (s *sim) after(d time.Duration) { s.now = s.now.Add(d) }

// about moves the clock on by roughly d.
func (s *sim) about(d time.Duration) {
	s.after(d*3/4 + time.Duration(s.rng.Int64N(int64(d/2)+1)))
}

// chance is true in n of 100 cases.
func (s *sim) chance(n int) bool { return s.rng.IntN(100) < n }

func (s *sim) date() reprocess.Date { return reprocess.DateIn(s.now, nil) }

const letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

func (s *sim) draw(n int) string {
	b := make([]byte, n)
	for i := range b {
		b[i] = letters[s.rng.IntN(32)]
	}
	return string(b)
}

func (s *sim) code() string { return s.draw(17) }

// token draws a wearer token and invents the reference behind it.
func (s *sim) token() string {
	t := fmt.Sprintf("%016x%016x", s.rng.Uint64(), s.rng.Uint64())
	s.wearers[t] = fmt.Sprintf("W-%04d", len(s.wearers)%400+1000)
	return t
}

func (s *sim) plan() Plan {
	p := Plan{Acts: s.acts, Label: s.sign, Wearers: s.wearers}
	for _, who := range staff {
		p.People = append(p.People, *s.w.People[s.ids()[who.SignIn]])
	}
	for _, id := range s.kits {
		if l := s.w.Labels[s.sign]; l != nil && s.w.Pieces[l.Target].Kit == id {
			p.Kit = s.w.Kits[id].Number
		}
	}
	return p
}

// ids maps sign-in names to person ids.
func (s *sim) ids() map[string]string {
	out := map[string]string{}
	for id, p := range s.w.People {
		out[p.SignIn] = id
	}
	return out
}
