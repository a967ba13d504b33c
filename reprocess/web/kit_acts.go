package web

import (
	"strings"

	"handback/reprocess"
)

// turnActs are about the kit's turn: where it lies, what it waits for, its recording.
var turnActs = []smallAct{
	{path: "place", act: reprocess.ActMove,
		words: "Say where it lies", question: "Where does it lie now?",
		when: always,
		said: "Its place is recorded.",
		form: func(x *view, p *actPage) {
			f := TextField("place", "Place", x.typed["place"])
			f.Hint, f.Required = "Such as dirty box, bench, shelf A, ward 4", true
			p.field(f)
		},
		command: func(x *view) (reprocess.Command, error) {
			return reprocess.Move{Kit: x.k.ID, Place: x.typed["place"]}, nil
		}},
	{path: "opened", act: reprocess.ActOpenParcel,
		words: "The parcel is open", question: "Is the parcel open?",
		when: func(x *view) bool { return x.k.Back != 0 && x.k.Opened == 0 },
		said: "The parcel is recorded as opened.",
		form: func(x *view, p *actPage) {
			p.Lines = []string{"From now on the time until its first look counts."}
		},
		command: func(x *view) (reprocess.Command, error) {
			return reprocess.OpenParcel{Kit: x.k.ID}, nil
		}},
	{path: "wait", act: reprocess.ActWait,
		words: "It waits for something", question: "What does it wait for?",
		when: always,
		said: "What it waits for is recorded.", form: waitForm, command: waitCommand},
	{path: "recording", act: reprocess.ActRecording,
		words: "Say where the last recording is", question: "Where is the last wearer’s recording?",
		when: func(x *view) bool { return x.k.Release == nil },
		said: "Where the recording is stands now.",
		form: func(x *view, p *actPage) {
			x.list(p, "status", "The recording", string(reprocess.RecordingArrived), "It has arrived",
				string(reprocess.RecordingOnIt), "Still on the device",
				string(reprocess.RecordingNone), "Nothing was recorded",
				string(reprocess.RecordingUnknown), "Nobody knows yet")
		},
		command: func(x *view) (reprocess.Command, error) {
			return reprocess.SetRecording{Kit: x.k.ID,
				Status: reprocess.RecordingStatus(x.typed["status"])}, nil
		}},
	{path: "give-up", act: reprocess.ActRecordingGiveUp,
		words: "Give the recording up", question: "Is the last recording given up?",
		when: func(x *view) bool { return !x.k.Recording.Safe() },
		said: "The recording is given up, signed.",
		form: func(x *view, p *actPage) {
			p.Lines = []string{"After this it may be erased, and nobody gets it back."}
			x.note(p, "reason", "Why", true)
		},
		command: func(x *view) (reprocess.Command, error) {
			return reprocess.GiveUpRecording{Kit: x.k.ID, Reason: x.typed["reason"]}, nil
		}},
}

func (x *view) isOut() bool { return x.w.Loans[x.k.Loan].Open() }

func waitForm(x *view, p *actPage) {
	x.reasonChoice(p, "It waits for", reprocess.WaitReasons())
	p.field(TextField("part", "Which part, if one is missing", x.typed["part"]))
	p.field(TextField("who", "Who looks after it", x.typed["who"]))
	f := TextField("next", "Look again on", x.typed["next"])
	f.Kind = "date"
	p.field(f)
}

func waitCommand(x *view) (reprocess.Command, error) {
	return reprocess.Wait{Kit: x.k.ID, Reason: x.typed["reason"], Who: x.typed["who"],
		Part: x.typed["part"], Next: reprocess.Date(x.typed["next"])}, nil
}

