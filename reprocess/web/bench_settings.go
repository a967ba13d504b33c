package web

import (
	"fmt"

	"handback/reprocess"
)

// benchRows are the pages of what the clinic chose for test recordings and kept files.
func benchRows() []Route {
	return []Route{office(get, "/settings/recordings", acts(reprocess.ActSettings), showBenchRules),
		office(post, "/settings/recordings", acts(reprocess.ActSettings), setBenchRules),
		office(post, "/settings/recordings/remove", acts(reprocess.ActRemoveFiles), removeOldFiles)}
}

// benchRulesPage asks for the tolerance of the clock and how long files are kept.
func (v *Visit) benchRulesPage(r reprocess.BenchRules, reason string) (*officePage, error) {
	book, _, err := v.Store().FileBook(v.Context())
	if err != nil {
		return nil, err
	}
	w, err := v.setUp()
	if err != nil {
		return nil, err
	}
	kept, due := 0, len(book.Due(w.Settings.KeptSince(v.Now)))
	for _, line := range book {
		if !line.Gone() && line.Kind != reprocess.FilePaper {
			kept++
		}
	}
	p := titledOffice("How are test recordings checked and kept?",
		fmt.Sprintf("%d recordings, strips and pictures are kept; %d of them longer than the rule "+
			"asks.", kept, due))
	f := &form{To: "/settings/recordings", Act: "Keep this"}
	f.number("clock_min", "Minutes a recorder’s clock may be off without a remark", r.ClockMin,
		"Held against the upload; up to 1440; empty means 5, common practice")
	f.number("keep_months", "Months that recordings and pictures are kept", r.KeepMonths,
		"12 to 600; empty means 120, ten years, common practice. Once a day what is older is "+
			"removed, by an entry that names it. What was measured stays.")
	f.text("reason", "Reason, if it is shorter than now", reason, "Such as house rule 4")
	secret := SignField()
	secret.Required, secret.Hint = false, "Only needed to keep them for less time"
	f.field(secret)
	for i := range f.Parts { // what was typed stays, also when it is no number
		if x := f.Parts[i].Field; v.c.Method() == post && x.Keys == "numeric" {
			x.Value = v.Field(x.Name)
		}
	}
	p.form(f)
	if due > 0 {
		g := &form{Heading: "Do not wait for the daily removal", To: "/settings/recordings/remove",
			Act: fmt.Sprintf("Remove %s now", count(due, "file", "files")), Small: true}
		g.field(SignFieldNamed("remove_secret"))
		p.form(g)
	}
	p.leave("/settings", "Back to the settings")
	return p, nil
}

// SignFieldNamed is SignField where a page has another secret already.
func SignFieldNamed(name string) Field {
	f := SignField()
	f.Name = name
	return f
}

func showBenchRules(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	r := reprocess.BenchRules{}
	if w.Settings.Bench != nil {
		r = *w.Settings.Bench
	}
	page, err := v.benchRulesPage(r, "")
	if err != nil {
		return err
	}
	return v.Show(page)
}

func setBenchRules(v *Visit) error {
	t := v.typing()
	r := reprocess.BenchRules{ClockMin: t.whole("clock_min", "Minutes of the clock"),
		KeepMonths: t.whole("keep_months", "Months"), Reason: t.text("reason")}
	actor, err := v.Actor(), t.err()
	if err == nil && v.raw("secret") != "" {
		actor, err = v.Sign()
	}
	if err == nil {
		_, err = v.DoAs(reprocess.SetBenchRules{BenchRules: r}, actor)
	}
	if err == nil {
		return v.Went("/settings/recordings", "How recordings are checked and kept is set.")
	}
	return v.refuseBenchRules(err, r)
}

func (v *Visit) refuseBenchRules(err error, r reprocess.BenchRules) error {
	page, drawn := v.benchRulesPage(r, r.Reason)
	if drawn != nil {
		return drawn
	}
	return v.Refuse(err, page)
}

// removeOldFiles does at once what the server does once a day.
func removeOldFiles(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	r := reprocess.BenchRules{}
	if w.Settings.Bench != nil {
		r = *w.Settings.Bench
	}
	actor, err := v.SignWith("remove_secret")
	if err != nil {
		return v.refuseBenchRules(err, r)
	}
	n, err := v.Store().RemoveOldFiles(v.Context(), actor)
	if err != nil {
		return v.refuseBenchRules(err, r)
	}
	return v.Went("/settings/recordings", "Removed: "+count(n, "file", "files")+".")
}

// filesWords is the removal of kept files in words; empty for all other events.
func filesWords(event reprocess.Event) string {
	if ev, ok := event.(reprocess.FilesRemoved); ok {
		return fmt.Sprintf("%s removed, kept for %d months as the clinic’s rule asks",
			upper(count(len(ev.Files), "recording, strip or picture",
				"recordings, strips and pictures")), ev.Months)
	}
	return ""
}
