package web

import (
	"errors"

	"handback/reprocess"
)

// keepReference asks for an appointment's reference; it is held to the form of a wearer's.
func keepReference(value string) Field {
	f := referenceField(value)
	f.Label = "The appointment’s reference"
	return f
}

func (v *Visit) keepPage(id string) (*officePage, error) {
	w, err := v.Store().KitWorld(v.Context(), id)
	if err != nil {
		return nil, notKnown(err, "There is no such kit here.")
	}
	k := w.Kits[id]
	p := titledOffice("For which appointment is kit "+k.Number+" kept?",
		"On the day it is kept until "+w.Settings.KeepUntil()+
			"; then it is free by itself.")
	f := &form{To: deskAt(id) + "/keep", Act: "Keep kit " + k.Number}
	f.field(keepReference(v.Field("reference")))
	day := v.Field("day")
	if day == "" {
		day = string(v.Now.Today())
	}
	f.day("day", "Day of the appointment", reprocess.Date(day), "")
	p.form(f)
	return p, nil
}

func showKeep(v *Visit) error {
	page, err := v.keepPage(v.Param("kit"))
	if err != nil {
		return err
	}
	return v.Show(page)
}

func keepKit(v *Visit) error {
	id := v.Param("kit")
	if err := v.keepKit(id); err != nil {
		page, drawn := v.keepPage(id)
		if drawn != nil {
			return drawn
		}
		return v.Refuse(err, page)
	}
	return v.Went(deskAt(id), "It is kept. The ready list says so.")
}

// keepKit keeps the link to the reference before the entry that names its token, forgets it
// when the entry did not come to be, and forgets those of keeps that have lapsed.
func (v *Visit) keepKit(id string) error {
	before, err := v.keptToken(id)
	if err != nil {
		return err
	}
	token, err := v.Store().WearerToken(v.Context(), v.Field("reference"))
	if err != nil {
		return err
	}
	e, err := v.Do(reprocess.KeepKit{Kit: id, Token: token, Day: reprocess.Date(v.Field("day"))})
	if err != nil || keptBy(e) != token {
		v.forgetKept(token)
		return err
	}
	v.forgetKept(before)
	if err := v.Store().DropLapsedKeeps(v.Context(), v.Now.UTC); err != nil {
		v.server.log.Error("forgetting lapsed links", "id", v.id, "err", err.Error())
	}
	return nil
}

// keptBy is the token that an entry keeps a kit under.
func keptBy(e *reprocess.Entry) string {
	for _, b := range e.Events {
		if kept, ok := b.Event.(reprocess.KitKept); ok {
			return kept.Token
		}
	}
	return ""
}

// keptToken is the token of a kit's keep, lapsed or not; empty without one.
func (v *Visit) keptToken(id string) (string, error) {
	w, err := v.Store().KitWorld(v.Context(), id)
	if err != nil {
		return "", notKnown(err, "There is no such kit here.")
	}
	if keep := w.Kits[id].Keep; keep != nil {
		return keep.Token, nil
	}
	return "", nil
}

// forgetKept drops the reference behind a token that nothing needs any more. Failing leaves a
// reference too long; the act it follows stands.
func (v *Visit) forgetKept(token string) {
	if token == "" {
		return
	}
	if err := v.Store().DropWearer(v.Context(), token); err != nil {
		v.server.log.Error("forgetting an unused link", "id", v.id, "err", err.Error())
	}
}

func freeKit(v *Visit) error {
	id := v.Param("kit")
	token, err := v.keptToken(id)
	if err != nil {
		return err
	}
	if _, err := v.Do(reprocess.EndKeep{Kit: id, Reason: v.Field("reason")}); err != nil {
		page, drawn := v.keepPage(id)
		if drawn != nil {
			return drawn
		}
		return v.Refuse(err, page)
	}
	v.forgetKept(token)
	return v.Went(deskAt(id), "It is free again.")
}

// keptFor gives the token of a kit's keep when it stands for a reference, else nothing: it is
// what the rule compares.
func (v *Visit) keptFor(id, reference string) (token, same string, err error) {
	if token, err = v.keptToken(id); err != nil || token == "" {
		return "", "", err
	}
	is, err := v.Store().SameReference(v.Context(), token, reference)
	if is {
		same = token
	}
	return token, same, err
}

// keptWords says that a kit is kept, never for whom.
func keptWords(k *reprocess.Kit, now reprocess.Now) string {
	kept := k.KeptNow(now)
	if kept == nil {
		return ""
	}
	return "Kept for an appointment on " + reprocess.Day(kept.Day) + ", until " +
		timeOfDay(kept.Until, now) + "."
}

func keptPage(reference string) *officePage {
	p := titledOffice("Which kit is kept for this appointment?")
	f := &form{To: "/kept", Act: "Find it"}
	f.field(keepReference(reference))
	p.form(f)
	p.Acts = append(p.Acts, onward{To: "/ready", Words: "Which kits can go out?"})
	return p
}

func showKept(v *Visit) error { return v.Show(keptPage("")) }

// findKept leads to the kit that is kept for a reference. It is a post: a reference stands in
// no address.
func findKept(v *Visit) error {
	kits, err := v.Store().KeptFor(v.Context(), v.Field("reference"))
	if err != nil {
		return v.Refuse(err, keptPage(v.Field("reference")))
	}
	for _, k := range kits {
		if k.KeptNow(v.Now) != nil {
			return v.Went(deskAt(k.ID), "")
		}
	}
	none := &reprocess.Problem{Code: reprocess.NotFound, Rule: "none_kept",
		Text: "No kit is kept for this reference now.", Fix: "Take one from the ready list.",
		Err: errors.New("no keep")}
	return v.Refuse(none, keptPage(v.Field("reference")))
}

func anywayField(value string) Field {
	f := TextField("anyway", "Give it anyway to another appointment, because", value)
	f.Hint = "Empty when it is for the appointment it is kept for"
	return f
}

// askAnyway adds to a hand-out's page that the kit is kept for an appointment, and asks why it
// is given to another.
func (v *Visit) askAnyway(k *reprocess.Kit, lead []string, fields []Field) ([]string, []Field) {
	words := keptWords(k, v.Now)
	if words == "" {
		return lead, fields
	}
	f := anywayField(v.Field("anyway"))
	f.Hint = "Or take another kit"
	return append(lead, "Kit "+k.Number+": "+words), append(fields, f)
}
