package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The edges of "is this container good enough?". Sources: dates as ISO 8601 days, the last one
// included; claims as the infection-control reference, 2; the wordings are our own.

func TestUseByNeedsEveryFigure(t *testing.T) {
	l, con := &Lot{Expiry: "2026-12-31"}, &Container{Opened: "2026-11-01"}
	require.EqualValues(t, "2026-11-29", UseBy(&Product{OpenDays: 28}, l, con))
	require.EqualValues(t, "2026-11-02", UseBy(&Product{OpenDays: 1}, l, con))
	require.EqualValues(t, "2026-12-31", UseBy(&Product{OpenDays: 90}, l, con))
	require.Empty(t, UseBy(&Product{OpenDays: 0}, l, con))
	require.Empty(t, UseBy(&Product{OpenDays: -1}, l, con))
	require.Empty(t, UseBy(&Product{OpenDays: 28}, &Lot{}, con))
	require.Empty(t, UseBy(&Product{OpenDays: 28}, l, &Container{}))
}

func (c *clinic) suitsRecorder() (Suit, *Problem) {
	return Suits(c.w, "B16", c.w.Pieces["P18-1"], c.w.Procedures["R12@1"], nil, DateIn(c.now.UTC, nil))
}

func TestAContainerOfSomethingElse(t *testing.T) {
	c := newClinic(t)
	_, p := c.suitsRecorder()
	require.Nil(t, p)
	c.w.Lots["T15"].Kind = LotCells
	_, p = c.suitsRecorder()
	require.Equal(t, "not_disinfectant", p.Rule)
	c = newClinic(t)
	delete(c.w.Products, "D14")
	_, p = c.suitsRecorder()
	require.Equal(t, "not_disinfectant", p.Rule)
}

// The procedure's own set of claims stands in the place of the usual one.
func TestTheProcedureSaysWhichClaims(t *testing.T) {
	c := newClinic(t)
	proc := c.w.Procedures["R12@1"]
	proc.Needed = []string{"MYC"} // the product claims nothing of the kind
	_, p := c.suitsRecorder()
	require.Equal(t, "claims", p.Rule)
	proc.Needed = []string{"VIR-E"}
	s, p := c.suitsRecorder()
	require.Nil(t, p)
	require.Equal(t, 60, s.NeededS, "the floor of the procedure, for the claim needs 30 s")
	require.Equal(t, []Covered{{Need: "VIR-E", By: "VIR-E", Seconds: 30}}, s.Covered)
}

// A page of the instructions stands for the set only with its seconds, and seconds only with
// their page; what stands on the label as a claim is shown as a claim.
func TestAPageOfTheInstructionsNeedsItsTime(t *testing.T) {
	for _, x := range []struct {
		page    string
		seconds int
		ok      bool
	}{{"page 12", 90, true}, {"page 12", 0, false}, {"", 90, false}, {"page 12", 1, true}} {
		c := newClinic(t)
		d := c.w.Products["D14"]
		d.Claims, d.AsWritten, d.WrittenS = nil, x.page, x.seconds
		s, p := c.suitsRecorder()
		require.Equal(t, x.ok, p == nil, "%+v: %v", x, p)
		if x.ok {
			require.NotEmpty(t, s.Covered)
			for _, cover := range s.Covered {
				require.Empty(t, cover.By)
			}
			require.Contains(t, s.CoverWords(), "as in the instructions, page 12")
		}
	}
	c := newClinic(t)
	d := c.w.Products["D14"]
	d.AsWritten, d.WrittenS, d.Claims[0].Seconds = "page 12", 45, 30 // BAC at 30 s, YEA at 60 s
	s, p := c.suitsRecorder()
	require.Nil(t, p)
	by := map[string]string{}
	for _, cover := range s.Covered {
		by[cover.Need] = cover.By
	}
	require.Equal(t, map[string]string{"BAC": "BAC", "YEA": ""}, by,
		"the shorter of claim and page covers, and is told as what it is")
}

func TestSentencesEndOnce(t *testing.T) {
	require.Equal(t, "", sentence(""))
	require.Equal(t, "Too weak.", sentence("Too weak"))
	require.Equal(t, "Too weak.", sentence("Too weak."))
}

// A strength that cannot be read is never taken for one without alcohol.
func TestAStrengthThatCannotBeRead(t *testing.T) {
	c := newClinic(t)
	c.w.Products["D14"].Actives[0].Strength = "strong"
	_, p := c.suitsRecorder()
	require.Equal(t, "strength_undecided", p.Rule)
	c.w.Products["D14"].Actives = []Active{{Agent: "quaternary ammonium", Strength: "0.2%w/w"}}
	_, p = c.suitsRecorder()
	require.Nil(t, p, "no alcohol in it: the claims alone say")
}
