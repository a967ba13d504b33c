package web

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/export"
	"handback/reprocess/lookback"
	"handback/reprocess/sqlite"
)

func frozenAt(id string) string { return "/lookback/frozen/" + id }

// freezeLookBack answers the question anew over the entries there are now, keeps the answer and
// has it signed. A checkpoint over the entry that names it is signed at once.
func freezeLookBack(v *Visit) error {
	k := readKeys(v.Field)
	w, err := v.setUp()
	if err != nil {
		return err
	}
	p := lookBackForm(w, k)
	actor, err := v.Sign()
	if err != nil {
		return v.refuseFreeze(err, w, k, p)
	}
	q, err := v.lookBackQuery(k, p)
	if err != nil {
		return v.refuseFreeze(err, w, k, p)
	}
	f, err := v.frozenNow(q, 0)
	if err != nil {
		return v.refuseFreeze(err, w, k, p)
	}
	content, err := f.Bytes()
	if err != nil {
		return v.refuseFreeze(lookBackProblem(err), w, k, p)
	}
	cmd := reprocess.FreezeLookBack{Note: v.Field("note"), Size: f.Size, Root: f.Root,
		Counts: sqlite.CountsOf(f), Bytes: int64(len(content))}
	for _, key := range f.Keys {
		cmd.Query = append(cmd.Query, key.Line())
	}
	if cmd.SHA256, err = v.Store().KeepFile(content); err != nil {
		return err
	}
	e, err := v.DoAs(cmd, actor)
	if err != nil {
		return v.refuseFreeze(err, w, k, p)
	}
	said := "The answer is frozen and signed."
	if _, err := v.Store().Checkpoint(v.Context()); err != nil {
		said = "The answer is frozen. No checkpoint could be signed: see “Check the record”."
	}
	for _, box := range e.Events {
		if frozen, ok := box.Event.(reprocess.LookBackFrozen); ok {
			return v.Went(frozenAt(frozen.ID), said)
		}
	}
	return v.Went("/lookback/frozen", said)
}

// refuseFreeze shows the answer again with what was typed.
func (v *Visit) refuseFreeze(problem error, w *reprocess.World, k lookBackKeys,
	p *lookBackPage) error {
	if len(p.Pieces) == 0 {
		if err := v.answerLookBack(w, k, p); err != nil {
			p.Open = true
		}
	}
	return v.Refuse(problem, p)
}

// frozenNow works an answer out over the first so many entries; 0 is all there are now. more
// are things of which the record is asked as well.
func (v *Visit) frozenNow(q lookback.Query, size int64, more ...lookback.Fact) (
	f lookback.Frozen, err error) {
	snap, err := sqlite.OpenSnapshot(v.Context(), v.Store().Dir())
	if err != nil {
		return f, err
	}
	defer snap.Close()
	references, err := snap.References(v.Context())
	if err != nil {
		return f, err
	}
	entries := snap.Bodies(v.Context())
	if size > 0 {
		entries = export.Upto(entries, size)
	}
	if f, err = export.Freeze(q, entries, references, more...); err != nil {
		return f, lookBackProblem(err)
	}
	if f.Size = snap.Size(); size > 0 {
		f.Size = size
	}
	if f.Root, err = snap.RootAt(v.Context(), f.Size); err != nil {
		return f, err
	}
	return f, snap.Check()
}

// frozen reads a frozen look-back and its kept answer.
func (v *Visit) frozen() (*reprocess.FrozenLookBack, lookback.Frozen, error) {
	var f lookback.Frozen
	l, err := sqlite.Get[reprocess.FrozenLookBack](v.Context(), v.Store(),
		reprocess.TableLookBack, v.Param("id"))
	if err != nil {
		return nil, f, notKnown(err, "There is no such frozen look-back here.")
	}
	content, err := v.Store().KeptFile(l.SHA256)
	if err != nil {
		return l, f, err
	}
	f, err = lookback.ReadFrozen(content)
	return l, f, err
}

// showFrozenList lists the frozen look-backs, the newest first.
func showFrozenList(v *Visit) error {
	p, err := v.frozenList()
	if err != nil {
		return err
	}
	return v.Show(p)
}

