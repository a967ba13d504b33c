package web

import (
	"fmt"
	"net/url"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/recording"
	"handback/reprocess/sqlite"
)

// testPage is where a test recording is uploaded, judged and used. It stands open on a phone
// and on a PC at once: what one uploads the other finds under Waiting.
type testPage struct {
	Base
	ID, Number string
	Upload     *uploadForm
	Result     *testResult
	Waiting    []link // uploads of the last day that no test used yet
	Photo      *photoForm
	Typed      string // address of the form that is answered by hand
	Not        string // why no test is recorded now; empty while it is the next step
}

// uploadForm takes a file and what it cannot say itself.
type uploadForm struct {
	File   Field
	Source Choices
	More   []Field
	Unit   Choices
}

// photoForm takes a photo of the trace where the model cannot export a file.
type photoForm struct {
	File                   Field
	Source, Signal, Memory Choices
}

// testResult is what a file says, before anybody uses it.
type testResult struct {
	Words   string // the verdict
	Usable  bool
	Lead    string // format, lead, length, profile
	Strip   string // address of the picture, empty without one
	StripIn string // what the picture shows, for those who cannot see it
	Failing []reprocess.Advised
	Noted   []reprocess.Advised
	Remarks []string
	Figures []limitRow
	Kept    []Kept // the draft and the options, for the next form
	Memory  Choices
	Act     string
	Learn   *learnForm
}

// learnForm sets the expected height from this file, signed.
type learnForm struct {
	Words          string
	Reason, Secret Field
}

// verdictWords are the verdicts as they are shown.
var verdictWords = map[string]string{
	string(recording.Pass):      "Usable signal",
	string(recording.Remark):    "Usable signal, with remarks",
	string(recording.Fail):      "No usable signal",
	string(recording.NotJudged): "Could not be judged in full",
}

// recorderOf is the kit's recorder with its track.
func (x *view) recorderOf() (reprocess.Track, error) {
	for _, t := range x.tracks {
		if t.Piece.Kind == reprocess.Recorder {
			return t, nil
		}
	}
	return reprocess.Track{}, notFound("recorder")
}

// testOptions reads what was said of the file; the address and the forms use the same names.
func (x *view) testOptions(read func(string) string) (reprocess.TestOptions, error) {
	o := reprocess.TestOptions{Source: read("source"), CSVUnit: read("unit")}
	if o.Source == "" {
		o.Source = "bench"
	}
	o.Clock = reprocess.ClockCheck{Zone: x.v.Now.Zone, Tolerance: x.w.Settings.Rules().ClockMin}
	for name, into := range map[string]*int{"rate": &o.Rate, "lead": &o.Lead, "csv_rate": &o.CSVRate} {
		text := read(name)
		if text == "" {
			continue
		}
		n := number(text)
		if n == 0 || n > 100_000 {
			return o, &reprocess.Problem{Code: reprocess.Invalid, Rule: "number",
				Text: "One of the numbers cannot be read.", Fix: "Type whole numbers only, or leave it empty."}
		}
		*into = int(n)
	}
	if t, err := x.recorderOf(); err == nil {
		if m := x.w.Models[t.Piece.Model]; m != nil {
			o.Event, o.HeightUV = m.NeedEvent, m.ExpectedHeightUV
		}
	}
	return o, nil
}

// optionNames are the options as forms and addresses name them.
var optionNames = []string{"source", "rate", "lead", "unit", "csv_rate"}

func (x *view) testURL(draft string, read func(string) string) string {
	q := url.Values{"draft": {draft}}
	if pair := read("pair"); pair != "" {
		q.Set("pair", pair)
	}
	for _, name := range optionNames {
		if value := read(name); value != "" {
			q.Set(name, value)
		}
	}
	return "/kit/" + x.k.ID + "/test?" + q.Encode()
}

// judged is an upload that was read, measured and judged.
type judgedDraft struct {
	reprocess.JudgedTest
	draft   sqlite.Draft
	content []byte
	pair    *sqlite.Draft // of the signal file of a recording in two
	signal  []byte
}

// hashes are the files behind it.
func (j *judgedDraft) hashes() []string { return j.Test.Hashes() }

