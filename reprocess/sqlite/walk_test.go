package sqlite

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// walk does random commands on a few kits of one pool, most of them along a pass, so that many
// are allowed, and counts what became of them.
type walk struct {
	*bench
	r       *rand.Rand
	kits    []string
	numbers []string
	at      []int // next command of each kit's pass
	last    []int64
	done    map[reprocess.Act]int
	refused int
}

// next makes a command for a kit: five times in six the next of its pass.
func (w *walk) next(i int) (reprocess.Command, time.Duration) {
	kit, other := w.kits[i], w.kits[w.r.IntN(len(w.kits))]
	piece := "P" + kit[1:] + "-1"
	if w.r.IntN(6) > 0 {
		s := w.passOf(kit, piece, w.numbers[i])[w.at[i]]
		return s.cmd, s.after
	}
	label := reprocess.Reissue{Kit: kit, Kind: reprocess.CodePiece, Target: piece,
		Code: fmt.Sprintf("NEW%d", w.keys), Reason: "worn off"}
	odd := []reprocess.Command{
		reprocess.Move{Kit: kit, Place: "drawer"}, reprocess.OpenParcel{Kit: kit},
		reprocess.PutOnHold{Kit: kit, Piece: piece, Reason: "other", Note: "odd smell"},
		reprocess.DecideHold{Kit: kit, Piece: piece, Hold: w.last[i], To: "go_on", Reason: "was dust"},
		reprocess.Undo{Kit: kit, Of: w.last[i]}, reprocess.Undo{Kit: kit, Of: w.last[i]},
		reprocess.Undo{Kit: kit, Of: w.last[i]}, reprocess.Extend{Kit: kit, Days: 9},
		reprocess.UndoHandOut{Kit: kit, Reason: "never left"}, label,
		reprocess.Aside{Kit: kit, Piece: piece, To: reprocess.Missing, Reason: "not on the shelf"},
		reprocess.Aside{Kit: kit, Piece: piece, To: reprocess.Returned, Reason: "found"},
		reprocess.Compose{Kit: kit, Pieces: []string{"P" + other[1:] + "-1"}},
		reprocess.Wait{Kit: kit, Reason: "charging"}, reprocess.EndWait{Kit: kit, Reason: "charging"},
		reprocess.StopLot{Lot: w.cells, Reason: "swollen cells in it"},
		reprocess.LiftLot{Lot: w.cells, Reason: "read wrongly"},
		reprocess.LiftLot{Lot: w.cells, Reason: "other box"}, reprocess.Recheck{Kit: kit},
		reprocess.TakeBack{Kit: kit, Return: reprocess.Return{Skin: "yes", Fault: "no", Missing: "no"}},
	}
	switch w.r.IntN(10) {
	case 0, 1:
		odd = counterActs(kit, piece)
	case 2:
		odd = w.corrections(kit, piece)
	case 3:
		odd = []reprocess.Command{reprocess.StopKit{Kit: kit, Reason: "weak tub"},
			reprocess.LiftStop{Kit: kit, Reason: "another tub"}}
	}
	return odd[w.r.IntN(len(odd))], time.Second
}

// counterActs are what the counter does besides handing out and taking back.
func counterActs(kit, piece string) []reprocess.Command {
	return []reprocess.Command{
		reprocess.DeclareMissing{Kit: kit, Data: "unknown"}, reprocess.TellLoss{Kit: kit, Who: "privacy"},
		reprocess.SendToRepair{Kit: kit, Piece: piece, Declaration: "still_contaminated", Left: "dust",
			Reason: "clip", To: "a workshop"},
		reprocess.ExpectRepair{Kit: kit, Piece: piece, Expected: "2199-01-01"},
		reprocess.RepairBack{Kit: kit, Piece: piece, Outcome: "no_fault"},
		reprocess.HandOut{Kit: kit, Ward: "Ward 4", Days: 5}, reprocess.WearAtWard{Kit: kit, Wearer: "w9"},
		reprocess.BackOnWard{Kit: kit}, reprocess.TellWorn{Kit: kit, Worn: "1"},
	}
}

// step does one random command.
func (w *walk) step() {
	w.Helper()
	i := w.r.IntN(len(w.kits))
	cmd, after := w.next(i)
	w.clock.pass(after)
	e, err := w.Do(context.Background(), w.request(w.boss, cmd))
	if err != nil {
		require.NotEqual(w, reprocess.Internal, reprocess.AsProblem(err).Code, "%T: %v", cmd, err)
		w.refused++
		if w.r.IntN(3) == 0 { // no way on from here: begin the pass again
			w.at[i] = 0
		}
		return
	}
	w.done[e.Act]++
	w.last[i] = e.Seq
	if steps := w.passOf(w.kits[i], "P"+w.kits[i][1:]+"-1", w.numbers[i]); fmt.Sprint(
		steps[w.at[i]].cmd) == fmt.Sprint(cmd) {
		w.at[i] = (w.at[i] + 1) % len(steps)
	}
}

// TestRandomWalksFoldToWhatIsRead: the writer decides and folds on a partial world that it
// fills as it goes. Whatever the order, and wherever it loses its caches in between, the rows
// it leaves are those that a fold of the whole ledger gives, and Verify agrees.
func TestRandomWalksFoldToWhatIsRead(t *testing.T) {
	acts := map[reprocess.Act]int{}
	for seed := range uint64(7) {
		w := &walk{bench: newBench(t), r: rand.New(rand.NewPCG(seed, 1)),
			done: map[reprocess.Act]int{}}
		for k := range 3 {
			number := fmt.Sprintf("W%d", k)
			w.kits, w.numbers = append(w.kits, w.register(number)), append(w.numbers, number)
			w.at, w.last = append(w.at, 0), append(w.last, 0)
		}
		w.must(w.boss, reprocess.SetCounter{Counter: reprocess.Counter{
			Wards: []reprocess.Ward{{Name: "Ward 4"}}}})
		for n := range 330 {
			if n%25 == 24 { // a new server, with nothing in its caches
				require.NoError(t, w.Close())
				w.Store = open(t, w.Dir(), w.clock)
			}
			w.step()
		}
		require.Positive(t, w.refused)
		r := verified(t, w.Dir())
		folded := reprocess.NewWorld()
		for body, err := range w.Bodies(context.Background(), 1, r.Entries) {
			require.NoError(t, err)
			e, err := readEntry(body)
			require.NoError(t, err)
			reprocess.Apply(folded, e)
		}
		folded.Touched()
		read, err := w.Everything(context.Background())
		require.NoError(t, err)
		require.Equal(t, folded, read, "seed %d", seed)
		for act, n := range w.done {
			acts[act] += n
		}
	}
	for _, act := range strings.Fields("step wet hold decision undo move label_bind return " +
		"correct embargo embargo_lift missing repair_send compose aside wait wait_end lot_stop lot_lift release issue parcel_open") {
		require.Positive(t, acts[reprocess.Act(act)], "no walk ever did %s", act)
	}
}
