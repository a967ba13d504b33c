package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image/png"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const recordingDir = "../../testdata/recordings/"

// The keys of the answer and of its measures, exactly.
var (
	recordingKeys = []string{"format", "lead", "sample_rate_hz", "seconds", "analysed_seconds",
		"records_header", "records_found", "remarks", "events", "measures", "codes", "also_seen",
		"verdict"}
	measureKeys = []string{"beats", "rate_per_minute", "height_mv", "noise_uv",
		"noise_residual_uv", "mains50_uv", "mains60_uv", "stands_out", "baseline_mv",
		"flat_seconds", "jumps", "cut_off_percent", "upright_percent", "gap_seconds"}
)

// recorded runs the command on a file and checks what holds for every answer.
func recorded(t *testing.T, args ...string) (got, measures map[string]any) {
	t.Helper()
	got = answer(t, append(append([]string{"recording"}, args...), "--json")...)
	requireKeys(t, got, recordingKeys...)
	measures = got["measures"].(map[string]any)
	requireKeys(t, measures, measureKeys...)
	for _, list := range []string{"remarks", "events", "codes", "also_seen"} {
		require.NotNil(t, got[list], "arrays are never null")
	}
	return got, measures
}

func TestRecordingCommand(t *testing.T) {
	got, m := recorded(t, recordingDir+"edf/good_c.edf", "--rate", "60", "--need-event")
	require.Equal(t, "EDF+C", got["format"])
	require.Equal(t, "ECG II", got["lead"])
	require.Equal(t, 250.0, got["sample_rate_hz"])
	require.Equal(t, 30.0, got["seconds"])
	require.Equal(t, 30.0, got["analysed_seconds"])
	require.Equal(t, 30.0, got["records_header"])
	require.Equal(t, 30.0, got["records_found"])
	require.Equal(t, []any{}, got["remarks"])
	require.Equal(t, []any{map[string]any{"at_seconds": 12.345, "sample_seconds": 12.345,
		"duration_seconds": 0.5, "text": "Event button"}}, got["events"])
	require.Equal(t, []any{}, got["codes"])
	require.Equal(t, "pass", got["verdict"])
	require.Equal(t, 30.0, m["beats"])
	require.InDelta(t, 1.187, m["height_mv"], 1e-3)
}

// The verdicts of the set, through the command; what each file is, its README says.
func TestRecordingVerdicts(t *testing.T) {
	for file, want := range map[string]string{"plain.edf": "pass", "good.bdf": "pass",
		"nrec_minus1.edf": "remark", "trunc_last.edf": "fail", "dig_equal.edf": "not_judged",
		"dur_zero.edf": "not_judged", "phys_inverted.edf": "remark", "disc_gap5.edf": "fail"} {
		got, _ := recorded(t, recordingDir+"edf/"+file)
		require.Equal(t, want, got["verdict"], file)
	}
	got, m := recorded(t, recordingDir+"edf/dur_zero.edf")
	for _, key := range []string{"sample_rate_hz", "seconds", "analysed_seconds"} {
		require.Nil(t, got[key])
	}
	for key := range maps.Keys(m) {
		require.Nil(t, m[key], key)
	}
	got, _ = recorded(t, recordingDir+"edf/plain.edf", "--need-event")
	require.Equal(t, []any{"NO_EVENT"}, got["codes"])
	got, _ = recorded(t, recordingDir+"edf/good_c.edf", "--rate", "70", "--height", "2")
	require.Equal(t, []any{"GAIN", "RATE"}, got["codes"])
	got, _ = recorded(t, recordingDir+"edf/phys_inverted.edf")
	require.Equal(t, "UPSIDE_DOWN: The beats point down.", got["remarks"].([]any)[1])
}

// WFDB by its header; its signal file is looked for beside it.
func TestRecordingWFDB(t *testing.T) {
	got, m := recorded(t, recordingDir+"ecg208_60s.hea", "--profile", "volunteer")
	require.Equal(t, "WFDB", got["format"])
	require.Nil(t, got["records_header"])
	require.Nil(t, got["records_found"])
	require.Equal(t, []any{"BASELINE"}, got["codes"])
	require.InDelta(t, 109, m["beats"], 2)
	dir := t.TempDir()
	head := filepath.Join(dir, "r.hea")
	require.NoError(t, os.WriteFile(head, []byte("r 1 250\n../r.dat 16\n"), 0o600))
	requireRefused(t, "not a plain name", "recording", head)
	require.NoError(t, os.WriteFile(head, []byte("r 1 250\nr.dat 16\n"), 0o600))
	requireRefused(t, "missing beside the header", "recording", head)
	require.NoError(t, os.Mkdir(filepath.Join(dir, "r.dat"), 0o700))
	requireRefused(t, "missing beside the header", "recording", head)
}

// A table asks for its unit and rate by naming the flags.
func TestRecordingCSV(t *testing.T) {
	var b strings.Builder
	for i := range 250 * 40 {
		at := math.Mod(float64(i)/250, 1) - 0.5
		fmt.Fprintf(&b, "%.5f\n", math.Exp(-at*at/(2*0.012*0.012)))
	}
	file := filepath.Join(t.TempDir(), "x.csv")
	require.NoError(t, os.WriteFile(file, []byte(b.String()), 0o600))
	requireRefused(t, "add --csv-rate", "recording", file)
	requireRefused(t, "add --csv-unit", "recording", file, "--csv-rate", "250")
	got, m := recorded(t, file, "--csv-rate", "250", "--csv-unit", "mV", "--rate", "60")
	require.Equal(t, "CSV", got["format"])
	require.Equal(t, "signal 1", got["lead"])
	require.Equal(t, 40.0, m["beats"])
	require.Equal(t, "pass", got["verdict"])
	got, m = recorded(t, file, "--csv-rate", "250", "--csv-unit", "counts")
	require.Equal(t, "not_judged", got["verdict"])
	require.Nil(t, m["height_mv"])
}