func (v *Visit) frozenList() (*officePage, error) {
	list, err := v.Store().LookBacks(v.Context(), 100)
	if err != nil {
		return nil, err
	}
	w, err := v.setUp()
	if err != nil {
		return nil, err
	}
	p := titledOffice("Which look-backs were frozen?")
	var rows []ruledLine
	for _, l := range list {
		line := ruledLine{To: frozenAt(l.ID), Words: l.Note, Notes: []string{
			capital(keyWords(w, v, lookback.ReadKeys(l.Query))) + ".", classWords(l.Counts),
			v.moment(l.At) + ", " + l.Name + ", entry " + strconv.FormatInt(l.Seq, 10)}}
		if n := len(l.Acts); n > 0 {
			line.Notes = append(line.Notes, "Acted on "+count(n, "time", "times")+", last "+
				v.moment(l.Acts[n-1].At)+".")
		}
		rows = append(rows, line)
	}
	p.list("", "None yet.", rows...)
	p.act("/lookback", "Look back")
	if v.entitled(reprocess.ActPolicy) {
		p.form(stopRuleForm(w))
	}
	return p, nil
}

// stopRuleForm turns "two sign" on and, signed, off again.
func stopRuleForm(w *reprocess.World) *form {
	f := &form{Heading: "How many sign before kits are stopped by a look-back?",
		To: "/lookback/frozen", Act: "Two people sign", Small: true, Kept: []Kept{{"two", "yes"}}}
	if w.Settings.TwoToStop {
		f.Act, f.Kept = "One person is enough", nil
		f.say("", "Two people sign now.")
		f.field(SignField())
		return f
	}
	f.say("", "One person signs now.")
	return f
}

func setStopRule(v *Visit) error {
	p, err := v.frozenList()
	if err != nil {
		return err
	}
	actor, two := v.Actor(), v.Field("two") == "yes"
	if !two {
		if actor, err = v.Sign(); err != nil {
			return v.Refuse(err, p)
		}
	}
	if _, err := v.DoAs(reprocess.SetStopRule{Two: two}, actor); err != nil {
		return v.Refuse(err, p)
	}
	return v.Went("/lookback/frozen", "The rule is kept.")
}

// showFrozen shows an answer as it was.
func showFrozen(v *Visit) error {
	l, f, err := v.frozen()
	if err != nil {
		return err
	}
	w, err := v.setUp()
	if err != nil {
		return err
	}
	p := titledOffice("What did it reach, as of then?", l.Note+".",
		capital(keyWords(w, v, f.Keys))+".", classWords(l.Counts), cautionWords("list of exposed"))
	if err := v.actsDone(p, w, l); err != nil {
		return err
	}
	v.frozenLists(p, f)
	p.list("How it was frozen", "", ruledLine{Words: "By " + l.Name + ", " + v.zoned(l.At) +
		", entry " + strconv.FormatInt(l.Seq, 10), To: "/trail/" + strconv.FormatInt(l.Seq, 10)},
		ruledLine{Words: "Over " + entriesOf(l.Size), Notes: []string{"hash over them " + l.Root}},
		ruledLine{Words: "The answer as a file", To: frozenAt(l.ID) + "/file", File: true,
			Notes: []string{"SHA-256 " + l.SHA256}})
	if len(export.Wanted(f)) > 0 && v.entitled(reprocess.ActOnNamed) {
		p.act(frozenAt(l.ID)+"/act", "Call back, stop, start again")
	}
	p.act(frozenAt(l.ID)+"/again", "Run it again")
	p.act("/lookback/frozen", "All frozen look-backs")
	return v.Show(p)
}

func frozenFile(v *Visit) error {
	l, _, err := v.frozen()
	if err != nil {
		return err
	}
	content, err := v.Store().KeptFile(l.SHA256)
	if err != nil {
		return err
	}
	return v.Download("look-back-"+l.ID+".txt", "text/plain; charset=utf-8", content)
}

// frozenHeadings are the lists of an answer in the order in which they are acted on.
var frozenHeadings = []struct{ name, heading, kind string }{
	{"recall", "Call back: with a wearer", "piece"}, {"embargo", "Stop: on the shelf", "piece"},
	{"restart", "Start again: being reprocessed", "piece"},
	{"unreleased", "Went out without a release", "loan"},
	{"unresolved", "Cannot be placed", ""}, {"exposed", "Exposed loans", "loan"},
	{"cycles", "Affected cycles", "cycle"}, {"caught", "Caught before a release", "piece"},
	{"batches", "Batches prepared from it, and counted", "lot"}}

func (v *Visit) frozenLists(p *officePage, f lookback.Frozen) {
	facts := factsOf(f)
	for _, h := range frozenHeadings {
		var rows []ruledLine
		for _, id := range listNamed(&f.Result, h.name) {
			row := v.factLine(facts, h.kind, id)
			if h.name == "exposed" {
				row.Notes = append(row.Notes, v.beforeIt(facts, f.Result, id))
			}
			rows = append(rows, row)
		}
		if len(rows) > 0 || h.name != "batches" {
			p.list(h.heading, "None.", rows...)
		}
		if h.name == "embargo" {
			p.aside(v, facts, f)
		}
	}
}

