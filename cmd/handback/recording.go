package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"

	"handback/reprocess/recording"
)

func recordingCommand() command {
	return command{
		name: "recording",
		usage: "FILE [--profile bench|volunteer] [--rate 60] [--height MV] [--lead N] " +
			"[--csv-unit mV|uV|V|counts --csv-rate 250] [--need-event] [--strip out.png]",
		about: "read and judge a test recording (bench check, not for diagnosis)",
		run:   runRecording,
	}
}

// recordingAnswer is what recording prints. null: not judged, or the format has no such thing.
type recordingAnswer struct {
	Format        recording.Format   `json:"format"`
	Lead          string             `json:"lead"`
	SampleRate    *float64           `json:"sample_rate_hz"`
	Seconds       *float64           `json:"seconds"`
	Analysed      *float64           `json:"analysed_seconds"`
	RecordsHeader *int               `json:"records_header"`
	RecordsFound  *int               `json:"records_found"`
	Remarks       []string           `json:"remarks"`
	Events        []recording.Event  `json:"events"`
	Measures      recording.Measures `json:"measures"`
	Codes         []recording.Code   `json:"codes"`
	AlsoSeen      []recording.Code   `json:"also_seen"`
	Verdict       recording.Verdict  `json:"verdict"`
}

// recordingFlags are the flags as typed.
type recordingFlags struct {
	profile, unit, strip  string
	rate, height, csvRate float64
	lead                  int
	event, json           bool
}

func runRecording(_ context.Context, args []string, s streams) error {
	var v recordingFlags
	f := newFlags("recording")
	f.StringVar(&v.profile, "profile", "bench", "bench or volunteer")
	f.Float64Var(&v.rate, "rate", 0, "the rate the source is set to, per minute")
	f.Float64Var(&v.height, "height", 0, "the expected beat height in mV")
	f.IntVar(&v.lead, "lead", 0, "the signal to judge, from 1")
	f.StringVar(&v.unit, "csv-unit", "", "the unit of a CSV without one")
	f.Float64Var(&v.csvRate, "csv-rate", 0, "the sampling rate of a CSV without times, in Hz")
	f.BoolVar(&v.event, "need-event", false, "an event mark must be in it")
	f.StringVar(&v.strip, "strip", "", "write the strip as a PNG to this file")
	f.BoolVar(&v.json, "json", false, "one JSON object")
	rest, err := f.parse(args, 1)
	if err != nil {
		return err
	}
	if len(rest) == 0 {
		return errors.New("recording: name the file to read, such as 'handback recording test.edf'")
	}
	profile, err := v.check(f)
	if err != nil {
		return err
	}
	return v.judge(rest[0], profile, s)
}

// check refuses figures that make no sense and finds the profile.
func (v *recordingFlags) check(f *flags) (recording.Profile, error) {
	for name, x := range map[string]float64{"rate": v.rate, "height": v.height,
		"csv-rate": v.csvRate} {
		if f.given(name) && !(x > 0 && x <= math.MaxInt32) {
			return recording.Profile{}, fmt.Errorf("recording: --%s must be a number above 0", name)
		}
	}
	if f.given("lead") && v.lead < 1 {
		return recording.Profile{}, errors.New("recording: --lead counts from 1")
	}
	if f.given("csv-unit") && v.unit == "" || f.given("strip") && v.strip == "" {
		return recording.Profile{}, errors.New("recording: --csv-unit and --strip need a value")
	}
	if !slices.Contains([]string{"", "mV", "uV", "V", "counts"}, v.unit) {
		return recording.Profile{}, fmt.Errorf("recording: %q is no unit of --csv-unit; "+
			"choose mV, uV, V or counts", v.unit)
	}
	for _, p := range recording.Profiles() {
		if p.Name == v.profile {
			return p, nil
		}
	}
	return recording.Profile{}, fmt.Errorf("recording: there is no profile %q; "+
		"choose bench or volunteer", v.profile)
}

