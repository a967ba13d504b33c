package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// entryPage is one entry whole: in words, in figures, signed by whom, and its bytes with the
// proof that they stand in the record.
type entryPage struct {
	Base
	Row       trailRow
	Fix       string // what the person was told to do, of a refusal
	Facts     []entryFact
	Signature []entryFact // empty: not signed
	Links     []link
	Body      string // the bytes as hashed
	Leaf      string
	Path      []string
	Root      string
	Proved    string // in words, under which checkpoint
	Checks    string // address of the checkpoint, empty without
	Earlier   string
	Later     string
	How       string
}

// entryFact is one line of names and values.
type entryFact struct{ Name, Value string }

func showEntry(v *Visit) error {
	seq := trailNumber(v.Param("seq"))
	ctx, store := v.Context(), v.Store()
	e, err := store.Entry(ctx, seq)
	if err != nil {
		return missingEntry(err)
	}
	body, err := store.Body(ctx, seq)
	if err != nil {
		return err
	}
	w, err := store.Around(ctx, []*reprocess.Entry{e})
	if err != nil {
		return err
	}
	p := &entryPage{Base: Titled(fmt.Sprintf("What does entry %d say?", seq)),
		Row: v.trailRow(w, e), Facts: v.entryFacts(w, e), Signature: v.signature(w, e),
		Body: string(body)}
	if e.Refusal != nil {
		p.Fix = e.Refusal.Fix
	}
	if p.Links, err = v.related(e); err != nil {
		return err
	}
	if to := lookBackLink(w, e); to != "" {
		p.Links = append(p.Links, link{To: to, Words: "Who wore it on that release?"})
	}
	p.Links = append(p.Links, link{To: fmt.Sprintf("/findings/new?entry=%d", seq),
		Words: "Write a finding down about this entry"})
	if err := v.prove(p, seq); err != nil {
		return err
	}
	return v.Show(p)
}

func missingEntry(err error) error {
	if p := reprocess.AsProblem(err); p.Code == reprocess.NotFound {
		return &reprocess.Problem{Code: reprocess.NotFound, Rule: "unknown",
			Text: "There is no such entry.", Fix: "Look for it in the trail."}
	}
	return err
}

// prove adds the leaf and the path under the newest checkpoint, and the neighbours.
func (v *Visit) prove(p *entryPage, seq int64) error {
	proof, err := v.Store().Proof(v.Context(), seq)
	if err != nil {
		return err
	}
	last, err := v.Store().Size(v.Context())
	if err != nil {
		return err
	}
	p.Leaf = proof.Leaf.String()
	cp := proof.Checkpoint
	p.Proved = "No checkpoint covers this entry yet: it is newer than every one."
	p.How = fmt.Sprintf("Entry %d of %d, shown %s to %s. ", seq, last, v.zoned(v.Now.UTC),
		v.Person.Name)
	if cp.Size > 0 {
		p.Root, p.Checks = cp.Root.String(), fmt.Sprintf("/trail/checks/%d", cp.Size)
		p.Proved = fmt.Sprintf("Proved under the checkpoint over %d entries of %s.", cp.Size,
			v.zoned(cp.At))
		for _, h := range proof.Path {
			p.Path = append(p.Path, h.String())
		}
		p.How += "Checked before it was shown: leaf and path (RFC 6962, SHA-256) give the root " +
			"that was signed."
	}
	if seq > 1 {
		p.Earlier = fmt.Sprintf("/trail/%d", seq-1)
	}
	if seq < last {
		p.Later = fmt.Sprintf("/trail/%d", seq+1)
	}
	return nil
}

// zoned is a moment in the zone of the clinic, with the zone.
func (v *Visit) zoned(i reprocess.Instant) string {
	t := i.Time()
	if v.Now.Zone != nil {
		t = t.In(v.Now.Zone)
	}
	return t.Format("2 Jan 2006 15:04:05 MST")
}

// signature is the block that a signed act shows: printed name, moment, meaning.
func (v *Visit) signature(w *reprocess.World, e *reprocess.Entry) []entryFact {
	if !bySecret(e) || e.Result != reprocess.ResultDone {
		return nil
	}
	facts := []entryFact{{"Printed name", e.Name}, {"At the clinic", v.zoned(e.At)},
		{"UTC", e.At.String()}, {"Meaning", meaning(e)}}
	if e.Second != "" {
		facts = append(facts, entryFact{"Second signature", nameIn(w, e.Second)})
	}
	return facts
}

