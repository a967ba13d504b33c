package recording

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every code has a sentence and something to do, in words that claim nothing.
func TestEveryCodeIsExplained(t *testing.T) {
	for _, c := range Codes() {
		a := Explain(c, good(), Expect{Rate: 60, Height: 1})
		require.NotEmpty(t, a.Says, c)
		require.NotEmpty(t, a.Do, c)
		require.True(t, strings.HasSuffix(a.Says, ".") && strings.HasSuffix(a.Do, "."), c)
		for _, never := range []string{"sterile", "safe", "certified", "compliant", "approved"} {
			require.NotContains(t, strings.ToLower(a.Says+a.Do), never)
		}
	}
	require.Len(t, doNext, len(Codes()))
}

// The sentences carry the figures they were judged by.
func TestSentencesCarryFigures(t *testing.T) {
	r := good()
	r.Measures.FlatSeconds, r.Measures.Mains60 = ptr(15.0), ptr(Microvolts(123))
	r.Measures.Rate, r.Seconds = ptr(75.0), ptr(20.0)
	for c, want := range map[Code]string{
		FlatLine: "There is no signal for 15 s.",
		Mains:    "Mains hum of 123 µV.",
		Rate:     "The rate is 75.0 a minute instead of the 60 that was set.",
		TooShort: "Only 20.0 s were recorded.",
		Gain:     "The beats are 1.20 mV high, 20 % off the 1.00 mV of this model.",
		Clock:    "The recorder's clock is 12 min off.",
	} {
		require.Equal(t, want, Explain(c, r, Expect{Rate: 60, Height: 1, ClockOff: -12}).Says)
	}
	require.Contains(t, Explain(Gain, r, Expect{}).Says, "more than a recorder should show")
	require.Contains(t, Explain(FlatLine, Result{}, Expect{}).Says, "0 s", "nil is no crash")
}
