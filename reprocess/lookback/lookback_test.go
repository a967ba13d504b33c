package lookback

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func at(t require.TestingT, s string) time.Time {
	v, err := ParseTime("2027-" + s)
	require.NoError(t, err)
	return v
}

// fixture is a worked example of our own after the published steps of a look-back (Rutala and
// Weber 2007; CDC, steps for evaluating a breach): lot L7 was too weak from 1 March 09:00 until
// before 3 March 12:00. The expected lists were worked out by hand.
func fixture(t *testing.T) ([]Cycle, []Loan, Query) {
	t.Helper()
	open := func(name string) *os.File {
		f, err := os.Open(filepath.Join("..", "..", "testdata", "checks", "lookback", name))
		require.NoError(t, err)
		t.Cleanup(func() { _ = f.Close() })
		return f
	}
	cycles, err := ReadCycles(open("cycles.csv"))
	require.NoError(t, err)
	loans, err := ReadLoans(open("loans.csv"))
	require.NoError(t, err)
	return cycles, loans, Query{Lot: "L7", From: at(t, "03-01 09:00"), To: at(t, "03-03 12:00")}
}

func run(t require.TestingT, q Query, cycles []Cycle, loans []Loan) Result {
	r, err := Run(q, cycles, loans)
	require.NoError(t, err)
	return r
}

func TestFixture(t *testing.T) {
	cycles, loans, q := fixture(t)
	want := Result{Cycles: []string{"C2", "C4", "C5"}, Caught: []string{},
		Exposed: []string{"W2", "W4", "W5"}, Unreleased: []string{},
		Sources:   map[string][]string{"W2": {"W1"}, "W4": {"Wx"}, "W5": {"Wx", "W4"}},
		Unbounded: []string{}, Recall: []string{"D2"}, Embargo: []string{},
		Restart: []string{}, Unresolved: []string{}, Wearers: 3}
	q.AsOf = at(t, "03-03 18:00")
	require.Equal(t, want, run(t, q, cycles, loans))
	q.AsOf = at(t, "03-07 00:00")
	want.Recall = []string{}
	require.Equal(t, want, run(t, q, cycles, loans))
	q.AsOf = time.Time{}
	require.Equal(t, want, run(t, q, cycles, loans))
}

// Moments between: D2 on the shelf after C5 is an embargo; with W5 a recall from the second
// of the issue until the second of the return.
func TestFixtureActionsOverTime(t *testing.T) {
	cycles, loans, q := fixture(t)
	for moment, want := range map[string][2][]string{ // recall, embargo
		"03-01 10:59:59": {{}, {}}, "03-01 11:00": {{}, {"D1"}}, "03-01 14:00": {{"D1"}, {}},
		"03-02 15:00": {{"D1"}, {"D2"}}, "03-02 16:00": {{"D1", "D2"}, {}},
		"03-03 11:30": {{"D1"}, {"D2"}}, "03-03 15:59:59": {{"D1", "D2"}, {}},
		"03-03 16:00": {{"D2"}, {}}, "03-05 09:00": {{}, {}},
	} {
		q.AsOf = at(t, moment)
		r := run(t, q, cycles, loans)
		require.Equal(t, want, [2][]string{r.Recall, r.Embargo}, moment)
	}
	q.AsOf = at(t, "03-03 11:00")
	r := run(t, q, cycles, loans)
	require.Equal(t, []string{"D2"}, r.Restart, "C5 has begun and is not released")
	require.Equal(t, []string{"D2"}, r.Caught)
	require.Equal(t, []string{"C2", "C4", "C5"}, r.Cycles)
	q.AsOf = at(t, "03-03 10:59:59")
	require.Equal(t, []string{"C2", "C4"}, run(t, q, cycles, loans).Cycles)
}

// The window is half open: a start at its end is outside, at its beginning inside.
func TestWindowIsHalfOpen(t *testing.T) {
	cycles, loans, q := fixture(t)
	cycles[4].Attempts[0].At, cycles[4].Released = at(t, "03-03 12:00"), at(t, "03-03 12:00")
	r := run(t, q, cycles, loans)
	require.Equal(t, []string{"C2", "C4"}, r.Cycles)
	require.Equal(t, []string{"W2", "W4"}, r.Exposed, "W5 now has a conforming release")
	cycles[4].Attempts[0].At = at(t, "03-03 11:59:59")
	require.Equal(t, []string{"C2", "C4", "C5"}, run(t, q, cycles, loans).Cycles)
	q.From = at(t, "03-01 10:30")
	require.Contains(t, run(t, q, cycles, loans).Cycles, "C2")
	q.From = at(t, "03-01 10:30:01")
	require.NotContains(t, run(t, q, cycles, loans).Cycles, "C2")
}

