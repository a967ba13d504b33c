package web

import (
	"fmt"
	"slices"

	"handback/reprocess"
	"handback/reprocess/spectrum"
)

func showProcedures(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	p := titledOffice("What does each model need?")
	var rows []ruledLine
	for _, m := range modelsOf(w) {
		rows = append(rows, ruledLine{To: "/procedures/" + m.ID, Words: m.Name,
			Notes: []string{modelNote(w, m)}})
	}
	p.list("", "No model is described yet.", rows...)
	if v.entitled(reprocess.ActModel) {
		p.act("/models", "Models")
	}
	return v.Show(p)
}

// versionsOf lists the versions of a model's procedure, the newest first.
func versionsOf(w *reprocess.World, model string) []*reprocess.Procedure {
	var all []*reprocess.Procedure
	for _, proc := range w.Procedures {
		if proc.Model == model {
			all = append(all, proc)
		}
	}
	slices.SortFunc(all, func(a, b *reprocess.Procedure) int { return b.Version - a.Version })
	return all
}

// showProcedure shows the version in force, or the one asked for, and the others.
func showProcedure(v *Visit) error {
	w, m, err := v.modelBy("model")
	if err != nil {
		return err
	}
	proc := w.Procedures[w.InForce[m.ID]]
	if asked := v.Query("version"); asked != "" {
		proc = nil
		for _, one := range versionsOf(w, m.ID) {
			if fmt.Sprint(one.Version) == asked {
				proc = one
			}
		}
		if proc == nil {
			return notFound("version")
		}
	}
	return v.Show(procedurePage(v, w, m, proc))
}

func procedurePage(v *Visit, w *reprocess.World, m *reprocess.Model,
	proc *reprocess.Procedure) *officePage {
	p := titledOffice("What does " + m.Name + " need?")
	if proc == nil {
		p.Lead = []string{"No procedure is in force for this model: nothing of it can be " +
			"reprocessed yet."}
	} else {
		inForce := w.InForce[m.ID] == proc.Ref()
		p.Lead = procedureLead(proc, inForce, v)
		p.list("Needed", "", procedureFigures(proc)...)
		p.list("Steps", "", stepLines(proc, m.Kind)...)
		if !inForce {
			p.Title = fmt.Sprintf("What did %s need by version %d?", m.Name, proc.Version)
		}
	}
	p.list("", "", v.documentsLine(w, aboutModel(m.ID)))
	var others []ruledLine
	for _, one := range versionsOf(w, m.ID) {
		others = append(others, ruledLine{Words: fmt.Sprintf("Version %d", one.Version),
			To:    fmt.Sprintf("/procedures/%s?version=%d", m.ID, one.Version),
			Notes: []string{"signed by " + one.ApprovedBy + ", " + v.moment(one.ApprovedAt)}})
	}
	p.list("All versions", "There is none yet.", others...)
	if v.entitled(reprocess.ActProcedure) {
		p.act("/procedures/"+m.ID+"/next", "Write the next version")
	}
	return p
}

func procedureLead(proc *reprocess.Procedure, inForce bool, v *Visit) []string {
	stands := "This is an old version; cycles that began under it are judged by it."
	if inForce {
		stands = "This version is in force."
	}
	return []string{fmt.Sprintf("%s, version %d. Signed by %s, %s.", proc.Name, proc.Version,
		proc.ApprovedBy, v.moment(proc.ApprovedAt)), stands}
}

func procedureFigures(proc *reprocess.Procedure) []ruledLine {
	claims := ruledLine{Words: "Claims of the disinfectant"}
	for _, c := range proc.Needed {
		claims.Notes = append(claims.Notes, c+": "+spectrum.Token(c).Words())
	}
	minimum := proc.MinStrength
	if minimum == "" {
		minimum = reprocess.DefaultMinimum + ", as none is stated"
	}
	if proc.MaxStrength != "" {
		minimum += ", at most " + proc.MaxStrength
	}
	return []ruledLine{claims,
		{Words: "Shortest contact time", Notes: []string{spoken(proc.FloorS)}},
		{Words: "Strength of alcohol", Notes: []string{"at least " + minimum}},
		{Words: "Longest gap between steps", Notes: []string{orNone(proc.MaxGapMin, "min", "none set")}},
		{Words: "A release lapses after", Notes: []string{orNone(proc.ReleaseDays, "days", "never by time")}},
		{Words: "Release", Notes: []string{twoPeople(proc.TwoPeople)}},
		{Words: "A contact time from paper", Notes: []string{paperRelease(proc.PaperRelease)}},
		{Words: "New cell", Notes: []string{cellPlace(proc.CellAtOut)}},
		{Words: "Recorder and phone", Notes: []string{pairWords(proc.PairScan)}},
		{Words: "Instructions for use", Notes: []string{orText(proc.IFU, "not recorded")}}}
}