// holdActs are judgements on a piece.
var holdActs = []smallAct{
	{path: "hold", act: reprocess.ActHold,
		words: "Put on hold", question: "Why is it put on hold?",
		when: always,
		said: "On hold now.",
		form: func(x *view, p *actPage) {
			p.Lines = []string{"It cannot be handed out until somebody entitled decides."}
			x.pieceChoice(p, nil)
			x.reasonChoice(p, "Reason", reprocess.HoldReasons())
			x.note(p, "note", "What was seen", false)
		},
		command: func(x *view) (reprocess.Command, error) {
			return reprocess.PutOnHold{Kit: x.k.ID, Piece: x.typed["piece"], Reason: x.typed["reason"],
				Note: x.typed["note"]}, nil
		}},
	{path: "decision", act: reprocess.ActDecision,
		words: "Decide on the hold", question: "How does it go on?",
		when: func(x *view) bool { return x.heldAt(reprocess.GradeHold, reprocess.GradeInfection) },
		said: "The hold is decided.",
		form: func(x *view, p *actPage) {
			x.holds(p, reprocess.GradeHold, reprocess.GradeInfection)
			x.list(p, "to", "Decision", reprocess.DecideGoOn, "Goes on in reprocessing",
				reprocess.DecideRepair, "To repair", reprocess.DecideRetire, "Retired for good")
			x.note(p, "reason", "Reason", true)
		},
		command: func(x *view) (reprocess.Command, error) {
			piece, seq := readHold(x.typed["hold"])
			return reprocess.DecideHold{Kit: x.k.ID, Piece: piece, Hold: seq, To: x.typed["to"],
				Reason: x.typed["reason"]}, nil
		}},
	{path: "stop", act: reprocess.ActEmbargo,
		words: "Stop it, or call it back", question: "Why is it stopped or called back?",
		when: func(x *view) bool { return !x.stopped() },
		said: "Stopped: what lies here is not released, what is with a wearer is called back.",
		form: func(x *view, p *actPage) {
			p.Lines = []string{"On the shelf or at the bench it is stopped; with a wearer it is called " +
				"back, and goes on hold when it comes."}
			x.note(p, "reason", "Reason", true)
		},
		command: func(x *view) (reprocess.Command, error) {
			return reprocess.StopKit{Kit: x.k.ID, Reason: x.typed["reason"]}, nil
		}},
	{path: "stop-end", act: reprocess.ActEmbargoLift,
		words: "End the stop or the call-back", question: "Why does the stop end?",
		when: (*view).stopped,
		said: "The stop is over. What lies here is reprocessed again before it goes out.",
		form: func(x *view, p *actPage) {
			p.Lines = append(p.Lines, x.why)
			x.note(p, "reason", "Reason", true)
		},
		command: func(x *view) (reprocess.Command, error) {
			return reprocess.LiftStop{Kit: x.k.ID, Reason: x.typed["reason"]}, nil
		}},
	{path: "technician", act: reprocess.ActTechnicianDone,
		words: "The technician is done", question: "What did the technician find?",
		when: func(x *view) bool { return x.heldAt(reprocess.GradeTechnician) },
		said: "The technician’s wait is over; the test is to be passed again.",
		form: func(x *view, p *actPage) {
			x.holds(p, reprocess.GradeTechnician)
			x.note(p, "reason", "What was found", true)
		},
		command: func(x *view) (reprocess.Command, error) {
			piece, seq := readHold(x.typed["hold"])
			return reprocess.TechnicianDone{Kit: x.k.ID, Piece: piece, Hold: seq,
				Reason: x.typed["reason"]}, nil
		}},
	{path: "repair", act: reprocess.ActSmallRepair,
		words: "Record a small repair", question: "Which part was changed?", when: (*view).anyDry,
		said: "The small repair is recorded; inspection and test follow again.",
		form: func(x *view, p *actPage) {
			x.pieceChoice(p, dried)
			f := TextField("part", "Part", x.typed["part"])
			f.Hint, f.Required = "Such as cover, clip, seal", true
			p.field(f)
		},
		command: func(x *view) (reprocess.Command, error) {
			return reprocess.SmallRepair{Kit: x.k.ID, Piece: x.typed["piece"], Part: x.typed["part"]}, nil
		}},
	{path: "override", act: reprocess.ActOverride,
		words: "Accept a step not as written", question: "Why is the step accepted not as written?",
		when: func(x *view) bool {
			for _, t := range x.tracks {
				if overridable(t) {
					return true
				}
			}
			return false
		},
		said: "Accepted not as written. It stays visible, and another person has to release.",
		form: overrideForm, command: overrideCommand},
	{path: "countersign", act: reprocess.ActCountersign,
		words: "Countersign for a learner", question: "Do you stand for what the learner did?",
		when: func(x *view) bool {
			for _, t := range x.tracks {
				if len(t.Progress.Unsigned) > 0 {
					return true
				}
			}
			return false
		},
		said: "Countersigned.", form: countersignForm,
		command: func(x *view) (reprocess.Command, error) {
			return reprocess.Countersign{Kit: x.k.ID}, nil
		}},
}

// stopped tells whether a piece of the kit is stopped or being called back.
func (x *view) stopped() bool {
	for _, t := range x.tracks {
		if t.Piece.State == reprocess.Embargoed || t.Piece.State == reprocess.Recalled {
			return true
		}
	}
	return false
}

func dried(t reprocess.Track) bool {
	_, ok := t.Progress.Done[reprocess.StepDrying]
	return ok && t.Next != ""
}

func (x *view) anyDry() bool {
	for _, t := range x.tracks {
		if dried(t) {
			return true
		}
	}
	return false
}

// overridable tells whether the next step of a piece may be accepted not as written at all.
func overridable(t reprocess.Track) bool {
	step, ok := reprocess.FindStep(t.Next)
	if !ok || t.Proc == nil || !step.Override {
		return false
	}
	row := t.Proc.Row(step.ID)
	return row != nil && row.Override
}

