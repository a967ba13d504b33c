package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// scribe is what the writer goroutine knows between batches. It is right because nobody else
// writes; after any failed transaction it is forgotten and read again.
type scribe struct {
	store  *Store
	tree   *ledger.Tree // nil: not taken up yet; its size is the number of entries
	facts  *loader
	chains map[string]link
	stmts  map[string]*sql.Stmt
	zone   zone
}

// link is the newest entry of a kit.
type link struct {
	n    int64
	leaf ledger.Hash
}

// zone remembers the clinic's time zone by its name.
type zone struct {
	name string
	loc  *time.Location
}

// maxCycles bounds the cache of facts: above it the cache is emptied after a commit.
const maxCycles = 5000

func newScribe(s *Store) *scribe { return &scribe{store: s, stmts: map[string]*sql.Stmt{}} }

// forget empties every cache.
func (w *scribe) forget() { w.tree, w.facts, w.chains = nil, nil, nil }

// takeUp fills what is missing of the caches, reading through the batch's transaction.
func (w *scribe) takeUp(ctx context.Context, tx *sql.Tx) error {
	if w.facts == nil {
		w.facts = newLoader(tx)
	}
	w.facts.q = tx
	if w.tree != nil {
		return nil
	}
	var size int64
	err := tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM entry`).Scan(&size)
	if err != nil {
		return err
	}
	w.chains = map[string]link{}
	w.tree, err = ledger.Resume(size, nodes(ctx, tx))
	return err
}

// nodes reads stored hashes of the tree.
func nodes(ctx context.Context, q querier) ledger.HashReader {
	return func(indexes []int64) ([]ledger.Hash, error) {
		hashes := make([]ledger.Hash, len(indexes))
		for i, at := range indexes {
			var h []byte
			err := q.QueryRowContext(ctx, `SELECT h FROM node WHERE i = ?`, at).Scan(&h)
			if err == nil && len(h) != len(hashes[i]) {
				err = errors.New("it is not 32 bytes")
			}
			if err != nil {
				return nil, fmt.Errorf("stored hash %d: %w", at, err)
			}
			hashes[i] = ledger.Hash(h)
		}
		return hashes, nil
	}
}

// batch collects what one transaction will write.
type batch struct {
	first  int64 // number of the first new entry
	bodies [][]byte
	nodes  []ledger.Node
	acts   []*reprocess.Entry
	refs   [][]reprocess.Ref // by act
	keys   map[string]int64
	chains map[string]bool
	rows   map[reprocess.Ref]bool
}

// decide answers one ask: from an earlier entry with its key, or by asking the rule and adding
// an entry to the batch. Its error is of the store, never of the command.
func (w *scribe) decide(ctx context.Context, tx *sql.Tx, b *batch, a *ask) error {
	a.body, a.problem, a.seq, a.done, a.repeat = nil, nil, 0, false, false
	if a.behind != nil && !a.behind.done {
		return nil
	}
	if a.problem = checkKey(a.Key); a.problem != nil {
		return nil
	}
	if known, err := w.known(ctx, tx, b, a); known || err != nil {
		return err
	}
	if err := w.facts.needs(ctx, a.Cmd.Needs()); err != nil {
		return err
	}
	if a.problem = w.refresh(&a.Actor); a.problem != nil {
		return nil
	}
	w.freeze(a)
	events, p := reprocess.Decide(w.facts.w, a.Cmd, a.Actor, *a.now, w.tree.Size()+1)
	if p != nil && !recorded(p.Code) {
		a.problem = p
		return nil
	}
	e := w.draft(a, events, p)
	if err := w.chain(ctx, tx, e, a.Cmd.Needs().Kit); err != nil {
		return err
	}
	body, p := canonical(e, a)
	if p != nil {
		a.problem = p
		return nil
	}
	return w.enter(ctx, b, a, body)
}

// known answers a repeated key from its entry. The same key for another act, kit or
// person is a mistake of a form, not a repeat.
func (w *scribe) known(ctx context.Context, tx *sql.Tx, b *batch, a *ask) (bool, error) {
	if a.Key == "" {
		return false, nil
	}
	var body []byte
	seq, here := b.keys[a.Key]
	if here {
		body = b.bodies[seq-b.first]
	} else {
		err := tx.StmtContext(ctx, w.stmts[selectKey]).QueryRowContext(ctx, a.Key).Scan(&body)
		if errors.Is(err, sql.ErrNoRows) {
			return false, nil
		}
		if err != nil {
			return false, err
		}
	}
	e, err := readEntry(body)
	if err != nil {
		return false, err
	}
	named := a.Cmd.Needs().Kit
	otherKit := named != "" && e.Kit != "" && named != e.Kit
	if e.Act != a.Cmd.Act() || otherKit || a.Actor.Person == nil ||
		e.By != a.Actor.Person.ID {
		a.problem = &reprocess.Problem{Code: reprocess.Conflict, Rule: "key_used",
			Text: "This form was already used for something else.",
			Fix:  "Open the page again and repeat what you did."}
		return true, nil
	}
	a.body, a.seq, a.done, a.repeat = body, e.Seq, e.Result == reprocess.ResultDone, true
	return true, nil
}

// refresh replaces people as the caller knew them by people as they are now: roles may have
// changed since the session began. Only the console is not on the staff.
func (w *scribe) refresh(a *reprocess.Actor) *reprocess.Problem {
	for _, p := range []**reprocess.Person{&a.Person, &a.Second} {
		if *p == nil || (*p).ID == reprocess.Console().Person.ID {
			continue
		}
		if *p = w.facts.w.People[(*p).ID]; *p == nil {
			return &reprocess.Problem{Code: reprocess.Forbidden, Rule: "nobody",
				Text: "This person is not on the staff.", Fix: "Sign in and try again."}
		}
	}
	if a.Person == nil {
		return &reprocess.Problem{Code: reprocess.Forbidden, Rule: "nobody",
			Text: "Nobody is signed in for this.", Fix: "Sign in and try again."}
	}
	return nil
}

// freeze fixes the moment of an ask, in the zone of the clinic.
func (w *scribe) freeze(a *ask) {
	if a.now != nil {
		return
	}
	now := reprocess.Now{}
	if a.Now != nil {
		now = *a.Now
	} else {
		now = w.store.opts.Clock()
	}
	if name := w.facts.w.Settings.Zone; now.Zone == nil && name != "" {
		now.Zone = w.zone.get(name, w.store)
	}
	a.now = &now
}

// recorded tells which problems are kept as refused entries: what a rule or a right said, not
// what could not be understood.
func recorded(c reprocess.Code) bool {
	return c == reprocess.Refused || c == reprocess.Conflict || c == reprocess.Forbidden ||
		c == reprocess.NotFound
}

// draft is the entry but for its place in the kit's chain.
func (w *scribe) draft(a *ask, events []reprocess.Event, p *reprocess.Problem) *reprocess.Entry {
	e := &reprocess.Entry{Seq: w.tree.Size() + 1, At: a.now.UTC, Boot: a.now.Boot,
		Mono: a.now.Mono, Site: w.facts.w.Settings.Site, Act: a.Cmd.Act(),
		Result: reprocess.ResultDone, By: a.Actor.Person.ID, Name: a.Actor.Person.Name,
		Phone: a.Actor.Phone, PhoneAt: a.PhoneAt, Key: a.Key, Signed: a.Actor.Signed}
	if e.Site == "" {
		e.Site = w.store.opts.Site
	}
	if a.Actor.Second != nil {
		e.Second = a.Actor.Second.ID
	}
	for _, event := range events {
		e.Events = append(e.Events, reprocess.Box{Event: event})
	}
	if p != nil {
		e.Result, e.Events = reprocess.ResultRefused, nil
		e.Refusal = &reprocess.Refusal{Code: p.Code, Rule: p.Rule, Text: p.Text, Fix: p.Fix}
	}
	return e
}

// chain puts the entry behind the newest one of its kit: the kit the command names, if there
// is such a kit, or the one that the entry registers.
func (w *scribe) chain(ctx context.Context, tx *sql.Tx, e *reprocess.Entry, named string) error {
	if w.facts.w.Kits[named] != nil {
		e.Kit = named
	}
	for _, b := range e.Events {
		if r, ok := b.Event.(reprocess.KitRegistered); ok && e.Kit == "" {
			e.Kit = r.Kit.ID
		}
	}
	if e.Kit == "" {
		return nil
	}
	before, ok := w.chains[e.Kit]
	if !ok {
		var leaf []byte
		err := tx.QueryRowContext(ctx, `SELECT n, leaf FROM chain WHERE kit = ?`, e.Kit).
			Scan(&before.n, &leaf)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		copy(before.leaf[:], leaf)
		w.chains[e.Kit] = before
	}
	e.KitSeq = before.n + 1
	if before.n > 0 {
		e.KitPrev = before.leaf.String()
	}
	return nil
}

// canonical gives the entry's bytes. For a refusal the command as asked goes along; where that
// has no canonical form it is kept as one text, and where even that is too long, left out.
func canonical(e *reprocess.Entry, a *ask) ([]byte, *reprocess.Problem) {
	if e.Result == reprocess.ResultRefused {
		asked, err := json.Marshal(a.Cmd)
		if err == nil {
			e.Asked = asked
			if body, err := ledger.Canonical(e); err == nil {
				return body, nil
			}
			e.Asked, _ = json.Marshal(string(asked)) // a text always marshals
			if body, err := ledger.Canonical(e); err == nil {
				return body, nil
			}
		}
		e.Asked = nil
	}
	body, err := ledger.Canonical(e)
	if err != nil {
		return nil, &reprocess.Problem{Code: reprocess.Invalid, Rule: "text", Err: err,
			Text: "This cannot be recorded as it was typed: " + err.Error() + ".",
			Fix:  "Correct the text and try again."}
	}
	return body, nil
}

// enter adds the entry's bytes to the batch and folds it. It is folded as it reads back, so
// that the read tables follow from the bytes and from nothing else.
func (w *scribe) enter(ctx context.Context, b *batch, a *ask, body []byte) error {
	e, err := readEntry(body)
	if err != nil {
		return err
	}
	refs := entryRefs(e)
	if err := w.facts.ensure(ctx, refs...); err != nil {
		return err
	}
	reprocess.Apply(w.facts.w, e)
	for _, r := range w.facts.w.Touched() {
		b.rows[r] = true
	}
	leaf, store := w.tree.Append(body)
	if e.Kit != "" {
		w.chains[e.Kit] = link{e.KitSeq, leaf}
		b.chains[e.Kit] = true
	}
	if e.Key != "" {
		b.keys[e.Key] = e.Seq
	}
	b.bodies, b.nodes = append(b.bodies, body), append(b.nodes, store...)
	b.acts, b.refs = append(b.acts, e), append(b.refs, actRefs(e))
	a.body, a.seq, a.done = body, e.Seq, e.Result == reprocess.ResultDone
	return nil
}

// entryRefs lists the rows that the events of an entry name, each once, in order.
func entryRefs(e *reprocess.Entry) []reprocess.Ref {
	var refs []reprocess.Ref
	seen := map[reprocess.Ref]bool{}
	for _, b := range e.Events {
		for _, r := range refsOf(b.Event) {
			if !seen[r] {
				seen[r] = true
				refs = append(refs, r)
			}
		}
	}
	return refs
}
