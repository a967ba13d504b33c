package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// whereMore adds the conditions that want other tables than act.
func (f Filter) whereMore(add func(set bool, text string, values ...any)) {
	any := func(ids []string) (string, []any) {
		values := make([]any, len(ids))
		for i, id := range ids {
			values[i] = id
		}
		return "(" + strings.TrimPrefix(strings.Repeat(", ?", len(ids)), ", ") + ")", values
	}
	in, values := any(f.Kits)
	add(len(f.Kits) > 0, "kit <> '' AND kit IN "+in, values...)
	in, values = any(f.Lots)
	add(len(f.Lots) > 0, "act.seq IN (SELECT seq FROM act_ref WHERE kind = 'lot' AND id IN "+
		in+")", values...)
	in, values = any(f.Boxes)
	add(len(f.Boxes) > 0, "act.seq IN (SELECT seq FROM act_ref WHERE kind = 'container'"+
		" AND id IN "+in+")", values...)
	add(f.Procedure != "", `act.seq IN (SELECT seq FROM act_ref WHERE kind = 'procedure'
		AND id = ? UNION SELECT r.seq FROM cycle c JOIN act_ref r ON r.kind = 'cycle'
		AND r.id = c.id WHERE c.procedure = ?)`, f.Procedure, f.Procedure)
	add(f.Model != "", `act.seq IN (SELECT seq FROM act_ref WHERE kind = 'model' AND id = ?
		UNION SELECT r.seq FROM piece p JOIN act_ref r ON r.kind = 'piece' AND r.id = p.id
		WHERE json_extract(p.doc, '$.model') = ?)`, f.Model, f.Model)
	add(f.State != "", `kit <> '' AND kit IN (SELECT kit FROM piece WHERE state = ?)`, f.State)
	add(f.Site != "", `EXISTS (SELECT 1 FROM entry x WHERE x.seq = act.seq AND
		json_extract(CAST(x.body AS TEXT), '$.site') = ?)`, f.Site)
	add(len(f.Words) > 0, `EXISTS (SELECT 1 FROM entry x WHERE x.seq = act.seq AND
		has_words(x.body, ?))`, f.foldedWords())
}

// Numbers lists the numbers of the entries of a filter in ascending order, at most up to last:
// eight bytes each.
func (s *Store) Numbers(ctx context.Context, f Filter, last int64) ([]int64, error) {
	var list []int64
	err := s.eachRun(ctx, f, last+1, "act.seq FROM act", " ORDER BY act.seq DESC", nothingMore,
		func(rows *sql.Rows) (bool, error) {
			var n int64
			err := rows.Scan(&n)
			list = append(list, n)
			return true, storeFault(err)
		})
	slices.Reverse(list)
	return list, err
}

// KitsNumbered lists the kits that have or had a pool number, or this id; retired ones too.
func (s *Store) KitsNumbered(ctx context.Context, number string) ([]*reprocess.Kit, error) {
	return all[reprocess.Kit](ctx, s.read,
		`SELECT doc FROM kit WHERE number = ? OR id = ? ORDER BY rowid`, number, number)
}

// LotsNumbered lists the lots with a printed number, or this id.
func (s *Store) LotsNumbered(ctx context.Context, number string) ([]*reprocess.Lot, error) {
	return all[reprocess.Lot](ctx, s.read,
		`SELECT doc FROM lot WHERE number = ? OR id = ? ORDER BY rowid`, number, number)
}

// ContainersNumbered lists the containers with a printed number, or this id.
func (s *Store) ContainersNumbered(ctx context.Context, number string) (
	[]*reprocess.Container, error) {
	return all[reprocess.Container](ctx, s.read,
		`SELECT doc FROM container WHERE number = ? OR id = ? ORDER BY rowid`, number, number)
}

// Around is a world with what these entries name: kits, pieces, cycles, loans, lots,
// containers, and the small tables; for telling them in words.
func (s *Store) Around(ctx context.Context, list []*reprocess.Entry) (*reprocess.World, error) {
	return s.snapshot(ctx, func(l *loader) error {
		for _, e := range list {
			refs := refTo(reprocess.TableKit, e.Kit)
			for _, b := range e.Events {
				refs = append(refs, refsOf(b.Event)...)
			}
			for _, r := range refs {
				if err := l.one(ctx, r); err != nil {
					return err
				}
			}
		}
		return l.ofCycles(ctx)
	})
}

// ofCycles loads the pieces and kits of the cycles that are loaded, by which people name them.
func (l *loader) ofCycles(ctx context.Context) error {
	var more []reprocess.Ref
	for _, c := range l.w.Cycles {
		more = append(more, refTo(reprocess.TablePiece, c.Piece)...)
		more = append(more, refTo(reprocess.TableKit, c.Kit)...)
	}
	for _, r := range more {
		if err := l.one(ctx, r); err != nil {
			return err
		}
	}
	return nil
}

