package web

import (
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// swapRows exchange a kit that is out for another one.
func swapRows() []Route {
	return both("/desk/kit/:kit/swap", acts(reprocess.ActSwap), "swap", sampleSwap, showSwap, swapKits)
}

// swapPage asks for the other kit first, and then for the rest. Ready lists kits to choose
// from; it is empty once one is chosen.
type swapPage struct {
	Base
	Action, Back string
	Lead         []string
	Find         *Field // the other kit is still to be found
	Ready        []Line
	Other        string // id of the other kit
	Three        []Choices
	Came         *Choices
	Recording    Choices
	Fields       []Field
	Worn         *Choices
	Along        []string
	AlongDays    string
	Pads         *Choices // which electrodes go along, where a lot of them is entered
	List         *shortList
	Act          string
}

// showSwap asks for the other kit; with ?find= it looks it up, with ?to= it asks the rest.
func showSwap(v *Visit) error {
	w, k, err := v.kitAtDesk()
	if err != nil {
		return err
	}
	if to := v.Query("to"); to != "" {
		page, err := v.swapForm(w, k, to)
		if err != nil {
			return err
		}
		return v.Show(page)
	}
	page, err := v.swapChoice(k)
	if err != nil {
		return err
	}
	if v.Query("find") == "" {
		return v.Show(page)
	}
	found, err := v.findKit(v.Query("find"))
	if err != nil {
		return v.Refuse(err, page)
	}
	return v.Went(deskAt(k.ID)+"/swap?to="+found.Kit, "")
}

// swapChoice offers the kits that can go out, the oldest release first.
func (v *Visit) swapChoice(k *reprocess.Kit) (*swapPage, error) {
	ready, err := v.Store().ReleasedKits(v.Context())
	if err != nil {
		return nil, err
	}
	f := CodeField("find", "Scan the other kit, or type its number", v.Query("find"))
	f.Required, f.First = true, true
	p := &swapPage{Base: Titled("For which kit is " + k.Number + " swapped?"), Find: &f,
		Action: deskAt(k.ID) + "/swap", Back: deskAt(k.ID)}
	for _, other := range readyKits(ready, v.Now) {
		if other.ID != k.ID && len(p.Ready) < 12 {
			p.Ready = append(p.Ready, Line{To: p.Action + "?to=" + other.ID, Words: "Kit " + other.Number,
				Note: modelOf(ready, other) + ". " + readyNote(ready, other, v.Now)})
		}
	}
	return p, nil
}

// swapForm asks what is the matter with the one and what goes along with the other.
func (v *Visit) swapForm(w *reprocess.World, k *reprocess.Kit, to string) (*swapPage, error) {
	ow, err := v.Store().KitWorld(v.Context(), to)
	if err != nil {
		return nil, notKnown(err, "There is no such kit here.")
	}
	other, posted := ow.Kits[to], v.c.Method() == post
	p := &swapPage{Base: Titled("What is the matter with kit " + k.Number + "?"), Other: to,
		Action: deskAt(k.ID) + "/swap", Back: deskAt(k.ID), Three: threeChoices(v.Field),
		Recording: recordingChoices(v.Field("recording")),
		Act:       "Swap " + k.Number + " for " + other.Number + ": all of it done"}
	if !reprocess.CanHandOut(ow, other, v.Now).Released {
		p.Lead = append(p.Lead, "Kit "+other.Number+" is not released: "+
			reprocess.CanHandOut(ow, other, v.Now).Reason)
	}
	l := w.Loans[k.Loan]
	left := reprocess.DaysLeft(l, v.Now)
	p.Lead = append(p.Lead, daysLeftWords(l, left, other.Number))
	days := TextField("days", "Planned days of kit "+other.Number, shown(left))
	note := TextField("note", "What it is, without names", v.Field("note"))
	place := placeField(v.Field("place"))
	place.Label = "Where kit " + k.Number + " lies now"
	if posted {
		days.Value = v.Field("days")
	} else {
		place.Value = dirtyBox
	}
	days.Keys, days.Required = "numeric", true
	p.Fields = []Field{note, days, place}
	if l.Open() && l.Wearer == "" && l.Ward == "" {
		p.Fields = append(p.Fields, referenceField(v.Field("reference")))
	}
	if came := cameChoices(w, k, v.Fields("came"), posted); len(came.Options) > 1 {
		p.Came = &came
	}
	if l.ByWard() && l.Open() {
		p.Worn = wornChoices(l.Ward, v.Field("worn"))
	}
	if n, bad := daysOf(days.Value); bad == nil {
		p.AlongDays, p.Along = strconv.Itoa(n), packWords(ow, other, n, v.today())
	}
	p.Pads = v.padsAtOut(ow)
	p.Lead, p.Fields = v.askAnyway(other, p.Lead, p.Fields)
	list := v.shortListOf(ow, other, l.ByWard(), "Swap as answered")
	p.List = &list
	return p, nil
}

func daysLeftWords(l *reprocess.Loan, left int, other string) string {
	if left == 0 {
		return "No day of the old loan is left; kit " + other + " needs its own."
	}
	return count(left, "day", "days") + " of the loan are left, until " + reprocess.Day(l.Due) +
		". Kit " + other + " goes out for them, to the same wearer."
}

// recordingChoices asks where the recording of a kit is.
func recordingChoices(picked string) Choices {
	c := Choices{Name: "recording", Legend: "Its recording", Required: true, Options: []Choice{
		{Value: string(reprocess.RecordingArrived), Words: "Has arrived"},
		{Value: string(reprocess.RecordingOnIt), Words: "Still on the device"},
		{Value: string(reprocess.RecordingNone), Words: "Nothing was recorded"},
		{Value: string(reprocess.RecordingUnknown), Words: "Nobody knows yet"}}}
	return c.Pick(picked)
}

func swapKits(v *Visit) error {
	w, k, err := v.kitAtDesk()
	if err != nil {
		return err
	}
	to := v.Field("to")
	kept, err := v.keptToken(to)
	if err != nil {
		return err
	}
	if err = v.swap(w, k, to); err == nil {
		v.forgetKept(kept)
		return v.Went(deskAt(to)+"/loan", "Swapped. Kit "+k.Number+" is back.")
	}
	page, drawn := v.swapForm(w, k, to)
	if drawn != nil {
		return drawn
	}
	return v.Refuse(err, page)
}

// swap sends both halves together; the second carries the form's key with its own ending.
func (v *Visit) swap(w *reprocess.World, k *reprocess.Kit, to string) error {
	days, p := daysOf(v.Field("days"))
	if p != nil {
		return p
	}
	checks, err := v.checks(to, w.Loans[k.Loan].ByWard())
	if err != nil {
		return err
	}
	s := reprocess.Swap{From: k.ID, To: to, Days: days, Checks: checks, Cell: v.Field("cell"),
		Pads: v.Field("pads"), Anyway: v.Field("anyway"), Came: v.Fields("came"), Opened: true,
		Recording: reprocess.RecordingStatus(v.Field("recording")),
		Return: reprocess.Return{Skin: v.Field("skin"), Fault: v.Field("fault"),
			Missing: v.Field("missing"), Note: v.Field("note"), Place: v.Field("place"),
			Worn: v.Field("worn")}}
	l := w.Loans[k.Loan]
	if l.Open() && l.Wearer == "" && l.Ward == "" {
		return v.withWearer(v.Field("reference"), func(token string) (*reprocess.Entry, error) {
			s.Wearer = token
			return v.doBoth(s)
		})
	}
	_, err = v.doBoth(s)
	return err
}

func (v *Visit) doBoth(s reprocess.Swap) (*reprocess.Entry, error) {
	out, in := s.Halves()
	r := sqlite.Request{Cmd: out, Actor: v.Actor(), Key: v.Key(), PhoneAt: v.PhoneAt()}
	second := r
	second.Cmd = in
	if r.Key != "" {
		second.Key = strings.TrimSuffix(r.Key, "-") + "-in"
	}
	return v.Store().DoBoth(v.Context(), r, second)
}

func sampleSwap() Page {
	none := func(string) string { return "" }
	f := CodeField("find", "Scan the other kit, or type its number", "")
	list := sampleShortList()
	return &swapPage{Base: Titled("What is the matter with kit 17?"), Action: "/desk/kit/K1/swap",
		Back: "/desk/kit/K1", Lead: []string{"9 days of the loan are left."}, Find: &f,
		Ready: []Line{{"/desk/kit/K1/swap?to=K2", "Kit 19", "Shelf B."}}, Other: "K2",
		Three: threeChoices(none), Recording: recordingChoices(""), List: &list,
		Fields: []Field{TextField("days", "Planned days", "9")},
		Worn:   wornChoices("Ward 4", ""), Pads: samplePads(),
		AlongDays: "9", Along: []string{"9 electrodes"}, Act: "Swap 17 for 19: all of it done"}
}
