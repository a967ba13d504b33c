package labels

import (
	"fmt"
	"time"
)

// The words of a slip, for whoever prints one: the file and the page say the same.
const (
	SlipHead      = "In this bag"
	SlipBringBack = "Bring everything back by"
	SlipNotProof  = "This paper is not proof. Scan the recorder."
)

// SlipChanges is one thing that the wearer changes, with the days for it.
type SlipChanges struct {
	Heading string
	Days    []time.Time
}

// Changes lists what is changed while it is worn, without what is not changed at all.
func (s Slip) Changes() []SlipChanges {
	var all []SlipChanges
	for _, c := range []SlipChanges{{"Change the electrodes on", s.Electrodes},
		{"Change the battery on", s.Battery}} {
		if len(c.Days) > 0 {
			all = append(all, c)
		}
	}
	return all
}

// Caution is the caution about small round cells, one sentence a line; nil without such cells.
func (s Slip) Caution() []string {
	if !s.CoinCells {
		return nil
	}
	return []string{coinCells1, coinCells2}
}

// ReleasedLine is the line for the clinic: cycle, release and until when it counts.
func (s Slip) ReleasedLine() string {
	line := "Released " + s.Released.Format("2 Jan 2006 15:04")
	if !s.Until.IsZero() {
		line += ", until " + s.Until.Format("2 Jan 2006")
	}
	if s.Cycle != "" {
		line = "Cycle " + s.Cycle + ". " + line
	}
	return line
}

// SlipDay is a day as a slip names it, such as Tue 8 Dec 2026.
func SlipDay(t time.Time) string { return t.Format("Mon 2 Jan 2006") }

// SlipSymbol gives the modules of the slip's code, true for black, without quiet zone. It
// refuses the slip that SlipPDF refuses for what it says, in the same sentence.
func SlipSymbol(s Slip, style Style) ([][]bool, error) {
	if err := s.check(style); err != nil {
		return nil, err
	}
	matrix, err := Matrix(style.Base.Address(s.Code), style.level())
	if err != nil {
		return nil, fmt.Errorf("the slip of kit %s has no symbol: %w", s.Kit, err)
	}
	return matrix, nil
}
