package reprocess

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// walker plays random commands by random people and remembers every entry. What the rules let
// through is judged by an oracle that reads the entries alone and shares no code with them.
type walker struct {
	*clinic
	entries []*Entry
}

func (w *walker) play(t *rapid.T, actor Actor, cmd Command) *Problem {
	before := worldText(t, w.w)
	e, p := w.try(actor, cmd)
	if p != nil {
		require.Equal(t, before, worldText(t, w.w), "a refused act changed something")
		require.NotEmpty(t, p.Text)
		require.Contains(t, Codes(), p.Code)
		return p
	}
	w.entries = append(w.entries, e)
	return nil
}

func worldText(t require.TestingT, w *World) string {
	b, err := json.Marshal(struct{ K, P, C, L, T, B any }{w.Kits, w.Pieces, w.Cycles, w.Loans,
		w.Lots, w.Containers})
	require.NoError(t, err)
	return string(b)
}

// draw picks one of the values.
func draw[T any](t *rapid.T, name string, list ...T) T {
	return rapid.SampledFrom(list).Draw(t, name)
}

func (w *walker) actors() []Actor {
	unsigned := w.actor("ada")
	unsigned.Signed = false
	return []Actor{w.actor("ada"), unsigned, w.actor("boss"), w.actor("dan"), w.actor("ina")}
}

// someAnswers answers the questions of a step, mostly well.
func someAnswers(t *rapid.T, s StepID) []Answer {
	var out []Answer
	for _, kind := range Kinds() {
		for _, a := range Asks(s, kind) {
			if (Record{Answers: out}).Answered(a.ID) != "" {
				continue
			}
			out = append(out, Answer{Ask: a.ID, Value: someValue(t, a)})
		}
	}
	return out
}

func someValue(t *rapid.T, a Ask) string {
	good := rapid.IntRange(0, 9).Draw(t, "good") < 9
	switch a.Kind {
	case AskChoice:
		if good {
			return a.Choices[0].Value
		}
		return rapid.SampledFrom(a.Choices).Draw(t, "choice").Value
	case AskCells:
		return draw(t, "cells", "T17", "T17", "T17", "T15")
	case AskCode:
		return draw(t, "code", "CODE17R", "CODE17R", "CODE17P", "NONE")
	case AskNumber:
		return draw(t, "charge", "93", "93", "101")
	}
	return "ref 12"
}

// command draws one of the things that people do.
func (w *walker) command(t *rapid.T) Command {
	pieces := draw(t, "pieces", []string{"P18-1"}, []string{"P18-2"}, []string{"P18-1", "P18-2"}, nil)
	k := w.w.Kits["K18"]
	piece := draw(t, "piece", "P18-1", "P18-2")
	step := w.w.NextStep(w.w.Pieces[piece])
	if rapid.IntRange(0, 4).Draw(t, "wander") > 3 {
		step = rapid.SampledFrom(Steps()).Draw(t, "step").ID
	}
	switch rapid.IntRange(0, 28).Draw(t, "act") {
	case 25, 26:
		return w.correction(t, piece)
	case 27:
		return StopKit{Kit: "K18", Reason: "weak tub"}
	case 28:
		return LiftStop{Kit: "K18", Reason: "another tub"}
	case 0:
		return TakeBack{Kit: "K18", Return: Return{Skin: draw(t, "skin", "no", "yes", ""),
			Worn: draw(t, "worn", "", WornUnknown, "9")}}
	case 22:
		return HandOut{Kit: "K18", Ward: "Ward 4", Days: draw(t, "days", 1, 7)}
	case 23:
		return WearAtWard{Kit: "K18", Wearer: "w"}
	case 24:
		return BackOnWard{Kit: "K18"}
	case 1:
		return HandOut{Kit: "K18", Wearer: "w", Days: draw(t, "days", 1, 7, 0)}
	case 2, 3:
		return ReleaseKit{Kit: "K18", List: draw(t, "list", true, false)}
	case 4:
		return SetRecording{Kit: "K18", Status: draw(t, "rec", RecordingArrived, RecordingOnIt, RecordingUnknown)}
	case 5:
		return GiveUpRecording{Kit: "K18", Reason: "card broken"}
	case 6:
		return PutOnHold{Kit: "K18", Piece: piece, Reason: draw(t, "hold", "cracked", "fault", "skin_broken")}
	case 7:
		return w.decision(t, piece)
	case 8:
		return Undo{Kit: "K18", Of: w.seq}
	case 9:
		return Override{Kit: "K18", Piece: piece, Step: step, Reason: "as agreed"}
	case 10:
		return BreakRelease{Kit: "K18", Why: "opened"}
	case 11:
		return Aside{Kit: "K18", Piece: piece, To: draw(t, "to", Missing, OutForRepair, Returned, Embargoed, Recalled),
			Reason: "x", Declaration: draw(t, "decl", "", Decontaminated, StillContaminated)}
	case 12:
		return SmallRepair{Kit: "K18", Piece: piece, Part: "clip"}
	case 13:
		return draw[Command](t, "stop", StopLot{Lot: "T15", Reason: "weak"}, LiftLot{Lot: "T15", Reason: "was right"})
	case 14:
		return HandOutAfter{Kit: "K18", Reason: "went out in a hurry"}
	case 15:
		return UndoHandOut{Kit: k.ID, Reason: "sealed"}
	case 16, 17:
		return w.wetting(t, pieces)
	case 20, 21:
		return w.fromPaper(t, pieces, step)
	}
	if step == StepDisinfection {
		return w.wetting(t, pieces)
	}
	return RecordStep{Kit: "K18", Pieces: pieces, Step: step, Answers: someAnswers(t, step)}
}

