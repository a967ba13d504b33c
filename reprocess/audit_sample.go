package reprocess

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"

	"handback/reprocess/sampling"
)

// Sample is one drawn sample of released cycles and what its reading found. Whoever holds the
// record draws the same one again: the population is the cycles released in the period, by the
// time and then by their ids, and the seed leads to the positions (sampling.Draw).
type Sample struct {
	ID         string   `json:"id"`
	Seq        int64    `json:"seq"` // entry that drew it
	At         Instant  `json:"at"`
	By         string   `json:"by"`
	Name       string   `json:"name"`
	From       Date     `json:"from"` // days at the clinic, both included
	To         Date     `json:"to"`
	Rate       string   `json:"rate"`       // bad records that would be tolerated, "5%"
	Confidence string   `json:"confidence"` // "95%"
	Failures   int      `json:"failures"`   // bad records allowed in the sample
	Population int      `json:"population"` // cycles
	Frame      string   `json:"frame"`      // SHA-256 of their ids, each followed by a line end
	Seed       string   `json:"seed"`       // 64 hex digits
	ReviewAll  bool     `json:"review_all,omitempty"`
	Cycles     []string `json:"cycles"` // in the order drawn

	Reads []SampleRead `json:"reads,omitempty"` // the newest reading of each, in the order first read
}

// SampleRead is what the reading of one record found.
type SampleRead struct {
	Cycle  string  `json:"cycle"`
	Found  Found   `json:"found"`
	Remark string  `json:"remark,omitempty"`
	Seq    int64   `json:"seq"`
	At     Instant `json:"at"`
	By     string  `json:"by"`
	Name   string  `json:"name"`
}

// Found is what the reading of a record says.
type Found string

// The findings: everything that has to be there is there and agrees, or something does not.
const (
	FoundGood Found = "found"
	FoundBad  Found = "not_found"
)

// SampleDrawn is a sample as it was drawn, before anything is read. Reading it is entry by
// entry: SampleRecordRead. A later reading of the same record takes the place of an earlier
// one, which stays in the trail.
type (
	SampleDrawn struct {
		ID         string   `json:"id"`
		From       Date     `json:"from"`
		To         Date     `json:"to"`
		Rate       string   `json:"rate"`
		Confidence string   `json:"confidence"`
		Failures   int      `json:"failures,omitempty"`
		Population int      `json:"population"`
		Frame      string   `json:"frame"`
		Seed       string   `json:"seed"`
		ReviewAll  bool     `json:"review_all,omitempty"`
		Cycles     []string `json:"cycles"`
	}
	// SampleRecordRead is what one reading found.
	SampleRecordRead struct {
		Sample string `json:"sample"`
		Cycle  string `json:"cycle"`
		Found  Found  `json:"found"`
		Remark string `json:"remark,omitempty"`
	}
)

// EventName is "sample_drawn".
func (SampleDrawn) EventName() string { return "sample_drawn" }

// EventName is "sample_read".
func (SampleRecordRead) EventName() string { return "sample_read" }

// The acts of samples.
const (
	ActSample     Act = "sample"
	ActSampleRead Act = "sample_read"
)

// MostSampled is how many records one sample holds: an entry has room for no more.
const MostSampled = 2000

// DrawSample wants a sample drawn. Cycles is the population, in its order.
type DrawSample struct {
	From       Date     `json:"from"`
	To         Date     `json:"to"`
	Rate       string   `json:"rate"`
	Confidence string   `json:"confidence"`
	Failures   int      `json:"failures"`
	Seed       string   `json:"seed"`
	Cycles     []string `json:"-"` // too many for an entry about a refusal
}

// Act is "sample".
func (DrawSample) Act() Act { return ActSample }

// Needs nothing: what is drawn from comes along.
func (DrawSample) Needs() Needs { return Needs{} }

// Frame is the hash of a population, so that another one is told from it.
func Frame(cycles []string) string {
	h := sha256.New()
	for _, id := range cycles {
		h.Write([]byte(id + "\n")) // never fails
	}
	return hex.EncodeToString(h.Sum(nil))
}

func (d DrawSample) decide(c *Case) *Problem {
	bad := func(err error) *Problem {
		p := invalid("sample", "Change it and ask again.", "%s.", title(err.Error()))
		p.Err = err
		return p
	}
	plan, err := d.plan()
	if err != nil {
		return bad(err)
	}
	seed, err := sampling.ParseSeed(d.Seed)
	if err != nil {
		return bad(err)
	}
	if plan.N > MostSampled {
		return refuse("too_many", "Choose a shorter period, or tolerate more.",
			"The sample would hold %d records; %d is the most.", plan.N, MostSampled)
	}
	places, err := sampling.Draw(seed, int64(len(d.Cycles)), plan.N)
	if err != nil {
		return bad(err)
	}
	e := SampleDrawn{ID: c.id("A", 0), From: d.From, To: d.To, Rate: d.Rate,
		Confidence: d.Confidence, Failures: d.Failures, Population: len(d.Cycles),
		Frame: Frame(d.Cycles), Seed: d.Seed, ReviewAll: plan.ReviewAll}
	for _, i := range places {
		e.Cycles = append(e.Cycles, d.Cycles[i])
	}
	c.emit(e)
	return nil
}

func (d DrawSample) plan() (sampling.Plan, error) {
	rate, err := sampling.ParseShare(d.Rate)
	if err != nil {
		return sampling.Plan{}, err
	}
	confidence, err := sampling.ParseShare(d.Confidence)
	if err != nil {
		return sampling.Plan{}, err
	}
	return sampling.Pool(int64(len(d.Cycles)), rate, confidence, d.Failures)
}