func overrideForm(x *view, p *actPage) {
	for _, t := range x.tracks {
		if overridable(t) {
			step, _ := reprocess.FindStep(t.Next)
			p.Lines = append(p.Lines, capital(string(t.Piece.Kind))+": "+strings.ToLower(step.Words)+".")
		}
	}
	p.Lines = append(p.Lines, "It stays visible for ever, and another person has to release.")
	x.pieceChoice(p, overridable)
	x.note(p, "reason", "Reason", true)
}

func overrideCommand(x *view) (reprocess.Command, error) {
	cmd := reprocess.Override{Kit: x.k.ID, Piece: x.typed["piece"], Reason: x.typed["reason"]}
	for _, t := range x.tracks {
		if t.Piece.ID == cmd.Piece {
			cmd.Step = t.Next
		}
	}
	return cmd, nil
}

func countersignForm(x *view, p *actPage) {
	for _, t := range x.tracks {
		for _, r := range t.Progress.Unsigned {
			p.Lines = append(p.Lines, capital(string(t.Piece.Kind))+": "+recordWords(r)+". "+
				didWords(r, x.v.Now)+".")
		}
	}
}

// packActs are about a released pack and about pieces that go elsewhere.
var packActs = []smallAct{
	{path: "broken", act: reprocess.ActBreakRelease,
		words: "The pack was opened, wet or dropped", question: "What happened to the pack?",
		when: func(x *view) bool { return x.k.Release != nil && !x.isOut() },
		said: "Not released any more.",
		form: func(x *view, p *actPage) {
			x.list(p, "why", "The pack", "opened", "Was opened",
				"wet", "Got wet", "dropped", "Was dropped")
		},
		command: func(x *view) (reprocess.Command, error) {
			return reprocess.BreakRelease{Kit: x.k.ID, Why: x.typed["why"]}, nil
		}},
	{path: "re-check", act: reprocess.ActRecheck,
		words: "Re-check the pack", question: "Is the pack unopened, dry and whole?",
		when: func(x *view) bool {
			return reprocess.CanHandOut(x.w, x.k, x.v.Now).Rule == "lapsed"
		},
		said: "Re-checked.",
		form: func(x *view, p *actPage) {
			p.Lines = []string{"You sign that you looked at the pack: sealed, dry, whole, nothing missing."}
		},
		command: func(x *view) (reprocess.Command, error) { return reprocess.Recheck{Kit: x.k.ID}, nil }},
	{path: "aside", act: reprocess.ActAside,
		words: "Set a piece aside or bring it back", question: "Where does the piece go?",
		when: always, said: "Recorded.",
		form: asideForm, command: asideCommand},
}

func asideForm(x *view, p *actPage) {
	x.pieceChoice(p, nil)
	pairs := []string{"returned", "It is back from where it was set aside"}
	if x.v.Person.Has(reprocess.RoleSupervisor, reprocess.RoleTechnician) {
		pairs = append(pairs, "retired", "Retired for good")
	}
	x.list(p, "to", "It goes", pairs...)
	x.note(p, "reason", "Reason", true)
}

func asideCommand(x *view) (reprocess.Command, error) {
	to, err := reprocess.ParseState(x.typed["to"])
	if err != nil {
		return nil, &reprocess.Problem{Code: reprocess.Invalid, Rule: "state", Err: err,
			Text: "Where the piece goes was not chosen.", Fix: "Choose one of the lines."}
	}
	return reprocess.Aside{Kit: x.k.ID, Piece: x.typed["piece"], To: to, Reason: x.typed["reason"]}, nil
}

// waitLine is one thing that the kit waits for, with the act that ends it.
type waitLine struct{ Reason, Words string }

func (x *view) waitLines() []waitLine {
	var all []waitLine
	for _, w := range x.k.Waiting {
		words := "Waits for " + reprocess.WaitWords(w.Reason)
		if w.Part != "" {
			words += " (" + w.Part + ")"
		}
		words += " since " + x.clock(w.At)
		if w.Who != "" {
			words += ", with " + w.Who
		}
		if w.Next != "" {
			words += ", look again " + reprocess.Day(w.Next)
		}
		all = append(all, waitLine{w.Reason, words})
	}
	return all
}

// endWait ends one waiting reason.
func endWait(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	if _, err = v.Do(reprocess.EndWait{Kit: x.k.ID, Reason: v.Field("reason")}); err != nil {
		return v.Refuse(err, x.page())
	}
	what := reprocess.WaitWords(v.Field("reason"))
	return v.Went(kitURL(x.k.ID), "It does not wait for "+what+" any more.")
}
