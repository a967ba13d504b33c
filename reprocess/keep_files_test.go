package reprocess

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess/recording"
)

func hashOf(letter string) string { return strings.Repeat(letter, 64) }

func named(seq int64, at Instant, events ...Event) *Entry {
	e := &Entry{Seq: seq, At: at}
	for _, ev := range events {
		e.Events = append(e.Events, Box{ev})
	}
	return e
}

// Every event that may carry a hash of a kept file names it, and what was never kept is not
// named. The list is this project's own.
func TestEventsNameTheirFiles(t *testing.T) {
	readable := fileTest("a", recording.Pass)
	readable.Format, readable.Strip = "WFDB", hashOf("c")
	readable.Signal = &TestPart{SHA256: hashOf("b"), Bytes: 1}
	for _, x := range []struct {
		event Event
		want  []NamedFile
	}{
		{StepRecorded{Record: Record{Test: readable}}, []NamedFile{{hashOf("a"), FileRecording},
			{hashOf("b"), FileRecording}, {hashOf("c"), FileStrip}}},
		{StepRecorded{Record: Record{Test: fileTest("a", recording.Fail, "FILE")}}, nil},
		{StepRecorded{Record: Record{Test: &Test{Kind: TestPhoto, SHA256: hashOf("d")}}},
			[]NamedFile{{hashOf("d"), FilePicture}}},
		{StepRecorded{Record: Record{Test: &Test{Kind: TestTyped}}}, nil},
		{StepRecorded{}, nil},
		{HeightLearnt{SHA256: hashOf("e")}, []NamedFile{{hashOf("e"), FileRecording}}},
		{HeightLearnt{SHA256: hashOf("e"), Signal: hashOf("f")},
			[]NamedFile{{hashOf("e"), FileRecording}, {hashOf("f"), FileRecording}}},
		{PictureAdded{SHA256: hashOf("1")}, []NamedFile{{hashOf("1"), FilePicture}}},
		{CheckRecorded{Done: CheckDone{SHA256: hashOf("2")}}, []NamedFile{{hashOf("2"), FilePaper}}},
		{CheckRecorded{}, nil},
		{FilesRemoved{Files: []string{hashOf("3")}}, nil},
		{RollCalled{Root: hashOf("4")}, nil},
	} {
		require.Equal(t, x.want, FilesNamed(x.event), "%+v", x.event)
	}
}

// A file is due when the newest entry that names it is older; a paper never is; what was kept
// again after its removal is kept.
func TestWhatIsDueForRemoval(t *testing.T) {
	at := func(s int) Instant { return InstantOf(time.Unix(int64(s), 0)) }
	b := FileBook{}
	b.Take(named(1, at(100), PictureAdded{SHA256: hashOf("a")}, PictureAdded{SHA256: hashOf("b")}))
	b.Take(named(2, at(200), PictureAdded{SHA256: hashOf("c")},
		CheckRecorded{Done: CheckDone{SHA256: hashOf("d")}}))
	require.Empty(t, b.Due(at(100)), "named at that very moment: kept")
	require.Equal(t, []string{hashOf("a"), hashOf("b")}, b.Due(at(101)))
	require.Equal(t, []string{hashOf("a"), hashOf("b"), hashOf("c")}, b.Due(at(1000)))
	b.Take(named(3, at(300), PictureAdded{SHA256: hashOf("b")}, PictureAdded{SHA256: hashOf("d")}))
	require.Equal(t, []string{hashOf("a"), hashOf("c"), hashOf("b")}, b.Due(at(1000)))
	b.Take(named(4, at(400), FilesRemoved{Files: []string{hashOf("a"), hashOf("c")}}))
	require.Equal(t, []string{hashOf("b")}, b.Due(at(1000)))
	require.True(t, b[hashOf("a")].Gone())
	b.Take(named(5, at(500), PictureAdded{SHA256: hashOf("a")}))
	require.False(t, b[hashOf("a")].Gone())
	require.Equal(t, []string{hashOf("b"), hashOf("a")}, b.Due(at(1000)))
}

// The boundary is the calendar's: twelve months before 24 Nov 2026, 10:00 in Berlin.
func TestKeptSinceCountsMonthsInTheCalendar(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	now := Now{UTC: InstantOf(time.Date(2026, 11, 24, 10, 0, 0, 0, berlin)), Zone: berlin}
	s := Settings{Bench: &BenchRules{KeepMonths: 12}}
	require.Equal(t, InstantOf(time.Date(2025, 11, 24, 10, 0, 0, 0, berlin)), s.KeptSince(now))
	require.Equal(t, InstantOf(time.Date(2016, 11, 24, 10, 0, 0, 0, berlin)),
		Settings{}.KeptSince(now), "ten years unless the clinic says otherwise")
}

func TestRemovingFilesIsBounded(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	ask := func() RemoveFiles {
		return RemoveFiles{Files: []string{hashOf("a")}, Since: c.w.Settings.KeptSince(c.now),
			Size: c.seq}
	}
	for rule, spoil := range map[string]func(*RemoveFiles){
		"nothing_due": func(r *RemoveFiles) { r.Files = nil },
		"files":       func(r *RemoveFiles) { r.Files = []string{"../secrets/pepper"} },
		"keep_longer": func(r *RemoveFiles) { r.Since++ },
		"overtaken":   func(r *RemoveFiles) { r.Size-- },
	} {
		r := ask()
		spoil(&r)
		c.refused(rule, boss, r)
	}
	many := ask()
	for range MostRemoved {
		many.Files = append(many.Files, hashOf("b"))
	}
	c.refused("files", boss, many)
	unsigned := boss
	unsigned.Signed = false
	c.refused("signature", unsigned, ask())
	c.refused("role", c.actor("ada"), ask())
	e := c.do(boss, ask())
	require.Equal(t, FilesRemoved{Files: []string{hashOf("a")}, Months: 120}, e.Events[0].Event)
}
