package invent

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

var now = reprocess.InstantOf(time.Date(2026, 11, 25, 10, 30, 0, 0, time.UTC))

// The demo promises at least 40 kits of 3 models in every state, 8 people, 5 disinfectants,
// 3 procedures and two years; the plan is decided again here from nothing.
func TestTheHistoryHoldsWhatTheDemoPromises(t *testing.T) {
	p, err := History(Options{Now: now, Seed: 1})
	require.NoError(t, err)
	w, states := replay(t, p), map[reprocess.State]int{}
	for _, k := range w.Kits {
		states[reprocess.KitState(k, w.Pieces)]++
	}
	for _, s := range reprocess.States() {
		require.Positive(t, states[s], "no kit is %s: %v", s, states)
	}
	require.GreaterOrEqual(t, len(w.Kits), 40)
	require.Len(t, w.Models, 3)
	require.Len(t, w.People, 8)
	require.Len(t, w.Products, 5)
	require.Len(t, w.InForce, 3)
	require.NotEmpty(t, p.Label)
	require.NotEmpty(t, p.Kit)
	first := p.Acts[0].Now.UTC
	require.Equal(t, now-730*dayMS, first)
	t.Logf("%d acts, %d loans, %d cycles, states %v", len(p.Acts), len(w.Loans), len(w.Cycles), states)
}

// replay decides every act again, in order, and checks that time never runs back.
func replay(t *testing.T, p Plan) *reprocess.World {
	w, last := reprocess.NewWorld(), reprocess.Instant(0)
	refused := 0
	for i, a := range p.Acts {
		require.GreaterOrEqual(t, a.Now.UTC, last)
		require.LessOrEqual(t, a.Now.UTC, now)
		last = a.Now.UTC
		actor := reprocess.Console()
		if a.Person != nil {
			actor = reprocess.Actor{Person: a.Person, Signed: a.Signed}
		}
		events, problem := reprocess.Decide(w, a.Cmd, actor, a.Now, int64(i+1))
		if problem != nil {
			refused++
			continue
		}
		e := &reprocess.Entry{Seq: int64(i + 1), At: a.Now.UTC, Result: reprocess.ResultDone,
			By: actor.Person.ID, Name: actor.Person.Name}
		for _, ev := range events {
			e.Events = append(e.Events, reprocess.Box{Event: ev})
		}
		reprocess.Apply(w, e)
	}
	require.Positive(t, refused, "a real history holds refusals too")
	return w
}

func TestTheSameSeedGivesTheSameHistory(t *testing.T) {
	a, err := History(Options{Now: now, Seed: 7, Days: 60})
	require.NoError(t, err)
	b, err := History(Options{Now: now, Seed: 7, Days: 60})
	require.NoError(t, err)
	require.Equal(t, a.Acts, b.Acts)
}

// Whatever the day of the week and the seed, the plan must stand.
func TestEveryStartStands(t *testing.T) {
	for i := range 14 {
		at := now + reprocess.Instant(i)*dayMS + reprocess.Instant(i)*3_700_000
		_, err := History(Options{Now: at, Seed: uint64(i), Days: 200})
		require.NoError(t, err, "start %d", i)
	}
}

func BenchmarkHistory(b *testing.B) {
	for range b.N {
		if _, err := History(Options{Now: now, Seed: 1}); err != nil {
			b.Fatal(err)
		}
	}
}
