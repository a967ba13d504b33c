package reprocess

import (
	"strings"

	"handback/reprocess/recording"
)

// TestKind says which kind of evidence a function test has. None of them is wrong: many
// recorders cannot export a file.
type TestKind string

// The kinds of evidence.
const (
	TestFile      TestKind = "file"      // a test recording, judged here
	TestTyped     TestKind = "typed"     // seen by a person, answered by hand
	TestReference TestKind = "reference" // seen in the reading place's own system
	TestPhoto     TestKind = "photo"     // a picture of the trace
)

// Test is the evidence of one function test. The server computes it from the file it holds;
// nothing of it is ever taken from a form. It holds no name of a file and of no person.
type Test struct {
	Kind     TestKind   `json:"kind"`
	SHA256   string     `json:"sha256,omitempty"` // of the file or photo, lower-case hex
	Bytes    int64      `json:"bytes,omitempty"`
	Signal   *TestPart  `json:"signal,omitempty"` // second file of a recording in two
	Format   string     `json:"format,omitempty"` // as recording.Format
	Lead     string     `json:"lead,omitempty"`
	Profile  string     `json:"profile,omitempty"`
	Version  string     `json:"version,omitempty"` // of the profile
	Verdict  string     `json:"verdict,omitempty"` // as recording.Verdict
	Codes    []string   `json:"codes,omitempty"`   // failing, in the fixed order
	AlsoSeen []string   `json:"also_seen,omitempty"`
	Remarks  []string   `json:"remarks,omitempty"`  // sentences
	Measures []Measured `json:"measures,omitempty"` // in the order they are shown
	Source   string     `json:"source,omitempty"`   // "bench" or "person"
	Strip    string     `json:"strip,omitempty"`    // SHA-256 of the kept picture, hex
}

// TestPart is the signal file of a recording in two files; Test.SHA256 is then its header's.
type TestPart struct {
	SHA256 string `json:"sha256"` // lower-case hex
	Bytes  int64  `json:"bytes"`
}

// Hashes are the files that the evidence consists of, the picture of it left out.
func (t *Test) Hashes() []string {
	if t == nil || t.SHA256 == "" {
		return nil
	}
	if t.Signal != nil {
		return []string{t.SHA256, t.Signal.SHA256}
	}
	return []string{t.SHA256}
}

// Measured is one figure against its limit. Figures are texts in one spelling: an entry holds
// whole numbers only, and a rounded one would not be what was judged.
type Measured struct {
	ID    string `json:"id"` // as the command line names it, such as "noise_residual_uv"
	Words string `json:"words"`
	Value string `json:"value"` // "" = not judged
	Unit  string `json:"unit,omitempty"`
	Limit string `json:"limit,omitempty"` // such as "at most 30 µV"
	Code  string `json:"code,omitempty"`  // the failure or remark it led to
}

// Failed tells whether the evidence says that there is no usable signal. A file that could
// not be judged proves nothing and counts as failed.
func (t *Test) Failed() bool {
	return t != nil && t.Kind == TestFile &&
		(t.Verdict == string(recording.Fail) || t.Verdict == string(recording.NotJudged))
}

// Why is the first failing code with its two figures, as a sentence.
func (t *Test) Why() string {
	if len(t.Codes) == 0 {
		return "The test recording could not be judged in full."
	}
	for _, m := range t.Measures {
		if m.Code == t.Codes[0] {
			return "The test recording failed: " + m.Words + " " +
				strings.TrimSpace(m.Value+" "+m.Unit) + ", " + m.Limit + " (" + m.Code + ")."
		}
	}
	return "The test recording failed (" + t.Codes[0] + ")."
}

// codesWords are the failing codes, each after what it stands for: "mains hum, 50 Hz 158 µV, at
// most 100 µV (MAINS)"; "" when none failed.
func (t *Test) codesWords() string {
	var all []string
	for _, code := range t.Codes {
		words := code
		for _, m := range t.Measures {
			if m.Code == code {
				limit, _, _ := strings.Cut(m.Limit, ", remarked")
				words = m.Words + " " + strings.TrimSpace(m.Value+" "+m.Unit) + ", " + limit + " (" + code + ")"
				break
			}
		}
		all = append(all, words)
	}
	return strings.Join(all, "; ")
}

// HasTest tells whether a record of the cycle that counts has a file or photo as evidence.
func (c *Cycle) HasTest(sha256 string) bool {
	for _, r := range c.Records {
		if !r.Undone && contains(r.Test.Hashes(), sha256) {
			return true
		}
	}
	return false
}

// hasAny is HasTest for any of several files.
func (c *Cycle) hasAny(hashes []string) bool {
	for _, h := range hashes {
		if c.HasTest(h) {
			return true
		}
	}
	return false
}

// Find gives a measure by its id, or nil.
func (t *Test) Find(id string) *Measured {
	for i := range t.Measures {
		if t.Measures[i].ID == id {
			return &t.Measures[i]
		}
	}
	return nil
}

// check refuses evidence that does not hold together: only a fault of the program makes it.
func (t *Test) check() *Problem {
	bad := invalid("test", "Upload the test recording again.",
		"What was measured does not hold together.")
	switch t.Kind {
	case TestTyped, TestReference:
		if t.SHA256 != "" || t.Verdict != "" || t.Signal != nil {
			return bad
		}
		return nil
	case TestPhoto:
		if !isHash(t.SHA256) || t.Bytes < 1 || t.Verdict != "" || t.Signal != nil {
			return bad
		}
		return nil
	case TestFile:
		return t.checkFile(bad)
	}
	return bad
}

