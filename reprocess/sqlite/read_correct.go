package sqlite

import (
	"context"

	"handback/reprocess"
)

// CorrectWorld is KitWorld with one cycle more, which may be over for long, with what it names
// and every container that was not yet closed when it began: what a correction chooses from.
func (s *Store) CorrectWorld(ctx context.Context, kit, cycle string) (*reprocess.World, error) {
	return s.snapshot(ctx, func(l *loader) error {
		refs := append(refTo(reprocess.TableKit, kit), refTo(reprocess.TableCycle, cycle)...)
		if err := l.ensure(ctx, refs...); err != nil {
			return err
		}
		if l.w.Kits[kit] == nil || l.w.Cycles[cycle] == nil {
			return notHere()
		}
		err := l.where(ctx, reprocess.TableContainer, "closed >= ?",
			[]any{int64(l.w.Cycles[cycle].Opened)})
		if err != nil {
			return err
		}
		for _, c := range l.w.Containers {
			if err := l.ensure(ctx, refTo(reprocess.TableLot, c.Lot)...); err != nil {
				return err
			}
		}
		return l.supplies(ctx)
	})
}