// goodNext is what a good bench would do next with the piece that is furthest behind.
func (w *walker) goodNext() Command {
	k := w.w.Kits["K18"]
	at := map[StepID][]string{}
	next := StepRelease
	for _, id := range k.Pieces {
		p := w.w.Pieces[id]
		if p.State == Embargoed {
			return LiftStop{Kit: "K18", Reason: "another tub"}
		}
		if len(p.Holds) > 0 || p.State == Issued || p.State == Embargoed || p.State == Missing ||
			p.State == OutForRepair || p.State == Recalled {
			return TakeBack{Kit: "K18"}
		}
		s := w.w.NextStep(p)
		at[s] = append(at[s], id)
		if stepIndex(s) < stepIndex(next) {
			next = s
		}
	}
	pieces := at[next]
	switch next {
	case StepRelease:
		return ReleaseKit{Kit: "K18"}
	case StepDisinfection:
		if w.w.Lots["T15"].Stopped != nil {
			return LiftLot{Lot: "T15", Reason: "was right"}
		}
		if c := w.w.Cycles[w.w.Pieces[pieces[0]].Cycle]; c.Progress().Wet.Open {
			return Look{Kit: "K18", Pieces: pieces[:1], Saw: RecLooksWet, Confirmed: true}
		}
		return WetNow{Kit: "K18", Pieces: pieces[:1], Container: "B16"}
	}
	var good []Answer
	for _, kind := range Kinds() {
		for _, a := range Asks(next, kind) {
			v := map[AskKind]string{AskCells: "T17", AskCode: "CODE17R", AskNumber: "90",
				AskText: "ref 1"}[a.Kind]
			if a.Kind == AskChoice {
				v = a.Choices[0].Value
			}
			good = append(good, Answer{Ask: a.ID, Value: v})
		}
	}
	return RecordStep{Kit: "K18", Pieces: pieces, Step: next, Answers: good}
}

func (w *walker) wetting(t *rapid.T, pieces []string) Command {
	if rapid.Bool().Draw(t, "look") {
		return Look{Kit: "K18", Pieces: pieces, Confirmed: rapid.Bool().Draw(t, "sure"),
			Saw: draw(t, "saw", RecLooksWet, RecLooksWet, RecLooksWet, RecSeenDry, RecNotWatched)}
	}
	return WetNow{Kit: "K18", Pieces: pieces, Container: "B16"}
}

