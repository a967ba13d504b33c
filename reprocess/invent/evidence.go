package invent

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"image/color"
	"image/png"
	"math"
	"time"

	"handback/reprocess"
)

// Files keeps what the invented tests and pictures consist of.
type Files interface {
	// Test keeps a judged test recording and its strip, and gives the hash of the strip.
	Test(content []byte, j reprocess.JudgedTest, device string, at reprocess.Instant) (string, error)
	// Picture re-encodes a picture, keeps it, and gives its hash and length.
	Picture(content []byte) (sha256 string, bytes int64, err error)
}

func hash(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}

// filed is when, in days before the demo opens, the files of one model begin to be read here;
// learnt is when its beat height was taken from a device that is known to be good.
const (
	filed  = 14
	learnt = 12
)

// exports lets the files of one model be asked for from now on.
func (s *sim) exports() {
	if s.o.Files != nil {
		m := *s.model(modelB)
		m.Export, m.NeedEvent = true, true
		s.do(s.who(sunniva), false, reprocess.SetModel{Model: m})
	}
}

// learnHeight takes the beat height of the exporting model from a released device.
func (s *sim) learnHeight() {
	if kit := s.released(modelB); s.o.Files != nil && kit != "" {
		s.do(s.who(theo), true, reprocess.LearnHeight{Kit: kit, Piece: s.w.Kits[kit].Pieces[0],
			Test: *s.judged(kit, 0), Reason: "new, checked at the workshop last week"})
	}
}

// released is a released kit of a model, or none.
func (s *sim) released(model string) string {
	for _, id := range s.inState(reprocess.Released) {
		if s.modelOf(id) == model {
			return id
		}
	}
	return ""
}

// modelOf is the model of a kit's recorder.
func (s *sim) modelOf(kit string) string {
	return s.w.Models[s.w.Pieces[s.w.Kits[kit].Pieces[0]].Model].Name
}

// cellAtOut is the box of a cell that is fitted at the counter: the one of the zinc-air model,
// whose tab is pulled when it leaves.
func (s *sim) cellAtOut(kit string) string {
	if s.modelOf(kit) == modelB {
		return s.air
	}
	return ""
}

// benchTest records the function test of a kit whose model exports its files.
func (p pass) benchTest(mains float64) {
	p.s.do(p.by, false, reprocess.RecordStep{Kit: p.kit.ID, Pieces: p.at(reprocess.StepFunction),
		Step: reprocess.StepFunction, Answers: answers("memory", "yes"),
		Test: p.s.judged(p.kit.ID, mains)})
}

// evidence leaves what the function test leads to, each once: a kit that waits for the technician
// after two repeats, one that was accepted not as written, pictures, and a longer loan.
func (s *sim) evidence() {
	if s.o.Files == nil {
		return
	}
	if p, ok := s.toTest(); ok {
		for range 3 { // the first try and two repeats
			s.about(3 * time.Minute)
			p.benchTest(hum)
		}
	}
	if p, ok := s.toTest(); ok {
		s.about(3 * time.Minute)
		p.benchTest(hum)
		s.about(5 * time.Minute)
		s.do(s.who(ines), true, reprocess.Override{Kit: p.kit.ID, Piece: p.kit.Pieces[0],
			Step:   reprocess.StepFunction,
			Reason: "hum of the workbench lamp, seen on every device today; the signal is usable"})
	}
	s.pictures()
	s.longer()
}

// toTest takes a kit of the exporting model back and brings it to its function test.
func (s *sim) toTest() (pass, bool) {
	for _, id := range s.out() {
		if s.modelOf(id) != modelB || len(s.out()) < 4 {
			continue
		}
		s.about(3 * time.Minute)
		s.takeBack(id)
		p := pass{s: s, kit: s.w.Kits[id], by: s.who(ada), stop: reprocess.StepFunction, plain: true}
		p.steps()
		return p, p.next() == reprocess.StepFunction
	}
	return pass{}, false
}

// testNext leaves a kit whose recorder is to be tested now, with a file: its pack was opened, so
// it went through the bench again within the last half hour.
func (s *sim) testNext() {
	if kit := s.released(modelB); s.o.Files != nil && kit != "" {
		s.do(s.who(ada), false, reprocess.BreakRelease{Kit: kit, Why: "opened"})
		pass{s: s, kit: s.w.Kits[kit], by: s.who(ada), stop: reprocess.StepFunction, plain: true}.steps()
	}
}

// pictures shows a damage on one kit and a display on another.
func (s *sim) pictures() {
	for i, about := range []string{"scratch beside the door of the cell", "display after the test"} {
		kits := s.inState(reprocess.InReprocessing, reprocess.Quarantined)
		if i >= len(kits) {
			return
		}
		sha, size, err := s.o.Files.Picture(drawn(i == 0))
		if err != nil && s.err == nil {
			s.err = err
		}
		s.about(time.Minute)
		s.do(s.who(ada), false, reprocess.AddPicture{Kit: kits[i], Piece: s.w.Kits[kits[i]].Pieces[0],
			SHA256: sha, Bytes: size, About: about})
	}
}

// drawn draws an invented housing from above: with a scratch, or with a lit display.
func drawn(scratch bool) []byte {
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	for y := range 480 {
		for x := range 640 {
			shade := uint8(205 - y/12)
			c := color.RGBA{shade, shade, shade - 8, 255} // the bench
			if x > 110 && x < 530 && y > 90 && y < 390 {
				c = color.RGBA{70, 78, 84, 255} // the housing
			}
			if x > 170 && x < 330 && y > 150 && y < 250 {
				c = color.RGBA{26, 32, 30, 255} // its display
				if !scratch && y > 160 && y < 240 && math.Abs(float64(y)-200+30*trace(float64(x-170)/160)) < 3 {
					c = color.RGBA{190, 230, 200, 255}
				}
			}
			if line := 120 + (x-360)/2; scratch && x > 360 && x < 500 && (y-line)*(y-line) < 5 {
				c = color.RGBA{214, 214, 206, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	_ = png.Encode(&b, img) // a buffer takes everything
	return b.Bytes()
}

// trace is one beat over a width of 1.
func trace(x float64) float64 {
	return math.Exp(-(x-0.5)*(x-0.5)/0.0006) - 0.3*math.Exp(-(x-0.56)*(x-0.56)/0.001)
}

// longer extends one loan, so that its plan is a new one, and gives two kits a slip.
func (s *sim) longer() {
	out := s.out()
	if len(out) == 0 {
		return
	}
	k := s.w.Kits[out[len(out)-1]]
	s.about(2 * time.Minute)
	s.do(s.who(dario), false, reprocess.Extend{Kit: k.ID, Days: s.w.Loans[k.Loan].Days + 7})
	for _, id := range []string{k.ID, s.released(modelA)} {
		if id != "" {
			s.about(time.Minute)
			s.do(s.who(ada), false, reprocess.Reissue{Kit: id, Kind: reprocess.CodeSlip, Target: id,
				Code: s.o.Code(), Reason: "slip"})
		}
	}
}
