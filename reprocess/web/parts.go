package web

import (
	"fmt"
	"strings"

	"handback/reprocess"
)

// State is the state block. Its zero value is "Cannot confirm": unknown is not released.
type State struct {
	Words string   // "Released", "Not released", "Cannot confirm"
	Lines []string // since when and until when; the one reason and whom to ask
	kind  stateKind
}

type stateKind uint8

const (
	unsure stateKind = iota
	held
	released
)

// ReleasedState stands on the line.
func ReleasedState(lines ...string) State { return State{"Released", lines, released} }

// HeldState hangs below the line, with the one reason that matters.
func HeldState(lines ...string) State { return State{"Not released", lines, held} }

// UnsureState breaks the line.
func UnsureState(lines ...string) State { return State{"Cannot confirm", lines, unsure} }

// IsReleased and IsHeld choose the shape; when neither holds the line is broken.
func (s State) IsReleased() bool { return s.kind == released }

// IsHeld tells whether the word hangs below the line.
func (s State) IsHeld() bool { return s.kind == held }

// Field is one labelled field. The hint and the fault stand between label and field.
type Field struct {
	Name, Label, Value string
	Hint, Fault        string
	Kind               string // text, password, number, date, datetime-local, search, file
	Auto               string // autocomplete
	Keys               string // inputmode
	Lines              int    // more than 0: a text of so many lines
	Required           bool
	Many               bool   // of a file: several may be chosen
	Code               bool   // letters of a code, monospaced
	Plain              bool   // no capitals, no spelling
	First              bool   // gets the focus when the page opens, for readers that type
	List               string // id of a datalist that proposes values
	Scan               Scan   // the camera may fill it, on rows with Camera
}

// Scan says what happens when the camera has read a label of ours.
type Scan string

// The ways. None of them records anything that typing the letters would not.
const (
	ScanFills Scan = "fill"  // the letters stand in the field; the person taps the act
	ScanSends Scan = "send"  // and the form is sent: for questions
	ScanAgain Scan = "again" // and the next page opens the camera again, for a pile of kits
)

// TextField is an ordinary field.
func TextField(name, label, value string) Field {
	return Field{Name: name, Label: label, Value: value, Kind: "text", Auto: "off"}
}

// SecretField asks for a secret; auto is current-password or new-password, so that password
// managers know it. A secret is never sent back to the browser.
func SecretField(name, label, auto string) Field {
	return Field{Name: name, Label: label, Kind: "password", Auto: auto, Required: true}
}

// CodeField takes 17 letters from a label.
func CodeField(name, label, value string) Field {
	return Field{Name: name, Label: label, Value: value, Kind: "text", Auto: "off", Code: true}
}

// ID ties label and field; one field of a name on a page.
func (f Field) ID() string { return "f-" + f.Name }

// ShowsValue is false for secrets and files.
func (f Field) ShowsValue() bool { return f.Kind != "password" && f.Kind != "file" }

// DescribedBy lists what explains the field.
func (f Field) DescribedBy() string { return describedBy(f.ID(), f.Hint, f.Fault) }

func describedBy(id, hint, fault string) string {
	var ids []string
	if hint != "" {
		ids = append(ids, id+"-hint")
	}
	if fault != "" {
		ids = append(ids, id+"-fault")
	}
	return strings.Join(ids, " ")
}

// Choices are radio buttons (Many: ticks) as whole lines of at least 48 px.
type Choices struct {
	Name, Legend, Hint, Fault string
	Required                  bool
	Many                      bool
	Options                   []Choice
}

// Choice is one line.
type Choice struct {
	Value, Words, Note string
	Picked             bool
}

// Kind is the type of the inputs.
func (c Choices) Kind() string {
	if c.Many {
		return "checkbox"
	}
	return "radio"
}

// OneRequired tells whether each input says required; among ticks that would mean all.
func (c Choices) OneRequired() bool { return c.Required && !c.Many }

// DescribedBy lists what explains the group.
func (c Choices) DescribedBy() string { return describedBy(c.Name, c.Hint, c.Fault) }

// Pick marks the options with these values.
func (c Choices) Pick(values ...string) Choices {
	options := make([]Choice, len(c.Options))
	for i, o := range c.Options {
		for _, v := range values {
			o.Picked = o.Picked || o.Value == v
		}
		options[i] = o
	}
	c.Options = options
	return c
}

// wetBlocks is the number of blocks that stand for the needed time.
const wetBlocks = 12

// Wet is the contact timer: figures, and one row of blocks for each watched interval.
type Wet struct {
	Name     string // "17 recorder"
	StartMS  int64  // of the running interval by the server, ms UTC
	NeededS  int
	Left     string // minutes and seconds left when the page was drawn, "0:41"
	Done     bool
	WorkedS  int // of the running interval
	Rows     []WetRow
	FootText string // start by server, needed seconds, container
}

// WetRow is one interval.
type WetRow struct {
	Blocks  [wetBlocks]bool // filled: past
	Words   string          // "dry at 0:35"
	Running bool
}

// WetFrom draws what a fold of looks says at a moment.
func WetFrom(name string, w reprocess.Wet, now reprocess.Now, foot string) Wet {
	v := Wet{Name: name, StartMS: int64(w.Start.At), NeededS: w.NeededS, FootText: foot}
	for i, interval := range w.Intervals {
		ms := interval.MS
		running := w.Open && i == len(w.Intervals)-1
		if running {
			ms, _ = reprocess.Elapsed(interval.From,
				reprocess.Mark{At: now.UTC, Boot: now.Boot, Mono: now.Mono})
			v.WorkedS = int(ms / 1000)
			v.Left = minutes(max(0, interval.NeededS-v.WorkedS))
			v.Done = interval.NeededS > 0 && v.WorkedS >= interval.NeededS
		}
		v.Rows = append(v.Rows, wetRow(interval, ms, running))
	}
	return v
}

func wetRow(i reprocess.Interval, ms int64, running bool) WetRow {
	row := WetRow{Running: running}
	for n := range row.Blocks {
		row.Blocks[n] = i.NeededS > 0 && ms*wetBlocks >= int64(n+1)*int64(i.NeededS)*1000
	}
	switch {
	case running:
	case i.DryMS > 0:
		row.Words = "dry at " + minutes(int(i.DryMS/1000))
	default:
		row.Words = "watched for " + minutes(int(ms/1000))
	}
	return row
}

// DoneWords is the sentence that takes the place of the figures.
func (w Wet) DoneWords() string {
	return fmt.Sprintf("Long enough: %s of %s", spoken(max(w.WorkedS, w.NeededS)), spoken(w.NeededS))
}

// Foot is the last line.
func (w Wet) Foot() string { return w.FootText }

// minutes writes seconds as 1:04.
func minutes(s int) string { return fmt.Sprintf("%d:%02d", s/60, s%60) }

// spoken writes seconds as "1 min 04 s", "41 s".
func spoken(s int) string {
	switch {
	case s < 60:
		return fmt.Sprintf("%d s", s)
	case s%60 == 0:
		return fmt.Sprintf("%d min", s/60)
	}
	return fmt.Sprintf("%d min %02d s", s/60, s%60)
}
