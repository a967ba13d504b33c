package web

import (
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strings"
	"time"

	"handback/reprocess"
	"handback/reprocess/export"
	"handback/reprocess/sqlite"
)

// trailFilter is what an address of the trail asks for, as typed.
type trailFilter struct {
	Kit       string // pool number or id
	Person    string // id
	Act       string
	Result    string // done or refused
	Lot       string // printed number or id
	Container string // printed number or id
	Procedure string // id@version
	Model     string // id
	State     string // of the kit now, the standard term
	Site      string
	From, To  string // days at the clinic, both included
	Words     string
}

// fields lists name and value in the order of addresses.
func (f *trailFilter) fields() []struct {
	name  string
	value *string
} {
	return []struct {
		name  string
		value *string
	}{{"kit", &f.Kit}, {"person", &f.Person}, {"act", &f.Act}, {"result", &f.Result},
		{"lot", &f.Lot}, {"container", &f.Container}, {"procedure", &f.Procedure},
		{"model", &f.Model}, {"state", &f.State}, {"site", &f.Site},
		{"from", &f.From}, {"to", &f.To}, {"words", &f.Words}}
}

// trailFilter reads the filter from the address.
func (v *Visit) trailFilter() trailFilter { return readFilter(v.Query) }

// typedFilter reads the filter from a form.
func (v *Visit) typedFilter() trailFilter { return readFilter(v.Field) }

func readFilter(value func(string) string) (f trailFilter) {
	for _, x := range f.fields() {
		*x.value = strings.Join(strings.Fields(value(x.name)), " ")
	}
	return f
}

func (f trailFilter) empty() bool { return f == trailFilter{} }

// kept is the filter for a form that carries it along.
func (f trailFilter) kept() []Kept {
	var all []Kept
	for _, x := range f.fields() {
		if *x.value != "" {
			all = append(all, Kept{x.name, *x.value})
		}
	}
	return all
}

// address is a path with the filter and more pairs of name and value.
func (f trailFilter) address(path string, more ...string) string {
	q := url.Values{}
	for _, k := range f.kept() {
		q.Set(k.Name, k.Value)
	}
	for i := 0; i+1 < len(more); i += 2 {
		q.Set(more[i], more[i+1])
	}
	if len(q) == 0 {
		return path
	}
	return path + "?" + q.Encode()
}

// words says the filter in one line; the same filter always says the same.
func (f trailFilter) words(w *reprocess.World) string {
	var parts []string
	add := func(value, text string) {
		if value != "" {
			parts = append(parts, text)
		}
	}
	add(f.Kit, "kit "+f.Kit)
	add(f.Person, "by "+nameIn(w, f.Person))
	add(f.Act, "acts “"+actWords(reprocess.Act(f.Act))+"”")
	add(f.Result, "only "+f.Result)
	add(f.Lot, "lot "+f.Lot)
	add(f.Container, "container "+f.Container)
	add(f.Procedure, "procedure "+versionName(w, f.Procedure))
	add(f.Model, "model "+modelName(w, f.Model))
	add(f.State, "kits that are "+f.State+" now")
	add(f.Site, "site "+f.Site)
	add(f.From, "from "+reprocess.Day(reprocess.Date(f.From)))
	add(f.To, "to "+reprocess.Day(reprocess.Date(f.To)))
	add(f.Words, "with the words “"+f.Words+"”")
	if len(parts) == 0 {
		return "everything"
	}
	return strings.Join(parts, ", ")
}

func versionName(w *reprocess.World, ref string) string {
	if p := w.Procedures[ref]; p != nil {
		return fmt.Sprintf("“%s”, version %d", p.Name, p.Version)
	}
	return ref
}

// window reads the days of a filter as moments, From <= t < To; 0 is open.
func (v *Visit) window(from, to string) (a, b reprocess.Instant, err error) {
	first, err := v.startOf("From", from, 0)
	if err != nil {
		return 0, 0, err
	}
	end, err := v.startOf("To", to, 1)
	if err != nil {
		return 0, 0, err
	}
	if end != 0 && first >= end {
		return 0, 0, &reprocess.Problem{Code: reprocess.Invalid, Rule: "window",
			Text: "The period ends before it begins.", Fix: "Put the earlier day first."}
	}
	return first, end, nil
}

