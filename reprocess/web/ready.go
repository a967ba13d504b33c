package web

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"handback/reprocess"
)

// Line is one ruled line of a list: it leads to a page, says what it is and adds a note.
type Line struct{ To, Words, Note string }

// Group is a heading with its lines.
type Group struct {
	Heading string
	Lines   []Line
}

// readyPage lists what can be handed out, by model, the oldest release first.
type readyPage struct {
	Base
	Counts string
	Days   Field
	Groups []Group
}

// showReady reads everything now and keeps nothing.
func showReady(v *Visit) error {
	page := &readyPage{Base: Titled("Which kits can go out?")}
	page.Days = TextField("days", "Planned days, if the cell has to last", v.Query("days"))
	page.Days.Keys = "numeric"
	atLeast := 0
	if text := v.Query("days"); text != "" {
		n, p := daysOf(text)
		if p != nil {
			return v.Refuse(p, page)
		}
		atLeast = n
	}
	w, err := v.Store().ReleasedKits(v.Context())
	if err != nil {
		return err
	}
	ready := readyKits(w, v.Now)
	page.Groups = readyGroups(w, ready, v.Now, atLeast)
	page.Counts, err = v.readyCounts(len(ready))
	if kept := keptCount(ready, v.Now); kept > 0 {
		page.Counts += ". " + count(kept, "of the ready ones is", "of the ready ones are") +
			" kept for an appointment"
	}
	if err != nil {
		return err
	}
	return v.Show(page)
}

// readyKits are those that may be handed out now, the oldest release first.
func readyKits(w *reprocess.World, now reprocess.Now) []*reprocess.Kit {
	var all []*reprocess.Kit
	for _, k := range w.Kits {
		if reprocess.CanHandOut(w, k, now).Released {
			all = append(all, k)
		}
	}
	slices.SortFunc(all, func(a, b *reprocess.Kit) int {
		return cmp.Or(cmp.Compare(a.Release.At, b.Release.At), reprocess.ByNumber(a, b))
	})
	return all
}

// readyGroups sorts the kits by model of recorder; a kit whose cell is not known to last the
// planned days is left out when days are asked for.
func readyGroups(w *reprocess.World, kits []*reprocess.Kit, now reprocess.Now, days int) []Group {
	lines := map[string][]Line{}
	for _, k := range kits {
		if k.Release.CellDays < days {
			continue
		}
		model := modelOf(w, k)
		lines[model] = append(lines[model], Line{To: deskAt(k.ID), Words: k.Number,
			Note: readyNote(w, k, now)})
	}
	var groups []Group
	for model, list := range lines {
		groups = append(groups, Group{model, list})
	}
	slices.SortFunc(groups, func(a, b Group) int { return cmp.Compare(a.Heading, b.Heading) })
	return groups
}

// modelOf is the model of a kit's first piece, its recorder.
func modelOf(w *reprocess.World, k *reprocess.Kit) string {
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil && w.Models[p.Model] != nil {
			return w.Models[p.Model].Name
		}
	}
	return "Model not known"
}

// keptCount counts those that are kept for an appointment.
func keptCount(kits []*reprocess.Kit, now reprocess.Now) (n int) {
	for _, k := range kits {
		if k.KeptNow(now) != nil {
			n++
		}
	}
	return n
}

func readyNote(w *reprocess.World, k *reprocess.Kit, now reprocess.Now) string {
	note := placeOf(k)
	if u := k.Release.CellUntil; u != "" && u < now.Today() {
		note += ", fit a new cell when it leaves"
	} else if k.Release.CellDays > 0 {
		note += ", cell lasts " + count(k.Release.CellDays, "day", "days")
	} else {
		note += ", cell: not recorded how long"
	}
	if charge := chargeWords(w, k, now); charge != "" {
		note += ", " + charge
	}
	if kept := keptWords(k, now); kept != "" {
		note += ". " + strings.TrimSuffix(kept, ".")
	}
	switch until := goodUntil(k.Release, now); until {
	case "":
		return upper(note) + ". Released " + reprocess.Day(reprocess.DateIn(k.Release.At, now.Zone)) + "."
	default:
		return upper(note) + ". Good until " + reprocess.Day(until) + "."
	}
}

// goodUntil is the earlier of the release's own end and the expiry of the cell.
func goodUntil(r *reprocess.Release, now reprocess.Now) reprocess.Date {
	until := r.CellUntil
	if until < now.Today() {
		until = "" // it is changed when the kit leaves
	}
	if r.Until != 0 {
		if day := reprocess.DateIn(r.Until, now.Zone); until == "" || day < until {
			until = day
		}
	}
	return until
}

// chargeWords is the charge of the phone when it was last looked at, with its age.
func chargeWords(w *reprocess.World, k *reprocess.Kit, now reprocess.Now) string {
	for _, id := range k.Pieces {
		p := w.Pieces[id]
		if p == nil || p.Kind != reprocess.Phone || w.Cycles[p.Cycle] == nil {
			continue
		}
		r, ok := w.Cycles[p.Cycle].Progress().Done[reprocess.StepBattery]
		if charge := r.Answered("charge"); ok && charge != "" {
			return "phone " + charge + "\u00a0% " + age(r.Mark.At, now)
		}
	}
	return ""
}

