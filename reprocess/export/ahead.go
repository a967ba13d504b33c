package export

import (
	"iter"
	"runtime"
	"slices"
	"sync"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// readLine is an entry with what its bytes alone tell; it lasts until the next is asked for.
type readLine struct {
	*reprocess.Entry
	leaf ledger.Hash
	body []byte
	err  error
}

// aheadEntries is how many entries are read ahead; two such portions are held.
const aheadEntries = 256

// portion is some entries that are being read on other cores.
type portion struct {
	list []readLine // those in use; the rest of its capacity keeps its bytes for the next time
	err  error      // of the source, behind the last of them
	done sync.WaitGroup
}

// inOrder reads entries, each once and in order: while one portion is used, the next is read on
// the other cores. The source is asked by the caller's goroutine alone.
func inOrder(entries Entries) iter.Seq2[*readLine, error] {
	return func(yield func(*readLine, error) bool) {
		now, next := new(portion), new(portion)
		for body, err := range entries {
			if err != nil {
				next.err = err
				break
			}
			if next.add(body); len(next.list) < aheadEntries {
				continue
			}
			next.begin()
			if !now.each(yield) {
				return
			}
			now, next = next, now
			next.list = next.list[:0]
		}
		next.begin()
		if now.each(yield) {
			next.each(yield)
		}
	}
}

// add copies a body: the source may use its memory again.
func (p *portion) add(body []byte) {
	n := len(p.list)
	p.list = slices.Grow(p.list, 1)[:n+1]
	p.list[n].body = append(p.list[n].body[:0], body...)
}

// begin reads the portion beside the caller.
func (p *portion) begin() {
	if len(p.list) == 0 {
		return
	}
	share := len(p.list)/max(1, runtime.GOMAXPROCS(0)-1) + 1
	for part := range slices.Chunk(p.list, share) {
		p.done.Go(func() {
			for i := range part {
				part[i].Entry, part[i].err = readEntry(part[i].body)
				part[i].leaf = ledger.LeafHash(part[i].body)
			}
		})
	}
}

// each waits for the portion and gives its entries; false when there is an end.
func (p *portion) each(yield func(*readLine, error) bool) bool {
	p.done.Wait()
	for i := range p.list {
		if err := p.list[i].err; err != nil {
			yield(nil, err)
			return false
		}
		if !yield(&p.list[i], nil) {
			return false
		}
	}
	if p.err != nil {
		yield(nil, p.err)
	}
	return p.err == nil
}
