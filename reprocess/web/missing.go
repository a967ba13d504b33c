package web

import (
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
)

// missingRows declare a kit missing, list what is, and record whom was told.
func missingRows() []Route {
	rows := both("/desk/kit/:kit/missing", acts(reprocess.ActMissing), "missing-kit", sampleMissingKit,
		showMissingKit, declareMissing)
	rows = append(rows, both("/missing/found/:piece", acts(reprocess.ActAside), "office", sampleOffice,
		showFoundLoose, findLoose)...)
	return append(rows,
		Route{Method: get, Path: "/missing", Who: acts(reprocess.ActMissing), Page: "missing",
			Sample: sampleMissing, Handle: showMissing},
		Route{Method: post, Path: "/missing/told", Who: acts(reprocess.ActMissingTold), Page: "missing",
			Sample: sampleMissing, Handle: tellLoss})
}

// missingKitPage declares one kit missing.
type missingKitPage struct {
	Base
	Action, Back string
	Pieces, Data Choices
	Known, Note  Field
}

func (v *Visit) missingKitPage() (*missingKitPage, error) {
	w, k, err := v.kitAtDesk()
	if err != nil {
		return nil, err
	}
	p := &missingKitPage{Base: Titled("What is missing of kit " + k.Number + "?"),
		Action: deskAt(k.ID) + "/missing", Back: deskAt(k.ID), Data: dataChoices(v.Field("data")),
		Pieces: cameChoices(w, k, v.Fields("piece"), v.c.Method() == post),
		Known:  TextField("known", "Known since, if not now", v.Field("known")),
		Note:   TextField("note", "What is known about it", v.Field("note"))}
	p.Pieces.Name, p.Pieces.Legend = "piece", "What is missing?"
	p.Known.Kind, p.Note.Hint = "datetime-local", "No names of wearers."
	return p, nil
}

func dataChoices(picked string) Choices {
	c := Choices{Name: "data", Legend: "Is a recording or data of an app on it?", Required: true,
		Options: []Choice{{Value: reprocess.DataYes, Words: "Yes"}, {Value: reprocess.DataNo, Words: "No"},
			{Value: reprocess.DataUnknown, Words: "Not known", Note: "counts as yes"}}}
	return c.Pick(picked)
}

func showMissingKit(v *Visit) error {
	page, err := v.missingKitPage()
	if err != nil {
		return err
	}
	return v.Show(page)
}

func declareMissing(v *Visit) error {
	err := v.declareMissing()
	if err == nil {
		return v.Went("/missing", "Recorded. If data may be on it, somebody has to be told: see below.")
	}
	page, drawn := v.missingKitPage()
	if drawn != nil {
		return drawn
	}
	return v.Refuse(err, page)
}

func (v *Visit) declareMissing() error {
	known, p := v.localTime("known")
	if p != nil {
		return p
	}
	pieces := v.Fields("piece")
	if len(pieces) == 0 {
		return &reprocess.Problem{Code: reprocess.Invalid, Rule: "piece",
			Text: "No piece is ticked as missing.", Fix: "Tick what is missing."}
	}
	_, err := v.Do(reprocess.DeclareMissing{Kit: v.Param("kit"), Pieces: pieces,
		Data: v.Field("data"), Known: known, Note: v.Field("note")})
	return err
}

// missingPage lists what is missing, how long it is known, and who is to be told.
type missingPage struct {
	Base
	Contact []string
	Finder  []string // what somebody reads who finds it
	Losses  []lossLine
	Others  []Line // missing without a declaration
	Phones  string // where a lost phone of the staff is ended; empty: not this person's
}

type lossLine struct {
	Line
	Lines     []string
	Loose     []Line // pieces of it that belong to no kit any more
	Kit       string // the act of telling is open
	Who, Told Field
}

func showMissing(v *Visit) error {
	page, err := v.missingPage()
	if err != nil {
		return err
	}
	return v.Show(page)
}

func (v *Visit) missingPage() (*missingPage, error) {
	w, err := v.Store().AllKits(v.Context())
	if err != nil {
		return nil, err
	}
	p := &missingPage{Base: Titled("What is missing?"), Contact: privacyWords(w.Settings),
		Finder: callLines(w.Settings)}
	if acts(reprocess.ActPhoneRevoke).lets(v.Person) {
		p.Phones = "/phones"
	}
	loose, err := v.Store().LooseMissing(v.Context())
	if err != nil {
		return nil, err
	}
	for _, piece := range loose {
		w.Pieces[piece.ID] = piece
	}
	p.Others = v.looseLines(loose, func(piece *reprocess.Piece) bool {
		return reprocess.FindLooseKit(w, piece) == ""
	})
	for _, k := range lostKits(w) {
		if k.Loss == nil || !k.Loss.Open() && !k.Loss.ToTell() {
			p.Others = append(p.Others, Line{deskAt(k.ID), "Kit " + k.Number,
				"A piece is missing; nothing is said about data on it."})
			continue
		}
		line := v.lossLine(w, k)
		line.Loose = v.looseLines(loose, func(piece *reprocess.Piece) bool {
			return k.Loss.Open() && slices.Contains(k.Loss.Pieces, piece.ID)
		})
		p.Losses = append(p.Losses, line)
	}
	return p, nil
}

