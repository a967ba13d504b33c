package web

import (
	"strconv"
	"strings"
	"time"

	"handback/reprocess"
)

// outPage hands a released kit out.
type outPage struct {
	Base
	Number, Action, Cell string
	List                 shortList // before it leaves the house
	Reference, Days, Due Field
	Told, Flags          Choices
	Along                []string // what the bag needs for the planned days
	Pads                 *Choices // which electrodes go along, where a lot of them is entered
	AlongDays            string
	Kept                 string // that it is kept for an appointment
	Anyway               Field  // why it is given although kept for another
}

// usualDays is proposed as the planned wear.
const usualDays = 14

// outPageOf draws the form, or nil when the kit may not be handed out now.
func (v *Visit) outPageOf(id string) (*outPage, error) {
	w, err := v.Store().KitWorld(v.Context(), id)
	if err != nil {
		return nil, notKnown(err, "There is no such kit here.")
	}
	k := w.Kits[id]
	if !reprocess.CanHandOut(w, k, v.Now).Released {
		return nil, nil
	}
	days := usualDays
	if r := k.Release; r.CellDays > 0 {
		days = min(days, r.CellDays)
	}
	if usual := reprocess.UsualDays(w, k); usual > 0 {
		days = usual
	}
	p := &outPage{Base: Titled("Who will wear kit " + k.Number + "?"), Number: k.Number,
		Action: deskAt(id) + "/out", Cell: cellWords(k.Release, v.Now.Today()),
		List:      v.shortListOf(w, k, false, "Hand out as answered"),
		Reference: referenceField(v.Field("reference")),
		Days:      TextField("days", "Planned days", strconv.Itoa(days)),
		Due:       TextField("due", "Due back, if not after those days", v.Field("due")),
		Told:      toldChoices(v.Field("told")), Flags: flagChoices(v.Fields("flag"))}
	if v.c.Method() == post {
		p.Days.Value = v.Field("days")
	}
	if n, bad := daysOf(p.Days.Value); bad == nil {
		p.AlongDays, p.Along = strconv.Itoa(n), packWords(w, k, n, v.today())
	}
	p.Days.Keys, p.Days.Required, p.Due.Kind = "numeric", true, "date"
	p.Pads = v.padsAtOut(w)
	p.Kept, p.Anyway = keptWords(k, v.Now), anywayField(v.Field("anyway"))
	return p, nil
}

// padsAtOut are the lots of electrodes to choose from; nil where none is entered or all are
// used up.
func (v *Visit) padsAtOut(w *reprocess.World) *Choices {
	c := Choices{Name: "pads", Legend: "Which electrodes go along?", Options: []Choice{
		{Words: "Not told", Picked: v.Field("pads") == ""}}}
	for _, l := range lotsOf(w, func(l *reprocess.Lot) bool {
		return reprocess.ElectrodesFit(l, v.Now.Today()) == nil
	}) {
		c.Options = append(c.Options, Choice{Value: l.ID, Words: lotWords(w, l),
			Picked: v.Field("pads") == l.ID})
	}
	if len(c.Options) == 1 {
		return nil
	}
	return &c
}

func samplePads() *Choices {
	return &Choices{Name: "pads", Legend: "Which electrodes go along?", Options: []Choice{
		{Words: "Not told", Picked: true}, {Value: "T1", Words: "Electrodes, lot A1"}}}
}

func referenceField(value string) Field {
	f := TextField("reference", "The wearer’s reference", value)
	f.Required, f.Plain = true, true
	f.Hint = "A number or short code, never a name"
	return f
}

func cellWords(r *reprocess.Release, today reprocess.Date) string {
	switch {
	case r == nil:
		return ""
	case r.CellUntil != "" && r.CellUntil < today:
		return "The fitted cell was good until " + reprocess.Day(r.CellUntil) + ": fit a new one here and " +
			"choose its box."
	case r.CellDays > 0 && r.CellUntil != "":
		return "The fitted cell lasts " + strconv.Itoa(r.CellDays) + " days of wear and is good until " +
			reprocess.Day(r.CellUntil) + "."
	case r.CellDays > 0:
		return "The fitted cell lasts " + strconv.Itoa(r.CellDays) + " days of wear."
	case r.CellUntil != "":
		return "The fitted cell is good until " + reprocess.Day(r.CellUntil) + "."
	}
	return "How long the fitted cell lasts is not recorded."
}

