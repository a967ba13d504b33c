package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// twoReady is a clinic with kit 17 out for 14 days since five, and kit 19 released.
func twoReady(t *testing.T) *clinic {
	c, _, b := twoKits(t)
	c.released("K18")
	dan := c.actor("dan")
	c.do(dan, HandOut{Kit: "K18", Wearer: "w1", Days: 14, Flags: []string{"respiratory"}})
	c.wait(5 * 24 * time.Hour)
	for _, id := range b.Pieces { // kit 19 as if its own bench had released it
		c.w.Pieces[id].State = Released
	}
	b.Release = &Release{Seq: 5, At: c.now.UTC, By: "ada", Name: "Ada Bench", CellDays: 14}
	return c
}

func swap() Swap {
	return Swap{From: "K18", To: "K19", Return: Return{Fault: "yes", Note: "no signal"},
		Recording: RecordingOnIt}
}

// halves tries both commands as the store does.
func (c *clinic) halves(s Swap) (*Problem, *Problem) {
	out, in := s.Halves()
	_, p := c.try(c.actor("dan"), out)
	_, q := c.try(c.actor("dan"), in)
	return p, q
}

// A swap is one act (our practice rule for the counter): the same wearer, what is left of the
// days, the precautions told; the old kit is back with its finding and where its recording is.
func TestASwap(t *testing.T) {
	c := twoReady(t)
	s := swap()
	s.Checks = AllDone(c.w, c.w.Kits["K19"])
	p, q := c.halves(s)
	require.Nil(t, p, "%v", p)
	require.Nil(t, q, "%v", q)
	old, l := c.w.Loans[c.w.Kits["K18"].Loan], c.w.Loans[c.w.Kits["K19"].Loan]
	require.Equal(t, "w1", l.Wearer)
	require.Equal(t, 9, l.Days)
	require.Equal(t, Date("2026-12-08"), l.Due, "the day that was promised stays")
	require.Equal(t, []string{"respiratory"}, l.Flags)
	require.Equal(t, old.ID, l.Swap)
	require.Len(t, l.Checks, 4)
	require.False(t, old.Open())
	require.Equal(t, "yes", old.Return.Fault)
	require.Equal(t, []string{"respiratory"}, c.w.Kits["K18"].Flags)
	require.Equal(t, RecordingOnIt, c.w.Kits["K18"].Recording.Status)
	require.Equal(t, Returned, KitState(c.w.Kits["K18"], c.w.Pieces))
	require.Equal(t, "technician", c.w.Kits["K18"].Waiting[0].Reason)
	require.Equal(t, Issued, KitState(c.w.Kits["K19"], c.w.Pieces))
	p, q = c.halves(s)
	require.Equal(t, "not_out", p.Rule)
	require.Equal(t, "other_half", q.Rule)
}

// Whatever refuses one half refuses both, and nothing has changed.
func TestASwapStandsWholeOrNotAtAll(t *testing.T) {
	for rule, spoil := range map[string]func(*clinic, *Swap){
		"not_released": func(c *clinic, _ *Swap) { c.do(c.actor("dan"), BreakRelease{Kit: "K19", Why: "wet"}) },
		"not_out":      func(c *clinic, _ *Swap) { c.do(c.actor("dan"), TakeBack{Kit: "K18"}) },
		"same_kit":     func(_ *clinic, s *Swap) { s.To = "K18" },
		"unknown":      func(_ *clinic, s *Swap) { s.To = "K99" },
		"finding":      func(_ *clinic, s *Swap) { s.Return = Return{Skin: "no", Fault: "no", Missing: "no"} },
		"recording":    func(_ *clinic, s *Swap) { s.Recording = "" },
		"answer":       func(_ *clinic, s *Swap) { s.Recording = "somewhere" },
		"flags":        func(_ *clinic, s *Swap) { s.Return.Flags = []string{"plague"} },
		"other_kit":    func(_ *clinic, s *Swap) { s.Came = []string{"P19-1"} },
		"days":         func(c *clinic, _ *Swap) { c.wait(9 * 24 * time.Hour) },
		"cell_expiry": func(c *clinic, _ *Swap) {
			c.w.Kits["K19"].Release.CellUntil = c.now.Today().AddDays(8)
		},
		"unchecked": func(c *clinic, _ *Swap) {
			c.do(c.actor("boss"), SetCounter{Counter{Must: []string{"slip"}}})
		},
		"wearer": func(c *clinic, _ *Swap) { c.w.Loans[c.w.Kits["K18"].Loan].Wearer = "" },
	} {
		t.Run(rule, func(t *testing.T) {
			c := twoReady(t)
			s := swap()
			spoil(c, &s)
			before := worldText(t, c.w)
			p, q := c.halves(s)
			require.NotNil(t, p)
			require.Equal(t, rule, p.Rule, "%s", p)
			require.NotEmpty(t, p.Fix)
			require.NotNil(t, q)
			require.Equal(t, before, worldText(t, c.w))
		})
	}
	c := twoReady(t)
	c.refused("role", c.actor("ina"), SwapOut{swap()})
}

