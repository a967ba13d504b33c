package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sampling"
	"handback/reprocess/sqlite"
)

// sampleRunPage is a drawn sample with what its reading found so far.
type sampleRunPage struct {
	Base
	Result string // first, in words
	Share  string
	Again  string // whether the record still draws the same
	Facts  []entryFact
	Rows   []link
	Next   string // address of the next record to read; empty: none, or not for this visitor
	How    string
}

// sampleRuns lists the newest samples.
func (v *Visit) sampleRuns() ([]link, error) {
	list, err := v.Store().Samples(v.Context(), 20)
	if err != nil {
		return nil, err
	}
	var rows []link
	for _, s := range list {
		o, err := s.Outcome()
		if err != nil {
			return nil, err
		}
		rows = append(rows, link{To: "/sample/" + s.ID, Words: samplePeriod(s), Note: fmt.Sprintf(
			"%d of %d read. %s", len(s.Reads), len(s.Cycles), o.Words)})
	}
	return rows, nil
}

func samplePeriod(s *reprocess.Sample) string {
	return reprocess.Day(s.From) + " to " + reprocess.Day(s.To)
}

func (v *Visit) sampleRun() (*reprocess.Sample, error) {
	return sqlite.Get[reprocess.Sample](v.Context(), v.Store(), reprocess.TableSample, v.Param("id"))
}

func showSampleRun(v *Visit) error {
	s, err := v.sampleRun()
	if err != nil {
		return err
	}
	o, err := s.Outcome()
	if err != nil {
		return err
	}
	p := &sampleRunPage{Base: Titled("Do the records hold?"), Result: o.Words,
		Share: shareWords(s, o)}
	if p.Again, err = v.drawnAgain(s); err != nil {
		return err
	}
	p.Facts = v.sampleFacts(s, o)
	if p.Rows, err = v.sampleRows(s); err != nil {
		return err
	}
	if n := nextUnread(s); n > 0 && v.may(reprocess.ActSampleRead) {
		p.Next = fmt.Sprintf("/sample/%s/%d", s.ID, n)
	}
	if p.How, err = v.howChecked(); err != nil {
		return err
	}
	return v.Show(p)
}

// shareWords is the share of bad ones with its interval.
func shareWords(s *reprocess.Sample, o reprocess.Outcome) string {
	read := len(s.Reads)
	if read == 0 {
		return fmt.Sprintf("None of %s is read yet.", many(len(s.Cycles), "record"))
	}
	words := fmt.Sprintf("%d of %s read: %d did not hold, %.2f %%.", read,
		many(len(s.Cycles), "record"), o.Bad, 100*float64(o.Bad)/float64(read))
	if o.Whole && o.Open == 0 {
		return words + " The whole population was read, so this is the share itself."
	}
	return words + fmt.Sprintf(" Between %.2f %% and %.2f %% of all, with %s confidence (exact, "+
		"Clopper and Pearson).", 100*o.Interval.Low, 100*o.Interval.High, s.Confidence)
}

// drawnAgain draws the sample once more from the record and says whether it is the same.
func (v *Visit) drawnAgain(s *reprocess.Sample) (string, error) {
	from, to, err := v.window(string(s.From), string(s.To))
	if err != nil {
		return "", err
	}
	cycles, err := v.Store().ReleasedCycles(v.Context(), from, to)
	if err != nil {
		return "", err
	}
	ids := (&sample{cycles: cycles}).ids()
	if reprocess.Frame(ids) != s.Frame {
		return "The record now holds other cycles of this period than when it was drawn: ask why, " +
			"and keep this page.", nil
	}
	seed, err := sampling.ParseSeed(s.Seed)
	if err != nil {
		return "", err
	}
	places, err := sampling.Draw(seed, int64(len(ids)), int64(len(s.Cycles)))
	if err != nil {
		return "", err
	}
	for i, at := range places {
		if ids[at] != s.Cycles[i] {
			return "The seed draws other records than these: this sample was not drawn by it.", nil
		}
	}
	return "Drawn again just now from the record and the seed: the same records in the same order.", nil
}