func attempts(t *testing.T, texts ...string) []Attempt {
	t.Helper()
	var out []Attempt
	for _, s := range texts {
		a, err := parseAttempt("2027-03-01 " + s)
		require.NoError(t, err)
		out = append(out, a)
	}
	return out
}

// A later conforming attempt clears an earlier faulty one in the same cycle; nothing else does.
func TestRepeatedAttempts(t *testing.T) {
	q := Query{Lot: "L7"}
	for _, c := range []struct {
		want  bool
		texts []string
	}{
		{true, []string{"10:00 L7 ok"}},
		{true, []string{"10:00 L7 seen-dry"}},
		{false, []string{"10:00 L7 seen-dry", "10:10 L8 ok"}},
		{false, []string{"10:00 L7 ok", "10:10 L8 ok"}},
		{true, []string{"10:00 L7 seen-dry", "10:10 L7 ok"}},
		{true, []string{"10:00 L8 ok", "10:10 L7 ok"}},
		{true, []string{"10:00 L8 ok", "10:10 L7 seen-dry"}},
		{true, []string{"10:00 L7 ok", "10:10 L8 seen-dry"}},
		{false, []string{"10:10 L8 ok", "10:00 L7 ok"}}, // order of time, not of writing
		{false, nil},
	} {
		cycles := []Cycle{{ID: "C", Device: "D", Attempts: attempts(t, c.texts...)}}
		require.Equal(t, c.want, len(run(t, q, cycles, nil).Cycles) == 1, "%v", c.texts)
	}
}

func TestKeysAreJoinedByAnd(t *testing.T) {
	c := Cycle{ID: "C", Device: "D", Model: "M", Procedure: "P@1", People: []string{"p2"},
		Instruments: []string{"i2"}, Attempts: []Attempt{{At: at(t, "03-01 10:00"), OK: true,
			Person: "p1", Instrument: "i1", Uses: []Use{{"A", "L1", "1"}, {"B", "L2", "2"}}}}}
	whole := Query{Product: "B", Lot: "L2", Container: "2", Piece: "D", Model: "M",
		Procedure: "P@1", Person: "p2", Instrument: "i1"}
	require.True(t, whole.Affected(c))
	for _, q := range []Query{{Product: "A"}, {Lot: "L2"}, {Container: "1"}, {Piece: "D"},
		{Model: "M"}, {Procedure: "P@1"}, {Person: "p1"}, {Instrument: "i2"}} {
		require.True(t, q.Affected(c), "%+v", q)
	}
	for _, change := range []func(*Query){
		func(q *Query) { q.Product = "A" }, func(q *Query) { q.Lot = "L1" },
		func(q *Query) { q.Container = "1" }, func(q *Query) { q.Piece = "E" },
		func(q *Query) { q.Model = "N" }, func(q *Query) { q.Procedure = "P@2" },
		func(q *Query) { q.Person = "p3" }, func(q *Query) { q.Instrument = "i3" },
	} {
		q := whole
		change(&q)
		require.False(t, q.Affected(c), "%+v", q)
	}
}