// fromPaper enters a step or a contact time that a sheet claims to have been done a little
// before; this procedure does not let paper release.
func (w *walker) fromPaper(t *rapid.T, pieces []string, step StepID) Command {
	f := FromPaper{Kit: "K18", At: w.now.UTC - Instant(draw(t, "ago", 0, 30_000, 400_000)),
		By: draw(t, "by", "ada", "boss"), Sheet: aSheet}
	if step == StepDisinfection {
		f.Wet = &PaperWet{Kit: "K18", Pieces: pieces, Container: "B16", Until: w.now.UTC, Stayed: "yes"}
		return f
	}
	f.Step = &RecordStep{Kit: "K18", Pieces: pieces, Step: step, Answers: someAnswers(t, step)}
	return f
}

func (w *walker) decision(t *rapid.T, piece string) Command {
	p := w.w.Pieces[piece]
	if len(p.Holds) == 0 {
		return SetRecording{Kit: "K18", Status: RecordingArrived}
	}
	if p.Holds[0].Grade == GradeTechnician {
		return TechnicianDone{Kit: "K18", Piece: piece, Hold: p.Holds[0].Seq, Reason: "fine"}
	}
	return DecideHold{Kit: "K18", Piece: piece, Hold: p.Holds[0].Seq, To: DecideGoOn, Reason: "fine"}
}

// TestNoWalkCheatsTheGate: whatever is done in whatever order by whoever, a kit is released
// only when the oracle agrees; take-back is never refused; and the world is always what a
// fold of the entries' own bytes gives.
func TestNoWalkCheatsTheGate(t *testing.T) {
	released, seen := 0, corrections{}
	rapid.Check(t, func(t *rapid.T) {
		w := &walker{clinic: newClinic(t)}
		w.oldTub()
		w.do(w.actor("boss"), SetCounter{Counter{Wards: []Ward{{Name: "Ward 4"}}}})
		for range 60 {
			w.wait(time.Duration(draw(t, "pause", 61, 70, 65, 45, 61, 62, 90, 1, 400, 9000)) * time.Second)
			actor, cmd := w.actor("ada"), w.goodNext()
			switch cmd.(type) {
			case LiftLot:
				actor = w.actor("boss")
			case LiftStop:
				actor = w.actor("ina")
			}
			if rapid.IntRange(0, 9).Draw(t, "wild") > 7 {
				actor, cmd = rapid.SampledFrom(w.actors()).Draw(t, "actor"), w.command(t)
			}
			if rapid.IntRange(0, 14).Draw(t, "correct") == 0 {
				actor, cmd = w.actor("ada"), w.correction(t, draw(t, "piece", "P18-1", "P18-2"))
			}
			if p := w.play(t, actor, cmd); p != nil {
				if _, back := cmd.(TakeBack); back {
					t.Fatalf("take-back was refused: %s", p)
				}
				continue
			}
			if KitState(w.w.Kits["K18"], w.w.Pieces) == Released {
				released++
			}
			w.judge(t, &seen)
		}
		w.refold(t)
	})
	require.Greater(t, released, 20, "the walks must reach releases to judge any")
	seen.enough(t)
}

// TestGoodRoutineReachesRelease keeps the walk honest: its own oracle lets a good kit through,
// so a gate that never opened would not go unnoticed.
func TestGoodRoutineReachesRelease(t *testing.T) {
	c := newClinic(t)
	first := c.seq
	var entries []*Entry
	c.record = &entries
	c.goodSteps(c.actor("ada"))
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	require.Greater(t, c.seq, first)
	for _, id := range c.w.Kits["K18"].Pieces {
		oracle(t, entries, id)
	}
}

// refold reads every entry back from its own JSON and folds it into an empty world that
// starts where the clinic did.
func (w *walker) refold(t *rapid.T) {
	start := newClinic(t)
	start.oldTub()
	fresh := start.w
	for _, e := range w.entries {
		b, err := json.Marshal(e)
		require.NoError(t, err)
		var back Entry
		require.NoError(t, json.Unmarshal(b, &back))
		Apply(fresh, &back)
	}
	require.JSONEq(t, worldText(t, w.w), worldText(t, fresh))
}

