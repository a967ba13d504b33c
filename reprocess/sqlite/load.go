package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"handback/reprocess"
)

// querier is what loading needs of a connection, a transaction or a handle.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// loader fills a partial world from the read tables. It reads each row once; whatever is
// already in the world is newer than its row and stays.
type loader struct {
	q    querier
	w    *reprocess.World
	seen map[reprocess.Ref]bool
	base bool // the tables of small things are loaded
}

func newLoader(q querier) *loader {
	return &loader{q: q, w: reprocess.NewWorld(), seen: map[reprocess.Ref]bool{}}
}

// smallTables are always loaded whole: some tens of rows at a clinic.
var smallTables = []reprocess.Table{reprocess.TableSettings, reprocess.TablePerson,
	reprocess.TableModel, reprocess.TableProcedure, reprocess.TableInForce,
	reprocess.TableProduct, reprocess.TableSecretMAC, reprocess.TablePhone,
	reprocess.TableLegalHold, reprocess.TableDocument}

// smallOnly narrows a small table to the rows that are always loaded.
var smallOnly = map[reprocess.Table]string{reprocess.TableDocument: documentsSmall}

// loadBase loads the small tables once.
func (l *loader) loadBase(ctx context.Context) error {
	if l.base {
		return nil
	}
	for _, t := range smallTables {
		if err := l.where(ctx, t, smallOnly[t], nil); err != nil {
			return err
		}
	}
	l.base = true
	return nil
}

// where loads the rows of a table that meet a condition; empty is all.
func (l *loader) where(ctx context.Context, name reprocess.Table, cond string, args []any) error {
	t := tableOf(name)
	query := "SELECT id, doc FROM " + string(name)
	if cond != "" {
		query += " WHERE " + cond
	}
	rows, err := l.q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id string
		var doc sql.RawBytes
		if err := rows.Scan(&id, &doc); err != nil {
			return err
		}
		if err := l.put(t, id, doc); err != nil {
			return err
		}
	}
	return rows.Err()
}

// put takes a stored row into the world unless a newer one is there.
func (l *loader) put(t *table, id string, doc []byte) error {
	r := reprocess.Ref{Table: t.name, ID: id}
	if t.name != reprocess.TableSettings && l.w.Get(r) != nil {
		return nil
	}
	if err := t.put(l.w, id, doc); err != nil {
		return fmt.Errorf("table %s, row %s cannot be read: %w", t.name, id, err)
	}
	return nil
}

// one loads one row if it is there and not loaded yet.
func (l *loader) one(ctx context.Context, r reprocess.Ref) error {
	if l.w.Get(r) != nil {
		return nil
	}
	var doc []byte
	err := l.q.QueryRowContext(ctx, "SELECT doc FROM "+string(r.Table)+" WHERE id = ?", r.ID).
		Scan(&doc)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	return l.put(tableOf(r.Table), r.ID, doc)
}

// labelled are the tables whose rows a label can stand for; a kit has its slip.
var labelled = map[reprocess.Table]bool{reprocess.TablePiece: true,
	reprocess.TableContainer: true, reprocess.TableKit: true}

// ensure loads a row with all that belongs to it: a kit its pieces, their latest cycles, its
// loan and the lots behind its release; a cycle the supplies and labels it names; a piece,
// cycle or loan its kit; a label its target; a container its lot; whatever is labelled all
// its labels.
func (l *loader) ensure(ctx context.Context, refs ...reprocess.Ref) error {
	for len(refs) > 0 {
		r := refs[0]
		refs = refs[1:]
		if r.ID == "" || l.seen[r] {
			continue
		}
		if err := l.one(ctx, r); err != nil {
			return err
		}
		l.seen[r] = true
		if labelled[r.Table] {
			if err := l.where(ctx, reprocess.TableLabel, "target = ?", []any{r.ID}); err != nil {
				return err
			}
		}
		refs = append(refs, l.belongings(r)...)
	}
	return nil
}

func refTo(t reprocess.Table, ids ...string) []reprocess.Ref {
	var refs []reprocess.Ref
	for _, id := range ids {
		if id != "" {
			refs = append(refs, reprocess.Ref{Table: t, ID: id})
		}
	}
	return refs
}

