package labels

import (
	"fmt"
	"strconv"
	"time"
)

// Form is a size of label.
type Form string

// The three forms.
const (
	Wide     Form = "wide"     // 38.1 x 21.2 mm, symbol at the left
	Upright  Form = "upright"  // 20.5 x 38 mm, symbol on top
	Smallest Form = "smallest" // 20.5 x 30 mm, symbol and code only
)

// Forms lists them, largest first.
func Forms() []Form { return []Form{Wide, Upright, Smallest} }

// Size gives width and height of a form, zero for an unknown one.
func (f Form) Size() (Millimetres, Millimetres) {
	switch f {
	case Wide:
		return 38.1, 21.2
	case Upright:
		return 20.5, 38
	case Smallest:
		return 20.5, 30
	}
	return 0, 0
}

// Box is the side of the square for the symbol and its quiet zone, the same on all forms.
const Box Millimetres = 18.5

// Style says how labels are printed.
type Style struct {
	Base        Base  // from the configuration
	Form        Form  // empty: Wide
	Level       Level // empty: LevelM
	DPI         DPI   // of the printer, so that modules have whole dots; 0: not known
	AcceptSmall bool  // the person insists on modules under MinModule
}

func (s Style) level() Level {
	if s.Level == "" {
		return LevelM
	}
	return s.Level
}

func (s Style) form() Form {
	if s.Form == "" {
		return Wide
	}
	return s.Form
}

// Fit says how large the modules of this style's labels are, before any is printed. It
// refuses as printing does, but a small module is only marked.
func (s Style) Fit() (Fit, error) {
	if s.Base.host == "" {
		return Fit{}, fmt.Errorf("there is no base address for labels: set one first")
	}
	worst := Code("ZZZZZZZZZZZZZZZZZ") // figures take less room than letters
	matrix, err := Matrix(s.Base.Address(worst), s.level())
	if err != nil {
		return Fit{}, err
	}
	return fitBox(len(matrix), s.level(), Box, s.DPI)
}

// Label is one of DeviceLabel, ContainerLabel, BatchLabel and BlankLabel.
type Label interface {
	code() Code
	lines(g grid) ([]line, []bar)
}

// DeviceLabel is for a recorder or a paired phone. Nothing else may stand on it: no state, no
// date of cleaning, no wearer.
type DeviceLabel struct {
	Code   Code
	Number string // the pool number, as "17"
	Piece  string // "recorder" or "phone"
	Clinic string // a line of the clinic's own, 13 letters at most, as "Ring 555 0100"
}

// ContainerLabel is for a bottle or bath of disinfectant. A zero date leaves a line to write
// on.
type ContainerLabel struct {
	Code          Code
	Opened, UseBy time.Time
}

// BatchLabel is for a dilution that was prepared here. A zero date leaves a line to write on.
type BatchLabel struct {
	Code              Code
	Prepared, Discard time.Time
}

// BlankLabel is bound to a kit or container by scanning. Its number is for finding it on the
// roll and is no pool number: the field for that stays free to write in.
type BlankLabel struct {
	Code   Code
	Number int
}

func (l DeviceLabel) code() Code    { return l.Code }
func (l ContainerLabel) code() Code { return l.Code }
func (l BatchLabel) code() Code     { return l.Code }
func (l BlankLabel) code() Code     { return l.Code }

// line is text in the column that must fit a width.
type line struct {
	word
	max  Millimetres
	what string // for the refusal, as "pool number"
}

// grid is where things stand on a form, in millimetres from its top left. Rows are baselines.
type grid struct {
	box       bar
	left      Millimetres // of the text column, which is column wide
	number    Millimetres // pool number; 0: no such row
	date      Millimetres // opened
	rule      Millimetres // top of the rule
	code      [3]Millimetres
	foot      Millimetres // the clinic's line
	useBy     Millimetres
	withDates bool
}

const (
	column   Millimetres = 17.1
	wordGap  Millimetres = 0.8 // between words of different height
	overDate Millimetres = 2.2 // from the baseline of a date up to that of its word
	ruleHigh Millimetres = 0.3
	barHigh  Millimetres = 1.2
	capBig   Millimetres = 2.6
	capCode  Millimetres = 2.0
	capSmall Millimetres = 1.5
	capLeast Millimetres = 1.2 // for the piece beside a long number
	capTiny  Millimetres = 1.1 // the words over the dates
)

// gridOf gives the places on a form; a container's differ, for it has a bar on top and dates.
func gridOf(f Form, container bool) (grid, error) {
	switch {
	case f == Wide && container:
		return grid{box: bar{1.0, 1.6, Box, Box}, left: 19.5, date: 5.5, rule: 6.3,
			code: [3]Millimetres{9.4, 12.4, 15.4}, useBy: 20.4, withDates: true}, nil
	case f == Wide:
		return grid{box: bar{1.0, 1.35, Box, Box}, left: 19.5, number: 5.1, rule: 6.3,
			code: [3]Millimetres{9.6, 13.0, 16.4}, foot: 19.4}, nil
	case f == Upright && container:
		return grid{box: bar{1.0, 1.6, Box, Box}, left: 1.7, date: 23.4, rule: 24.2,
			code: [3]Millimetres{27.0, 29.8, 32.6}, useBy: 37.2, withDates: true}, nil
	case f == Upright:
		return grid{box: bar{1.0, 0.8, Box, Box}, left: 1.7, number: 22.8, rule: 24.0,
			code: [3]Millimetres{27.3, 30.7, 34.1}, foot: 37.1}, nil
	case f == Smallest && container:
		return grid{box: bar{1.0, 1.6, Box, Box}, left: 1.7,
			code: [3]Millimetres{22.7, 25.7, 28.7}}, nil
	case f == Smallest:
		return grid{box: bar{1.0, 0.8, Box, Box}, left: 1.7,
			code: [3]Millimetres{22.3, 25.7, 29.1}}, nil
	}
	return grid{}, fmt.Errorf("the label form %q is not known: use wide, upright or smallest", f)
}