// showOut shows the form; a kit that is not released goes back to its answer.
func showOut(v *Visit) error {
	page, err := v.outPageOf(v.Param("kit"))
	if err != nil {
		return err
	}
	if page == nil {
		return v.Went(deskAt(v.Param("kit")), "")
	}
	return v.Show(page)
}

func handOut(v *Visit) error {
	id := v.Param("kit")
	err := v.handOut(id)
	if err == nil {
		return v.Went(deskAt(id)+"/loan", "")
	}
	page, drawn := v.outPageOf(id)
	switch {
	case drawn != nil:
		return drawn
	case page == nil: // it is not released any more: the answer says why
		answer, drawn := v.deskKit(id)
		if drawn != nil {
			return drawn
		}
		v.page = "desk-kit"
		return v.Refuse(err, answer)
	}
	return v.Refuse(err, page)
}

// handOut keeps the link to the reference before the entry that names it, and forgets the
// link when the entry did not come to be.
func (v *Visit) handOut(kit string) error {
	flags, p := v.toldFlags()
	if p != nil {
		return p
	}
	days, p := daysOf(v.Field("days"))
	if p != nil {
		return p
	}
	checks, err := v.checks(kit, false)
	if err != nil {
		return err
	}
	kept, same, err := v.keptFor(kit, v.Field("reference"))
	if err != nil {
		return err
	}
	err = v.withWearer(v.Field("reference"), func(token string) (*reprocess.Entry, error) {
		return v.Do(reprocess.HandOut{Kit: kit, Wearer: token, Days: days, Checks: checks,
			Due: reprocess.Date(v.Field("due")), Flags: flags, Cell: v.Field("cell"),
			Pads: v.Field("pads"), Kept: same, Anyway: v.Field("anyway")})
	})
	if err == nil {
		v.forgetKept(kept)
	}
	return err
}

// withWearer makes a token for a reference and does an act with it. A token that no loan
// carries afterwards, after a refusal or a repeated form, is dropped.
func (v *Visit) withWearer(reference string,
	act func(token string) (*reprocess.Entry, error)) error {
	token, err := v.Store().WearerToken(v.Context(), reference)
	if err != nil {
		return err
	}
	e, err := act(token)
	if err == nil && wearerOf(e) == token {
		return nil
	}
	if drop := v.Store().DropWearer(v.Context(), token); drop != nil {
		v.server.log.Error("forgetting an unused wearer link", "id", v.id, "err", drop.Error())
	}
	return err
}

func wearerOf(e *reprocess.Entry) string {
	for _, b := range e.Events {
		if out, ok := b.Event.(reprocess.HandedOut); ok {
			return out.Wearer
		}
	}
	return ""
}

// daysOf reads a whole number of days: ASCII figures and nothing else.
func daysOf(text string) (int, *reprocess.Problem) {
	n, err := strconv.ParseUint(text, 10, 16)
	if err != nil || len(text) > 4 {
		return 0, &reprocess.Problem{Code: reprocess.Invalid, Rule: "days",
			Text: "The planned days cannot be read.", Fix: "Type a whole number from 1 to 400."}
	}
	return int(n), nil
}

// loanPage is what stands after a hand-out: the day, and the way back.
type loanPage struct {
	Base
	Kit     string // address of the kit at the desk
	Lead    string
	Lines   []Term
	Undo    Choices
	MayUndo bool
	Days    Field
	More    []Line // who wears it on the ward that keeps it
	Slip    string // where its slip is printed anew; empty: not by this person
}

func showLoan(v *Visit) error {
	page, err := v.loanPageOf(v.Param("kit"))
	if err != nil {
		return err
	}
	return v.Show(page)
}