// belongings lists what one loaded row brings.
func (l *loader) belongings(r reprocess.Ref) []reprocess.Ref {
	switch v := l.w.Get(r).(type) {
	case *kit:
		refs := append(refTo(reprocess.TablePiece, v.Pieces...),
			refTo(reprocess.TableLoan, v.Loan)...)
		if v.Loss.Open() { // a lost piece may have been replaced in the kit meanwhile
			refs = append(refs, refTo(reprocess.TablePiece, v.Loss.Pieces...)...)
		}
		if v.Release != nil {
			refs = append(refs, refTo(reprocess.TableLot, v.Release.Lots...)...)
			for _, line := range v.Release.Cycles {
				refs = append(refs, refTo(reprocess.TableCycle, line.Cycle)...)
			}
		}
		return refs
	case *piece:
		return append(refTo(reprocess.TableCycle, v.Cycle), refTo(reprocess.TableKit, v.Kit)...)
	case *cycle:
		refs := append(refTo(reprocess.TablePiece, v.Piece), refTo(reprocess.TableKit, v.Kit)...)
		return append(refs, used(v)...)
	case *loan:
		refs := append(refTo(reprocess.TableKit, v.Kit), refTo(reprocess.TableLoan, v.Under)...)
		return append(refs, refTo(reprocess.TablePiece, v.Pieces...)...)
	case *container:
		return refTo(reprocess.TableLot, v.Lot)
	case *lot:
		return refTo(reprocess.TableLot, v.From)
	case *label:
		return labelTarget(v)
	}
	return nil
}

// used lists the supplies and labels that the records of a cycle name; the gate looks at them.
func used(c *cycle) []reprocess.Ref {
	var refs []reprocess.Ref
	for _, r := range c.Records {
		refs = append(refs, refTo(reprocess.TableContainer, r.Container)...)
		refs = append(refs, refTo(reprocess.TableLot, r.Lot, r.Answered("cell"))...)
		refs = append(refs, refTo(reprocess.TableLabel, r.Answered("label"))...)
	}
	return refs
}

// labelTarget is the row a label stands for. A place is text and has no row.
func labelTarget(l *label) []reprocess.Ref {
	switch l.Kind {
	case reprocess.CodePiece:
		return refTo(reprocess.TablePiece, l.Target)
	case reprocess.CodeContainer:
		return refTo(reprocess.TableContainer, l.Target)
	case reprocess.CodeSlip:
		return refTo(reprocess.TableKit, l.Target)
	}
	return nil
}

// needs loads what a command says it needs.
func (l *loader) needs(ctx context.Context, n reprocess.Needs) error {
	if err := l.loadBase(ctx); err != nil {
		return err
	}
	refs := refTo(reprocess.TableKit, n.Kit)
	refs = append(refs, refTo(reprocess.TableKit, n.Kits...)...)
	refs = append(refs, refTo(reprocess.TablePiece, n.Pieces...)...)
	refs = append(refs, refTo(reprocess.TableLabel, n.Labels...)...)
	refs = append(refs, refTo(reprocess.TableContainer, n.Containers...)...)
	refs = append(refs, refTo(reprocess.TableLot, n.Lots...)...)
	refs = append(refs, refTo(reprocess.TableLoan, n.Loans...)...)
	refs = append(refs, refTo(reprocess.TableCycle, n.Cycles...)...)
	refs = append(refs, n.Rows...)
	for _, number := range n.Numbers {
		ids, err := l.find(ctx, "SELECT id FROM kit WHERE number = ?", number)
		if err != nil {
			return err
		}
		refs = append(refs, refTo(reprocess.TableKit, ids...)...)
	}
	for _, number := range n.LotNumbers {
		ids, err := l.find(ctx, "SELECT id FROM lot WHERE number = ? COLLATE NOCASE", number)
		if err != nil {
			return err
		}
		refs = append(refs, refTo(reprocess.TableLot, ids...)...)
	}
	for _, serial := range n.Serials {
		ids, err := l.find(ctx, "SELECT id FROM piece WHERE serial = ?", serial)
		if err != nil {
			return err
		}
		refs = append(refs, refTo(reprocess.TablePiece, ids...)...)
	}
	same, err := l.kept(ctx, n.Hashes)
	if err != nil {
		return err
	}
	return l.ensure(ctx, append(refs, same...)...)
}

// find gives the ids that a query answers.
func (l *loader) find(ctx context.Context, query string, args ...any) ([]string, error) {
	rows, err := l.q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var ids []string
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	return ids, rows.Err()
}
