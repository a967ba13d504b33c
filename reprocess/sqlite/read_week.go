package sqlite

import (
	"context"
	"strings"

	"handback/reprocess"
)

// Week is what the morning page and the plan read, of one moment: every kit that is not
// retired and every spare piece, with what belongs to it, the stock, the day's book, what is
// wanted from today on, and open findings.
func (s *Store) Week(ctx context.Context, today reprocess.Date) (*reprocess.World, error) {
	const kits = " IN (SELECT id FROM kit WHERE retired = 0)"
	return s.snapshot(ctx, func(l *loader) error {
		for _, q := range []struct {
			table reprocess.Table
			cond  string
			args  []any
		}{
			{reprocess.TableKit, "retired = 0", nil},
			{reprocess.TablePiece, "kit" + kits + " OR kit = ''", nil},
			{reprocess.TableCycle, `id IN (SELECT cycle FROM piece
				WHERE state NOT IN ('issued', 'retired') AND kit` + kits + ")", nil},
			{reprocess.TableLoan, "open = 1", nil},
			{reprocess.TableDaybook, "id = ?", []any{string(today)}},
			{reprocess.TableWant, "day >= ?", []any{string(today)}},
			{reprocess.TableFinding, "open = 1", nil},
			{reprocess.TableDocument, "until <> '' AND until <= ?",
				[]any{string(today.AddDays(reprocess.DocumentSoonDays))}},
		} {
			if err := l.where(ctx, q.table, q.cond, q.args); err != nil {
				return err
			}
		}
		if err := l.strays(ctx); err != nil {
			return err
		}
		return l.stock(ctx)
	})
}

// Findings lists findings: the open ones by day, or those of a kit, closed ones too.
func (s *Store) Findings(ctx context.Context, kit string) ([]*reprocess.Finding, error) {
	if kit == "" {
		return all[reprocess.Finding](ctx, s.read, `SELECT doc FROM finding WHERE open = 1
			ORDER BY due, rowid`)
	}
	return all[reprocess.Finding](ctx, s.read, `SELECT doc FROM finding WHERE kit = ?
		ORDER BY open DESC, due, rowid`, kit)
}

// ClosedFindings lists the newest closed findings.
func (s *Store) ClosedFindings(ctx context.Context, limit int) ([]*reprocess.Finding, error) {
	return all[reprocess.Finding](ctx, s.read, `SELECT doc FROM finding WHERE open = 0
		ORDER BY json_extract(doc, '$.closed') DESC LIMIT ?`, limit)
}

// SameReference tells whether a token stands for a reference; capital and small letters are
// the same. A token without a link stands for none.
func (s *Store) SameReference(ctx context.Context, token, reference string) (bool, error) {
	kept, err := s.WearerRef(ctx, token)
	if p := reprocess.AsProblem(err); err != nil && p.Code != reprocess.NotFound {
		return false, err
	}
	return err == nil && strings.EqualFold(kept, strings.TrimSpace(reference)), nil
}

// KeptFor lists the kits that were kept for a reference, whether or not that has lapsed.
func (s *Store) KeptFor(ctx context.Context, reference string) ([]*reprocess.Kit, error) {
	return behind[reprocess.Kit](ctx, s, reference, `SELECT doc FROM kit
		WHERE json_extract(doc, '$.keep.token') = ?`)
}

// DropLapsedKeeps forgets the references behind keeps that lapsed before a moment; the tokens
// stay in the record and stand for nobody. Handing a kit out and giving it free forget theirs
// at once, so this is for appointments to which nobody came.
func (s *Store) DropLapsedKeeps(ctx context.Context, before reprocess.Instant) error {
	kits, err := all[reprocess.Kit](ctx, s.read, `SELECT doc FROM kit
		WHERE json_extract(doc, '$.keep.until') < ?`, before.String())
	if err != nil {
		return err
	}
	for _, k := range kits {
		if _, err := s.WearerRef(ctx, k.Keep.Token); err != nil {
			continue // forgotten before
		}
		if err := s.DropWearer(ctx, k.Keep.Token); err != nil {
			return err
		}
	}
	return nil
}
