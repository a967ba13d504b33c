package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// A long history: the same clinic for years, every entry decided by the real rules. Flags of the
// benchmarks; DEVELOPERS.md has the commands.
var (
	manyEntries = flag.Int("entries", 3000, "how many entries the long history of benchmarks has")
	keptLedger  = flag.String("ledger", "", "folder of the long history, kept and used again")
)

// asProgram makes a copy of this test program be the program itself; the variable names the file
// that then holds what the system says of the process (proc(5), status: VmHWM is the most memory
// it held). The usage that a parent is told counts the parent's own memory as well.
const asProgram = "HANDBACK_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if path := os.Getenv(halfFile); path != "" {
		writeHalf(path)
	}
	if path := os.Getenv(asProgram); path != "" {
		code := asked(os.Args[1:])
		status, err := os.ReadFile("/proc/self/status")
		if err == nil {
			err = os.WriteFile(path, status, 0o600)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = 1
		}
		os.Exit(code)
	}
	os.Exit(m.Run())
}

// justOpen is a command for benchmarks alone: it opens a folder, which folds it anew where that
// is due, and closes it.
const justOpen = "open"

// asked does what the command line says, as the program would.
func asked(args []string) int {
	s := streams{os.Stdin, os.Stdout, os.Stderr}
	if len(args) != 2 || args[0] != justOpen {
		return run(context.Background(), args, s)
	}
	store, err := sqlite.Open(args[1], sqlite.Options{Clock: systemClock()})
	if err == nil {
		err = store.Close()
	}
	if err != nil {
		fmt.Fprintln(s.err, err)
		return 1
	}
	return 0
}

// The long history: two hundred kits, in each round one pass of every kit, one refusal in each
// pass, a new lot and container of the disinfectant with every round.
const (
	longKits  = 200
	passActs  = 14
	roundDays = 8
)

// longRun writes a long history into a store.
type longRun struct {
	t                        testing.TB
	store                    *sqlite.Store
	boss                     reprocess.Actor
	model, product, lot, tub string
	cells                    string
	kits, pieces, numbers    []string
	at                       reprocess.Instant
	acts                     int64
	rounds                   int // finished
}

// longHistory fills a folder with n entries or a few more, up to a whole round's part; it gives
// how long the bulk of them took.
func longHistory(t testing.TB, dir string, n int) (entries int64, took time.Duration) {
	t.Helper()
	store, err := sqlite.Open(dir, sqlite.Options{Clock: (&dayClock{}).Now, Site: "Main building",
		HashKiB: 64})
	require.NoError(t, err)
	defer func() { require.NoError(t, store.Close()) }()
	rounds := n/(longKits*passActs) + 1
	start := dayStart.Add(-time.Duration(rounds+1) * roundDays * 24 * time.Hour)
	r := &longRun{t: t, store: store, at: reprocess.InstantOf(start)}
	r.setUp()
	began := time.Now()
	for r.acts < int64(n) {
		r.round(n)
	}
	_, err = store.Checkpoint(context.Background())
	require.NoError(t, err)
	size, err := store.Size(context.Background())
	require.NoError(t, err)
	return size, time.Since(began)
}

// do sends commands, each 40 s after the one before, all of which have to stand but those
// that are refused on purpose.
func (r *longRun) do(cmds ...reprocess.Command) []sqlite.Answer {
	r.t.Helper()
	rs := make([]sqlite.Request, len(cmds))
	for i, c := range cmds {
		r.at = r.at.Add(40 * time.Second)
		now := reprocess.Now{UTC: r.at, Boot: "long", Mono: int64(r.at)}
		actor := r.boss
		if actor.Person == nil {
			actor = reprocess.Console()
		}
		rs[i] = sqlite.Request{Cmd: c, Actor: actor, Now: &now}
	}
	answers, err := r.store.DoMany(context.Background(), rs)
	require.NoError(r.t, err)
	r.acts += int64(len(answers))
	return answers
}

