package sqlite

import (
	"context"
	"strings"

	"handback/reprocess"
)

// KitWorld is everything the page of one kit needs: the kit, its pieces, their latest cycles
// with the supplies and labels these name, its loan, the lots behind its release, every open
// container and every lot of cells and electrodes to choose from.
func (s *Store) KitWorld(ctx context.Context, kit string) (*reprocess.World, error) {
	return s.snapshot(ctx, func(l *loader) error {
		if err := l.ensure(ctx, refTo(reprocess.TableKit, kit)...); err != nil {
			return err
		}
		if l.w.Kits[kit] == nil {
			return notHere()
		}
		return l.supplies(ctx)
	})
}

// supplies loads what can be chosen at the bench.
func (l *loader) supplies(ctx context.Context) error {
	if err := l.where(ctx, reprocess.TableContainer, "closed = 0", nil); err != nil {
		return err
	}
	err := l.where(ctx, reprocess.TableLot, `kind <> 'disinfectant' OR stopped = 1 OR
		id IN (SELECT lot FROM container WHERE closed = 0)`, nil)
	if err != nil {
		return err
	}
	for _, batch := range l.w.Lots { // a batch is as good as what it was prepared from
		if err := l.ensure(ctx, refTo(reprocess.TableLot, batch.From)...); err != nil {
			return err
		}
	}
	return nil
}

// Supplies is every open container, every lot in use or stopped and every lot of cells and
// electrodes.
func (s *Store) Supplies(ctx context.Context) (*reprocess.World, error) {
	return s.snapshot(ctx, func(l *loader) error { return l.supplies(ctx) })
}

// LabelByCode finds a label by its code.
func (s *Store) LabelByCode(ctx context.Context, code string) (*reprocess.Label, error) {
	return Get[reprocess.Label](ctx, s, reprocess.TableLabel, code)
}

// KitByNumber finds the kit in use with a pool number.
func (s *Store) KitByNumber(ctx context.Context, site, number string) (*reprocess.Kit, error) {
	return one[reprocess.Kit](ctx, s.read,
		`SELECT doc FROM kit WHERE number = ? AND site = ? AND retired = 0`, number, site)
}

// PieceBySerial finds a piece by its serial; the newest, where models share one.
func (s *Store) PieceBySerial(ctx context.Context, serial string) (*reprocess.Piece, error) {
	return one[reprocess.Piece](ctx, s.read,
		`SELECT doc FROM piece WHERE serial = ? ORDER BY rowid DESC LIMIT 1`, serial)
}

// Kits is a world of the kits that have a piece in one of the states, with pieces, latest
// cycles, loans and every stopped lot: what reprocess.KitState and CanHandOut ask. A kit's own
// state follows from all its pieces, so whoever lists asks KitState again.
func (s *Store) Kits(ctx context.Context, states ...reprocess.State) (*reprocess.World, error) {
	args := make([]any, len(states))
	for i, state := range states {
		args[i] = state.String()
	}
	return s.kits(ctx, `retired = 0 AND id IN (SELECT kit FROM piece WHERE state IN (?`+
		strings.Repeat(", ?", len(states)-1)+`))`, args)
}

// OpenKits are the kits of the bench list: with a piece that is neither out nor released nor
// retired.
func (s *Store) OpenKits(ctx context.Context) (*reprocess.World, error) {
	return s.Kits(ctx, reprocess.Registered, reprocess.Returned, reprocess.InReprocessing,
		reprocess.AwaitingRelease, reprocess.Quarantined, reprocess.Embargoed,
		reprocess.Recalled, reprocess.OutForRepair, reprocess.Missing)
}

// ReleasedKits are the kits that may stand on the shelf. (A kit that is out keeps the release
// it went out on.)
func (s *Store) ReleasedKits(ctx context.Context) (*reprocess.World, error) {
	return s.Kits(ctx, reprocess.Released)
}

// OutLoans are the kits whose loan is open.
func (s *Store) OutLoans(ctx context.Context) (*reprocess.World, error) {
	return s.kits(ctx, "id IN (SELECT kit FROM loan WHERE open = 1)", nil)
}

// Overdue are the kits whose open loan was due before a day.
func (s *Store) Overdue(ctx context.Context, day reprocess.Date) (*reprocess.World, error) {
	return s.kits(ctx, "id IN (SELECT kit FROM loan WHERE open = 1 AND due <> '' AND due < ?)",
		[]any{string(day)})
}

