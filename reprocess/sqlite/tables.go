package sqlite

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"

	"handback/reprocess"
)

// table is one read table: how its index columns follow from an entity, and where a world
// keeps the entities. Saving and verifying use the same rows of this one list.
type table struct {
	name    reprocess.Table
	upsert  string                 // puts a whole row in place
	columns []string               // index columns, between id and doc
	values  func(entity any) []any // of the index columns, int64 or string
	ids     func(*reprocess.World) []string
	put     func(w *reprocess.World, id string, doc []byte) error // of a stored doc
}

// column is one index column of an entity.
type column[T any] struct {
	name string
	of   func(*T) any
}

// entities makes a table of a map of entities.
func entities[T any](name reprocess.Table, in func(*reprocess.World) map[string]*T,
	columns ...column[T]) table {
	t := table{name: name}
	for _, c := range columns {
		t.columns = append(t.columns, c.name)
	}
	t.values = func(entity any) []any {
		values := make([]any, len(columns))
		for i, c := range columns {
			values[i] = plain(c.of(entity.(*T)))
		}
		return values
	}
	t.ids = func(w *reprocess.World) []string { return keys(in(w)) }
	t.put = func(w *reprocess.World, id string, doc []byte) error {
		v := new(T)
		in(w)[id] = v
		return json.Unmarshal(doc, v)
	}
	return t
}

// texts makes a table of a map of texts; the doc is the text as JSON.
func texts(name reprocess.Table, in func(*reprocess.World) map[string]string) table {
	return table{name: name,
		values: func(any) []any { return nil },
		ids:    func(w *reprocess.World) []string { return keys(in(w)) },
		put: func(w *reprocess.World, id string, doc []byte) error {
			var v string
			err := json.Unmarshal(doc, &v)
			in(w)[id] = v
			return err
		}}
}

func keys[T any](m map[string]T) []string {
	ids := make([]string, 0, len(m))
	for id := range m {
		ids = append(ids, id)
	}
	return ids
}

// plain gives a value the type it has in a column: INTEGER as int64, TEXT as string.
func plain(v any) any {
	switch v := v.(type) {
	case bool:
		if v {
			return int64(1)
		}
		return int64(0)
	case int:
		return int64(v)
	case reprocess.Instant:
		return int64(v)
	case reprocess.Date:
		return string(v)
	case string:
		return v
	}
	return fmt.Sprint(v) // the named texts: kinds, states, ends
}

type (
	person    = reprocess.Person
	procedure = reprocess.Procedure
	lot       = reprocess.Lot
	container = reprocess.Container
	label     = reprocess.Label
	kit       = reprocess.Kit
	piece     = reprocess.Piece
	cycle     = reprocess.Cycle
	loan      = reprocess.Loan
	phone     = reprocess.EnrolledPhone
	want      = reprocess.Want
	finding   = reprocess.Finding
	world     = reprocess.World
)

