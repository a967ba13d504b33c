package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// First to expire, first out: common practice of stock rooms.
func TestTheFirstToExpireIsNamed(t *testing.T) {
	suit := func(id string, opened, until Date) Suit {
		return Suit{Container: &Container{ID: id, Opened: opened}, Until: until}
	}
	_, ok := FirstToExpire(nil)
	require.False(t, ok)
	for _, x := range []struct {
		name, want string
		suits      []Suit
	}{
		{"only one", "B1", []Suit{suit("B1", "2026-11-20", "2026-12-01")}},
		{"one day earlier", "B2", []Suit{suit("B1", "2026-11-20", "2026-12-02"),
			suit("B2", "2026-11-23", "2026-12-01")}},
		{"same day, opened earlier", "B2", []Suit{suit("B1", "2026-11-20", "2026-12-01"),
			suit("B2", "2026-11-19", "2026-12-01")}},
		{"the same in all", "B1", []Suit{suit("B2", "2026-11-20", "2026-12-01"),
			suit("B1", "2026-11-20", "2026-12-01")}},
		{"over the year's end", "B1", []Suit{suit("B2", "2026-11-20", "2027-01-01"),
			suit("B1", "2026-11-20", "2026-12-31")}},
	} {
		first, ok := FirstToExpire(x.suits)
		require.True(t, ok)
		require.Equal(t, x.want, first.Container.ID, x.name)
	}
}

// Which claim covers which need: implications of spectrum, limited virucidal over enveloped.
func TestTheSentenceSaysWhichClaimCovers(t *testing.T) {
	proc := &Procedure{FloorS: 30, Needed: []string{"BAC", "YEA"}}
	p := &Product{Name: "x", Claims: []Claim{{Token: "BAC", Seconds: 60},
		{Token: "FUN", Seconds: 90}, {Token: "VIR-L", Seconds: 30}}}
	s, problem := (Suit{Product: p}).covers(nil, proc, []string{"respiratory"})
	require.Nil(t, problem)
	require.Equal(t, []Covered{{"BAC", "BAC", 60}, {"YEA", "FUN", 90}, {"VIR-E", "VIR-L", 30}},
		s.Covered)
	require.Contains(t, s.CoverWords(), "(BAC) claimed at 60 s; ")
	require.Contains(t, s.CoverWords(), "(YEA) covered by FUN, claimed at 90 s; ")
	require.Contains(t, s.CoverWords(), "(VIR-E) covered by VIR-L, claimed at 30 s.")
	require.Equal(t, 90, s.NeededS, "the largest over the needed claims")

	// What nobody claims but a signed page stands for is not called a claim.
	p = &Product{Name: "x", AsWritten: "page 14", WrittenS: 120,
		Claims: []Claim{{Token: "BAC", Seconds: 60}}}
	s, problem = (Suit{Product: p}).covers(nil, proc, nil)
	require.Nil(t, problem)
	require.Contains(t, s.CoverWords(), "(BAC) claimed at 60 s")
	require.Contains(t, s.CoverWords(), "(YEA) as in the instructions, page 14, 120 s")

	s, problem = (Suit{Product: p}).covers(nil, proc, []string{"tb"})
	require.NotNil(t, problem)
	require.Empty(t, s.CoverWords(), "what does not suit covers nothing")
}
