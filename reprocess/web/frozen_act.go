package web

import (
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/export"
	"handback/reprocess/lookback"
	"handback/reprocess/sqlite"
)

// actsDone lists what was done about a look-back: each signed act, and what became of each kit.
func (v *Visit) actsDone(p *officePage, w *reprocess.World, l *reprocess.FrozenLookBack) error {
	for _, done := range l.Acts {
		list, err := v.Store().Entries(v.Context(), sqlite.Filter{Act: reprocess.ActOnNamed},
			done.Seq+int64(done.Kits)+1, done.Kits)
		if err != nil {
			return err
		}
		slices.Reverse(list)
		rows := []ruledLine{{Words: done.Reason, To: fmt.Sprintf("/trail/%d", done.Seq),
			Notes: []string{"Signed by " + signersOf(w, done) + ", " + v.moment(done.At)}}}
		kits, err := v.kitsOf(list)
		if err != nil {
			return err
		}
		for _, e := range list {
			rows = append(rows, actedLine(kits, e))
		}
		p.list("What was done about it", "", rows...)
	}
	return nil
}

func signersOf(w *reprocess.World, done reprocess.LookBackDone) string {
	if done.Second == "" {
		return done.Name
	}
	return done.Name + " and " + nameIn(w, done.Second)
}

func (v *Visit) kitsOf(list []*reprocess.Entry) (*reprocess.World, error) {
	var refs []reprocess.Ref
	for _, e := range list {
		if e.Kit != "" {
			refs = append(refs, reprocess.Ref{Table: reprocess.TableKit, ID: e.Kit})
		}
	}
	return v.Store().Named(v.Context(), refs...)
}

// actedLine is what became of one kit, or why it was left.
func actedLine(w *reprocess.World, e *reprocess.Entry) ruledLine {
	line := ruledLine{To: fmt.Sprintf("/trail/%d", e.Seq)}
	if e.Refusal != nil {
		line.Words, line.Notes = "Left as it is", []string{e.Refusal.Text, e.Refusal.Fix}
		if e.Kit != "" {
			line.Words = capital(kitNumber(w, e.Kit)) + ": left as it is"
		}
		return line
	}
	did := map[string]bool{}
	for _, b := range e.Events {
		switch v := b.Event.(type) {
		case reprocess.CycleRestarted:
			did["to start again"] = true
		case reprocess.PieceMoved:
			did[reprocess.StateWords(v.State)] = true
		}
	}
	var words []string
	for said := range did {
		words = append(words, said)
	}
	slices.Sort(words)
	line.Words = capital(kitNumber(w, e.Kit)) + ": " + strings.Join(words, ", ")
	return line
}

// wantedByKit joins the named pieces by their kit, in the order in which they are named; a piece
// in no kit stands alone.
func wantedByKit(f lookback.Frozen) [][]reprocess.NamedPiece {
	var all [][]reprocess.NamedPiece
	at := map[string]int{}
	for _, n := range export.Wanted(f) {
		if i, there := at[n.Kit]; there && n.Kit != "" {
			all[i] = append(all[i], n)
			continue
		}
		at[n.Kit] = len(all)
		all = append(all, []reprocess.NamedPiece{n})
	}
	return all
}

var doWords = map[string]string{reprocess.DoCallBack: "call back", reprocess.DoStop: "stop",
	reprocess.DoRestart: "start again"}

func showActOnNamed(v *Visit) error {
	_, _, p, err := v.actPage()
	if err != nil {
		return err
	}
	return v.Show(p)
}

