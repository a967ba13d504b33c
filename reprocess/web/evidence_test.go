package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// benchCSV is a made-up bench source: 60 beats a minute of height mv on a still line, as a
// CSV of 250 values a second, with so much 50 Hz hum (peak to peak, mV).
func benchCSV(seconds int, mv, hum float64) []byte {
	var b bytes.Buffer
	b.WriteString("time_s,ECG_mV\n")
	for i := 0; i < seconds*250; i++ {
		v := beat(float64(i%250)-125, mv)
		// 50 Hz at 250 Hz repeats every five samples.
		v += hum / 2 * []float64{0, 0.951, 0.588, -0.588, -0.951}[i%5]
		fmt.Fprintf(&b, "%.3f,%.4f\n", float64(i)/250, v)
	}
	return b.Bytes()
}

// beat is a triangle of 60 ms and a small wave after it, so that the line is not dead.
func beat(at, mv float64) float64 {
	switch {
	case at > -8 && at < 8:
		return mv * (1 - max(at, -at)/8)
	case at > 50 && at < 90:
		return 0.1 * (1 - max(at-70, 70-at)/20)
	}
	return 0
}

// sendFile posts a form with a file, as a browser without script does.
func (b *browser) sendFile(path, field string, content []byte, pairs ...string) {
	b.site.t.Helper()
	token, key := b.hidden()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for i, p := 0, append([]string{"token", token, "key", key}, pairs...); i+1 < len(p); i += 2 {
		require.NoError(b.site.t, w.WriteField(p[i], p[i+1]))
	}
	part, err := w.CreateFormFile(field, "Doe^Jane 1960.edf")
	require.NoError(b.site.t, err)
	_, err = part.Write(content)
	require.NoError(b.site.t, err)
	require.NoError(b.site.t, w.Close())
	req, err := http.NewRequest(http.MethodPost, b.site.url(path), &body)
	require.NoError(b.site.t, err)
	req.Header.Set("Content-Type", w.FormDataContentType())
	b.do(req)
}

// toBattery brings kit 17 to the step where a new cell goes in.
func (c *clinic) toBattery() {
	c.t.Helper()
	ids := []string{c.recorder, c.phone}
	c.step(ids, reprocess.StepReceipt, "condition", "whole", "recording", "arrived", "old_cell", "yes")
	c.step(ids, reprocess.StepCleaning, "clean", "yes", "parts_clean", "yes")
	c.as(c.bench, reprocess.WetNow{Kit: c.kit, Pieces: ids, Container: c.tub})
	c.clock.step(61 * time.Second)
	c.as(c.bench, reprocess.Look{Kit: c.kit, Pieces: ids, Saw: reprocess.RecLooksWet})
	c.step(ids, reprocess.StepDrying, "dry", "yes")
	c.step(ids, reprocess.StepInspection, "sound", "yes")
}

// toTest brings kit 17 to its function test.
func (c *clinic) toTest() {
	c.t.Helper()
	c.toBattery()
	ids := []string{c.recorder, c.phone}
	c.step(ids[:1], reprocess.StepBattery, "cell", c.cells, "latched", "yes")
	c.step(ids[1:], reprocess.StepBattery, "charge", "93")
	c.step(ids, reprocess.StepAssignment, "ended", "yes", "wiped", "yes",
		"app_there", "yes", "lock", "yes", "updates", "yes")
}

// canExport lets the recorder's model export its recordings.
func (c *clinic) canExport() {
	c.t.Helper()
	c.must(reprocess.SetModel{Model: reprocess.Model{ID: c.models[0], Name: "Model recorder",
		Kind: reprocess.Recorder, WearDays: 7, IFU: "booklet", Export: true}})
}

// lastTest is the evidence of the newest record of the recorder's cycle.
func (c *clinic) lastTest() *reprocess.Test {
	c.t.Helper()
	w, err := c.store.KitWorld(c.bench.ctx(), c.kit)
	require.NoError(c.t, err)
	records := w.Cycles[w.Pieces[c.recorder].Cycle].Records
	return records[len(records)-1].Test
}

