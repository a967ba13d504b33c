package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func lost(data string) DeclareMissing { return DeclareMissing{Kit: "K18", Data: data} }

func TestAKitIsDeclaredMissing(t *testing.T) {
	c := readyKit(t)
	dan := c.actor("dan")
	c.refused("data", dan, lost(""))
	c.refused("data", dan, lost("perhaps"))
	d := lost(DataUnknown)
	d.Known = c.now.UTC + 1
	c.refused("time", dan, d)
	d.Known, d.Note = c.now.UTC.Add(-time.Hour), "not on the shelf"
	c.do(dan, d)
	l := c.w.Kits["K18"].Loss
	require.True(t, l.Open())
	require.True(t, l.ToTell())
	require.Equal(t, c.now.UTC.Add(-time.Hour), l.Known)
	require.Equal(t, []string{"P18-1", "P18-2"}, l.Pieces)
	require.Equal(t, Missing, KitState(c.w.Kits["K18"], c.w.Pieces))
	require.False(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
	c.refused("already_missing", dan, lost(DataYes))
}

// It is accepted from every state that is in use: what cannot be found cannot be found.
func TestMissingFromEveryState(t *testing.T) {
	for _, s := range States() {
		c := newClinic(t)
		for _, id := range c.w.Kits["K18"].Pieces {
			c.w.Pieces[id].State = s
		}
		if s == Retired {
			c.refused("retired", c.actor("dan"), lost(DataNo))
			continue
		}
		c.do(c.actor("dan"), lost(DataNo))
		require.Equal(t, Missing, KitState(c.w.Kits["K18"], c.w.Pieces), "%s", s)
	}
}

// First the phone, later the recorder: one loss, the earlier time, the graver answer.
func TestALossGrows(t *testing.T) {
	c := readyKit(t)
	dan := c.actor("dan")
	begun := c.now.UTC
	c.do(dan, DeclareMissing{Kit: "K18", Pieces: []string{"P18-2"}, Data: DataYes, Note: "left in a taxi"})
	c.do(dan, TellLoss{Kit: "K18", Who: "Data protection"})
	c.wait(time.Hour)
	c.do(dan, DeclareMissing{Kit: "K18", Pieces: []string{"P18-1"}, Data: DataNo})
	l := c.w.Kits["K18"].Loss
	require.Equal(t, begun, l.Known)
	require.Equal(t, DataYes, l.Data)
	require.ElementsMatch(t, []string{"P18-1", "P18-2"}, l.Pieces)
	require.Equal(t, "left in a taxi", l.Note)
	require.Equal(t, begun, l.Told)
	c.do(dan, TakeBack{Kit: "K18", Came: []string{"P18-1"}})
	require.True(t, c.w.Kits["K18"].Loss.Open(), "the phone is still gone")
	c.do(dan, TakeBack{Kit: "K18", Came: []string{"P18-2"}})
	require.False(t, c.w.Kits["K18"].Loss.Open())
}

// "Not later than 72 hours after having become aware of it" (Regulation (EU) 2016/679, Article
// 33(1)): the 72nd hour is in time, a moment more is not. A clinic's own limit takes its place.
func TestTheClockOfTelling(t *testing.T) {
	c := readyKit(t)
	c.do(c.actor("dan"), lost(DataYes))
	l := c.w.Kits["K18"].Loss
	at := func(d time.Duration) Now { n := c.now; n.UTC = l.Known.Add(d); return n }
	require.False(t, c.w.Settings.ClockOf(l, at(72*time.Hour)).Over)
	over := c.w.Settings.ClockOf(l, at(72*time.Hour+time.Millisecond))
	require.True(t, over.Over)
	require.Equal(t, 72*time.Hour, over.Limit)
	require.Contains(t, over.Source, "2016/679")
	c.do(c.actor("boss"), SetCounter{Counter{LossHours: 24, Privacy: "Data protection, ext. 300"}})
	require.False(t, c.w.Settings.ClockOf(l, at(24*time.Hour)).Over)
	require.True(t, c.w.Settings.ClockOf(l, at(24*time.Hour+1*time.Millisecond)).Over)
	c.wait(5 * time.Hour)
	dan := c.actor("dan")
	c.refused("role", Actor{Person: &Person{ID: "x", Roles: []Role{RoleTechnician}}}, TellLoss{Kit: "K18"})
	c.refused("time", dan, TellLoss{Kit: "K18", At: c.now.UTC + 1})
	c.refused("time", dan, TellLoss{Kit: "K18", At: l.Known - 1})
	c.do(dan, TellLoss{Kit: "K18", At: l.Known})
	l = c.w.Kits["K18"].Loss
	require.Equal(t, "Data protection, ext. 300", l.ToldWho)
	require.False(t, l.ToTell())
	require.Zero(t, c.w.Settings.ClockOf(l, at(90*time.Hour)).Known, "it stands since it was told")
	c.refused("already_told", dan, TellLoss{Kit: "K18"})
}

func TestTellingNeedsALossAndAName(t *testing.T) {
	c := readyKit(t)
	dan := c.actor("dan")
	c.refused("not_missing", dan, TellLoss{Kit: "K18", Who: "somebody"})
	c.do(dan, lost(DataNo))
	require.False(t, c.w.Kits["K18"].Loss.ToTell(), "nothing is on it")
	c.refused("who", dan, TellLoss{Kit: "K18"})
	c.do(dan, TellLoss{Kit: "K18", Who: "Data protection"})
}

// Found: taken back from wherever, custody unknown although a loan was open, the recording to
// be secured first, and a new cycle.
func TestFoundAgain(t *testing.T) {
	c := readyKit(t)
	dan := c.actor("dan")
	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 3})
	c.do(dan, SetRecording{Kit: "K18", Status: RecordingArrived})
	c.do(dan, lost(DataUnknown))
	require.True(t, c.loan().Open(), "the loan is not over")
	c.refused("found", c.actor("ada"), Aside{Kit: "K18", Piece: "P18-1", To: Returned, Reason: "found"})
	e := c.do(dan, TakeBack{Kit: "K18"})
	require.Equal(t, "unknown", e.Events[0].Event.(TakenBack).Return.Custody)
	k := c.w.Kits["K18"]
	require.Equal(t, RecordingUnknown, k.Recording.Status, "it was in unknown hands since")
	require.Equal(t, e.At, k.Loss.Found)
	require.False(t, c.loan().Open())
	require.Equal(t, StepReceipt, c.w.NextStep(c.w.Pieces["P18-1"]))
	c.refused("recording_first", c.actor("ada"), RecordStep{Kit: "K18", Pieces: []string{"P18-1"},
		Step: StepReceipt, Answers: answers("condition", "whole", "recording", "unknown", "old_cell", "yes")})
	c.goodSteps(c.actor("ada"))
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.do(dan, lost(DataNo))
	require.Zero(t, k.Loss.Told, "a second loss is a loss of its own")
}

// A phone that comes after its recorder leaves the recorder's recording as it was told.
func TestAFoundPhoneSaysNothingOfTheRecording(t *testing.T) {
	c := readyKit(t)
	dan := c.actor("dan")
	c.do(dan, DeclareMissing{Kit: "K18", Pieces: []string{"P18-2"}, Data: DataNo})
	c.do(dan, SetRecording{Kit: "K18", Status: RecordingArrived})
	c.do(dan, TakeBack{Kit: "K18", Came: []string{"P18-2"}})
	require.Equal(t, RecordingArrived, c.w.Kits["K18"].Recording.Status)
}
