package reprocess

// Procedure is one version of what a model needs. A version never changes once approved;
// records name procedure and version, so an old verdict can be derived again.
type Procedure struct {
	ID           string    `json:"id"`
	Version      int       `json:"version"`
	Name         string    `json:"name"`
	Model        string    `json:"model"`
	Steps        []StepRow `json:"steps"`                  // in the order of the table of steps
	Needed       []string  `json:"needed"`                 // claims demanded of every return; BAC, YEA by default
	FloorS       int       `json:"floor_s"`                // shortest contact time, s
	MinStrength  string    `json:"min_strength,omitempty"` // such as "70%v/v"
	MaxStrength  string    `json:"max_strength,omitempty"`
	MaxGapMin    int       `json:"max_gap_min,omitempty"`   // longest gap between steps, min; 0: none
	TwoPeople    bool      `json:"two_people,omitempty"`    // the releaser may not have wiped
	PaperRelease bool      `json:"paper_release,omitempty"` // a contact time from paper may count
	ReleaseDays  int       `json:"release_days,omitempty"`  // a release lapses after; 0: never
	CellAtOut    bool      `json:"cell_at_out,omitempty"`   // a new cell may be fitted at the counter
	PairScan     bool      `json:"pair_scan,omitempty"`     // both labels are scanned before packing
	IFU          string    `json:"ifu,omitempty"`
	Approved     string    `json:"approved"` // person id
	ApprovedAt   Instant   `json:"approved_at"`
	ApprovedBy   string    `json:"approved_name"`
}

// StepRow is one step as a procedure wants it.
type StepRow struct {
	Step     StepID   `json:"step"`
	Asks     []string `json:"asks,omitempty"`
	MinS     int      `json:"min_s,omitempty"`    // shortest plausible time, s
	Override bool     `json:"override,omitempty"` // may be accepted as not written
}

// Ref names one version in entries: "id@3".
func (p *Procedure) Ref() string { return procedureRef(p.ID, p.Version) }

// Row finds the row of a step, or nil when the procedure does not want it.
func (p *Procedure) Row(s StepID) *StepRow {
	for i := range p.Steps {
		if p.Steps[i].Step == s {
			return &p.Steps[i]
		}
	}
	return nil
}