// Nine days are left on the last but one moment of a loan of fourteen; on its last day none.
func TestDaysLeft(t *testing.T) {
	c := twoReady(t)
	l := c.w.Loans[c.w.Kits["K18"].Loan]
	require.Equal(t, 9, DaysLeft(l, c.now))
	c.wait(8 * 24 * time.Hour)
	require.Equal(t, 1, DaysLeft(l, c.now))
	c.wait(24 * time.Hour)
	require.Equal(t, 0, DaysLeft(l, c.now))
	c.wait(5 * 24 * time.Hour)
	require.Equal(t, 0, DaysLeft(l, c.now))
	require.Equal(t, 0, DaysLeft(nil, c.now))
	require.Equal(t, 0, DaysLeft(&Loan{}, c.now))
	s := swap()
	s.Days = 3 // typed by hand for a loan that is over
	c.w.Kits["K19"].Release.Until = 0
	p, q := c.halves(s)
	require.Nil(t, p, "%v", p)
	require.Nil(t, q)
	require.Equal(t, c.now.Today().AddDays(3), c.w.Loans[c.w.Kits["K19"].Loan].Due)
}

// Whatever happened to the two kits before, a swap is done to both or to neither.
func TestNoWalkHalvesASwap(t *testing.T) {
	swapped, refused := 0, 0
	rapid.Check(t, func(r *rapid.T) {
		c := twoReady(t)
		for range 12 {
			kit, other := "K18", "K19"
			if rapid.Bool().Draw(r, "turn") {
				kit, other = other, kit
			}
			switch rapid.IntRange(0, 6).Draw(r, "act") {
			case 0:
				_, _ = c.try(c.actor("dan"), TakeBack{Kit: kit})
			case 1:
				_, _ = c.try(c.actor("dan"), HandOut{Kit: kit, Wearer: "w", Days: 5})
			case 2:
				_, _ = c.try(c.actor("dan"), BreakRelease{Kit: kit, Why: "wet"})
			case 3:
				_, _ = c.try(c.actor("ada"), PutOnHold{Kit: kit, Piece: c.w.Kits[kit].Pieces[0], Reason: "cracked"})
			default:
				s := swap()
				s.From, s.To = kit, other
				before := worldText(t, c.w)
				p, q := c.halves(s)
				require.Equal(t, p == nil, q == nil, "%v, %v", p, q)
				if p != nil {
					refused++
					require.Equal(t, before, worldText(t, c.w))
					continue
				}
				swapped++
				require.False(t, c.w.Loans[c.w.Kits[kit].Loan].Open())
				require.True(t, c.w.Loans[c.w.Kits[other].Loan].Open())
			}
		}
	})
	require.Positive(t, swapped)
	require.Positive(t, refused)
}

// A loan without a wearer's token, as one entered after the fact, needs one typed.
func TestASwapOfALoanWithoutAWearer(t *testing.T) {
	c := twoReady(t)
	c.w.Loans[c.w.Kits["K18"].Loan].Wearer = ""
	s := swap()
	s.Wearer = "w2"
	p, q := c.halves(s)
	require.Nil(t, p)
	require.Nil(t, q)
	require.Equal(t, "w2", c.w.Loans[c.w.Kits["K19"].Loan].Wearer)
}
