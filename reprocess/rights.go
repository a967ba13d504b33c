package reprocess

// The acts: stable texts in entries. Standard terms, so that exports keep them.
const (
	ActFirstSupervisor Act = "first_supervisor"
	ActSettings        Act = "settings"
	ActPolicy          Act = "policy"
	ActCounter         Act = "counter"
	ActPerson          Act = "person"
	ActSecret          Act = "secret"
	ActPhone           Act = "phone"
	ActPhoneRevoke     Act = "phone_revoke"
	ActModel           Act = "model"
	ActProcedure       Act = "procedure"
	ActProduct         Act = "product"
	ActLot             Act = "lot"
	ActLotStop         Act = "lot_stop"
	ActLotLift         Act = "lot_lift"
	ActOpenContainer   Act = "container_open"
	ActCloseContainer  Act = "container_close"
	ActLabel           Act = "label"
	ActLabelBind       Act = "label_bind"
	ActRegister        Act = "register"
	ActCompose         Act = "compose"
	ActMove            Act = "move"
	ActReturn          Act = "return"
	ActNotOurs         Act = "not_ours"
	ActOpenParcel      Act = "parcel_open"
	ActRecording       Act = "recording"
	ActRecordingGiveUp Act = "recording_give_up"
	ActWait            Act = "wait"
	ActWaitEnd         Act = "wait_end"
	ActStep            Act = "step"
	ActWet             Act = "wet"
	ActUndo            Act = "undo"
	ActSmallRepair     Act = "small_repair"
	ActCountersign     Act = "countersign"
	ActOverride        Act = "override"
	ActHold            Act = "hold"
	ActDecision        Act = "decision"
	ActEmbargo         Act = "embargo"
	ActEmbargoLift     Act = "embargo_lift"
	ActCorrect         Act = "correct"
	ActTechnicianDone  Act = "technician_done"
	ActRelease         Act = "release"
	ActBreakRelease    Act = "break_release"
	ActRecheck         Act = "recheck"
	ActIssue           Act = "issue"
	ActIssueAfter      Act = "issue_after_the_fact"
	ActExtend          Act = "extend"
	ActIssueUndo       Act = "issue_undo"
	ActSwap            Act = "swap"
	ActWardWear        Act = "ward_wear"
	ActWardReturn      Act = "ward_return"
	ActAside           Act = "aside"
	ActRepairSend      Act = "repair_send"
	ActRepairNews      Act = "repair_news"
	ActMissing         Act = "missing"
	ActMissingTold     Act = "missing_told"
	ActView            Act = "view"
	ActExport          Act = "export"
)

// Right is one row of the table of rights: who may do an act, and whether it is signed,
// that is, the person has to re-enter their secret for it.
type Right struct {
	Act    Act
	Words  string
	Roles  []Role
	Signed bool
}

var (
	bench    = []Role{RoleReprocessing, RoleRelease, RoleTechnician, RoleInfection, RoleSupervisor}
	counter  = []Role{RoleFrontDesk, RoleReprocessing, RoleRelease, RoleSupervisor}
	anyone   = []Role{RoleReprocessing, RoleRelease, RoleFrontDesk, RoleTechnician, RoleInfection, RoleSupervisor}
	everyone = Roles()
	boss     = []Role{RoleSupervisor}
	judges   = []Role{RoleInfection, RoleSupervisor}
)

