package sqlite

import (
	"context"

	"handback/reprocess"
)

// LinkLoans lists the returned loans whose link to a wearer reference is not erased, those
// that came back first first: all of a kit, or of every kit when it is "". A limit below 0 is
// none.
func (s *Store) LinkLoans(ctx context.Context, kit string, limit int) ([]*reprocess.Loan, error) {
	return all[reprocess.Loan](ctx, s.read, `SELECT doc FROM loan WHERE wearer <> '' AND back > 0
		AND (? = '' OR kit = ?) AND json_extract(doc, '$.erased') IS NULL
		ORDER BY back, id LIMIT ?`, kit, kit, limit)
}

// DueLinks parts the loans whose link has been kept as long as the clinic says into those that
// the next daily run erases and those that a legal hold keeps.
func (s *Store) DueLinks(ctx context.Context) (due, held []*reprocess.Loan, err error) {
	w, err := s.SetUp(ctx)
	if err != nil || w.Settings.LinkDays == 0 {
		return nil, nil, err
	}
	loans, err := s.LinkLoans(ctx, "", -1)
	if err != nil {
		return nil, nil, err
	}
	holds, now := reprocess.LegalHolds(w), s.utc()
	for _, l := range loans {
		switch {
		case !reprocess.LinkDue(l, w.Settings.LinkDays, now):
		case holds.KeepsLoan(l) != nil:
			held = append(held, l)
		default:
			due = append(due, l)
		}
	}
	return due, held, nil
}

// EraseLink records that the link of a loan is erased, then erases it. When the server stops
// in between, the next EraseDue finishes it. r carries who asks; its command is made here.
func (s *Store) EraseLink(ctx context.Context, r Request, x reprocess.EraseWearer) (
	*reprocess.Entry, error) {
	loan, err := s.loanByID(ctx, x.Loan)
	if err != nil {
		return nil, err
	}
	x.With = nil
	if loan != nil && loan.Wearer != "" {
		others, err := all[reprocess.Loan](ctx, s.read,
			`SELECT doc FROM loan WHERE wearer = ? AND id <> ?`, loan.Wearer, loan.ID)
		if err != nil {
			return nil, err
		}
		for _, l := range others {
			x.With = append(x.With, l.ID)
		}
	}
	r.Cmd = x
	e, err := s.Do(ctx, r)
	if err != nil {
		return e, err
	}
	return e, s.EraseWearer(ctx, loan.Wearer)
}

func (s *Store) loanByID(ctx context.Context, id string) (*reprocess.Loan, error) {
	loans, err := all[reprocess.Loan](ctx, s.read, `SELECT doc FROM loan WHERE id = ?`, id)
	if err != nil || len(loans) == 0 {
		return nil, err
	}
	return loans[0], nil
}

// EraseDue erases every link whose days are over and that nothing holds, one entry each, and
// whatever an entry says is erased already: a link that a backup of the file brought back does
// not stay. It answers how many it erased.
func (s *Store) EraseDue(ctx context.Context) (erased int, err error) {
	if erased, err = s.eraseAgain(ctx); err != nil {
		return erased, err
	}
	due, _, err := s.DueLinks(ctx)
	if err != nil {
		return erased, err
	}
	for _, l := range due {
		_, err := s.EraseLink(ctx, Request{Actor: reprocess.Console()},
			reprocess.EraseWearer{Kit: l.Kit, Loan: l.ID, Policy: true})
		switch p := reprocess.AsProblem(err); {
		case err == nil:
			erased++
		case p.Code == reprocess.Refused || p.Rule == "no_link":
			// Another loan of the token still needs it, or the file never had it.
		default:
			return erased, err
		}
	}
	return erased, nil
}

// eraseAgain erases links whose erasure is recorded and that stand all the same.
func (s *Store) eraseAgain(ctx context.Context) (erased int, err error) {
	rows, err := s.wearers.QueryContext(ctx, `SELECT token FROM link WHERE erased = 0`)
	if err != nil {
		return 0, storeFault(err)
	}
	var tokens []string
	for rows.Next() {
		var token string
		if err := rows.Scan(&token); err != nil {
			rows.Close()
			return 0, storeFault(err)
		}
		tokens = append(tokens, token)
	}
	rows.Close()
	if err := rows.Err(); err != nil {
		return 0, storeFault(err)
	}
	for _, token := range tokens {
		var recorded int
		if err := s.read.QueryRowContext(ctx, `SELECT count(*) FROM loan WHERE wearer = ?
			AND json_extract(doc, '$.erased') IS NOT NULL`, token).Scan(&recorded); err != nil {
			return erased, storeFault(err)
		}
		if recorded == 0 {
			continue
		}
		if err := s.EraseWearer(ctx, token); err != nil {
			return erased, err
		}
		erased++
	}
	return erased, nil
}

// LoanWorld is a loan with its kit and with every other loan of the same token.
func (s *Store) LoanWorld(ctx context.Context, id string) (*reprocess.World, error) {
	return s.snapshot(ctx, func(l *loader) error {
		if err := l.ensure(ctx, refTo(reprocess.TableLoan, id)...); err != nil {
			return err
		}
		if x := l.w.Loans[id]; x != nil && x.Wearer != "" {
			return l.where(ctx, reprocess.TableLoan, "wearer = ?", []any{x.Wearer})
		}
		return nil
	})
}
