package export

import (
	"maps"
	"slices"
	"strings"
	"time"

	"handback/reprocess"
	"handback/reprocess/lookback"
)

// LookBack answers a look-back from the entries. Keys may be ids or what people read: a lot's
// printed number, a product's, model's or person's name, a container's printed number, a
// serial, a procedure with or without its version. A key that the log does not know is refused:
// a slip of the finger must not read as "nobody was exposed". Entries later than AsOf are not
// looked at. references (see sqlite.Snapshot) joins loans of one wearer; it may be nil.
func LookBack(q lookback.Query, entries Entries, references map[string]string) (lookback.Result,
	error) {
	return newLooker(q, references).run(entries)
}

func newLooker(q lookback.Query, references map[string]string) *looker {
	return &looker{w: reprocess.NewWorld(), q: q, references: references,
		batches: map[string]bool{}}
}

func (l *looker) run(entries Entries) (lookback.Result, error) {
	if err := l.q.Check(); err != nil {
		return lookback.Result{}, err
	}
	if err := l.fold(entries); err != nil {
		return lookback.Result{}, err
	}
	if err := l.resolve(); err != nil {
		return lookback.Result{}, err
	}
	r, err := lookback.Run(l.q, l.cycles(), l.loans())
	if err != nil {
		return r, err
	}
	return l.join(r), nil
}

// looker turns a world into what package lookback asks for.
type looker struct {
	w          *reprocess.World
	q          lookback.Query
	references map[string]string
	paper      []paperRelease
	lots       map[string]bool // asked for
	cells      bool            // they are lots of cells
	pads       bool            // they are lots of electrodes
	containers map[string]bool
	products   map[string]bool
	batches    map[string]bool // lots prepared from what was asked for
	models     map[string]bool
	procedures map[string]bool
}

// fold takes the entries up to the moment asked about. A release that was taken over from
// paper is noted at once: the kit forgets it when it comes back.
func (l *looker) fold(entries Entries) error {
	for body, err := range entries {
		if err != nil {
			return err
		}
		e, err := readEntry(body)
		if err != nil {
			return err
		}
		if !l.q.AsOf.IsZero() && e.At.Time().After(l.q.AsOf) {
			continue
		}
		reprocess.Apply(l.w, e)
		for _, b := range e.Events {
			v, ok := b.Event.(reprocess.KitRegistered)
			if ok && v.Kit.Release != nil && e.Result == reprocess.ResultDone {
				l.paper = append(l.paper, paperRelease{e.At.Time(), v.Kit.Pieces})
			}
		}
	}
	return nil
}

// paperRelease is a release of before the log.
type paperRelease struct {
	at     time.Time
	pieces []string
}

// cycles lists every cycle, and for what was ready on paper before the log began one without
// a known attempt, so that it shows as unresolved rather than not at all.
func (l *looker) cycles() []lookback.Cycle {
	if l.pads {
		return l.electrodes()
	}
	var list []lookback.Cycle
	for _, c := range l.w.Cycles {
		if l.skipped(c.Piece) {
			continue
		}
		v := lookback.Cycle{ID: c.ID, Device: c.Piece, People: people(c), Instruments: measuredWith(c),
			Model:     l.named(l.models, l.q.Model, l.model(c.Piece)),
			Procedure: l.named(l.procedures, l.q.Procedure, c.Procedure)}
		if c.End == reprocess.EndReleased {
			v.Released = c.Ended.Time()
		}
		if l.cells {
			v.Attempts = l.cellAttempts(c)
		} else {
			v.Attempts = l.attempts(c)
		}
		list = append(list, v)
	}
	return append(append(list, l.takenOver()...), l.fittedAtOut()...)
}

// skipped: lots of cells and of electrodes concern recorders alone.
func (l *looker) skipped(piece string) bool {
	p := l.w.Pieces[piece]
	return (l.cells || l.pads) && p != nil && p.Kind != reprocess.Recorder
}

// named writes what was asked for where an id is one of those that it means.
func (l *looker) named(set map[string]bool, key, id string) string {
	if set[id] {
		return key
	}
	return id
}

func (l *looker) model(piece string) string {
	if p := l.w.Pieces[piece]; p != nil {
		return p.Model
	}
	return ""
}

// people are all who recorded something in the cycle, and who released it.
func people(c *reprocess.Cycle) []string {
	ids := addOnce(nil, c.Releaser)
	for _, r := range c.Records {
		if !r.Undone {
			did, _ := r.Did()
			ids = addOnce(ids, r.By, did, r.Second)
		}
	}
	return ids
}

// attempts are the wettings, each from "wet now" to its end. What the cycle's progress forgets
// when a piece is wetted anew still counts here.
func (l *looker) attempts(c *reprocess.Cycle) []lookback.Attempt {
	var list []lookback.Attempt
	part := reprocess.Cycle{}
	flush := func() {
		for _, i := range part.Progress().Wet.Intervals {
			list = append(list, lookback.Attempt{At: i.From.At.Time(), Uses: l.uses(i),
				OK: i.Conforms(), Instrument: l.readBy(i)})
		}
		part.Records = nil
	}
	for _, r := range c.Records {
		switch r.Kind {
		case reprocess.RecWetNow, reprocess.RecPaperWet:
			if part.Progress().Wet.Conforms() {
				flush()
			}
			fallthrough
		case reprocess.RecLooksWet, reprocess.RecSeenDry, reprocess.RecNotWatched:
			part.Records = append(part.Records, r)
		}
	}
	flush()
	return list
}