// A person's name never reaches an output: not the answer, not the plain text, not the strip.
func TestRecordingShowsNoName(t *testing.T) {
	raw, err := os.ReadFile(recordingDir + "edf/latin1.edf")
	require.NoError(t, err)
	require.Contains(t, string(raw[:88]), "ller_Zo", "the test's own premise")
	strip := filepath.Join(t.TempDir(), "s.png")
	got, _ := recorded(t, recordingDir+"edf/latin1.edf", "--strip", strip)
	require.Equal(t, []any{"NAME_INSIDE"}, got["codes"])
	require.Equal(t, "ECG Ableitung ä", got["lead"])
	_, js, _ := call("recording", recordingDir+"edf/latin1.edf", "--json")
	_, plain, _ := call("recording", recordingDir+"edf/latin1.edf")
	picture, err := os.ReadFile(strip)
	require.NoError(t, err)
	for _, out := range []string{js, plain} {
		require.NotContains(t, strings.ToLower(out), "ller")
		require.NotContains(t, strings.ToLower(out), "zo")
	}
	for _, chunk := range []string{"tEXt", "zTXt", "iTXt", "eXIf"} {
		require.NotContains(t, string(picture), chunk)
	}
	require.Contains(t, plain, "not for diagnosis")
}

// The strip is a PNG of true size, written whole.
func TestRecordingStrip(t *testing.T) {
	dir := t.TempDir()
	strip := filepath.Join(dir, "out.png")
	code, out, _ := call("recording", "--strip", strip, recordingDir+"edf/good_c.edf")
	require.Zero(t, code)
	require.True(t, strings.HasPrefix(out, "pass\n"), out)
	b, err := os.ReadFile(strip)
	require.NoError(t, err)
	c, err := png.DecodeConfig(bytes.NewReader(b))
	require.NoError(t, err)
	require.Equal(t, []int{2160, 640}, []int{c.Width, c.Height})
	require.Equal(t, "pHYs", string(b[37:41]))
	require.Equal(t, uint32(8000), binary.BigEndian.Uint32(b[41:]))
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, left, 1, "no half-written file stays")
	code, out, errs := call("recording", recordingDir+"edf/good_c.edf", "--strip",
		filepath.Join(dir, "no", "such", "s.png"))
	require.Equal(t, exitDifference, code, "a failed export")
	require.Empty(t, out)
	require.Contains(t, errs, "the strip cannot be written")
	got, _ := recorded(t, recordingDir+"edf/dur_zero.edf", "--strip", strip)
	require.Equal(t, "not_judged", got["verdict"], "the answer stands without its picture")
	require.Contains(t, got["remarks"].([]any)[1], "There is no picture: no strip can be drawn")
	again, err := os.ReadFile(strip)
	require.NoError(t, err)
	require.Equal(t, b, again, "the old picture stays as it was")
}

func TestRecordingRefuses(t *testing.T) {
	good := recordingDir + "edf/good_c.edf"
	requireRefused(t, "name the file", "recording")
	requireRefused(t, "cannot be found", "recording", "no such file.edf")
	requireRefused(t, "not a file", "recording", recordingDir)
	requireRefused(t, "one argument too many", "recording", good, good)
	requireRefused(t, "no profile", "recording", good, "--profile", "other")
	requireRefused(t, "above 0", "recording", good, "--rate", "-1")
	requireRefused(t, "above 0", "recording", good, "--height", "NaN")
	requireRefused(t, "above 0", "recording", good, "--csv-rate", "0")
	requireRefused(t, "counts from 1", "recording", good, "--lead", "0")
	requireRefused(t, "there is no signal 9", "recording", good, "--lead", "9")
	requireRefused(t, "holds the event marks", "recording", good, "--lead", "2")
	requireRefused(t, "invalid value", "recording", good, "--rate", "fast")
	for _, f := range []string{"ns_huge", "ns_negative", "spr_negative", "empty_records", "html"} {
		requireRefused(t, "export", "recording", recordingDir+"edf/"+f+".edf", "--json")
	}
	big := filepath.Join(t.TempDir(), "big.edf")
	require.NoError(t, os.WriteFile(big, nil, 0o600))
	requireRefused(t, "the file is empty", "recording", big)
	require.NoError(t, os.Truncate(big, 64<<20+1))
	requireRefused(t, "longer than 64 MiB", "recording", big)
}

// Codes come in the fixed order whatever is wrong.
func TestRecordingCodeOrder(t *testing.T) {
	got, _ := recorded(t, recordingDir+"edf/trunc_last.edf", "--rate", "70", "--height", "3")
	require.Equal(t, []any{"CUT_SHORT", "GAIN", "RATE"}, got["codes"])
	require.Equal(t, []any{"TOO_SHORT"}, got["also_seen"])
	require.True(t, slices.ContainsFunc(got["remarks"].([]any), func(s any) bool {
		return strings.Contains(s.(string), "497 of 620 bytes")
	}))
}
