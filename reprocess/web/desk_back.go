package web

import (
	"slices"

	"handback/reprocess"
	"handback/reprocess/spectrum"
)

// dirtyBox is where a kit that came back lies unless somebody says otherwise.
const dirtyBox = "dirty box"

// The answers about precautions that are not a precaution.
const (
	toldNotKnown = "not_known"
	toldNone     = "none"
	toldSome     = "some"
)

// backForm is the take-back: one tap as it stands, with everything else behind it.
type backForm struct {
	Action, Number string
	Three          []Choices // skin trouble, fault, anything missing
	Worn           *Choices  // of a ward: by how many since
	Place          Field
	Places         []string
	Carried        string  // precautions told at hand-out
	Told, Flags    Choices // precautions told now
	Came, Parts    Choices
	Left           *Choices // single-use parts left over
	Should         string   // what should come back
	Short          *Choices // what was to be used up and did not come back
	Parcel         Choices
	Note           Field
	Open           bool // everything is unfolded
}

// Words is what the outbox calls it.
func (f *backForm) Words() string { return "Take back " + f.Number }

// HasParts and HasCame tell whether there is anything to choose from.
func (f *backForm) HasParts() bool { return len(f.Parts.Options) > 0 }

// HasCame tells whether the kit has more than one piece.
func (f *backForm) HasCame() bool { return len(f.Came.Options) > 1 }

// threeQuestions are asked at the counter; "not asked" is an answer of its own.
var threeQuestions = []struct{ name, words string }{
	{"skin", "Any skin trouble?"}, {"fault", "Any fault?"}, {"missing", "Anything missing?"}}

func threeChoices(picked func(name string) string) []Choices {
	var all []Choices
	for _, q := range threeQuestions {
		value := picked(q.name)
		if value == "" {
			value = reprocess.NotAsked
		}
		c := Choices{Name: q.name, Legend: q.words, Options: []Choice{{Value: "yes", Words: "Yes"},
			{Value: "no", Words: "No"}, {Value: reprocess.NotAsked, Words: "Not asked"}}}
		all = append(all, c.Pick(value))
	}
	return all
}

// backFormOf draws the form of a kit with what was typed, or as it stands at first.
func (v *Visit) backFormOf(w *reprocess.World, k *reprocess.Kit) (*backForm, error) {
	places, err := v.Store().Places(v.Context())
	if err != nil {
		return nil, err
	}
	posted := v.c.Method() == post
	place := dirtyBox
	if posted {
		place = v.Field("place")
	}
	f := &backForm{Action: deskAt(k.ID) + "/back", Number: k.Number, Three: threeChoices(v.Field),
		Place: placeField(place), Places: withPlace(places),
		Told: toldChoices(v.Field("told")), Flags: flagChoices(v.Fields("flag")),
		Parcel: parcelChoices(v.Field("parcel")), Open: posted,
		Note: TextField("note", "Anything else, without names", v.Field("note"))}
	if l := w.Loans[k.Loan]; l.Open() && len(l.Flags) > 0 {
		f.Carried = "Told at hand-out and carried on: " + flagWords(l.Flags) + "."
	}
	if l := keeping(w, k); l.ByWard() && l.Open() {
		f.Worn = wornChoices(l.Ward, v.Field("worn"))
	}
	f.Came = cameChoices(w, k, v.Fields("came"), posted)
	f.Parts = partChoices(w, k).Pick(v.Fields("part")...)
	f.Left = leftChoices(w, k, v.Field("left"))
	f.Should, f.Short = shouldWords(w, k), shortChoices(w, k, v.Fields("short"))
	return f, nil
}

func placeField(value string) Field {
	f := TextField("place", "Where it lies now", value)
	f.Plain, f.List = true, "places"
	return f
}

// withPlace adds the dirty box to the known places and takes the wearer out of them.
func withPlace(places []string) []string {
	all := []string{dirtyBox}
	for _, p := range places {
		if p != dirtyBox && p != "with a wearer" {
			all = append(all, p)
		}
	}
	return all
}

func toldChoices(picked string) Choices {
	if picked == "" {
		picked = toldNotKnown
	}
	c := Choices{Name: "told", Legend: "Precautions", Options: []Choice{
		{Value: toldNotKnown, Words: "Not known", Note: "the standard procedure"},
		{Value: toldNone, Words: "Asked, none told"},
		{Value: toldSome, Words: "These:"}}}
	return c.Pick(picked)
}

