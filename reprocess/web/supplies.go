package web

import (
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
)

// showSupplies lists the open containers, the first to expire first.
func showSupplies(v *Visit) error {
	w, err := v.Store().Stock(v.Context())
	if err != nil {
		return err
	}
	p := titledOffice("Which container is used first?")
	if rows := supplyWarnings(w, v.Now); len(rows) > 0 {
		p.list("To see to", "", rows...)
	}
	var rows []ruledLine
	for _, c := range openContainers(w) {
		rows = append(rows, containerLine(w, c, v.today()))
	}
	p.list("Open, first to expire first", "No container is open. Scan a blank sticker to open one.",
		rows...)
	var stopped []ruledLine
	for _, l := range lotsOf(w, func(l *reprocess.Lot) bool { return l.Stopped != nil }) {
		stopped = append(stopped, ruledLine{To: "/lot/" + l.ID, Words: lotWords(w, l),
			Notes: []string{"stopped: " + l.Stopped.Reason}})
	}
	if len(stopped) > 0 {
		p.list("Stopped lots", "", stopped...)
	}
	if v.entitled(reprocess.ActOpenContainer) {
		p.act("/containers/open", "Open a container")
	}
	if v.entitled(reprocess.ActBatch) && len(madeHere(w)) > 0 {
		p.act("/batch", "Prepare a batch")
	}
	p.act("/lots", "Lots")
	p.act("/products", "Disinfectants")
	if v.entitled(reprocess.ActWarning) {
		p.act("/affected", "The maker sent a list")
	}
	p.act("/reckon", "Reckon with alcohol")
	p.act("/claims", "Claims needed")
	return v.Show(p)
}

// openContainers lists what is open: known use-by first, earliest first, then the unknown.
func openContainers(w *reprocess.World) []*reprocess.Container {
	var all []*reprocess.Container
	for _, c := range w.Containers {
		if c.Closed == 0 {
			all = append(all, c)
		}
	}
	key := func(c *reprocess.Container) string {
		if day := useBy(w, c); day != "" {
			return string(day) + c.ID
		}
		return "9" + c.ID
	}
	slices.SortFunc(all, func(a, b *reprocess.Container) int {
		return strings.Compare(key(a), key(b))
	})
	return all
}

// useBy is the last usable day of a container, empty when it is not known.
func useBy(w *reprocess.World, c *reprocess.Container) reprocess.Date {
	l := w.Lots[c.Lot]
	if l == nil || w.Products[l.Product] == nil {
		return ""
	}
	return reprocess.UseBy(w.Products[l.Product], l, c)
}

func containerLine(w *reprocess.World, c *reprocess.Container, today reprocess.Date) ruledLine {
	line := ruledLine{To: "/container/" + c.ID, Words: containerWords(w, c)}
	switch day := useBy(w, c); {
	case day == "":
		line.Notes = []string{"No use-by is known: it cannot be used."}
	case day < today:
		line.Notes = []string{"Use-by was " + reprocess.Day(day) + ": throw it away."}
	default:
		line.Notes = []string{"Use by " + reprocess.Day(day)}
		if c.Batch != nil {
			line.Notes = []string{"Prepared here, throw it away after " + reprocess.Day(day)}
		}
	}
	if l := w.Lots[c.Lot]; l != nil && l.Stopped != nil {
		line.Notes = append(line.Notes, "The lot is stopped: do not use it.")
	}
	return line
}

// containerWords names a container: product, lot and the number of its sticker.
func containerWords(w *reprocess.World, c *reprocess.Container) string { return w.ContainerWords(c) }

// lotWords names a lot: product or designation, and the printed number.
func lotWords(w *reprocess.World, l *reprocess.Lot) string { return w.LotWords(l) }

// lotsOf lists lots, the first to expire first.
func lotsOf(w *reprocess.World, want func(*reprocess.Lot) bool) []*reprocess.Lot {
	var all []*reprocess.Lot
	for _, l := range w.Lots {
		if want(l) {
			all = append(all, l)
		}
	}
	slices.SortFunc(all, func(a, b *reprocess.Lot) int {
		return strings.Compare(endsOn(a)+a.ID, endsOn(b)+b.ID)
	})
	return all
}

// endsOn sorts lots by their last day; one without a day comes after those that end.
func endsOn(l *reprocess.Lot) string {
	if l.Expiry == "" {
		return "9999-12-31"
	}
	return string(l.Expiry)
}

// stock is the world of the small tables with every lot.
func (v *Visit) stock() (*reprocess.World, error) {
	w, err := v.Store().Supplies(v.Context())
	if err != nil {
		return nil, err
	}
	all, err := v.Store().Lots(v.Context())
	for _, l := range all {
		w.Lots[l.ID] = l
	}
	return w, err
}

// openable are the lots of disinfectant a new container may come from, for choosing.
func openable(w *reprocess.World, today reprocess.Date) []Choice {
	var all []Choice
	for _, l := range lotsOf(w, func(l *reprocess.Lot) bool {
		return reprocess.Openable(l, today) == nil
	}) {
		all = append(all, Choice{Value: l.ID, Words: lotWords(w, l),
			Note: fmt.Sprintf("expires %s", reprocess.Day(l.Expiry))})
	}
	return all
}
