package reprocess

import (
	"bytes"
	"encoding/json"
	"errors"
	"sort"
)

// Event is something that happened: facts only, no verdicts that could be derived again.
// Names are stable texts; fields are only ever added.
type Event interface{ EventName() string }

// Set-up. Each carries the whole new description.
type (
	// SettingsSet replaces the settings of the site.
	SettingsSet struct{ Settings }
	// PersonSet adds or changes a person.
	PersonSet struct{ Person }
	// ModelSet adds or changes a model.
	ModelSet struct{ Model }
	// ProcedureApproved adds one version of a procedure; it is in force from now on.
	ProcedureApproved struct{ Procedure }
	// ProductSet adds or changes a disinfectant.
	ProductSet struct{ Product }
	// LotSet adds or changes a lot; a stop is never part of it.
	LotSet struct{ Lot }
	// SecretSet says that a person's secret was set. MAC is an HMAC over the stored hash, so
	// that a hash swapped in the database does not sign unnoticed.
	SecretSet struct {
		Person string `json:"person"`
		MAC    string `json:"mac"`
		Code   bool   `json:"code,omitempty"`   // by a one-time code
		Beside string `json:"beside,omitempty"` // who else was signed in in that browser
	}
	// PhoneEnrolled and PhoneRevoked say which phones may reach the sign-in.
	PhoneEnrolled struct {
		Phone string `json:"phone"`
		Name  string `json:"name"`
	}
	// PhoneRevoked ends a phone: lost, or no longer used.
	PhoneRevoked struct {
		Phone  string `json:"phone"`
		Reason string `json:"reason"`
	}
)

// Supplies at the bench.
type (
	// LotStopped stops a lot at once; LotLifted ends the stop.
	LotStopped struct {
		Lot    string `json:"lot"`
		Reason string `json:"reason"`
	}
	// LotLifted is a signed decision.
	LotLifted struct {
		Lot    string `json:"lot"`
		Reason string `json:"reason"`
	}
	// ContainerOpened opens a bottle, tub or box.
	ContainerOpened struct{ Container }
	// ContainerClosed ends it: empty or thrown away.
	ContainerClosed struct {
		Container string `json:"container"`
		Why       string `json:"why"`
	}
)

// Labels.
type (
	// LabelIssued adds a code, bound or blank.
	LabelIssued struct{ Label }
	// LabelBound gives a blank code its target.
	LabelBound struct {
		Code   string   `json:"code"`
		Kind   CodeKind `json:"kind"`
		Target string   `json:"target"`
	}
	// LabelWithdrawn ends a code at once.
	LabelWithdrawn struct {
		Code   string `json:"code"`
		Reason string `json:"reason"`
	}
)

// Kits.
type (
	// KitRegistered adds a kit with its pieces; Loan is set when it is out at that moment.
	KitRegistered struct {
		Kit    Kit     `json:"kit"`
		Pieces []Piece `json:"pieces"`
		Loan   *Loan   `json:"loan,omitempty"`
	}
	// PieceRegistered adds a piece that is in no kit yet.
	PieceRegistered struct{ Piece }
	// KitMoved says where it lies now.
	KitMoved struct {
		Kit   string `json:"kit"`
		Place string `json:"place"`
	}
	// KitComposed changes which pieces make the kit.
	KitComposed struct {
		Kit    string   `json:"kit"`
		Pieces []string `json:"pieces"`
	}
	// TakenBack says which pieces came back and what was asked.
	TakenBack struct {
		Kit    string   `json:"kit"`
		Came   []string `json:"came"`
		Loan   string   `json:"loan,omitempty"` // the loan it ends
		Return Return   `json:"return"`
		Opened bool     `json:"opened,omitempty"` // the parcel is already open
		Swap   string   `json:"swap,omitempty"`   // the kit that went out for it
	}
	// ForeignItem is something that came in and is not from this pool.
	ForeignItem struct {
		Note  string `json:"note"`
		Place string `json:"place,omitempty"`
	}
	// ParcelOpened starts the second waiting clock.
	ParcelOpened struct {
		Kit string `json:"kit"`
	}
	// RecordingSet says where the last wearer's recording is.
	RecordingSet struct {
		Kit    string          `json:"kit"`
		Status RecordingStatus `json:"status"`
		Reason string          `json:"reason,omitempty"`
	}
	// WaitingSet and WaitingEnded keep the list of waiting reasons.
	WaitingSet struct {
		Kit    string `json:"kit"`
		Reason string `json:"reason"`
		Who    string `json:"who,omitempty"`
		Next   Date   `json:"next,omitempty"`
		Part   string `json:"part,omitempty"`
	}
	// WaitingEnded ends one reason.
	WaitingEnded struct {
		Kit    string `json:"kit"`
		Reason string `json:"reason"`
	}
)

