package reprocess

// Kind tells the two tracked pieces of a kit apart.
type Kind string

// The kinds of tracked pieces.
const (
	Recorder Kind = "recorder"
	Phone    Kind = "phone"
)

// Kinds lists the tracks in the order the bench works them.
func Kinds() []Kind { return []Kind{Recorder, Phone} }

// Model is a model of recorder or phone, with the maker's limits as its instructions state.
type Model struct {
	ID         string   `json:"id"`
	Name       string   `json:"name"`
	Kind       Kind     `json:"kind"`
	CycleLimit int      `json:"cycle_limit,omitempty"` // 0: the maker states none
	IFU        string   `json:"ifu,omitempty"`         // instructions for use: document and version
	Parts      []string `json:"parts,omitempty"`       // unlabelled parts that travel with it
	WearDays   int      `json:"wear_days,omitempty"`   // days a fresh cell lasts worn; 0: not stated
	Retired    bool     `json:"retired,omitempty"`

	Export           bool `json:"export,omitempty"`             // can export a test recording as a file
	ExpectedHeightUV int  `json:"expected_height_uv,omitempty"` // µV, only by LearnHeight
	NeedEvent        bool `json:"need_event,omitempty"`         // the test has to hold an event mark

	Cell              string `json:"cell,omitempty"` // designation as printed, such as LR03
	CellCount         int    `json:"cell_count,omitempty"`
	CapacityMAh       int    `json:"capacity_mah,omitempty"`       // of one cell, mAh
	CurrentUA         int    `json:"current_ua,omitempty"`         // mean, µA
	RunHours          int    `json:"run_hours,omitempty"`          // the maker's run time, h; wins
	ElectrodeInterval string `json:"electrode_interval,omitempty"` // days one set stays on, "3.5"
	PerSet            int    `json:"per_set,omitempty"`            // electrodes in one set
	UsualDays         int    `json:"usual_days,omitempty"`         // usual wear; 0: not stated

	Checks []CheckRule `json:"checks,omitempty"` // technical checks, only by SetChecks
}

// Piece is one recorder or phone. State and cycle belong to it; a kit is a dated composition.
type Piece struct {
	ID        string `json:"id"`
	Kind      Kind   `json:"kind"`
	Model     string `json:"model"`
	Serial    string `json:"serial"`
	UDI       string `json:"udi,omitempty"` // as read from the maker's mark
	Kit       string `json:"kit,omitempty"`
	Site      string `json:"site"`
	State     State  `json:"state"`
	Cycle     string `json:"cycle,omitempty"`      // the open or latest cycle
	Cycles    int    `json:"cycles"`               // cycles ended by release, with the earlier ones
	AtLeast   bool   `json:"at_least,omitempty"`   // earlier cycles unknown: shown as ">= n"
	TakenOver bool   `json:"taken_over,omitempty"` // state still the opening balance
	Holds     []Hold `json:"holds,omitempty"`      // open ones only

	// Flags are precautions of its last return that a piece keeps while it is in no kit.
	Flags []string `json:"flags,omitempty"`

	Repair    *Repair        `json:"repair,omitempty"`    // the newest stay at a repairer
	Checks    []CheckDone    `json:"checks,omitempty"`    // the newest of each kind
	Versions  []Version      `json:"versions,omitempty"`  // the newest of each thing
	Campaigns []CampaignDone `json:"campaigns,omitempty"` // done in them

	OnReturn string `json:"on_return,omitempty"` // called back: why it goes on hold on its return

	Called *CalledBack `json:"called,omitempty"` // while it is called back from a wearer
}

// Grade is how hard a hold holds.
type Grade string

// The grades: a technician ends the first, a signed decision the others.
const (
	GradeTechnician Grade = "technician"
	GradeHold       Grade = "hold"
	GradeInfection  Grade = "infection_control"
)

// Hold is an open reason why a piece may not go on. Seq names the entry that set it.
type Hold struct {
	Seq    int64   `json:"seq"`
	At     Instant `json:"at"`
	By     string  `json:"by"`
	Grade  Grade   `json:"grade"`
	Reason string  `json:"reason"` // id of a row of HoldReasons or an answer's value
	Note   string  `json:"note,omitempty"`
}

