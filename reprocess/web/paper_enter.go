package web

import (
	"net/url"
	"slices"
	"strings"
	"time"

	"handback/reprocess"
)

// paperURL is the form of a kit with what goes along from one step to the next.
func paperURL(kit string, pairs ...string) string {
	return "/kit/" + url.PathEscape(kit) + "/paper" + strings.TrimPrefix(kitURL(kit, pairs...),
		kitURL(kit))
}

// along is what one entry hands to the next: the sheet, who did it, the day.
func (v *Visit) along(name string) string {
	if value := v.Field(name); value != "" {
		return value
	}
	return v.Query(name)
}

func showKitPaper(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	p, err := x.paperPage()
	if err != nil {
		return err
	}
	return v.Show(p)
}

// paperPage asks for what can come next: the hand-out of a released kit, the take-back of one
// that is out, else the next step of the bench.
func (x *view) paperPage() (*officePage, error) {
	x.asOfPaper()
	p := titledOffice("What does the sheet of kit "+x.k.Number+" say?",
		"What is entered here is marked as from paper, with the time of the sheet beside the "+
			"time of entering. Enter it in the order in which it was done.")
	state := reprocess.KitState(x.k, x.w.Pieces)
	switch {
	case state == reprocess.Issued || state == reprocess.Recalled:
		p.form(x.paperBack("It came back"))
	case state == reprocess.Released:
		p.form(x.paperOut())
	default:
		x.paperBench(p)
	}
	if x.v.may(reprocess.ActStep) {
		p.act(kitURL(x.k.ID), "Go on with the kit")
	} else {
		p.act("/kit/"+x.k.ID+"/history", "What happened to it")
	}
	p.Acts = append(p.Acts, onward{To: "/paper", Words: "Enter another kit"})
	p.Acts[0].Main = !slices.ContainsFunc(p.Blocks, func(b block) bool { return b.Form != nil })
	return p, nil
}

// asOfPaper lets each piece stand where its records lead, whatever gaps have passed since.
func (x *view) asOfPaper() {
	for i, t := range x.tracks {
		if t.Next != "" && t.Proc != nil {
			x.tracks[i].Next, x.tracks[i].LateMin = t.Progress.Next(t.Proc), 0
		}
	}
}

// paperBench asks for a picture of the sheet first, then one step after the other.
func (x *view) paperBench(p *officePage) {
	p.Lead = append(p.Lead, x.paperCounts())
	groups := x.groups()
	switch {
	case !x.v.may(reprocess.ActStep):
		p.Lead = append(p.Lead, "The steps of the bench are entered by the bench.")
	case len(groups) == 0:
		p.Lead = append(p.Lead, "No step of the bench can be entered now.")
	case groups[0].step.ID == reprocess.StepRelease:
		p.Lead = append(p.Lead, "Every step stands. Somebody else releases it.")
	case groups[0].tracks[0].Progress.Wet.PaperOnly() &&
		groups[0].step.ID == reprocess.StepDisinfection:
		p.Lead = append(p.Lead, "The contact time of the sheet is kept. Now disinfect it again.")
	case x.v.along("sheet") == "":
		p.form(x.sheetForm())
	default:
		p.form(x.paperStep(groups[0]))
	}
}

// sheetForm takes the picture of the sheet; nothing is entered without it.
func (x *view) sheetForm() *form {
	f := &form{Heading: "First a picture of the sheet", To: "/kit/" + x.k.ID + "/paper-sheet",
		Act: "Keep the picture", File: true}
	f.field(pictureField())
	return f
}

// keepSheet keeps the picture with the kit's first piece; the steps then name it.
func keepSheet(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	sha, size, err := v.keepPicture()
	if err == nil {
		_, err = v.Do(reprocess.AddPicture{Kit: x.k.ID, Piece: firstOf(x.k.Pieces), SHA256: sha,
			Bytes: size, About: "sheet of paper"})
	}
	if err != nil {
		p, drawn := x.paperPage()
		if drawn != nil {
			return drawn
		}
		return v.Refuse(err, p)
	}
	return v.Went(paperURL(x.k.ID, "sheet", sha), "The picture is kept. Now what stands on it.")
}

func firstOf(ids []string) string {
	if len(ids) == 0 {
		return ""
	}
	return ids[0]
}

// when asks for day, time and person of the sheet.
func (x *view) when(f *form, label string, roles ...reprocess.Role) {
	day := x.v.along("day")
	if day == "" {
		day = string(x.v.today())
	}
	d := TextField("day", "Day on the sheet", day)
	d.Kind, d.Required = "date", true
	f.field(d)
	f.field(clockField("time", label, x.v.Field("time")))
	c := Choices{Name: "by", Legend: "Who did it, as the sheet says?", Required: true}
	for _, who := range peopleOf(x.w, x.v.today()) {
		if who.Has(roles...) {
			c.Options = append(c.Options, Choice{Value: who.ID, Words: who.Name})
		}
	}
	f.choices(c.Pick(x.v.along("by")))
}

