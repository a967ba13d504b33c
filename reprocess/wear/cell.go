package wear

import (
	"fmt"
	"regexp"
	"slices"
)

// Chemistry is the electrochemical system of a cell.
type Chemistry string

// The systems. LithiumCoin stands for both cathodes, CR and BR; Lithium15 for iron disulfide.
const (
	Alkaline    Chemistry = "alkaline"
	Lithium15   Chemistry = "lithium 1.5 V"
	LithiumCoin Chemistry = "lithium coin"
	ZincAir     Chemistry = "zinc-air"
	Silver      Chemistry = "silver oxide"
	LiIon       Chemistry = "Li-ion"
	NiMH        Chemistry = "NiMH"
)

// Cell is one row of the designation table. All figures are typical; 0 means none known.
type Cell struct {
	Designation string
	Common      string
	Chemistry   Chemistry
	NominalMV   Millivolts
	FreshMV     Millivolts // open, new
	EndMV       Millivolts // empty, under its load
	Low, High   int        // typical capacity, mAh
	MinC, MaxC  int        // temperature range, °C
}

// cells is the table after IEC 60086 designations. LR03, CR2032, BR2032 and PR44 after public
// data sheets and articles; LR6, FR6, SR44, LR44, HR03 and Li-ion from memory.
var cells = []Cell{
	{"LR03", "AAA alkaline", Alkaline, 1500, 1600, 800, 900, 1155, -18, 50},
	{"LR6", "AA alkaline", Alkaline, 1500, 1600, 800, 2000, 2800, -18, 50},
	{"FR03", "AAA lithium", Lithium15, 1500, 1700, 900, 1100, 1200, -40, 60},
	{"FR6", "AA lithium", Lithium15, 1500, 1700, 900, 3000, 3000, -40, 60},
	{"CR2032", "coin 20 × 3.2 mm", LithiumCoin, 3000, 3200, 2000, 220, 235, -20, 70},
	{"BR2032", "coin 20 × 3.2 mm", LithiumCoin, 3000, 0, 2250, 190, 190, -30, 85},
	{"PR44", "zinc-air 675", ZincAir, 1400, 1400, 1050, 600, 650, 0, 50},
	{"SR44", "button", Silver, 1550, 1580, 1200, 150, 150, 0, 0},
	{"LR44", "button", Alkaline, 1500, 1550, 1000, 110, 110, 0, 0},
	{"HR03", "AAA rechargeable", NiMH, 1200, 1300, 1000, 700, 1000, 0, 0},
	{"Li-ion", "rechargeable", LiIon, 3600, 4100, 2750, 0, 0, 0, 45},
}

// Cells lists the designation table.
func Cells() []Cell { return slices.Clone(cells) }

// byLetter is the chemistry of the first letter of a round cell's designation (IEC 60086).
var byLetter = map[byte]Chemistry{'L': Alkaline, 'F': Lithium15, 'C': LithiumCoin,
	'B': LithiumCoin, 'P': ZincAir, 'S': Silver, 'H': NiMH}

var roundCell = regexp.MustCompile(`^[LFCBPSH]R[0-9]{1,5}$`)

// lithiumIon is a round Li-ion cell as IEC 61960 names it, such as INR18650.
var lithiumIon = regexp.MustCompile(`^I[CFMN]R[0-9]{3,6}$`)

// CellOf reads a designation as printed on the cell, such as LR03. A designation outside the
// table is still understood by its letters, with no typical figures.
func CellOf(designation string) (Cell, error) {
	for _, c := range cells {
		if c.Designation == designation {
			return c, nil
		}
	}
	if lithiumIon.MatchString(designation) {
		return Cell{Designation: designation, Chemistry: LiIon}, nil
	}
	if !roundCell.MatchString(designation) {
		return Cell{}, fmt.Errorf("%q is not a designation known here; write it as printed on"+
			" the cell, such as LR03, CR2032 or PR44, or Li-ion", designation)
	}
	return Cell{Designation: designation, Chemistry: byLetter[designation[0]]}, nil
}

// SwallowCaution tells whether the kit must carry the caution about swallowed coin cells: all
// flat round cells, of which lithium ones of 20 mm and more harm fastest.
func (c Cell) SwallowCaution() bool {
	switch c.Chemistry {
	case LithiumCoin, ZincAir, Silver:
		return true
	}
	return c.Designation == "LR44"
}
