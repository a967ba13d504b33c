package labels

import (
	"fmt"
	"strconv"
	"time"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
)

// Slip is the paper that goes into the bag. It has no field for the wearer's name, and must
// never get one. Its code is one of its own, which the record knows as a
// slip's: it opens the kit and never counts as a scan of the device.
type Slip struct {
	Kit        string      // the pool number, as "17"
	Code       Code        // of the slip, not of the device
	Contents   []Item      // what is in the bag, 6 rows at most
	Electrodes []time.Time // days on which the electrodes are changed
	Battery    []time.Time // days on which the battery is changed
	BringBack  time.Time   // the last day
	AskUs      string      // number and hours of the clinic, as "555 0100, Mon to Fri 8 to 16"
	CoinCells  bool        // print the caution about small round cells
	Cycle      string      // for the clinic, as "17-0042"
	Released   time.Time   // in the clinic's own zone
	Until      time.Time   // the release ends after this day; zero: not by time
}

// Item is one row of the contents.
type Item struct {
	Name  string
	Count int
}

// The caution about coin cells: what every country's advice agrees on (National Capital
// Poison Center guideline; what to swallow or not differs, so nothing is said of it).
const (
	coinCells1 = "Keep the small round cells away from children."
	coinCells2 = "If swallowed, call the emergency number at once. Do not wait."
)

const (
	slipWide, slipHigh Millimetres = 97, 131
	slipBox            Millimetres = Box
	textSize           Millimetres = 11 / pointsPerMM // 11 pt
	headSize           Millimetres = 18 / pointsPerMM
	dateSize           Millimetres = 14 / pointsPerMM
	footSize           Millimetres = 8 / pointsPerMM
	manySize           Millimetres = 10.3 / pointsPerMM // dates, when there are many
	backDown           Millimetres = 7.2                // from a heading down to the last day
	mostItems                      = 6
)

var (
	plainFace = newFace(goregular.TTF)
	boldFace  = newFace(gobold.TTF)
)

// SlipPDF prints slips, four a page, each in a quarter of the paper. The style's form is not
// used. It refuses what does not fit in a sentence.
func SlipPDF(all []Slip, paper Paper, s Style, date time.Time) ([]byte, error) {
	width, height := paper.Size()
	if width == 0 {
		return nil, fmt.Errorf("the paper %q is not known: use A4 or Letter", paper)
	}
	if err := checkCount(len(all)); err != nil {
		return nil, err
	}
	doc := newDocument(date)
	doc.font("plain", goregular.TTF)
	doc.font("bold", gobold.TTF)
	for i, slip := range all {
		if i%4 == 0 {
			doc.page(width, height, Correction{})
			doc.fill(bar{width/2 - 0.05, 0, 0.1, height})
			doc.fill(bar{0, height/2 - 0.05, width, 0.1})
		}
		x := width/2*Millimetres(i%2) + (width/2-slipWide)/2
		y := height/2*Millimetres(i/2%2) + (height/2-slipHigh)/2
		w := &slipWriter{document: doc, x: x, top: y, y: y}
		if err := w.slip(slip, s); err != nil {
			return nil, numbered(err, i, len(all))
		}
	}
	return doc.bytes()
}

// slipWriter goes down a slip and remembers the first thing that did not fit.
type slipWriter struct {
	*document
	x, top, y Millimetres // left edge, top edge, where it is now
	err       error
	pitch     pitch
}

// pitch is how far the lines of a slip stand apart, and how many dates are set large.
type pitch struct {
	row, heading, date, small Millimetres
	large                     int
}

// pitches from the most readable to the one that takes the most rows and dates.
var pitches = []pitch{{row: 7.3, heading: 8.2, date: 6.2, small: 5.2, large: 6},
	{row: 6.4, heading: 6.9, date: 5.8, small: 4.8, large: 6},
	{row: 6.4, heading: 6.9, date: 5.8, small: 4.8}}

// height is where the last line of the middle part stands, from the top of the slip.
func (p pitch) height(s Slip) Millimetres {
	at := slipBox + 1 + p.row*Millimetres(len(s.Contents)) + p.heading + backDown
	for _, days := range [][]time.Time{s.Electrodes, s.Battery} {
		switch n := len(days); {
		case n > p.large:
			at += p.heading + p.small*Millimetres((n+2)/3)
		case n > 0:
			at += p.heading + p.date*Millimetres((n+1)/2)
		}
	}
	return at
}

func (w *slipWriter) slip(s Slip, style Style) error {
	if err := s.check(style); err != nil {
		return err
	}
	for _, w.pitch = range pitches {
		if w.pitch.height(s) <= s.askAt()-5 {
			break
		}
	}
	if w.pitch.height(s) > s.askAt()-5 {
		return fmt.Errorf("the slip of kit %s has no room for so many rows and dates: "+
			"give fewer rows, or a shorter loan", s.Kit)
	}
	if err := w.head(s, style); err != nil {
		return err
	}
	w.contents(s.Contents)
	for _, c := range s.Changes() {
		w.dates(c.Heading, c.Days)
	}
	w.line(w.pitch.heading, textSize, false, SlipBringBack)
	w.line(backDown, headSize, true, SlipDay(s.BringBack))
	w.foot(s)
	return w.err
}

