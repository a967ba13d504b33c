package web

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"handback/reprocess"
)

// mostKits is how many lines a list of kits shows; a search finds the rest.
const mostKits = 100

// kitsWhere lists kits by number, shorter numbers first.
func kitsWhere(w *reprocess.World, want func(*reprocess.Kit) bool) []*reprocess.Kit {
	var all []*reprocess.Kit
	for _, k := range w.Kits {
		if want(k) {
			all = append(all, k)
		}
	}
	slices.SortFunc(all, func(a, b *reprocess.Kit) int {
		if n := len(a.Number) - len(b.Number); n != 0 {
			return n
		}
		return strings.Compare(a.Number+a.ID, b.Number+b.ID)
	})
	return all
}

// matches tells whether a kit has the text as its number or in a serial.
func matches(w *reprocess.World, k *reprocess.Kit, text string) bool {
	text = strings.ToUpper(text)
	if text == "" || k.Number == text {
		return true
	}
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil && strings.Contains(strings.ToUpper(p.Serial), text) {
			return true
		}
	}
	return false
}

func showKits(v *Visit) error {
	w, err := v.Store().AllKits(v.Context())
	if err != nil {
		return err
	}
	text := v.Query("find")
	found := kitsWhere(w, func(k *reprocess.Kit) bool { return matches(w, k, text) })
	p := titledOffice("Where is which kit?")
	f := &form{To: "/kits", Act: "Find", Get: true, Small: true}
	f.text("find", "Number or serial", text, "Empty shows all")
	p.form(f)
	var rows []ruledLine
	for _, k := range found[:min(len(found), mostKits)] {
		rows = append(rows, kitLine(w, k, v))
	}
	p.list(strconv.Itoa(len(found))+" "+oneOrMany(len(found), "kit", "kits"),
		"No kit has that number or serial.", rows...)
	if len(found) > mostKits {
		p.list("", "", ruledLine{Words: "More than are shown: type a number or serial above."})
	}
	if v.entitled(reprocess.ActRegister) {
		p.act("/kits/new", "Register a kit")
		p.act("/kits/import", "Take kits over from a file")
		p.act("/kits/spare/phone", "Register a phone alone")
		p.act("/kits/spare/recorder", "Register a recorder alone")
	}
	p.list("", "", ruledLine{To: "/repairs", Words: "What is at repair?"})
	return v.Show(p)
}

func oneOrMany(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// kitLine says where a kit stands: state, place, since when, who, serials.
func kitLine(w *reprocess.World, k *reprocess.Kit, v *Visit) ruledLine {
	state := reprocess.StateWords(reprocess.KitState(k, w.Pieces))
	if k.Retired {
		state = "no longer used"
	}
	place := orText(k.Place, "place not recorded")
	if k.PlaceAt != 0 {
		place += ", since " + v.moment(k.PlaceAt)
		if by := w.People[k.PlaceBy]; by != nil {
			place += ", " + by.Name
		}
	}
	var serials []string
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil {
			serials = append(serials, string(p.Kind)+" "+p.Serial)
		}
	}
	return ruledLine{To: "/kit/" + url.PathEscape(k.ID), Words: "Kit " + k.Number + ": " + state,
		Notes: []string{place, strings.Join(serials, ", ")}}
}

// typedKit is what stands in the form of a new kit.
type typedKit struct {
	cmd                             reprocess.RegisterKit
	phone                           reprocess.NewPiece
	standing, reference, stickerR   string
	stickerP, out, due, days, ready string
}

func registerPage(w *reprocess.World, k typedKit) *officePage {
	p := titledOffice("Which kit is new here?")
	f := &form{To: "/kits/new", Act: "Register it"}
	number := CodeField("number", "Pool number", k.cmd.Number)
	number.Required, number.Hint = true, "Up to five capitals, digits and hyphens, such as 17"
	f.field(number)
	f.text("place", "Where it lies", k.cmd.Place, "Such as shelf A")
	pieceFields(f, w, reprocess.Recorder, k.cmd.Recorder, k.stickerR)
	pieceFields(f, w, reprocess.Phone, k.phone, k.stickerP)
	f.say("How does it stand today?", "")
	f.one("standing", "Opening balance", orText(k.standing, "new"),
		Choice{Value: "new", Words: "New, never lent"},
		Choice{Value: "here", Words: "Used before, lies here", Note: "has to be reprocessed first"},
		Choice{Value: "out", Words: "Out with a wearer"},
		Choice{Value: "ready", Words: "Released on paper", Note: "until the day below"})
	f.day("out", "Out since", reprocess.Date(k.out), "When it is out")
	f.day("due", "Due back", reprocess.Date(k.due), "When it is out")
	days := TextField("days", "Planned wear, days", k.days)
	days.Keys, days.Hint = "numeric", "When it is out"
	f.field(days)
	f.text("reference", "Wearer reference", k.reference, "When it is out; no name")
	f.day("ready", "Released on paper until", reprocess.Date(k.ready), "The last day")
	p.form(f)
	return p
}

