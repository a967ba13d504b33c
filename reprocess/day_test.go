package reprocess

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// bench is a small clinic in memory: every act goes through Decide and Apply, as in the store.
type clinic struct {
	t   testT
	w   *World
	now Now
	seq int64

	record *[]*Entry // when set, every entry that was done
}

var dayOne = Instant(time.Date(2026, 11, 24, 8, 0, 0, 0, time.UTC).UnixMilli())

// testT is what both testing and rapid offer.
type testT interface {
	require.TestingT
	Helper()
}

func newClinic(t testT) *clinic {
	c := &clinic{t: t, w: NewWorld(), now: Now{UTC: dayOne, Boot: "b1", Mono: 0}}
	c.w.Settings = Settings{Site: "s1", Zone: "UTC"}
	c.setUp()
	return c
}

// wait moves the clock, both ways of measuring.
func (c *clinic) wait(d time.Duration) {
	c.now.UTC = c.now.UTC.Add(d)
	c.now.Mono += d.Milliseconds()
}

func (c *clinic) try(actor Actor, cmd Command) (*Entry, *Problem) {
	c.seq++
	events, p := Decide(c.w, cmd, actor, c.now, c.seq)
	if p != nil {
		return nil, p
	}
	e := &Entry{Seq: c.seq, At: c.now.UTC, Boot: c.now.Boot, Mono: c.now.Mono, Act: cmd.Act(),
		Result: ResultDone, By: actor.Person.ID, Name: actor.Person.Name, Signed: actor.Signed}
	for _, ev := range events {
		e.Events = append(e.Events, Box{ev})
	}
	Apply(c.w, e)
	if c.record != nil {
		*c.record = append(*c.record, e)
	}
	return e, nil
}

func (c *clinic) do(actor Actor, cmd Command) *Entry {
	c.t.Helper()
	e, p := c.try(actor, cmd)
	require.Nil(c.t, p, "%T: %v", cmd, p)
	return e
}

func (c *clinic) refused(rule string, actor Actor, cmd Command) *Problem {
	c.t.Helper()
	_, p := c.try(actor, cmd)
	require.NotNil(c.t, p, "%T was not refused", cmd)
	require.Equal(c.t, rule, p.Rule, "%s", p)
	require.NotEmpty(c.t, p.Text)
	return p
}

func (c *clinic) actor(id string) Actor { return Actor{Person: c.w.People[id], Signed: true} }

// setUp describes two models with procedures, one product with lot and container, a box of
// cells, three people and kit 17 with its labels.
func (c *clinic) setUp() {
	day := DateIn(dayOne, nil)
	comp := []Competence{{Procedure: "R12", From: "2026-01-01"}, {Procedure: "R13", From: "2026-01-01"}}
	for _, p := range []Person{
		{ID: "boss", Name: "Bea Boss", SignIn: "bea", Roles: []Role{RoleSupervisor}, Competences: comp},
		{ID: "ada", Name: "Ada Bench", SignIn: "ada", Roles: []Role{RoleReprocessing, RoleRelease}, Competences: comp},
		{ID: "dan", Name: "Dan Desk", SignIn: "dan", Roles: []Role{RoleFrontDesk}},
		{ID: "ina", Name: "Ina Control", SignIn: "ina", Roles: []Role{RoleInfection}, Competences: comp},
	} {
		p := p
		c.w.People[p.ID] = &p
	}
	boss, ada := c.actor("boss"), c.actor("ada")
	c.seq = 9
	c.do(boss, SetModel{Model{Name: "Recorder A", Kind: Recorder, WearDays: 14, CycleLimit: 100}})        // M10
	c.do(boss, SetModel{Model{Name: "Phone P", Kind: Phone}})                                             // M11
	c.do(boss, ApproveProcedure{testProcedure("M10", Recorder)})                                          // R12
	c.do(boss, ApproveProcedure{testProcedure("M11", Phone)})                                             // R13
	c.do(boss, SetProduct{testProduct()})                                                                 // D14
	c.do(ada, SetLot{Lot{Kind: LotDisinfectant, Product: "D14", Number: "L6", Expiry: day.AddDays(200)}}) // T15
	c.do(ada, OpenContainer{Lot: "T15"})                                                                  // B16
	c.do(ada, SetLot{Lot{Kind: LotCells, Name: "LR03", Expiry: day.AddDays(900)}})                        // T17
	c.do(boss, RegisterKit{Number: "17", Place: "shelf A",
		Recorder: NewPiece{Model: "M10", Serial: "R-0017", Code: "CODE17R"},
		Phone:    &NewPiece{Model: "M11", Serial: "P-0017", Code: "CODE17P"}}) // K18
}