// judgeDraft judges a whole upload, or the two of a recording in two files. A file that
// carries a name is dropped at once.
func (x *view) judgeDraft(id, pair string, o reprocess.TestOptions) (judgedDraft, error) {
	d, content, err := x.v.Store().ReadDraft(x.v.Context(), x.k.ID, id)
	if err != nil {
		return judgedDraft{}, err
	}
	got := judgedDraft{draft: d, content: content}
	if recording.HalfOf(content) != recording.Whole {
		if err := x.joinHalves(&got, pair); err != nil {
			return judgedDraft{}, err
		}
	}
	if o.Clock.Uploaded = got.draft.At; got.pair != nil {
		o.Signal, o.SignalSHA = got.signal, got.pair.SHA256
		o.Clock.Uploaded = max(got.draft.At, got.pair.At)
	}
	j, p := reprocess.JudgeTest(got.content, got.draft.SHA256, o)
	if p != nil {
		return judgedDraft{}, p
	}
	if j.NameIn {
		if err := x.dropDrafts(got); err != nil {
			return judgedDraft{}, err
		}
		return judgedDraft{}, &reprocess.Problem{Code: reprocess.Refused, Rule: "name_inside",
			Text: "The file carries a person’s name. It was not kept.",
			Fix:  "Repeat the test with a recording that has no name."}
	}
	got.JudgedTest = j
	return got, nil
}

// showTest shows the upload, or what an uploaded file says.
func showTest(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	page, err := x.testPage(v.Query)
	if err != nil {
		return v.Refuse(err, page)
	}
	return v.Show(page)
}

// testPage draws the page; with an error it is still the page to upload again.
func (x *view) testPage(read func(string) string) (*testPage, error) {
	p := &testPage{Base: Titled("Which test recording? Kit " + x.k.Number), ID: x.k.ID,
		Number: x.k.Number, Typed: kitURL(x.k.ID, "full", "1"), Upload: x.uploadForm(read)}
	track, err := x.recorderOf()
	if err != nil {
		return p, err
	}
	if p.Not = x.notTested(track); p.Not != "" {
		p.Typed = ""
		if !x.v.may(reprocess.ActLearnHeight) {
			p.Title, p.Upload = "Not now: the function test of kit "+x.k.Number, nil
			return p, nil
		}
	} else if m := x.w.Models[track.Piece.Model]; m == nil || !m.Export {
		p.Photo = x.photoForm()
	}
	id := read("draft")
	if p.Waiting, err = x.waitingDrafts(id, read("pair")); err != nil || id == "" {
		return p, err
	}
	o, err := x.testOptions(read)
	if err != nil {
		return p, err
	}
	j, err := x.judgeDraft(id, read("pair"), o)
	if err != nil {
		return p, err
	}
	p.Result = x.result(j, read)
	p.Title = p.Result.Words + ": kit " + x.k.Number
	return p, nil
}

// waitingDrafts lists whole uploads that no record of the open cycle used.
func (x *view) waitingDrafts(shown ...string) ([]link, error) {
	list, err := x.v.Store().Drafts(x.v.Context(), x.k.ID)
	if err != nil {
		return nil, err
	}
	var all []link
	for _, d := range list {
		if slices.Contains(shown, d.ID) || !d.Whole() || x.usedInCycle(d.SHA256) {
			continue
		}
		all = append(all, link{To: "/kit/" + x.k.ID + "/test?draft=" + d.ID,
			Words: "Look at the recording uploaded at " + x.clock(d.At),
			Note:  nameIn(x.w, d.Person) + ", " + sizeWords(d.Size)})
	}
	return all, nil
}

// usedInCycle tells whether the open cycle already has a file as evidence.
func (x *view) usedInCycle(sha string) bool {
	return slices.ContainsFunc(x.tracks, func(t reprocess.Track) bool {
		return t.Cycle != nil && t.Cycle.HasTest(sha)
	})
}

func sizeWords(n int64) string {
	if n < 10_000 {
		return fmt.Sprintf("%d bytes", n)
	}
	return fmt.Sprintf("%d kB", n/1000)
}