func clockField(name, label, value string) Field {
	f := TextField(name, label, value)
	f.Hint, f.Required, f.Plain = "Such as 7:45 or 7:45:20", true, true
	return f
}

// rolesOf are the roles that may do an act.
func rolesOf(a reprocess.Act) []reprocess.Role {
	right, _ := reprocess.FindRight(a)
	return right.Roles
}

// paperStep asks for one step as the sheet has it.
func (x *view) paperStep(g group) *form {
	f := &form{Heading: g.who() + ": " + strings.ToLower(g.step.Words), To: "/kit/" + x.k.ID + "/paper",
		Act: "Enter it from paper", Kept: []Kept{{"step", string(g.step.ID)},
			{"sheet", x.v.along("sheet")}, {"what", "step"}}}
	for _, id := range g.ids() {
		f.Kept = append(f.Kept, Kept{"piece", id})
	}
	if g.step.ID == reprocess.StepDisinfection {
		f.Kept[2].Value = "wet"
		x.paperWet(f)
		return f
	}
	x.full = true
	if x.typed["for"] == "" && x.piece == "" && x.alike(g) {
		x.typed["for"] = "both"
	}
	whole := x.whole(g)
	if whole.Scope != nil {
		f.choices(*whole.Scope)
	}
	for _, line := range whole.Asks {
		f.Parts = append(f.Parts, part{Field: line.Field, Choices: line.Choices})
	}
	x.when(f, "Time on the sheet", rolesOf(reprocess.ActStep)...)
	return f
}

// alike tells whether a line of the sheet can hold for both pieces: something of the step is
// asked of each of them. Whatever is asked of one alone stays its own.
func (x *view) alike(g group) bool {
	of := func(t reprocess.Track, a reprocess.Ask) bool {
		return slices.ContainsFunc(x.asks(g.step.ID, []reprocess.Track{t}),
			func(b reprocess.Ask) bool { return b.ID == a.ID })
	}
	return len(g.tracks) > 1 && slices.ContainsFunc(x.asks(g.step.ID, g.tracks),
		func(a reprocess.Ask) bool {
			return !slices.ContainsFunc(g.tracks, func(t reprocess.Track) bool { return !of(t, a) })
		})
}

func (x *view) paperWet(f *form) {
	x.when(f, "Wet from", rolesOf(reprocess.ActStep)...)
	f.field(clockField("until", "Still wet at", x.v.Field("until")))
	f.say("", "Without seconds a minute is taken off, as it may have begun up to a minute later.")
	f.one("stayed", "Stayed wet all that time?", x.v.Field("stayed"),
		Choice{Value: "yes", Words: "Yes, as the sheet says"},
		Choice{Value: "no", Words: "No, or the sheet does not say"})
	c := Choices{Name: "container", Legend: "Which container?"}
	for _, con := range x.openContainers() {
		c.Options = append(c.Options, Choice{Value: con.ID, Words: capital(x.containerAndLot(con.ID))})
	}
	f.choices(c.Pick(x.v.Field("container")))
	f.text("number", "Or its number, if it is empty by now", x.v.Field("number"), "")
}

// openContainers lists the open containers of disinfectants.
func (x *view) openContainers() []*reprocess.Container {
	var all []*reprocess.Container
	for _, c := range x.w.Containers {
		if lot := x.w.Lots[c.Lot]; c.Closed == 0 && lot != nil && lot.Kind == reprocess.LotDisinfectant {
			all = append(all, c)
		}
	}
	slices.SortFunc(all, func(a, b *reprocess.Container) int { return strings.Compare(a.ID, b.ID) })
	return all
}

// paperBack and paperOut ask for a loan's end and begin.
func (x *view) paperBack(heading string) *form {
	f := &form{Heading: heading, To: "/kit/" + x.k.ID + "/paper", Act: "Enter it from paper",
		Kept: []Kept{{"what", "back"}}}
	x.when(f, "When it came back", rolesOf(reprocess.ActReturn)...)
	for _, c := range threeChoices(x.v.Field) {
		f.choices(c)
	}
	place := placeField(x.v.Field("place"))
	place.List = ""
	f.field(place)
	f.text("note", "Anything else, without names", x.v.Field("note"), "")
	return f
}