// pieceFields asks for one piece.
func pieceFields(f *form, w *reprocess.World, kind reprocess.Kind, n reprocess.NewPiece,
	sticker string) {
	name := string(kind)
	words := strings.ToUpper(name[:1]) + name[1:]
	hint := ""
	var models []Choice
	if kind == reprocess.Phone {
		models = []Choice{{Value: "", Words: "No phone"}}
	}
	for _, m := range modelsOf(w) {
		if m.Kind == kind && !m.Retired {
			models = append(models, Choice{Value: m.ID, Words: m.Name})
		}
	}
	if len(models) == 0 {
		hint = "No model of " + name + " is described yet; do that first, under Models."
	}
	f.say(words, hint)
	if len(models) > 0 {
		f.one(name+".model", "Model of "+name, n.Model, models...)
	}
	f.text(name+".serial", "Serial of "+name, n.Serial,
		"As on the plate; may stay empty when the maker's mark is scanned")
	f.text(name+".udi", "Maker's mark of "+name+", as scanned", n.UDI, "May be empty")
	cycles := shown(n.Cycles)
	if n.Least && n.Cycles == 0 {
		cycles = "unknown"
	} else if n.Least {
		cycles = ">=" + cycles
	}
	f.text(name+".cycles", "Earlier cycles of "+name, cycles, "Empty: none; unknown, or >=40")
	code := CodeField(name+".code", "Blank sticker on "+name, sticker)
	code.Hint = "Scan it, or empty: print a label afterwards"
	f.field(code)
}

func showNewKit(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	return v.Show(registerPage(w, typedKit{}))
}

func (t *typing) piece(kind reprocess.Kind) (reprocess.NewPiece, string) {
	name := string(kind)
	n := reprocess.NewPiece{Model: t.text(name + ".model"), Serial: t.text(name + ".serial"),
		UDI: t.text(name + ".udi")}
	cycles := t.text(name + ".cycles")
	rest, least := strings.CutPrefix(strings.Replace(cycles, "≥", ">=", 1), ">=")
	switch {
	case strings.EqualFold(cycles, "unknown"):
		n.Least = true
	case cycles != "":
		count, err := strconv.ParseUint(strings.TrimSpace(rest), 10, 20)
		if err != nil {
			t.bad("cycles", "Type a number, unknown, or >=40.",
				strconv.Quote(cycles)+" is no number of earlier cycles.")
		}
		n.Cycles, n.Least = int(count), least
	}
	if u, p := reprocess.ParseUDI(n.UDI); n.Serial == "" && p == nil {
		n.Serial = u.Serial
	}
	return n, t.text(name + ".code")
}

func (t *typing) kit() typedKit {
	k := typedKit{standing: t.text("standing"), reference: t.text("reference"), out: t.text("out"),
		due: t.text("due"), days: t.text("days"), ready: t.text("ready")}
	k.cmd.Number, k.cmd.Place = strings.ToUpper(t.text("number")), t.text("place")
	k.cmd.Recorder, k.stickerR = t.piece(reprocess.Recorder)
	k.phone, k.stickerP = t.piece(reprocess.Phone)
	if k.phone.Model != "" || k.phone.Serial != "" {
		phone := k.phone
		k.cmd.Phone = &phone
	}
	switch k.standing {
	case "here":
		k.cmd.Opening = &reprocess.Opening{}
	case "out":
		k.cmd.Opening = &reprocess.Opening{Out: t.day("out", "Out since"),
			Due: t.day("due", "Due back"), Days: t.whole("days", "Planned wear")}
		if k.out == "" {
			t.bad("out", "Type it like 2026-11-24.", "The day it went out is empty.")
		}
	case "ready":
		k.cmd.Opening = &reprocess.Opening{Ready: t.day("ready", "Released on paper until")}
		if k.ready == "" {
			t.bad("ready", "Type it like 2026-11-24.", "The last day of the paper release is empty.")
		}
	case "new":
	default:
		t.bad("standing", "Choose one of the four.", "How the kit stands today is not chosen.")
	}
	return k
}

func registerKit(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	t := v.typing()
	k := t.kit()
	page := registerPage(w, k)
	if err := t.err(); err != nil {
		return v.Refuse(err, page)
	}
	if k.cmd.Recorder.Code, err = v.typedCode("recorder.code"); err == nil && k.cmd.Phone != nil {
		k.cmd.Phone.Code, err = v.typedCode("phone.code")
	}
	if err != nil {
		return v.Refuse(err, page)
	}
	e, err := v.register(k)
	if err != nil {
		return v.Refuse(err, page)
	}
	for _, box := range e.Events {
		if made, ok := box.Event.(reprocess.KitRegistered); ok {
			return v.Went("/kit/"+made.Kit.ID, "Kit "+made.Kit.Number+" is registered.")
		}
	}
	return v.Went("/kits", "The kit is registered.")
}

// register decides the command, with a random token in place of a wearer's reference.
func (v *Visit) register(k typedKit) (*reprocess.Entry, error) {
	if k.reference == "" || k.cmd.Opening == nil || k.cmd.Opening.Out == "" {
		return v.Do(k.cmd)
	}
	token, err := v.Store().WearerToken(v.Context(), k.reference)
	if err != nil {
		return nil, err
	}
	k.cmd.Opening.Wearer = token
	e, err := v.Do(k.cmd)
	if err == nil && loanToken(e) == token {
		return e, nil
	}
	if drop := v.Store().DropWearer(v.Context(), token); drop != nil {
		v.server.log.Error("forgetting an unused wearer link", "id", v.id, "err", drop.Error())
	}
	return e, err
}

func loanToken(e *reprocess.Entry) string {
	for _, box := range e.Events {
		if made, ok := box.Event.(reprocess.KitRegistered); ok && made.Loan != nil {
			return made.Loan.Wearer
		}
	}
	return ""
}