// rights is the table. An act that is not in it is nobody's.
var rights = []Right{
	{ActFirstSupervisor, "set up the first supervisor", boss, false},
	{ActSettings, "change the settings", boss, false},
	{ActRoutine, "set how the day goes", boss, false},
	{ActPolicy, "set which claims are needed", judges, false},
	{ActCounter, "set what the counter asks", boss, false},
	{ActPerson, "add or change staff", boss, false},
	{ActSecretReset, "give somebody a one-time code for a new secret", boss, true},
	{ActSecret, "set their own secret", everyone, false},
	{ActPhone, "enrol a phone", boss, false},
	{ActPhoneRevoke, "end a phone", boss, false},
	{ActModel, "describe a model", boss, false},
	{ActChecks, "list the technical checks of a model", boss, false},
	{ActCheck, "enter a technical check", []Role{RoleTechnician, RoleSupervisor}, false},
	{ActVersion, "say which version runs on a piece", bench, false},
	{ActCampaign, "begin or end a campaign", []Role{RoleTechnician, RoleSupervisor}, false},
	{ActCampaignMark, "mark a piece of a campaign as done", bench, false},
	{ActSignOff, "sign somebody off as competent", boss, true},
	{ActProcedure, "approve a procedure", boss, true},
	{ActProduct, "describe a disinfectant", boss, false},
	{ActLot, "record a lot", bench, false},
	{ActLotStop, "stop a lot", anyone, false},
	{ActLotLift, "lift the stop of a lot", judges, true},
	{ActLotEnd, "say that a lot is used up", bench, false},
	{ActLotResume, "say that some of a lot is left", bench, false},
	{ActContainerBack, "take back that a container was closed", bench, false},
	{ActBatch, "prepare a batch", bench, false},
	{ActReadStrength, "record a reading of strength", bench, false},
	{ActWarning, "keep a warning of the maker", judges, true},
	{ActWarningHold, "put on hold what a warning names", judges, true},
	{ActOpenContainer, "open a container", bench, false},
	{ActCloseContainer, "close a container", bench, false},
	{ActLabel, "issue labels", bench, false},
	{ActLabelBind, "bind a blank label", bench, false},
	{ActRegister, "register a kit", boss, false},
	{ActCompose, "change which pieces make a kit", []Role{RoleTechnician, RoleSupervisor, RoleReprocessing}, false},
	{ActMove, "say where a kit lies", anyone, false},
	{ActReturn, "take back", anyone, false},
	{ActPaper, "enter from paper", anyone, false},
	{ActNotOurs, "take in something that is not ours", anyone, false},
	{ActOpenParcel, "open a parcel", anyone, false},
	{ActRecording, "say where the last recording is", anyone, false},
	{ActRecordingGiveUp, "give up a recording", []Role{RoleSupervisor, RoleTechnician, RoleFrontDesk}, true},
	{ActWait, "set a waiting reason", anyone, false},
	{ActWaitEnd, "end a waiting reason", anyone, false},
	{ActStep, "record a step", bench, false},
	{ActWet, "record wetness", bench, false},
	{ActPair, "scan recorder and phone as a pair", bench, false},
	{ActUndo, "take back a tap", anyone, false},
	{ActSmallRepair, "record a small repair", bench, false},
	{ActCountersign, "countersign for a learner", bench, true},
	{ActOverride, "accept a step not as written", []Role{RoleSupervisor, RoleInfection, RoleTechnician}, true},
	{ActHold, "put on hold", anyone, false},
	{ActDecision, "decide on a hold", judges, true},
	{ActEmbargo, "stop a kit, or call it back", judges, true},
	{ActEmbargoLift, "end a stop or a call-back", judges, true},
	{ActFreezeLookBack, "freeze a look-back", []Role{RoleInfection, RoleSupervisor, RoleAuditor}, true},
	{ActOnNamed, "stop and call back what a look-back names", judges, true},
	{ActCorrect, "correct what was recorded", bench, true},
	{ActTechnicianDone, "end a technician's wait", []Role{RoleTechnician, RoleSupervisor}, true},
	{ActRelease, "release", []Role{RoleRelease}, true},
	{ActBreakRelease, "say that a released pack was opened, wet or dropped", anyone, false},
	{ActRecheck, "re-check a released kit", []Role{RoleRelease}, true},
	{ActIssue, "hand out", counter, false},
	{ActIssueAfter, "record a hand-out after the fact", anyone, true},
	{ActKeep, "keep a kit for an appointment", counter, false},
	{ActKeepEnd, "give a kept kit free", counter, false},
	{ActWant, "say how many kits are wanted", counter, false},
	{ActCall, "note a call about an overdue loan", anyone, false},
	{ActExtend, "extend a loan", counter, false},
	{ActIssueUndo, "undo a hand-out", counter, false},
	{ActSwap, "swap one kit for another", counter, false},
	{ActWardWear, "record who wears a kit on a ward", anyone, false},
	{ActWardReturn, "record that a wearer on a ward gave a kit back", anyone, false},
	{ActRepairSend, "declare a piece’s contamination status and send it to repair", []Role{RoleReprocessing, RoleTechnician, RoleSupervisor, RoleInfection}, true},
	{ActRepairNews, "record news from a repair", anyone, false},
	{ActMissing, "declare a kit missing", anyone, false},
	{ActMissingTold, "record that the privacy contact was told of a loss", []Role{RoleFrontDesk, RoleInfection, RoleSupervisor}, false},
	{ActAside, "set a piece aside or bring it back", []Role{RoleReprocessing, RoleTechnician, RoleSupervisor, RoleFrontDesk, RoleInfection}, false},
	{ActView, "look up a wearer reference", []Role{RoleFrontDesk, RoleInfection, RoleSupervisor}, false},
	{ActTick, "tick the daily list", anyone, false},
	{ActNote, "write a note into the day", anyone, false},
	{ActHandOver, "hand the bench over", anyone, false},
	{ActFinding, "write down a finding", everyone, false},
	{ActFindingMove, "give a finding another owner or day", judges, false},
	{ActFindingClose, "close a finding", everyone, false},
	{ActPass, "give an inspector a pass to read", boss, true},
	{ActPassEnd, "end a pass", boss, false},
	{ActPassUse, "sign in with a pass", []Role{RoleAuditor}, false},
	{ActPassRead, "count what was read with a pass", boss, false},
	{ActTurnedAway, "count who was turned away", boss, false},
	{ActEraseWearer, "erase a wearer reference", boss, true},
	{ActRetention, "set how long wearer references are kept", boss, true},
	{ActLegalHold, "set a legal hold", boss, true},
	{ActLegalLift, "lift a legal hold", boss, true},
	{ActLearnHeight, "set the expected beat height of a model", []Role{RoleTechnician, RoleSupervisor}, true},
	{ActPicture, "keep a picture", anyone, false},
	{ActDocument, "keep a document", []Role{RoleTechnician, RoleInfection, RoleSupervisor}, false},
	{ActDocumentWithdraw, "withdraw a document", judges, true},
	{ActSample, "draw a sample of the record", []Role{RoleAuditor, RoleSupervisor}, false},
	{ActSampleRead, "say what a sampled record shows", []Role{RoleAuditor, RoleSupervisor}, false},
	{ActRemoveFiles, "remove recordings and pictures that were kept long enough", boss, true},
	{ActExport, "export the record", []Role{RoleAuditor, RoleSupervisor}, false},
}