func orNone(n int, unit, none string) string {
	if n == 0 {
		return none
	}
	return fmt.Sprintf("%d %s", n, unit)
}

func orText(text, none string) string {
	if text == "" {
		return none
	}
	return text
}

func twoPeople(two bool) string {
	if two {
		return "by somebody who did not wipe"
	}
	return "the person who wiped may release"
}

func cellPlace(atOut bool) string {
	if atOut {
		return "at the bench, or at the counter when it is handed out"
	}
	return "at the bench"
}

func pairWords(scan bool) string {
	if scan {
		return "both labels are scanned as a pair before packing"
	}
	return "need not be scanned as a pair"
}

func paperRelease(counts bool) string {
	if counts {
		return "counts, never as measured; a second person releases"
	}
	return "does not count: disinfection is done again"
}

func stepLines(proc *reprocess.Procedure, kind reprocess.Kind) []ruledLine {
	var rows []ruledLine
	for _, row := range proc.Steps {
		step, _ := reprocess.FindStep(row.Step)
		line := ruledLine{Words: step.Words}
		for _, id := range row.Asks {
			if ask, ok := reprocess.FindAsk(id); ok {
				line.Notes = append(line.Notes, ask.Words)
			}
		}
		if row.MinS > 0 {
			line.Notes = append(line.Notes, "at least "+spoken(row.MinS)+", else flagged")
		}
		if row.Override {
			line.Notes = append(line.Notes, "may be accepted not as written")
		}
		rows = append(rows, line)
	}
	return rows
}

// draftOf is what the next version begins with: the one in force, or everything the table of
// steps knows for this kind.
func draftOf(w *reprocess.World, m *reprocess.Model) reprocess.Procedure {
	if old := w.Procedures[w.InForce[m.ID]]; old != nil {
		return *old
	}
	draft := reprocess.Procedure{Name: "Reprocessing of " + m.Name, Model: m.ID, FloorS: 60,
		MinStrength: reprocess.DefaultMinimum, IFU: m.IFU, PairScan: m.Kind == reprocess.Recorder}
	for _, t := range spectrum.Base() {
		draft.Needed = append(draft.Needed, string(t))
	}
	for _, step := range stepsFor(m.Kind) {
		row := reprocess.StepRow{Step: step.ID}
		for _, ask := range procedureAsks(step.ID, m.Kind) {
			row.Asks = append(row.Asks, ask.ID)
		}
		draft.Steps = append(draft.Steps, row)
	}
	return draft
}

// procedureAsks lists the questions that a procedure can ask; a campaign's are not its own.
func procedureAsks(step reprocess.StepID, kind reprocess.Kind) []reprocess.Ask {
	return slices.DeleteFunc(reprocess.Asks(step, kind), reprocess.Ask.ByCampaign)
}

// stepsFor lists the steps a procedure for this kind can have; the release is always there.
func stepsFor(kind reprocess.Kind) []reprocess.Step {
	var all []reprocess.Step
	for _, step := range reprocess.Steps() {
		if step.ID != reprocess.StepRelease && slices.Contains(step.For, kind) {
			all = append(all, step)
		}
	}
	return all
}

