package reprocess

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Rules without a published source but for the two steps that they serve: embargo what may be
// affected, and tell what is with a patient (Rutala and Weber, Infect Control Hosp Epidemiol
// 2007;28:146, steps 2 and 6; from memory). How one signature does it is this project's choice.

func (c *clinic) frozen(who Actor) string {
	c.t.Helper()
	e := c.do(who, FreezeLookBack{Note: "lot E70 was too weak", Query: []string{"lot E70"}, Size: 1,
		Root: "root", SHA256: strings.Repeat("0a", 32), Bytes: 9})
	return e.Events[0].Event.(LookBackFrozen).ID
}

func (c *clinic) named(do string) []NamedPiece {
	var all []NamedPiece
	for _, id := range c.w.Kits["K18"].Pieces {
		all = append(all, NamedPiece{Kit: "K18", Piece: id, Do: do, Cycle: c.w.Pieces[id].Cycle})
	}
	return all
}

func TestFreezingNeedsTheAnswer(t *testing.T) {
	c := readyToRelease(t)
	ina := c.actor("ina")
	good := FreezeLookBack{Note: "too weak", Query: []string{"lot E70"}, Size: 1, Root: "r",
		SHA256: strings.Repeat("0a", 32), Bytes: 1}
	for rule, change := range map[string]func(*FreezeLookBack){
		"empty":     func(f *FreezeLookBack) { f.Note = " " },
		"query":     func(f *FreezeLookBack) { f.Query = nil },
		"look_back": func(f *FreezeLookBack) { f.SHA256 = "no hash" },
	} {
		f := good
		change(&f)
		c.refused(rule, ina, f)
	}
	for _, from := range []int64{0, 1, 5} { // its own number, and later ones
		f := good
		f.Size = c.seq + 1 + from
		c.refused("look_back", ina, f)
	}
	none := good
	none.Size = 0
	c.refused("look_back", ina, none)
	f := good
	f.Query = []string{"lot "}
	c.refused("query", ina, f)
	f = good
	f.Size = c.seq
	e := c.do(ina, f)
	l := c.w.LookBacks[e.Events[0].Event.(LookBackFrozen).ID]
	require.Equal(t, []any{e.Seq, "too weak", e.Seq - 1}, []any{l.Seq, l.Note, l.Size})

	unsigned := ina
	unsigned.Signed = false
	c.refused("signature", unsigned, good)
	c.refused("role", c.actor("dan"), good)
}

func TestOneSignatureStopsWhatIsOnTheShelf(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	ina := c.actor("ina")
	id := c.frozen(ina)
	named := c.named(DoStop)
	c.refused("unknown", ina, ActOnKit{LookBack: "Q0", Kit: "K18", Reason: "weak", Pieces: named})
	c.refused("empty", ina, ActOnKit{LookBack: id, Kit: "K18", Pieces: named})
	c.refused("empty", ina, ActOnLookBack{LookBack: id, Stop: 2, Kits: 1})
	c.refused("nothing_named", ina, ActOnLookBack{LookBack: id, Reason: "weak"})
	c.refused("role", c.actor("dan"), ActOnKit{LookBack: id, Kit: "K18", Reason: "weak", Pieces: named})

	head := c.do(ina, ActOnLookBack{LookBack: id, Reason: "weak", Stop: 2, Kits: 1})
	e := c.do(ina, ActOnKit{LookBack: id, Kit: "K18", Reason: "weak", Pieces: named})
	for _, p := range c.w.Kits["K18"].Pieces {
		require.Equal(t, Embargoed, c.w.Pieces[p].State)
	}
	moved := e.Events[0].Event.(PieceMoved)
	require.Equal(t, c.w.LookBacks[id].Seq, moved.LookBack, "it names the look-back")
	require.Equal(t, LookBackDone{Seq: head.Seq, At: head.At, By: "ina", Name: head.Name,
		Reason: "weak", Kits: 1}, c.w.LookBacks[id].Acts[0])
	p := c.refused("not_as_named", ina, ActOnKit{LookBack: id, Kit: "K18", Reason: "weak", Pieces: named})
	require.Contains(t, p.Text, "is stopped already")
}

func TestWhatWentOnSinceIsLeftAndSaid(t *testing.T) {
	c := readyToRelease(t)
	ina := c.actor("ina")
	id := c.frozen(ina)
	act := func(do string) ActOnKit {
		return ActOnKit{LookBack: id, Kit: "K18", Reason: "weak", Pieces: c.named(do)}
	}
	restart := act(DoRestart)
	other := act(DoRestart)
	other.Pieces[0].Cycle = "C0"
	back := c.w.Kits["K18"].Back
	c.wait(time.Hour)
	e := c.do(ina, other)
	require.Len(t, e.Events, len(other.Pieces)-1, "the one that began another cycle is left")
	p := c.refused("not_as_named", ina, ActOnKit{LookBack: id, Kit: "K18", Reason: "weak",
		Pieces: other.Pieces[:1]})
	require.Contains(t, p.Text, "the recorder began another cycle since")
	e = c.do(ina, ActOnKit{LookBack: id, Kit: "K18", Reason: "weak", Pieces: restart.Pieces[:1]})
	require.IsType(t, CycleRestarted{}, e.Events[0].Event)
	for _, piece := range c.w.Kits["K18"].Pieces {
		require.Equal(t, Returned, c.w.Pieces[piece].State)
		require.Equal(t, EndBrokenOff, c.w.Cycles[c.w.Pieces[piece].Cycle].End)
	}
	require.Equal(t, back, c.w.Kits["K18"].Back, "it came back when it came back")
	p = c.refused("not_as_named", ina, restart)
	require.Contains(t, p.Text, "is started again already")
}

