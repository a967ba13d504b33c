package web

import (
	"handback/reprocess"
)

// settingsPage asks for the clinic's own choices.
func settingsPage(s reprocess.Settings) *officePage {
	p := titledOffice("How is this clinic set up?")
	p.list("", "", ruledLine{To: "/models", Words: "Models of recorders and phones"},
		ruledLine{To: "/procedures", Words: "Procedures"},
		ruledLine{To: "/supplies", Words: "Disinfectants and lots"},
		ruledLine{To: "/kits", Words: "Kits"},
		ruledLine{To: "/labels", Words: "Labels"},
		ruledLine{To: "/settings/day", Words: "How the day goes"},
		ruledLine{To: "/staff", Words: "Staff and phones"},
		ruledLine{To: "/settings/counter", Words: "Counter: short list, wards, losses"},
		ruledLine{To: "/settings/documents", Words: "Documents: what has to be on file"},
		ruledLine{To: "/settings/recordings", Words: "Test recordings and kept files"},
		ruledLine{To: "/retention", Words: "Wearer references: how long, legal holds"})
	f := &form{To: "/settings", Act: "Keep these settings"}
	f.text("clinic", "Name of the clinic, on slips", s.Clinic, "Up to 60 characters")
	f.text("label_line", "Line on labels", s.LabelLine,
		"Up to 13 characters, such as Ring 555 0100")
	f.text("contact", "Whom a finder or wearer calls", s.Contact, "A number, such as 555 0100")
	f.text("hours", "When somebody answers", s.Hours, "Such as Mon to Fri, 8 to 16")
	f.text("bench_call", "Whom the front desk asks", s.BenchCall, "Such as Bench, ext. 214")
	zone := TextField("zone", "Time zone", s.Zone)
	zone.Hint, zone.Required, zone.Plain = "Such as Europe/Berlin or UTC", true, true
	f.field(zone)
	f.number("idle_min", "Sign-in ends after so many minutes without a tap", s.IdleMin,
		"Up to 60; empty means 10")
	f.number("min_charge", "Charge of the phone asked at hand-out, %", s.MinCharge,
		"Up to 100; empty means 50")
	f.number("target_hours", "Hours from return to release that you aim at", s.TargetHours,
		"Up to 720; empty means no target")
	f.number("supervised", "Supervised cycles before somebody is signed off", s.Supervised,
		"Up to 99; empty means 3")
	f.tick("public_page", "A label scanned by somebody who is not signed in",
		"Also say released or not, and the time; without this only whom to call", s.PublicPage)
	p.form(f)
	return p
}

func showSettings(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	return v.Show(settingsPage(w.Settings))
}

func setSettings(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	t, s := v.typing(), w.Settings
	s.Clinic, s.LabelLine, s.Contact = t.text("clinic"), t.text("label_line"), t.text("contact")
	s.Hours, s.BenchCall, s.Zone = t.text("hours"), t.text("bench_call"), t.text("zone")
	s.IdleMin = t.whole("idle_min", "Minutes without a tap")
	s.MinCharge = t.whole("min_charge", "Charge")
	s.TargetHours = t.whole("target_hours", "Hours from return to release")
	s.Supervised = t.whole("supervised", "Supervised cycles")
	s.PublicPage = t.yes("public_page")
	if err := t.err(); err != nil {
		return v.Refuse(err, settingsPage(s))
	}
	if _, err := v.Do(reprocess.SetSettings{Settings: s}); err != nil {
		return v.Refuse(err, settingsPage(s))
	}
	return v.Went("/settings", "The settings are kept.")
}