// Held finds the first open hold of any of the grades, or nil.
func (p *Piece) Held(grades ...Grade) *Hold {
	for i := range p.Holds {
		for _, g := range grades {
			if p.Holds[i].Grade == g {
				return &p.Holds[i]
			}
		}
	}
	return nil
}

// Kit is what is lent: a recorder, its paired phone and what goes with them. Its state is
// derived from its pieces. Seqs and times name the newest entry of each kind.
type Kit struct {
	ID        string    `json:"id"`
	Number    string    `json:"number"` // the clinic's own short number, unique per site
	Site      string    `json:"site"`
	Pieces    []string  `json:"pieces"` // recorder first
	Place     string    `json:"place,omitempty"`
	PlaceAt   Instant   `json:"place_at,omitempty"`
	PlaceBy   string    `json:"place_by,omitempty"`
	Loan      string    `json:"loan,omitempty"`   // the open or latest loan
	Back      Instant   `json:"back,omitempty"`   // in the house since
	Opened    Instant   `json:"opened,omitempty"` // parcel opened since
	Recording Recording `json:"recording"`
	Flags     []string  `json:"flags,omitempty"`  // precautions told for this return
	Return    *Return   `json:"return,omitempty"` // what was asked when it last came back
	Waiting   []Waiting `json:"waiting,omitempty"`
	Release   *Release  `json:"release,omitempty"` // the standing release, nil once it is broken
	Missing   []string  `json:"missing,omitempty"` // parts said to be missing
	Loss      *Loss     `json:"loss,omitempty"`    // the newest, found or not
	Retired   bool      `json:"retired,omitempty"`
	Keep      *Keep     `json:"keep,omitempty"` // for an appointment; ask KeptNow
	Pair      *PairSeen `json:"pair,omitempty"` // both labels read together; ask World.Paired
	Since     Instant   `json:"since"`          // of the newest change of state
}

// RecordingStatus says where the last wearer's recording is.
type RecordingStatus string

// The statuses; only the safe ones let anything be erased.
const (
	RecordingUnknown RecordingStatus = "unknown"
	RecordingOnIt    RecordingStatus = "still_on_device"
	RecordingArrived RecordingStatus = "arrived"
	RecordingNone    RecordingStatus = "nothing_recorded"
	RecordingGivenUp RecordingStatus = "given_up" // signed, with a reason
)

// Recording is the last wearer's recording as somebody last told it.
type Recording struct {
	Status RecordingStatus `json:"status"`
	At     Instant         `json:"at,omitempty"`
	By     string          `json:"by,omitempty"`
	Reason string          `json:"reason,omitempty"`
}

// Safe tells whether erasing loses nothing that anybody still wants.
func (r Recording) Safe() bool {
	return r.Status == RecordingArrived || r.Status == RecordingNone ||
		r.Status == RecordingGivenUp
}

// Waiting is one reason why a kit stands still; it is not a hold.
type Waiting struct {
	Reason string  `json:"reason"`
	Who    string  `json:"who,omitempty"`
	Next   Date    `json:"next,omitempty"` // look again on
	Part   string  `json:"part,omitempty"`
	At     Instant `json:"at"`
	By     string  `json:"by"`
}

// Release is the signed act on a kit. It does not lapse unless Until is set.
type Release struct {
	Seq       int64       `json:"seq"`
	At        Instant     `json:"at"`
	By        string      `json:"by"`
	Name      string      `json:"name"`
	Meaning   string      `json:"meaning"`
	Until     Instant     `json:"until,omitempty"`
	TakenOver bool        `json:"taken_over,omitempty"` // ready on paper before this log began
	Cycles    []PieceLine `json:"cycles,omitempty"`
	Lots      []string    `json:"lots,omitempty"` // lots of disinfectant and cells behind it
	CellDays  int         `json:"cell_days,omitempty"`
	CellUntil Date        `json:"cell_until,omitempty"` // expiry of the fitted cell
}

