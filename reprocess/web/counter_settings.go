package web

import (
	"strings"

	"handback/reprocess"
)

// counterRows are the pages of what the clinic chose for its counter.
func counterRows() []Route {
	who := acts(reprocess.ActCounter)
	return []Route{office(get, "/settings/counter", who, showCounter),
		office(post, "/settings/counter", who, setCounter)}
}

// The levels of an ask of the short list.
const (
	levelAsk  = "ask"
	levelMust = "must"
	levelOff  = "off"
)

// counterPage asks for the short list, the wards and whom to tell of a loss.
func counterPage(c reprocess.Counter, wards string) *officePage {
	p := titledOffice("What does the counter ask?")
	f := &form{To: "/settings/counter", Act: "Keep this"}
	f.say("Before a kit leaves", "“Not done because …” is an answer too; an ask that has to be "+
		"answered cannot be left open.")
	for _, a := range reprocess.OutAsks() {
		level := levelAsk
		switch {
		case listed(c.Must, a.ID):
			level = levelMust
		case listed(c.Off, a.ID):
			level = levelOff
		}
		f.one("ask."+a.ID, upper(a.Done), level,
			Choice{Value: levelAsk, Words: "Asked; “not asked” is recorded"},
			Choice{Value: levelMust, Words: "Has to be answered"},
			Choice{Value: levelOff, Words: "Not asked here"})
	}
	f.say("Wards that keep kits", "")
	list := TextField("wards", "One ward a line, and after a colon whom to ring", wards)
	list.Lines, list.Hint = 5, "Such as Ward 4: ext. 2140"
	f.field(list)
	f.say("A kit is lost", "Local law sets the time for telling; without a figure of yours "+
		"72 h stand, by "+reprocess.DefaultLossSource+".")
	f.text("privacy", "Whom to tell when data may be on it", c.Privacy,
		"Name of the office and number, such as Data protection, ext. 300")
	f.number("loss_hours", "Hours until it has to be told", c.LossHours, "Empty means 72")
	f.text("loss_source", "Where that is written", c.LossSource, "Law or house rule, with its number")
	p.form(f)
	p.list("", "", ruledLine{To: "/settings", Words: "Back to the settings"})
	return p
}

// wardsText writes wards one a line, as they are typed.
func wardsText(wards []reprocess.Ward) string {
	var rows []string
	for _, w := range wards {
		row := w.Name
		if w.Ring != "" {
			row += ": " + w.Ring
		}
		rows = append(rows, row)
	}
	return strings.Join(rows, "\n")
}

// wardsOf reads them again.
func wardsOf(text string) []reprocess.Ward {
	var wards []reprocess.Ward
	for _, row := range lines(text) {
		name, ring, _ := strings.Cut(row, ":")
		wards = append(wards, reprocess.Ward{Name: name, Ring: ring})
	}
	return wards
}

func showCounter(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	c := reprocess.Counter{}
	if w.Settings.Counter != nil {
		c = *w.Settings.Counter
	}
	return v.Show(counterPage(c, wardsText(c.Wards)))
}

func setCounter(v *Visit) error {
	t := v.typing()
	c := reprocess.Counter{Privacy: t.text("privacy"), LossSource: t.text("loss_source"),
		LossHours: t.whole("loss_hours", "Hours"), Wards: wardsOf(t.text("wards"))}
	for _, a := range reprocess.OutAsks() {
		switch t.text("ask." + a.ID) {
		case levelMust:
			c.Must = append(c.Must, a.ID)
		case levelOff:
			c.Off = append(c.Off, a.ID)
		case levelAsk:
		default:
			t.bad("ask", "Choose one of the three.", "It is not said how much “"+a.Done+"” is asked.")
		}
	}
	err := t.err()
	if err == nil {
		_, err = v.Do(reprocess.SetCounter{Counter: c})
	}
	if err != nil {
		return v.Refuse(err, counterPage(c, t.text("wards")))
	}
	return v.Went("/settings/counter", "What the counter asks is kept.")
}
