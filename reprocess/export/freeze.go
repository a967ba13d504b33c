package export

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"handback/reprocess"
	"handback/reprocess/lookback"
)

// Freeze is LookBack with everything that makes the answer readable later without the record:
// what the record says at that moment of each cycle, loan and piece that it names. more names
// further ones, such as those of an answer that is compared. Size and root are the caller's.
func Freeze(q lookback.Query, entries Entries, references map[string]string,
	more ...lookback.Fact) (lookback.Frozen, error) {
	l := newLooker(q, references)
	r, err := l.run(entries)
	if err != nil {
		return lookback.Frozen{}, err
	}
	f := lookback.Frozen{Keys: Keys(q), Result: r, Unknown: l.unknown(r)}
	seen := map[[2]string]bool{}
	add := func(kind, id string) {
		if x, ok := l.fact(kind, id); ok && !seen[[2]string{kind, id}] {
			seen[[2]string{kind, id}] = true
			f.Facts = append(f.Facts, x)
		}
	}
	cycles, loans, pieces := r.Named()
	for kind, ids := range map[string][]string{"cycle": cycles, "loan": loans, "piece": pieces,
		"lot": r.Batches} {
		for _, id := range ids {
			add(kind, id)
		}
	}
	for _, x := range more {
		add(x.Kind, x.ID)
	}
	slices.SortFunc(f.Facts, func(a, b lookback.Fact) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID))
	})
	return f, nil
}

// Keys writes a question down, in the order of lookback.KeyNames; moments in UTC.
func Keys(q lookback.Query) []lookback.Key {
	values := map[string]string{"product": q.Product, "lot": q.Lot, "container": q.Container,
		"piece": q.Piece, "model": q.Model, "procedure": q.Procedure, "person": q.Person,
		"instrument": q.Instrument, "from": stamp(q.From), "to": stamp(q.To)}
	var keys []lookback.Key
	for _, name := range lookback.KeyNames() {
		if values[name] != "" {
			keys = append(keys, lookback.Key{Name: name, Value: values[name]})
		}
	}
	return keys
}

// QueryOf reads what Keys wrote.
func QueryOf(keys []lookback.Key) (q lookback.Query, err error) {
	into := map[string]*string{"product": &q.Product, "lot": &q.Lot, "container": &q.Container,
		"piece": &q.Piece, "model": &q.Model, "procedure": &q.Procedure, "person": &q.Person,
		"instrument": &q.Instrument}
	moments := map[string]*time.Time{"from": &q.From, "to": &q.To}
	for _, k := range keys {
		switch {
		case into[k.Name] != nil:
			*into[k.Name] = k.Value
		case moments[k.Name] != nil:
			if *moments[k.Name], err = lookback.ParseTime(k.Value); err != nil {
				return q, err
			}
		default:
			return q, fmt.Errorf("this program knows no key %q of a look-back", k.Name)
		}
	}
	return q, q.Check()
}

func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return reprocess.InstantOf(t).String()
}

// unknown counts the exposed loans behind which the record knows no wearer, or not every one.
func (l *looker) unknown(r lookback.Result) int {
	n := 0
	for _, id := range r.Exposed {
		if v := l.w.Loans[id]; v == nil || v.Wearer == "" || v.ByWard() {
			n++
		}
	}
	return n
}

// fact is what the record says of one thing; false when it holds no such thing.
func (l *looker) fact(kind, id string) (lookback.Fact, bool) {
	switch kind {
	case "cycle":
		return l.cycleFact(id)
	case "loan":
		return l.loanFact(id)
	case "lot":
		return l.lotFact(id)
	}
	return l.pieceFact(id)
}

func (l *looker) cycleFact(id string) (lookback.Fact, bool) {
	x := lookback.Fact{Kind: "cycle", ID: id}
	if piece, ok := strings.CutPrefix(id, TakenOver); ok {
		x.Name, x.State = l.pieceName(piece), "ready on paper before the log began"
		x.Kit = l.kitOf(piece)
		return x, true
	}
	if loan, ok := atHandOut(id); ok {
		of, found := l.loanFact(loan)
		of.Kind, of.ID = "cycle", id
		return of, found
	}
	c := l.w.Cycles[id]
	if c == nil {
		return x, false
	}
	x.Kit, x.Name = c.Kit, l.pieceName(c.Piece)+", cycle "+strconv.Itoa(c.Number)
	switch {
	case c.End == reprocess.EndReleased:
		x.State = "released " + c.Ended.String()
	case c.Ended != 0:
		x.State = "broken off " + c.Ended.String()
	default:
		x.State = "not released, begun " + c.Opened.String()
	}
	for _, r := range c.Records {
		if r.Undone || r.Supersedes != 0 {
			x.Changes++
		}
	}
	return x, true
}

