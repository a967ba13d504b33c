package sqlite

import (
	"context"
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// Invented people, devices and supplies of the tests of this package.

// clock is a test's own time: it moves only when told.
type clock struct{ ms atomic.Int64 }

func newClock() *clock {
	c := new(clock)
	c.ms.Store(time.Date(2026, 11, 24, 8, 0, 0, 0, time.UTC).UnixMilli())
	return c
}

func (c *clock) now() reprocess.Now {
	ms := c.ms.Load()
	return reprocess.Now{UTC: reprocess.Instant(ms), Boot: "b1", Mono: ms - 1_790_000_000_000}
}

func (c *clock) pass(d time.Duration) { c.ms.Add(d.Milliseconds()) }

// bench is an open store with a clock and the ids that a scenario made.
type bench struct {
	testing.TB
	*Store
	clock     *clock
	boss      reprocess.Actor
	recorder  string // model
	procedure string
	container string
	cells     string
	keys      int
}

// open opens a folder and closes it at the end of the test.
func open(t testing.TB, dir string, c *clock) *Store {
	t.Helper()
	s, err := Open(dir, Options{Clock: c.now, Site: "Main building"})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

// newBench opens a new folder and sets the site up: staff, model, procedure, supplies.
func newBench(t testing.TB) *bench {
	t.Helper()
	b := &bench{TB: t, clock: newClock()}
	b.Store = open(t, t.TempDir(), b.clock)
	b.setUp()
	return b
}

func (b *bench) setUp() {
	b.Helper()
	console := reprocess.Console()
	b.must(console, reprocess.SetSettings{Settings: reprocess.Settings{Site: "Main building",
		Clinic: "Hillside Clinic", Zone: "Europe/Berlin"}})
	b.must(console, reprocess.FirstSupervisor{Name: "Ada Quill", SignIn: "ada",
		MAC: strings.Repeat("0", 64), Phone: "PH1", PhoneName: "Bench 1"})
	b.boss = reprocess.Actor{Person: &reprocess.Person{ID: reprocess.FirstSupervisorID},
		Signed: true, Phone: "PH1"}
	b.recorder = id(b.must(b.boss, reprocess.SetModel{Model: reprocess.Model{Name: "Rook 3",
		Kind: reprocess.Recorder, WearDays: 7, IFU: "Rook 3 booklet, 2nd ed."}}))
	b.procedure = id(b.must(b.boss, reprocess.ApproveProcedure{Procedure: procedureFor(b.recorder)}))
	everyone := &reprocess.Person{ID: reprocess.FirstSupervisorID, Name: "Ada Quill", SignIn: "ada",
		Roles: reprocess.Roles(), Competences: []reprocess.Competence{
			{Procedure: b.procedure, From: "2026-01-01"}}}
	b.must(b.boss, reprocess.SetPerson{Person: *everyone})
	product := id(b.must(b.boss, reprocess.SetProduct{Product: reprocess.Product{Name: "Bench wipe",
		Use: reprocess.SoakedWipe, OpenDays: 3650, Models: []string{b.recorder},
		Actives: []reprocess.Active{{Agent: "propan-2-ol", Strength: "70%v/v"}},
		Claims:  []reprocess.Claim{{Token: "BAC", Seconds: 60}, {Token: "YEA", Seconds: 60}}}}))
	lot := id(b.must(b.boss, reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotDisinfectant,
		Product: product, Number: "W-77", Expiry: "2036-12-31"}}))
	b.container = id(b.must(b.boss, reprocess.OpenContainer{Lot: lot}))
	b.cells = id(b.must(b.boss, reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotCells,
		Name: "LR03", Expiry: "2036-01-31"}}))
}

func procedureFor(model string) reprocess.Procedure {
	return reprocess.Procedure{Name: "Recorder, everyday", Model: model, FloorS: 60,
		Steps: []reprocess.StepRow{
			{Step: reprocess.StepReceipt, Asks: []string{"condition", "recording"}},
			{Step: reprocess.StepCleaning, Asks: []string{"clean"}},
			{Step: reprocess.StepDisinfection},
			{Step: reprocess.StepDrying, Asks: []string{"dry"}},
			{Step: reprocess.StepInspection, Asks: []string{"sound"}},
			{Step: reprocess.StepBattery, Asks: []string{"cell", "latched"}},
			{Step: reprocess.StepAssignment, Asks: []string{"ended"}},
			{Step: reprocess.StepFunction, Asks: []string{"worn_by", "signal", "memory"}},
			{Step: reprocess.StepPacking, Asks: []string{"complete", "label"}},
		}}
}

