package reprocess

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess/recording"
)

// wfdbPair is a WFDB record of one lead: a made-up bench source of 60 beats a minute, one
// minute long, begun at a time of the recorder's clock (layout: wfdb.io/spec).
func wfdbPair(start string) (header, signal []byte) {
	var sum int16
	for i := range 60 * 250 {
		v := 0
		if at := i%250 - 125; at > -8 && at < 8 {
			v = 240 * (8 - max(at, -at)) / 8 // 1.2 mV at 200 a mV
		} else if at > 50 && at < 90 {
			v = 20 * (20 - max(at-70, 70-at)) / 20
		}
		sum += int16(v)
		signal = append(signal, byte(v), byte(v>>8))
	}
	return []byte(fmt.Sprintf("bench 1 250 15000%s\nbench.dat 16 200 12 0 0 %d 0 ECG\n", start, sum)),
		signal
}

func judgePair(t *testing.T, start string, c ClockCheck) JudgedTest {
	t.Helper()
	header, signal := wfdbPair(start)
	j, p := JudgeTest(header, strings.Repeat("a", 64), TestOptions{Source: "bench",
		Signal: signal, SignalSHA: strings.Repeat("b", 64), Clock: c})
	require.Nil(t, p)
	return j
}

// Both files are the evidence; a signal file that is not the header's proves nothing.
func TestARecordingInTwoFilesIsJudgedLikeOneInOne(t *testing.T) {
	j := judgePair(t, "", ClockCheck{})
	require.Equal(t, string(recording.Pass), j.Test.Verdict, "%+v", j.Test)
	require.Equal(t, "WFDB", j.Test.Format)
	require.Equal(t, []string{strings.Repeat("a", 64), strings.Repeat("b", 64)}, j.Test.Hashes())
	require.Equal(t, int64(30000), j.Test.Signal.Bytes)
	require.Nil(t, j.Test.check())

	header, signal := wfdbPair("")
	signal[20000]++
	j, p := JudgeTest(header, strings.Repeat("a", 64), TestOptions{Source: "bench", Signal: signal,
		SignalSHA: strings.Repeat("b", 64)})
	require.Nil(t, p)
	require.Equal(t, []string{"FILE"}, j.Test.Codes)
	require.Contains(t, j.Test.Remarks[0], "export both again, or as EDF")

	two := strings.Replace(string(header), "bench 1", "bench 2", 1) + "other.dat 16 200\n"
	j, p = JudgeTest([]byte(two), strings.Repeat("a", 64), TestOptions{Source: "bench",
		Signal: signal[:0:0], SignalSHA: strings.Repeat("b", 64)})
	require.Nil(t, p)
	require.Equal(t, []string{"FILE"}, j.Test.Codes, "an empty signal file")
}

func TestEvidenceOfTwoFilesHoldsTogether(t *testing.T) {
	for name, spoil := range map[string]func(*Test){
		"same hash":  func(x *Test) { x.Signal.SHA256 = x.SHA256 },
		"no hash":    func(x *Test) { x.Signal.SHA256 = "" },
		"no bytes":   func(x *Test) { x.Signal.Bytes = 0 },
		"of a photo": func(x *Test) { x.Kind, x.Verdict = TestPhoto, "" },
	} {
		x := judgePair(t, "", ClockCheck{}).Test
		require.Nil(t, x.check())
		spoil(&x)
		require.NotNil(t, x.check(), name)
	}
}

// Either file of a pair is used up with the other: a signal under another header is no new test.
func TestTheSignalFileOfAPairCountsOnce(t *testing.T) {
	c := newClinic(t)
	ada := c.toTest(true)
	first := fileTest("a", recording.Fail, "NOISE")
	first.Signal = &TestPart{SHA256: strings.Repeat("b", 64), Bytes: 30000}
	c.do(ada, testStep(first, "memory", "yes"))
	again := fileTest("c", recording.Pass)
	again.Signal = first.Signal
	c.refused("test_used", ada, testStep(again, "memory", "yes"))
	c.refused("test_used", ada, testStep(fileTest("b", recording.Pass), "memory", "yes"))
	c.do(ada, testStep(fileTest("d", recording.Pass), "memory", "yes"))
}