func (x *view) paperOut() *form {
	f := &form{Heading: "It went out", To: "/kit/" + x.k.ID + "/paper", Act: "Enter it from paper",
		Kept: []Kept{{"what", "out"}}}
	x.when(f, "When it went out", rolesOf(reprocess.ActIssue)...)
	f.field(referenceField(x.v.Field("reference")))
	days := TextField("days", "Planned days", x.v.Field("days"))
	days.Keys, days.Required = "numeric", true
	f.field(days)
	if pads := x.v.padsAtOut(x.w); pads != nil {
		f.choices(*pads)
	}
	f.choices(toldChoices(x.v.Field("told")))
	f.choices(flagChoices(x.v.Fields("flag")))
	return f
}

// enterKitPaper takes one act from a sheet.
func enterKitPaper(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	said, err := x.enterPaper()
	if err != nil {
		p, drawn := x.paperPage()
		if drawn != nil {
			return drawn
		}
		return v.Refuse(err, p)
	}
	return v.Went(paperURL(x.k.ID, "sheet", v.Field("sheet"), "by", v.Field("by"), "day",
		v.Field("day")), said)
}

func (x *view) enterPaper() (said string, err error) {
	v := x.v
	f := reprocess.FromPaper{Kit: x.k.ID, By: v.Field("by"), Sheet: v.Field("sheet")}
	step, wrong := x.typedStep() // kept, whatever else is refused
	if f.At, err = v.claimed("time"); err != nil {
		return "", err
	}
	switch v.Field("what") {
	case "step":
		if wrong != nil {
			return "", wrong
		}
		f.Step = &step
		_, err = v.Do(f)
		return "Entered from paper.", err
	case "wet":
		return "The contact time is entered from paper.", x.enterWet(f)
	case "back":
		f.Back = &reprocess.TakeBack{Kit: x.k.ID, Return: reprocess.Return{Skin: v.Field("skin"),
			Fault: v.Field("fault"), Missing: v.Field("missing"), Place: v.Field("place"),
			Note: v.Field("note")}}
		_, err = v.Do(f)
		return "Taken back, from paper.", err
	case "out":
		return "Handed out, from paper.", x.enterOut(f)
	}
	return "", &reprocess.Problem{Code: reprocess.Invalid, Rule: "paper",
		Text: "It is not said what is entered.", Fix: "Open the form again."}
}

// typedStep reads the answers of a step as they were typed.
func (x *view) typedStep() (reprocess.RecordStep, error) {
	step := reprocess.RecordStep{Kit: x.k.ID, Step: reprocess.StepID(x.v.Field("step")),
		Pieces: x.v.Fields("piece"), Instrument: x.v.Field("instrument")}
	x.typed["for"] = x.v.Field("for")
	if only := x.typed["for"]; only != "" && only != "both" {
		step.Pieces = []string{only}
	}
	var err error
	step.Answers, err = x.answers(step)
	return step, err
}

func (x *view) enterWet(f reprocess.FromPaper) error {
	until, err := x.v.claimed("until")
	if err != nil {
		return err
	}
	f.Wet = &reprocess.PaperWet{Kit: x.k.ID, Pieces: x.v.Fields("piece"), Until: until,
		Container: x.v.Field("container"), Stayed: x.v.Field("stayed")}
	if number := x.v.Field("number"); number != "" && f.Wet.Container == "" {
		list, err := x.v.Store().Containers(x.v.Context(), number)
		if err != nil {
			return err
		}
		if len(list) > 0 {
			f.Wet.Container = list[0].ID
		}
	}
	if f.Wet.Container == "" {
		return &reprocess.Problem{Code: reprocess.Invalid, Rule: "container",
			Text: "No container is chosen, or none has this number.",
			Fix:  "Choose the container that stands on the sheet, or type its number."}
	}
	_, err = x.v.Do(f)
	return err
}

func (x *view) enterOut(f reprocess.FromPaper) error {
	flags, p := x.v.toldFlags()
	if p != nil {
		return p
	}
	days, p := daysOf(x.v.Field("days"))
	if p != nil {
		return p
	}
	return x.v.withWearer(x.v.Field("reference"), func(token string) (*reprocess.Entry, error) {
		f.Out = &reprocess.HandOut{Kit: x.k.ID, Wearer: token, Days: days, Flags: flags,
			Pads: x.v.Field("pads")}
		return x.v.Do(f)
	})
}

// claimed reads the day and one time of the sheet, in the zone of the clinic.
func (v *Visit) claimed(name string) (reprocess.Instant, error) {
	zone := v.Now.Zone
	if zone == nil {
		zone = time.UTC
	}
	text := v.Field("day") + " " + v.Field(name)
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02 15:04:05"} {
		if t, err := time.ParseInLocation(layout, text, zone); err == nil {
			return reprocess.InstantOf(t), nil
		}
	}
	return 0, &reprocess.Problem{Code: reprocess.Invalid, Rule: "paper_time",
		Text: "The day or the time of the sheet cannot be read.",
		Fix:  "Type the day like 2026-11-24 and the time like 7:45 or 7:45:20."}
}