// upload sends a file and follows to what it says.
func (c *clinic) upload(content []byte, pairs ...string) {
	c.t.Helper()
	b := c.bench
	b.get(c.path("test"))
	require.Equal(c.t, http.StatusOK, b.status, b.body)
	b.sendFile(c.path("test"), "file", content, append([]string{"source", "bench"}, pairs...)...)
	if b.status == http.StatusSeeOther {
		b.get(b.header.Get("Location"))
	}
}

func TestAGoodFileIsUploadedJudgedAndRecorded(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	file := benchCSV(60, 1.2, 0.01)
	c.upload(file)
	require.Equal(t, http.StatusOK, c.bench.status, c.bench.body)
	require.Contains(t, c.bench.body, "<h1>Usable signal")
	require.Contains(t, c.bench.body, "Beat height")
	strip := textBetween(t, c.bench.body, `<img src="`, `"`)
	page := c.bench.body
	c.bench.get(strings.ReplaceAll(strip, "&amp;", "&"))
	require.Equal(t, "image/png", c.bench.header.Get("Content-Type"))
	require.Equal(t, "nosniff", c.bench.header.Get("X-Content-Type-Options"))
	img, err := png.Decode(strings.NewReader(c.bench.body))
	require.NoError(t, err)
	require.Equal(t, 2160, img.Bounds().Dx(), "25 mm/s at 8 px/mm, design of the strip")
	c.bench.body = page
	c.bench.tap("Use this test", "memory", "yes")
	require.Contains(t, c.bench.body, "Recorded: Test recording usable")
	test := c.lastTest()
	require.Equal(t, reprocess.TestFile, test.Kind)
	sum := sha256.Sum256(file)
	require.Equal(t, hex.EncodeToString(sum[:]), test.SHA256)
	kept, err := c.store.KeptFile(test.SHA256)
	require.NoError(t, err)
	require.Equal(t, file, kept)
	c.bench.get(c.path("picture", test.Strip))
	require.Equal(t, "image/png", c.bench.header.Get("Content-Type"))
	c.bench.get(c.path("picture", test.SHA256))
	require.Equal(t, http.StatusNotFound, c.bench.status, "a recording is never sent as a picture")
	// Later, the timeline still says what was judged, by which limits, and every figure.
	c.bench.get(c.path("history"))
	for _, says := range []string{"What the test says", "Judged from the uploaded recording. CSV, lead ECG. " +
		"Judged as bench source, limits bench-1. SHA-256 of the file: " + test.SHA256, "Beat height",
		"1.205\u00a0mV", "from 0.5 to 5\u00a0mV"} {
		require.Contains(t, c.bench.body, says)
	}
}

// A test without a file says in the timeline which kind of evidence it has, and its reference.
func TestTheTimelineSaysWhichEvidenceThereIs(t *testing.T) {
	c := newClinic(t)
	c.toTest()
	c.as(c.bench, reprocess.RecordStep{Kit: c.kit, Pieces: []string{c.recorder},
		Step: reprocess.StepFunction, Answers: []reprocess.Answer{{Ask: "worn_by", Value: "bench"},
			{Ask: "signal", Value: "usable"}, {Ask: "reference", Value: "RP-20417"},
			{Ask: "memory", Value: "yes"}}})
	c.bench.get(c.path("history"))
	require.Contains(t, c.bench.body, "Seen at the reading place. Reference: RP-20417.")
	require.NotContains(t, c.bench.body, "Figures and limits")
}

func textBetween(t testing.TB, text, from, to string) string {
	t.Helper()
	_, rest, ok := strings.Cut(text, from)
	require.True(t, ok, "%q is not on the page", from)
	found, _, _ := strings.Cut(rest, to)
	return found
}

// A bad file says what to do first; called usable it is refused; the third failure by the
// same code waits for the technician (first try and two repeats, function-test reference 4.3).
func TestABadFileThreeTimesWaitsForTheTechnician(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	for n := 0; n < 3; n++ {
		c.upload(benchCSV(60, 1.2, 0.2+float64(n)/100))
		require.Contains(t, c.bench.body, "<h1>No usable signal")
		require.Contains(t, c.bench.body, "Mains hum of")
		require.Contains(t, c.bench.body, "Move away from chargers")
		c.bench.tap("Record it: no usable signal", "memory", "yes")
		require.Equal(t, http.StatusOK, c.bench.status, c.bench.body)
		require.Equal(t, []string{"MAINS"}, c.lastTest().Codes)
		c.clock.step(time.Minute)
	}
	require.Contains(t, c.bench.body, "On hold now")
	w, err := c.store.KitWorld(c.bench.ctx(), c.kit)
	require.NoError(t, err)
	h := w.Pieces[c.recorder].Held(reprocess.GradeTechnician)
	require.NotNil(t, h)
	require.Regexp(t, `^mains hum, 50 Hz [0-9]+ µV, at most 100 µV \(MAINS\)$`, h.Note)
}

