package export

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
)

// resolve finds what the keys mean.
func (l *looker) resolve() (err error) {
	q, w := l.q, l.w
	instruments := finding{key: q.Instrument, what: "instrument"}
	for number := range l.instruments() {
		instruments.offer(number)
	}
	if _, err = instruments.single(); err != nil {
		return err
	}
	lots := finding{key: q.Lot, what: "lot"}
	for id, v := range w.Lots {
		lots.offer(id, v.Number)
	}
	containers := finding{key: q.Container, what: "container"}
	for id, v := range w.Containers {
		containers.offer(id, v.Number)
	}
	products := finding{key: q.Product, what: "product"}
	for id, v := range w.Products {
		products.offer(id, v.Name)
	}
	models := finding{key: q.Model, what: "model"}
	for id, v := range w.Models {
		models.offer(id, v.Name)
	}
	procedures := finding{key: q.Procedure, what: "procedure"}
	for ref, v := range w.Procedures {
		procedures.offer(ref, v.ID, v.Name)
	}
	for _, f := range []struct {
		*finding
		into *map[string]bool
	}{{&lots, &l.lots}, {&containers, &l.containers}, {&products, &l.products},
		{&models, &l.models}, {&procedures, &l.procedures}} {
		if *f.into, err = f.found(); err != nil {
			return err
		}
	}
	if err := l.kindOfLots(); err != nil {
		return err
	}
	l.addBatches()
	return l.resolveSingle()
}

// addBatches lets a key that names a stock find what was prepared from it here: a lot or a
// product finds the batches of it, a container those that were filled from it. A batch itself is
// a lot with a container of its own, and is found by them.
func (l *looker) addBatches() {
	for id, v := range l.w.Lots {
		if l.lots[v.From] {
			l.lots[id] = true
			l.batches[id] = true
		}
		if from := l.w.Lots[v.From]; from != nil && l.products[from.Product] {
			l.batches[id] = true
		}
	}
	for id, c := range l.w.Containers {
		if c.Batch != nil && l.containers[c.Batch.From] {
			l.containers[id] = true
			l.batches[c.Lot] = true
		}
	}
}

// resolveSingle finds the keys whose value shows in the answer or is matched by id.
func (l *looker) resolveSingle() (err error) {
	pieces := finding{key: l.q.Piece, what: "piece"}
	for id, v := range l.w.Pieces {
		pieces.offer(id, v.Serial)
	}
	people := finding{key: l.q.Person, what: "person"}
	for id, v := range l.w.People {
		people.offer(id, v.SignIn, v.Name)
	}
	if l.q.Piece, err = pieces.single(); err != nil {
		return err
	}
	l.q.Person, err = people.single()
	return err
}

// finding collects the ids that a key may mean; an id goes before a name.
type finding struct {
	key, what string
	byID      bool
	ids       []string
}

func (f *finding) offer(id string, names ...string) {
	switch {
	case f.key == "":
	case f.key == id:
		f.byID, f.ids = true, []string{id}
	case !f.byID && slices.Contains(names, f.key):
		f.ids = append(f.ids, id)
	}
}

// found gives the ids; nil when there is no such key.
func (f *finding) found() (map[string]bool, error) {
	if f.key == "" {
		return nil, nil
	}
	if len(f.ids) == 0 {
		return nil, fmt.Errorf("this log knows no %s %q; check how it is written", f.what, f.key)
	}
	set := map[string]bool{}
	for _, id := range f.ids {
		set[id] = true
	}
	return set, nil
}

func (f *finding) single() (string, error) {
	set, err := f.found()
	if err != nil || set == nil {
		return "", err
	}
	if len(set) > 1 {
		slices.Sort(f.ids)
		return "", fmt.Errorf("%q can be the %s %s; give the id", f.key, f.what,
			strings.Join(f.ids, " or "))
	}
	return f.ids[0], nil
}

// kindOfLots tells lots of cells and of electrodes from disinfectants: their keyed step is
// another one.
func (l *looker) kindOfLots() error {
	kinds := map[string]bool{}
	for id := range l.lots {
		switch kind := l.w.Lots[id].Kind; kind {
		case reprocess.LotCells, reprocess.LotElectrodes:
			kinds[kind] = true
		default:
			kinds[reprocess.LotDisinfectant] = true
		}
	}
	l.cells, l.pads = kinds[reprocess.LotCells], kinds[reprocess.LotElectrodes]
	if len(kinds) > 1 {
		return fmt.Errorf("%q is the number of lots of several kinds, such as cells and a "+
			"disinfectant; give the id", l.q.Lot)
	}
	if (l.cells || l.pads) && (l.products != nil || l.containers != nil) {
		return errors.New("a lot of cells or electrodes has no product or container; " +
			"ask by one of them")
	}
	return nil
}
