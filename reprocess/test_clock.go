package reprocess

import (
	"fmt"
	"math"
	"time"

	"handback/reprocess/recording"
)

// ClockCheck holds the recorder's clock against the server's: a recording that was just made
// ended a little before it was uploaded.
type ClockCheck struct {
	Uploaded  Instant // by the server; 0 leaves the clock alone
	Zone      *time.Location
	Tolerance int // min; 0: ClockTolerance
}

// ClockTolerance is how far the end of a test recording may lie from its upload without a
// remark, in minutes: time to walk from the device to the PC (common practice; the clinic can
// set its own).
const ClockTolerance = 5

// mostClockTolerance bounds what a clinic can set: beyond a day nothing is checked at all.
const mostClockTolerance = 24 * 60

// clock adds the difference as a fact, and beyond the tolerance a remark. It never fails a
// test: a file may have waited before it was uploaded. A file without a time is not judged.
func (j *JudgedTest) clock(c ClockCheck, res recording.Result) {
	if c.Uploaded == 0 || j.Recording == nil {
		return
	}
	tolerance := c.Tolerance
	if tolerance <= 0 {
		tolerance = ClockTolerance
	}
	m := Measured{ID: "clock_minutes", Words: "uploaded after its end, by the recorder's clock",
		Unit: "min", Limit: fmt.Sprintf("remarked beyond %d min", tolerance)}
	if !j.Recording.StartKnown {
		j.Test.Measures = append(j.Test.Measures, m)
		return
	}
	off := c.minutes(j.Recording.Start, secondsOf(res.Seconds))
	m.Value = fmt.Sprintf("%.0f", off)
	if m.Value == "-0" {
		m.Value = "0"
	}
	if says := clockSays(off, float64(tolerance)); says != "" {
		m.Code = string(recording.Clock)
		j.Test.Remarks = append(j.Test.Remarks, m.Code+": "+says)
		j.Noted = append(j.Noted, Advised{m.Code, says, "Look at the recorder's clock and set it " +
			"if it is wrong."})
		if j.Test.Verdict == string(recording.Pass) {
			j.Test.Verdict = string(recording.Remark)
		}
	}
	j.Test.Measures = append(j.Test.Measures, m)
}

// minutes from the end of the recording, by the recorder's clock in the clinic's zone, to the
// upload.
func (c ClockCheck) minutes(start time.Time, seconds float64) float64 {
	zone := c.Zone
	if zone == nil {
		zone = time.UTC
	}
	y, mo, d := start.Date()
	h, mi, s := start.Clock()
	end := time.Date(y, mo, d, h, mi, s, start.Nanosecond(), zone).
		Add(time.Duration(seconds * float64(time.Second)))
	return c.Uploaded.Time().Sub(end).Minutes()
}

// clockSays puts a difference in minutes beyond the tolerance into words, "" within it. Zones
// lie whole hours apart (some half hours, which are not told), up to 14 h from UTC.
func clockSays(off, tolerance float64) string {
	far, side := math.Abs(off), "before"
	if far <= tolerance {
		return ""
	}
	if off < 0 {
		side = "after"
	}
	told := "By the recorder's clock it ended " + spanWords(far) + " " + side + " the upload"
	hours := math.Round(far / 60)
	switch {
	case hours >= 1 && hours <= 14 && math.Abs(far-60*hours) <= tolerance:
		return told + ", close to whole hours: perhaps its time zone or summer time is set " +
			"differently."
	case off < 0:
		return told + ": the clock is ahead."
	}
	return told + ": the file waited, or the clock is behind."
}

// spanWords is a number of minutes in the largest unit that reads well.
func spanWords(minutes float64) string {
	switch n := int(math.Round(minutes)); {
	case n < 120:
		return fmt.Sprintf("%d min", n)
	case n < 48*60:
		return fmt.Sprintf("%d h %d min", n/60, n%60)
	default:
		return fmt.Sprintf("%d days", n/60/24)
	}
}

// secondsOf is a length as a plain number, 0 where it was not judged.
func secondsOf(p *float64) float64 {
	if p == nil {
		return 0
	}
	return *p
}