func nextPage(w *reprocess.World, m *reprocess.Model, draft reprocess.Procedure) *officePage {
	version := 1
	if old := w.Procedures[w.InForce[m.ID]]; old != nil {
		version = old.Version + 1
	}
	p := titledOffice(fmt.Sprintf("What will version %d for %s say?", version, m.Name),
		"It is in force from the moment you sign. Cycles that are open go on under the version "+
			"they began with.")
	f := &form{To: "/procedures/" + m.ID + "/next", Act: fmt.Sprintf("Sign version %d", version)}
	f.must("name", "Name of the procedure", draft.Name, "Up to 60 characters")
	f.text("ifu", "Instructions for use it follows", draft.IFU, "Document and version")
	var claims []Choice
	for _, t := range spectrum.Tokens() {
		claims = append(claims, Choice{Value: string(t), Words: string(t), Note: t.Words()})
	}
	f.many("needed", "Claims needed after every loan", "What infection control of your clinic asks "+
		"for; none ticked means BAC and YEA", draft.Needed, claims...)
	f.number("floor_s", "Shortest contact time, s", draft.FloorS, "1 to 3600, whatever a label says")
	f.text("min_strength", "Least strength of alcohol", draft.MinStrength,
		"With basis, such as 70%v/v; empty means "+reprocess.DefaultMinimum)
	f.text("max_strength", "Greatest strength of alcohol", draft.MaxStrength,
		"With basis, such as 90%v/v; empty means no limit")
	f.number("max_gap_min", "Longest gap between steps, min", draft.MaxGapMin,
		"Beyond it disinfection is repeated; empty means none")
	f.number("release_days", "Days after which a release lapses", draft.ReleaseDays,
		"Empty means never by time")
	if m.Kind == reprocess.Recorder {
		f.tick("cell_at_out", "The new cell", "May be fitted at the counter, at the hand-out",
			draft.CellAtOut)
		f.tick("pair_scan", "Recorder and phone", "Both labels are scanned as a pair before packing",
			draft.PairScan)
	}
	f.tick("two_people", "Who releases", "Only somebody who did not wipe", draft.TwoPeople)
	f.tick("paper_release", "When this log could not be reached", "A contact time from paper may "+
		"count; without this the kit is disinfected again", draft.PaperRelease)
	for _, step := range stepsFor(m.Kind) {
		stepFields(f, step, m.Kind, draft.Row(step.ID))
	}
	f.field(SignField())
	p.form(f)
	return p
}

// stepFields asks what one step is to be.
func stepFields(f *form, step reprocess.Step, kind reprocess.Kind, row *reprocess.StepRow) {
	name := "step." + string(step.ID)
	picked := reprocess.StepRow{}
	if row != nil {
		picked = *row
	}
	f.say(step.Words, "")
	f.tick(name, "Part of the procedure", "Yes, \""+step.Words+"\" is a step", row != nil)
	var asks []Choice
	for _, ask := range procedureAsks(step.ID, kind) {
		note := ""
		if ask.When != "" {
			note = "only when the wearer told of it"
		}
		asks = append(asks, Choice{Value: ask.ID, Words: ask.Words, Note: note})
	}
	if len(asks) > 0 {
		f.many(name+".asks", "Questions", "", picked.Asks, asks...)
	}
	f.number(name+".min_s", "Shortest plausible time, s", picked.MinS,
		"Faster is recorded but flagged; empty means none")
	if step.Override {
		f.tick(name+".override", "Not as written",
			"May be accepted by somebody entitled, with a reason", picked.Override)
	}
}

func showNextProcedure(v *Visit) error {
	w, m, err := v.modelBy("model")
	if err != nil {
		return err
	}
	return v.Show(nextPage(w, m, draftOf(w, m)))
}

func approveProcedure(v *Visit) error {
	w, m, err := v.modelBy("model")
	if err != nil {
		return err
	}
	draft, err := v.typedProcedure(m)
	if err != nil {
		return v.Refuse(err, nextPage(w, m, draft))
	}
	actor, err := v.Sign()
	if err != nil {
		return v.Refuse(err, nextPage(w, m, draft))
	}
	if _, err := v.DoAs(reprocess.ApproveProcedure{Procedure: draft}, actor); err != nil {
		return v.Refuse(err, nextPage(w, m, draft))
	}
	return v.Went("/procedures/"+m.ID, "The new version is in force.")
}

func (v *Visit) typedProcedure(m *reprocess.Model) (reprocess.Procedure, error) {
	t := v.typing()
	draft := reprocess.Procedure{Model: m.ID, Name: t.text("name"), IFU: t.text("ifu"),
		Needed: v.Fields("needed"), FloorS: t.whole("floor_s", "Shortest contact time"),
		MinStrength: t.text("min_strength"), MaxStrength: t.text("max_strength"),
		MaxGapMin:   t.whole("max_gap_min", "Longest gap"),
		ReleaseDays: t.whole("release_days", "Days of a release"), TwoPeople: t.yes("two_people"),
		PaperRelease: t.yes("paper_release"),
		CellAtOut:    m.Kind == reprocess.Recorder && t.yes("cell_at_out"),
		PairScan:     m.Kind == reprocess.Recorder && t.yes("pair_scan")}
	for _, step := range stepsFor(m.Kind) {
		name := "step." + string(step.ID)
		if !t.yes(name) {
			continue
		}
		draft.Steps = append(draft.Steps, reprocess.StepRow{Step: step.ID,
			Asks: v.Fields(name + ".asks"), MinS: t.whole(name+".min_s", step.Words),
			Override: t.yes(name + ".override")})
	}
	return draft, t.err()
}