// startOf is the first moment of a day at the clinic, or of a day after it.
func (v *Visit) startOf(field, text string, later int) (reprocess.Instant, error) {
	day, err := reprocess.ParseDate(text)
	if err != nil {
		return 0, &reprocess.Problem{Code: reprocess.Invalid, Rule: "day",
			Text: field + ": " + err.Error() + ".", Fix: "Type it like 2026-11-24."}
	}
	if day == "" {
		return 0, nil
	}
	zone := v.Now.Zone
	if zone == nil {
		zone = time.UTC
	}
	t, err := time.ParseInLocation(reprocess.DateLayout, string(day.AddDays(later)), zone)
	return reprocess.InstantOf(t), err
}

// chosen turns the filter into the store's; what does not exist is said, never left out.
func (v *Visit) chosen(w *reprocess.World, f trailFilter) (sqlite.Filter, error) {
	s := sqlite.Filter{By: f.Person, Act: reprocess.Act(f.Act), Result: f.Result,
		Procedure: f.Procedure, Model: f.Model, State: f.State, Site: f.Site,
		Words: strings.Fields(f.Words)}
	switch {
	case f.Result != "" && f.Result != reprocess.ResultDone && f.Result != reprocess.ResultRefused:
		return s, unknownKey("outcome", f.Result)
	case f.Act != "" && !known(f.Act):
		return s, unknownKey("act", f.Act)
	case f.Person != "" && w.People[f.Person] == nil && f.Person != "console" && f.Person != "nobody":
		return s, unknownKey("person", f.Person)
	case f.Procedure != "" && w.Procedures[f.Procedure] == nil:
		return s, unknownKey("procedure version", f.Procedure)
	case f.Model != "" && w.Models[f.Model] == nil:
		return s, unknownKey("model", f.Model)
	case f.State != "" && !isState(f.State):
		return s, unknownKey("state", f.State)
	case len(f.Words) > 200 || len(s.Words) > 8:
		return s, &reprocess.Problem{Code: reprocess.Invalid, Rule: "words",
			Text: "These are too many words to look for.", Fix: "Look for eight words at most."}
	}
	var err error
	if s.From, s.To, err = v.window(f.From, f.To); err != nil {
		return s, err
	}
	return s, v.numbered(f, &s)
}

// numbered looks up what people name by a printed number.
func (v *Visit) numbered(f trailFilter, s *sqlite.Filter) (err error) {
	ctx, store := v.Context(), v.Store()
	if s.Kits, err = numbered(f.Kit, "kit", func() ([]*reprocess.Kit, error) {
		return store.KitsNumbered(ctx, f.Kit)
	}, func(k *reprocess.Kit) string { return k.ID }); err != nil {
		return err
	}
	if s.Lots, err = numbered(f.Lot, "lot", func() ([]*reprocess.Lot, error) {
		return store.LotsNumbered(ctx, f.Lot)
	}, func(l *reprocess.Lot) string { return l.ID }); err != nil {
		return err
	}
	s.Boxes, err = numbered(f.Container, "container", func() ([]*reprocess.Container, error) {
		return store.ContainersNumbered(ctx, f.Container)
	}, func(c *reprocess.Container) string { return c.ID })
	return err
}

func numbered[T any](number, what string, find func() ([]*T, error), id func(*T) string) (
	[]string, error) {
	if number == "" {
		return nil, nil
	}
	list, err := find()
	if err == nil && len(list) == 0 {
		err = unknownKey(what, number)
	}
	var ids []string
	for _, x := range list {
		ids = append(ids, id(x))
	}
	return ids, err
}

func unknownKey(what, text string) *reprocess.Problem {
	fix := "Choose one from the list, or none." // only an address can name another
	if what == "kit" || what == "lot" || what == "container" {
		fix = "Check the number, or leave the field empty."
	}
	return &reprocess.Problem{Code: reprocess.NotFound, Rule: "unknown",
		Text: fmt.Sprintf("There is no %s “%s” here.", what, text), Fix: fix}
}

func known(act string) bool {
	_, ok := reprocess.FindRight(reprocess.Act(act))
	return ok
}