// id is the id of what the first event of an entry made.
func id(e *reprocess.Entry) string {
	switch v := e.Events[0].Event.(type) {
	case reprocess.ModelSet:
		return v.ID
	case reprocess.ProcedureApproved:
		return v.ID
	case reprocess.ProductSet:
		return v.ID
	case reprocess.LotSet:
		return v.ID
	case reprocess.ContainerOpened:
		return v.ID
	case reprocess.KitRegistered:
		return v.Kit.ID
	}
	panic(fmt.Sprintf("no id in %T", e.Events[0].Event))
}

// must does a command that has to be done.
func (b *bench) must(a reprocess.Actor, cmd reprocess.Command) *reprocess.Entry {
	b.Helper()
	e, err := b.Do(context.Background(), b.request(a, cmd))
	require.NoError(b, err, "%T", cmd)
	require.Equal(b, reprocess.ResultDone, e.Result)
	return e
}

// refused does a command that has to be refused by a rule.
func (b *bench) refused(rule string, a reprocess.Actor, cmd reprocess.Command) *reprocess.Entry {
	b.Helper()
	e, err := b.Do(context.Background(), b.request(a, cmd))
	require.Error(b, err)
	require.Equal(b, rule, reprocess.AsProblem(err).Rule, "%v", err)
	return e
}

func (b *bench) request(a reprocess.Actor, cmd reprocess.Command) Request {
	b.keys++
	b.clock.pass(time.Second)
	return Request{Cmd: cmd, Actor: a, Key: fmt.Sprintf("k-%d", b.keys)}
}

// code is the label of the kit with a number; any text will do below the edge.
func code(number string) string { return strings.Repeat("A", 16) + number }

// register adds a kit with one recorder.
func (b *bench) register(number string) string {
	b.Helper()
	return id(b.must(b.boss, registration(b.recorder, number)))
}

func registration(model, number string) reprocess.RegisterKit {
	return reprocess.RegisterKit{Number: number, Place: "shelf",
		Recorder: reprocess.NewPiece{Model: model, Serial: "SN-" + number, Code: code(number)}}
}

// step is one command with the time that passes before it.
type step struct {
	after time.Duration
	cmd   reprocess.Command
}

// pass lists the commands of one whole pass of a kit, from the steps to the hand-out.
func (b *bench) passOf(kit, piece, number string) []step {
	answers := func(pairs ...string) []reprocess.Answer {
		var list []reprocess.Answer
		for i := 0; i < len(pairs); i += 2 {
			list = append(list, reprocess.Answer{Ask: pairs[i], Value: pairs[i+1]})
		}
		return list
	}
	do := func(s reprocess.StepID, pairs ...string) reprocess.Command {
		return reprocess.RecordStep{Kit: kit, Step: s, Answers: answers(pairs...)}
	}
	min := time.Minute
	return []step{
		{min, do(reprocess.StepReceipt, "condition", "whole", "recording", "arrived")},
		{min, do(reprocess.StepCleaning, "clean", "yes")},
		{min, reprocess.WetNow{Kit: kit, Pieces: []string{piece}, Container: b.container}},
		{70 * time.Second, reprocess.Look{Kit: kit, Pieces: []string{piece},
			Saw: reprocess.RecLooksWet}},
		{min, do(reprocess.StepDrying, "dry", "yes")},
		{min, do(reprocess.StepInspection, "sound", "yes")},
		{min, do(reprocess.StepBattery, "cell", b.cells, "latched", "yes")},
		{min, do(reprocess.StepAssignment, "ended", "yes")},
		{min, do(reprocess.StepFunction, "worn_by", "bench", "signal", "usable", "memory", "yes")},
		{min, do(reprocess.StepPacking, "complete", "yes", "label", code(number))},
		{min, reprocess.ReleaseKit{Kit: kit}},
		{min, reprocess.HandOut{Kit: kit, Wearer: "w" + number, Days: 7}},
		{7 * 24 * time.Hour, reprocess.TakeBack{Kit: kit, Return: reprocess.Return{
			Skin: "no", Fault: "no", Missing: "no"}}},
	}
}

// work does a whole pass of a kit.
func (b *bench) work(kit, piece, number string) {
	b.Helper()
	for _, s := range b.passOf(kit, piece, number) {
		b.clock.pass(s.after)
		b.must(b.boss, s.cmd)
	}
}

// pieceOf is the id of the recorder of a kit.
func (b *bench) pieceOf(kit string) string {
	b.Helper()
	k, err := Get[reprocess.Kit](context.Background(), b.Store, reprocess.TableKit, kit)
	require.NoError(b, err)
	return k.Pieces[0]
}
