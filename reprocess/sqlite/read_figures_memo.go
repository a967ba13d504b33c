package sqlite

import (
	"context"
	"sync"

	"handback/reprocess"
	"handback/reprocess/figures"
)

// figuresMemo keeps what was counted of the latest periods as long as no entry is added: all of
// it follows from the entries alone, so the number of entries tells whether it still holds.
type figuresMemo struct {
	mu    sync.Mutex
	size  int64 // entries that it is true for
	facts map[figuresSpan]*figures.Facts

	cycles cycleMemo // which outlives entries
}

type figuresSpan struct{ from, to reprocess.Instant }

// maxSpans bounds the memo; a thirteenth period empties it.
const maxSpans = 12

// Figures loads what is counted about a period, From <= t < To, from one moment of the
// database: the cycles that ended in it, the loans that touch it, the rare entries about holds
// and waiting up to its end, and the refusals. Nothing in it may be changed: as long as no entry
// is added the same facts are given again. Cost when they are not: the cycles of the period,
// about 0.1 ms each the first time and a hundredth of that after (BenchmarkFigures).
func (s *Store) Figures(ctx context.Context, from, to reprocess.Instant) (*figures.Facts, error) {
	size, err := s.Size(ctx)
	if err != nil {
		return nil, err
	}
	span := figuresSpan{from, to}
	if f := s.figures.get(size, span); f != nil {
		return f, nil
	}
	f, size, err := s.loadFigures(ctx, from, to)
	if err != nil {
		return nil, err
	}
	s.figures.put(size, span, f)
	return f, nil
}

func (m *figuresMemo) get(size int64, span figuresSpan) *figures.Facts {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.size != size {
		return nil
	}
	return m.facts[span]
}

// put keeps facts; of an older size than those it holds it keeps none.
func (m *figuresMemo) put(size int64, span figuresSpan, f *figures.Facts) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if size < m.size {
		return
	}
	if size > m.size || m.facts == nil || len(m.facts) >= maxSpans {
		m.size, m.facts = size, map[figuresSpan]*figures.Facts{}
	}
	m.facts[span] = f
}