// actPage shows what the signature will do, kit by kit, before it is given.
func (v *Visit) actPage() (l *reprocess.FrozenLookBack, f lookback.Frozen, p *officePage,
	err error) {
	if l, f, err = v.frozen(); err != nil {
		return l, f, nil, err
	}
	w, err := v.setUp()
	if err != nil {
		return l, f, nil, err
	}
	facts, kits := factsOf(f), wantedByKit(f)
	c := headOf(l.ID, "", kits)
	p = titledOffice("Call back, stop and start all these again?", l.Note+".", fmt.Sprintf(
		"%s: %d to call back, %d to stop, %d to start again. One signature, an entry for each kit.",
		many(len(kits), "kit"), c.CallBack, c.Stop, c.Restart))
	if n := l.Counts.Unresolved; n > 0 {
		p.Lead = append(p.Lead, fmt.Sprintf("%d cannot be placed and are not acted on here: look for "+
			"the paper.", n))
	}
	var rows []ruledLine
	for _, named := range kits {
		for _, n := range named {
			row := v.factLine(facts, "piece", n.Piece)
			row.Notes = []string{capital(doWords[n.Do]) + ". Then: " + row.Notes[0] + "."}
			rows = append(rows, row)
		}
	}
	p.list("", "It names nothing to act on.", rows...)
	if len(kits) == 0 {
		return l, f, p, nil
	}
	form := &form{To: frozenAt(l.ID) + "/act", Act: "Sign for " + many(len(kits), "kit")}
	form.say("", "What is on the shelf is not handed out, what is with a wearer is on the call list "+
		"and on hold when it comes back, a running cycle begins anew. What went on since is left "+
		"and said.")
	form.must("reason", "Reason", v.Field("reason"), "Up to 200 characters; no names of wearers")
	form.field(SignField())
	if w.Settings.TwoToStop {
		form.choices(v.besideMe(w))
		form.field(SecretField("second_secret", "Their own secret", "off"))
	}
	p.form(form)
	return l, f, p, nil
}

// besideMe lists who may sign beside the visitor.
func (v *Visit) besideMe(w *reprocess.World) Choices {
	c := Choices{Name: "second", Legend: "Who signs beside you?", Required: true}
	may := acts(reprocess.ActOnNamed)
	for _, x := range staffChoices(w, v.today(), v.Person.ID) {
		if may.lets(w.People[x.Value]) {
			c.Options = append(c.Options, x)
		}
	}
	return c.Pick(v.Field("second"))
}

func headOf(id, reason string, kits [][]reprocess.NamedPiece) reprocess.ActOnLookBack {
	a := reprocess.ActOnLookBack{LookBack: id, Reason: reason, Kits: len(kits)}
	for _, named := range kits {
		for _, n := range named {
			switch n.Do {
			case reprocess.DoCallBack:
				a.CallBack++
			case reprocess.DoStop:
				a.Stop++
			default:
				a.Restart++
			}
		}
	}
	return a
}

// actOnNamed signs: the head and one entry for each kit, in one transaction.
func actOnNamed(v *Visit) error {
	l, f, p, err := v.actPage()
	if err != nil {
		return err
	}
	actor, err := v.Sign()
	if err == nil {
		actor, err = v.signBeside(actor)
	}
	if err != nil {
		return v.Refuse(err, p)
	}
	kits, reason := wantedByKit(f), v.Field("reason")
	request := func(cmd reprocess.Command, name string) sqlite.Request {
		r := sqlite.Request{Cmd: cmd, Actor: actor, PhoneAt: v.PhoneAt(), Key: v.Key()}
		if name != "" {
			r.Key = v.keyFor(name)
		}
		return r
	}
	var rest []sqlite.Request
	for _, named := range kits {
		rest = append(rest, request(reprocess.ActOnKit{LookBack: l.ID, Kit: named[0].Kit, Reason: reason,
			Pieces: named}, named[0].Piece))
	}
	_, answers, err := v.Store().DoAll(v.Context(), request(headOf(l.ID, reason, kits), ""), rest)
	if err != nil {
		return v.Refuse(err, p)
	}
	left := 0
	for _, a := range answers {
		if a.Problem != nil {
			left++
		}
	}
	said := "Signed: " + many(len(kits)-left, "kit") + " acted on."
	if left > 0 {
		said += fmt.Sprintf(" %s left as it stands; the list below says why.", many(left, "kit"))
	}
	return v.Went(frozenAt(l.ID), said)
}
