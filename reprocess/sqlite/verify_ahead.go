package sqlite

import (
	"iter"
	"runtime"
	"slices"
	"sync"

	"handback/reprocess"
)

// ready is an entry with what follows from its bytes alone, made beside the comparing.
type ready struct {
	seq  int64 // as it has to be
	at   any   // as it is stored
	raw  any
	body []byte
	e    *reprocess.Entry
	act  []any   // its row of the table act
	refs [][]any // its rows of act_ref, in order
	err  error   // the first thing that is wrong with it
}

// aheadEntries is how many entries are read ahead; two such portions are held.
const aheadEntries = 256

// ahead is a portion of entries that are being made ready.
type ahead struct {
	list []ready
	err  error // of reading, behind the last of them
	done sync.WaitGroup
}

// inOrder gives the entries of a stream one by one, in order, as they have to be numbered from
// the first. While one portion is used the next is made ready on the other cores; the database
// is read by the caller alone.
func inOrder(s *stream) iter.Seq2[*ready, error] {
	return func(yield func(*ready, error) bool) {
		seq := int64(1)
		for next := readAhead(s, seq); ; {
			now := next
			seq += int64(len(now.list))
			if now.err == nil && len(now.list) > 0 {
				next = readAhead(s, seq)
			}
			now.done.Wait()
			for i := range now.list {
				if !yield(&now.list[i], nil) {
					return
				}
			}
			if now.err != nil {
				yield(nil, now.err)
				return
			}
			if len(now.list) == 0 {
				return
			}
		}
	}
}

// readAhead reads a portion and begins to make it ready. Behind a gap nothing is read: there the
// check ends.
func readAhead(s *stream, seq int64) *ahead {
	a := &ahead{}
	for whole := true; whole && s.row != nil && len(a.list) < aheadEntries; seq++ {
		whole = s.row[0] == seq
		a.list = append(a.list, ready{seq: seq, at: s.row[0], raw: s.row[1]})
		if a.err = s.next(); a.err != nil {
			break
		}
	}
	if len(a.list) == 0 {
		return a
	}
	share := len(a.list)/max(1, runtime.GOMAXPROCS(0)-1) + 1
	for part := range slices.Chunk(a.list, share) {
		a.done.Go(func() {
			for i := range part {
				part[i].prepare()
			}
		})
	}
	return a
}

// prepare reads the entry as far as its bytes alone tell.
func (r *ready) prepare() {
	if at, ok := r.at.(int64); !ok || at != r.seq {
		r.err = entryDiffers(r.seq, "missing; the next one there is %v", r.at)
		return
	}
	var ok bool
	if r.body, ok = r.raw.([]byte); !ok {
		r.err = entryDiffers(r.seq, "its body is not bytes")
		return
	}
	if r.e, r.err = checkedEntry(r.seq, r.body); r.err != nil {
		return
	}
	r.act, r.refs = actRow(r.e), refRows(r.seq, sortedRefs(r.e))
}