// meaning is what the signature stands for: the words of the release, else those of the act.
func meaning(e *reprocess.Entry) string {
	for _, b := range e.Events {
		if r, ok := b.Event.(reprocess.KitReleased); ok && r.Meaning != "" {
			return r.Meaning
		}
	}
	return "Own secret entered again to " + actWords(e.Act)
}

// entryFacts lists who, when and what, then every figure of every event.
func (v *Visit) entryFacts(w *reprocess.World, e *reprocess.Entry) []entryFact {
	facts := []entryFact{{"Act", capital(actWords(e.Act))}, {"Outcome", e.Result},
		{"At the clinic", v.zoned(e.At)}, {"UTC", e.At.String()},
		{"Person", byWhom(e)}, {"Site", e.Site}}
	add := func(name, value string) {
		if value != "" {
			facts = append(facts, entryFact{name, value})
		}
	}
	add("Phone", phoneFact(w, e.Phone))
	add("Clock of the phone, as it said", e.PhoneAt.String())
	if e.Kit != "" {
		add("Kit", fmt.Sprintf("%s, %s; its entry number %d", kitNumber(w, e.Kit), e.Kit, e.KitSeq))
	}
	if e.Refusal != nil {
		add("Rule", e.Refusal.Rule)
		add("Kind of refusal", string(e.Refusal.Code))
		facts = append(facts, flatFacts(e.Asked, "asked")...)
	}
	for _, id := range cyclesOf(e) {
		if c := w.Cycles[id]; c != nil {
			add("Procedure of cycle "+id, versionName(w, c.Procedure)+", "+c.Procedure)
		}
	}
	for _, b := range e.Events {
		data, err := json.Marshal(b.Event)
		if err == nil {
			facts = append(facts, flatFacts(data, spaced(b.Event.EventName()))...)
		}
	}
	return facts
}

func phoneFact(w *reprocess.World, id string) string {
	if id == "" {
		return ""
	}
	return phoneName(w, id)
}

// cyclesOf lists the cycles an entry names, each once.
func cyclesOf(e *reprocess.Entry) []string {
	var ids []string
	seen := map[string]bool{"": true}
	add := func(id string) {
		if !seen[id] {
			seen[id] = true
			ids = append(ids, id)
		}
	}
	for _, b := range e.Events {
		switch ev := b.Event.(type) {
		case reprocess.CycleOpened:
			add(ev.Cycle)
		case reprocess.StepRecorded:
			add(ev.Cycle)
		case reprocess.RecordCorrected:
			add(ev.Cycle)
		case reprocess.KitReleased:
			for _, l := range ev.Cycles {
				add(l.Cycle)
			}
		}
	}
	return ids
}

// flatFacts writes a JSON object as lines, in its own order; nothing is left out but what is
// empty. The first line names the event.
func flatFacts(data []byte, title string) []entryFact {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	var facts []entryFact
	flatten(d, "", &facts)
	for i := range facts {
		facts[i].Name = capital(title) + strings.TrimSuffix(": "+facts[i].Name, ": ")
	}
	return facts
}

// flatten reads one value; it stops quietly at what is no JSON, which the bytes still show.
func flatten(d *json.Decoder, name string, out *[]entryFact) {
	t, err := d.Token()
	if err != nil {
		return
	}
	switch v := t.(type) {
	case json.Delim:
		for i := 1; d.More(); i++ {
			inner := name
			if v == '{' {
				key, err := d.Token()
				if err != nil {
					return
				}
				inner = strings.TrimSpace(name + " " + spaced(fmt.Sprint(key)))
			} else {
				inner = strings.TrimSpace(name + " " + strconv.Itoa(i))
			}
			flatten(d, inner, out)
		}
		_, _ = d.Token() // the closing delimiter
	case nil:
	default:
		if text := fmt.Sprint(v); text != "" {
			*out = append(*out, entryFact{name, text})
		}
	}
}

func spaced(name string) string { return strings.ReplaceAll(name, "_", " ") }

