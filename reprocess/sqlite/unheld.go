package sqlite

import (
	"context"

	"handback/reprocess"
)

// unheld drops the files that a legal hold keeps: by the moment they were kept last, and by
// the kit of that entry. One query for each file, and none without a hold.
func (s *Store) unheld(ctx context.Context, files []string, book reprocess.FileBook,
	holds reprocess.Holds) ([]string, error) {
	if len(holds) == 0 {
		return files, nil
	}
	var free []string
	for _, name := range files {
		line := book[name]
		var kit string
		err := s.read.QueryRowContext(ctx, `SELECT kit FROM act WHERE seq = ?`, line.Seq).Scan(&kit)
		if err != nil {
			return nil, storeFault(err)
		}
		if !s.loanHeld(ctx, holds, kit) && holds.Keeps(kit, "", line.At) == nil {
			free = append(free, name)
		}
	}
	return free, nil
}

// loanHeld tells whether a hold is on any loan of the kit: which loan a file belongs to is not
// asked, so that what is in doubt stays.
func (s *Store) loanHeld(ctx context.Context, holds reprocess.Holds, kit string) bool {
	for _, h := range holds {
		if h.Loan == "" {
			continue
		}
		l, err := s.loanByID(ctx, h.Loan)
		if err != nil || l == nil || l.Kit == kit {
			return true
		}
	}
	return false
}
