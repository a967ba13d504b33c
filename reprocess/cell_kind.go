package reprocess

import (
	"strings"

	"handback/reprocess/wear"
)

// commonCells are what people write on a box beside the designation of IEC 60086 (values from
// a public table of battery names, encyc.org and garfnet.org.uk). A common name says the size
// and not the chemistry, so it never stands for a designation; it only explains a refusal.
var commonCells = map[string]string{"LR03": "alkaline AAA", "LR6": "alkaline AA",
	"FR03": "lithium AAA", "FR6": "lithium AA", "HR03": "rechargeable AAA", "HR6": "rechargeable AA",
	"LR44": "alkaline button", "SR44": "silver button", "PR44": "zinc-air 675"}

// cellKind compares the designation on the box with the one the model states. The size decides
// whether it fits and the first letter what it is made of: both have to be the same.
func (m *Model) cellKind(l *Lot) *Problem {
	if m == nil || m.Cell == "" || sameCell(m.Cell, l.Name) {
		return nil
	}
	fix := "Take a box of " + cellWords(m.Cell) + "."
	if _, err := wear.CellOf(plainCell(l.Name)); err != nil {
		return refuse("cell_kind", fix+" If it is one, have the designation of the box corrected.",
			"This recorder takes %s; the box is recorded as %q, which is no designation.",
			cellWords(m.Cell), l.Name)
	}
	return refuse("cell_kind", fix, "This recorder takes %s; this box holds %s.",
		cellWords(m.Cell), cellWords(plainCell(l.Name)))
}

func sameCell(a, b string) bool { return plainCell(a) == plainCell(b) }

// plainCell is a designation without the blanks and in the case that people vary.
func plainCell(s string) string {
	s = strings.Join(strings.Fields(s), "")
	if strings.EqualFold(s, "Li-ion") {
		return "Li-ion"
	}
	return strings.ToUpper(s)
}

// cellWords is a designation with its common name.
func cellWords(designation string) string {
	if name := commonCells[designation]; name != "" {
		return designation + " (" + name + ")"
	}
	return designation
}

// SwallowCaution tells whether this model runs on flat round cells, the ones that children
// swallow.
func (m *Model) SwallowCaution() bool {
	if m == nil || m.Cell == "" {
		return false
	}
	cell, err := wear.CellOf(m.Cell)
	return err == nil && cell.SwallowCaution()
}