// made does one command and gives the first event of its entry.
func (r *longRun) made(c reprocess.Command) reprocess.Event {
	r.t.Helper()
	a := r.do(c)[0]
	require.Nil(r.t, a.Problem, "%T", c)
	e, err := r.store.Entry(context.Background(), a.Seq)
	require.NoError(r.t, err)
	return e.Events[0].Event
}

func (r *longRun) setUp() {
	r.made(reprocess.SetSettings{Settings: reprocess.Settings{Site: "Main building",
		Clinic: "Hillside Clinic", Zone: "UTC"}})
	r.made(reprocess.FirstSupervisor{Name: "Ada Quill", SignIn: "ada",
		MAC: strings.Repeat("0", 64), Phone: "PH1", PhoneName: "Bench 1"})
	id := reprocess.FirstSupervisorID
	r.boss = reprocess.Actor{Person: &reprocess.Person{ID: id}, Signed: true, Phone: "PH1"}
	r.model = r.made(reprocess.SetModel{Model: reprocess.Model{Name: "Rook 3",
		Kind: reprocess.Recorder, WearDays: 7, IFU: "Rook 3 booklet"}}).(reprocess.ModelSet).ID
	p := r.made(reprocess.ApproveProcedure{Procedure: longProcedure(r.model)}).(reprocess.ProcedureApproved)
	r.made(reprocess.SetPerson{Person: reprocess.Person{ID: id, Name: "Ada Quill", SignIn: "ada",
		Roles: reprocess.Roles(), Competences: []reprocess.Competence{
			{Procedure: p.ID, From: "2000-01-01"}}}})
	r.product = r.made(reprocess.SetProduct{Product: reprocess.Product{Name: "Bench wipe",
		Use: reprocess.SoakedWipe, OpenDays: 3650, Models: []string{r.model},
		Actives: []reprocess.Active{{Agent: "propan-2-ol", Strength: "70%v/v"}},
		Claims:  []reprocess.Claim{{Token: "BAC", Seconds: 60}, {Token: "YEA", Seconds: 60}}}}).(reprocess.ProductSet).ID
	r.cells = r.made(reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotCells, Name: "LR03",
		Expiry: "2036-01-31"}}).(reprocess.LotSet).ID
	for k := range longKits {
		number := fmt.Sprint(k + 1)
		kit := r.made(reprocess.RegisterKit{Number: number, Place: "shelf",
			Recorder: reprocess.NewPiece{Model: r.model, Serial: "SN-" + number,
				Code: longCode(number)}}).(reprocess.KitRegistered)
		r.kits, r.pieces = append(r.kits, kit.Kit.ID), append(r.pieces, kit.Pieces[0].ID)
		r.numbers = append(r.numbers, number)
	}
}

// longCode is the text of a label; below the edge any will do.
func longCode(number string) string { return strings.Repeat("A", 16) + number }

func longProcedure(model string) reprocess.Procedure {
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

// round is one pass of every kit, or of as many as are wanted; the days of wear go by at once.
func (r *longRun) round(n int) {
	number := fmt.Sprintf("W-%d", r.acts)
	r.lot = r.made(reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotDisinfectant,
		Product: r.product, Number: number, Expiry: "2036-12-31"}}).(reprocess.LotSet).ID
	r.tub = r.made(reprocess.OpenContainer{Lot: r.lot}).(reprocess.ContainerOpened).ID
	began := r.at
	var whole []reprocess.Command
	refused := map[int]bool{}
	for k := range r.kits {
		if r.acts+int64(len(whole)) >= int64(n) {
			break
		}
		whole = append(whole, r.pass(k)...)
		refused[len(whole)-fromRefusal] = true
		if len(whole) >= portion || k == len(r.kits)-1 {
			r.portion(whole, refused)
			whole, refused = nil, map[int]bool{}
		}
	}
	r.portion(whole, refused)
	if r.acts >= int64(n) {
		return
	}
	r.do(reprocess.CloseContainer{Container: r.tub, Why: "empty"})
	r.rounds++
	r.at = max(r.at, began.Add(roundDays*24*time.Hour))
}

