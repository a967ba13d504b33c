package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Ethanol: 70 % v/v is 62.39 % w/w and 55.25 g/100 mL at 20 °C (OIML R 22, tables).
func TestStrengthInWords(t *testing.T) {
	p := Product{Actives: []Active{{Agent: "ethanol", Strength: "70%v/v"}}}
	require.Equal(t, []string{"70.0 % v/v = 62.4 % w/w = 55.2 g/100 mL at 20 °C."}, p.StrengthWords())
	p.Actives[0].Agent = "propan-2-ol"
	words := p.StrengthWords()
	require.Len(t, words, 1)
	require.Contains(t, words[0], "70.0 % v/v")
	p.Actives[0].Strength = "62%w/w"
	require.Contains(t, p.StrengthWords()[0], "within ±0.2", "a converted figure carries its bound")
	p.Actives[0].Strength = "70%"
	words = p.StrengthWords()
	require.Len(t, words, 4)
	require.Contains(t, words[0], "no basis")
	require.Contains(t, words[1], "As 70%v/v: 70.0 % v/v")
	require.Contains(t, words[2], "As 70%w/w: ")
	// 70 g/100 mL of propan-2-ol is 70/78.51 of its pure density: 89.16 % v/v.
	require.Contains(t, words[3], "As 70g/100mL: 89.2 % v/v")
	p.Actives[0].Strength = "80%" // more than the pure liquid holds: that reading drops out
	require.Contains(t, p.StrengthWords()[3], "As 80g/100mL: cannot be")
	p.Actives = []Active{{Agent: "quat", Strength: "0.4 %"}}
	require.Nil(t, p.StrengthWords())
	p = Product{Actives: []Active{{Agent: "ethanol", Strength: "seventy"}}}
	require.Contains(t, p.StrengthWords()[0], "cannot be")
	p = Product{Actives: []Active{{Agent: "ethanol", Strength: "70%v/v"}}, DensityKg: "heavy"}
	require.Len(t, p.StrengthWords(), 1)
}

func TestDoubtsOfClaims(t *testing.T) {
	p := Product{Actives: []Active{{Agent: "ethanol", Strength: "70%v/v"}},
		Claims: []Claim{{Token: "BAC", Seconds: 60}}}
	require.Empty(t, p.Doubts())
	p.Claims = append(p.Claims, Claim{Token: "SPO", Seconds: 60})
	require.NotEmpty(t, p.Doubts(), "alcohols do not kill spores")
}

func TestDaysOfCellChanges(t *testing.T) {
	require.Equal(t, []Date{"2026-12-01", "2026-12-08"},
		CellChanges("2026-11-24", "2026-12-09", 7))
	require.Equal(t, []Date{"2026-12-01"}, CellChanges("2026-11-24", "2026-12-08", 7),
		"not on the day of return")
	require.Empty(t, CellChanges("2026-11-24", "2026-12-01", 7))
	require.Empty(t, CellChanges("2026-11-24", "2026-12-08", 0), "how long a cell lasts is unknown")
	require.Empty(t, CellChanges("2026-11-24", "", 7))
	require.Empty(t, CellChanges("2026-12-08", "2026-11-24", 7))
	require.Len(t, CellChanges("2026-01-01", "2199-01-01", 1), longestLoan)
}

// A label holds five signs beside the word "recorder" (measured by the labels' own tests).
func TestPoolNumbersFitTheirLabel(t *testing.T) {
	for number, fits := range map[string]bool{"1": true, "17": true, "A-3X9": true, "12345": true,
		"123456": false, "": false, "-1": false, "a1": false, "1 2": false, "Ä1": false} {
		require.Equal(t, fits, poolNumber.MatchString(number), number)
	}
}

// "As in the instructions" stands for claims only when somebody signed for having read it.
func TestAsWrittenIsSigned(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("S1")
	for id, p := range c.w.People {
		if p.Has(RoleSupervisor) {
			boss = c.actor(id)
		}
	}
	unsigned := boss
	unsigned.Signed = false
	model := ""
	for id := range c.w.Models {
		model = id
	}
	p := Product{Name: "Bottle", Use: ReadyToUse, Models: []string{model},
		Actives: []Active{{Agent: "propan-2-ol", Strength: "70%v/v"}}, AsWritten: "page 14", WrittenS: 60}
	_, problem := c.try(unsigned, SetProduct{p})
	require.Equal(t, "signature", ruleOf(problem))
	e, problem := c.try(boss, SetProduct{p})
	require.Nil(t, problem)
	set, ok := e.Events[0].Event.(ProductSet)
	require.True(t, ok)
	p.ID, p.OpenDays = set.ID, 28
	_, problem = c.try(unsigned, SetProduct{p})
	require.Nil(t, problem, "what was signed before is not asked again")
	p.WrittenS = 30
	_, problem = c.try(unsigned, SetProduct{p})
	require.Equal(t, "signature", ruleOf(problem))
	p.AsWritten, p.Claims = "", []Claim{{Token: "BAC", Seconds: 60}}
	_, problem = c.try(unsigned, SetProduct{p})
	require.Nil(t, problem, "claims need no signature")
}

// The separator of a GS1 string is a control character, which no entry can hold: the printed
// form is kept. Source: GS1 General Specifications, example GTIN 9506000134352.
func TestUDIIsKeptInItsPrintedForm(t *testing.T) {
	const printed = "(01)09506000134352(10)AB(21)S-7/9"
	for _, text := range []string{printed, "010950600013435210AB\x1d21S-7/9",
		"]d2010950600013435210AB\x1d21S-7/9"} {
		kept, p := checkUDI(text)
		require.Nil(t, p, text)
		require.Equal(t, printed, kept)
		again, p := checkUDI(kept)
		require.Nil(t, p)
		require.Equal(t, kept, again)
	}
	for _, bad := range []string{"+A123\x1dBJC5", "010950600013435221A(2", "\x07"} {
		_, p := checkUDI(bad)
		require.NotNil(t, p, bad)
	}
}