// loanOut is a kit that is out with its loan; fix says what to do when it is not.
func (v *Visit) loanOut(id, fix string) (*reprocess.World, *reprocess.Kit, *reprocess.Loan, error) {
	w, err := v.Store().KitWorld(v.Context(), id)
	if err != nil {
		return nil, nil, nil, notKnown(err, "There is no such kit here.")
	}
	k := w.Kits[id]
	if l := w.Loans[k.Loan]; l.Open() {
		return w, k, l, nil
	}
	return nil, nil, nil, &reprocess.Problem{Code: reprocess.Refused, Rule: "not_out",
		Text: "Kit " + k.Number + " is not out.", Fix: fix}
}

func (v *Visit) loanPageOf(id string) (*loanPage, error) {
	w, k, l, err := v.loanOut(id, "Look it up at the front desk.")
	if err != nil {
		return nil, err
	}
	page := loanOf(w, k, l, v.Now)
	page.More = v.wardLines(l)
	if k.Release != nil && v.may(reprocess.ActExtend) {
		page.Slip = "/labels/slip/" + k.ID
	}
	return page, nil
}

func loanOf(w *reprocess.World, k *reprocess.Kit, l *reprocess.Loan,
	now reprocess.Now) *loanPage {
	p := &loanPage{Base: Titled("Out: kit " + k.Number), Kit: deskAt(k.ID), Undo: undoReasons,
		MayUndo: !l.After && !l.TakenOver && !l.OnWard() && l.Worn == 0,
		Days:    TextField("days", "Planned days, counted from the hand-out", "")}
	if l.Due != "" {
		p.Title += ", due back " + reprocess.Day(l.Due)
	}
	p.Days.Keys, p.Days.Required = "numeric", true
	if l.Days > 0 {
		p.Days.Value = strconv.Itoa(l.Days)
	}
	p.Lines = []Term{{"Out since", reprocess.Clock(l.Out, now.Zone)}}
	if by := w.People[l.OutBy]; by != nil {
		p.Lines = append(p.Lines, Term{"Handed out by", by.Name})
	}
	p.Lines = append(p.Lines, keeperTerms(w, l)...)
	told := "not known: the standard procedure"
	if len(l.Flags) > 0 {
		told = flagWords(l.Flags)
	}
	p.Lines = append(p.Lines, Term{"Precautions told", told})
	p.Lines = append(p.Lines, checkTerms(w, l)...)
	p.Lines = append(p.Lines, loanPlan(w, k, l, now)...)
	if l.After {
		p.Lead = "Recorded after the fact. It is being called back."
	}
	return p
}

// undoReasons are why a hand-out never was one.
var undoReasons = Choices{Name: "reason", Legend: "Why was it no hand-out?", Required: true,
	Options: []Choice{{Value: "never left, pack unopened", Words: "It never left, the pack is unopened"},
		{Value: "came back sealed", Words: "It came back sealed"}}}

func undoHandOut(v *Visit) error {
	id := v.Param("kit")
	if _, err := v.Do(reprocess.UndoHandOut{Kit: id, Reason: v.Field("reason")}); err != nil {
		return v.refuseLoan(id, err)
	}
	return v.Went(deskAt(id), "The hand-out is undone. Both entries stay.")
}

func extendLoan(v *Visit) error {
	id := v.Param("kit")
	days, p := daysOf(v.Field("days"))
	if p != nil {
		return v.refuseLoan(id, p)
	}
	if _, err := v.Do(reprocess.Extend{Kit: id, Days: days}); err != nil {
		return v.refuseLoan(id, err)
	}
	return v.Went(deskAt(id)+"/loan", "The new day stands. Its slip is printed anew: "+
		"the days to change electrodes and battery go with it.")
}

func (v *Visit) refuseLoan(id string, err error) error {
	page, drawn := v.loanPageOf(id)
	if drawn != nil {
		return err
	}
	page.Undo = page.Undo.Pick(v.Field("reason"))
	if v.Field("days") != "" {
		page.Days.Value = v.Field("days")
	}
	return v.Refuse(err, page)
}