// Cycles.
type (
	// CycleOpened begins a pass of one piece.
	CycleOpened struct {
		Cycle     string   `json:"cycle"`
		Piece     string   `json:"piece"`
		Kit       string   `json:"kit"`
		Number    int      `json:"number"`
		Procedure string   `json:"procedure"`
		Loan      string   `json:"loan,omitempty"`
		Flags     []string `json:"flags,omitempty"`
		Claimed   Instant  `json:"claimed,omitempty"` // begun then, as a sheet says

		// Instructions of the model that counted then.
		Instructions []InstructionsUsed `json:"instructions,omitempty"`
	}
	// StepRecorded adds one record; seq, time and person are the entry's.
	StepRecorded struct {
		Cycle  string `json:"cycle"`
		Piece  string `json:"piece"`
		Record Record `json:"record"`
	}
	// Undone takes one entry's records back: "tapped by mistake".
	Undone struct {
		Of        int64      `json:"of"`
		Kit       string     `json:"kit"`
		Cycles    []string   `json:"cycles"`
		Recording *Recording `json:"recording,omitempty"` // as it was before
	}
)

// Judgements.
type (
	// Held puts a piece on hold.
	Held struct {
		Piece   string  `json:"piece"`
		Grade   Grade   `json:"grade"`
		Reason  string  `json:"reason"`
		Note    string  `json:"note,omitempty"`
		Claimed Instant `json:"claimed,omitempty"` // seen then, as a sheet says
	}
	// HoldEnded is a signed decision on one hold. To is "go_on", "repair" or "retire".
	HoldEnded struct {
		Piece  string `json:"piece"`
		Hold   int64  `json:"hold"` // entry that set it
		Reason string `json:"reason"`
	}
	// KitReleased is the signed release.
	KitReleased struct {
		Kit       string      `json:"kit"`
		Name      string      `json:"name"`
		Meaning   string      `json:"meaning"`
		Until     Instant     `json:"until,omitempty"`
		Cycles    []PieceLine `json:"cycles"`
		Lots      []string    `json:"lots,omitempty"`
		CellDays  int         `json:"cell_days,omitempty"`
		CellUntil Date        `json:"cell_until,omitempty"`
	}
	// ReleaseBroken ends a standing release: opened, wet, dropped. A re-check is asked for.
	ReleaseBroken struct {
		Kit string `json:"kit"`
		Why string `json:"why"`
	}
	// Rechecked renews a broken or lapsed release without a cycle, where that is enough.
	Rechecked struct {
		Kit   string  `json:"kit"`
		Until Instant `json:"until,omitempty"`
	}
	// PieceMoved sets a piece aside or brings it back: missing, out for repair, retired,
	// or returned from there.
	PieceMoved struct {
		Piece  string `json:"piece"`
		State  State  `json:"state"`
		Reason string `json:"reason"`

		LookBack int64  `json:"look_back,omitempty"` // entry of the look-back that named it
		OnReturn string `json:"on_return,omitempty"` // why it goes on hold when it comes back
		Loss     string `json:"loss,omitempty"`      // the kit whose loss it was found of
	}
)

