package reprocess

import "fmt"

// State is where a piece stands. The zero value is no state at all and never valid.
type State uint8

// The states of a piece; the texts are what the database and exports hold.
const (
	_ State = iota
	Registered
	Returned
	InReprocessing
	AwaitingRelease
	Released
	Issued
	Quarantined
	Embargoed
	Recalled
	OutForRepair
	Missing
	Retired
)

var stateTexts = [...]string{Registered: "registered", Returned: "returned",
	InReprocessing: "in reprocessing", AwaitingRelease: "awaiting release",
	Released: "released", Issued: "issued", Quarantined: "quarantined",
	Embargoed: "embargoed", Recalled: "recalled", OutForRepair: "out for repair",
	Missing: "missing", Retired: "retired"}

// States lists every state once.
func States() []State {
	var all []State
	for s := Registered; s <= Retired; s++ {
		all = append(all, s)
	}
	return all
}

// String is the standard term; a state outside the list says so and never passes for one.
func (s State) String() string {
	if s < Registered || s > Retired {
		return fmt.Sprintf("no state (%d)", uint8(s))
	}
	return stateTexts[s]
}

// ParseState reads the standard term; unknown text is an error, never a zero.
func ParseState(text string) (State, error) {
	for s := Registered; s <= Retired; s++ {
		if stateTexts[s] == text {
			return s, nil
		}
	}
	return 0, fmt.Errorf("%q is not a state of a piece", text)
}

// MarshalText and UnmarshalText keep states readable in entries.
func (s State) MarshalText() ([]byte, error) {
	if s < Registered || s > Retired {
		return nil, fmt.Errorf("%s", s)
	}
	return []byte(stateTexts[s]), nil
}

// UnmarshalText reads what MarshalText wrote.
func (s *State) UnmarshalText(b []byte) error {
	v, err := ParseState(string(b))
	if err == nil {
		*s = v
	}
	return err
}
