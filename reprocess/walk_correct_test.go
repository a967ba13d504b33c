package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// corrections counts what the walks did with corrections and stops, so that an oracle that never
// had anything to judge would not go unnoticed.
type corrections struct{ done, failed, older, stopped, calledBack, lifted int }

func (n *corrections) enough(t require.TestingT) {
	for name, x := range map[string]int{"corrections": n.done, "of a release": n.failed,
		"of an older cycle": n.older, "stopped": n.stopped, "called back": n.calledBack,
		"lifted": n.lifted} {
		require.Positive(t, x, "the walks never reached: %s", name)
	}
}

// correction draws what somebody says was otherwise, in any cycle of the piece.
func (w *walker) correction(t *rapid.T, piece string) Command {
	var cycles []*Cycle
	for _, id := range sortedKeys(w.w.Cycles) {
		if c := w.w.Cycles[id]; c.Piece == piece && len(c.Records) > 0 {
			cycles = append(cycles, c)
		}
	}
	x := Correct{Kit: "K18", Piece: piece, Of: 1, Reason: "looked again"}
	if len(cycles) == 0 {
		return x
	}
	c := rapid.SampledFrom(cycles).Draw(t, "cycle")
	x.Cycle = c.ID
	r := rapid.SampledFrom(c.Records).Draw(t, "record")
	x.Of = r.Seq
	switch r.Kind {
	case RecWetNow:
		x.Container = draw(t, "tub", "B16", "B90")
	case RecLooksWet:
		x.Dry = true
	default:
		x.Answers = someAnswers(t, r.Step)
		for _, a := range r.Answers { // answer what was asked, one of them otherwise
			if ask, ok := FindAsk(a.Ask); ok && ask.Kind == AskChoice && len(r.Answers) > 0 {
				x.Answers = append([]Answer(nil), r.Answers...)
				i := rapid.IntRange(0, len(x.Answers)-1).Draw(t, "which")
				if other, ok := FindAsk(x.Answers[i].Ask); ok {
					x.Answers[i] = Answer{Ask: other.ID, Value: someValue(t, other)}
				}
				break
			}
		}
	}
	return x
}

// judge asks the oracle about the kit as it stands: released or out on a release, every piece
// must have earned it by the facts as corrected; and what is with a wearer is never on a shelf.
func (w *walker) judge(t *rapid.T, n *corrections) {
	n.count(w.entries[len(w.entries)-1])
	k := w.w.Kits["K18"]
	state := KitState(k, w.w.Pieces)
	for _, id := range k.Pieces {
		if state == Released || (state == Issued && onRelease(w.entries)) {
			oracle(t, w.entries, id)
		}
		if s := w.w.Pieces[id].State; withWearer(w.entries, id) {
			require.Contains(t, []State{Issued, Recalled}, s, "%s is with a wearer", id)
		}
	}
}

func (n *corrections) count(e *Entry) {
	for _, b := range e.Events {
		switch v := b.Event.(type) {
		case RecordCorrected:
			n.done++
			if v.Failed != "" {
				n.failed++
				if len(e.Events) == 1 {
					n.older++
				}
			}
		case PieceMoved:
			switch {
			case v.State == Embargoed:
				n.stopped++
			case v.State == Recalled && e.Act != ActAside:
				n.calledBack++
			case e.Act == ActEmbargoLift:
				n.lifted++
			}
		}
	}
}

// onRelease tells whether the kit went out by a hand-out of its newest release and no person
// decided on it since: infection control may let a wearer keep what was called back.
func onRelease(entries []*Entry) bool {
	for i := len(entries) - 1; i >= 0; i-- {
		for _, b := range entries[i].Events {
			switch v := b.Event.(type) {
			case HandedOut:
				return !v.After && v.Under == ""
			case PieceMoved:
				return false
			}
		}
	}
	return false
}

// withWearer follows a piece by hand-outs, returns and moves alone.
func withWearer(entries []*Entry, piece string) (out bool) {
	for _, e := range entries {
		for _, b := range e.Events {
			switch v := b.Event.(type) {
			case HandedOut:
				out = out || contains(v.Pieces, piece)
			case TakenBack:
				out = out && !contains(v.Came, piece)
			case HandOutUndone:
				out = false
			case PieceMoved:
				out = out && (v.Piece != piece || v.State == Recalled || v.State == Issued)
			}
		}
	}
	return out
}

// fixedFacts are the facts of a piece as corrected, by the entry that first recorded them; a
// correction may itself have been corrected.
func fixedFacts(entries []*Entry, piece string) map[int64]Record {
	first, fixed := map[int64]int64{}, map[int64]Record{}
	for _, e := range entries {
		for _, b := range e.Events {
			v, ok := b.Event.(RecordCorrected)
			if !ok || v.Piece != piece {
				continue
			}
			of := v.Of
			if was, again := first[of]; again {
				of = was
			}
			first[e.Seq], fixed[of] = of, v.Record
		}
	}
	return fixed
}

// TestTheOracleReadsCorrections: a good pass holds before it, and not after a correction that
// takes a step away, even though the world is not asked.
func TestTheOracleReadsCorrections(t *testing.T) {
	c := newClinic(t)
	c.oldTub()
	var entries []*Entry
	c.record = &entries
	c.goodSteps(c.actor("ada"))
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	oracle(t, entries, "P18-1")
	for _, fix := range []Correct{
		c.fix(StepDisinfection, RecWetNow, Correct{Container: "B90"}),
		c.fix(StepDisinfection, RecLooksWet, Correct{Dry: true}),
		c.fix(StepCleaning, RecAnswer, Correct{Answers: answers("clean", "again", "parts_clean", "yes")}),
	} {
		before := append([]*Entry(nil), entries...)
		c.do(c.actor("ada"), fix)
		one := append(before[:len(before):len(before)], entries[len(entries)-1])
		f := &failing{}
		func() {
			defer func() { _ = recover() }()
			oracle(f, one, "P18-1")
		}()
		require.True(t, f.failed, "the oracle is blind for %+v", fix)
		entries = before
	}
}

// failing stands in for a test that may fail.
type failing struct{ failed bool }

// Errorf notes the failure.
func (f *failing) Errorf(string, ...any) { f.failed = true }

// FailNow ends the judgement.
func (f *failing) FailNow() { panic("failed") }
