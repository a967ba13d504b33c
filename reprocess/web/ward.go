package web

import (
	"strconv"
	"strings"

	"handback/reprocess"
)

// wornWords is the answer to "worn by how many since?".
func wornWords(worn string) string {
	switch worn {
	case reprocess.WornUnknown:
		return "on the ward worn by nobody knows how many"
	case reprocess.NotAsked:
		return "by how many it was worn on the ward was not asked"
	}
	return "on the ward worn by " + worn
}

// wornChoices asks it at the return.
func wornChoices(ward, picked string) *Choices {
	c := Choices{Name: "worn", Legend: "Worn by how many on " + ward + "?",
		Options: []Choice{{Value: "0", Words: "Nobody"}}}
	for n := 1; n <= 6; n++ {
		c.Options = append(c.Options, Choice{Value: strconv.Itoa(n), Words: strconv.Itoa(n)})
	}
	c.Options = append(c.Options, Choice{Value: reprocess.WornUnknown, Words: "Not known"},
		Choice{Value: reprocess.NotAsked, Words: "Not asked"})
	if picked == "" {
		picked = reprocess.NotAsked
	}
	c = c.Pick(picked)
	return &c
}

// wardRows hand a kit to a ward, and say who wears it there.
func wardRows() []Route {
	const kit = "/desk/kit/:kit"
	rows := both(kit+"/ward", acts(reprocess.ActIssue), "ward", sampleWard, showWard, toWard)
	rows = append(rows, both(kit+"/worn", acts(reprocess.ActWardWear), "ward", sampleWard,
		showWorn, wearAtWard)...)
	rows = append(rows, both(kit+"/ward-back", acts(reprocess.ActWardReturn), "ward", sampleWard,
		showWardBack, backOnWard)...)
	return append(rows, both(kit+"/worn-by", acts(reprocess.ActWardReturn), "ward", sampleWard,
		showWornBy, tellWorn)...)
}

// wardPage is a form about a ward.
type wardPage struct {
	Base
	Lead        []string
	Action, Act string
	Chips       []Choices
	Fields      []Field
	Told, Flags *Choices
	Pads        *Choices // which electrodes go along, where a lot of them is entered
	List        *shortList
	Back        string // the kit at the desk
}

// kitAtDesk is the world of a kit for a page of the desk.
func (v *Visit) kitAtDesk() (*reprocess.World, *reprocess.Kit, error) {
	id := v.Param("kit")
	w, err := v.Store().KitWorld(v.Context(), id)
	if err != nil {
		return nil, nil, notKnown(err, "There is no such kit here.")
	}
	return w, w.Kits[id], nil
}

func (v *Visit) wardPage(k *reprocess.Kit, title, path, act string) *wardPage {
	return &wardPage{Base: Titled(title), Action: deskAt(k.ID) + "/" + path, Act: act,
		Back: deskAt(k.ID)}
}

// told adds what was told of precautions.
func (p *wardPage) told(v *Visit) {
	told, flags := toldChoices(v.Field("told")), flagChoices(v.Fields("flag"))
	p.Told, p.Flags = &told, &flags
}

func (v *Visit) toWardPage(w *reprocess.World, k *reprocess.Kit) *wardPage {
	p := v.wardPage(k, "Which ward keeps kit "+k.Number+"?", "ward",
		"Hand "+k.Number+" to the ward: all of it done")
	wards := Choices{Name: "ward", Legend: "The ward", Required: true}
	for _, ward := range w.Settings.WardList() {
		wards.Options = append(wards.Options, Choice{Value: ward.Name, Words: ward.Name})
	}
	if len(wards.Options) == 0 {
		p.Lead = []string{"No ward is entered yet. A supervisor enters wards in the settings of " +
			"the counter."}
	}
	days := TextField("days", "Planned days", v.Field("days"))
	if v.c.Method() != post {
		days.Value = strconv.Itoa(usualDays)
	}
	due := TextField("due", "Due back, if not after those days", v.Field("due"))
	days.Keys, days.Required, due.Kind = "numeric", true, "date"
	list := v.shortListOf(w, k, true, "Hand it to the ward as answered")
	p.Chips, p.Fields, p.List = []Choices{wards.Pick(v.Field("ward"))}, []Field{days, due}, &list
	p.Lead = append(p.Lead, "The ward keeps it until that day. Who wears it there is recorded each "+
		"time; after one wearer it comes back to the bench.")
	p.Lead, p.Fields = v.askAnyway(k, p.Lead, p.Fields)
	p.Pads = v.padsAtOut(w)
	p.told(v)
	return p
}

func showWard(v *Visit) error {
	w, k, err := v.kitAtDesk()
	if err != nil {
		return err
	}
	if !reprocess.CanHandOut(w, k, v.Now).Released {
		return v.Went(deskAt(k.ID), "")
	}
	return v.Show(v.toWardPage(w, k))
}

func toWard(v *Visit) error {
	w, k, err := v.kitAtDesk()
	if err != nil {
		return err
	}
	if err := v.toWard(k.ID); err != nil {
		return v.Refuse(err, v.toWardPage(w, k))
	}
	return v.Went(deskAt(k.ID)+"/loan", "")
}