// oracle reads the entries of one piece backwards from its release: since it was last in other
// hands every step must stand, in order, with a wetting that lasted, on a safe recording.
func oracle(t require.TestingT, entries []*Entry, piece string) {
	release := lastIndex(entries, func(e Event) bool { _, ok := e.(KitReleased); return ok })
	require.GreaterOrEqual(t, release, 0, "released without a signed release")
	require.True(t, entries[release].Signed)
	start := lastIndex(entries[:release], func(e Event) bool {
		switch v := e.(type) {
		case TakenBack:
			return contains(v.Came, piece)
		case CycleOpened:
			return v.Piece == piece
		case PieceMoved:
			return v.Piece == piece
		}
		return false
	})
	require.GreaterOrEqual(t, start, 0, "released without a cycle")
	o := oracleState{fixed: fixedFacts(entries, piece)}
	for _, e := range entries[start : release+1] {
		for _, b := range e.Events {
			o.see(t, e, b.Event, piece, entries)
		}
	}
	o.check(t, piece)
}

type oracleState struct {
	at     map[StepID]int64 // ms of the last good answer
	wetAt  int64            // start of the running stretch, 0: none
	wet    int64            // end of a stretch that lasted at least 60 s
	wetted int64            // the newest "wet now"
	undone map[int64]bool
	fixed  map[int64]Record // facts as corrected later, by the entry that recorded them first
	tub    string           // container of the newest "wet now"
	wetTub string           // and of the stretch that lasted
	paper  []string         // who did and who entered what is from paper
}

func (o *oracleState) see(t require.TestingT, e *Entry, event Event, piece string, all []*Entry) {
	if o.at == nil {
		o.at, o.undone = map[StepID]int64{}, map[int64]bool{}
		for _, x := range all {
			for _, b := range x.Events {
				if u, ok := b.Event.(Undone); ok {
					o.undone[u.Of] = true
				}
			}
		}
	}
	if _, ok := event.(KitReleased); ok {
		require.NotContains(t, o.paper, e.By, "released by who did it or entered it from paper")
	}
	v, ok := event.(StepRecorded)
	if !ok || v.Piece != piece || o.undone[e.Seq] {
		return
	}
	if f, ok := o.fixed[e.Seq]; ok {
		v.Record.Kind, v.Record.Answers, v.Record.Container = f.Kind, f.Answers, f.Container
	}
	if v.Record.Late {
		o.paper = append(o.paper, e.By, v.Record.Paper.By)
	}
	switch v.Record.Kind {
	case RecPaperWet: // wet again, and nobody watched
		o.wetAt, o.wet, o.wetted = 0, 0, int64(e.At)
	case RecWetNow:
		o.wetAt, o.wetted, o.tub = int64(e.At), int64(e.At), v.Record.Container
	case RecLooksWet:
		if o.wetAt != 0 && int64(e.At)-o.wetAt >= 60_000 {
			o.wet, o.wetTub = int64(e.At), o.tub
		}
	case RecSeenDry, RecNotWatched:
		o.wetAt = 0
	case RecOverride:
		o.at[v.Record.Step] = int64(e.At)
	case RecAnswer:
		good := true
		for _, a := range v.Record.Answers {
			good = good && a.Effect != EffectAgain && a.Effect != EffectHold
		}
		if good {
			o.at[v.Record.Step] = int64(e.At)
		} else {
			delete(o.at, v.Record.Step)
		}
	}
}

func (o *oracleState) check(t require.TestingT, piece string) {
	require.NotZero(t, o.wet, "%s released without 60 s wet in one go", piece)
	require.NotEqual(t, "B90", o.wetTub, "%s released after a tub that had expired", piece)
	for _, s := range []StepID{StepReceipt, StepCleaning, StepDrying, StepInspection,
		StepBattery, StepAssignment, StepPacking} {
		require.NotZero(t, o.at[s], "%s released without %s", piece, s)
	}
	require.Less(t, o.at[StepReceipt], o.at[StepCleaning])
	require.Less(t, o.at[StepCleaning], o.wet)
	require.Less(t, o.wet, o.at[StepDrying], "%s was wet after it was seen dry", piece)
	require.Less(t, o.wetted, o.at[StepDrying], "%s was wetted after it was dry", piece)
	if piece == "P18-1" {
		require.NotZero(t, o.at[StepFunction])
	}
}

func lastIndex(entries []*Entry, is func(Event) bool) int {
	for i := len(entries) - 1; i >= 0; i-- {
		for _, b := range entries[i].Events {
			if is(b.Event) {
				return i
			}
		}
	}
	return -1
}