// Named is a world with these rows and what they belong to: of a cycle its piece and kit, of a
// loan its kit and pieces, of a piece its kit; and the small tables.
func (s *Store) Named(ctx context.Context, refs ...reprocess.Ref) (*reprocess.World, error) {
	return s.snapshot(ctx, func(l *loader) error {
		for _, r := range refs {
			if err := l.one(ctx, r); err != nil {
				return err
			}
		}
		var more []reprocess.Ref
		for _, c := range l.w.Cycles {
			more = append(more, refTo(reprocess.TablePiece, c.Piece)...)
			more = append(more, refTo(reprocess.TableKit, c.Kit)...)
		}
		for _, n := range l.w.Loans {
			more = append(more, refTo(reprocess.TableKit, n.Kit)...)
			more = append(more, refTo(reprocess.TablePiece, n.Pieces...)...)
		}
		for _, p := range l.w.Pieces {
			more = append(more, refTo(reprocess.TableKit, p.Kit)...)
		}
		for _, r := range more {
			if err := l.one(ctx, r); err != nil {
				return err
			}
		}
		return nil
	})
}

// ReleasedCycles lists the cycles that ended in a release within from <= t < to, by the time
// and then by their ids, so that a draw by position can be repeated.
func (s *Store) ReleasedCycles(ctx context.Context, from, to reprocess.Instant) (
	[]*reprocess.Cycle, error) {
	return all[reprocess.Cycle](ctx, s.read, `SELECT doc FROM cycle WHERE ending = ? AND
		ended >= ? AND ended < ? ORDER BY ended, id`, string(reprocess.EndReleased),
		int64(from), int64(to))
}

// ReleaseEntries gives the number of the newest release entry of each of the cycles.
func (s *Store) ReleaseEntries(ctx context.Context, cycles []string) (map[string]int64, error) {
	found := map[string]int64{}
	for _, id := range cycles {
		var n sql.NullInt64
		err := s.read.QueryRowContext(ctx, `SELECT max(r.seq) FROM act_ref r JOIN act USING (seq)
			WHERE r.kind = 'cycle' AND r.id = ? AND act.act = 'release' AND act.result = 'done'`,
			id).Scan(&n)
		if err != nil {
			return nil, storeFault(err)
		}
		found[id] = n.Int64
	}
	return found, nil
}

// SignedNote is one kept checkpoint.
type SignedNote struct {
	Size int64
	Note string
	At   reprocess.Instant
	Root ledger.Hash
}

// Checkpoints lists the newest checkpoints, the newest first.
func (s *Store) Checkpoints(ctx context.Context, limit int) ([]SignedNote, error) {
	rows, err := s.read.QueryContext(ctx,
		`SELECT size, note, at FROM checkpoint ORDER BY size DESC LIMIT ?`, limit)
	if err != nil {
		return nil, storeFault(err)
	}
	defer rows.Close()
	var list []SignedNote
	for rows.Next() {
		var n SignedNote
		if err := rows.Scan(&n.Size, &n.Note, &n.At); err != nil {
			return nil, storeFault(err)
		}
		list = append(list, n)
	}
	return list, storeFault(rows.Err())
}

// CheckpointOf gives the checkpoint over a number of entries, its signature checked.
func (s *Store) CheckpointOf(ctx context.Context, size int64) (*SignedNote, error) {
	n := &SignedNote{Size: size}
	err := s.read.QueryRowContext(ctx, `SELECT note, at FROM checkpoint WHERE size = ?`, size).
		Scan(&n.Note, &n.At)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, notHere()
	}
	if err != nil {
		return nil, storeFault(err)
	}
	key, err := s.Verifier()
	if err != nil {
		return nil, err
	}
	cp, err := ledger.OpenCheckpoint([]byte(n.Note), key)
	if err != nil {
		return nil, reprocess.AsProblem(err)
	}
	n.Root = cp.Root
	return n, nil
}

// Proof shows that an entry stands at its number under a checkpoint.
type Proof struct {
	Leaf       ledger.Hash
	Path       []ledger.Hash // from the leaf upwards; empty when the log has one entry
	Checkpoint SignedNote    // Size 0: no checkpoint covers it yet
}

// Proof proves an entry under the newest checkpoint and checks the proof before giving it. An
// entry newer than every checkpoint has a leaf alone.
func (s *Store) Proof(ctx context.Context, seq int64) (*Proof, error) {
	body, err := s.Body(ctx, seq)
	if err != nil {
		return nil, err
	}
	p := &Proof{Leaf: ledger.LeafHash(body)}
	_, size, err := s.NewestCheckpoint(ctx)
	if none := reprocess.AsProblem(err); none != nil && none.Code != reprocess.NotFound {
		return nil, err
	}
	if size < seq {
		return p, nil
	}
	cp, err := s.CheckpointOf(ctx, size)
	if err != nil {
		return nil, err
	}
	if p.Path, err = ledger.ProveEntry(seq, size, s.Hashes(ctx)); err != nil {
		return nil, reprocess.AsProblem(err)
	}
	p.Checkpoint = *cp
	if err := ledger.CheckEntry(p.Path, seq, p.Leaf, size, cp.Root); err != nil {
		return nil, &reprocess.Problem{Code: reprocess.Internal, Rule: "proof", Err: err,
			Text: "This entry does not agree with the checkpoint that was signed over it.",
			Fix:  "Check everything now, and tell whoever audits this site."}
	}
	return p, nil
}
