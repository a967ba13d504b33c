package web

import (
	"fmt"
	"slices"
	"strings"

	"handback/labels"
	"handback/reprocess"
)

// askForm asks a step: in one tap as usual, or every answer.
type askForm struct {
	Question string
	Step     reprocess.StepID
	Pieces   []string
	Lines    []string // what a tap says
	Scope    *Choices
	Asks     []askLine
	Buttons  []button
	Full     string // address of the whole form, empty when this is it
	Outbox   string
}

// askLine is one question: choices or a field.
type askLine struct {
	Choices *Choices
	Field   *Field
}

// button is one act of a form; Value travels with it. The first of a form is the next act.
type button struct {
	Value, Words string
	First        bool
}

// asks lists what a step asks of any of the pieces, each question once.
func (x *view) asks(step reprocess.StepID, tracks []reprocess.Track) []reprocess.Ask {
	var all []reprocess.Ask
	for _, a := range reprocess.Asks(step, reprocess.Recorder) {
		all = x.wanted(all, a, step, tracks)
	}
	for _, a := range reprocess.Asks(step, reprocess.Phone) {
		all = x.wanted(all, a, step, tracks)
	}
	return all
}

func (x *view) wanted(all []reprocess.Ask, a reprocess.Ask, step reprocess.StepID,
	tracks []reprocess.Track) []reprocess.Ask {
	same := func(b reprocess.Ask) bool { return b.ID == a.ID }
	if slices.ContainsFunc(all, same) {
		return all
	}
	for _, t := range tracks {
		if t.Proc != nil && slices.ContainsFunc(
			reprocess.WantedAsks(x.w, x.k, t.Piece, t.Proc, step), same) {
			return append(all, a)
		}
	}
	return all
}

// usual is the answer that a routine kit gives: the first of a list when it is fine. Where the
// recording is has no usual answer; it counts only as somebody told it.
func (x *view) usual(a reprocess.Ask) (value string, ok bool) {
	switch {
	case a.ID == "recording":
		_, known := a.Choice(string(x.k.Recording.Status))
		return string(x.k.Recording.Status), known && x.k.Recording.Safe()
	case a.ID == "old_cell" && !x.k.Recording.Safe():
		return "stays", true // nothing is pulled before the recording is safe
	case a.Kind == reprocess.AskChoice && a.Choices[0].Effect == reprocess.EffectOK:
		return a.Choices[0].Value, true
	}
	return "", false
}

// quick is the step as usual in one tap, or nil when too much of it has no usual answer.
func (x *view) quick(g group) *askForm {
	f := &askForm{Question: questions[g.step.ID], Step: g.step.ID, Pieces: g.ids(),
		Full:   kitURL(x.k.ID, "piece", x.piece, "code", x.code, "full", "1"),
		Outbox: "kit " + x.k.Number + ", " + strings.ToLower(g.step.Words)}
	if x.exports(g) {
		return nil // a usable signal is proved by the file
	}
	if g.step.ID == reprocess.StepPacking {
		f.Lines = append(f.Lines, x.bagWords()...)
	}
	var told []reprocess.Answer
	var said []string
	var open *reprocess.Ask
	for _, a := range x.asks(g.step.ID, g.tracks) {
		value, ok := x.known(a, g)
		switch {
		case ok:
			told = append(told, reprocess.Answer{Ask: a.ID, Value: value})
			said = append(said, x.say(a, value))
		case a.Optional:
		case a.Kind == reprocess.AskChoice && open == nil:
			open = &a
		case a.Kind == reprocess.AskChoice:
			return nil
		default:
			f.Asks = append(f.Asks, x.line(a, g))
		}
	}
	f.buttons(x, g, told, said, open)
	return f
}

// exports tells whether the test of a group is to be proved by an uploaded recording.
func (x *view) exports(g group) bool {
	return g.step.ID == reprocess.StepFunction &&
		slices.ContainsFunc(g.tracks, func(t reprocess.Track) bool {
			m := x.w.Models[t.Piece.Model]
			return m != nil && m.Export
		})
}

// bagWords lists what goes into the bag, as the models state it, and what is put in for the
// usual days.
func (x *view) bagWords() []string {
	var parts []string
	for _, t := range x.tracks {
		parts = append(parts, string(t.Piece.Kind))
		if m := x.w.Models[t.Piece.Model]; m != nil {
			parts = append(parts, m.Parts...)
		}
	}
	lines := []string{"In the bag: " + strings.Join(parts, ", ") + "."}
	days := reprocess.UsualDays(x.w, x.k)
	if put := packFor(x.w, x.k, days).PutIn(); len(put) > 0 {
		lines = append(lines, fmt.Sprintf("Put in for %d days: %s.", days, strings.Join(put, "; ")))
	}
	return lines
}

// known is an answer that need not be asked: the usual one, the only box that fits, the label
// that was scanned.
func (x *view) known(a reprocess.Ask, g group) (string, bool) {
	switch a.Kind {
	case reprocess.AskCells:
		if boxes := x.boxes(g); len(boxes) == 1 {
			return boxes[0].ID, true
		}
	case reprocess.AskDay:
		return string(x.v.Now.Today()), true
	case reprocess.AskCode:
		return x.code, x.code != ""
	case reprocess.AskChoice:
		return x.usual(a)
	}
	return "", false
}

func (x *view) say(a reprocess.Ask, value string) string {
	switch a.Kind {
	case reprocess.AskCells:
		return "new cell from " + cellsWords(x.w.Lots[value])
	case reprocess.AskDay:
		return "its tab pulled today"
	case reprocess.AskCode:
		return "label scanned back"
	}
	return sayAnswer(a, value)
}