func (v *Visit) sampleFacts(s *reprocess.Sample, o reprocess.Outcome) []entryFact {
	how := fmt.Sprintf("%d of %d", len(s.Cycles), s.Population)
	if s.ReviewAll {
		how = fmt.Sprintf("all %d", s.Population)
	}
	return []entryFact{{"Released", samplePeriod(s)}, {"Drawn", how},
		{"Tolerated", "below " + s.Rate + " bad"}, {"Confidence", s.Confidence},
		{"Allowed", strconv.Itoa(s.Failures) + " bad in the sample"}, {"Seed", s.Seed},
		{"Population", "SHA-256 " + s.Frame},
		{"Drawn by", s.Name + ", " + v.zoned(s.At) + ", entry " + strconv.FormatInt(s.Seq, 10)},
		{"Shown", v.zoned(v.Now.UTC) + " to " + v.Person.Name}}
}

// sampleRows are the records in the order drawn.
func (v *Visit) sampleRows(s *reprocess.Sample) ([]link, error) {
	var refs []reprocess.Ref
	for _, id := range s.Cycles {
		refs = append(refs, reprocess.Ref{Table: reprocess.TableCycle, ID: id})
	}
	w, err := v.Store().Named(v.Context(), refs...)
	if err != nil {
		return nil, err
	}
	var rows []link
	for i, id := range s.Cycles {
		row := v.cycleRow(w, id)
		row.Words = fmt.Sprintf("%d. %s", i+1, row.Words)
		row.To = ""
		if v.may(reprocess.ActSampleRead) {
			row.To = fmt.Sprintf("/sample/%s/%d", s.ID, i+1)
		}
		row.Note = readingWords(s.Reading(id))
		rows = append(rows, row)
	}
	return rows, nil
}

func readingWords(r *reprocess.SampleRead) string {
	if r == nil {
		return "not read yet"
	}
	words := map[reprocess.Found]string{reprocess.FoundGood: "holds",
		reprocess.FoundBad: "does not hold"}[r.Found]
	if r.Remark != "" {
		words += ": " + r.Remark
	}
	return fmt.Sprintf("%s. %s, entry %d", capital(words), r.Name, r.Seq)
}

// nextUnread is the place of the first record that nobody read, from 1; 0 for none.
func nextUnread(s *reprocess.Sample) int {
	return 1 + slices.IndexFunc(s.Cycles, func(id string) bool { return s.Reading(id) == nil })
}

// sampleReadPage is one record with its one question.
type sampleReadPage struct {
	Base
	About   string
	Facts   []entryFact
	Records []trailRow
	Links   []link
	Was     string // what was found before
	Found   Choices
	Remark  Field
	Post    string
	Back    string
}

func showSampleRead(v *Visit) error {
	p, _, err := v.sampleReadPage()
	if err != nil {
		return err
	}
	return v.Show(p)
}

// sampleReadPage draws the page of the record of the address and gives its cycle's id.
func (v *Visit) sampleReadPage() (*sampleReadPage, reprocess.ReadSample, error) {
	var cmd reprocess.ReadSample
	s, err := v.sampleRun()
	if err != nil {
		return nil, cmd, err
	}
	n := int(trailNumber(v.Param("n")))
	if n < 1 || n > len(s.Cycles) {
		return nil, cmd, notFound("record in this sample")
	}
	cmd.Sample, cmd.Cycle = s.ID, s.Cycles[n-1]
	w, err := v.Store().Named(v.Context(), reprocess.Ref{Table: reprocess.TableCycle, ID: cmd.Cycle})
	if err != nil {
		return nil, cmd, err
	}
	p := &sampleReadPage{Base: Titled(fmt.Sprintf("Does record %d of %d hold?", n, len(s.Cycles))),
		Post: fmt.Sprintf("/sample/%s/%d", s.ID, n), Back: "/sample/" + s.ID,
		Found: Choices{Name: "found", Legend: "What did you find?", Required: true, Options: []Choice{
			{Value: string(reprocess.FoundGood), Words: "It holds",
				Note: "all that has to be there is there and agrees"},
			{Value: string(reprocess.FoundBad), Words: "It does not hold",
				Note: "something is missing or does not agree; the remark says what"}}},
		Remark: TextField("remark", "Remark", "")}
	p.Remark.Lines, p.Remark.Hint = 3, "Up to 300 characters; no names of wearers"
	if r := s.Reading(cmd.Cycle); r != nil {
		p.Was = "Read before: " + readingWords(r) + ". A new answer takes its place; both stay in the trail."
	}
	return p, cmd, v.sampleRecord(p, w, cmd.Cycle)
}

