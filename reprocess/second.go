package reprocess

import "handback/reprocess/spectrum"

// secondWhy tells why a piece needs a second person for its release: entered from paper,
// accepted not as written, or back with precautions (P16); "" when it does not.
func (f *gateFacts) secondWhy() string {
	switch {
	case f.progress.Late:
		return "something was entered from paper"
	case f.progress.Override:
		return "something was accepted not as written"
	case Flagged(f.cycle.Flags):
		return "precautions were told for it"
	}
	return ""
}

func (f *gateFacts) demandsSecond() bool { return f.secondWhy() != "" }

// Flagged tells whether any precaution was told; "asked, none told" is none.
func Flagged(flags []string) bool {
	for _, flag := range flags {
		if flag != string(spectrum.None) {
			return true
		}
	}
	return false
}

// first tells whether somebody stands behind what a second person has to look at: they wiped,
// accepted a step not as written, or did or entered something from paper.
func (f *gateFacts) first(person string) bool {
	if contains(f.progress.Wipers, person) {
		return true
	}
	for _, r := range f.cycle.Records {
		if !r.Undone && (r.Kind == RecOverride || r.Late) && contains(r.firstPersons(), person) {
			return true
		}
	}
	return false
}

// gateSecond demands a second person for what was flagged, overridden or entered from paper,
// and wherever the procedure wants two people. Where a kit is only to be looked at by two, the
// second may sign beside the first; a procedure that wants two people wants another releaser.
func gateSecond(f *gateFacts) *Problem {
	me, second := f.c.Actor.Person.ID, f.c.Actor.Second
	if f.proc.TwoPeople && contains(f.progress.Wipers, me) {
		return f.refuse("second_person", "Ask somebody else to release it.",
			"this procedure wants another person to release than the one who wiped.")
	}
	why := f.secondWhy()
	if why == "" || !f.first(me) {
		return nil
	}
	if second == nil {
		return f.refuse("second_person", "Ask somebody else to release it, or to sign beside you.",
			"%s, so a second person is needed who neither did, wiped nor entered it.", why)
	}
	return f.secondSuits(second)
}

// secondSuits holds the second person to what they stand for.
func (f *gateFacts) secondSuits(second *Person) *Problem {
	today := f.c.Now.Today()
	const another = "Ask somebody else to sign beside you."
	switch {
	case second.ID == f.c.Actor.Person.ID:
		return f.refuse("second_same", another, "the same person cannot sign twice.")
	case second.Left != "" && today > second.Left:
		return f.refuse("second_left", another, "%s left on %s.", second.Name, Day(second.Left))
	case !second.Has(bench...):
		return f.refuse("second_role", another, "%s does not work at the bench.", second.Name)
	case second.Competence(f.proc.ID, today) != Competent:
		return f.refuse("second_not_competent", another, "%s is not entered as competent for %q today.",
			second.Name, f.proc.Name)
	case f.first(second.ID):
		return f.refuse("second_first", another, "%s did, wiped or entered it too.", second.Name)
	}
	return nil
}
