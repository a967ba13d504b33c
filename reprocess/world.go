package reprocess

// Settings are the clinic's own choices for a site.
type Settings struct {
	Site       string `json:"site"`
	Clinic     string `json:"clinic,omitempty"`      // on slips
	LabelLine  string `json:"label_line,omitempty"`  // at most 13 characters, such as "Ring 555 0100"
	Contact    string `json:"contact,omitempty"`     // whom a finder calls
	Hours      string `json:"hours,omitempty"`       // when somebody answers
	BenchCall  string `json:"bench_call,omitempty"`  // whom the desk asks, such as "Bench, ext. 214"
	Zone       string `json:"zone"`                  // IANA name, UTC by default
	PublicPage bool   `json:"public_page,omitempty"` // answers without sign-in; off by default
	IdleMin    int    `json:"idle_min,omitempty"`    // sign-in ends after, minutes; 0: 10
	MinCharge  int    `json:"min_charge,omitempty"`  // phone charge asked at hand-out, %; 0: 50
	// TargetHours is how long the clinic wants a kit to take from return to release; 0: no target.
	TargetHours int  `json:"target_hours,omitempty"`
	Demo        bool `json:"demo,omitempty"` // invented data; every page says so

	Supervised int        `json:"supervised,omitempty"`  // cycles before a sign-off; 0: 3
	Campaigns  []Campaign `json:"campaigns,omitempty"`   // only by SetCampaign
	ChecksHold bool       `json:"checks_hold,omitempty"` // an overdue technical check keeps a kit back

	LinkDays   int    `json:"link_days,omitempty"`   // only by SetRetention
	LinkReason string `json:"link_reason,omitempty"` // of that figure

	Policy *Policy `json:"policy,omitempty"` // claims a return needs; nil: the default

	Counter *Counter `json:"counter,omitempty"` // choices for the counter; nil: the defaults
	Routine *Routine `json:"routine,omitempty"` // of the day; nil: the default

	Bench *BenchRules `json:"bench,omitempty"` // test recordings; nil: the defaults

	Documents *DocumentRules `json:"documents,omitempty"`   // demanded; nil: nothing
	TwoToStop bool           `json:"two_to_stop,omitempty"` // a look-back's stop; only by SetStopRule
}

// World holds entities by id. The store keeps a partial one (what it has loaded so far), a
// verifier a whole one; both grow by the same Apply.
type World struct {
	Settings   Settings
	People     map[string]*Person
	Models     map[string]*Model
	Procedures map[string]*Procedure // by "id@version"
	InForce    map[string]string     // model id → "id@version" in force
	Products   map[string]*Product
	Lots       map[string]*Lot
	Containers map[string]*Container
	Labels     map[string]*Label // by code
	Kits       map[string]*Kit
	Pieces     map[string]*Piece
	Cycles     map[string]*Cycle
	Loans      map[string]*Loan
	Secrets    map[string]string // person id → HMAC of the stored hash
	Phones     map[string]*EnrolledPhone
	Daybooks   map[string]*Daybook // by day
	Wants      map[string]*Want    // by WantID
	Findings   map[string]*Finding
	Samples    map[string]*Sample
	LookBacks  map[string]*FrozenLookBack
	Legal      map[string]*LegalHold // legal holds, lifted ones too
	Documents  map[string]*Document  // withdrawn ones too

	touched map[Ref]bool
}

// EnrolledPhone is a phone or station that may reach the sign-in.
type EnrolledPhone struct {
	ID      string  `json:"id"`
	Name    string  `json:"name"`
	At      Instant `json:"at"`
	Revoked Instant `json:"revoked,omitempty"`
}

// Table names one read table; a Ref one row of it.
type Table string

// The read tables, one for each kind of entity.
const (
	TableSettings  Table = "settings"
	TablePerson    Table = "person"
	TableModel     Table = "model"
	TableProcedure Table = "procedure"
	TableInForce   Table = "in_force"
	TableProduct   Table = "product"
	TableLot       Table = "lot"
	TableContainer Table = "container"
	TableLabel     Table = "label"
	TableKit       Table = "kit"
	TablePiece     Table = "piece"
	TableCycle     Table = "cycle"
	TableLoan      Table = "loan"
	TableSecretMAC Table = "secret_mac"
	TablePhone     Table = "phone"
	TableDaybook   Table = "daybook"
	TableWant      Table = "want"
	TableFinding   Table = "finding"
	TableSample    Table = "sample"
)

