package reprocess

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// population makes so many cycle ids.
func population(n int) []string {
	var ids []string
	for i := range n {
		ids = append(ids, fmt.Sprintf("C%d", i+1))
	}
	return ids
}

func drawn(t *testing.T, d DrawSample) (*World, *Sample) {
	t.Helper()
	w := NewWorld()
	auditor := Actor{Person: &Person{ID: "S9", Name: "Gil", Roles: []Role{RoleAuditor}}}
	events, p := Decide(w, d, auditor, Now{UTC: 1000}, 12)
	require.Nil(t, p)
	e := &Entry{Seq: 12, At: 1000, Result: ResultDone, By: "S9", Name: "Gil"}
	for _, ev := range events {
		e.Events = append(e.Events, Box{ev})
	}
	Apply(w, e)
	require.NotNil(t, w.Samples["A12"])
	return w, w.Samples["A12"]
}

func draw100() DrawSample {
	return DrawSample{From: "2026-11-01", To: "2026-11-20", Rate: "5%", Confidence: "95%",
		Seed: strings.Repeat("07", 32), Cycles: population(100)}
}

// Source of the size: hypergeometric, 100 records, 5 tolerated, 95 %: 45 (our own arithmetic,
// P at 44 = .0507, at 45 = .0462).
func TestASampleIsDrawnOnceAndForAll(t *testing.T) {
	w, s := drawn(t, draw100())
	require.Len(t, s.Cycles, 45)
	require.Equal(t, 100, s.Population)
	require.Equal(t, Frame(population(100)), s.Frame)
	_, again := drawn(t, draw100())
	require.Equal(t, s, again, "the same seed draws the same")
	other := draw100()
	other.Seed = strings.Repeat("08", 32)
	_, s2 := drawn(t, other)
	require.NotEqual(t, s.Cycles, s2.Cycles)
	seen := map[string]bool{}
	for _, id := range s.Cycles {
		require.False(t, seen[id], id)
		seen[id] = true
	}
	require.NotNil(t, w.Get(Ref{TableSample, "A12"}))
}

func TestDrawingIsRefusedInWords(t *testing.T) {
	auditor := Actor{Person: &Person{ID: "S9", Name: "Gil", Roles: []Role{RoleAuditor}}}
	for want, change := range map[string]func(*DrawSample){
		"percentage above 0":         func(d *DrawSample) { d.Rate = "5" },
		"seed of 64":                 func(d *DrawSample) { d.Seed = "ff" },
		"population must be from 1":  func(d *DrawSample) { d.Cycles = nil },
		"must be from 0 to 100":      func(d *DrawSample) { d.Failures = -1 },
		"2000 is the most":           func(d *DrawSample) { d.Cycles, d.Rate = population(3000), "0.02%" },
		"above 0 and below 100; wri": func(d *DrawSample) { d.Confidence = "100%" },
	} {
		d := draw100()
		change(&d)
		_, p := Decide(NewWorld(), d, auditor, Now{UTC: 1000}, 12)
		require.NotNil(t, p, want)
		require.Contains(t, p.Text, want)
	}
	bench := Actor{Person: &Person{ID: "S2", Name: "Ben", Roles: []Role{RoleReprocessing}}}
	_, p := Decide(NewWorld(), draw100(), bench, Now{UTC: 1000}, 12)
	require.Equal(t, Forbidden, p.Code)
}