// PieceLine joins a piece to its cycle in a release.
type PieceLine struct {
	Piece string `json:"piece"`
	Cycle string `json:"cycle"`
}

// Loan is one issue and return: an episode, with a random token for the wearer reference.
type Loan struct {
	ID        string   `json:"id"`
	Kit       string   `json:"kit"`
	Pieces    []string `json:"pieces"`
	Wearer    string   `json:"wearer,omitempty"` // random token; the reference is elsewhere
	Out       Instant  `json:"out,omitempty"`    // zero: not recorded
	OutBy     string   `json:"out_by,omitempty"`
	Days      int      `json:"days,omitempty"` // planned wear
	Due       Date     `json:"due,omitempty"`
	Flags     []string `json:"flags,omitempty"`
	Release   int64    `json:"release,omitempty"` // entry of the release it went out on
	After     bool     `json:"after,omitempty"`   // recorded after the fact: raises an alarm
	TakenOver bool     `json:"taken_over,omitempty"`
	Back      Instant  `json:"back,omitempty"`
	BackBy    string   `json:"back_by,omitempty"`
	Return    *Return  `json:"return,omitempty"`
	Undone    bool     `json:"undone,omitempty"`
	Paper     *Paper   `json:"paper,omitempty"` // the hand-out was entered from paper

	Checks []OutCheck `json:"checks,omitempty"` // the short list before it left; nil: not kept
	Cell   string     `json:"cell,omitempty"`   // lot of a cell fitted at the counter
	Pads   string     `json:"pads,omitempty"`   // lot of the electrodes that went along
	Ward   string     `json:"ward,omitempty"`   // who keeps it, when that is not the wearer
	Under  string     `json:"under,omitempty"`  // of a wearer on a ward: the ward's own loan
	Worn   int        `json:"worn,omitempty"`   // of a ward's own loan: wearers recorded there
	Erased Instant    `json:"erased,omitempty"` // when the link to the reference was erased
	Swap   string     `json:"swap,omitempty"`   // the loan that it goes on for
	Calls  []Call     `json:"calls,omitempty"`  // about an overdue return, oldest first
	Anyway string     `json:"anyway,omitempty"` // why it went out although kept for another
	Place  string     `json:"place,omitempty"`  // where the kit lay before
}

// Open tells whether the loan is still out.
func (l *Loan) Open() bool { return l != nil && l.Back == 0 && !l.Undone }

// Return is what was asked when the kit came back: each "yes", "no" or "not_asked".
type Return struct {
	Skin    string   `json:"skin"`
	Fault   string   `json:"fault"`
	Missing string   `json:"missing"`
	Parts   []string `json:"parts,omitempty"` // what is missing
	Flags   []string `json:"flags,omitempty"`
	Place   string   `json:"place,omitempty"`
	Custody string   `json:"custody,omitempty"` // "unknown" for lost and found
	Note    string   `json:"note,omitempty"`
	Left    string   `json:"left,omitempty"`  // of single-use parts: "discarded", "none", "not_asked"
	Short   []string `json:"short,omitempty"` // used-up things not back: "electrodes", "cells"
	Worn    string   `json:"worn,omitempty"`  // of a ward: by how many since; "unknown", "not_asked"
	Paper   *Paper   `json:"paper,omitempty"` // entered later, from paper
}

// CodeKind is what a printed code stands for.
type CodeKind string

// The kinds of codes; one address form for all, so that a label tells nothing.
const (
	CodePiece     CodeKind = "piece"
	CodeContainer CodeKind = "container"
	CodeSlip      CodeKind = "slip"
	CodePlace     CodeKind = "place"
	CodeBlank     CodeKind = "blank"
)

// Label is one printed code: 16 letters and a check letter.
type Label struct {
	Code      string   `json:"code"`
	Kind      CodeKind `json:"kind"`
	Target    string   `json:"target,omitempty"` // id of the piece, container, kit or place
	Number    string   `json:"number,omitempty"` // printed number of a blank
	At        Instant  `json:"at"`
	Withdrawn Instant  `json:"withdrawn,omitempty"`
}