// AllKits are all kits, the retired ones too.
func (s *Store) AllKits(ctx context.Context) (*reprocess.World, error) {
	return s.kits(ctx, "1 = 1", nil)
}

// kits loads the kits of a condition with what belongs to them, table by table.
func (s *Store) kits(ctx context.Context, cond string, args []any) (*reprocess.World, error) {
	ids := " IN (SELECT id FROM kit WHERE " + cond + ")"
	return s.snapshot(ctx, func(l *loader) error {
		for _, q := range []struct {
			table reprocess.Table
			cond  string
			args  []any
		}{
			{reprocess.TableKit, cond, args},
			{reprocess.TablePiece, "kit" + ids, args},
			{reprocess.TableCycle, "id IN (SELECT cycle FROM piece WHERE kit" + ids + ")", args},
			{reprocess.TableLoan, "id IN (SELECT loan FROM kit WHERE " + cond + ")", args},
			{reprocess.TableLot, "stopped = 1", nil},
		} {
			if err := l.where(ctx, q.table, q.cond, q.args); err != nil {
				return err
			}
		}
		if err := l.strays(ctx); err != nil {
			return err
		}
		return l.wards(ctx)
	})
}

// wards loads the loans of wards whose kits are worn there: the cell of it is on theirs.
func (l *loader) wards(ctx context.Context) error {
	var under []string
	for _, v := range l.w.Loans {
		under = append(under, v.Under)
	}
	for _, r := range refTo(reprocess.TableLoan, under...) {
		if err := l.one(ctx, r); err != nil {
			return err
		}
	}
	return nil
}

// strays loads pieces that a kit lists although they went over to another kit.
func (l *loader) strays(ctx context.Context) error {
	for _, k := range l.w.Kits {
		for _, id := range k.Pieces {
			if err := l.one(ctx, reprocess.Ref{Table: reprocess.TablePiece, ID: id}); err != nil {
				return err
			}
		}
	}
	return nil
}

// LooseMissing lists the pieces that are missing and in no kit any more, by id.
func (s *Store) LooseMissing(ctx context.Context) ([]*reprocess.Piece, error) {
	return all[reprocess.Piece](ctx, s.read, `SELECT doc FROM piece WHERE kit = '' AND state = ?
		ORDER BY id`, reprocess.Missing.String())
}

// CyclesOfPiece lists the cycles of a piece, the newest first.
func (s *Store) CyclesOfPiece(ctx context.Context, piece string, limit int) (
	[]*reprocess.Cycle, error) {
	return all[reprocess.Cycle](ctx, s.read, `SELECT doc FROM cycle WHERE piece = ?
		ORDER BY opened DESC, rowid DESC LIMIT ?`, piece, limit)
}

// LoansOfKit lists the loans of a kit, the newest first.
func (s *Store) LoansOfKit(ctx context.Context, kit string, limit int) ([]*reprocess.Loan, error) {
	return all[reprocess.Loan](ctx, s.read, `SELECT doc FROM loan WHERE kit = ?
		ORDER BY out_at DESC, rowid DESC LIMIT ?`, kit, limit)
}

// LoansOfWearer lists the loans under a wearer's token.
func (s *Store) LoansOfWearer(ctx context.Context, token string) ([]*reprocess.Loan, error) {
	return all[reprocess.Loan](ctx, s.read, `SELECT doc FROM loan WHERE wearer = ?
		ORDER BY out_at DESC, rowid DESC`, token)
}

// LabelsOf lists the labels of a piece or container, withdrawn ones too.
func (s *Store) LabelsOf(ctx context.Context, target string) ([]*reprocess.Label, error) {
	return all[reprocess.Label](ctx, s.read, `SELECT doc FROM label WHERE target = ?
		AND target <> '' ORDER BY rowid`, target)
}

// Containers lists containers by printed number; an empty number lists the open ones.
func (s *Store) Containers(ctx context.Context, number string) ([]*reprocess.Container, error) {
	if number == "" {
		return all[reprocess.Container](ctx, s.read, `SELECT doc FROM container WHERE closed = 0
			ORDER BY rowid DESC`)
	}
	return all[reprocess.Container](ctx, s.read, `SELECT doc FROM container WHERE number = ?
		ORDER BY rowid DESC`, number)
}

// Lots lists all lots, the newest first.
func (s *Store) Lots(ctx context.Context) ([]*reprocess.Lot, error) {
	return all[reprocess.Lot](ctx, s.read, `SELECT doc FROM lot ORDER BY rowid DESC`)
}