// portion does the passes of several kits, which then share a commit.
func (r *longRun) portion(cmds []reprocess.Command, refused map[int]bool) {
	r.t.Helper()
	for i, a := range r.do(cmds...) {
		require.Equal(r.t, refused[i], a.Problem != nil, "%d %v", i, a.Problem)
	}
}

// portion is how many acts at least go to the store together: the passes of some 35 kits.
const portion = 490

// fromRefusal counts from the end of a pass to the act that the gate refuses: a release too
// early.
const fromRefusal = 10

// pass lists the commands of one whole pass of a kit, from its return to the next hand-out; the
// first pass of a new kit has no return.
func (r *longRun) pass(k int) []reprocess.Command {
	acts := r.steps(k)
	if r.rounds > 0 {
		acts = append([]reprocess.Command{reprocess.TakeBack{Kit: r.kits[k],
			Return: reprocess.Return{Skin: "no", Fault: "no", Missing: "no"}}}, acts...)
	}
	return acts
}

func (r *longRun) steps(k int) []reprocess.Command {
	kit, piece := r.kits[k], r.pieces[k]
	do := func(s reprocess.StepID, pairs ...string) reprocess.Command {
		var list []reprocess.Answer
		for i := 0; i < len(pairs); i += 2 {
			list = append(list, reprocess.Answer{Ask: pairs[i], Value: pairs[i+1]})
		}
		return reprocess.RecordStep{Kit: kit, Step: s, Answers: list}
	}
	return []reprocess.Command{
		do(reprocess.StepReceipt, "condition", "whole", "recording", "arrived"),
		do(reprocess.StepCleaning, "clean", "yes"),
		reprocess.WetNow{Kit: kit, Pieces: []string{piece}, Container: r.tub},
		reprocess.ReleaseKit{Kit: kit},
		reprocess.Look{Kit: kit, Pieces: []string{piece}, Saw: reprocess.RecLooksWet},
		do(reprocess.StepDrying, "dry", "yes"),
		do(reprocess.StepInspection, "sound", "yes"),
		do(reprocess.StepBattery, "cell", r.cells, "latched", "yes"),
		do(reprocess.StepAssignment, "ended", "yes"),
		do(reprocess.StepFunction, "worn_by", "bench", "signal", "usable", "memory", "yes"),
		do(reprocess.StepPacking, "complete", "yes", "label", longCode(r.numbers[k])),
		reprocess.ReleaseKit{Kit: kit},
		reprocess.HandOut{Kit: kit, Wearer: "w" + r.numbers[k], Days: 7},
	}
}

// longLedger gives a folder with the history that the flags ask for.
func longLedger(t testing.TB) (dir string, entries int64, took time.Duration) {
	t.Helper()
	if dir = *keptLedger; dir == "" {
		dir = filepath.Join(t.TempDir(), "data")
	}
	if _, err := os.Stat(filepath.Join(dir, "ledger.db")); err == nil {
		snap, err := sqlite.OpenSnapshot(context.Background(), dir)
		require.NoError(t, err)
		require.NoError(t, snap.Close())
		return dir, snap.Size(), 0
	}
	entries, took = longHistory(t, dir, *manyEntries)
	return dir, entries, took
}

// TestTheLongHistoryIsARealOne: what the benchmarks measure is a record like any other.
func TestTheLongHistoryIsARealOne(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	entries, _ := longHistory(t, dir, 3200)
	require.GreaterOrEqual(t, entries, int64(3200))
	r, err := sqlite.Verify(context.Background(), dir, sqlite.VerifyOptions{})
	require.NoError(t, err)
	require.Empty(t, r.Difference)
	require.Equal(t, entries, r.Entries)
	require.Equal(t, 1, r.Checkpoints)
}