// buttons makes the one button, or one for each answer of the only open question.
func (f *askForm) buttons(x *view, g group, told []reprocess.Answer, said []string,
	open *reprocess.Ask) {
	who := ""
	if !g.step.KitWide && (len(g.tracks) == 1 || anyShared(told)) {
		who = g.who() + ": "
	}
	if open == nil {
		f.Buttons = []button{{joinAnswers(told), capital(who + strings.Join(said, ", ")), true}}
		if len(said) == 0 {
			f.Buttons[0].Words = "Record it"
		}
		return
	}
	if open.ID == "recording" {
		told, said = without(told, said, "old_cell")
	}
	if len(said) > 0 {
		f.Lines = append(f.Lines, "Your tap also says: "+who+strings.Join(said, ", ")+".")
	}
	f.Question = open.Words
	for i, c := range open.Choices {
		all := append(slices.Clone(told), reprocess.Answer{Ask: open.ID, Value: c.Value})
		words := c.Words
		if open.ID == "recording" {
			all, words = x.withOldCell(all, words, g)
		}
		f.Buttons = append(f.Buttons, button{joinAnswers(all), words, i == 0})
	}
}

// withOldCell adds what goes with an answer about the recording: the old cell is out only when
// the recording is safe.
func (x *view) withOldCell(all []reprocess.Answer, words string,
	g group) ([]reprocess.Answer, string) {
	asked := slices.ContainsFunc(x.asks(g.step.ID, g.tracks), func(a reprocess.Ask) bool {
		return a.ID == "old_cell"
	})
	if !asked {
		return all, words
	}
	value := "stays"
	told := reprocess.Recording{Status: reprocess.RecordingStatus(all[len(all)-1].Value)}
	if told.Safe() {
		value = "yes"
	}
	return append(all, reprocess.Answer{Ask: "old_cell", Value: value}),
		words + "; " + usualWords["old_cell="+value]
}

func without(told []reprocess.Answer, said []string, ask string) ([]reprocess.Answer, []string) {
	i := slices.IndexFunc(told, func(a reprocess.Answer) bool { return a.Ask == ask })
	if i < 0 {
		return told, said
	}
	return slices.Delete(slices.Clone(told), i, i+1), slices.Delete(slices.Clone(said), i, i+1)
}

// anyShared tells whether any of the answers is about both pieces.
func anyShared(told []reprocess.Answer) bool {
	return slices.ContainsFunc(told, func(a reprocess.Answer) bool {
		ask, ok := reprocess.FindAsk(a.Ask)
		return ok && len(ask.For) == 0
	})
}

// joinAnswers writes answers as one value of a button; no value of a list holds a space.
func joinAnswers(answers []reprocess.Answer) string {
	var parts []string
	for _, a := range answers {
		parts = append(parts, a.Ask+"="+a.Value)
	}
	return strings.Join(parts, " ")
}

// recordStep takes the answers of a step.
func recordStep(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	cmd := reprocess.RecordStep{Kit: x.k.ID, Step: reprocess.StepID(v.Field("step")),
		Pieces: v.Fields("piece"), Instrument: v.Field("instrument")}
	if only := v.Field("for"); only != "" && only != "both" {
		cmd.Pieces = []string{only}
	}
	if cmd.Answers, err = x.answers(cmd); err == nil {
		var e *reprocess.Entry
		if e, err = v.Do(cmd); err == nil {
			return v.Went(x.after(cmd.Pieces), saidOf(e))
		}
	}
	// What somebody else did already leads to the next step, which nobody has answered yet.
	x.full = reprocess.AsProblem(err).Rule != "already_done"
	x.typed["for"] = v.Field("for")
	if len(cmd.Pieces) == 1 {
		x.piece = cmd.Pieces[0]
	}
	return v.Refuse(err, x.page())
}

// after leads on with the same piece when it was done alone.
func (x *view) after(pieces []string) string {
	if len(pieces) == 1 && len(x.k.Pieces) > 1 {
		return kitURL(x.k.ID, "piece", pieces[0])
	}
	return kitURL(x.k.ID)
}

// answers reads the answers that were tapped or typed, in the order of the questions, and only
// those that are asked of the chosen pieces.
func (x *view) answers(cmd reprocess.RecordStep) ([]reprocess.Answer, error) {
	for _, text := range x.v.Fields("answers") {
		for _, part := range strings.Fields(text) {
			ask, value, _ := strings.Cut(part, "=")
			x.typed[ask] = value
		}
	}
	x.v.eachField(func(name, value string) {
		if ask, ok := strings.CutPrefix(name, "a-"); ok && value != "" {
			x.typed[ask] = strings.TrimSpace(value)
		}
	})
	var chosen []reprocess.Track
	for _, t := range x.tracks {
		if len(cmd.Pieces) == 0 || slices.Contains(cmd.Pieces, t.Piece.ID) {
			chosen = append(chosen, t)
		}
	}
	var out []reprocess.Answer
	for _, a := range x.asks(cmd.Step, chosen) {
		value := x.typed[a.ID]
		if a.Kind == reprocess.AskCode && value != "" {
			code, err := labels.Parse(value)
			if err != nil {
				return nil, badCode(err)
			}
			value = string(code)
		}
		if value != "" {
			out = append(out, reprocess.Answer{Ask: a.ID, Value: value})
		}
	}
	return out, nil
}

func badCode(err error) *reprocess.Problem {
	return &reprocess.Problem{Code: reprocess.Invalid, Rule: "code", Err: err,
		Text: sentence(err.Error()), Fix: "Scan it again, or type the letters of the label."}
}
