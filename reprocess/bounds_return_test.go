package reprocess

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The edges of coming back and of being lost. Sources: P4, P5 and P9 of the practice notes;
// Regulation (EU) 2016/679, Article 33(1), for who still has to be told.

// Skin trouble told at a return is told again at the next one until a release has answered it.
func TestSkinTroubleIsCarriedUntilAReleaseAnsweredIt(t *testing.T) {
	back := func(c *clinic, skin string) string {
		e := c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Skin: skin}})
		return e.Events[0].Event.(TakenBack).Return.Skin
	}
	c := newClinic(t)
	require.Equal(t, "yes", back(c, "yes"))
	require.Equal(t, "yes", back(c, "no"), "nothing has answered it yet")
	for _, s := range []State{Released, Registered} {
		for _, id := range []string{"P18-1", "P18-2"} {
			c.w.Pieces[id].State = s
		}
		c.w.Kits["K18"].Return = &Return{Skin: "yes"}
		require.Equal(t, "no", back(c, "no"), "%s", s)
	}
	c.w.Kits["K18"].Return = &Return{Skin: "yes"}
	c.w.Pieces["P18-1"].State, c.w.Pieces["P18-2"].State = Released, Returned
	require.Equal(t, "yes", back(c, "no"), "one of the two was not released")
	c.w.Kits["K18"].Return = &Return{Skin: "yes"}
	c.w.Kits["K18"].Pieces = []string{"gone", "P18-1"}
	cs := &Case{W: c.w, Now: c.now}
	_, skin := cs.pending(c.w.Kits["K18"])
	require.True(t, skin, "a piece that is not known says nothing")
}

// A wearer's loan on a ward whose own loan is not known is ended by itself.
func TestAWearersLoanWithoutTheWards(t *testing.T) {
	c := onWard(t)
	c.do(c.actor("dan"), WearAtWard{Kit: "K18", Wearer: "w1"})
	l := c.loan()
	delete(c.w.Loans, l.Under)
	e := c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	require.Equal(t, l.ID, e.Events[0].Event.(TakenBack).Loan)
	require.False(t, c.loan().Open())
}

// A return's place and note are short, each for itself.
func TestWhereAndWhatOfAReturn(t *testing.T) {
	for _, x := range []struct {
		place, note int
		ok          bool
	}{{40, 200, true}, {41, 0, false}, {0, 201, false}, {41, 201, false}, {0, 0, true}} {
		r := Return{Place: strings.Repeat("p", x.place), Note: strings.Repeat("n", x.note)}
		_, p := r.checked()
		require.Equal(t, x.ok, p == nil, "%+v", x)
	}
}

// What is not of this pool is told in words, with a place where it has one.
func TestWhatIsNotOurs(t *testing.T) {
	c := newClinic(t)
	dan := c.actor("dan")
	for _, x := range []struct {
		note, place string
		ok          bool
	}{{"a grey recorder", "", true}, {"a grey recorder", strings.Repeat("p", 40), true},
		{"", "post", false}, {"  ", "post", false}, {strings.Repeat("n", 200), "", true},
		{strings.Repeat("n", 201), "", false}, {"a grey recorder", strings.Repeat("p", 41), false}} {
		e, p := c.try(dan, NotOurs{Note: x.note, Place: x.place})
		require.Equal(t, x.ok, p == nil, "%+v", x)
		if x.ok {
			require.Equal(t, ForeignItem{Note: x.note, Place: x.place}, e.Events[0].Event)
		}
	}
}

// A parcel is opened once, after it came back; the next return is another parcel.
func TestAParcelIsOpenedOnce(t *testing.T) {
	c := newClinic(t)
	dan, open := c.actor("dan"), OpenParcel{Kit: "K18"}
	c.w.Kits["K18"].Back = 0
	c.refused("not_back", dan, open)
	c.refused("unknown", dan, OpenParcel{Kit: "K99"})
	for range 2 {
		c.do(dan, TakeBack{Kit: "K18"})
		require.Zero(t, c.w.Kits["K18"].Opened)
		c.wait(time.Hour)
		c.do(dan, open)
		require.Equal(t, c.now.UTC, c.w.Kits["K18"].Opened)
		c.refused("already_done", dan, open)
	}
	c.do(dan, TakeBack{Kit: "K18", Opened: true})
	c.refused("already_done", dan, open)
}

