package reprocess

import (
	"strings"
	"time"

	"handback/reprocess/spectrum"
	"handback/reprocess/strength"
)

// SetSettings replaces the settings of the site.
type SetSettings struct{ Settings }

// SetModel adds (empty id) or changes a model.
type SetModel struct{ Model }

// ApproveProcedure puts a new version of a procedure in force.
type ApproveProcedure struct{ Procedure }

// SetProduct adds (empty id) or changes a disinfectant.
type SetProduct struct{ Product }

// Act is "settings".
func (SetSettings) Act() Act { return ActSettings }

// Act is "model".
func (SetModel) Act() Act { return ActModel }

// Act is "procedure".
func (ApproveProcedure) Act() Act { return ActProcedure }

// Act is "product".
func (SetProduct) Act() Act { return ActProduct }

// Needs nothing beyond what is always loaded.
func (SetSettings) Needs() Needs { return Needs{} }

// Needs nothing beyond what is always loaded.
func (SetModel) Needs() Needs { return Needs{} }

// Needs nothing beyond what is always loaded.
func (ApproveProcedure) Needs() Needs { return Needs{} }

// Needs nothing beyond what is always loaded.
func (SetProduct) Needs() Needs { return Needs{} }

func (s SetSettings) decide(c *Case) *Problem {
	v := s.Settings
	v.Site = c.W.Settings.Site
	if v.Site == "" {
		v.Site = s.Site
	}
	v.Policy = c.W.Settings.Policy // changed by its own act alone
	v.Campaigns = c.W.Settings.Campaigns
	v.Counter = c.W.Settings.Counter
	v.Routine = c.W.Settings.Routine
	v.Documents = c.W.Settings.Documents
	v.Bench, v.TwoToStop = c.W.Settings.Bench, c.W.Settings.TwoToStop
	v.LinkDays, v.LinkReason = c.W.Settings.LinkDays, c.W.Settings.LinkReason
	// A demo lets any browser sign in, so only the console makes one, and only a new site.
	v.Demo = c.W.Settings.Demo || (s.Demo && c.W.Settings.Site == "" && c.Actor.isConsole())
	for _, t := range []struct {
		field string
		value *string
		max   int
	}{{"The clinic's name", &v.Clinic, 60}, {"The line on labels", &v.LabelLine, 13},
		{"Whom a finder calls", &v.Contact, 60}, {"Hours", &v.Hours, 60},
		{"Whom the desk asks", &v.BenchCall, 40}} {
		var p *Problem
		if *t.value, p = clean(t.field, *t.value, t.max); p != nil {
			return p
		}
	}
	if _, err := time.LoadLocation(v.Zone); err != nil || v.Zone == "Local" {
		return invalid("zone", "Type a name such as Europe/Berlin or UTC.",
			"%q is no time zone.", v.Zone)
	}
	if v.Supervised < 0 || v.Supervised > 99 {
		return invalid("number", "Type a whole number up to 99.",
			"%d supervised cycles cannot be right.", v.Supervised)
	}
	if v.IdleMin < 0 || v.IdleMin > 60 || v.MinCharge < 0 || v.MinCharge > 100 {
		return invalid("number", "Idle time up to 60 minutes, charge up to 100 %%.",
			"A number is out of range.")
	}
	if v.TargetHours < 0 || v.TargetHours > 720 {
		return invalid("target", "Give 1 to 720 hours, or none.",
			"%d hours are no time to aim at.", v.TargetHours)
	}
	c.emit(SettingsSet{v})
	return nil
}

func (s SetModel) decide(c *Case) *Problem {
	m := s.Model
	var p *Problem
	if m.Name, p = need("The model's name", m.Name, 60); p != nil {
		return p
	}
	if m.IFU, p = clean("Instructions for use", m.IFU, 80); p != nil {
		return p
	}
	if m.Kind != Recorder && m.Kind != Phone {
		return invalid("kind", "Choose recorder or phone.", "%q is no kind of piece.", m.Kind)
	}
	if m.CycleLimit < 0 || m.CycleLimit > 100000 || m.WearDays < 0 || m.WearDays > 400 {
		return invalid("number", "Correct it and send again.", "A number is out of range.")
	}
	if p = m.wearFigures(); p != nil {
		return p
	}
	m.ExpectedHeightUV, m.Checks = 0, nil // by acts of their own alone
	if old := c.W.Models[m.ID]; m.ID == "" {
		m.ID = c.id("M", 0)
	} else if old == nil {
		return missing("model")
	} else {
		m.ExpectedHeightUV = old.ExpectedHeightUV
		m.Checks = old.Checks // only by SetChecks
	}
	for _, other := range c.W.Models {
		if other.ID != m.ID && strings.EqualFold(other.Name, m.Name) {
			return conflict("name_taken", "Choose another name.", "There is a model %q already.", m.Name)
		}
	}
	for i := range m.Parts {
		if m.Parts[i], p = need("A part", m.Parts[i], 40); p != nil {
			return p
		}
	}
	c.emit(ModelSet{m})
	return nil
}

