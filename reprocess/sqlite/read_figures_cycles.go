package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"hash/maphash"
	"runtime"
	"sync"

	"handback/reprocess"
	"handback/reprocess/figures"
)

// cycleMemo keeps cycles as they were read from their rows. Reading the JSON of one takes fifty
// times as long as fetching its row and seeing that it is still the same, and figures go through
// thousands. A row is known by its length and a hash under a seed of this process's own; a cycle
// that was corrected has another row. What is given must not be changed.
type cycleMemo struct {
	mu   sync.Mutex
	kept map[string]keptCycle // by id

	tries *figures.Tries // of the cycles that are kept
}

type keptCycle struct {
	length int
	sum    uint64
	cycle  *reprocess.Cycle
}

// maxKept bounds the memo: some eight kilobytes each.
const maxKept = 8000

var cycleSeed = maphash.MakeSeed()

// of finds a cycle whose row has not changed; nil: there is none.
func (m *cycleMemo) of(id string, doc []byte) *reprocess.Cycle {
	m.mu.Lock()
	defer m.mu.Unlock()
	k, ok := m.kept[id]
	if !ok || k.length != len(doc) || k.sum != maphash.Bytes(cycleSeed, doc) {
		return nil
	}
	return k.cycle
}

// keep takes cycles that were read. When there is no room, what was there before goes.
func (m *cycleMemo) keep(jobs []cycleJob) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.kept == nil || len(m.kept)+len(jobs) > maxKept {
		m.kept, m.tries = map[string]keptCycle{}, new(figures.Tries)
	}
	for _, j := range jobs[:min(len(jobs), maxKept)] {
		m.kept[j.id] = keptCycle{len(j.doc), maphash.Bytes(cycleSeed, j.doc), j.cycle}
	}
}

// known gives what was worked out of the cycles that are kept; nil before there are any.
func (m *cycleMemo) known() *figures.Tries {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.tries
}

// cycleJob is a row that has to be read.
type cycleJob struct {
	at    int // place in the list
	id    string
	doc   []byte
	cycle *reprocess.Cycle
}

// ended lists the cycles that ended within from <= t < to, by the time and then by their ids.
func (m *cycleMemo) ended(ctx context.Context, q querier, from, to reprocess.Instant) (
	[]*reprocess.Cycle, error) {
	rows, err := q.QueryContext(ctx, `SELECT id, doc FROM cycle WHERE open = 0 AND
		ended >= ? AND ended < ? ORDER BY ended, id`, int64(from), int64(to))
	if err != nil {
		return nil, storeFault(err)
	}
	defer rows.Close()
	var list []*reprocess.Cycle
	var jobs []cycleJob
	for rows.Next() {
		var id string
		var doc sql.RawBytes
		if err := rows.Scan(&id, &doc); err != nil {
			return nil, storeFault(err)
		}
		c := m.of(id, doc)
		if c == nil {
			jobs = append(jobs, cycleJob{at: len(list), id: id, doc: append([]byte(nil), doc...)})
		}
		list = append(list, c)
	}
	if err := errors.Join(storeFault(rows.Err()), readJobs(jobs)); err != nil {
		return nil, err
	}
	for _, j := range jobs {
		list[j.at] = j.cycle
	}
	if len(jobs) > 0 {
		m.keep(jobs)
	}
	return list, nil
}

// readJobs reads rows on all processors.
func readJobs(jobs []cycleJob) error {
	workers := min(runtime.GOMAXPROCS(0), len(jobs))
	failed := make([]error, workers)
	var all sync.WaitGroup
	for w := range workers {
		all.Go(func() {
			for i := w; i < len(jobs) && failed[w] == nil; i += workers {
				jobs[i].cycle = new(reprocess.Cycle)
				failed[w] = json.Unmarshal(jobs[i].doc, jobs[i].cycle)
			}
		})
	}
	all.Wait()
	if err := errors.Join(failed...); err != nil {
		return reprocess.AsProblem(err)
	}
	return nil
}