// Tables lists every read table once; verify recomputes each.
func Tables() []Table {
	return []Table{TableSettings, TablePerson, TableModel, TableProcedure, TableInForce,
		TableProduct, TableLot, TableContainer, TableLabel, TableKit, TablePiece,
		TableCycle, TableLoan, TableSecretMAC, TablePhone, TableDaybook, TableWant,
		TableFinding, TableSample, TableLookBack, TableLegalHold, TableDocument}
}

// Ref names one row of a read table.
type Ref struct {
	Table Table
	ID    string
}

// NewWorld is a world in which nothing has happened yet.
func NewWorld() *World {
	return &World{People: map[string]*Person{}, Models: map[string]*Model{},
		Procedures: map[string]*Procedure{}, InForce: map[string]string{},
		Products: map[string]*Product{}, Lots: map[string]*Lot{},
		Containers: map[string]*Container{}, Labels: map[string]*Label{},
		Kits: map[string]*Kit{}, Pieces: map[string]*Piece{}, Cycles: map[string]*Cycle{},
		Loans: map[string]*Loan{}, Secrets: map[string]string{},
		Phones: map[string]*EnrolledPhone{}, Daybooks: map[string]*Daybook{},
		Wants: map[string]*Want{}, Findings: map[string]*Finding{}, Samples: map[string]*Sample{},
		Legal: map[string]*LegalHold{}, Documents: map[string]*Document{},
		LookBacks: map[string]*FrozenLookBack{},
		touched:   map[Ref]bool{}}
}

// Get gives the entity of a row as its pointer (or string), nil when it is not there.
func (w *World) Get(r Ref) any {
	switch r.Table {
	case TableSettings:
		return &w.Settings
	case TablePerson:
		return orNil(w.People[r.ID])
	case TableModel:
		return orNil(w.Models[r.ID])
	case TableProcedure:
		return orNil(w.Procedures[r.ID])
	case TableProduct:
		return orNil(w.Products[r.ID])
	case TableLot:
		return orNil(w.Lots[r.ID])
	case TableContainer:
		return orNil(w.Containers[r.ID])
	case TableLabel:
		return orNil(w.Labels[r.ID])
	case TableKit:
		return orNil(w.Kits[r.ID])
	case TablePiece:
		return orNil(w.Pieces[r.ID])
	case TableCycle:
		return orNil(w.Cycles[r.ID])
	case TableLoan:
		return orNil(w.Loans[r.ID])
	case TablePhone:
		return orNil(w.Phones[r.ID])
	case TableDaybook:
		return orNil(w.Daybooks[r.ID])
	case TableWant:
		return orNil(w.Wants[r.ID])
	case TableFinding:
		return orNil(w.Findings[r.ID])
	case TableLegalHold:
		return orNil(w.Legal[r.ID])
	case TableDocument:
		return orNil(w.Documents[r.ID])
	case TableLookBack:
		return orNil(w.LookBacks[r.ID])
	case TableSample:
		return orNil(w.Samples[r.ID])
	}
	return w.text(r)
}

func (w *World) text(r Ref) any {
	m := map[Table]map[string]string{TableInForce: w.InForce, TableSecretMAC: w.Secrets}
	if s, ok := m[r.Table][r.ID]; ok {
		return s
	}
	return nil
}

func orNil[T any](p *T) any {
	if p == nil {
		return nil
	}
	return p
}

// touch marks a row as changed.
func (w *World) touch(t Table, id string) { w.touched[Ref{t, id}] = true }

// Touched lists and forgets the rows changed since the last call, in no order.
func (w *World) Touched() []Ref {
	var refs []Ref
	for r := range w.touched {
		refs = append(refs, r)
	}
	w.touched = map[Ref]bool{}
	return refs
}