func (v *Visit) toWard(kit string) error {
	flags, p := v.toldFlags()
	if p != nil {
		return p
	}
	days, p := daysOf(v.Field("days"))
	if p != nil {
		return p
	}
	if v.Field("ward") == "" {
		return &reprocess.Problem{Code: reprocess.Invalid, Rule: "ward", Text: "No ward is chosen.",
			Fix: "Choose the ward that keeps it."}
	}
	checks, err := v.checks(kit, true)
	if err != nil {
		return err
	}
	kept, err := v.keptToken(kit)
	if err != nil {
		return err
	}
	_, err = v.Do(reprocess.HandOut{Kit: kit, Ward: v.Field("ward"), Days: days, Flags: flags,
		Due: reprocess.Date(v.Field("due")), Checks: checks, Cell: v.Field("cell"),
		Pads: v.Field("pads"), Anyway: v.Field("anyway")})
	if err == nil {
		v.forgetKept(kept)
	}
	return err
}

func (v *Visit) wornPage(w *reprocess.World, k *reprocess.Kit) *wardPage {
	p := v.wardPage(k, "Who wears kit "+k.Number+onWardOf(w, k)+"?", "worn", "Record who wears it")
	out := TextField("out", "Since when, if not now", v.Field("out"))
	out.Kind = "datetime-local"
	p.Fields = []Field{referenceField(v.Field("reference")), out}
	if p.Pads = v.padsAtOut(w); p.Pads != nil {
		p.Pads.Legend = "Which electrodes does the wearer get?"
		p.Pads.Options[0].Words = "Those that came with it, or not told"
	}
	p.told(v)
	return p
}

func onWardOf(w *reprocess.World, k *reprocess.Kit) string {
	if l := w.Loans[k.Loan]; l != nil && l.Ward != "" {
		return " on " + l.Ward
	}
	return ""
}

func showWorn(v *Visit) error {
	w, k, err := v.kitAtDesk()
	if err != nil {
		return err
	}
	return v.Show(v.wornPage(w, k))
}

func wearAtWard(v *Visit) error {
	w, k, err := v.kitAtDesk()
	if err != nil {
		return err
	}
	if err := v.wearAtWard(k.ID); err != nil {
		return v.Refuse(err, v.wornPage(w, k))
	}
	return v.Went(deskAt(k.ID)+"/loan", "The wearer on the ward is recorded.")
}

func (v *Visit) wearAtWard(kit string) error {
	flags, p := v.toldFlags()
	if p != nil {
		return p
	}
	out, p := v.localTime("out")
	if p != nil {
		return p
	}
	return v.withWearer(v.Field("reference"), func(token string) (*reprocess.Entry, error) {
		return v.Do(reprocess.WearAtWard{Kit: kit, Wearer: token, Out: out, Flags: flags,
			Pads: v.Field("pads")})
	})
}

func (v *Visit) wardBackPage(w *reprocess.World, k *reprocess.Kit) *wardPage {
	p := v.wardPage(k, "Has the wearer given kit "+k.Number+" back"+onWardOf(w, k)+"?", "ward-back",
		"Given back; the ward keeps it")
	p.Lead = []string{"It is not handed to another wearer there: it comes back to the bench first."}
	p.told(v)
	return p
}

func showWardBack(v *Visit) error {
	w, k, err := v.kitAtDesk()
	if err != nil {
		return err
	}
	return v.Show(v.wardBackPage(w, k))
}

func backOnWard(v *Visit) error {
	w, k, err := v.kitAtDesk()
	if err != nil {
		return err
	}
	flags, p := v.toldFlags()
	if p == nil {
		_, err = v.Do(reprocess.BackOnWard{Kit: k.ID, Flags: flags})
	} else {
		err = p
	}
	if err != nil {
		return v.Refuse(err, v.wardBackPage(w, k))
	}
	return v.Went(deskAt(k.ID), "Given back on the ward. Fetch it: it is not worn again before the bench had it.")
}

func (v *Visit) wornByPage(w *reprocess.World, k *reprocess.Kit) *wardPage {
	p := v.wardPage(k, "By how many was kit "+k.Number+" worn"+onWardOf(w, k)+"?", "worn-by",
		"Record it")
	p.Chips = []Choices{*wornChoices(strings.TrimPrefix(onWardOf(w, k), " on "), v.Field("worn"))}
	p.Lead = []string{"More than one, or not known, goes into the look-back: somebody may have worn " +
		"it without reprocessing in between."}
	return p
}

func showWornBy(v *Visit) error {
	w, k, err := v.kitAtDesk()
	if err != nil {
		return err
	}
	return v.Show(v.wornByPage(w, k))
}

func tellWorn(v *Visit) error {
	w, k, err := v.kitAtDesk()
	if err != nil {
		return err
	}
	if _, err := v.Do(reprocess.TellWorn{Kit: k.ID, Worn: v.Field("worn")}); err != nil {
		return v.Refuse(err, v.wornByPage(w, k))
	}
	return v.Went(deskAt(k.ID), "Recorded.")
}

func sampleWard() Page {
	told, flags, list := toldChoices(""), flagChoices(nil), sampleShortList()
	return &wardPage{Base: Titled("Which ward keeps kit 17?"), Action: "/desk/kit/K1/ward",
		Act: "Hand 17 to the ward: all of it done", Back: "/desk/kit/K1",
		Lead:   []string{"The ward keeps it until that day."},
		Chips:  []Choices{*wornChoices("Ward 4", "")},
		Fields: []Field{TextField("days", "Planned days", "14")}, Told: &told, Flags: &flags,
		Pads: samplePads(), List: &list}
}