// atHandOut finds the loan in the name of a cell or of electrodes that went out with it.
func atHandOut(id string) (loan string, ok bool) {
	if loan, ok = strings.CutPrefix(id, AtHandOut); !ok {
		loan, ok = strings.CutPrefix(id, Electrodes)
	}
	return loan, ok
}

func (l *looker) loanFact(id string) (lookback.Fact, bool) {
	v := l.w.Loans[id]
	if v == nil {
		return lookback.Fact{}, false
	}
	x := lookback.Fact{Kind: "loan", ID: id, Kit: v.Kit, Name: "loan " + id, State: "still out"}
	if k := l.w.Kits[v.Kit]; k != nil {
		x.Name += " of kit " + k.Number
	}
	if v.Out != 0 {
		x.Name += ", out " + v.Out.String()
	}
	if v.Ward != "" {
		x.Name += ", on " + v.Ward
	}
	switch {
	case v.Undone:
		x.State = "undone"
	case v.Back != 0:
		x.State = "back " + v.Back.String()
	}
	return x, true
}

func (l *looker) lotFact(id string) (lookback.Fact, bool) {
	v := l.w.Lots[id]
	if v == nil {
		return lookback.Fact{}, false
	}
	x := lookback.Fact{Kind: "lot", ID: id, Name: l.w.LotWords(v), State: "in use"}
	switch {
	case v.Stopped != nil:
		x.State = "stopped"
	case v.Ended != 0:
		x.State = "used up"
	}
	return x, true
}

func (l *looker) pieceFact(id string) (lookback.Fact, bool) {
	p := l.w.Pieces[id]
	if p == nil {
		return lookback.Fact{}, false
	}
	x := lookback.Fact{Kind: "piece", ID: id, Kit: p.Kit, Name: l.pieceName(id),
		State: p.State.String(), Cycle: p.Cycle}
	if k := l.w.Kits[p.Kit]; k != nil && l.w.Loans[k.Loan].Open() {
		x.Loan = k.Loan
	}
	return x, true
}

func (l *looker) kitOf(piece string) string {
	if p := l.w.Pieces[piece]; p != nil {
		return p.Kit
	}
	return ""
}

func (l *looker) pieceName(id string) string {
	p := l.w.Pieces[id]
	if p == nil {
		return "piece " + id
	}
	name := string(p.Kind) + " " + p.Serial
	if k := l.w.Kits[p.Kit]; k != nil {
		name = "kit " + k.Number + ", " + name
	}
	return name
}

// Upto gives the entries up to one number, that one included.
func Upto(entries Entries, size int64) Entries {
	return func(yield func([]byte, error) bool) {
		n := int64(0)
		for body, err := range entries {
			if n++; n > size || !yield(body, err) {
				return
			}
		}
	}
}

// Wanted lists, for what is to be done about each piece that an answer names, the facts of it;
// a piece stands once, what is most urgent first: called back, stopped, started again.
func Wanted(f lookback.Frozen) []reprocess.NamedPiece {
	facts := map[string]lookback.Fact{}
	for _, x := range f.Facts {
		if x.Kind == "piece" {
			facts[x.ID] = x
		}
	}
	done := map[string]bool{}
	var all []reprocess.NamedPiece
	for _, part := range []struct {
		do  string
		ids []string
	}{{reprocess.DoCallBack, f.Result.Recall}, {reprocess.DoStop, f.Result.Embargo},
		{reprocess.DoRestart, f.Result.Restart}} {
		for _, id := range part.ids {
			x := facts[id]
			if !done[id] {
				done[id] = true
				all = append(all, reprocess.NamedPiece{Kit: x.Kit, Piece: id, Do: part.do,
					Cycle: x.Cycle, Loan: x.Loan})
			}
		}
	}
	return all
}