// lostKits are those with an open loss, with one that is still to be told, or with a missing
// piece, the oldest loss first.
func lostKits(w *reprocess.World) []*reprocess.Kit {
	var all []*reprocess.Kit
	for _, k := range w.Kits {
		gone := reprocess.KitState(k, w.Pieces) == reprocess.Missing && !k.Retired
		if k.Loss.Open() || k.Loss.ToTell() || gone {
			all = append(all, k)
		}
	}
	known := func(k *reprocess.Kit) reprocess.Instant {
		if k.Loss == nil {
			return 1 << 62
		}
		return k.Loss.Known
	}
	slices.SortFunc(all, func(a, b *reprocess.Kit) int {
		if known(a) != known(b) {
			return int(min(1, max(-1, known(a)-known(b))))
		}
		return strings.Compare(a.ID, b.ID)
	})
	return all
}

func (v *Visit) lossLine(w *reprocess.World, k *reprocess.Kit) lossLine {
	l := k.Loss
	clock := w.Settings.ClockOf(l, v.Now)
	line := lossLine{Line: Line{deskAt(k.ID), "Kit " + k.Number, piecesWords(w, l.Pieces)}}
	known := "Known since " + v.moment(l.Known) + "."
	if by := w.People[l.By]; by != nil {
		known += " Declared by " + by.Name + "."
	}
	line.Lines = append(line.Lines, known, dataWords(l.Data))
	if l.Note != "" {
		line.Lines = append(line.Lines, upper(l.Note)+".")
	}
	if l.Found != 0 {
		line.Lines = append(line.Lines, "Found "+v.moment(l.Found)+".")
	}
	hours := int(clock.Known.Hours())
	switch {
	case l.Told != 0:
		line.Lines = append(line.Lines, fmt.Sprintf("Told at %s: %s, %d h after it was known.",
			v.moment(l.Told), l.ToldWho, hours))
	case l.ToTell():
		text := fmt.Sprintf("Nobody is told yet: %d h of %d h (%s).", hours,
			int(clock.Limit.Hours()), clock.Source)
		if clock.Over {
			text = fmt.Sprintf("Nobody is told yet: %d h, later than the %d h of %s. Tell them now; "+
				"say why it is late.", hours, int(clock.Limit.Hours()), clock.Source)
		}
		line.Lines = append(line.Lines, text)
		line.offerTelling(v, w, k)
	}
	return line
}

func (line *lossLine) offerTelling(v *Visit, w *reprocess.World, k *reprocess.Kit) {
	if !acts(reprocess.ActMissingTold).lets(v.Person) {
		return
	}
	line.Kit = k.ID
	who, told := "who."+k.ID, "told."+k.ID // one field of a name on a page
	line.Who = TextField(who, "Whom you told about kit "+k.Number, w.Settings.PrivacyContact())
	line.Told = TextField(told, "When kit "+k.Number+" was told of, if not now", v.Field(told))
	if v.Field("kit") == k.ID {
		line.Who.Value = v.Field(who)
	}
	line.Told.Kind = "datetime-local"
}

func dataWords(data string) string {
	switch data {
	case reprocess.DataYes:
		return "A recording or data of an app is on it."
	case reprocess.DataNo:
		return "No recording and no data of an app is on it."
	}
	return "Whether data is on it is not known; that counts as yes."
}

// lossWords is the declaration in a history.
func lossWords(l reprocess.LossDeclared) string {
	words := "declared missing; " + strings.TrimSuffix(dataWords(l.Data), ".")
	if l.Note != "" {
		words += "; " + l.Note
	}
	return words
}

func privacyWords(s reprocess.Settings) []string {
	hours, source := s.Loss()
	who := "Whom to tell is not entered; a supervisor enters it in the settings of the counter."
	if c := s.PrivacyContact(); c != "" {
		who = "Tell " + c + " when a recording or data of an app may be on it."
	}
	return []string{who, fmt.Sprintf("There are %d h for it, by %s. Local law sets the time.", hours,
		source)}
}

func tellLoss(v *Visit) error {
	kit := v.Field("kit")
	at, p := v.localTime("told." + kit)
	var err error
	if p != nil {
		err = p
	} else {
		_, err = v.Do(reprocess.TellLoss{Kit: kit, Who: v.Field("who." + kit), At: at})
	}
	if err == nil {
		return v.Went("/missing", "It is recorded who was told, and when.")
	}
	page, drawn := v.missingPage()
	if drawn != nil {
		return drawn
	}
	return v.Refuse(err, page)
}

func sampleMissingKit() Page {
	return &missingKitPage{Base: Titled("What is missing of kit 17?"), Back: "/desk/kit/K1",
		Action: "/desk/kit/K1/missing", Data: dataChoices(""),
		Pieces: Choices{Name: "piece", Legend: "What is missing?", Many: true,
			Options: []Choice{{Value: "P1", Words: "Recorder"}}},
		Known: TextField("known", "Known since", ""), Note: TextField("note", "What is known", "")}
}

func sampleMissing() Page {
	return &missingPage{Base: Titled("What is missing?"), Contact: []string{"Tell ext. 300."},
		Finder: []string{"Please call 555 0100."}, Phones: "/phones",
		Losses: []lossLine{{Line: Line{"/desk/kit/K1", "Kit 17", "Recorder R-0017"}, Kit: "K1",
			Lines: []string{"Nobody is told yet: 5 h of 72 h."}, Who: TextField("who", "Whom you told", ""),
			Told: TextField("told", "When, if not now", "")}},
		Others: []Line{{"/desk/kit/K2", "Kit 18", "A piece is missing."}}}
}