func TestReadingARecord(t *testing.T) {
	w, s := drawn(t, draw100())
	one, two := s.Cycles[0], s.Cycles[1]
	for _, id := range population(100) {
		w.Cycles[id] = &Cycle{ID: id, Releaser: "S2", Records: []Record{{By: "S3", Second: "S4"}}}
	}
	left := ""
	for _, id := range population(100) {
		if s.Reading(id) == nil && !contains(s.Cycles, id) {
			left = id
		}
	}
	read := func(by string, r ReadSample) *Problem {
		who := Actor{Person: &Person{ID: by, Name: by, Roles: []Role{RoleSupervisor}}}
		events, p := Decide(w, r, who, Now{UTC: 2000}, 20)
		if p == nil {
			Apply(w, &Entry{Seq: 20, At: 2000, Result: ResultDone, By: by, Events: []Box{{events[0]}}})
		}
		return p
	}
	for rule, r := range map[string]ReadSample{
		"unknown":     {Sample: "A99", Cycle: one, Found: FoundGood},
		"not_sampled": {Sample: "A12", Cycle: left, Found: FoundGood},
		"found":       {Sample: "A12", Cycle: one, Found: "perhaps"},
		"remark":      {Sample: "A12", Cycle: one, Found: FoundBad},
	} {
		require.Equal(t, rule, read("S9", r).Rule)
	}
	good := ReadSample{Sample: "A12", Cycle: one, Found: FoundGood}
	for _, own := range []string{"S2", "S3", "S4"} {
		require.Equal(t, "own_work", read(own, good).Rule)
	}
	require.Nil(t, read("S9", good))
	require.Equal(t, "already_done", read("S9", good).Rule)
	require.Nil(t, read("S9", ReadSample{Sample: "A12", Cycle: two, Found: FoundBad, Remark: "no lot"}))
	require.Nil(t, read("S9", ReadSample{Sample: "A12", Cycle: one, Found: FoundBad, Remark: "after all"}))
	s = w.Samples["A12"]
	require.Len(t, s.Reads, 2)
	require.Equal(t, 2, s.Bad())
	require.Equal(t, "after all", s.Reading(one).Remark)
}

// readAll makes a sample of n out of a population with so many bad ones among the read.
func readAll(n, population, bad, read, failures int, rate, confidence string) *Sample {
	s := &Sample{Population: population, Failures: failures, Rate: rate, Confidence: confidence}
	for i := range n {
		id := fmt.Sprint(i)
		s.Cycles = append(s.Cycles, id)
		if i < read {
			found := FoundGood
			if i < bad {
				found = FoundBad
			}
			s.Reads = append(s.Reads, SampleRead{Cycle: id, Found: found})
		}
	}
	return s
}

// Source of the interval: 4 of 20 at 90 %, Clopper and Pearson, 0.071354 to 0.401029
// (NIST/SEMATECH e-Handbook 7.2.4.1, from memory); 0 of 59 at 95 %, two-sided upper end
// 1 - 0.025^(1/59) = 0.060609. The others: bisection of the binomial sums by another program.
func TestOutcomes(t *testing.T) {
	for name, c := range map[string]struct {
		s           *Sample
		holds, lost bool
		low, high   float64
	}{
		"handbook":            {readAll(20, 1000, 4, 20, 4, "50%", "90%"), true, false, 0.071354, 0.401028},
		"none bad":            {readAll(59, 10000, 0, 59, 0, "5%", "95%"), true, false, 0, 0.060609},
		"one still open":      {readAll(59, 10000, 0, 58, 0, "5%", "95%"), false, false, 0, 0.061621},
		"allowed one":         {readAll(93, 10000, 1, 93, 1, "5%", "95%"), true, false, 0.000272, 0.058458},
		"one too many":        {readAll(59, 10000, 1, 30, 0, "5%", "95%"), false, true, 0.000844, 0.172169},
		"all, below the rate": {readAll(21, 21, 1, 21, 0, "5%", "95%"), true, false, 0.001205, 0.238159},
		"all, at the rate":    {readAll(20, 20, 1, 20, 0, "5%", "95%"), false, true, 0.001265, 0.248733},
	} {
		o, err := c.s.Outcome()
		require.NoError(t, err)
		require.Equal(t, c.holds, o.Holds, name)
		require.Equal(t, c.lost, o.Failed, name)
		require.InDelta(t, c.low, o.Interval.Low, 2e-6, name)
		require.InDelta(t, c.high, o.Interval.High, 2e-6, name)
		require.NotEmpty(t, o.Words)
	}
	o, err := readAll(59, 100, 0, 0, 0, "5%", "95%").Outcome()
	require.NoError(t, err)
	require.False(t, o.Holds || o.Failed)
}