func (a ApproveProcedure) decide(c *Case) *Problem {
	p := a.Procedure
	if c.W.Models[p.Model] == nil {
		return missing("model")
	}
	var prob *Problem
	if p.Name, prob = need("The procedure's name", p.Name, 60); prob != nil {
		return prob
	}
	p.Version = 1
	if old := c.W.Procedures[c.W.InForce[p.Model]]; old != nil {
		p.ID, p.Version = old.ID, old.Version+1
	} else {
		p.ID = c.id("R", 0)
	}
	if prob := p.wellFormed(c.W.Models[p.Model].Kind); prob != nil {
		return prob
	}
	p.Approved, p.ApprovedBy, p.ApprovedAt = c.Actor.Person.ID, c.Actor.Person.Name, c.Now.UTC
	c.emit(ProcedureApproved{p})
	return nil
}

// wellFormed checks the steps: known, in the table's order, with questions of their own, and
// nothing that a cycle cannot do without left out.
func (p *Procedure) wellFormed(kind Kind) *Problem {
	last := -1
	for _, row := range p.Steps {
		i := stepIndex(row.Step)
		if i <= last {
			return invalid("steps", "Keep the order of the table of steps.",
				"The step %q is unknown, double or out of order.", row.Step)
		}
		last = i
		if prob := row.wellFormed(kind); prob != nil {
			return prob
		}
	}
	for _, must := range []StepID{StepReceipt, StepCleaning, StepDisinfection, StepDrying,
		StepInspection, StepAssignment, StepPacking} {
		if p.Row(must) == nil {
			return invalid("steps", "Add it.", "A procedure cannot leave out %q.", must)
		}
	}
	if kind == Recorder && p.Row(StepFunction) == nil {
		return invalid("steps", "Add it.", "A recorder's procedure cannot leave out the function test.")
	}
	return p.figures()
}

func (row StepRow) wellFormed(kind Kind) *Problem {
	step := steps[stepIndex(row.Step)]
	if !contains(step.For, kind) || row.Step == StepRelease {
		return invalid("steps", "Take it out.", "A %s has no step %q here.", kind, row.Step)
	}
	for _, id := range row.Asks {
		ask, ok := FindAsk(id)
		if !ok || ask.Step != row.Step {
			return invalid("asks", "Choose from the questions of the step.",
				"%q is not a question of the step %q.", id, row.Step)
		}
	}
	for _, id := range mustAsk[row.Step] {
		if a, _ := FindAsk(id); (len(a.For) == 0 || contains(a.For, kind)) && !contains(row.Asks, id) {
			return invalid("asks", "Add it.", "The step %q cannot leave out %q.", step.Words, a.Words)
		}
	}
	if row.Override && !step.Override {
		return invalid("override", "Take it out.", "%q can never be accepted other than as written.",
			step.Words)
	}
	if row.MinS < 0 || row.MinS > 3600 {
		return invalid("number", "Up to 3600 s.", "The shortest time of %q is out of range.", step.Words)
	}
	return nil
}

// mustAsk are the questions without which a step proves nothing.
var mustAsk = map[StepID][]string{
	StepReceipt: {"condition", "recording"}, StepCleaning: {"clean"}, StepDrying: {"dry"},
	StepInspection: {"sound"}, StepAssignment: {"ended"},
	StepFunction: {"worn_by", "signal", "memory"}, StepPacking: {"complete", "label"},
}

// figures checks the numbers of a procedure. An empty list of needed claims is not "nothing
// needed": it is refused.
func (p *Procedure) figures() *Problem {
	if len(p.Needed) == 0 {
		p.Needed = []string{string(spectrum.BAC), string(spectrum.YEA)}
	}
	if _, err := spectrum.Needed(nil, tokens(p.Needed)); err != nil {
		return invalid("claims", "Choose from the list of claims.", "%s.", title(err.Error()))
	}
	if p.FloorS < 1 || p.FloorS > 3600 {
		return invalid("floor", "Type the shortest contact time in seconds, 1 to 3600.",
			"A contact time of %d s cannot be right.", p.FloorS)
	}
	if p.MaxGapMin < 0 || p.MaxGapMin > 1440 || p.ReleaseDays < 0 || p.ReleaseDays > 1000 {
		return invalid("number", "Correct it and send again.", "A number is out of range.")
	}
	for _, text := range []string{p.MinStrength, p.MaxStrength} {
		f, err := strength.ParseStrength(text)
		if text != "" && (err != nil || f.Basis == strength.Unstated) {
			return invalid("strength", "Type it like 70%v/v or 62.4%w/w.",
				"%q is no strength with a basis.", text)
		}
	}
	return nil
}