func TestUnreleasedUnresolvedUnbounded(t *testing.T) {
	cycles, loans, q := fixture(t)
	loans = append(loans,
		Loan{Episode: "A1", Device: "D9", Wearer: "R9", Issued: at(t, "03-02 10:00")},
		Loan{Episode: "A2", Device: "D1", Wearer: "R2", Returned: at(t, "03-03 20:00")},
		Loan{Episode: "A3", Device: "D2", Issued: at(t, "03-02 15:30")})
	cycles = append(cycles, Cycle{ID: "C9", Device: "D8", Released: at(t, "03-01 10:00")})
	r := run(t, q, cycles, loans)
	require.Equal(t, []string{"A1"}, r.Unreleased)
	require.Equal(t, []string{"A2", "A3", "C9"}, r.Unresolved,
		"issue unknown; wearer and return unknown; released with no disinfection on record")
	require.Equal(t, []string{"A3", "W2", "W4", "W5"}, r.Exposed)
	require.Equal(t, 3, r.Wearers)
	require.Equal(t, []string{"Wx", "A3", "W4"}, r.Sources["W5"])

	r = run(t, q, cycles[2:], loans) // C0 and C1 are not on record
	require.Equal(t, []string{"A3", "W2", "W4", "W5"}, r.Unbounded)
	require.Equal(t, []string{"A1", "W1", "Wx"}, r.Unreleased)
	require.Equal(t, []string{"W1"}, r.Sources["W2"], "all earlier episodes")
	q.Piece = "D1"
	require.Equal(t, []string{"W1"}, run(t, q, cycles[2:], loans).Unreleased)
}

// A loan without a return, on a device that was released again since: the return is missing.
func TestMissingReturn(t *testing.T) {
	cycles, loans, q := fixture(t)
	loans[2].Returned = time.Time{}
	r := run(t, q, cycles, loans)
	require.Equal(t, []string{"W2"}, r.Unresolved)
	require.Empty(t, r.Recall)
	q.AsOf = at(t, "03-03 18:00")
	r = run(t, q, cycles, loans)
	require.Empty(t, r.Unresolved, "then it was simply still out")
	require.Equal(t, []string{"D1", "D2"}, r.Recall)
}

func TestQueryRefusals(t *testing.T) {
	_, err := Run(Query{}, nil, nil)
	require.ErrorContains(t, err, "at least one key")
	_, err = Run(Query{AsOf: at(t, "03-01 10:00")}, nil, nil)
	require.ErrorContains(t, err, "at least one key")
	same := at(t, "03-01 10:00")
	_, err = Run(Query{From: same, To: same}, nil, nil)
	require.ErrorContains(t, err, "window holds nothing")
	require.Equal(t, []string{}, run(t, Query{To: same}, nil, nil).Cycles)
}

// Whatever the records: order of reading changes nothing, a wider window loses no cycle, and
// every exposed episode has a list of sources that does not hold itself.
func TestRunProperties(t *testing.T) {
	start := at(t, "03-01 00:00")
	rapid.Check(t, func(t *rapid.T) {
		hour := rapid.IntRange(1, 200)
		moment := func(label string) time.Time {
			return start.Add(time.Duration(hour.Draw(t, label)) * time.Hour)
		}
		names := rapid.SampledFrom([]string{"D1", "D2"})
		var cycles []Cycle
		var loans []Loan
		for i := range rapid.IntRange(0, 8).Draw(t, "cycles") {
			a := Attempt{At: moment("start"), OK: rapid.Bool().Draw(t, "ok"), Uses: []Use{{
				Lot: rapid.SampledFrom([]string{"L6", "L7"}).Draw(t, "lot")}}}
			c := Cycle{ID: string(rune('a' + i)), Device: names.Draw(t, "device"),
				Attempts: []Attempt{a}}
			if rapid.Bool().Draw(t, "released") {
				c.Released = a.At.Add(time.Minute)
			}
			cycles = append(cycles, c)
		}
		for i := range rapid.IntRange(0, 8).Draw(t, "loans") {
			l := Loan{Episode: string(rune('A' + i)), Device: names.Draw(t, "device"),
				Wearer: "R", Issued: moment("issue").Add(time.Duration(i+2) * time.Minute)}
			if rapid.Bool().Draw(t, "back") {
				l.Returned = l.Issued.Add(time.Hour)
			}
			loans = append(loans, l)
		}
		q := Query{Lot: "L7", From: start.Add(40 * time.Hour), To: start.Add(120 * time.Hour)}
		r := run(t, q, cycles, loans)
		for e, sources := range r.Sources {
			require.Contains(t, r.Exposed, e)
			require.NotContains(t, sources, e)
		}
		require.Len(t, r.Sources, len(r.Exposed))
		shuffled := rapid.Permutation(loans).Draw(t, "order")
		require.Equal(t, r, run(t, q, cycles, shuffled))
		q.To = time.Time{}
		require.Subset(t, run(t, q, cycles, loans).Cycles, r.Cycles)
	})
}