// Hostile and odd files never become a fault: a sentence, and at most a recorded failure.
func TestHostileFilesAtTheStep(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	for name, content := range map[string][]byte{
		"random":  bytes.Repeat([]byte{0xde, 0xad, 0xbe, 0xef}, 5000),
		"nothing": {}, "one byte": {0}, "html": []byte("<script>alert(1)</script>"),
	} {
		c.upload(content)
		require.Less(t, c.bench.status, 500, name)
		require.NotContains(t, c.bench.body, "<script>alert", name)
		require.NotContains(t, c.bench.body, "<h1>Usable", name)
	}
	c.bench.get(c.path("test") + "?draft=../../secrets/pepper")
	require.Equal(t, http.StatusNotFound, c.bench.status)
	c.bench.get(c.path("test") + "?draft=x&source=dog")
	require.Equal(t, http.StatusNotFound, c.bench.status)
}

// NAME_INSIDE: the file is dropped at once and the name is nowhere, neither on the page nor in
// the folder.
func TestAFileWithANameIsNotKept(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	file := edfWithName(60)
	require.Contains(t, string(file[:256]), "Miller")
	c.upload(file)
	require.Equal(t, http.StatusUnprocessableEntity, c.bench.status, c.bench.body)
	require.Contains(t, c.bench.body, "carries a person’s name")
	require.NotContains(t, c.bench.body, "Miller")
	requireNowhere(t, c.dir, "Miller")
	requireNowhere(t, c.dir, "Doe^Jane") // the name of the file
	require.NotContains(t, c.logged(), "Miller")
}

// The script's way: begin, pieces, what is there; a piece of another kit's upload is unknown.
func TestUploadInPiecesOverTheWire(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	file := benchCSV(120, 1.2, 0.01)
	sum := sha256.Sum256(file)
	b := c.bench
	b.get(c.path("test"))
	form := b.body
	b.post(c.path("test", "draft"), "size", fmt.Sprint(len(file)), "sha256", hex.EncodeToString(sum[:]))
	var s uploadState
	require.NoError(t, json.Unmarshal([]byte(b.body), &s), b.body)
	for !s.Whole {
		b.body = form
		id := s.ID
		b.sendFile(c.path("test", "draft", id), "piece", file[s.Have:min(int(s.Have)+mostPiece, len(file))],
			"at", fmt.Sprint(s.Have))
		require.Equal(t, http.StatusOK, b.status, b.body)
		require.NoError(t, json.Unmarshal([]byte(b.body), &s))
		b.get(c.path("test", "draft", id))
		require.NoError(t, json.Unmarshal([]byte(b.body), &s))
		s.ID = id
	}
	require.Equal(t, int64(len(file)), s.Have)
	b.get(c.path("test") + "?source=bench&draft=" + s.ID)
	require.Contains(t, b.body, "<h1>Usable signal")
	b.body = form
	b.sendFile(c.path("test", "draft", s.ID), "piece", make([]byte, mostPiece+1), "at", "0")
	require.Equal(t, http.StatusBadRequest, b.status, b.body)
	b.get("/kit/K1/test/draft/" + s.ID)
	require.Equal(t, http.StatusNotFound, b.status)
	b.get(c.path("test"))
	require.Contains(t, b.body, "Look at the recording uploaded at", "the other device finds it")
}

// Where a model can export, "usable" needs the file; where it cannot, a photo or the hand does.
func TestEvidenceByModel(t *testing.T) {
	c := newClinic(t)
	c.toTest()
	b := c.bench
	b.get(c.path("test"))
	require.Contains(t, b.body, "a photo of the trace")
	b.sendFile(c.path("test", "photo"), "file", smallPNG(t), "worn_by", "bench", "signal", "usable", "memory", "yes")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, reprocess.TestPhoto, c.lastTest().Kind)
}

