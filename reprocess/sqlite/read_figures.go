package sqlite

import (
	"context"
	"database/sql"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/figures"
)

// loadFigures reads the facts and the number of entries that they are true for.
func (s *Store) loadFigures(ctx context.Context, from, to reprocess.Instant) (
	f *figures.Facts, size int64, err error) {
	f = &figures.Facts{Ends: map[string][]reprocess.Instant{},
		Registered: map[string]reprocess.Instant{}}
	f.World, err = s.snapshot(ctx, func(l *loader) error {
		err := l.q.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM entry`).Scan(&size)
		if err != nil {
			return err
		}
		if err := l.where(ctx, reprocess.TableKit, "", nil); err != nil {
			return err
		}
		if err := l.where(ctx, reprocess.TablePiece, "", nil); err != nil {
			return err
		}
		return s.figures.load(ctx, l.q, f, from, to)
	})
	return f, size, err
}

func (m *figuresMemo) load(ctx context.Context, q querier, f *figures.Facts,
	from, to reprocess.Instant) (err error) {
	if f.Cycles, err = m.cycles.ended(ctx, q, from, to); err != nil {
		return err
	}
	f.Tries = m.cycles.known()
	// a day either way: due days are days of the clinic's zone
	f.Loans, err = all[reprocess.Loan](ctx, q, `SELECT doc FROM loan WHERE
		(out_at < ? AND (open = 1 OR back >= ?)) OR (due >= ? AND due <= ?)
		ORDER BY out_at, id`, int64(to), int64(from), day(from, -1), day(to, 1))
	if err != nil {
		return err
	}
	if err := earlierLoans(ctx, q, f); err != nil {
		return err
	}
	if f.Marks, err = marked(ctx, q, to); err != nil {
		return err
	}
	if err := ends(ctx, q, f); err != nil {
		return err
	}
	return refused(ctx, q, f, from, to)
}

// earlierLoans adds the loans that the cycles follow and that ended before the period.
func earlierLoans(ctx context.Context, q querier, f *figures.Facts) error {
	there := map[string]bool{"": true}
	for _, l := range f.Loans {
		there[l.ID] = true
	}
	var ids []string
	for _, c := range f.Cycles {
		if !there[c.Loan] {
			there[c.Loan] = true
			ids = append(ids, c.Loan)
		}
	}
	for len(ids) > 0 {
		some := ids[:min(len(ids), 500)]
		ids = ids[len(some):]
		list, err := loansOf(ctx, q, some)
		if err != nil {
			return err
		}
		f.Loans = append(f.Loans, list...)
	}
	return nil
}

// loansOf reads loans in the order of their ids.
func loansOf(ctx context.Context, q querier, ids []string) ([]*reprocess.Loan, error) {
	args := make([]any, len(ids))
	place := map[string]int{}
	for i, id := range ids {
		args[i], place[id] = id, i
	}
	list, err := all[reprocess.Loan](ctx, q, `SELECT doc FROM loan WHERE id IN (?`+
		strings.Repeat(", ?", len(ids)-1)+`)`, args...)
	slices.SortFunc(list, func(a, b *reprocess.Loan) int { return place[a.ID] - place[b.ID] })
	return list, err
}

// day is the day of a moment in UTC, moved by n.
func day(at reprocess.Instant, n int) string {
	return string(reprocess.DateIn(at, nil).AddDays(n))
}

// marked reads the entries with marked events, the oldest first.
func marked(ctx context.Context, q querier, to reprocess.Instant) ([]*reprocess.Entry, error) {
	args := make([]any, 0, len(markedEvents)+1)
	for _, name := range markedEvents {
		args = append(args, name)
	}
	return entriesOf(ctx, q, `SELECT e.body FROM act JOIN entry e ON e.seq = act.seq WHERE
		act.at < ? AND act.seq IN (SELECT seq FROM act_ref WHERE kind = 'event' AND id IN (?`+
		strings.Repeat(", ?", len(args)-1)+`)) ORDER BY act.seq`, append([]any{int64(to)}, args...)...)
}

// entriesOf reads the entries whose bodies a query answers.
func entriesOf(ctx context.Context, q querier, query string, args ...any) (
	[]*reprocess.Entry, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []*reprocess.Entry
	for rows.Next() {
		var body sql.RawBytes
		if err := rows.Scan(&body); err != nil {
			return nil, err
		}
		e, err := readEntry(body)
		if err != nil {
			return nil, err
		}
		list = append(list, e)
	}
	return list, rows.Err()
}

// ends notes when each kit was registered, and when its waiting ended at the latest.
func ends(ctx context.Context, q querier, f *figures.Facts) error {
	rows, err := q.QueryContext(ctx, `SELECT act.kit, act.at, r.id FROM act_ref r
		JOIN act ON act.seq = r.seq WHERE r.kind = 'event' AND r.id IN ('ends_waiting', 'taken_back',
		'kit_registered') AND act.kit <> '' ORDER BY act.seq`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var kit, what string
		var at reprocess.Instant
		if err := rows.Scan(&kit, &at, &what); err != nil {
			return err
		}
		if what != "kit_registered" {
			f.Ends[kit] = append(f.Ends[kit], at)
		} else if f.Registered[kit] == 0 {
			f.Registered[kit] = at
		}
	}
	for _, list := range f.Ends {
		slices.Sort(list) // a clock that was set back
	}
	return rows.Err()
}

func refused(ctx context.Context, q querier, f *figures.Facts, from, to reprocess.Instant) error {
	rows, err := q.QueryContext(ctx, `SELECT at, act, rule, kit FROM act WHERE result <> 'done'
		AND at >= ? AND at < ? ORDER BY seq`, int64(from), int64(to))
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var r figures.Refused
		if err := rows.Scan(&r.At, &r.Act, &r.Rule, &r.Kit); err != nil {
			return err
		}
		f.Refused = append(f.Refused, r)
	}
	return rows.Err()
}