// Rights lists the table of rights.
func Rights() []Right { return rights }

// FindRight looks an act up; ok is false for an act that is nobody's.
func FindRight(a Act) (right Right, ok bool) {
	for _, r := range rights {
		if r.Act == a {
			return r, true
		}
	}
	return Right{}, false
}

// may checks role, presence on the staff and signature, before any rule of the act itself.
func may(c *Case, a Act) *Problem {
	right, ok := FindRight(a)
	p := c.Actor.Person
	switch {
	case !ok || p == nil:
		return &Problem{Code: Forbidden, Rule: "nobody", Text: "Nobody is signed in for this.",
			Fix: "Sign in and try again."}
	case p.Left != "" && c.Now.Today() > p.Left:
		return &Problem{Code: Forbidden, Rule: "left",
			Text: p.Name + " left on " + string(p.Left) + ".", Fix: "Sign in as yourself."}
	case !p.Has(right.Roles...):
		return &Problem{Code: Forbidden, Rule: "role",
			Text: p.Name + " may not " + right.Words + ".", Fix: "Ask " + roleList(right.Roles) + "."}
	case onlyReads(p, a):
		return &Problem{Code: Forbidden, Rule: "read_only",
			Text: "A pass reads the record and changes nothing.",
			Fix:  "Ask a supervisor to do it."}
	case right.Signed && !c.Actor.Signed:
		return &Problem{Code: Forbidden, Rule: "signature",
			Text: "This has to be signed.", Fix: "Enter your own secret and try again."}
	}
	return nil
}

var roleWords = map[Role]string{RoleReprocessing: "reprocessing", RoleRelease: "release",
	RoleFrontDesk: "the front desk", RoleTechnician: "a technician",
	RoleInfection: "infection control", RoleAuditor: "an auditor", RoleSupervisor: "a supervisor"}

// RoleWords is a role as a person reads it.
func RoleWords(r Role) string { return roleWords[r] }

func roleList(roles []Role) string {
	text := ""
	for i, r := range roles {
		switch {
		case i > 0 && i == len(roles)-1:
			text += " or "
		case i > 0:
			text += ", "
		}
		text += roleWords[r]
	}
	return text
}