// afterPage records what went out without a release or without a record.
type afterPage struct {
	Base
	Action                         string
	Reason, Out, Reference, Secret Field
}

func (v *Visit) afterPageOf(id string) (*afterPage, error) {
	w, err := v.Store().KitWorld(v.Context(), id)
	if err != nil {
		return nil, notKnown(err, "There is no such kit here.")
	}
	p := &afterPage{Base: Titled("How did kit " + w.Kits[id].Number + " go out?"),
		Action: deskAt(id) + "/after", Secret: SignField(),
		Reason:    TextField("reason", "How it happened", v.Field("reason")),
		Out:       TextField("out", "When it left, if anybody knows", v.Field("out")),
		Reference: referenceField(v.Field("reference"))}
	p.Reason.Required, p.Out.Kind, p.Reference.Required = true, "datetime-local", false
	p.Reference.Label = "The wearer’s reference, if known"
	return p, nil
}

func showAfter(v *Visit) error {
	page, err := v.afterPageOf(v.Param("kit"))
	if err != nil {
		return err
	}
	return v.Show(page)
}

func handOutAfter(v *Visit) error {
	id := v.Param("kit")
	err := v.handOutAfter(id)
	if err == nil {
		return v.Went(deskAt(id), "Recorded. The kit is on call-back and in the look-back.")
	}
	page, drawn := v.afterPageOf(id)
	if drawn != nil {
		return drawn
	}
	return v.Refuse(err, page)
}

func (v *Visit) handOutAfter(id string) error {
	out, p := v.localTime("out")
	if p != nil {
		return p
	}
	actor, err := v.Sign()
	if err != nil {
		return err
	}
	act := func(token string) (*reprocess.Entry, error) {
		return v.DoAs(reprocess.HandOutAfter{Kit: id, Wearer: token, Out: out,
			Reason: v.Field("reason")}, actor)
	}
	if v.Field("reference") == "" {
		_, err = act("")
		return err
	}
	return v.withWearer(v.Field("reference"), act)
}

// localTime reads a moment typed in the zone of the clinic; empty is none.
func (v *Visit) localTime(name string) (reprocess.Instant, *reprocess.Problem) {
	text := strings.Replace(v.Field(name), " ", "T", 1)
	if text == "" {
		return 0, nil
	}
	zone := v.Now.Zone
	if zone == nil {
		zone = time.UTC
	}
	for _, layout := range []string{"2006-01-02T15:04", "2006-01-02T15:04:05"} {
		t, err := time.ParseInLocation(layout, text, zone)
		if err == nil && t.Year() >= 1990 && t.Year() <= 2199 {
			return reprocess.InstantOf(t), nil
		}
	}
	return 0, &reprocess.Problem{Code: reprocess.Invalid, Rule: "time",
		Text: "The time cannot be read.", Fix: "Type it like 2026-11-24 14:05, or leave it empty."}
}

func sampleOut() Page {
	return &outPage{Base: Titled("Who will wear kit 17?"), Number: "17", Action: "/desk/kit/K1/out",
		Cell: "The fitted cell lasts 14 days of wear.", List: sampleShortList(),
		Reference: referenceField(""), Days: TextField("days", "Planned days", "14"),
		Due: TextField("due", "Due back", ""), Told: toldChoices(""), Flags: flagChoices(nil)}
}

func sampleLoan() Page {
	return &loanPage{Base: Titled("Out: kit 17, due back 8 Dec 2026"), Kit: "/desk/kit/K1", Slip: "/labels/slip/K1",
		Lines: []Term{{"Out since", "24 Nov 2026 14:05"}}, Undo: undoReasons, MayUndo: true,
		Days: TextField("days", "Planned days", "14")}
}

func sampleAfter() Page {
	return &afterPage{Base: Titled("How did kit 17 go out?"), Action: "/desk/kit/K1/after",
		Reason: TextField("reason", "How it happened", ""), Out: TextField("out", "When it left", ""),
		Reference: referenceField(""), Secret: SignField()}
}