// related finds what an entry takes back or answers, and what took it back or answered it.
func (v *Visit) related(e *reprocess.Entry) ([]link, error) {
	var links []link
	add := func(seq int64, words string) {
		if seq > 0 {
			links = append(links, link{To: fmt.Sprintf("/trail/%d", seq),
				Words: fmt.Sprintf("%s entry %d", words, seq)})
		}
	}
	for _, b := range e.Events {
		switch ev := b.Event.(type) {
		case reprocess.Undone:
			add(ev.Of, "Takes back")
		case reprocess.HoldEnded:
			add(ev.Hold, "Decides on the hold of")
		case reprocess.StepRecorded:
			add(ev.Record.For, "Stands for")
		case reprocess.RecordCorrected:
			add(ev.Of, "Corrects")
		case reprocess.HandedOut:
			add(ev.Release, "Went out on the release of")
		}
	}
	later, err := v.laterAbout(e)
	for _, l := range later {
		add(l.seq, l.words)
	}
	return links, err
}

// pointer is a later entry that points to an earlier one.
type pointer struct {
	seq   int64
	words string
}

// laterAbout looks through the later entries of the kit whose acts can point back.
func (v *Visit) laterAbout(e *reprocess.Entry) ([]pointer, error) {
	var found []pointer
	if e.Kit == "" || e.Result != reprocess.ResultDone {
		return nil, nil
	}
	for _, act := range []reprocess.Act{reprocess.ActUndo, reprocess.ActDecision,
		reprocess.ActTechnicianDone, reprocess.ActCountersign, reprocess.ActIssueUndo,
		reprocess.ActCorrect} {
		list, err := v.Store().Entries(v.Context(), sqlite.Filter{Kit: e.Kit, Act: act,
			Result: reprocess.ResultDone, After: e.Seq}, 0, 1000)
		if err != nil {
			return nil, err
		}
		for _, l := range list {
			if words := pointsTo(l, e); words != "" {
				found = append(found, pointer{l.Seq, words})
			}
		}
	}
	return found, nil
}

// pointsTo says how an entry is about an earlier one; empty: it is not.
func pointsTo(later, e *reprocess.Entry) string {
	for _, b := range later.Events {
		switch ev := b.Event.(type) {
		case reprocess.Undone:
			if ev.Of == e.Seq {
				return "Taken back by"
			}
		case reprocess.HoldEnded:
			if ev.Hold == e.Seq {
				return "Decided by"
			}
		case reprocess.StepRecorded:
			if ev.Record.For == e.Seq {
				return "Countersigned by"
			}
		case reprocess.RecordCorrected:
			if ev.Of == e.Seq {
				return "Corrected by"
			}
		case reprocess.HandOutUndone:
			if handsOut(e, ev.Loan) {
				return "Undone by"
			}
		}
	}
	return ""
}

func handsOut(e *reprocess.Entry, loan string) bool {
	for _, b := range e.Events {
		if h, ok := b.Event.(reprocess.HandedOut); ok && h.ID == loan {
			return true
		}
	}
	return false
}

func sampleEntry() Page {
	return &entryPage{Base: Titled("What does entry 12 say?"), Row: trailRow{Seq: "12",
		Lines:   []string{"Released, signed: Reprocessed as the procedure says."},
		Refused: "Refused: Recorder: Contact time 41 s of 60 s.", When: "24 Nov 2026 14:05",
		Who: "Ada Okafor, signed", Kit: "kit 17"}, Fix: "Wet it again.",
		Facts:     []entryFact{{"Act", "Release"}},
		Signature: []entryFact{{"Printed name", "Ada Okafor"}},
		Links:     []link{{To: "/trail/9", Words: "Takes back entry 9"}},
		Body:      `{"act":"release"}`, Leaf: "a22c", Path: []string{"b1"}, Root: "47de",
		Proved: "Proved under the checkpoint over 20 entries.", Checks: "/trail/checks/20",
		Earlier: "/trail/11", Later: "/trail/13", How: "Entry 12 of 20."}
}

// byWhom is the printed name and the id behind it, which of the command line are one.
func byWhom(e *reprocess.Entry) string {
	if e.Name == e.By {
		return e.Name
	}
	return e.Name + ", " + e.By
}
