package labels

import (
	"fmt"

	qrcode "github.com/skip2/go-qrcode"
)

// Level is how much of a QR symbol may be lost (ISO/IEC 18004): L about 7, M 15, Q 25,
// H 30 percent of its codewords, which is much less of its area.
type Level string

// The four levels. M is the default: at a fixed size a higher level means smaller modules.
const (
	LevelL Level = "L"
	LevelM Level = "M"
	LevelQ Level = "Q"
	LevelH Level = "H"
)

const (
	quiet      = 4 // modules of white on every side, ISO/IEC 18004
	maxVersion = 4 // 33 modules: more do not fit a label at a size that phones read
)

// recovery maps the levels; the library calls Q "High" and H "Highest".
var recovery = map[Level]qrcode.RecoveryLevel{
	LevelL: qrcode.Low, LevelM: qrcode.Medium, LevelQ: qrcode.High, LevelH: qrcode.Highest}

// Matrix encodes text as a QR symbol without its quiet zone: rows from the top, true is
// black, side 17 + 4 x version. It fails on an empty text, one that is too long for any
// symbol, and an unknown level.
func Matrix(text string, level Level) ([][]bool, error) {
	strength, ok := recovery[level]
	if !ok {
		return nil, fmt.Errorf("the error correction level %q is not known: "+
			"use L, M, Q or H", level)
	}
	symbol, err := qrcode.New(text, strength)
	if err != nil {
		return nil, fmt.Errorf("no QR symbol can hold this text of %d signs: shorten it", len(text))
	}
	symbol.DisableBorder = true // only works before the first Bitmap
	return symbol.Bitmap(), nil
}

// Version gives the version of a symbol without quiet zone, 1 for 21 modules a side.
func Version(matrix [][]bool) int { return (len(matrix) - 17) / 4 }

// Modules gives the side of a symbol of this version in modules, without quiet zone.
func Modules(version int) int { return 17 + 4*version }

// ModuleIn gives the size of one module when a symbol of so many modules and its quiet zone
// fill a square box of this side.
func ModuleIn(box Millimetres, modules int) Millimetres {
	return box / Millimetres(modules+2*quiet)
}
