package web

import (
	"bytes"
	"fmt"

	"handback/reprocess/export"
	"handback/reprocess/lookback"
)

// showFrozenAgain asks the question of a frozen look-back once more, over the entries of then
// and over those of now, and shows what differs.
func showFrozenAgain(v *Visit) error {
	l, then, err := v.frozen()
	if err != nil {
		return err
	}
	q, err := export.QueryOf(then.Keys)
	if err != nil {
		return lookBackProblem(err)
	}
	repeat, err := v.frozenNow(q, then.Size)
	if err != nil {
		return err
	}
	now, err := v.frozenNow(q, 0, then.Facts...)
	if err != nil {
		return err
	}
	d := lookback.Compare(then, now)
	p := titledOffice("What has changed since then?", l.Note+".", againWords(then, repeat),
		fmt.Sprintf("Then over %s, now over %s.", entriesOf(then.Size), entriesOf(now.Size)))
	if d.Same() {
		p.Lead = append(p.Lead, "Nothing differs: the same cycles, loans and pieces, "+
			"standing as they did.")
	}
	v.differenceLists(p, then, now, d)
	p.act(frozenAt(l.ID), "The answer as of then")
	p.act("/lookback?"+queryAddress(v, then.Keys), "Ask it anew, to freeze it again")
	return v.Show(p)
}

// againWords says whether the entries of then still give the answer of then. The number of
// known wearers is left out: references may have been erased since.
func againWords(then, repeat lookback.Frozen) string {
	repeat.Result.Wearers = then.Result.Wearers
	a, err1 := then.Bytes()
	b, err2 := repeat.Bytes()
	if err1 != nil || err2 != nil || !bytes.Equal(a, b) {
		return "Worked out again over the entries of then, the answer is another one: this program " +
			"reckons otherwise than the one that froze it, or the answer was not worked out from them."
	}
	return "Worked out again over the entries of then: the same answer."
}

// queryAddress is a question as the address of its form, moments in the zone of the clinic.
func queryAddress(v *Visit, keys []lookback.Key) string {
	var k lookBackKeys
	for _, key := range keys {
		for _, f := range k.fields() {
			if f.name != key.Name {
				continue
			}
			*f.value = key.Value
			if t, err := lookback.ParseTime(key.Value); err == nil && (f.name == "from" || f.name == "to") {
				if v.Now.Zone != nil {
					t = t.In(v.Now.Zone)
				}
				*f.value = t.Format(localLayouts[2])
			}
		}
	}
	return k.pairs()
}

func (v *Visit) differenceLists(p *officePage, then, now lookback.Frozen, d lookback.Difference) {
	was, is := factsOf(then), factsOf(now)
	rows := func(facts map[[2]string]lookback.Fact, kind string, ids []string,
		note string) []ruledLine {
		var all []ruledLine
		for _, id := range ids {
			row := v.factLine(facts, kind, id)
			if note != "" {
				row.Notes = append([]string{note}, row.Notes...)
			}
			all = append(all, row)
		}
		return all
	}
	var came, gone, todo []ruledLine
	for _, x := range []struct{ name, kind string }{{"cycles", "cycle"}, {"exposed", "loan"},
		{"unreleased", "loan"}, {"batches", "lot"}} {
		l := d.List(x.name)
		note := map[string]string{"unreleased": "went out without a release"}[x.name]
		came = append(came, rows(is, x.kind, l.Came, note)...)
		gone = append(gone, v.goneRows(was, is, x.kind, l.Gone, note)...)
	}
	for _, x := range []struct{ name, new, old string }{
		{"recall", "to call back now", "no longer to call back"},
		{"embargo", "to stop now", "no longer to stop"},
		{"restart", "to start again now", "no longer to start again"},
		{"caught", "caught before a release", "not caught before a release any more"}} {
		l := d.List(x.name)
		todo = append(todo, rows(is, "piece", l.Came, capital(x.new))...)
		todo = append(todo, rows(is, "piece", l.Gone, capital(x.old))...)
	}
	p.list("Newly affected", "None.", came...)
	p.list("No longer affected", "None.", gone...)
	p.list("What is to be done", "The same as then.", todo...)
	p.list("Changed since", "Nothing.", v.changedRows(d)...)
	un := d.List("unresolved")
	p.list(fmt.Sprintf("Cannot be placed: %d then, %d now", len(d.Before), len(d.Now)), "None.",
		append(append(rows(is, "", un.Came, "New"), rows(was, "", un.Gone, "Settled since")...),
			rows(is, "", still(d.Before, un.Gone), "Still so")...)...)
	if d.Wearers[0] != d.Wearers[1] || d.Unknown[0] != d.Unknown[1] {
		p.list("Wearers", "", ruledLine{Words: fmt.Sprintf(
			"%d known then, %d now; exposed loans without a known wearer: %d then, %d now",
			d.Wearers[0], d.Wearers[1], d.Unknown[0], d.Unknown[1])})
	}
}

// goneRows says of each why, where the record says it.
func (v *Visit) goneRows(was, is map[[2]string]lookback.Fact, kind string, ids []string,
	note string) []ruledLine {
	var all []ruledLine
	for _, id := range ids {
		row := v.factLine(was, kind, id)
		if note != "" {
			row.Notes = append(row.Notes, note)
		}
		key := [2]string{kind, id}
		if (lookback.Change{Then: was[key], Now: is[key]}).Corrected() {
			row.Notes = append(row.Notes, "Its record was corrected since.")
		}
		all = append(all, row)
	}
	return all
}

func (v *Visit) changedRows(d lookback.Difference) []ruledLine {
	var all []ruledLine
	for _, c := range d.Changed {
		row := ruledLine{Words: v.localTimes(capital(c.Now.Name)),
			Notes: []string{"Then: " + v.stateOf(c.Then) + ". Now: " + v.stateOf(c.Now) + "."}}
		if c.Now.Kit != "" {
			row.To = "/kit/" + c.Now.Kit + "/history"
		}
		switch {
		case c.Corrected():
			row.Notes = append(row.Notes, "Corrected since.")
		case c.Then.Kind == "piece" && c.Then.Cycle != c.Now.Cycle:
			row.Notes = append(row.Notes, "It began another cycle since.")
		case c.Then.Kit != c.Now.Kit:
			row.Notes = append(row.Notes, "It is in another kit now.")
		}
		all = append(all, row)
	}
	return all
}

// still are those that were there and are not gone.
func still(before, gone []string) []string {
	left := map[string]bool{}
	for _, id := range gone {
		left[id] = true
	}
	var rest []string
	for _, id := range before {
		if !left[id] {
			rest = append(rest, id)
		}
	}
	return rest
}
