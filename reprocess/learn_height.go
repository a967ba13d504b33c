package reprocess

import (
	"strconv"
	"strings"

	"handback/reprocess/recording"
)

// LearnHeight sets the beat height that a model shows on the bench source, from the test
// recording of a device that is known to be good. It is the only way the figure changes.
type LearnHeight struct {
	Kit    string `json:"kit"`
	Piece  string `json:"piece"`
	Test   Test   `json:"test"` // judged without an expected height
	Reason string `json:"reason"`
}

// HeightLearnt says that a model's expected beat height was set.
type HeightLearnt struct {
	Model  string `json:"model"`
	Piece  string `json:"piece"` // the known good device
	UV     int    `json:"uv"`    // µV
	Was    int    `json:"was,omitempty"`
	SHA256 string `json:"sha256"`                  // of the recording
	Signal string `json:"signal_sha256,omitempty"` // of its second file, if it has two
	Reason string `json:"reason"`
}

// EventName is "height_learnt".
func (HeightLearnt) EventName() string { return "height_learnt" }

// ActLearnHeight is a signed act of a technician or a supervisor.
const ActLearnHeight Act = "learn_height"

// Act is "learn_height".
func (LearnHeight) Act() Act { return ActLearnHeight }

// Needs the kit and the piece.
func (l LearnHeight) Needs() Needs { return Needs{Kit: l.Kit, Pieces: []string{l.Piece}} }

// Bounds of an expected height, µV: outside, a source or a scale is wrong. The same as the
// bench profile's without an expected height.
const (
	leastHeightUV = 500
	mostHeightUV  = 5000
)

func (l LearnHeight) decide(c *Case) *Problem {
	pieces, p := c.piecesOf(l.Kit, []string{l.Piece})
	if p != nil {
		return p
	}
	piece := pieces[0]
	m := c.W.Models[piece.Model]
	if m == nil || piece.Kind != Recorder {
		return missing("recorder")
	}
	reason, p := need("Why this device is known to be good", l.Reason, 200)
	if p != nil {
		return p
	}
	if p := l.Test.check(); p != nil {
		return p
	}
	if p := l.good(piece); p != nil {
		return p
	}
	uv, p := l.height()
	if p != nil {
		return p
	}
	e := HeightLearnt{Model: m.ID, Piece: piece.ID, UV: uv, Was: m.ExpectedHeightUV,
		SHA256: l.Test.SHA256, Reason: reason}
	if l.Test.Signal != nil {
		e.Signal = l.Test.Signal.SHA256
	}
	c.emit(e)
	return nil
}

// good refuses to learn from a device on hold, from a person and from a test that failed.
func (l LearnHeight) good(piece *Piece) *Problem {
	if h := piece.Held(GradeHold, GradeInfection, GradeTechnician); h != nil {
		return refuse("not_known_good", "Take a device that is known to be good.",
			"This recorder is on hold: %s.", HoldWords(h.Reason))
	}
	if l.Test.Kind != TestFile || l.Test.Source != "bench" {
		return refuse("not_bench", "Record a test from the bench source.",
			"The height is learnt from a file of the bench source only.")
	}
	if l.Test.Failed() {
		return refuse("test_failed", "Take a device that is known to be good.", "%s", l.Test.Why())
	}
	return nil
}

func (l LearnHeight) height() (int, *Problem) {
	uv, ok := 0, false
	if m := l.Test.Find("height_mv"); m != nil && m.Unit == "mV" {
		uv, ok = microvolts(m.Value)
	}
	if !ok || uv < leastHeightUV || uv > mostHeightUV {
		return 0, refuse("height", "Set the source to 1 mV and record again.",
			"The beat height has to be from 0.5 to 5 mV to be learnt.")
	}
	return uv, nil
}

// microvolts reads millivolts with exactly three places, such as 1.187, as µV.
func microvolts(mv string) (int, bool) {
	whole, part, _ := strings.Cut(mv, ".")
	if whole == "" || len(whole) > 3 || len(part) != 3 || strings.Trim(whole+part, "0123456789") != "" {
		return 0, false
	}
	n, err := strconv.Atoi(whole + part)
	return n, err == nil
}

// ExpectedHeight is the model's learnt beat height, mV; 0 when none was learnt.
func (m *Model) ExpectedHeight() recording.Millivolts {
	return recording.Millivolts(m.ExpectedHeightUV) / 1000
}