func flagChoices(picked []string) Choices {
	c := Choices{Name: "flag", Legend: "Which were told", Many: true}
	for _, row := range spectrum.Rows() {
		if row.Flag != spectrum.None {
			c.Options = append(c.Options, Choice{Value: string(row.Flag), Words: upper(row.About)})
		}
	}
	return c.Pick(picked...)
}

// flagWords is a list of precautions in words.
func flagWords(flags []string) string {
	text := ""
	for _, row := range spectrum.Rows() {
		if slices.Contains(flags, string(row.Flag)) {
			if text != "" {
				text += "; "
			}
			text += row.About
		}
	}
	return text
}

// toldFlags reads the two questions about precautions. What is ticked counts in any case, so
// that nothing told is lost; "none" beside a tick, and "these" without one, are asked again.
func (v *Visit) toldFlags() ([]string, *reprocess.Problem) {
	flags, told := v.Fields("flag"), v.Field("told")
	again := func(text, fix string) *reprocess.Problem {
		return &reprocess.Problem{Code: reprocess.Invalid, Rule: "flags", Text: text, Fix: fix}
	}
	switch {
	case told == toldNone && len(flags) > 0:
		return nil, again("It says that no precautions were told, and some are ticked.",
			"Untick them, or choose “These”.")
	case told == toldSome && len(flags) == 0:
		return nil, again("It says that precautions were told, and none is ticked.",
			"Tick them, or choose “Not known”.")
	case told == toldNone:
		return []string{string(spectrum.None)}, nil
	case told == toldNotKnown, told == toldSome, told == "":
		return flags, nil
	}
	return nil, again("That is no answer about precautions.", "Choose one of the three.")
}

func parcelChoices(picked string) Choices {
	if picked == "" {
		picked = "closed"
	}
	c := Choices{Name: "parcel", Legend: "Parcel or bag", Options: []Choice{
		{Value: "closed", Words: "Not opened yet"},
		{Value: "opened", Words: "Opened, or came without one"}}}
	return c.Pick(picked)
}

func cameChoices(w *reprocess.World, k *reprocess.Kit, came []string, posted bool) Choices {
	c := Choices{Name: "came", Legend: "What came?", Many: true}
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil {
			c.Options = append(c.Options, Choice{Value: id, Words: upper(string(p.Kind)),
				Note: "serial " + p.Serial, Picked: !posted})
		}
	}
	return c.Pick(came...)
}

// partChoices are the unlabelled parts that travel with the pieces.
func partChoices(w *reprocess.World, k *reprocess.Kit) Choices {
	c := Choices{Name: "part", Legend: "Tap what is missing", Many: true}
	for _, id := range k.Pieces {
		p := w.Pieces[id]
		if p == nil || w.Models[p.Model] == nil {
			continue
		}
		for _, part := range w.Models[p.Model].Parts {
			c.Options = append(c.Options, Choice{Value: part, Words: upper(part)})
		}
	}
	return c
}

// showBack is the form by itself, for kits in any state.
func showBack(v *Visit) error {
	page, err := v.backPage()
	if err != nil {
		return err
	}
	return v.Show(page)
}

// backPage is the kit's answer with the form open.
func (v *Visit) backPage() (*deskKitPage, error) {
	id := v.Param("kit")
	page, err := v.deskKit(id)
	if err != nil || page.Back != nil {
		return page, err
	}
	w, err := v.Store().KitWorld(v.Context(), id)
	if err != nil {
		return nil, err
	}
	page.HandTo, page.BackTo = "", ""
	page.Back, err = v.backFormOf(w, w.Kits[id])
	return page, err
}

// takeBack records a return; it is accepted from every state.
func takeBack(v *Visit) error {
	cmd, p := v.takeBackCommand()
	var err error
	if p != nil {
		err = p
	} else {
		_, err = v.Do(cmd)
	}
	if err == nil {
		return v.Went(deskAt(cmd.Kit)+"/receipt", v.dueChecks(cmd.Kit))
	}
	page, drawn := v.backPage()
	if drawn != nil {
		return drawn
	}
	return v.Refuse(err, page)
}