func testProduct() Product {
	return Product{Name: "Wipe E70", Use: ReadyToUse, OpenDays: 28, Models: []string{"M10", "M11"},
		Actives: []Active{{Agent: "ethanol", Strength: "70%v/v"}},
		Claims:  []Claim{{Token: "BAC", Seconds: 60}, {Token: "YEA", Seconds: 60}, {Token: "VIR-E", Seconds: 30}}}
}

func testProcedure(model string, kind Kind) Procedure {
	p := Procedure{Name: "Procedure for " + string(kind), Model: model, FloorS: 60,
		MinStrength: "70%v/v", MaxGapMin: 120, ReleaseDays: 30}
	for _, s := range Steps() {
		if s.ID == StepRelease || !contains(s.For, kind) {
			continue
		}
		row := StepRow{Step: s.ID, Override: s.Override}
		for _, a := range Asks(s.ID, kind) {
			if a.When == "" {
				row.Asks = append(row.Asks, a.ID)
			}
		}
		p.Steps = append(p.Steps, row)
	}
	return p
}

func answers(pairs ...string) []Answer {
	var out []Answer
	for i := 0; i < len(pairs); i += 2 {
		out = append(out, Answer{Ask: pairs[i], Value: pairs[i+1]})
	}
	return out
}

// goodSteps brings kit K18 to just before its release.
func (c *clinic) goodSteps(ada Actor) {
	c.beforePacking()
	c.wait(30 * time.Second)
	c.do(ada, RecordStep{Kit: "K18", Step: StepPacking,
		Answers: answers("complete", "yes", "sealed", "yes", "label", "CODE17R")})
}

// beforePacking brings kit K18 to its packing; the pieces named stop after the inspection.
func (c *clinic) beforePacking(stop ...string) {
	ada := c.actor("ada")
	rec, phone := []string{"P18-1"}, []string{"P18-2"}
	both := []string{"P18-1", "P18-2"}
	step := func(pieces []string, s StepID, pairs ...string) {
		c.t.Helper()
		c.wait(30 * time.Second)
		pieces = slices.DeleteFunc(slices.Clone(pieces), func(id string) bool {
			return contains(stop, id) && stepIndex(s) >= stepIndex(StepBattery)
		})
		if len(pieces) == 0 {
			return
		}
		c.do(ada, RecordStep{Kit: "K18", Pieces: pieces, Step: s, Answers: answers(pairs...)})
	}
	step(both, StepReceipt, "condition", "whole", "recording", "arrived", "old_cell", "yes")
	step(both, StepCleaning, "clean", "yes", "parts_clean", "yes")
	c.do(ada, WetNow{Kit: "K18", Pieces: both, Container: "B16"})
	c.wait(61 * time.Second)
	c.do(ada, Look{Kit: "K18", Pieces: both, Saw: RecLooksWet})
	step(both, StepDrying, "dry", "yes")
	step(both, StepInspection, "sound", "yes")
	step(rec, StepBattery, "cell", "T17", "latched", "yes")
	step(phone, StepBattery, "charge", "93")
	step(both, StepAssignment, "ended", "yes", "wiped", "yes",
		"app_there", "yes", "lock", "yes", "updates", "yes")
	step(rec, StepFunction, "worn_by", "bench", "signal", "usable", "memory", "yes")
}

func TestOneKitFromReturnToHandOutAndBack(t *testing.T) {
	c := newClinic(t)
	ada, dan := c.actor("ada"), c.actor("dan")
	k := c.w.Kits["K18"]
	c.refused("no_cycle", ada, ReleaseKit{Kit: "K18"})
	c.goodSteps(ada)
	require.Equal(t, AwaitingRelease, KitState(k, c.w.Pieces))
	c.refused("not_released", dan, HandOut{Kit: "K18", Wearer: "w1", Days: 7})
	c.do(ada, ReleaseKit{Kit: "K18"})
	require.True(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
	c.do(dan, HandOut{Kit: "K18", Wearer: "w1", Days: 7})
	require.Equal(t, Issued, KitState(c.w.Kits["K18"], c.w.Pieces))
	c.wait(7 * 24 * time.Hour)
	c.do(dan, TakeBack{Kit: "K18"})
	require.Equal(t, Returned, KitState(c.w.Kits["K18"], c.w.Pieces))
	require.Equal(t, 1, c.w.Pieces["P18-1"].Cycles)
	c.goodSteps(ada)
	c.do(ada, ReleaseKit{Kit: "K18"})
}