// Waiting: for a reason of the list, until it is ended, each for itself.
func TestWhatAKitWaitsFor(t *testing.T) {
	c := newClinic(t)
	dan := c.actor("dan")
	c.refused("reason", dan, Wait{Kit: "K18", Reason: "good weather"})
	c.refused("reason", dan, Wait{Kit: "K18"})
	c.refused("date", dan, Wait{Kit: "K18", Reason: "part", Next: "tomorrow"})
	c.refused("already_done", dan, EndWait{Kit: "K18", Reason: "part"})
	c.do(dan, Wait{Kit: "K18", Reason: "part", Who: "stores", Part: "cable", Next: "2026-12-01"})
	c.do(dan, Wait{Kit: "K18", Reason: "technician"})
	require.Len(t, c.w.Kits["K18"].Waiting, 2)
	c.refused("already_done", dan, EndWait{Kit: "K18", Reason: "charging"})
	c.refused("unknown", dan, EndWait{Kit: "K99", Reason: "part"})
	c.do(dan, EndWait{Kit: "K18", Reason: "part"})
	require.Len(t, c.w.Kits["K18"].Waiting, 1)
	require.Equal(t, "technician", c.w.Kits["K18"].Waiting[0].Reason)
	c.do(dan, EndWait{Kit: "K18", Reason: "technician"})
	require.Empty(t, c.w.Kits["K18"].Waiting)
}

// --- lost and found ---

// Nobody is told of no loss; not knowing what is on it counts as data.
func TestWhoIsStillToBeTold(t *testing.T) {
	require.False(t, (*Loss)(nil).ToTell())
	require.False(t, (*Loss)(nil).Open())
	require.True(t, (&Loss{Data: DataYes}).ToTell())
	require.True(t, (&Loss{Data: DataUnknown}).ToTell())
	require.False(t, (&Loss{Data: DataNo}).ToTell())
	require.False(t, (&Loss{Data: DataYes, Told: 1}).ToTell())
}

// "Just now" is known; a moment ahead is not. The pieces carry the note as their reason.
func TestALossIsKnownUpToNow(t *testing.T) {
	for note, reason := range map[string]string{"in a taxi": "in a taxi", "": "cannot be found"} {
		c := readyKit(t)
		d := lost(DataNo)
		d.Known, d.Note = c.now.UTC, note
		e := c.do(c.actor("dan"), d)
		require.Equal(t, reason, e.Events[1].Event.(PieceMoved).Reason)
		require.Equal(t, c.now.UTC, c.w.Kits["K18"].Loss.Known)
	}
}

// Only what was lost was in unknown hands; a phone of its kit that merely came back was not.
func TestWhoseHandsItWasIn(t *testing.T) {
	for _, x := range []struct {
		lost    []string
		told    RecordingStatus
		custody string
		now     RecordingStatus
	}{
		{nil, RecordingArrived, "", RecordingArrived},
		{[]string{"P18-2"}, RecordingArrived, "unknown", RecordingArrived},
		{[]string{"P18-1"}, RecordingArrived, "unknown", RecordingUnknown},
		{[]string{"P18-1"}, RecordingOnIt, "unknown", RecordingOnIt}, // that much is still known
	} {
		c := readyKit(t)
		dan := c.actor("dan")
		c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 3})
		c.do(dan, SetRecording{Kit: "K18", Status: x.told})
		if x.lost != nil {
			c.do(dan, DeclareMissing{Kit: "K18", Pieces: x.lost, Data: DataNo})
		}
		e := c.do(dan, TakeBack{Kit: "K18"})
		require.Equal(t, x.custody, e.Events[0].Event.(TakenBack).Return.Custody, "%+v", x)
		require.Equal(t, x.now, c.w.Kits["K18"].Recording.Status, "%+v", x)
	}
}

// A loss ends with the last of its pieces; what is not known of says nothing about it.
func TestWhenALossEnds(t *testing.T) {
	w := NewWorld()
	w.findKit(&Entry{At: 5}, "K1") // no such kit: nothing to end
	w.Pieces["a"], w.Pieces["b"] = &Piece{State: Missing}, &Piece{State: Missing}
	w.Kits["K1"] = &Kit{ID: "K1", Loss: &Loss{Pieces: []string{"a", "gone", "b"}}}
	for i, x := range []struct {
		a, b  State
		found Instant
	}{{Missing, Missing, 0}, {Returned, Missing, 0}, {Missing, Returned, 0}, {Returned, Retired, 4}} {
		w.Pieces["a"].State, w.Pieces["b"].State = x.a, x.b
		w.findKit(&Entry{At: Instant(i + 1)}, "K1")
		require.Equal(t, x.found, w.Kits["K1"].Loss.Found, "%+v", x)
	}
	w.findKit(&Entry{At: 9}, "K1")
	require.EqualValues(t, 4, w.Kits["K1"].Loss.Found, "it was found once")
}
