package web

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"handback/reprocess"
)

// todayPage is what the morning and a hand-over ask, on one screen and on one sheet of paper.
type todayPage struct {
	Base
	Lead   string
	Day    string // of the page; a tap on yesterday's page ticks nothing today
	Wet    []wetLine
	Groups []todayGroup
	Empty  string // what was looked at and is empty
	Ticks  []tickLine
	Notes  []Line
	Note   Field
	To     Pick
	MaySet bool
}

// todayGroup is one list of the day. Says holds for every line of it; what is many times the same
// is behind one line with a count, and on paper beside it in Short.
type todayGroup struct {
	Group
	Says  string
	Many  string
	Short string
	More  []Line
}

// plainly are lists without anything said once or folded.
func plainly(groups ...Group) []todayGroup {
	all := make([]todayGroup, len(groups))
	for i, g := range groups {
		all[i].Group = g
	}
	return all
}

type tickLine struct {
	Words, Note string
	Done        bool
}

func showToday(v *Visit) error {
	page, err := v.todayPage()
	if err != nil {
		return err
	}
	return v.Show(page)
}

func (v *Visit) todayPage() (*todayPage, error) {
	today := v.Now.Today()
	w, err := v.Store().Week(v.Context(), today)
	if err != nil {
		return nil, err
	}
	record, err := v.recordLines()
	if err != nil {
		return nil, err
	}
	p := &todayPage{Base: Titled("What is due today?"), Day: string(today),
		Lead: leadOf(w.Settings) + "As of " + weekday(today) + ", " + v.moment(v.Now.UTC) + ".",
		Wet:  wetLines(w, v.Now), Note: dayNote(v.Field("note")), To: v.handOverPick(w),
		MaySet: v.entitled(reprocess.ActRoutine)}
	p.Ticks, p.Notes = tickLines(w, v.Now), dayLines(w, v.Now)
	var empty []string
	for _, g := range v.todayGroups(w) {
		if len(g.Lines)+len(g.More) == 0 {
			empty = append(empty, strings.ToLower(g.Heading[:1])+g.Heading[1:])
			continue
		}
		p.Groups = append(p.Groups, g)
	}
	p.Groups = append(p.Groups, plainly(Group{"The record", record})...)
	if len(empty) > 0 {
		p.Empty = "Looked at, and nothing there: " + strings.Join(empty, "; ") + "."
	}
	return p, nil
}

// leadOf names the clinic, for the sheet on the wall.
func leadOf(s reprocess.Settings) string {
	if s.Clinic == "" {
		return ""
	}
	return s.Clinic + ". "
}

// todayGroups are the lists of the page, in the order a morning is worked.
func (v *Visit) todayGroups(w *reprocess.World) []todayGroup {
	return slices.Concat(plainly(
		Group{"Lost, and somebody to tell", v.lossesToTell(w)},
		Group{"Half done, and whose", v.kitLines(w, halfDone)},
		Group{"Waiting, to look at today", v.kitLines(w, waitingDue)},
		Group{"To countersign", v.countersignLines(w)},
		Group{"Ends today", v.endingLines(w)},
	), []todayGroup{calledBackLines(w, v.Now)}, plainly(
		Group{"Overdue, to call", overdueCalls(w, v.Now)},
		Group{"Short of kits", shortLines(w, v.Now)},
		Group{"Supplies", supplyLines(w, v.Now)},
	), []todayGroup{v.chargeGroup(w)}, plainly(
		Group{"Technical checks, due or failed", v.checkLines(w)},
		Group{"Papers that run out", v.endingPapers(w)},
		Group{"To put right, due or over", findingLines(w, dueFindings(w, v.Now.Today()), v.Now)},
	))
}

// atKit is the page of a kit that the visitor has: at the bench, or else at the desk.
func (v *Visit) atKit(id string) string {
	if v.entitled(reprocess.ActStep) {
		return kitAt(id)
	}
	return deskAt(id)
}

// kitLines lists the kits of which note has something to say, as the bench orders them.
func (v *Visit) kitLines(w *reprocess.World,
	note func(*reprocess.World, *reprocess.Kit, reprocess.Now) (string, bool)) []Line {
	kits := make([]*reprocess.Kit, 0, len(w.Kits))
	for _, k := range w.Kits {
		kits = append(kits, k)
	}
	slices.SortFunc(kits, func(a, b *reprocess.Kit) int {
		return cmp.Or(cmp.Compare(since(a), since(b)), reprocess.ByNumber(a, b))
	})
	var all []Line
	for _, k := range kits {
		if words, ok := note(w, k, v.Now); ok {
			all = append(all, Line{v.atKit(k.ID), "Kit " + k.Number, words})
		}
	}
	return all
}

func (v *Visit) countersignLines(w *reprocess.World) []Line {
	var all []Line
	for _, u := range reprocess.ToCountersign(w) {
		all = append(all, Line{v.atKit(u.Kit), "Kit " + w.Kits[u.Kit].Number,
			count(u.Steps, "step", "steps") + " of " + strings.Join(u.Names, ", ") + "."})
	}
	return all
}

