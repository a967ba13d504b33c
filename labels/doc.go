// Package labels makes what is printed and reads what is scanned: the code of a label with
// its check letter, the address in the QR symbol, single labels, sheets, rolls and the slip
// that goes into the bag.
//
// It knows no clock, no file and no other package of this program. The same input gives the
// same bytes. Every length is in Millimetres on paper, measured from the top left corner.
// Errors are one sentence that says what is wrong and what to do.
package labels

import (
	"math"
	"strconv"
)

// Millimetres is a length on paper.
type Millimetres float64

// DPI is a printer's whole dots per inch. Zero means not known.
type DPI int

// pointsPerMM is the size of a millimetre in PDF points (72 to the inch of 25.4 mm).
const pointsPerMM = 72 / 25.4

// Dot is the pitch of one dot. A "203 dpi" head is built with exactly 8 dots a millimetre.
func (d DPI) Dot() Millimetres {
	if d == 203 {
		return 0.125
	}
	return Millimetres(25.4 / float64(d))
}

// String writes a length with at most three decimals and its unit, as in "18.5 mm".
func (m Millimetres) String() string {
	rounded := math.Round(float64(m)*1000) / 1000
	return strconv.FormatFloat(rounded, 'f', -1, 64) + " mm"
}
