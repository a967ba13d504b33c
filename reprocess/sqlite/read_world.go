package sqlite

import (
	"context"
	"database/sql"
	"maps"
	"sync/atomic"
	"time"

	"handback/reprocess"
)

// setUp keeps the decoded small tables for pages: they change some times a month and every
// page wants them. The number is odd while the writer commits a change to them, and another
// one after it; then the copy is read anew.
type setUp struct {
	number atomic.Int64
	copy   atomic.Pointer[setUpCopy]
	zone   atomic.Pointer[zone]
}

type setUpCopy struct {
	number int64
	world  *reprocess.World
}

// changing and changed stand around a commit that changes small tables.
func (u *setUp) changing() { u.number.Add(1) }
func (u *setUp) changed()  { u.number.Add(1) }

func isSmall(t reprocess.Table) bool {
	for _, s := range smallTables {
		if s == t {
			return true
		}
	}
	return false
}

// load begins a partial world with the small tables. Their entities are shared by all pages:
// they are read and never changed.
func (u *setUp) load(ctx context.Context, q querier) (*loader, error) {
	number := u.number.Load()
	l := newLoader(q)
	kept := u.copy.Load()
	if kept == nil || kept.number != number || number%2 == 1 {
		if err := l.loadBase(ctx); err != nil {
			return nil, err
		}
		if u.number.Load() != number || number%2 == 1 {
			return l, nil // it changed meanwhile: right for this page, not to be kept
		}
		kept = &setUpCopy{number, l.w}
		u.copy.Store(kept)
	}
	l.w, l.base = kept.fork(), true
	return l, nil
}

// fork shares the entities but not the maps that hold them.
func (k *setUpCopy) fork() *reprocess.World {
	w := reprocess.NewWorld()
	w.Settings = k.world.Settings
	w.People, w.Models = maps.Clone(k.world.People), maps.Clone(k.world.Models)
	w.Procedures, w.InForce = maps.Clone(k.world.Procedures), maps.Clone(k.world.InForce)
	w.Products, w.Secrets = maps.Clone(k.world.Products), maps.Clone(k.world.Secrets)
	w.Phones, w.Legal = maps.Clone(k.world.Phones), maps.Clone(k.world.Legal)
	w.Documents = maps.Clone(k.world.Documents)
	return w
}

// snapshot runs f on a loader that sees one moment of the database.
func (s *Store) snapshot(ctx context.Context, f func(*loader) error) (*reprocess.World, error) {
	tx, err := s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, storeFault(err)
	}
	defer tx.Rollback() // nothing was written
	l, err := s.setUp.load(ctx, tx)
	if err == nil {
		err = f(l)
	}
	if err != nil {
		return nil, storeFault(err)
	}
	return l.w, nil
}

// SetUp is the world of the small tables alone: settings, people, models, procedures,
// products, phones. Its entities must not be changed; the same holds for every world below.
func (s *Store) SetUp(ctx context.Context) (*reprocess.World, error) {
	return s.snapshot(ctx, func(*loader) error { return nil })
}

// Now is the present by the store's clock, in the zone of the clinic.
func (s *Store) Now() reprocess.Now {
	now := s.opts.Clock()
	if now.Zone != nil {
		return now
	}
	w, err := s.SetUp(context.Background())
	if err != nil {
		s.log.Error("the settings cannot be read; days are in UTC", "err", err)
		return now
	}
	name := w.Settings.Zone
	if z := s.setUp.zone.Load(); z != nil && z.name == name {
		now.Zone = z.loc
	} else if name != "" {
		fresh := new(zone)
		now.Zone = fresh.get(name, s)
		s.setUp.zone.Store(fresh)
	}
	return now
}

// Everything is the whole world, for look-back and export: some milliseconds per hundred
// cycles.
func (s *Store) Everything(ctx context.Context) (*reprocess.World, error) {
	return s.snapshot(ctx, func(l *loader) error {
		for _, t := range reprocess.Tables() {
			if isSmall(t) {
				continue
			}
			if err := l.where(ctx, t, "", nil); err != nil {
				return err
			}
		}
		return nil
	})
}

// get gives the zone by its name, remembered; a name that this machine does not know is
// logged, and days are then in UTC.
func (z *zone) get(name string, s *Store) *time.Location {
	if z.loc == nil || z.name != name {
		loc, err := time.LoadLocation(name)
		if err != nil {
			s.log.Error("the time zone of the settings is unknown; days are in UTC", "err", err)
			loc = time.UTC
		}
		z.name, z.loc = name, loc
	}
	return z.loc
}
