package web

import (
	"strings"

	"handback/reprocess"
)

// Pages of a kit's acts can be opened by an address when the act is not due: typed, kept from
// yesterday, or on a second phone. They then say why there is nothing to do, and where to go.

// notNow are those sentences by the path of the act; an act without one is always possible.
var notNow = map[string]func(*view) string{
	"opened": func(x *view) string {
		if x.k.Opened != 0 {
			return "The parcel of kit " + x.k.Number + " is open already, since " + x.clock(x.k.Opened) + "."
		}
		return "No parcel of kit " + x.k.Number + " has come in that could be opened."
	},
	"recording": func(x *view) string {
		return "Kit " + x.k.Number + " is released: its last recording was settled before that."
	},
	"give-up": func(x *view) string {
		return "No recording of kit " + x.k.Number + " is in danger: the last one has arrived, was never " +
			"made, or is given up already."
	},
	"decision": func(x *view) string {
		if x.heldAt(reprocess.GradeTechnician) {
			return "Kit " + x.k.Number + " waits for a technician, who ends that; no decision is asked for."
		}
		return "Nothing of kit " + x.k.Number + " is on hold, so there is nothing to decide."
	},
	"stop-end": func(x *view) string {
		return "Kit " + x.k.Number + " is neither stopped nor called back, so there is no stop to end."
	},
	"stop": func(x *view) string {
		return "Kit " + x.k.Number + " is stopped or called back already."
	},
	"technician": func(x *view) string {
		if x.heldAt(reprocess.GradeHold, reprocess.GradeInfection) {
			return "Kit " + x.k.Number + " is on hold for a decision, not for a technician."
		}
		return "Nothing of kit " + x.k.Number + " waits for a technician. It does after two repeats of the " +
			"function test with the same failure."
	},
	"repair": func(x *view) string {
		return "A small repair is made on a clean dry piece: nothing of kit " + x.k.Number +
			" was dried in a cycle that is still open."
	},
	"override": (*view).notOverridable,
	"countersign": func(x *view) string {
		return "No step of kit " + x.k.Number + " waits for a countersignature: nothing of it was done " +
			"by somebody who is learning."
	},
	"broken": func(x *view) string {
		if x.isOut() {
			return "Kit " + x.k.Number + " is handed out; what became of its pack is told when it comes back."
		}
		return "Kit " + x.k.Number + " is not released, so there is no release that could end."
	},
	"re-check": func(x *view) string {
		return "The release of kit " + x.k.Number + " has not lapsed, so no re-check is asked for."
	},
	"send-repair": func(x *view) string {
		return "Everything of kit " + x.k.Number + " is at repair already."
	},
	"repair-day": func(x *view) string { return "Nothing of kit " + x.k.Number + " is at repair." },
	"repair-back": func(x *view) string {
		return "Nothing of kit " + x.k.Number + " is at repair, so nothing can be back from there."
	},
}

// notOverridable says of each piece why its next step cannot be accepted other than as written.
func (x *view) notOverridable() string {
	var said []string
	for _, t := range x.tracks {
		what := capital(string(t.Piece.Kind)) + ": "
		switch step, ok := reprocess.FindStep(t.Next); {
		case !ok && t.Why != "":
			said = append(said, what+strings.TrimSuffix(t.Why, ".")+".")
		case !ok || t.Next == reprocess.StepRelease:
			said = append(said, what+"no step is open.")
		case !step.Override:
			said = append(said, what+strings.ToLower(step.Words)+" is next, and that is never accepted "+
				"other than as written.")
		default:
			said = append(said, what+strings.ToLower(step.Words)+" is next, and its procedure does not "+
				"allow it other than as written.")
		}
	}
	return strings.Join(append([]string{"There is no step of kit " + x.k.Number + " to accept now."},
		said...), " ")
}

// notDue makes a page without a question of an act that makes no sense now.
func (x *view) notDue(a smallAct) *actPage {
	return &actPage{Base: Titled("Not now: " + lower(a.words) + ". Kit " + x.k.Number), ID: x.k.ID,
		Nothing: true, Lines: []string{notNow[a.path](x), x.whereTo()}}
}

// whereTo says what the kit's own page has to offer instead.
func (x *view) whereTo() string {
	if x.isOut() {
		return "The page of the kit shows its loan."
	}
	return "The page of the kit shows where it stands and what is next."
}

func lower(words string) string {
	if words == "" {
		return ""
	}
	return strings.ToLower(words[:1]) + words[1:]
}

// notTested says why no function test is recorded now; "" while it is the recorder's next step.
func (x *view) notTested(t reprocess.Track) string {
	why := "The function test is not the recorder’s next step"
	switch step, ok := reprocess.FindStep(t.Next); {
	case t.Next == reprocess.StepFunction:
		return ""
	case ok:
		why += ": " + strings.ToLower(step.Words) + " is."
	case t.Why != "":
		why += ": " + strings.TrimSuffix(t.Why, ".") + "."
	default:
		why += "."
	}
	if x.v.may(reprocess.ActLearnHeight) {
		return why + " A file is not recorded as its test; the beat height of a known good device can " +
			"still be learnt from one."
	}
	return why + " " + x.whereTo()
}