// endsWords says what of a kit ends.
var endsWords = map[string]string{reprocess.EndsRelease: "Its release ends today: re-check it.",
	reprocess.EndsCell: "Its cell is good until today: fit a fresh one.",
	reprocess.EndsKeep: "Kept for an appointment today."}

func (v *Visit) endingLines(w *reprocess.World) []Line {
	var all []Line
	for _, e := range reprocess.EndingToday(w, v.Now) {
		if e.Kit != "" {
			all = append(all, Line{v.atKit(e.Kit), "Kit " + w.Kits[e.Kit].Number, endsWords[e.What]})
			continue
		}
		line := Line{Words: nameOf(w, e.Person),
			Note: "Competence for " + procedureName(w, e.What) + " ends today."}
		if v.entitled(reprocess.ActPerson) {
			line.To = "/staff/" + e.Person
		}
		all = append(all, line)
	}
	return all
}

// overdueCalls are the returns to call about: the loan, never a wearer. What is called back is
// called for that, and stands in that group alone.
func overdueCalls(w *reprocess.World, now reprocess.Now) []Line {
	var all []Line
	back := map[string]bool{}
	for _, b := range reprocess.CallBacks(w, now) {
		back[b.Kit.ID] = true
	}
	for _, k := range reprocess.ToCall(w, now) {
		if back[k.ID] {
			continue
		}
		all = append(all, Line{callAt(k.ID), "Kit " + k.Number, overdueNote(w, w.Loans[k.Loan], now)})
	}
	return all
}

// overdueNote says since when a loan is over, and what came of the calls about it.
func overdueNote(w *reprocess.World, l *reprocess.Loan, now reprocess.Now) string {
	note := "Due " + reprocess.Day(l.Due) + ", " +
		count(l.Due.DaysUntil(now.Today()), "day", "days") + " over. Not called yet."
	if n := len(l.Calls); n > 0 {
		last := l.Calls[n-1]
		note = strings.TrimSuffix(note, "Not called yet.") + "Called " +
			count(n, "time", "times") + ", last " + age(last.At, now) + ": " +
			callWords(last.Result, last.On) + "."
	}
	return note + ringWords(w, l)
}

// supplyLines are the warnings about supplies, the grave ones first.
func supplyLines(w *reprocess.World, now reprocess.Now) []Line {
	var all []Line
	for _, x := range reprocess.SupplyWarnings(w, now) {
		all = append(all, Line{supplyAt(x.Ref), x.Words, x.Fix})
	}
	return all
}

// chargeGroup lists the phones to charge. Those whose charge nobody recorded, all of them after
// taking over from paper, are one line with their count, from the fourth on.
func (v *Visit) chargeGroup(w *reprocess.World) todayGroup {
	const few = 3
	g := todayGroup{Group: Group{Heading: "Phones to charge"}}
	var numbers []string
	for _, c := range reprocess.PhonesToCharge(w, v.Now) {
		line := Line{v.atKit(c.Kit), "Kit " + w.Kits[c.Kit].Number + ", phone",
			"Nobody recorded its charge."}
		if c.Percent < 0 {
			g.More, numbers = append(g.More, line), append(numbers, w.Kits[c.Kit].Number)
			continue
		}
		line.Note = strconv.Itoa(c.Percent) + "\u00a0% " + age(c.At, v.Now) + "."
		g.Lines = append(g.Lines, line)
	}
	if len(g.More) <= few {
		g.Lines, g.More = append(g.More, g.Lines...), nil
		return g
	}
	for i := range g.More {
		g.More[i].Note = ""
	}
	g.Many = fmt.Sprintf("%d phones whose charge nobody recorded", len(g.More))
	g.Short = "Kits " + strings.Join(numbers, ", ") + "."
	return g
}

// checkLines are the technical checks that are due within a month, over or failed.
func (v *Visit) checkLines(w *reprocess.World) []Line {
	var all []Line
	for _, s := range reprocess.ChecksDue(w, v.Now, reprocess.CheckSoonDays) {
		line := Line{Words: "Spare " + string(s.Piece.Kind) + " " + s.Piece.Serial,
			Note: upper(s.Words()) + "."}
		if v.entitled(reprocess.ActCheck) || v.entitled(reprocess.ActStep) {
			line.To = "/checks/" + s.Piece.ID
		}
		if s.Kit != nil {
			line.To = v.atKit(s.Kit.ID)
			line.Words = "Kit " + s.Kit.Number + ", " + string(s.Piece.Kind)
		}
		all = append(all, line)
	}
	return all
}

// lossesToTell are the lost kits with data of which nobody was told yet: a clock runs.
func (v *Visit) lossesToTell(w *reprocess.World) []Line {
	var all []Line
	for _, k := range lostKits(w) {
		if !k.Loss.ToTell() {
			continue
		}
		clock := w.Settings.ClockOf(k.Loss, v.Now)
		note := "Nobody is told yet: " + strconv.Itoa(int(clock.Known.Hours())) + " h of " +
			strconv.Itoa(int(clock.Limit.Hours())) + " h."
		all = append(all, Line{"/missing", "Kit " + k.Number, note})
	}
	return all
}