func sourceChoices(pick string) Choices {
	return Choices{Name: "source", Legend: "What is the test signal from?", Required: true,
		Options: []Choice{{Value: "bench", Words: "Bench source"},
			{Value: "person", Words: "A person wore it", Note: "it is disinfected again after this"}}}.
		Pick(pick)
}

func (x *view) uploadForm(read func(string) string) *uploadForm {
	file := TextField("file", "Test recording", "")
	file.Kind, file.Required = "file", true
	file.Hint = "EDF, BDF, CSV, or the two files of a WFDB record (.hea and .dat) together. Up to " +
		"64 MB; about a minute is enough. No file with a name in it."
	file.Many = true
	number := func(name, label, hint string) Field {
		f := TextField(name, label, read(name))
		f.Keys, f.Hint = "numeric", hint
		return f
	}
	source := read("source")
	if source == "" {
		source = "bench"
	}
	return &uploadForm{File: file, Source: sourceChoices(source), More: []Field{
		number("rate", "Rate the bench source is set to, a minute", "Empty: 60"),
		number("lead", "Which lead, counted from 1", "Empty: the first that is an ECG"),
		number("csv_rate", "Samples a second of a CSV without times", "Such as 250")},
		Unit: Choices{Name: "unit", Legend: "Unit of a CSV that does not say it", Options: []Choice{
			{Value: "", Words: "The file says it"}, {Value: "mV", Words: "mV"},
			{Value: "uV", Words: "µV"}, {Value: "V", Words: "V"},
			{Value: "counts", Words: "Counts, no unit"}}}.Pick(read("unit"))}
}

func memoryChoices() Choices {
	return Choices{Name: "memory", Legend: "Test record removed, memory seen empty?", Required: true,
		Options: []Choice{{Value: "yes", Words: "Removed, empty"},
			{Value: "again", Words: "Not empty", Note: "to be done again"}}}
}

// result puts what a file says on the page.
func (x *view) result(j judgedDraft, read func(string) string) *testResult {
	t := &j.Test
	r := &testResult{Words: verdictWords[t.Verdict], Usable: !t.Failed(), Failing: j.Failing,
		Noted: j.Noted, Remarks: plainRemarks(t.Remarks), Figures: limitRows(t.Measures),
		Kept: []Kept{{"draft", j.draft.ID}}, Memory: memoryChoices(), Act: "Use this test"}
	if j.pair != nil {
		r.Kept = append(r.Kept, Kept{"pair", j.pair.ID})
	}
	for _, name := range optionNames {
		if value := read(name); value != "" {
			r.Kept = append(r.Kept, Kept{name, value})
		}
	}
	if t.Failed() {
		r.Act = "Record it: no usable signal"
		r.Memory.Required = true
	}
	if j.Recording != nil {
		r.Lead = fmt.Sprintf("%s, lead %s, judged as %s, limits %s.", t.Format, t.Lead,
			map[string]string{"bench": "bench source", "person": "worn by a person"}[t.Source], t.Version)
		q := strings.TrimPrefix(x.testURL(j.draft.ID, read), "/kit/"+x.k.ID+"/test")
		r.Strip = "/kit/" + x.k.ID + "/test/strip" + q
		r.StripIn = "The first 20 s of the recording as a strip. The table has its figures."
	} else {
		r.Remarks = nil // its one sentence stands above
	}
	r.Learn = x.learnForm(j)
	return r
}

// plainRemarks leaves out those that are told as a code already.
func plainRemarks(all []string) []string {
	var out []string
	for _, r := range all {
		code, _, ok := strings.Cut(r, ":")
		if !ok || !slices.Contains(recording.Codes(), recording.Code(code)) {
			out = append(out, sentence(r))
		}
	}
	return out
}

// learnForm offers to take the height of a known good device as the model's.
func (x *view) learnForm(j judgedDraft) *learnForm {
	m := j.Test.Find("height_mv")
	if !x.v.may(reprocess.ActLearnHeight) || m == nil || m.Value == "" || j.Test.Source != "bench" {
		return nil
	}
	f := &learnForm{Words: "Take " + m.Value + " mV as the beat height of this model",
		Reason: TextField("reason", "Why this device is known to be good", ""), Secret: SignField()}
	f.Reason.Required = true
	return f
}