// choice is the part of the filter that files by period and kit know. only: there is more.
func (v *Visit) choice(w *reprocess.World, f trailFilter) (c export.Choice, only bool, err error) {
	s, err := v.chosen(w, f)
	if err != nil {
		return c, false, err
	}
	c.From, c.To = s.From, s.To
	if len(s.Kits) > 1 {
		return c, false, &reprocess.Problem{Code: reprocess.Invalid, Rule: "two_kits",
			Text: "More than one kit had the number " + f.Kit + ".",
			Fix:  "Give the id, such as " + s.Kits[0] + "."}
	}
	if len(s.Kits) == 1 {
		c.Kit = s.Kits[0]
	}
	rest := f
	rest.Kit, rest.From, rest.To = "", "", ""
	return c, !rest.empty(), nil
}

// trailForm is the form of a filter.
type trailForm struct {
	Open   bool
	Fields []Field // before the choices
	Picks  []Pick
	More   []Field
}

// Pick is a choice from a longer list.
type Pick struct {
	Name, Label string
	Options     []Choice
}

// ID ties label and list.
func (p Pick) ID() string { return "f-" + p.Name }

func pickOf(name, label, none, picked string, options []Choice) Pick {
	p := Pick{Name: name, Label: label, Options: append([]Choice{{Words: none}}, options...)}
	for i := range p.Options {
		p.Options[i].Picked = p.Options[i].Value == picked
	}
	return p
}

func (f trailFilter) form(w *reprocess.World) *trailForm {
	day := func(name, label, value string) Field {
		x := TextField(name, label, value)
		x.Kind, x.Hint = "date", "A day at the clinic, included"
		return x
	}
	words := TextField("words", "Words", f.Words)
	words.Kind, words.Hint = "search", "Each has to stand in some text of the entry"
	return &trailForm{
		Fields: []Field{TextField("kit", "Kit, by its number", f.Kit),
			day("from", "From", f.From), day("to", "To", f.To)},
		Picks: []Pick{pickOf("person", "Person", "Anybody", f.Person, peopleChoices(w)),
			pickOf("act", "Act", "Any", f.Act, actChoices()),
			pickOf("result", "Outcome", "Done or refused", f.Result, []Choice{
				{Value: reprocess.ResultDone, Words: "Done"},
				{Value: reprocess.ResultRefused, Words: "Refused"}}),
			pickOf("procedure", "Procedure version", "Any", f.Procedure, procedureChoices(w)),
			pickOf("model", "Model", "Any", f.Model, modelChoices(w)),
			pickOf("state", "State of the kit now", "Any", f.State, stateChoices())},
		More: []Field{TextField("site", "Site, as the settings name it", f.Site), TextField("lot", "Lot, as printed", f.Lot),
			TextField("container", "Container, by its number", f.Container), words}}
}

// peopleChoices lists everybody by name, those who left too.
func peopleChoices(w *reprocess.World) []Choice {
	var all []Choice
	for _, p := range w.People {
		all = append(all, Choice{Value: p.ID, Words: p.Name})
	}
	slices.SortFunc(all, func(a, b Choice) int {
		return strings.Compare(strings.ToLower(a.Words)+a.Value, strings.ToLower(b.Words)+b.Value)
	})
	return append(all, Choice{Value: "console", Words: "Command line"},
		Choice{Value: "nobody", Words: "Nobody signed in"})
}

// actChoices lists every act; an override is the first, it is looked for most.
func actChoices() []Choice {
	var all []Choice
	for _, r := range reprocess.Rights() {
		c := Choice{Value: string(r.Act), Words: capital(r.Words)}
		if r.Act == reprocess.ActOverride {
			all = append([]Choice{c}, all...)
			continue
		}
		all = append(all, c)
	}
	return all
}

func procedureChoices(w *reprocess.World) []Choice {
	var all []Choice
	for _, ref := range slices.Sorted(maps.Keys(w.Procedures)) {
		all = append(all, Choice{Value: ref, Words: capital(versionName(w, ref))})
	}
	return all
}

func isState(text string) bool {
	_, err := reprocess.ParseState(text)
	return err == nil
}

func stateChoices() []Choice {
	var all []Choice
	for _, s := range reprocess.States() {
		all = append(all, Choice{Value: s.String(), Words: capital(reprocess.StateWords(s))})
	}
	return all
}