// aside lists what is named and stood with neither the clinic nor a wearer.
func (p *officePage) aside(v *Visit, facts map[[2]string]lookback.Fact, f lookback.Frozen) {
	var rows []ruledLine
	for _, id := range f.Result.Embargo {
		switch facts[[2]string{"piece", id}].State {
		case reprocess.OutForRepair.String(), reprocess.Retired.String(), reprocess.Missing.String():
			rows = append(rows, v.factLine(facts, "piece", id))
		}
	}
	if len(rows) > 0 {
		p.list("Of these, tell whoever has it", "", rows...)
	}
}

func listNamed(r *lookback.Result, name string) []string {
	for _, l := range r.Lists() {
		if l.Name == name {
			return *l.IDs
		}
	}
	return nil
}

func factsOf(f lookback.Frozen) map[[2]string]lookback.Fact {
	facts := map[[2]string]lookback.Fact{}
	for _, x := range f.Facts {
		facts[[2]string{x.Kind, x.ID}] = x
	}
	return facts
}

// factLine is one thing as the answer names it; what it does not describe stands by its id.
func (v *Visit) factLine(facts map[[2]string]lookback.Fact, kind, id string) ruledLine {
	x, ok := facts[[2]string{kind, id}]
	for _, either := range []string{"loan", "cycle"} {
		if !ok && kind == "" {
			x, ok = facts[[2]string{either, id}]
		}
	}
	if !ok {
		return ruledLine{Words: id}
	}
	line := ruledLine{Words: v.localTimes(capital(x.Name)), Notes: []string{v.stateOf(x)}}
	if x.Kit != "" {
		line.To = "/kit/" + x.Kit + "/history"
	}
	return line
}

// stateOf says how it stood.
func (v *Visit) stateOf(x lookback.Fact) string {
	words := x.State
	if s, err := reprocess.ParseState(x.State); err == nil {
		words = reprocess.StateWords(s)
	}
	if x.Changes > 0 {
		words += ", " + count(x.Changes, "record", "records") + " corrected or taken back"
	}
	return v.localTimes(words)
}

func (v *Visit) beforeIt(facts map[[2]string]lookback.Fact, r lookback.Result, id string) string {
	var names []string
	for _, before := range r.Sources[id] {
		names = append(names, v.factLine(facts, "loan", before).Words)
	}
	words := "No loan before it."
	if len(names) > 0 {
		words = "Before it: " + strings.Join(names, "; ") + "."
	}
	for _, x := range r.Unbounded {
		if x == id {
			words += " No good cycle is known before it."
		}
	}
	return words
}

var stampPattern = regexp.MustCompile(`\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z`)

// localTimes writes the moments of a kept answer in the zone of the clinic.
func (v *Visit) localTimes(text string) string {
	return stampPattern.ReplaceAllStringFunc(text, func(stamp string) string {
		t, err := lookback.ParseTime(stamp)
		if err != nil {
			return stamp
		}
		return v.moment(reprocess.InstantOf(t))
	})
}

// keyWords is a question in words.
func keyWords(w *reprocess.World, v *Visit, keys []lookback.Key) string {
	var parts []string
	for _, k := range keys {
		name := k.Name
		switch k.Name {
		case "product":
			name = "disinfectant"
		case "to":
			name = "before"
		}
		value := keyValue(w, k.Name, k.Value)
		parts = append(parts, name+" "+v.localTimes(value))
	}
	return strings.Join(parts, ", ")
}

// classWords is an answer by class, in one sentence each.
func classWords(c reprocess.LookBackCounts) string {
	words := fmt.Sprintf("%s affected, %s exposed, %s behind them. To call back %d, to stop %d, "+
		"to start again %d (recorders and phones).", many(c.Cycles, "cycle"), many(c.Exposed, "loan"),
		many(c.Wearers, "known wearer"), c.Recall, c.Embargo, c.Restart)
	if c.Unknown > 0 {
		words += fmt.Sprintf(" Of %s the wearers are not all known.", many(c.Unknown, "exposed loan"))
	}
	if c.Unreleased > 0 {
		words += fmt.Sprintf(" %s went out without a release.", many(c.Unreleased, "loan"))
	}
	if c.Unresolved > 0 {
		words += fmt.Sprintf(" %d cannot be placed.", c.Unresolved)
	}
	return words
}