// recordLines say how old the last copy and the last checkpoint are.
func (v *Visit) recordLines() ([]Line, error) {
	backup := "No backup of this folder is known. Ask whoever runs the server."
	at, err := v.Store().LastBackup()
	if err != nil {
		return nil, err
	}
	if at != 0 {
		backup = "Last backup " + v.moment(at) + ", " + age(at, v.Now) + "."
	}
	notes, err := v.Store().Checkpoints(v.Context(), 1)
	if err != nil {
		return nil, err
	}
	checkpoint := "No checkpoint has been signed yet."
	if len(notes) > 0 {
		checkpoint = "Last checkpoint " + v.moment(notes[0].At) + ", " + age(notes[0].At, v.Now) +
			", over " + entriesOf(notes[0].Size) + "."
	}
	return []Line{{Words: backup}, {Words: checkpoint}}, nil
}

// tickLines are the daily list and who ticked what.
func tickLines(w *reprocess.World, now reprocess.Now) []tickLine {
	book := w.Daybooks[string(now.Today())]
	var all []tickLine
	for _, words := range w.Settings.Ticks() {
		line := tickLine{Words: words, Note: "Not yet today."}
		if t := book.Ticked(words); t != nil {
			line.Done, line.Note = true, t.Name+", "+timeOfDay(t.At, now)+"."
		}
		all = append(all, line)
	}
	return all
}

// dayLines are the notes and hand-overs of today in the order they were made.
func dayLines(w *reprocess.World, now reprocess.Now) []Line {
	book := w.Daybooks[string(now.Today())]
	if book == nil {
		return nil
	}
	type timed struct {
		seq  int64
		line Line
	}
	var all []timed
	for _, n := range book.Notes {
		all = append(all, timed{n.Seq, Line{Words: n.Note,
			Note: n.Name + ", " + timeOfDay(n.At, now) + "."}})
	}
	for _, g := range book.Given {
		all = append(all, timed{g.Seq, Line{Words: "Handed over to " + nameOf(w, g.To),
			Note: "By " + nameOf(w, g.From) + ", " + timeOfDay(g.At, now) + "."}})
	}
	slices.SortFunc(all, func(a, b timed) int { return cmp.Compare(a.seq, b.seq) })
	lines := make([]Line, len(all))
	for i, t := range all {
		lines[i] = t.line
	}
	return lines
}

func dayNote(value string) Field {
	f := TextField("note", "A note for whoever comes next", value)
	f.Lines, f.Required = 2, true
	f.Hint = "It stays in the record for ever: no wearers’ names, no references."
	return f
}

// handOverPick lists who works here, but for the visitor.
func (v *Visit) handOverPick(w *reprocess.World) Pick {
	return pickOf("to", "Who has the bench next?", "Choose somebody", v.Field("to"),
		staffChoices(w, v.Now.Today(), v.Person.ID))
}

// staffChoices lists who works here on a day by name, but for one person; a pass does not work.
func staffChoices(w *reprocess.World, day reprocess.Date, but string) []Choice {
	var all []Choice
	for _, p := range w.People {
		if p.ID != but && !p.Pass && (p.Left == "" || p.Left >= day) {
			all = append(all, Choice{Value: p.ID, Words: p.Name})
		}
	}
	slices.SortFunc(all, func(a, b Choice) int {
		return cmp.Or(cmp.Compare(strings.ToLower(a.Words), strings.ToLower(b.Words)),
			cmp.Compare(a.Value, b.Value))
	})
	return all
}

func sampleToday() Page {
	return &todayPage{Base: Titled("What is due today?"), Lead: "As of Tuesday, 24 Nov 2026 07:55.",
		Day: "2026-11-24", MaySet: true, Empty: "Looked at, and nothing there: supplies.",
		Wet: sampleBench().(*benchPage).Wet,
		Groups: []todayGroup{{Says: "All since yesterday.", Many: "4 phones", Short: "Kits 1, 2, 3, 4.",
			More: []Line{{"/kit/K1", "Kit 1, phone", ""}},
			Group: Group{"Overdue, to call", []Line{{"/today/call/K1", "Kit 17",
				"Due 20 Nov 2026, 4 days over. Not called yet."}, {"", "No backup is known.", ""}}}}},
		Ticks: []tickLine{{"Bench wiped", "Ada Okafor, 07:50.", true},
			{"Station phone wiped", "Not yet today.", false}},
		Notes: []Line{{"", "The lamp flickers", "Ada Okafor, 07:51."}},
		Note:  dayNote(""), To: pickOf("to", "Who has the bench next?", "Choose somebody", "",
			[]Choice{{Value: "P2", Words: "Ben Abel"}})}
}