// Loans.
type (
	// HandedOut begins a loan.
	HandedOut struct{ Loan }
	// LoanExtended changes planned days and due date.
	LoanExtended struct {
		Loan string `json:"loan"`
		Days int    `json:"days"`
		Due  Date   `json:"due"`
	}
	// HandOutUndone says the pack never left unopened.
	HandOutUndone struct {
		Loan   string `json:"loan"`
		Kit    string `json:"kit"`
		Reason string `json:"reason"`
	}
	// WearerViewed says that somebody is about to read a wearer reference. It changes nothing.
	WearerViewed struct {
		Kit  string `json:"kit"`
		Loan string `json:"loan"`
	}
	// Exported says that somebody is about to take a copy of a part of the record away. It
	// changes nothing.
	Exported struct {
		Format string `json:"format"`
		Table  string `json:"table,omitempty"`
		Scope  string `json:"scope"`
		Size   int64  `json:"size"` // entries there were to choose from
	}
)

// EventName gives the stable text of each event.
func (SettingsSet) EventName() string       { return "settings_set" }
func (PersonSet) EventName() string         { return "person_set" }
func (ModelSet) EventName() string          { return "model_set" }
func (ProcedureApproved) EventName() string { return "procedure_approved" }
func (ProductSet) EventName() string        { return "product_set" }
func (LotSet) EventName() string            { return "lot_set" }
func (SecretSet) EventName() string         { return "secret_set" }
func (PhoneEnrolled) EventName() string     { return "phone_enrolled" }
func (PhoneRevoked) EventName() string      { return "phone_revoked" }
func (LotStopped) EventName() string        { return "lot_stopped" }
func (LotLifted) EventName() string         { return "lot_lifted" }
func (ContainerOpened) EventName() string   { return "container_opened" }
func (ContainerClosed) EventName() string   { return "container_closed" }
func (LabelIssued) EventName() string       { return "label_issued" }
func (LabelBound) EventName() string        { return "label_bound" }
func (LabelWithdrawn) EventName() string    { return "label_withdrawn" }
func (KitRegistered) EventName() string     { return "kit_registered" }
func (PieceRegistered) EventName() string   { return "piece_registered" }
func (KitMoved) EventName() string          { return "kit_moved" }
func (KitComposed) EventName() string       { return "kit_composed" }
func (TakenBack) EventName() string         { return "taken_back" }
func (ParcelOpened) EventName() string      { return "parcel_opened" }
func (ForeignItem) EventName() string       { return "foreign_item" }
func (RecordingSet) EventName() string      { return "recording_set" }
func (WaitingSet) EventName() string        { return "waiting_set" }
func (WaitingEnded) EventName() string      { return "waiting_ended" }
func (CycleOpened) EventName() string       { return "cycle_opened" }
func (StepRecorded) EventName() string      { return "step_recorded" }
func (Undone) EventName() string            { return "undone" }
func (Held) EventName() string              { return "held" }
func (HoldEnded) EventName() string         { return "hold_ended" }
func (KitReleased) EventName() string       { return "kit_released" }
func (ReleaseBroken) EventName() string     { return "release_broken" }
func (Rechecked) EventName() string         { return "rechecked" }
func (PieceMoved) EventName() string        { return "piece_moved" }
func (HandedOut) EventName() string         { return "handed_out" }
func (LoanExtended) EventName() string      { return "loan_extended" }
func (HandOutUndone) EventName() string     { return "hand_out_undone" }
func (WearerViewed) EventName() string      { return "wearer_viewed" }
func (Exported) EventName() string          { return "exported" }

// reader decodes one kind of event strictly.
type reader func([]byte) (Event, error)

func read[E Event](b []byte) (Event, error) {
	var e E
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	err := d.Decode(&e)
	if err == nil && d.InputOffset() != int64(len(b)) {
		err = errors.New("something follows the facts")
	}
	return e, err
}