// readTables is the list of read tables, in the order of reprocess.Tables.
var readTables = withUpserts(
	settingsTable(),
	entities(reprocess.TablePerson, func(w *world) map[string]*person { return w.People },
		column[person]{"sign_in", func(p *person) any { return p.SignIn }},
		column[person]{"left_on", func(p *person) any { return p.Left }}),
	entities(reprocess.TableModel,
		func(w *world) map[string]*reprocess.Model { return w.Models }),
	entities(reprocess.TableProcedure,
		func(w *world) map[string]*procedure { return w.Procedures },
		column[procedure]{"model", func(p *procedure) any { return p.Model }},
		column[procedure]{"version", func(p *procedure) any { return p.Version }}),
	texts(reprocess.TableInForce, func(w *world) map[string]string { return w.InForce }),
	entities(reprocess.TableProduct,
		func(w *world) map[string]*reprocess.Product { return w.Products }),
	entities(reprocess.TableLot, func(w *world) map[string]*lot { return w.Lots },
		column[lot]{"kind", func(l *lot) any { return l.Kind }},
		column[lot]{"product", func(l *lot) any { return l.Product }},
		column[lot]{"number", func(l *lot) any { return l.Number }},
		column[lot]{"expiry", func(l *lot) any { return l.Expiry }},
		column[lot]{"stopped", func(l *lot) any { return l.Stopped != nil }}),
	entities(reprocess.TableContainer,
		func(w *world) map[string]*container { return w.Containers },
		column[container]{"lot", func(c *container) any { return c.Lot }},
		column[container]{"closed", func(c *container) any { return c.Closed }},
		column[container]{"number", func(c *container) any { return c.Number }},
		column[container]{"opened", func(c *container) any { return c.Opened }}),
	entities(reprocess.TableLabel, func(w *world) map[string]*label { return w.Labels },
		column[label]{"kind", func(l *label) any { return l.Kind }},
		column[label]{"target", func(l *label) any { return l.Target }},
		column[label]{"withdrawn", func(l *label) any { return l.Withdrawn }},
		column[label]{"number", func(l *label) any { return l.Number }}),
	entities(reprocess.TableKit, func(w *world) map[string]*kit { return w.Kits },
		kitColumns()...),
	entities(reprocess.TablePiece, func(w *world) map[string]*piece { return w.Pieces },
		column[piece]{"kit", func(p *piece) any { return p.Kit }},
		column[piece]{"kind", func(p *piece) any { return p.Kind }},
		column[piece]{"model", func(p *piece) any { return p.Model }},
		column[piece]{"serial", func(p *piece) any { return p.Serial }},
		column[piece]{"state", func(p *piece) any { return p.State }},
		column[piece]{"cycle", func(p *piece) any { return p.Cycle }},
		column[piece]{"site", func(p *piece) any { return p.Site }}),
	entities(reprocess.TableCycle, func(w *world) map[string]*cycle { return w.Cycles },
		column[cycle]{"piece", func(c *cycle) any { return c.Piece }},
		column[cycle]{"kit", func(c *cycle) any { return c.Kit }},
		column[cycle]{"opened", func(c *cycle) any { return c.Opened }},
		column[cycle]{"ended", func(c *cycle) any { return c.Ended }},
		column[cycle]{"ending", func(c *cycle) any { return c.End }},
		column[cycle]{"procedure", func(c *cycle) any { return c.Procedure }},
		column[cycle]{"open", func(c *cycle) any { return c.Ended == 0 }}),
	entities(reprocess.TableLoan, func(w *world) map[string]*loan { return w.Loans },
		column[loan]{"kit", func(l *loan) any { return l.Kit }},
		column[loan]{"wearer", func(l *loan) any { return l.Wearer }},
		column[loan]{"out_at", func(l *loan) any { return l.Out }},
		column[loan]{"due", func(l *loan) any { return l.Due }},
		column[loan]{"back", func(l *loan) any { return l.Back }},
		column[loan]{"open", func(l *loan) any { return l.Open() }}),
	texts(reprocess.TableSecretMAC, func(w *world) map[string]string { return w.Secrets }),
	entities(reprocess.TablePhone, func(w *world) map[string]*phone { return w.Phones },
		column[phone]{"revoked", func(p *phone) any { return p.Revoked }}),
	entities(reprocess.TableDaybook,
		func(w *world) map[string]*reprocess.Daybook { return w.Daybooks }),
	entities(reprocess.TableWant, func(w *world) map[string]*want { return w.Wants },
		column[want]{"day", func(x *want) any { return x.Day }},
		column[want]{"model", func(x *want) any { return x.Model }}),
	entities(reprocess.TableFinding, func(w *world) map[string]*finding { return w.Findings },
		column[finding]{"due", func(f *finding) any { return f.Due }},
		column[finding]{"kit", func(f *finding) any { return f.Kit }},
		column[finding]{"open", func(f *finding) any { return f.Closed == 0 }}),
	entities(reprocess.TableSample,
		func(w *world) map[string]*reprocess.Sample { return w.Samples }),
	entities(reprocess.TableLookBack,
		func(w *world) map[string]*reprocess.FrozenLookBack { return w.LookBacks }),
	entities(reprocess.TableLegalHold,
		func(w *world) map[string]*reprocess.LegalHold { return w.Legal }),
	documentTable(),
)

// kitColumns has no state: a kit's state follows from its pieces, so lists join the two.
func kitColumns() []column[kit] {
	released := func(k *kit) reprocess.Release {
		if k.Release == nil {
			return reprocess.Release{}
		}
		return *k.Release
	}
	return []column[kit]{
		{"number", func(k *kit) any { return k.Number }},
		{"site", func(k *kit) any { return k.Site }},
		{"place", func(k *kit) any { return k.Place }},
		{"since", func(k *kit) any { return k.Since }},
		{"back", func(k *kit) any { return k.Back }},
		{"opened", func(k *kit) any { return k.Opened }},
		{"release_at", func(k *kit) any { return released(k).At }},
		{"release_until", func(k *kit) any { return released(k).Until }},
		{"loan", func(k *kit) any { return k.Loan }},
		{"waiting", func(k *kit) any { return len(k.Waiting) }},
		{"retired", func(k *kit) any { return k.Retired }},
	}
}

// settingsTable has one row, named by the site.
func settingsTable() table {
	return table{name: reprocess.TableSettings,
		values: func(any) []any { return nil },
		ids: func(w *world) []string {
			if reflect.ValueOf(w.Settings).IsZero() {
				return nil
			}
			return []string{w.Settings.Site}
		},
		put: func(w *world, _ string, doc []byte) error {
			var s reprocess.Settings // a new one: nothing of an older row may stay
			err := json.Unmarshal(doc, &s)
			w.Settings = s
			return err
		}}
}

// tableOf finds the row of a table.
func tableOf(name reprocess.Table) *table {
	for i := range readTables {
		if readTables[i].name == name {
			return &readTables[i]
		}
	}
	return nil
}

// row gives the whole row of an entity: id, index columns, doc.
func (t *table) row(id string, entity any) ([]any, error) {
	doc, err := json.Marshal(entity)
	if err != nil {
		return nil, fmt.Errorf("table %s, row %s: %w", t.name, id, err)
	}
	return append(append([]any{id}, t.values(entity)...), string(doc)), nil
}

// fields are the names of a whole row.
func (t *table) fields() []string {
	return append(append([]string{"id"}, t.columns...), "doc")
}

// withUpserts writes the statement of each table.
func withUpserts(tables ...table) []table {
	for i, t := range tables {
		var sets []string
		for _, f := range t.fields()[1:] {
			sets = append(sets, f+" = excluded."+f)
		}
		tables[i].upsert = fmt.Sprintf(
			"INSERT INTO %s (%s) VALUES (?%s) ON CONFLICT (id) DO UPDATE SET %s",
			t.name, strings.Join(t.fields(), ", "),
			strings.Repeat(", ?", len(t.fields())-1), strings.Join(sets, ", "))
	}
	return tables
}