// askAt is the baseline of the line that says whom to ask, above caution and foot.
func (s Slip) askAt() Millimetres {
	if s.CoinCells {
		return 109.7
	}
	return 119.7
}

// check refuses a slip that lacks what the wearer needs.
func (s Slip) check(style Style) error {
	switch {
	case s.Kit == "":
		return fmt.Errorf("the slip has no kit number: give the pool number")
	case !s.Code.Valid():
		return fmt.Errorf("%q is no code: its check letter does not fit", s.Code)
	case style.Base.host == "":
		return fmt.Errorf("there is no base address for labels: set one first")
	case len(s.Contents) < 1 || len(s.Contents) > mostItems:
		return fmt.Errorf("the slip of kit %s has %d rows of contents: give 1 to %d",
			s.Kit, len(s.Contents), mostItems)
	case s.BringBack.IsZero():
		return fmt.Errorf("the slip of kit %s has no day to bring it back: give one", s.Kit)
	case s.AskUs == "":
		return fmt.Errorf("the slip of kit %s does not say whom to ask: give a number", s.Kit)
	case s.Released.IsZero():
		return fmt.Errorf("kit %s is not released: a slip is printed after the release", s.Kit)
	}
	for _, item := range s.Contents {
		if item.Name == "" || item.Count < 1 {
			return fmt.Errorf("the slip of kit %s has a row of contents without a name or a "+
				"count: give both", s.Kit)
		}
	}
	return nil
}

// head is the title and kit number, and the symbol at the right.
func (w *slipWriter) head(s Slip, style Style) error {
	box := bar{slipWide - slipBox, 0, slipBox, slipBox}
	symbol, err := placeSymbol(style.Base.Address(s.Code), box, style)
	if err != nil {
		return err
	}
	symbol.x, symbol.y = symbol.x+w.x, symbol.y+w.top
	w.pdf.RawWriteStr(symbol.pdfPath(w.height))
	room := slipWide - slipBox - 2
	w.y += 6.2
	w.put(0, room, headSize, true, SlipHead)
	w.y += 8.4
	w.put(0, room, headSize, true, "Kit "+s.Kit)
	w.y = w.top + slipBox + 1
	return nil
}

// contents are ruled rows with room to write in what goes out and what comes back.
func (w *slipWriter) contents(items []Item) {
	w.rule(0.3)
	for _, item := range items {
		w.y += w.pitch.row - 1.9
		w.put(0, 38, textSize, false, item.Name)
		w.put(40, 10, textSize, true, strconv.Itoa(item.Count))
		w.put(52, 10, textSize, false, "out")
		w.put(75, 10, textSize, false, "back")
		w.fill(bar{w.x + 59, w.y + 0.4, 12, 0.15})
		w.fill(bar{w.x + 84.5, w.y + 0.4, 12.5, 0.15})
		w.y += 1.9
		w.rule(0.15)
	}
}

// dates are a heading and full dates: two a row, or three and smaller when there are many.
func (w *slipWriter) dates(heading string, days []time.Time) {
	w.line(w.pitch.heading, textSize, false, heading)
	columns, size, pitch := 2, dateSize, w.pitch.date
	if len(days) > w.pitch.large {
		columns, size, pitch = 3, manySize, w.pitch.small
	}
	cell := slipWide / Millimetres(columns)
	for i, day := range days {
		if i%columns == 0 {
			w.y += pitch
		}
		w.put(cell*Millimetres(i%columns), cell-1, size, true, SlipDay(day))
	}
}

// foot stands at the lower edge, whatever is above it.
func (w *slipWriter) foot(s Slip) {
	w.y = w.top + s.askAt()
	w.put(0, 16, textSize, false, "Ask us:")
	w.put(16, slipWide-16, textSize, true, s.AskUs)
	w.y += 2.6
	if s.CoinCells {
		w.rule(0.3)
		for i, line := range s.Caution() {
			w.line(4.0+0.2*Millimetres(i), footSize*1.2, false, line)
		}
		w.y += 1.8
	}
	w.rule(0.3)
	w.y = w.top + 126.2
	w.line(0, footSize, false, s.ReleasedLine())
	w.line(3.8, footSize, true, SlipNotProof)
}

func (w *slipWriter) rule(thick Millimetres) { w.fill(bar{w.x, w.y, slipWide, thick}) }

// line goes down and sets text over the whole width.
func (w *slipWriter) line(down, size Millimetres, bold bool, text string) {
	w.y += down
	w.put(0, slipWide, size, bold, text)
}

// put sets text at a place of the line and notes when it is too wide.
func (w *slipWriter) put(x, room, size Millimetres, bold bool, text string) {
	family, f := "plain", plainFace
	if bold {
		family, f = "bold", boldFace
	}
	capHeight := size * Millimetres(f.cap) / Millimetres(f.perEm)
	wide, err := f.width(text, capHeight)
	if err == nil && wide > room+tolerance {
		err = fmt.Errorf("%q is %s wide and the slip has room for %s: shorten it", text, wide, room)
	}
	if err != nil {
		if w.err == nil {
			w.err = err
		}
		return
	}
	w.write(family, word{w.x + x, w.y, capHeight, text}, f)
}