// sampleRecord puts what the record says on the page.
func (v *Visit) sampleRecord(p *sampleReadPage, w *reprocess.World, id string) error {
	c := w.Cycles[id]
	if c == nil {
		return notFound("cycle")
	}
	row := v.cycleRow(w, id)
	p.About = row.Words
	p.Facts = []entryFact{{"Released", v.zoned(c.Ended) + " by " + nameIn(w, c.Releaser)},
		{"Procedure", versionName(w, c.Procedure)}}
	if best, ok := c.Progress().Wet.Best(); ok {
		p.Facts = append(p.Facts, entryFact{"Watched wet", fmt.Sprintf("%s of %s needed",
			spoken(int(best.MS/1000)), spoken(best.NeededS))})
	}
	for _, r := range c.Records {
		line := trailRow{To: fmt.Sprintf("/trail/%d", r.Seq), Seq: strconv.FormatInt(r.Seq, 10),
			Lines: []string{sentence(recordWords(r))}, Who: r.Name,
			When: reprocess.Clock(r.Mark.At, v.Now.Zone)}
		if r.Undone {
			line.Refused = "Taken back: tapped by mistake."
		}
		p.Records = append(p.Records, line)
	}
	entries, err := v.Store().ReleaseEntries(v.Context(), []string{id})
	if err != nil {
		return err
	}
	if seq := entries[id]; seq > 0 {
		p.Links = append(p.Links, link{To: fmt.Sprintf("/trail/%d", seq),
			Words: fmt.Sprintf("Its release, entry %d", seq)})
	}
	p.Links = append(p.Links, link{To: row.To, Words: "All that happened to this kit"})
	return nil
}

func readSampleRecord(v *Visit) error {
	p, cmd, err := v.sampleReadPage()
	if err != nil {
		return err
	}
	cmd.Found, cmd.Remark = reprocess.Found(v.Field("found")), v.Field("remark")
	if _, err := v.Do(cmd); err != nil {
		p.Found, p.Remark.Value = p.Found.Pick(v.Field("found")), cmd.Remark
		return v.Refuse(err, p)
	}
	s, err := v.sampleRun()
	if err != nil {
		return err
	}
	if n := nextUnread(s); n > 0 {
		return v.Went(fmt.Sprintf("/sample/%s/%d", s.ID, n), "Kept. The next one.")
	}
	return v.Went("/sample/"+s.ID, "Kept. All of them are read.")
}

// sampleDrawnWords and sampleReadWords tell the events of samples in the trail.
func sampleDrawnWords(ev reprocess.SampleDrawn) string {
	return fmt.Sprintf("Sample %s drawn: %d of %d cycles released from %s to %s, below %s bad with %s "+
		"confidence, seed %s", ev.ID, len(ev.Cycles), ev.Population, reprocess.Day(ev.From),
		reprocess.Day(ev.To), ev.Rate, ev.Confidence, ev.Seed)
}

func sampleReadWords(w *reprocess.World, ev reprocess.SampleRecordRead) string {
	name := "cycle " + ev.Cycle
	if c := w.Cycles[ev.Cycle]; c != nil {
		name = fmt.Sprintf("%s, cycle %d", pieceWords(w, c.Piece), c.Number)
	}
	words := map[reprocess.Found]string{reprocess.FoundGood: "holds",
		reprocess.FoundBad: "does not hold"}[ev.Found]
	return strings.TrimSuffix(fmt.Sprintf("Record in sample %s %s: %s: %s", ev.Sample, words, name,
		ev.Remark), ": ")
}

func sampleRunSample() Page {
	return &sampleRunPage{Base: Titled("Do the records hold?"), Result: "Not decided yet.",
		Share: "2 of 59 records read.", Again: "Drawn again.", Next: "/sample/A12/3",
		Facts: []entryFact{{"Seed", "00ff"}}, How: "How this was checked: …",
		Rows: []link{{To: "/sample/A12/1", Words: "1. Kit 17, recorder 1234, cycle 3", Note: "holds"},
			{Words: "2. Cycle Y9"}}}
}

func sampleReadSample() Page {
	return &sampleReadPage{Base: Titled("Does record 1 of 59 hold?"), About: "Kit 17, recorder 1234",
		Facts: []entryFact{{"Released", "24 Nov 2026"}}, Records: []trailRow{{To: "/trail/9", Seq: "9",
			Lines: []string{"Cleaned."}, When: "24 Nov 2026 14:00", Who: "Ada Okafor", Refused: "Taken back."}},
		Links: []link{{To: "/trail/12", Words: "Its release"}}, Was: "Read before.",
		Found:  Choices{Name: "found", Legend: "What?", Options: []Choice{{Value: "found", Words: "It holds"}}},
		Remark: TextField("remark", "Remark", ""), Post: "/sample/A12/1", Back: "/sample/A12"}
}
