package invent

import (
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/recording"
)

// kept counts what would be kept, and looks at each test recording.
type kept struct {
	t               *testing.T
	tests, pictures int
}

func (k *kept) Test(content []byte, j reprocess.JudgedTest, device string,
	at reprocess.Instant) (string, error) {
	k.tests++
	require.NotNil(k.t, j.Recording)
	require.Equal(k.t, recording.EDFPlusC, j.Recording.Format)
	require.Empty(k.t, j.Recording.Remarks)
	require.Len(k.t, j.Recording.Events, 1)
	require.Equal(k.t, int64(len(content)), j.Test.Bytes)
	require.NotEmpty(k.t, device)
	require.Equal(k.t, at.Time().Format("2006-01-02 15:04:05"),
		j.Recording.Start.Format("2006-01-02 15:04:05"), "recorded when it was judged")
	return hash([]byte(device)), nil
}

func (k *kept) Picture(content []byte) (string, int64, error) {
	k.pictures++
	return hash(content), int64(len(content)), nil
}

// What the demo shows of tests, cells and electrodes, whatever the day and the seed.
func TestTheHistoryShowsTests(t *testing.T) {
	for seed := range 4 {
		files := &kept{t: t}
		p, err := History(Options{Now: now + reprocess.Instant(seed)*dayMS, Seed: uint64(seed + 1), Files: files})
		require.NoError(t, err)
		require.Equal(t, 2, files.pictures)
		require.Greater(t, files.tests, 6)
		require.Less(t, files.tests, 120, "the demo has to open within seconds")
		w := replayed(p)
		showsModels(t, w)
		showsTests(t, w)
	}
}

// replayed applies a plan without looking at its times.
func replayed(p Plan) *reprocess.World {
	w := reprocess.NewWorld()
	for i, a := range p.Acts {
		actor := reprocess.Console()
		if a.Person != nil {
			actor = reprocess.Actor{Person: a.Person, Signed: a.Signed}
		}
		events, problem := reprocess.Decide(w, a.Cmd, actor, a.Now, int64(i+1))
		if problem != nil {
			continue
		}
		e := &reprocess.Entry{Seq: int64(i + 1), At: a.Now.UTC, Result: reprocess.ResultDone,
			By: actor.Person.ID, Name: actor.Person.Name}
		for _, ev := range events {
			e.Events = append(e.Events, reprocess.Box{Event: ev})
		}
		reprocess.Apply(w, e)
	}
	return w
}

func showsModels(t *testing.T, w *reprocess.World) {
	t.Helper()
	cells := map[string]bool{}
	for _, m := range w.Models {
		if m.Kind != reprocess.Recorder {
			continue
		}
		cells[m.Cell] = true
		require.Equal(t, m.Name == modelB, m.Export)
		require.Equal(t, m.Name == modelB, m.ExpectedHeightUV > 0, "learnt from a good device")
		require.NotEmpty(t, m.ElectrodeInterval)
	}
	require.Equal(t, map[string]bool{"LR03": true, "PR44": true}, cells)
	changed := 0
	for _, k := range w.Kits {
		l := w.Loans[k.Loan]
		if !l.Open() || l.Days < 14 {
			continue
		}
		plan, p := reprocess.PlanLoan(w, k, l.Days, reprocess.DateIn(l.Out, nil))
		require.Nil(t, p)
		if len(plan.BatteryDays()) > 0 && len(plan.ElectrodeDays()) > 0 {
			changed++
		}
	}
	require.Positive(t, changed, "a loan on which cell and electrodes are changed")
}

func showsTests(t *testing.T, w *reprocess.World) {
	t.Helper()
	waits, kinds, overrides := 0, map[reprocess.TestKind]int{}, 0
	for _, p := range w.Pieces {
		if p.Held(reprocess.GradeTechnician) != nil {
			waits++
		}
	}
	for _, c := range w.Cycles {
		for _, r := range c.Records {
			if r.Test != nil {
				kinds[r.Test.Kind]++
			}
			if r.Kind == reprocess.RecOverride {
				overrides++
			}
		}
	}
	require.Positive(t, waits, "a kit waits for the technician")
	require.Equal(t, 1, overrides)
	for _, k := range []reprocess.TestKind{reprocess.TestFile, reprocess.TestTyped, reprocess.TestReference} {
		require.Positive(t, kinds[k], k)
	}
	slips := 0
	for _, l := range w.Labels {
		if l.Kind == reprocess.CodeSlip {
			slips++
		}
	}
	require.Equal(t, 2, slips)
}