// readyCounts counts ready, coming and out.
func (v *Visit) readyCounts(ready int) (string, error) {
	open, err := v.Store().Kits(v.Context(), reprocess.InReprocessing, reprocess.AwaitingRelease)
	if err != nil {
		return "", err
	}
	coming := 0
	for _, k := range open.Kits {
		s := reprocess.KitState(k, open.Pieces)
		if s == reprocess.InReprocessing || s == reprocess.AwaitingRelease {
			coming++
		}
	}
	out, err := v.Store().OutLoans(v.Context())
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("%d ready, %d coming from the bench, %d out", ready, coming, len(out.Kits)), nil
}

// count writes a number with its noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// age says how long ago a moment was.
func age(at reprocess.Instant, now reprocess.Now) string {
	if at == 0 {
		return "at a time not recorded"
	}
	return span(at, now.UTC) + " ago"
}

// span writes the time between two moments in its largest unit, minutes at least.
func span(from, to reprocess.Instant) string {
	min := max(0, int(to.Sub(from).Minutes()))
	switch {
	case min < 60:
		return strconv.Itoa(min) + " min"
	case min < 48*60:
		return strconv.Itoa(min/60) + " h"
	}
	return count(min/60/24, "day", "days")
}

// overduePage lists loans past their day.
type overduePage struct {
	Base
	Lines []overdueLine
}

type overdueLine struct {
	Line
	Call      string // where a call about it is noted
	Kit, Loan string // for the look-up; Loan is empty for those who may not look
}

func showOverdue(v *Visit) error {
	page, err := v.overduePage()
	if err != nil {
		return err
	}
	return v.Show(page)
}

func (v *Visit) overduePage() (*overduePage, error) {
	w, err := v.Store().Overdue(v.Context(), v.Now.Today())
	if err != nil {
		return nil, err
	}
	page := &overduePage{Base: Titled("What is overdue?")}
	may := acts(reprocess.ActView).lets(v.Person)
	var kits []*reprocess.Kit
	for _, k := range w.Kits {
		if w.Loans[k.Loan].Open() {
			kits = append(kits, k)
		}
	}
	slices.SortFunc(kits, func(a, b *reprocess.Kit) int {
		return cmp.Or(cmp.Compare(w.Loans[a.Loan].Due, w.Loans[b.Loan].Due), reprocess.ByNumber(a, b))
	})
	for _, k := range kits {
		l := w.Loans[k.Loan]
		line := overdueLine{Line: Line{deskAt(k.ID), "Kit " + k.Number, overdueNote(w, l, v.Now)},
			Kit: k.ID}
		if v.entitled(reprocess.ActCall) {
			line.Call = callAt(k.ID)
		}
		if may && l.Wearer != "" {
			line.Loan = l.ID
		}
		page.Lines = append(page.Lines, line)
	}
	return page, nil
}

// wearerPage shows one reference, once its look-up is recorded.
type wearerPage struct {
	Base
	Reference, Words string
}

// lookUpWearer answers a post with the page itself: a reload of an address must not show a
// reference without an entry of its own.
func lookUpWearer(v *Visit) error {
	kit, loan := v.Field("kit"), v.Field("loan")
	reference, err := v.lookUp(kit, loan)
	if err != nil {
		page, drawn := v.overduePage()
		if drawn != nil {
			return drawn
		}
		v.page = "overdue"
		return v.Refuse(err, page)
	}
	w, err := v.Store().KitWorld(v.Context(), kit)
	if err != nil {
		return err
	}
	page := &wearerPage{Base: Titled("Who has kit " + w.Kits[kit].Number + "?"), Reference: reference}
	if l := w.Loans[loan]; l != nil && l.Due != "" {
		page.Words = "Due back " + reprocess.Day(l.Due) + "."
	}
	return v.Show(page)
}

// lookUp reads the reference only after the entry stands.
func (v *Visit) lookUp(kit, loan string) (string, error) {
	if _, err := v.Do(reprocess.LookUpWearer{Kit: kit, Loan: loan}); err != nil {
		return "", err
	}
	w, err := v.Store().KitWorld(v.Context(), kit)
	if err != nil {
		return "", err
	}
	l := w.Loans[loan]
	if l == nil {
		return "", notFound("loan")
	}
	return v.Store().WearerRef(v.Context(), l.Wearer)
}

func sampleReady() Page {
	return &readyPage{Base: Titled("Which kits can go out?"),
		Counts: "1 ready, 2 coming from the bench, 3 out",
		Days:   TextField("days", "Planned days", ""),
		Groups: []Group{{"Recorder A", []Line{
			{"/desk/kit/K1", "17", "Shelf A, cell lasts 14 days."}}}}}
}

func sampleOverdue() Page {
	return &overduePage{Base: Titled("What is overdue?"), Lines: []overdueLine{{
		Kit: "K1", Loan: "L1", Call: "/today/call/K1",
		Line: Line{"/desk/kit/K1", "Kit 17", "Due 8 Dec 2026, 3 days over."}}}}
}

func sampleWearer() Page {
	return &wearerPage{Base: Titled("Who has kit 17?"), Reference: "A-1044",
		Words: "Due back 8 Dec 2026."}
}