func (t *Test) checkFile(bad *Problem) *Problem {
	verdicts := []string{string(recording.Pass), string(recording.Remark),
		string(recording.Fail), string(recording.NotJudged)}
	if t.Signal != nil && (!isHash(t.Signal.SHA256) || t.Signal.Bytes < 1 ||
		t.Signal.SHA256 == t.SHA256) {
		return bad
	}
	if !isHash(t.SHA256) || t.Bytes < 1 || !contains(verdicts, t.Verdict) ||
		t.Profile == "" || t.Version == "" || !contains([]string{"bench", "person"}, t.Source) ||
		(len(t.Codes) > 0) != (t.Verdict == string(recording.Fail)) {
		return bad
	}
	for _, c := range append(append([]string(nil), t.Codes...), t.AlsoSeen...) {
		if !contains(recording.Codes(), recording.Code(c)) {
			return bad
		}
		if c == string(recording.NameInside) {
			return refuse("name_inside", "Repeat the test with a recording that has no name.",
				"The file carries a person's name and is not kept.")
		}
	}
	return nil
}

// isHash tells whether a text is a SHA-256 in lower-case hex.
func isHash(s string) bool {
	return len(s) == 64 && strings.Trim(s, "0123456789abcdef") == ""
}

// withEvidence joins the answers of a function test with its evidence: a file answers for the
// signal by its verdict, and where a model can export one, "usable" needs it.
func (r RecordStep) withEvidence(c *Case, piece *Piece) (RecordStep, *Problem) {
	if r.Step != StepFunction {
		if r.Test != nil {
			return r, invalid("test", "Open the kit again.",
				"A test recording does not belong to this step.")
		}
		return r, nil
	}
	r.Answers = append([]Answer(nil), r.Answers...)
	if r.Test == nil {
		r.Test = r.typedTest()
	}
	if p := r.Test.check(); p != nil {
		return r, p
	}
	if r.Test.Kind != TestFile {
		return r, r.withoutFile(c, piece)
	}
	if cy := c.openCycle(piece); cy != nil && cy.hasAny(r.Test.Hashes()) {
		return r, conflict("test_used", "Make a new test recording and upload that.",
			"This very file is recorded already.")
	}
	if p := r.sameSource(); p != nil {
		return r, p
	}
	return r, r.byVerdict()
}

// typedTest is the evidence of a test that somebody saw and answered by hand.
func (r RecordStep) typedTest() *Test {
	if (Record{Answers: r.Answers}).Answered("reference") != "" {
		return &Test{Kind: TestReference}
	}
	return &Test{Kind: TestTyped}
}

func (r RecordStep) withoutFile(c *Case, piece *Piece) *Problem {
	m := c.W.Models[piece.Model]
	usable := (Record{Answers: r.Answers}).Answered("signal") == "usable"
	if m == nil || !m.Export || !usable {
		return nil
	}
	return refuse("test_file", "Upload the test recording; it is judged here.",
		"This model can export its test recording, and none was uploaded.")
}

// sameSource holds the source the file was judged by against the answer: the limits differ,
// and a test on a person calls for a disinfection after it.
func (r *RecordStep) sameSource() *Problem {
	told := (Record{Answers: r.Answers}).Answered("worn_by")
	if told == "" {
		r.Answers = append(r.Answers, Answer{Ask: "worn_by", Value: r.Test.Source})
		return nil
	}
	if told != r.Test.Source {
		return refuse("test_source", "Judge the file again with the right source.",
			"The file was judged as a test on the %s, the answer says %s.", r.Test.Source, told)
	}
	return nil
}

// byVerdict lets the verdict answer for the signal. A failed file cannot be called usable.
func (r *RecordStep) byVerdict() *Problem {
	told := (Record{Answers: r.Answers}).Answered("signal")
	failed := r.Test.Failed()
	switch {
	case told == "" && failed:
		r.Answers = append(r.Answers, Answer{Ask: "signal", Value: "no_signal"})
	case told == "":
		r.Answers = append(r.Answers, Answer{Ask: "signal", Value: "usable"})
	case told == "not_arrived":
		return invalid("test", "Choose usable or no usable signal.",
			"The test recording is here, so it did arrive.")
	case failed && told == "usable":
		return refuse("test_failed",
			"Record it as not usable and test again, or have it accepted not as written.",
			"%s", r.Test.Why())
	}
	return nil
}

// remarked turns a usable signal with remarks into an answer with a note.
func (t *Test) remarked(answers []Answer) {
	for i := range answers {
		if t != nil && t.Verdict == string(recording.Remark) && answers[i].Ask == "signal" &&
			answers[i].Effect == EffectOK {
			answers[i].Effect = EffectNote
		}
	}
}

// reasons are what a failed record failed by: each code of its test, else its failing
// answers together.
func (r Record) reasons() []string {
	if r.Test.Failed() && len(r.Test.Codes) > 0 {
		return r.Test.Codes
	}
	why := ""
	for _, a := range r.Answers {
		if a.Effect == EffectAgain || a.Effect == EffectHold {
			why += a.Ask + "=" + a.Value + " "
		}
	}
	return []string{why}
}