func TestTwoSignWhereTheClinicAsks(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	ina, ada := c.actor("ina"), c.actor("ada")
	id := c.frozen(ina)
	c.refused("already_done", ina, SetStopRule{})
	unsigned := ina
	unsigned.Signed = false
	c.do(unsigned, SetStopRule{Two: true})
	c.refused("loosened", unsigned, SetStopRule{})
	act := ActOnKit{LookBack: id, Kit: "K18", Reason: "weak", Pieces: c.named(DoStop)}
	c.refused("second_person", ina, act)
	c.refused("second_person", ina, ActOnLookBack{LookBack: id, Reason: "weak", Stop: 2, Kits: 1})
	with := func(p *Person) Actor {
		a := ina
		a.Second = p
		return a
	}
	c.refused("second_same", with(ina.Person), act)
	dan := c.actor("dan").Person
	c.refused("second_role", with(dan), act)
	left := *ada.Person
	left.Roles, left.Left = []Role{RoleSupervisor}, c.now.Today().AddDays(-1)
	c.refused("second_left", with(&left), act)
	left.Left = c.now.Today()
	c.do(with(&left), act)
	c.do(ina, SetStopRule{})
	require.False(t, c.w.Settings.TwoToStop)
}

// CallBackHours is our own figure; its edges are held exactly.
func TestCalledBackKitsAreCalledWithinADay(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	dan, ina := c.actor("dan"), c.actor("ina")
	c.do(dan, HandOut{Kit: "K18", Wearer: "token", Days: 7})
	loan := c.w.Kits["K18"].Loan
	c.refused("not_due", dan, CallOverdue{Kit: "K18", Loan: loan, Result: CallReached})
	require.Empty(t, CallBacks(c.w, c.now))
	id := c.frozen(ina)
	named := c.named(DoCallBack)
	e := c.do(ina, ActOnKit{LookBack: id, Kit: "K18", Reason: "weak", Pieces: named})
	require.Equal(t, Recalled, c.w.Pieces["P18-1"].State)
	p := c.refused("not_as_named", ina, ActOnKit{LookBack: id, Kit: "K18", Reason: "weak", Pieces: named})
	require.Contains(t, p.Text, "is called back already")

	list := CallBacks(c.w, c.now)
	require.Len(t, list, 1)
	require.Equal(t, []any{e.Seq, "weak", false}, []any{list[0].What.Seq, list[0].What.Reason, list[0].Late})
	c.wait(CallBackHours*time.Hour - time.Millisecond)
	require.False(t, CallBacks(c.w, c.now)[0].Late)
	c.wait(time.Millisecond)
	require.True(t, CallBacks(c.w, c.now)[0].Late)

	c.do(dan, CallOverdue{Kit: "K18", Loan: loan, Result: CallNotReached})
	require.False(t, CallBacks(c.w, c.now)[0].Late, "called now, again within a day")
	c.wait(CallBackHours * time.Hour)
	require.True(t, CallBacks(c.w, c.now)[0].Late)
	today := c.now.Today()
	c.do(dan, CallOverdue{Kit: "K18", Loan: loan, Result: CallWillBring, On: today})
	require.False(t, CallBacks(c.w, c.now)[0].Late)
	c.wait(24 * time.Hour)
	require.True(t, CallBacks(c.w, c.now)[0].Late, "the promised day has passed")

	c.do(dan, TakeBack{Kit: "K18"})
	require.Empty(t, CallBacks(c.w, c.now))
	require.Equal(t, "called_back", c.w.Pieces["P18-1"].Holds[0].Reason)
	require.Nil(t, c.w.Pieces["P18-1"].Called)
	p = c.refused("not_as_named", ina, ActOnKit{LookBack: id, Kit: "K18", Reason: "weak", Pieces: named})
	require.Contains(t, p.Text, "came back since")
}

// What is in no kit cannot be handed out: it is left, and that is said.
func TestALoosePieceIsLeftAndSaid(t *testing.T) {
	c := readyToRelease(t)
	ina := c.actor("ina")
	id := c.frozen(ina)
	c.do(c.actor("boss"), Compose{Kit: "K18", Pieces: []string{"P18-1"}})
	loose := []NamedPiece{{Piece: "P18-2", Do: DoStop}}
	p := c.refused("not_as_named", ina, ActOnKit{LookBack: id, Reason: "weak", Pieces: loose})
	require.Contains(t, p.Text, "it is in no kit")
	c.refused("pieces", ina, ActOnKit{LookBack: id, Reason: "weak"})
	both := ActOnKit{LookBack: id, Kit: "K18", Reason: "weak", Pieces: append(c.named(DoRestart), loose...)}
	e := c.do(ina, both)
	require.Len(t, e.Events, 1, "the one that left the kit is left")
}
