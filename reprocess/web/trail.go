package web

import (
	"fmt"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// trailLength is how many entries one page of the trail shows.
const trailLength = 50

// readers of the trail; who may take it away is in the table of rights.
var readsTrail = only(reprocess.RoleAuditor, reprocess.RoleSupervisor, reprocess.RoleInfection)

// trailPage is the record, the newest entry first, as far as the filter lets through. The
// address is the whole state, so that it can be passed on.
type trailPage struct {
	Base
	Told   string // how many, and of which
	Rows   []trailRow
	Filter *trailForm
	Older  string // addresses; empty: there is none
	Newest string
	Copy   string
	All    string
	Checks bool
}

// trailRow is one entry as a line.
type trailRow struct {
	To      string
	Seq     string
	Lines   []string
	Refused string
	Why     string // it is in the list, where the lines do not say it
	When    string
	Who     string
	Kit     string
}

// showTrail lists entries.
func showTrail(v *Visit) error {
	f := v.trailFilter()
	p, err := v.trailPage(f)
	if p == nil {
		return err
	}
	if err != nil {
		return v.Refuse(err, p)
	}
	return v.Show(p)
}

// trailPage draws the page of a filter; with a problem the page has the form alone.
func (v *Visit) trailPage(f trailFilter) (*trailPage, error) {
	w, err := v.setUp()
	if err != nil {
		return nil, err
	}
	p := &trailPage{Base: Titled("What happened?"), Filter: f.form(w), Checks: true}
	chosen, err := v.chosen(w, f)
	if err != nil {
		p.Filter.Open = true
		return p, err
	}
	count, err := v.counted(chosen)
	if err != nil {
		return nil, err
	}
	before := trailNumber(v.Query("before"))
	list, err := v.Store().Entries(v.Context(), chosen, before, trailLength+1)
	if err != nil {
		return nil, err
	}
	if len(list) > trailLength {
		list = list[:trailLength]
		p.Older = f.address("/trail", "before", strconv.FormatInt(list[trailLength-1].Seq, 10))
	}
	if p.Rows, err = v.trailRows(list); err != nil {
		return nil, err
	}
	f.foundBy(list, p.Rows)
	p.Told = count + ": " + f.words(w) + "."
	p.addresses(f, before, v.may(reprocess.ActExport) && len(p.Rows) > 0)
	return p, nil
}

func (p *trailPage) addresses(f trailFilter, before int64, copies bool) {
	if before > 0 {
		p.Newest = f.address("/trail")
	}
	if !f.empty() {
		p.All = "/trail"
	}
	if copies {
		p.Copy = f.address("/trail/copy")
	}
}

// Bounds of what the page counts; without a filter the number costs nothing, and with words every
// entry that is counted is read.
const (
	mostCounted      = 10_000
	mostWordsCounted = 1_000
)

// counted says how many entries a filter lets through.
func (v *Visit) counted(f sqlite.Filter) (string, error) {
	if f.All() {
		n, err := v.Store().Size(v.Context())
		return entriesOf(n), err
	}
	most := int64(mostCounted)
	if len(f.Words) > 0 {
		most = mostWordsCounted
	}
	n, err := v.Store().CountTo(v.Context(), f, most)
	if n > most {
		return "more than " + entriesOf(most), err
	}
	return entriesOf(n), err
}

func entriesOf(n int64) string {
	if n == 1 {
		return "1 entry"
	}
	return strconv.FormatInt(n, 10) + " entries"
}

// trailRows tells entries in sentences.
func (v *Visit) trailRows(list []*reprocess.Entry) ([]trailRow, error) {
	w, err := v.Store().Around(v.Context(), list)
	if err != nil {
		return nil, err
	}
	var rows []trailRow
	for _, e := range list {
		rows = append(rows, v.trailRow(w, e))
	}
	return rows, nil
}

func (v *Visit) trailRow(w *reprocess.World, e *reprocess.Entry) trailRow {
	seq := strconv.FormatInt(e.Seq, 10)
	r := trailRow{To: "/trail/" + seq, Seq: seq, When: reprocess.Clock(e.At, v.Now.Zone),
		Who: e.Name, Kit: kitNumber(w, e.Kit), Lines: trailWords(w, e)}
	if bySecret(e) {
		r.Who += ", signed"
	}
	if e.Refusal != nil {
		r.Refused = "Refused: " + e.Refusal.Text
	}
	return r
}

// bySecret tells whether somebody entered their own secret for it; the command line has none.
func bySecret(e *reprocess.Entry) bool { return e.Signed && e.By != reprocess.Console().Person.ID }

func kitNumber(w *reprocess.World, id string) string {
	switch k := w.Kits[id]; {
	case id == "":
		return ""
	case k == nil:
		return "kit " + id
	default:
		return "kit " + k.Number
	}
}

// trailNumber reads the number of an entry strictly; what is none is 0, which no entry has.
func trailNumber(text string) int64 {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 1 || strconv.FormatInt(n, 10) != text {
		return 0
	}
	return n
}

// trailWords tells an entry in sentences; a refused one by what was asked for.
func trailWords(w *reprocess.World, e *reprocess.Entry) []string {
	if e.Refusal != nil {
		return []string{"Asked to " + actWords(e.Act) + "."}
	}
	var lines []string
	rest := *e
	rest.Events = nil
	for _, b := range e.Events {
		words := setUpWords(w, b.Event)
		if set, is := b.Event.(reprocess.SettingsSet); is && e.Act == reprocess.ActPolicy {
			words = policyWords(set.Policy)
			if set.TwoToStop {
				words += "; two people sign what a look-back stops"
			}
		}
		if words != "" {
			lines = append(lines, words+".")
			continue
		}
		rest.Events = append(rest.Events, b)
	}
	if len(rest.Events) > 0 || len(lines) == 0 {
		lines = append(lines, entryWords(w, &rest)...)
	}
	return lines
}

// setUpWords is an event about staff, rules, supplies or the record itself in words, without
// the stop; empty for all others.
func setUpWords(w *reprocess.World, event reprocess.Event) string {
	switch ev := event.(type) {
	case reprocess.SettingsSet:
		return "Settings of " + ev.Site + " set"
	case reprocess.PersonSet:
		if ev.Pass {
			return "Pass of " + ev.Name + ", to read until " + reprocess.Day(ev.Left)
		}
		return ev.Name + " on the staff: " + rolesInWords(ev.Roles) + leftWords(ev.Left)
	case reprocess.SecretSet:
		return secretWords(w, ev)
	case reprocess.PhoneEnrolled:
		return "Phone “" + ev.Name + "” enrolled"
	case reprocess.PhoneRevoked:
		return "Phone " + phoneName(w, ev.Phone) + " ended: " + ev.Reason
	case reprocess.ModelSet:
		return "Model " + ev.Name + " described"
	case reprocess.ProcedureApproved:
		return fmt.Sprintf("Procedure “%s”, version %d, approved", ev.Name, ev.Version)
	case reprocess.Exported:
		return exportedWords(ev)
	case reprocess.SampleDrawn:
		return sampleDrawnWords(ev)
	case reprocess.SampleRecordRead:
		return sampleReadWords(w, ev)
	case reprocess.FilesRemoved:
		return filesWords(ev)
	}
	return supplyWords(w, event)
}

func supplyWords(w *reprocess.World, event reprocess.Event) string {
	switch ev := event.(type) {
	case reprocess.ProductSet:
		return "Disinfectant “" + ev.Name + "” described"
	case reprocess.LotSet:
		return "Lot " + lotName(w, ev.ID, &ev.Lot) + " recorded" + expiryWords(ev.Expiry)
	case reprocess.LotStopped:
		return "Lot " + lotName(w, ev.Lot, w.Lots[ev.Lot]) + " stopped: " + ev.Reason
	case reprocess.LotLifted:
		return "Stop of lot " + lotName(w, ev.Lot, w.Lots[ev.Lot]) + " lifted: " + ev.Reason
	case reprocess.ContainerOpened:
		return "Container " + boxName(w, ev.ID) + " opened, lot " +
			lotName(w, ev.Lot, w.Lots[ev.Lot])
	case reprocess.ContainerClosed:
		return "Container " + boxName(w, ev.Container) + " closed: " + ev.Why
	case reprocess.LotEnded:
		return "Lot " + lotName(w, ev.Lot, w.Lots[ev.Lot]) + " called used up"
	case reprocess.LotResumed:
		return "Lot " + lotName(w, ev.Lot, w.Lots[ev.Lot]) + " not used up after all"
	case reprocess.WarningNoted:
		return "Warning of the maker kept: " + ev.Ref
	case reprocess.StrengthRead:
		return "Container " + boxName(w, ev.Container) + " read: " + ev.Reading.Reading + " at " +
			ev.Reading.Temperature
	case reprocess.ContainerReopened:
		return "Container " + boxName(w, ev.Container) + " not closed after all"
	case reprocess.ForeignItem:
		return "Something taken in that is not ours: " + ev.Note
	case reprocess.WearerErased:
		return "Wearer reference of loan " + ev.Loan + " erased: " + ev.Reason
	case reprocess.LegalHoldSet:
		return "Legal hold set: " + ev.Reason
	case reprocess.LegalHoldLifted:
		return "Legal hold lifted: " + ev.Reason
	case reprocess.WearerViewed:
		return "Wearer reference of loan " + ev.Loan + " looked up"
	}
	return watchWords(w, event)
}

func exportedWords(ev reprocess.Exported) string {
	if ev.Format == "sample" {
		return "Sample drawn: " + ev.Scope
	}
	what := map[string]string{"csv": "Table of " + ev.Table, "ndjson": "Entries, line by line,",
		"fhir": "FHIR file", "evidence": "Evidence file", "print": "Printed list",
		"report": "Audit report", "device": "Device record"}[ev.Format]
	return what + " taken out: " + ev.Scope
}

func rolesInWords(roles []reprocess.Role) string {
	var words []string
	for _, r := range roles {
		words = append(words, reprocess.RoleWords(r))
	}
	if len(words) == 0 {
		return "no role"
	}
	return strings.Join(words, ", ")
}

func leftWords(d reprocess.Date) string {
	if d == "" {
		return ""
	}
	return "; left on " + reprocess.Day(d)
}

func expiryWords(d reprocess.Date) string {
	if d == "" {
		return ""
	}
	return ", usable until " + reprocess.Day(d)
}

func phoneName(w *reprocess.World, id string) string {
	if p := w.Phones[id]; p != nil {
		return "“" + p.Name + "”"
	}
	return id
}

// lotName is the product or designation and the printed number.
func lotName(w *reprocess.World, id string, l *reprocess.Lot) string {
	if l == nil {
		return id
	}
	name := l.Name
	if p := w.Products[l.Product]; p != nil {
		name = p.Name
	}
	name = strings.TrimSpace(name + " " + l.Number)
	if name == "" {
		return id
	}
	return name
}

func boxName(w *reprocess.World, id string) string {
	if c := w.Containers[id]; c != nil && c.Number != "" {
		return c.Number
	}
	return id
}

func sampleTrail() Page {
	w := reprocess.NewWorld()
	w.People["S1"] = &reprocess.Person{ID: "S1", Name: "Ada Okafor"}
	f := trailFilter{Kit: "17"}
	p := &trailPage{Base: Titled("What happened?"), Told: "2 entries: kit 17.", Filter: f.form(w),
		Older: "/trail?before=9&kit=17", Newest: "/trail?kit=17", Copy: "/trail/copy?kit=17",
		All: "/trail", Checks: true}
	p.Rows = []trailRow{{To: "/trail/12", Seq: "12", Lines: []string{"Asked to release."},
		Refused: "Refused: Recorder: Contact time 41 s of 60 s.", Why: "Names lot K-17.", When: "24 Nov 2026 14:05",
		Who: "Ada Okafor, signed", Kit: "kit 17"}, {To: "/trail/9", Seq: "9",
		Lines: []string{"Cleaned, visibly clean."}, When: "24 Nov 2026 14:00", Who: "Ada Okafor",
		Kit: "kit 17"}}
	return p
}