// Tolerance 5 min: common practice, the clinic can set its own. The recording ends a minute
// after its start.
func TestTheRecordersClockIsHeldAgainstTheUpload(t *testing.T) {
	uploaded := InstantOf(time.Date(2026, 11, 24, 10, 1, 0, 0, time.UTC))
	for _, x := range []struct {
		start, value, says string
		tolerance          int
	}{
		{" 10:00:00 24/11/2026", "0", "", 0},
		{" 09:55:00 24/11/2026", "5", "", 0}, // exactly the tolerance
		{" 09:54:59 24/11/2026", "5", "the file waited, or the clock is behind", 0},
		{" 10:05:00 24/11/2026", "-5", "", 0},
		{" 10:05:01 24/11/2026", "-5", "the clock is ahead", 0},
		{" 09:54:59 24/11/2026", "5", "", 6},
		{" 09:00:00 24/11/2026", "60", "perhaps its time zone", 0},
		{" 12:02:00 24/11/2026", "-122", "perhaps its time zone", 0},
		{" 09:06:00 24/11/2026", "54", "the file waited", 0}, // six minutes off a whole hour
		{" 20:00:00 23/11/2026", "840", "perhaps its time zone", 0},
		{" 19:00:00 23/11/2026", "900", "the file waited", 0}, // no zone is 15 h away
		{" 10:00:00 24/11/2016", "5258880", "ended 3652 days before the upload", 0},
		{" 10:00:00", "", "", 0},
		{"", "", "", 0},
	} {
		j := judgePair(t, x.start, ClockCheck{Uploaded: uploaded, Tolerance: x.tolerance})
		m := j.Test.Find("clock_minutes")
		require.NotNil(t, m)
		require.Equal(t, x.value, m.Value, x.start)
		require.False(t, j.Test.Failed(), "a clock never fails a test")
		if x.says == "" {
			require.Equal(t, string(recording.Pass), j.Test.Verdict, x.start)
			require.Empty(t, j.Test.Remarks)
			require.Empty(t, m.Code)
			continue
		}
		require.Equal(t, string(recording.Remark), j.Test.Verdict, x.start)
		require.Equal(t, "CLOCK", m.Code)
		require.Contains(t, strings.Join(j.Test.Remarks, " "), x.says, x.start)
	}
}

// The recorder's clock shows the clinic's local time: 11:00 in Berlin in November is 10:00 UTC
// (IANA tz database, Europe/Berlin, UTC+1 in winter).
func TestTheRecordersClockIsReadInTheClinicsZone(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	at := InstantOf(time.Date(2026, 11, 24, 10, 1, 0, 0, time.UTC))
	j := judgePair(t, " 11:00:00 24/11/2026", ClockCheck{Uploaded: at, Zone: berlin})
	require.Equal(t, "0", j.Test.Find("clock_minutes").Value)
	j = judgePair(t, " 11:00:00 24/11/2026", ClockCheck{})
	require.Nil(t, j.Test.Find("clock_minutes"),
		"without an upload nothing is compared")
}

// Keeping for less time is signed with a reason; bounds are this project's own.
func TestTheRulesOfTheBenchAreBounded(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	boss.Signed = false
	require.Equal(t, BenchRules{ClockMin: 5, KeepMonths: 120}, c.w.Settings.Rules())
	for _, x := range []struct {
		rules BenchRules
		rule  string
	}{{BenchRules{ClockMin: -1}, "number"}, {BenchRules{ClockMin: 1441}, "number"},
		{BenchRules{KeepMonths: 11}, "number"}, {BenchRules{KeepMonths: 601}, "number"},
		{BenchRules{KeepMonths: 119, Reason: "space"}, "keep_shorter"}} {
		c.refused(x.rule, boss, SetBenchRules{x.rules})
	}
	c.do(boss, SetBenchRules{BenchRules{ClockMin: 1440, KeepMonths: 600}})
	c.refused("keep_shorter", boss, SetBenchRules{BenchRules{}})
	signed := boss
	signed.Signed = true
	c.refused("keep_shorter", signed, SetBenchRules{BenchRules{KeepMonths: 12}})
	c.do(signed, SetBenchRules{BenchRules{KeepMonths: 12, Reason: "house rule 4"}})
	require.Equal(t, 12, c.w.Settings.Rules().KeepMonths)
	c.do(boss, SetSettings{Settings{Site: "x", Zone: "UTC"}})
	require.Equal(t, 12, c.w.Settings.Rules().KeepMonths, "other settings leave it alone")
	c.do(boss, SetBenchRules{BenchRules{KeepMonths: 13}})
	require.Equal(t, "house rule 4", c.w.Settings.Bench.Reason)
}
