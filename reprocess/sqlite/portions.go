package sqlite

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
)

// portions is a fold whose memory is bounded by the pool and the work in hand, not by the
// history: once it holds more rows of the growing tables than its limit, the changed ones are
// written to tables and all of them let go of. What a later entry names is read from there
// again, exactly as the writer does between two batches. A history that never reaches the limit
// is folded in memory alone.
type portions struct {
	world *reprocess.World
	limit int
	dirty map[reprocess.Ref]bool // changed since they were last written

	// tables says where rows are written and read again; it is asked once, before the first.
	tables func() (querier, putter, error)
	facts  *loader // nil: nothing was written yet
	put    putter
}

// portionLimit is how many rows of growing tables a fold holds, some 3 KB each.
const portionLimit = 4000

func newPortions(limit int, tables func() (querier, putter, error)) *portions {
	if limit == 0 {
		limit = portionLimit
	}
	return &portions{world: reprocess.NewWorld(), limit: limit, tables: tables,
		dirty: map[reprocess.Ref]bool{}}
}

// growing are the read tables whose rows come with the work and not with the pool. All others
// stay in memory.
var growing = []reprocess.Table{reprocess.TableCycle, reprocess.TableLoan, reprocess.TableLot,
	reprocess.TableContainer, reprocess.TableLabel, reprocess.TableDaybook, reprocess.TableWant,
	reprocess.TableFinding}

// held counts the rows of growing tables in memory.
func (p *portions) held() int {
	w := p.world
	return len(w.Cycles) + len(w.Loans) + len(w.Lots) + len(w.Containers) + len(w.Labels) +
		len(w.Daybooks) + len(w.Wants) + len(w.Findings)
}

// take folds the next entry.
func (p *portions) take(ctx context.Context, e *reprocess.Entry) error {
	if p.facts != nil {
		if err := p.facts.ensure(ctx, entryRefs(e)...); err != nil {
			return err
		}
	}
	reprocess.Apply(p.world, e)
	for _, r := range p.world.Touched() {
		p.dirty[r] = true
	}
	if p.held() <= p.limit {
		return nil
	}
	return p.letGo()
}

// written tells whether rows were let go of, so that memory no longer holds all.
func (p *portions) written() bool { return p.facts != nil }

// letGo writes what changed and forgets the rows of the growing tables.
func (p *portions) letGo() error {
	if err := p.write(); err != nil {
		return err
	}
	w := p.world
	clear(w.Cycles)
	clear(w.Loans)
	clear(w.Lots)
	clear(w.Containers)
	clear(w.Labels)
	clear(w.Daybooks)
	clear(w.Wants)
	clear(w.Findings)
	clear(p.facts.seen)
	return nil
}

// write writes the rows that changed since the last time.
func (p *portions) write() error {
	if p.facts == nil {
		q, put, err := p.tables()
		if err != nil {
			return err
		}
		p.facts, p.put = newLoader(q), put
		p.facts.w = p.world
	}
	err := flushRows(p.put, p.world, p.dirty)
	clear(p.dirty)
	return err
}

// flushRows writes rows of the read tables from a world, in one order for one set of changes.
func flushRows(put putter, w *reprocess.World, rows map[reprocess.Ref]bool) error {
	refs := make([]reprocess.Ref, 0, len(rows))
	for r := range rows {
		refs = append(refs, r)
	}
	slices.SortFunc(refs, func(a, b reprocess.Ref) int {
		if a.Table != b.Table {
			return strings.Compare(string(a.Table), string(b.Table))
		}
		return strings.Compare(a.ID, b.ID)
	})
	for _, r := range refs {
		entity := w.Get(r)
		if entity == nil {
			return fmt.Errorf("table %s, row %s: changed but not there", r.Table, r.ID)
		}
		t := tableOf(r.Table)
		if r.Table == reprocess.TableSettings {
			if err := put(clearSettings); err != nil {
				return err
			}
			r.ID = w.Settings.Site
		}
		row, err := t.row(r.ID, entity)
		if err != nil {
			return err
		}
		if err := put(t.upsert, row...); err != nil {
			return err
		}
	}
	return nil
}