// ReadSample wants to say what the reading of one record of a sample found.
type ReadSample struct {
	Sample string `json:"sample"`
	Cycle  string `json:"cycle"`
	Found  Found  `json:"found"`
	Remark string `json:"remark,omitempty"`
}

// Act is "sample_read".
func (ReadSample) Act() Act { return ActSampleRead }

// Needs the sample, and the cycle, for nobody audits their own work.
func (r ReadSample) Needs() Needs {
	return Needs{Cycles: []string{r.Cycle}, Rows: []Ref{{TableSample, r.Sample}}}
}

func (r ReadSample) decide(c *Case) *Problem {
	s := c.W.Samples[r.Sample]
	if s == nil {
		return missing("sample")
	}
	remark, p := clean("The remark", r.Remark, 300)
	switch {
	case p != nil:
		return p
	case !slices.Contains(s.Cycles, r.Cycle):
		return refuse("not_sampled", "Choose one of the lines of the sample.",
			"This record is not among those that were drawn.")
	case r.Found != FoundGood && r.Found != FoundBad:
		return invalid("found", "Choose one of the two.", "What was found was not chosen.")
	case r.Found == FoundBad && remark == "":
		return invalid("remark", "Say in the remark what is missing or does not agree.",
			"A record that does not hold needs a remark.")
	}
	if p := c.ownWork(r.Cycle); p != nil {
		return p
	}
	if was := s.Reading(r.Cycle); was != nil && was.Found == r.Found && was.Remark == remark {
		return conflict("already_done", "Nothing to do.", "This is what stands there already.")
	}
	c.emit(SampleRecordRead{Sample: s.ID, Cycle: r.Cycle, Found: r.Found, Remark: remark})
	return nil
}

// ownWork refuses a reader who recorded or released anything of the cycle.
func (c *Case) ownWork(cycle string) *Problem {
	x := c.W.Cycles[cycle]
	if x == nil {
		return missing("cycle")
	}
	me := c.Actor.Person.ID
	own := x.Releaser == me || slices.ContainsFunc(x.Records, func(r Record) bool {
		return r.By == me || r.Second == me
	})
	if own {
		return refuse("own_work", "Let somebody else read it.",
			"%s worked on this cycle; nobody audits their own work.", c.Actor.Person.Name)
	}
	return nil
}

// Reading finds what was found of a record last, nil when nobody read it.
func (s *Sample) Reading(cycle string) *SampleRead {
	for i := range s.Reads {
		if s.Reads[i].Cycle == cycle {
			return &s.Reads[i]
		}
	}
	return nil
}

// Bad counts the records that did not hold.
func (s *Sample) Bad() int {
	n := 0
	for _, r := range s.Reads {
		if r.Found == FoundBad {
			n++
		}
	}
	return n
}

// Outcome is what a sample shows.
type Outcome struct {
	Open     int // records not read yet
	Bad      int
	Interval sampling.Interval // of the share of bad ones; exact, two-sided
	Whole    bool              // everything was read: the share is known, there is no interval
	Holds    bool              // the tolerable rate holds; only when nothing is open
	Failed   bool              // it does not hold, whatever the rest says
	Words    string
}

// Outcome judges a sample by its plan: at most the allowed bad records in the sample, or, when
// the whole population is read, a share of bad ones below the rate.
func (s *Sample) Outcome() (Outcome, error) {
	rate, err := sampling.ParseShare(s.Rate)
	if err != nil {
		return Outcome{}, err
	}
	confidence, err := sampling.ParseShare(s.Confidence)
	if err != nil {
		return Outcome{}, err
	}
	o := Outcome{Open: len(s.Cycles) - len(s.Reads), Bad: s.Bad(), Whole: len(s.Cycles) == s.Population}
	within := o.Bad <= s.Failures
	if o.Whole { // bad / population < rate, in whole numbers
		within = int64(o.Bad)*int64(sampling.Whole) < int64(rate)*int64(s.Population)
	}
	o.Failed, o.Holds = !within, within && o.Open == 0
	if len(s.Reads) > 0 {
		o.Interval, err = sampling.Exact(int64(o.Bad), int64(len(s.Reads)), confidence)
	}
	o.Words = s.outcomeWords(o)
	return o, err
}

func (s *Sample) outcomeWords(o Outcome) string {
	below := " bad records below " + s.Rate
	switch {
	case o.Failed:
		return "It does not hold: this does not show" + below + "."
	case o.Open > 0:
		return "Not decided yet."
	case o.Whole:
		return "It holds: all were read, with" + below + "."
	}
	return "It holds: with " + s.Confidence + " confidence" + below + "."
}

func (w *World) applySample(e *Entry, event Event) bool {
	switch v := event.(type) {
	case SampleDrawn:
		put(w, w.Samples, TableSample, v.ID, Sample{ID: v.ID, Seq: e.Seq, At: e.At, By: e.By,
			Name: e.Name, From: v.From, To: v.To, Rate: v.Rate, Confidence: v.Confidence,
			Failures: v.Failures, Population: v.Population, Frame: v.Frame, Seed: v.Seed,
			ReviewAll: v.ReviewAll, Cycles: v.Cycles})
	case SampleRecordRead:
		change(w, w.Samples, TableSample, v.Sample, func(s *Sample) { s.read(e, v) })
	default:
		return w.applyLookBack(e, event)
	}
	return true
}

// read puts a reading in its place; a fresh slice, since an older copy may still be read.
func (s *Sample) read(e *Entry, v SampleRecordRead) {
	r := SampleRead{v.Cycle, v.Found, strings.TrimSpace(v.Remark), e.Seq, e.At, e.By, e.Name}
	s.Reads = slices.Clone(s.Reads)
	for i := range s.Reads {
		if s.Reads[i].Cycle == v.Cycle {
			s.Reads[i] = r
			return
		}
	}
	s.Reads = append(s.Reads, r)
}
