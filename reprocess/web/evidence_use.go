package web

import (
	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
	"handback/reprocess/picture"
	"handback/reprocess/recording"
)

// takeTest takes a file as an ordinary form sends it, without script.
func takeTest(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	id, pair, err := x.wholeUpload()
	if err == nil {
		_, err = x.testOptions(v.Field)
	}
	if err == nil {
		return v.Went(x.testURL(id, func(name string) string {
			if name == "pair" {
				return pair
			}
			return v.Field(name)
		}), "")
	}
	page, drawn := x.testPage(func(name string) string {
		if name == "draft" || name == "pair" {
			return ""
		}
		return v.Field(name)
	})
	if drawn != nil {
		return drawn
	}
	return v.Refuse(err, page)
}

// wholeUpload makes a draft of the file of a form, or of the two files of one recording.
func (x *view) wholeUpload() (draft, pair string, err error) {
	files, err := x.v.Files("file") // the names are the sender's and may hold a person's
	if err != nil {
		return "", "", err
	}
	if len(files) == 0 || len(files[0]) == 0 {
		return "", "", &reprocess.Problem{Code: reprocess.Invalid, Rule: "file",
			Text: "No file was chosen.", Fix: "Choose the test recording and send again."}
	}
	if draft, err = x.draftOf(files[0]); err == nil && len(files) == 2 {
		pair, err = x.draftOf(files[1])
	}
	return draft, pair, err
}

// draftOf makes a draft of the bytes of one file.
func (x *view) draftOf(content []byte) (string, error) {
	s, ctx := x.v.Store(), x.v.Context()
	d, err := s.NewDraft(ctx, x.k.ID, x.v.Person.ID, int64(len(content)), "")
	for at := 0; err == nil && at < len(content); {
		piece := content[at:min(at+mostPiece, len(content))]
		d, err = s.AddPiece(ctx, x.k.ID, d.ID, int64(at), piece)
		at += len(piece)
	}
	return d.ID, err
}

// testStrip draws the strip of an upload.
func testStrip(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	o, err := x.testOptions(v.Query)
	if err != nil {
		return err
	}
	j, err := x.judgeDraft(v.Query("draft"), v.Query("pair"), o)
	if err != nil {
		return err
	}
	strip, err := x.strip(j)
	if err != nil {
		return err
	}
	return v.Image("image/png", strip)
}

// strip draws the beginning at true scale. Its text holds the kit's number, never a name.
func (x *view) strip(j judgedDraft) ([]byte, error) {
	if j.Recording == nil {
		return nil, notFound("strip")
	}
	return recording.StripPNG(j.Recording, j.Lead, recording.StripText{Device: "kit " + x.k.Number,
		Date: reprocess.Clock(j.draft.At, x.v.Now.Zone), SHA256: j.draft.SHA256})
}

// useTest records the step by an uploaded file, judged once more here.
func useTest(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	e, err := x.useDraft()
	if err == nil {
		return v.Went(kitURL(x.k.ID), saidOf(e))
	}
	return x.refuseTest(err)
}

// refuseTest shows the page of the file again; without the file the page to upload it.
func (x *view) refuseTest(err error) error {
	page, drawn := x.testPage(x.v.Field)
	if drawn != nil && page == nil {
		return drawn
	}
	return x.v.Refuse(err, page)
}

func (x *view) useDraft() (*reprocess.Entry, error) {
	o, err := x.testOptions(x.v.Field)
	if err != nil {
		return nil, err
	}
	j, err := x.judgeDraft(x.v.Field("draft"), x.v.Field("pair"), o)
	if err != nil {
		return nil, err
	}
	t, err := x.recorderOf()
	if err != nil {
		return nil, err
	}
	if err := x.notUsedElsewhere(j.hashes(), t); err != nil {
		return nil, err
	}
	if err := x.keepTest(&j); err != nil {
		return nil, err
	}
	cmd := reprocess.RecordStep{Kit: x.k.ID, Pieces: []string{t.Piece.ID}, Step: reprocess.StepFunction,
		Answers: answered("memory", x.v.Field("memory")), Test: &j.Test,
		Instrument: x.v.Field("instrument")}
	return x.v.Do(cmd)
}

func answered(ask, value string) []reprocess.Answer {
	if value == "" {
		return nil
	}
	return []reprocess.Answer{{Ask: ask, Value: value}}
}

// notUsedElsewhere refuses a file that already was the evidence of another cycle: a recording
// of another day or device proves nothing about this one.
func (x *view) notUsedElsewhere(hashes []string, t reprocess.Track) error {
	for _, sha := range hashes {
		cycle, err := x.v.Store().CycleOfTest(x.v.Context(), sha)
		if err != nil {
			return err
		}
		if cycle != "" && (t.Cycle == nil || t.Cycle.ID != cycle) {
			return usedBefore()
		}
	}
	return nil
}

