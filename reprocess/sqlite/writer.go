package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"runtime/debug"

	"handback/reprocess"
)

// job is what the writer takes from its queue: requests, or a side transaction.
type job struct {
	asks   []*ask
	whole  bool // its asks are never replayed one by one
	side   func(tx *sql.Tx) error
	answer chan error // one answer, after the commit
}

// maxBatch bounds how many requests share one commit.
const maxBatch = 500

// submit queues a job and waits for its answer. When ctx ends first the caller is told so,
// but the work goes on: a request's context never reaches the transaction.
func (s *Store) submit(ctx context.Context, j *job) error {
	select {
	case <-s.closing:
		return closed()
	default:
	}
	select {
	case s.jobs <- j:
	case <-s.closing:
		return closed()
	case <-ctx.Done():
		return gaveUp(ctx.Err())
	}
	select {
	case err := <-j.answer:
		return err
	case <-s.done:
		select {
		case err := <-j.answer:
			return err
		default:
			return closed()
		}
	case <-ctx.Done():
		return gaveUp(ctx.Err())
	}
}

func closed() error {
	return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "closing",
		Text: "The server is stopping and nothing was saved.", Fix: "Try again in a minute."}
}

func gaveUp(err error) error {
	return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "slow", Err: err,
		Text: "It took too long to hear whether this was saved.",
		Fix:  "Look at the kit again before you repeat it."}
}

// writer is the one goroutine that writes. It ends when the store closes and the queue is
// empty.
func (s *Store) writer(w *scribe) {
	defer close(s.done)
	defer s.closeAll()
	for {
		select {
		case j := <-s.jobs:
			w.serve(j)
		case <-s.closing:
			for {
				select {
				case j := <-s.jobs:
					w.serve(j)
				default:
					return
				}
			}
		}
	}
}

// serve works on a job and on those that wait behind it, up to one batch; a side transaction
// ends the batch.
func (w *scribe) serve(first *job) {
	batch := []*job{}
	count := 0
	for next := first; next != nil; {
		if next.side != nil {
			w.commitJobs(batch)
			next.answer <- w.runSide(next.side)
			return
		}
		batch, count = append(batch, next), count+len(next.asks)
		next = nil
		if count < maxBatch {
			select {
			case next = <-w.store.jobs:
			default:
			}
		}
	}
	w.commitJobs(batch)
}

// runSide runs a side transaction; a panic in it is an error, never the end of the writer.
func (w *scribe) runSide(f func(tx *sql.Tx) error) (err error) {
	ctx := context.Background()
	tx, err := w.store.writeDB.BeginTx(ctx, nil)
	if err != nil {
		return storeFault(err)
	}
	defer tx.Rollback() // after Commit this does nothing
	defer catch(&err)
	if err := f(tx); err != nil {
		return err
	}
	return storeFault(tx.Commit())
}

// catch turns a panic into an error with its place, for the log.
func catch(err *error) {
	if r := recover(); r != nil {
		*err = fmt.Errorf("panic: %v\n%s", r, debug.Stack())
	}
}