// drawLabel sets a label. Whatever does not fit is refused in a sentence and never cut off.
func drawLabel(l Label, s Style) (drawing, error) {
	if !l.code().Valid() {
		return drawing{}, fmt.Errorf("%q is no code: its check letter does not fit", l.code())
	}
	if s.Base.host == "" {
		return drawing{}, fmt.Errorf("there is no base address for labels: set one first")
	}
	g, err := gridOf(s.form(), dated(l))
	if err != nil {
		return drawing{}, err
	}
	d := drawing{title: l.code().Groups()}
	d.width, d.height = s.form().Size()
	if d.symbol, err = placeSymbol(s.Base.Address(l.code()), g.box, s); err != nil {
		return drawing{}, err
	}
	lines, bars := l.lines(g)
	d.bars = bars
	for _, line := range append(lines, codeLines(l.code(), g)...) {
		wide, err := mono.width(line.text, line.cap)
		if err != nil {
			return drawing{}, err
		}
		if wide > line.max+tolerance {
			return drawing{}, fmt.Errorf("the %s %q is %s wide and the label has room for %s: "+
				"shorten it", line.what, line.text, wide, line.max)
		}
		d.words = append(d.words, line.word)
	}
	return d, nil
}

// dated tells whether a label has a bar on top and two dates.
func dated(l Label) bool {
	switch l.(type) {
	case ContainerLabel, BatchLabel:
		return true
	}
	return false
}

// codeLines is the code for the eye: two rows of two groups, and "then H".
func codeLines(c Code, g grid) []line {
	at := func(i int, text string) line {
		return line{word{g.left, g.code[i], capCode, text}, column, "code"}
	}
	then := line{word{g.left, g.code[2], capSmall, "then"}, column, "code"}
	last := at(2, string(c[16:]))
	last.x += widthOf("then", capSmall) + wordGap
	return []line{at(0, string(c[:4]+" "+c[4:8])), at(1, string(c[8:12]+" "+c[12:16])), then, last}
}

// widthOf is for words of ours, which the face has.
func widthOf(text string, capHeight Millimetres) Millimetres {
	wide, err := mono.width(text, capHeight)
	if err != nil {
		panic(err)
	}
	return wide
}

// lines sets number, piece and the clinic's line where the form has rows for them.
func (l DeviceLabel) lines(g grid) ([]line, []bar) {
	var all []line
	if g.number > 0 {
		all = append(all, numberLines(l.Number, l.Piece, g)...)
	}
	if g.foot > 0 && l.Clinic != "" {
		all = append(all, line{word{g.left, g.foot, capSmall, l.Clinic}, column, "clinic's line"})
	}
	return all, g.rules()
}

// numberLines sets the pool number large and the piece small after it. A long number first
// makes the piece smaller, then itself.
func numberLines(number, piece string, g grid) []line {
	caps := [][2]Millimetres{{capBig, capSmall}, {capBig, capLeast}, {capCode, capLeast}}
	var all []line
	for _, c := range caps {
		big, err := mono.width(number, c[0])
		small, err2 := mono.width(piece, c[1])
		room := column - small - wordGap
		all = []line{{word{g.left, g.number, c[0], number}, room, "pool number"},
			{word{g.left + big + wordGap, g.number, c[1], piece}, column, "piece"}}
		if err != nil || err2 != nil || big <= room {
			break
		}
	}
	return all
}

func (g grid) rules() []bar {
	if g.rule == 0 {
		return nil
	}
	return []bar{{g.left, g.rule, column, ruleHigh}}
}

// lines sets the bar and the two dates.
func (l ContainerLabel) lines(g grid) ([]line, []bar) {
	return datedLines(g, "opened", l.Opened, "use by", l.UseBy)
}

// lines sets the bar and the two dates.
func (l BatchLabel) lines(g grid) ([]line, []bar) {
	return datedLines(g, "prepared", l.Prepared, "discard at", l.Discard)
}

func datedLines(g grid, one string, first time.Time, two string, last time.Time) ([]line, []bar) {
	across := column + 2*(g.left-g.box.x)
	if g.left > Box {
		across = g.left + column - g.box.x
	}
	bars := append(g.rules(), bar{g.box.x, g.box.y - barHigh, across, barHigh})
	if !g.withDates {
		return nil, bars
	}
	var all []line
	set := func(text string, day time.Time, baseline Millimetres) {
		all = append(all, line{word{g.left, baseline - overDate, capTiny, text}, column, "word"})
		switch {
		case day.IsZero() && baseline < g.rule: // the rule is the line to write on
			return
		case day.IsZero():
			bars = append(bars, bar{g.left, baseline, column, ruleHigh / 2})
			return
		}
		all = append(all, line{word{g.left, baseline, capSmall, day.Format("2 Jan 2006")},
			column, "date"})
	}
	set(one, first, g.date)
	set(two, last, g.useBy)
	return all, bars
}

// lines sets the number small and with "no.", so that nobody takes it for a part of the
// code: at the foot, or beside the check letter on the smallest form.
func (l BlankLabel) lines(g grid) ([]line, []bar) {
	text := "no. " + strconv.Itoa(l.Number)
	place, room := word{g.left, g.foot, capSmall, text}, column
	if g.foot == 0 {
		room = column - widthOf("then", capSmall) - widthOf("H", capCode) - 2*wordGap
		place = word{g.left + column - widthOf(text, capLeast), g.code[2], capLeast, text}
	}
	return []line{{place, room, "number"}}, g.rules()
}
