package web

import (
	"fmt"
	"strings"
	"time"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// historyPage is everything that happened to a kit, the newest first.
type historyPage struct {
	Base
	ID, Number string
	Days       []historyDay
	Older      string // address of the next page, empty at the end
	Newest     bool
}

// historyDay is one day's entries, the newest first.
type historyDay struct {
	Day  string
	Rows []historyRow
}

// add puts an entry under its day.
func (p *historyPage) add(day string, r historyRow) {
	if n := len(p.Days); n == 0 || p.Days[n-1].Day != day {
		p.Days = append(p.Days, historyDay{Day: day})
	}
	last := &p.Days[len(p.Days)-1]
	last.Rows = append(last.Rows, r)
}

// historyRow is one entry. Undone stays readable; Refused says what was not allowed.
type historyRow struct {
	When    string
	Lines   []string
	Who     string
	Undone  bool
	Refused string

	Pictures []pictureLine
	Correct  string // address of its correction, where there is one
	LookBack string // address of the look-back on a release that no longer passes
	Test     *testFacts
}

// historyLength is how many entries one page shows.
const historyLength = 40

// showHistory is the timeline of a kit.
func showHistory(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	before := number(v.Query("before"))
	list, err := v.Store().Timeline(v.Context(), x.k.ID, before, historyLength+1)
	if err != nil {
		return err
	}
	p := &historyPage{Base: Titled("What happened to kit " + x.k.Number + "?"), ID: x.k.ID,
		Number: x.k.Number, Newest: before == 0}
	if len(list) > historyLength {
		list = list[:historyLength]
		p.Older = fmt.Sprintf("/kit/%s/history?before=%d", x.k.ID, list[historyLength-1].Seq)
	}
	undone, err := x.undone(list)
	if err != nil {
		return err
	}
	cycles, err := v.cyclesIn(list)
	if err != nil {
		return err
	}
	for _, e := range list {
		day := reprocess.DateIn(e.At, v.Now.Zone)
		row := x.historyRow(e, undone[e.Seq])
		if v.may(reprocess.ActCorrect) {
			row.Correct = correctLink(cycles, e)
		}
		if readsTrail.lets(v.Person) {
			row.LookBack = lookBackLink(cycles, e)
		}
		p.add(reprocess.Day(day), row)
	}
	return v.Show(p)
}

// undone finds which of the entries were taken back. A tap is taken back within two minutes,
// so the entry that does it may stand on the page before.
func (x *view) undone(list []*reprocess.Entry) (map[int64]bool, error) {
	seen := map[int64]bool{}
	if len(list) == 0 {
		return seen, nil
	}
	f := sqlite.Filter{Kit: x.k.ID, Act: reprocess.ActUndo, Result: reprocess.ResultDone,
		After: list[len(list)-1].Seq - 1, To: list[0].At.Add(2*reprocess.UndoWithinMS*time.Millisecond + 1)}
	undos, err := x.v.Store().Entries(x.v.Context(), f, 0, 4*historyLength)
	for _, e := range undos {
		for _, b := range e.Events {
			if u, ok := b.Event.(reprocess.Undone); ok {
				seen[u.Of] = true
			}
		}
	}
	return seen, err
}

func (x *view) historyRow(e *reprocess.Entry, undone bool) historyRow {
	at := reprocess.Clock(e.At, x.v.Now.Zone)
	r := historyRow{When: at[len(at)-len("15:04"):], Who: e.Name, Undone: undone,
		Lines: entryWords(x.w, e)}
	if e.Signed {
		r.Who += ", signed"
	}
	if e.Second != "" {
		r.Who += ", and " + nameIn(x.w, e.Second) + " beside"
	}
	r.Pictures, r.Test = x.pictures(e), testFactsOf(e)
	if e.Refusal != nil {
		r.Refused = "Refused: " + e.Refusal.Text
		r.Lines = []string{"Asked to " + actWords(e.Act) + "."}
	}
	return r
}

// actWords is an act as the table of rights words it.
func actWords(a reprocess.Act) string {
	if right, ok := reprocess.FindRight(a); ok {
		return right.Words
	}
	return strings.ReplaceAll(string(a), "_", " ")
}

// entryWords tells an entry in sentences: one for each thing that happened, the same sentence
// for both pieces once.
func entryWords(w *reprocess.World, e *reprocess.Entry) []string {
	var lines []string
	pieces := map[string][]string{}
	for _, b := range e.Events {
		words, piece := eventWords(w, b.Event)
		words += paperWords(paperOf(b.Event), zoneOf(w))
		if words == "" {
			continue
		}
		if _, again := pieces[words]; !again {
			lines = append(lines, words)
		}
		pieces[words] = append(pieces[words], piece)
	}
	for i, words := range lines {
		lines[i] = sentence(whose(pieces[words]) + words)
	}
	if len(lines) == 0 {
		lines = []string{sentence(actWords(e.Act))}
	}
	return lines
}

// whose begins a sentence with the piece it is about; both at once need no name.
func whose(pieces []string) string {
	if len(pieces) != 1 || pieces[0] == "" {
		return ""
	}
	return capital(pieces[0]) + ": "
}

// eventWords is one event in words and the kind of piece it is about, if it is about one.
func eventWords(w *reprocess.World, event reprocess.Event) (words, piece string) {
	kind := func(id string) string {
		if p := w.Pieces[id]; p != nil {
			return string(p.Kind)
		}
		return "piece " + id
	}
	switch ev := event.(type) {
	case reprocess.StepRecorded:
		return recordWords(ev.Record) + byContainer(w, ev.Record), kind(ev.Piece)
	case reprocess.RecordCorrected:
		return "corrected: " + recordWords(ev.Record) + byContainer(w, ev.Record) +
			inBrackets(ev.Reason) + failedWords(ev), kind(ev.Piece)
	case reprocess.CycleOpened:
		return fmt.Sprintf("cycle %d begun", ev.Number) + begunWith(ev.Instructions), kind(ev.Piece)
	case reprocess.Held:
		return "on hold: " + reprocess.HoldWords(ev.Reason) + inBrackets(ev.Note), kind(ev.Piece)
	case reprocess.HoldEnded:
		return "hold decided: " + ev.Reason, kind(ev.Piece)
	case reprocess.CheckRecorded:
		return checkedWords(ev), kind(ev.Piece)
	case reprocess.CampaignSet:
		return campaignWords(ev), ""
	case reprocess.VersionSet:
		return versionWords(w, ev), kind(ev.Piece)
	case reprocess.CampaignMarked:
		return "done in the campaign " + ev.Name, kind(ev.Piece)
	case reprocess.CycleRestarted:
		return lookBackWords(ev), kind(ev.Piece)
	case reprocess.PictureAdded:
		return "picture kept: " + ev.About, kind(ev.Piece)
	case reprocess.PieceMoved:
		return reprocess.StateWords(ev.State) + ": " + reasonWords(ev.Reason), kind(ev.Piece)
	}
	if words := filesWords(event) + documentWords(w, event); words != "" {
		return words, ""
	}
	if words := lookBackWords(event); words != "" {
		return words, ""
	}
	if words := weekWords(w, event); words != "" {
		return words, ""
	}
	if words, id := repairEventWords(event); words != "" {
		return words, kind(id)
	}
	return kitEventWords(w, event), ""
}

// byContainer names the container of a wetting.
func byContainer(w *reprocess.World, r reprocess.Record) string {
	switch c := w.Containers[r.Container]; {
	case r.Container == "":
		return ""
	case c != nil:
		return ", by " + tubWords(c)
	}
	return ", by container " + r.Container
}

// reasonWords is a reason with the declaration that stands before it in words.
func reasonWords(reason string) string {
	for id, words := range map[string]string{reprocess.NotExposed: "declared as not exposed",
		reprocess.Decontaminated:    "declared as exposed and decontaminated",
		reprocess.StillContaminated: "declared as still contaminated"} {
		if rest, ok := strings.CutPrefix(reason, id+": "); ok {
			return words + "; " + rest
		}
	}
	return reason
}

func inBrackets(note string) string {
	if note == "" {
		return ""
	}
	return " (" + note + ")"
}

// kitEventWords is an event about the whole kit in words.
func kitEventWords(w *reprocess.World, event reprocess.Event) string {
	switch ev := event.(type) {
	case reprocess.KitRegistered:
		return "registered as kit " + ev.Kit.Number
	case reprocess.PieceRegistered:
		return "registered as a spare " + string(ev.Kind) + ", serial " + ev.Serial
	case reprocess.KitMoved:
		return "lies now: " + ev.Place
	case reprocess.KitComposed:
		return "other pieces make the kit now"
	case reprocess.TakenBack:
		return takenBackWords(ev)
	case reprocess.ParcelOpened:
		return "parcel opened"
	case reprocess.PairChecked:
		return "recorder and phone scanned as a pair, each with its own cycle finished"
	case reprocess.RecordingSet:
		return "recording: " + recordingWords(ev.Status) + inBrackets(ev.Reason)
	case reprocess.WaitingSet:
		return "waits for " + reprocess.WaitWords(ev.Reason) + inBrackets(ev.Part)
	case reprocess.WaitingEnded:
		return "waits no more for " + reprocess.WaitWords(ev.Reason)
	case reprocess.Undone:
		return "the tap before taken back: tapped by mistake"
	case reprocess.KitReleased:
		return "released, signed: " + ev.Meaning
	case reprocess.ReleaseBroken:
		return "not released any more: the pack " + map[string]string{"opened": "was opened",
			"wet": "got wet", "dropped": "was dropped",
			"software": "was opened for other software", "app": "was opened for another app"}[ev.Why]
	case reprocess.Rechecked:
		return "pack re-checked"
	}
	return loanEventWords(w, event)
}

func loanEventWords(w *reprocess.World, event reprocess.Event) string {
	switch ev := event.(type) {
	case reprocess.HandedOut:
		if ev.After && ev.Under != "" {
			return "worn by another wearer on " + ev.Ward + " without reprocessing in between, " +
				"entered after the fact"
		}
		if ev.After {
			return "went out without a record, entered after the fact"
		}
		return handedOutWords(w, ev) + anywayWords(ev.Loan)
	case reprocess.LoanExtended:
		return fmt.Sprintf("loan extended to %d days, due back %s", ev.Days, reprocess.Day(ev.Due))
	case reprocess.LossDeclared:
		return lossWords(ev)
	case reprocess.LossTold:
		return "told of the loss: " + ev.Who
	case reprocess.WornTold:
		return "told afterwards: " + wornWords(ev.Worn)
	case reprocess.WardReturned:
		return "given back on the ward by the wearer"
	case reprocess.WearerViewed:
		return "wearer reference looked up"
	case reprocess.WearerErased:
		return "wearer reference erased: " + ev.Reason
	case reprocess.LegalHoldSet:
		return "legal hold set: " + ev.Reason
	case reprocess.HandOutUndone:
		return "hand-out undone: " + ev.Reason
	case reprocess.LabelBound:
		return "label stuck on"
	case reprocess.LabelIssued:
		return "label made"
	case reprocess.LabelWithdrawn:
		return "label withdrawn: " + ev.Reason
	}
	return ""
}

// takenBackWords says what was told at the return; "not asked" is said too.
func takenBackWords(ev reprocess.TakenBack) string {
	answer := func(v string) string { return strings.ReplaceAll(v, "_", " ") }
	words := fmt.Sprintf("taken back; skin trouble: %s, fault: %s, anything missing: %s",
		answer(ev.Return.Skin), answer(ev.Return.Fault), answer(ev.Return.Missing))
	if len(ev.Return.Parts) > 0 {
		words += "; missing: " + strings.Join(ev.Return.Parts, ", ")
	}
	if short := shortWords(ev.Return); short != "" {
		words += "; not back: " + short
	}
	if left := ev.Return.Left; left == reprocess.LeftDiscarded || left == reprocess.LeftNone {
		words += "; single-use parts " + leftOverWords[left]
	}
	if ev.Return.Custody == "unknown" {
		words += "; it was not recorded as out"
	}
	if ev.Return.Worn != "" {
		words += "; " + wornWords(ev.Return.Worn)
	}
	if ev.Return.Note != "" {
		words += "; " + ev.Return.Note
	}
	if ev.Swap != "" {
		words += "; another kit went out for it"
	}
	return words
}

func recordingWords(s reprocess.RecordingStatus) string {
	return map[reprocess.RecordingStatus]string{reprocess.RecordingUnknown: "nobody knows yet",
		reprocess.RecordingOnIt: "still on the device", reprocess.RecordingArrived: "has arrived",
		reprocess.RecordingNone:    "nothing was recorded",
		reprocess.RecordingGivenUp: "given up"}[s]
}

func sampleHistory() Page {
	return &historyPage{Base: Titled("What happened to kit 17?"), ID: "K18",
		Number: "17", Newest: true,
		Older: "/kit/K18/history?before=12", Days: []historyDay{{Day: "24 Nov 2026", Rows: []historyRow{
			{When: "14:02", Who: "Ada Okafor",
				Lines: []string{"Cleaned, visibly clean, no water standing."}},
			{When: "14:01", Who: "Ada Okafor", Lines: []string{"Seen dry."}, Undone: true,
				Test: &testFacts{Of: "Judged as bench source.", Remarks: []string{"37 stray bytes."},
					Figures: []limitRow{{What: "Jumps", Found: "0", Limit: "at most 2"}}}},
			{When: "14:00", Who: "Ada Okafor", Lines: []string{"Asked to release."},
				Refused: "Refused: Recorder: Contact time 41 s of 60 s."}}}}}
}