func usedBefore() error {
	return &reprocess.Problem{Code: reprocess.Refused, Rule: "test_used",
		Text: "This very file was the test of another reprocessing before.",
		Fix:  "Make a new test recording with this device and upload that."}
}

// keepTest stores file and strip before the entry names them. What could not be read is not
// kept, for nobody knows what it holds; its hash is.
func (x *view) keepTest(j *judgedDraft) error {
	if err := x.keepRecording(j); err != nil || j.Recording == nil {
		return err
	}
	strip, err := x.strip(*j)
	if err != nil {
		return nil // there is a file, and no picture of it
	}
	j.Test.Strip, err = x.v.Store().KeepFile(strip)
	return err
}

// keepRecording stores the file, or the two of it.
func (x *view) keepRecording(j *judgedDraft) error {
	if j.Recording == nil {
		return nil
	}
	for _, content := range [][]byte{j.content, j.signal} {
		if content == nil {
			continue
		}
		if _, err := x.v.Store().KeepFile(content); err != nil {
			return err
		}
	}
	return nil
}

// learnHeight takes the height of this file as the model's, signed.
func learnHeight(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	if err := x.learnHeight(); err != nil {
		return x.refuseTest(err)
	}
	return v.Went(x.testURL(v.Field("draft"), v.Field), "The beat height of this model is learnt.")
}

func (x *view) learnHeight() error {
	o, err := x.testOptions(x.v.Field)
	if err != nil {
		return err
	}
	o.HeightUV = 0 // judged by the profile's bounds, not by what is to be replaced
	j, err := x.judgeDraft(x.v.Field("draft"), x.v.Field("pair"), o)
	if err != nil {
		return err
	}
	t, err := x.recorderOf()
	if err != nil {
		return err
	}
	actor, err := x.v.Sign()
	if err != nil {
		return err
	}
	if err := x.keepRecording(&j); err != nil {
		return err
	}
	_, err = x.v.DoAs(reprocess.LearnHeight{Kit: x.k.ID, Piece: t.Piece.ID, Test: j.Test,
		Reason: x.v.Field("reason")}, actor)
	return err
}

// photoForm asks what a person saw, beside the picture of it.
func (x *view) photoForm() *photoForm {
	file := pictureField()
	file.Label = "Photo of the trace"
	return &photoForm{File: file, Source: namedAsk("worn_by"), Signal: namedAsk("signal"),
		Memory: memoryChoices()}
}

// namedAsk is a question of the table as a form asks it.
func namedAsk(id string) Choices {
	ask, _ := reprocess.FindAsk(id)
	c := Choices{Name: id, Legend: ask.Words, Required: true}
	for _, o := range ask.Choices {
		c.Options = append(c.Options, Choice{Value: o.Value, Words: o.Words, Note: effectWords(o.Effect)})
	}
	return c
}

// takePhoto records the step with a photo of the trace as its evidence.
func takePhoto(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	e, err := x.usePhoto()
	if err == nil {
		return v.Went(kitURL(x.k.ID), saidOf(e))
	}
	page, drawn := x.testPage(func(string) string { return "" })
	if drawn != nil {
		return drawn
	}
	if page.Photo != nil {
		page.Photo.Source = page.Photo.Source.Pick(v.Field("worn_by"))
		page.Photo.Signal = page.Photo.Signal.Pick(v.Field("signal"))
		page.Photo.Memory = page.Photo.Memory.Pick(v.Field("memory"))
	}
	return v.Refuse(err, page)
}

func (x *view) usePhoto() (*reprocess.Entry, error) {
	t, err := x.recorderOf()
	if err != nil {
		return nil, err
	}
	sha, size, err := x.v.keepPicture()
	if err != nil {
		return nil, err
	}
	var answers []reprocess.Answer
	for _, id := range []string{"worn_by", "signal", "memory"} {
		answers = append(answers, answered(id, x.v.Field(id))...)
	}
	return x.v.Do(reprocess.RecordStep{Kit: x.k.ID, Pieces: []string{t.Piece.ID},
		Step: reprocess.StepFunction, Answers: answers, Instrument: x.v.Field("instrument"),
		Test: &reprocess.Test{Kind: reprocess.TestPhoto, SHA256: sha, Bytes: size}})
}

// Image sends a picture that the server made or re-encoded itself.
func (v *Visit) Image(kind string, content []byte) error {
	v.c.Set(fiber.HeaderContentType, kind)
	return v.c.Send(content)
}

// keepPicture re-encodes the picture of the form, so that neither place nor name travels in
// it, and keeps it under its hash.
func (v *Visit) keepPicture() (sha string, size int64, err error) {
	raw, _, err := v.File("file")
	if err != nil {
		return "", 0, err
	}
	clean, err := picture.Clean(raw)
	if err != nil {
		return "", 0, &reprocess.Problem{Code: reprocess.Invalid, Rule: "picture", Err: err,
			Text: sentence(err.Error()), Fix: "Take it again as a JPEG or PNG."}
	}
	sha, err = v.Store().KeepFile(clean)
	return sha, int64(len(clean)), err
}