func (v *Visit) takeBackCommand() (reprocess.TakeBack, *reprocess.Problem) {
	flags, p := v.toldFlags()
	cmd := reprocess.TakeBack{Kit: v.Param("kit"), Came: v.Fields("came"),
		Opened: v.Field("parcel") == "opened",
		Return: reprocess.Return{Skin: v.Field("skin"), Fault: v.Field("fault"),
			Missing: v.Field("missing"), Parts: v.Fields("part"), Left: v.Field("left"), Short: v.Fields("short"),
			Flags: flags,
			Place: v.Field("place"), Note: v.Field("note"), Worn: v.Field("worn")}}
	if cmd.Return.Place == "" {
		cmd.Return.Place = dirtyBox
	}
	if len(cmd.Return.Parts) > 0 && cmd.Return.Missing != "yes" {
		cmd.Return.Missing = "yes"
	}
	if p == nil && v.Field("asked_came") != "" && len(cmd.Came) == 0 {
		p = &reprocess.Problem{Code: reprocess.Invalid, Rule: "came",
			Text: "No piece is ticked as having come.", Fix: "Tick what came back."}
	}
	return cmd, p
}

// answerWords are the answers at the counter in words.
var answerWords = map[string]string{"yes": "yes", "no": "no", reprocess.NotAsked: "not asked"}

func piecesWords(w *reprocess.World, ids []string) string {
	text := ""
	for _, id := range ids {
		if p := w.Pieces[id]; p != nil {
			if text != "" {
				text += ", "
			}
			text += string(p.Kind) + " " + p.Serial
		}
	}
	return upper(text)
}

// notOursPage records something from elsewhere.
type notOursPage struct {
	Base
	Note, Place Field
	Known       []string
}

func (v *Visit) notOursPage() (*notOursPage, error) {
	places, err := v.Store().Places(v.Context())
	p := &notOursPage{Base: Titled("What came in that is not ours?"), Known: withPlace(places),
		Note: TextField("note", "What it is", v.Field("note")), Place: placeField(v.Field("place"))}
	p.Note.Required = true
	p.Note.Hint = "Maker’s mark, serial, whom it belongs to if that stands on it. " +
		"No names of wearers."
	return p, err
}

func showNotOurs(v *Visit) error {
	page, err := v.notOursPage()
	if err != nil {
		return err
	}
	return v.Show(page)
}

func takeNotOurs(v *Visit) error {
	_, err := v.Do(reprocess.NotOurs{Note: v.Field("note"), Place: v.Field("place")})
	if err == nil {
		return v.Went("/desk", "Recorded as not ours. Bag it, clean the bag outside, send it on.")
	}
	page, drawn := v.notOursPage()
	if drawn != nil {
		return drawn
	}
	return v.Refuse(err, page)
}

func sampleNotOurs() Page {
	return &notOursPage{Base: Titled("What came in that is not ours?"),
		Note: TextField("note", "What it is", ""), Place: placeField("post"), Known: []string{"post"}}
}

func sampleReceipt() Page {
	return &receiptPage{Base: Titled("Taken back: kit 17"), Clinic: "Example clinic",
		Call: "555 0100", Lines: []Term{{"When", "24 Nov 2026 14:05"}}}
}

func sampleBackForm() *backForm {
	none := func(string) string { return "" }
	return &backForm{Should: "Recorder R-0017.", Short: &Choices{Name: "short", Legend: "Not back?", Many: true,
		Options: []Choice{{Value: "cells", Words: "Spare cells"}}}, Worn: wornChoices("Ward 4", ""), Action: "/desk/kit/K1/back", Number: "17", Three: threeChoices(none),
		Place: placeField(dirtyBox), Places: []string{dirtyBox, "shelf A"}, Carried: "tuberculosis",
		Told: toldChoices(""), Flags: flagChoices(nil), Parcel: parcelChoices(""),
		Came: Choices{Name: "came", Legend: "What came?", Many: true, Options: []Choice{
			{Value: "P1", Words: "Recorder"}, {Value: "P2", Words: "Phone"}}},
		Parts: Choices{Name: "part", Legend: "What is missing?", Many: true, Options: []Choice{
			{Value: "cable", Words: "Cable"}}},
		Note: TextField("note", "Anything else, without names", "")}
}