func (s SetProduct) decide(c *Case) *Problem {
	v := s.Product
	var p *Problem
	if v.Name, p = need("The product's name", v.Name, 60); p != nil {
		return p
	}
	v.Sheet = "" // follows from the documents about it
	if old := c.W.Products[v.ID]; v.ID == "" {
		v.ID = c.id("D", 0)
	} else if old == nil {
		return missing("disinfectant")
	} else {
		v.Sheet = old.Sheet
	}
	if p := v.wellFormed(c.W); p != nil {
		return p
	}
	if p := c.signsAsWritten(&v); p != nil {
		return p
	}
	c.emit(ProductSet{v})
	return nil
}

// signsAsWritten demands a signature where the page of the instructions stands for the claims:
// somebody has to answer for having read it. What was signed before is not asked again.
func (c *Case) signsAsWritten(v *Product) *Problem {
	old := c.W.Products[v.ID]
	same := old != nil && old.AsWritten == v.AsWritten && old.WrittenS == v.WrittenS
	if v.AsWritten == "" || same || c.Actor.Signed {
		return nil
	}
	return &Problem{Code: Forbidden, Rule: "signature",
		Text: "\"As in the instructions\" in place of claims has to be signed.",
		Fix:  "Enter your own secret and try again."}
}

var uses = []ProductUse{ReadyToUse, Concentrate, SoakedWipe, DryWipe, MadeHere}

func (v *Product) wellFormed(w *World) *Problem {
	if !contains(uses, v.Use) {
		return invalid("use", "Choose how it comes.", "%q is no way a product comes.", v.Use)
	}
	if len(v.Actives) == 0 {
		return invalid("actives", "Type at least one agent with its strength and basis.",
			"No active agent is given.")
	}
	for _, a := range v.Actives {
		if p := a.wellFormed(); p != nil {
			return p
		}
	}
	if p := v.alsoFormed(); p != nil {
		return p
	}
	if _, err := densityOf(v.DensityKg); err != nil {
		return invalid("density", "Type it like 0.8765g/mL.", "%s.", title(err.Error()))
	}
	for _, id := range v.Models {
		if w.Models[id] == nil {
			return missing("model")
		}
	}
	if v.OpenDays < 0 || v.OpenDays > 3650 || v.WrittenS < 0 || v.WrittenS > 3600 ||
		v.Least < 0 || v.Least > 10000 {
		return invalid("number", "Correct it and send again.", "A number is out of range.")
	}
	return v.claimsPlausible()
}

// agents are the agents a product can name.
var agents = map[string]spectrum.Agent{}

func init() {
	for _, a := range []spectrum.Agent{spectrum.Ethanol, spectrum.Propan2ol, spectrum.Propan1ol,
		spectrum.Quat, spectrum.Chlorine, spectrum.Peroxide, spectrum.Peracetic, spectrum.Other} {
		agents[string(a)] = a
	}
}

func (a Active) wellFormed() *Problem {
	if _, ok := agents[a.Agent]; !ok {
		return invalid("agent", "Choose from the list.", "%q is no agent of the list.", a.Agent)
	}
	if _, err := strength.ParseAlcohol(a.Agent); err == nil {
		if _, err := strength.ParseStrength(a.Strength); err != nil {
			return invalid("strength", "Type figure and basis, such as 70%v/v, or 70%% if none is stated.",
				"%s.", title(err.Error()))
		}
		return nil
	}
	_, p := need("The strength of "+a.Agent, a.Strength, 30)
	return p
}

func (v *Product) claimsPlausible() *Problem {
	if len(v.Claims) == 0 && v.AsWritten == "" {
		return invalid("claims", "Tick the claims of the label, or give the page of the instructions.",
			"Neither a claim nor a page of the instructions is given.")
	}
	var named []spectrum.Agent
	for _, a := range v.Actives {
		named = append(named, agents[a.Agent])
	}
	for _, cl := range v.Claims {
		if _, err := spectrum.ParseToken(cl.Token); err != nil || cl.Seconds < 1 || cl.Seconds > 3600 {
			return invalid("claims", "Each claim needs a time of 1 to 3600 s.",
				"The claim %q at %d s cannot be right.", cl.Token, cl.Seconds)
		}
	}
	for _, d := range spectrum.Plausible(named, tokens(claimTokens(v.Claims))) {
		if d.Impossible {
			return &Problem{Code: Refused, Rule: "impossible_claim", Text: d.Why,
				Fix: "Read the label again; ask infection control."}
		}
	}
	return nil
}

func claimTokens(claims []Claim) []string {
	var out []string
	for _, c := range claims {
		out = append(out, c.Token)
	}
	return out
}
