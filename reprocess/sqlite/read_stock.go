package sqlite

import (
	"context"

	"handback/reprocess"
)

// Stock is every open container, every lot, and all containers of lots whose containers were
// counted: what reprocess.SupplyWarnings asks.
func (s *Store) Stock(ctx context.Context) (*reprocess.World, error) {
	return s.snapshot(ctx, func(l *loader) error { return l.stock(ctx) })
}

// stock loads it.
func (l *loader) stock(ctx context.Context) error {
	if err := l.where(ctx, reprocess.TableContainer, "closed = 0", nil); err != nil {
		return err
	}
	if err := l.where(ctx, reprocess.TableLot, "", nil); err != nil {
		return err
	}
	for id, lot := range l.w.Lots {
		if lot.Count == 0 || lot.Ended != 0 {
			continue
		}
		if err := l.where(ctx, reprocess.TableContainer, "lot = ?", []any{id}); err != nil {
			return err
		}
	}
	return nil
}

// AllPieces is every piece, those in no kit too, every kit with its loan and latest cycles, and
// every lot: what a maker's list is compared with, and where each of them is.
func (s *Store) AllPieces(ctx context.Context) (*reprocess.World, error) {
	return s.snapshot(ctx, func(l *loader) error {
		for _, q := range []struct {
			table reprocess.Table
			cond  string
		}{
			{reprocess.TablePiece, ""}, {reprocess.TableKit, ""}, {reprocess.TableLot, ""},
			{reprocess.TableLoan, "id IN (SELECT loan FROM kit)"},
			{reprocess.TableCycle, "id IN (SELECT cycle FROM piece)"},
		} {
			if err := l.where(ctx, q.table, q.cond, nil); err != nil {
				return err
			}
		}
		return nil
	})
}