// judge reads, measures, judges, writes the strip and only then prints.
func (v *recordingFlags) judge(path string, p recording.Profile, s streams) error {
	data, err := readRecordingFile(path)
	if err != nil {
		return err
	}
	rec, err := recording.Read(path, data, recording.Options{CSVUnit: v.unit,
		CSVRate: v.csvRate, Sibling: beside(path)})
	if err != nil {
		return err
	}
	lead, err := rec.Lead(v.lead)
	if err != nil {
		return err
	}
	want := recording.Expect{Rate: v.rate, Height: recording.Millivolts(v.height), Event: v.event}
	res := recording.Measure(rec, lead)
	j := recording.Judge(res, p, want)
	if v.strip != "" {
		pic, err := drawStrip(rec, lead, data)
		if err != nil {
			res.Remarks = append(res.Remarks, "There is no picture: "+err.Error()+".")
		} else if err := writeWhole(v.strip, pic); err != nil {
			return failure{errors.New("the strip cannot be written; check the folder given " +
				"with --strip")}
		}
	}
	if v.json {
		return printJSON(s.out, answerOf(rec, res, j, want))
	}
	return printText(s.out, string(j.Verdict), recordingLines(rec, res, j, want)...)
}

// readRecordingFile reads a file that is no longer than recordings may be. The error names no
// path: a file's name may carry a person's.
func readRecordingFile(path string) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, errors.New("the file cannot be found; check its name and folder")
	case !info.Mode().IsRegular():
		return nil, errors.New("this is a folder or a device, not a file; name the recording")
	case info.Size() > recording.MaxBytes:
		return nil, fmt.Errorf("the file is longer than %d MiB; export a recording of a minute "+
			"or two instead of the whole memory", recording.MaxBytes>>20)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, errors.New("the file cannot be opened; check who may read it")
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, recording.MaxBytes+1))
	if err != nil {
		return nil, errors.New("the file cannot be read to its end; copy it again")
	}
	return data, nil
}

// beside opens signal files in the folder of a WFDB header, by plain base name only.
func beside(path string) func(string) ([]byte, error) {
	return func(base string) ([]byte, error) {
		if filepath.Base(base) != base {
			return nil, errors.New("not a plain name")
		}
		return readRecordingFile(filepath.Join(filepath.Dir(path), base))
	}
}

// drawStrip draws the picture of the beginning, with the file's hash on it.
func drawStrip(rec *recording.Recording, lead int, data []byte) ([]byte, error) {
	sum := sha256.Sum256(data)
	return recording.StripPNG(rec, lead, recording.StripText{SHA256: hex.EncodeToString(sum[:])})
}

// writeWhole writes a file under another name first: a failed write leaves the old one as it was.
func writeWhole(path string, data []byte) error {
	tmp, err := os.CreateTemp(filepath.Dir(path), ".strip-*")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name()) // a no-op once renamed
	_, err = tmp.Write(data)
	if err = errors.Join(err, tmp.Chmod(0o644), tmp.Close()); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}

// answerOf joins what was read, measured and judged; figures that were only noted become
// remarks, their code in front.
func answerOf(rec *recording.Recording, res recording.Result, j recording.Judgement,
	want recording.Expect) recordingAnswer {
	a := recordingAnswer{Format: rec.Format, Lead: res.Lead, SampleRate: res.SampleRate,
		Seconds: res.Seconds, Analysed: res.Analysed, RecordsHeader: rec.RecordsHeader,
		RecordsFound: rec.RecordsFound, Remarks: res.Remarks, Events: rec.Events,
		Measures: res.Measures, Codes: j.Codes, AlsoSeen: j.AlsoSeen, Verdict: j.Verdict}
	for _, c := range j.Noted {
		a.Remarks = append(a.Remarks, string(c)+": "+recording.Explain(c, res, want).Says)
	}
	if a.Events == nil {
		a.Events = []recording.Event{}
	}
	return a
}

// recordingLines is the answer for people.
func recordingLines(rec *recording.Recording, res recording.Result, j recording.Judgement,
	want recording.Expect) []string {
	lines := []string{"Bench check of equipment, not for diagnosis.",
		fmt.Sprintf("%s, lead %s, profile %s.", rec.Format, res.Lead, j.Profile)}
	if res.Seconds != nil && res.Analysed != nil {
		part := "all of it was looked at"
		if *res.Analysed < *res.Seconds {
			part = fmt.Sprintf("the first %.1f s were looked at", *res.Analysed)
		}
		lines = append(lines, fmt.Sprintf("%.1f s at %.6g Hz, %s.", *res.Seconds,
			*res.SampleRate, part))
	}
	for _, c := range j.Codes {
		a := recording.Explain(c, res, want)
		lines = append(lines, fmt.Sprintf("%s %s (%s)", a.Says, a.Do, c))
	}
	for _, c := range j.AlsoSeen {
		lines = append(lines, fmt.Sprintf("Also seen: %s (%s)",
			recording.Explain(c, res, want).Says, c))
	}
	return append(lines, answerOf(rec, res, j, want).Remarks...)
}