func TestUsableWithoutTheFileIsRefused(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	b := c.bench
	b.get(c.path("test"))
	b.post(c.path("step"), "step", "function_test", "piece", c.recorder, "answers",
		"worn_by=bench signal=usable memory=yes")
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "can export its test recording")
}

// Another cycle's file proves nothing about this one, and the same file counts once.
func TestAFileCountsOnce(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	bad := benchCSV(60, 1.2, 0.3)
	for n, status := range []int{http.StatusOK, http.StatusConflict} {
		c.upload(bad)
		c.bench.tap("Record it", "memory", "yes")
		require.Equal(t, status, c.bench.status, "time %d: %s", n, c.bench.body)
		c.clock.step(3 * time.Minute)
	}
	c.must(reprocess.TakeBack{Kit: c.kit})
	c.toTest()
	c.upload(bad)
	c.bench.tap("Record it", "memory", "yes")
	require.Equal(t, http.StatusUnprocessableEntity, c.bench.status)
	require.Contains(t, c.bench.body, "another reprocessing before")
}

// The height is learnt signed, by a technician or supervisor, and then judged against.
func TestTheHeightOfAModelIsLearntSigned(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	c.upload(benchCSV(60, 1.2, 0.01))
	require.NotContains(t, c.bench.body, "as the beat height", "not for the bench")
	tech := c.competent("Tess Technician", "tess", reprocess.RoleTechnician)
	c.bench = tech
	c.upload(benchCSV(60, 1.2, 0.01))
	page := tech.body
	tech.tap("Sign it", "reason", "new from the maker", "secret", "wrong")
	require.Equal(t, http.StatusForbidden, tech.status)
	tech.body = page
	tech.tap("Sign it", "reason", "new from the maker", "secret", testSecret)
	require.Contains(t, tech.body, "is learnt")
	w, err := c.store.SetUp(tech.ctx())
	require.NoError(t, err)
	require.InDelta(t, 1200, w.Models[c.models[0]].ExpectedHeightUV, 120)
	c.upload(benchCSV(60, 0.9, 0.01))
	require.Contains(t, tech.body, "<h1>No usable signal")
	require.Contains(t, tech.body, "of this model")
}

func smallPNG(t testing.TB) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 40, 30))
	img.Set(3, 3, color.RGBA{200, 10, 10, 255})
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}

func TestAPictureIsKeptAndShown(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	b.get(c.path("picture"))
	require.Contains(t, b.body, `capture="environment"`)
	b.sendFile(c.path("picture"), "file", []byte("no picture"), "piece", c.recorder, "about", "crack")
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, "JPEG and PNG are")
	b.sendFile(c.path("picture"), "file", smallPNG(t), "piece", c.recorder, "about", "")
	require.Equal(t, http.StatusBadRequest, b.status)
	b.get(c.path("picture"))
	b.sendFile(c.path("picture"), "file", smallPNG(t), "piece", c.recorder, "about", "crack beside the door")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(b.header.Get("Location"))
	require.Contains(t, b.body, "crack beside the door")
	src := textBetween(t, b.body, `<img src="`, `"`)
	b.get(src)
	require.Equal(t, "image/jpeg", b.header.Get("Content-Type"))
}

// A number and its unit are never parted by the end of a line, and a remark's limit stands apart
// from the one that fails.
func TestFiguresReadOnANarrowScreen(t *testing.T) {
	rows := limitRows([]reprocess.Measured{
		{Words: "mains hum, 50 Hz", Value: "143", Unit: "µV", Limit: "at most 100 µV, remarked above 50 µV"},
		{Words: "rate", Value: "60.0", Unit: "/min", Limit: "within 2 % of 60 /min"},
		{Words: "beats", Limit: "at least 20"}})
	require.Equal(t, limitRow{What: "Mains hum, 50 Hz", Found: "143\u00a0µV", Limit: "at most 100\u00a0µV",
		Remarked: "remarked above 50\u00a0µV"}, rows[0])
	require.Equal(t, limitRow{What: "Rate", Found: "60.0\u00a0/min", Limit: "within 2\u00a0% of 60\u00a0/min"},
		rows[1])
	require.Equal(t, limitRow{What: "Beats", Found: "not judged", Limit: "at least 20"}, rows[2])
}