// uses joins each container of an interval to its lot.
func (l *looker) uses(i reprocess.Interval) []lookback.Use {
	var list []lookback.Use
	for n, id := range i.Containers {
		lot := ""
		if c := l.w.Containers[id]; c != nil {
			lot = c.Lot
		} else if len(i.Lots) == len(i.Containers) {
			lot = i.Lots[n]
		}
		product := l.named(l.products, l.q.Product, i.Product)
		if l.batches[lot] && l.q.Product != "" {
			product = l.q.Product
		}
		list = append(list, lookback.Use{Product: product,
			Lot: l.named(l.lots, l.q.Lot, lot), Container: l.named(l.containers, l.q.Container, id)})
	}
	return list
}

// cellAttempts are the answers on the new cell: the last one that counted is what is in it.
func (l *looker) cellAttempts(c *reprocess.Cycle) []lookback.Attempt {
	var list []lookback.Attempt
	for _, r := range c.Records {
		lot := r.Answered("cell")
		if r.Undone || r.Step != reprocess.StepBattery || lot == "" {
			continue
		}
		ok := !slices.ContainsFunc(r.Answers, func(a reprocess.Answer) bool {
			return a.Effect == reprocess.EffectAgain || a.Effect == reprocess.EffectHold
		})
		list = append(list, lookback.Attempt{At: r.Mark.At.Time(), OK: ok,
			Uses: []lookback.Use{{Lot: l.named(l.lots, l.q.Lot, lot)}}})
	}
	return list
}

// TakenOver begins the name of what was ready on paper before the log began; the id of its
// piece follows.
const TakenOver = "taken-over "

// takenOver are the releases of before the log. One that the window cannot reach gets an
// attempt at its own time, which matches nothing.
func (l *looker) takenOver() []lookback.Cycle {
	var list []lookback.Cycle
	for _, p := range l.paper {
		for _, id := range p.pieces {
			if l.skipped(id) {
				continue
			}
			c := lookback.Cycle{ID: TakenOver + id, Device: id, Released: p.at,
				Model: l.named(l.models, l.q.Model, l.model(id))}
			if l.q.From.After(p.at) {
				c.Attempts = []lookback.Attempt{{At: p.at, OK: true}}
			}
			list = append(list, c)
		}
	}
	return list
}

// sep joins a loan and one of its pieces: package lookback knows single devices.
const sep = "\x00"

func (l *looker) loans() []lookback.Loan {
	var list []lookback.Loan
	for _, v := range l.w.Loans {
		if v.Undone || l.wearersKnown(v) {
			continue // the pack never left, or each wearer has a loan of their own
		}
		for _, id := range v.Pieces {
			if !l.skipped(id) {
				list = append(list, lookback.Loan{Episode: v.ID + sep + id, Device: id,
					Wearer: l.wearer(v), Issued: moment(v.Out), Returned: moment(v.Back)})
			}
		}
	}
	return list
}

func (l *looker) wearer(v *reprocess.Loan) string {
	if r := l.references[v.Wearer]; r != "" {
		return "reference " + r
	}
	return v.Wearer
}

func moment(i reprocess.Instant) time.Time {
	if i == 0 {
		return time.Time{}
	}
	return i.Time()
}

// join makes loans of loans and pieces again, and judges "went out unreleased" by what the
// loan itself says: one that was recorded after the fact, or went out on no release.
func (l *looker) join(r lookback.Result) lookback.Result {
	sources := map[string][]string{}
	for _, key := range r.Exposed { // in order, so that lists come out the same each time
		episode, _, _ := strings.Cut(key, sep)
		sources[episode] = addOnce(sources[episode], loansOf(r.Sources[key])...)
		if sources[episode] == nil {
			sources[episode] = []string{}
		}
	}
	r.Sources = sources
	for _, list := range []*[]string{&r.Exposed, &r.Unbounded, &r.Unresolved} {
		*list = sortedOnce(loansOf(*list))
	}
	r.Batches = slices.Sorted(maps.Keys(l.batches))
	r.Unreleased = []string{}
	for _, v := range l.w.Loans {
		piece := l.q.Piece == "" || slices.Contains(v.Pieces, l.q.Piece)
		none := v.After || v.Release == 0 || v.SharedUnreleased()
		if piece && !v.Undone && !v.TakenOver && none {
			r.Unreleased = append(r.Unreleased, v.ID)
		}
	}
	slices.Sort(r.Unreleased)
	return r
}

func loansOf(keys []string) []string {
	var ids []string
	for _, k := range keys {
		id, _, _ := strings.Cut(k, sep)
		ids = addOnce(ids, id)
	}
	return ids
}

func sortedOnce(ids []string) []string {
	ids = append([]string{}, ids...)
	slices.Sort(ids)
	return slices.Compact(ids)
}