// eventReaders is the closed list of events; names are only ever added.
var eventReaders = map[string]reader{
	"settings_set": read[SettingsSet], "person_set": read[PersonSet],
	"model_set": read[ModelSet], "procedure_approved": read[ProcedureApproved],
	"product_set": read[ProductSet], "lot_set": read[LotSet],
	"secret_set": read[SecretSet], "phone_enrolled": read[PhoneEnrolled],
	"phone_revoked": read[PhoneRevoked], "lot_stopped": read[LotStopped],
	"lot_lifted": read[LotLifted], "lot_ended": read[LotEnded], "lot_resumed": read[LotResumed],
	"container_reopened": read[ContainerReopened], "strength_read": read[StrengthRead],
	"warning_noted": read[WarningNoted], "container_opened": read[ContainerOpened],
	"container_closed": read[ContainerClosed], "label_issued": read[LabelIssued],
	"label_bound": read[LabelBound], "label_withdrawn": read[LabelWithdrawn],
	"kit_registered":   read[KitRegistered],
	"piece_registered": read[PieceRegistered], "kit_moved": read[KitMoved],
	"kit_composed": read[KitComposed], "taken_back": read[TakenBack],
	"foreign_item": read[ForeignItem], "parcel_opened": read[ParcelOpened], "recording_set": read[RecordingSet],
	"waiting_set": read[WaitingSet], "waiting_ended": read[WaitingEnded],
	"cycle_opened": read[CycleOpened], "step_recorded": read[StepRecorded],
	"undone": read[Undone], "record_corrected": read[RecordCorrected], "held": read[Held], "hold_ended": read[HoldEnded],
	"kit_released": read[KitReleased], "release_broken": read[ReleaseBroken],
	"rechecked": read[Rechecked], "piece_moved": read[PieceMoved],
	"handed_out": read[HandedOut], "loan_extended": read[LoanExtended],
	"check_recorded": read[CheckRecorded], "version_set": read[VersionSet],
	"campaign_set": read[CampaignSet], "campaign_marked": read[CampaignMarked],
	"hand_out_undone": read[HandOutUndone], "wearer_viewed": read[WearerViewed],
	"wearer_erased": read[WearerErased], "legal_hold_set": read[LegalHoldSet],
	"legal_hold_lifted": read[LegalHoldLifted],
	"ward_returned":     read[WardReturned], "worn_told": read[WornTold],
	"sample_drawn": read[SampleDrawn], "sample_read": read[SampleRecordRead],
	"look_back_frozen": read[LookBackFrozen], "look_back_acted": read[LookBackActed],
	"cycle_restarted": read[CycleRestarted],
	"repair_sent":     read[RepairSent], "repair_expected": read[RepairExpected],
	"repair_ended": read[RepairEnded], "loss_declared": read[LossDeclared], "loss_told": read[LossTold],
	"turned_away": read[TurnedAway], "pass_read": read[PassRead], "pass_used": read[PassUsed],
	"exported": read[Exported], "roll_called": read[RollCalled],
	"day_ticked": read[DayTicked], "day_noted": read[DayNoted], "handed_over": read[HandedOver],
	"loan_called": read[LoanCalled], "kit_kept": read[KitKept], "keep_ended": read[KeepEnded],
	"want_set": read[WantSet], "finding_opened": read[FindingOpened],
	"finding_moved": read[FindingMoved], "finding_closed": read[FindingClosed],
	"height_learnt": read[HeightLearnt], "picture_added": read[PictureAdded],
	"pair_checked":   read[PairChecked],
	"files_removed":  read[FilesRemoved],
	"document_added": read[DocumentAdded], "document_renewed": read[DocumentRenewed],
	"document_attached": read[DocumentAttached], "document_withdrawn": read[DocumentWithdrawn],
}

// EventNames lists every event name in order.
func EventNames() []string {
	var names []string
	for n := range eventReaders {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}
