package reprocess

import (
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func openOne(c *clinic) string {
	c.t.Helper()
	e := c.do(c.actor("ada"), OpenFinding{Text: "lamp flickers", Action: "new lamp",
		Owner: "dan", Due: c.now.Today().AddDays(7), Kit: "K18", Entry: 3})
	return e.Events[0].Event.(FindingOpened).ID
}

func TestOpeningAFinding(t *testing.T) {
	c := newClinic(t)
	ada, today := c.actor("ada"), c.now.Today()
	f := c.w.Findings[openOne(c)]
	require.Equal(t, "ada", f.By)
	require.Equal(t, c.now.UTC, f.At)
	good := OpenFinding{Text: "x", Owner: "dan", Due: today}
	c.do(ada, good) // about neither a kit nor an entry
	for _, x := range []struct {
		rule   string
		change func(*OpenFinding)
	}{
		{"empty", func(f *OpenFinding) { f.Text = " " }},
		{"text", func(f *OpenFinding) { f.Text = strings.Repeat("x", 201) }},
		{"text", func(f *OpenFinding) { f.Action = strings.Repeat("x", 201) }},
		{"person", func(f *OpenFinding) { f.Owner = "" }},
		{"date", func(f *OpenFinding) { f.Due = "" }},
		{"date", func(f *OpenFinding) { f.Due = "soon" }},
		{"date", func(f *OpenFinding) { f.Due = today.AddDays(-1) }},
		{"date", func(f *OpenFinding) { f.Due = today.AddDays(367) }},
		{"unknown", func(f *OpenFinding) { f.Kit = "K99" }},
		{"unknown", func(f *OpenFinding) { f.Entry = -1 }},
		{"unknown", func(f *OpenFinding) { f.Entry = c.seq + 1 }}, // the entry's own number
	} {
		bad := good
		x.change(&bad)
		c.refused(x.rule, ada, bad)
	}
	good.Due, good.Entry = today.AddDays(366), c.seq
	c.do(ada, good)
	c.w.People["dan"].Left = today.AddDays(-1)
	c.refused("person_left", ada, good)
}

// It is overdue from the day after its day.
func TestAFindingIsOverdueTheDayAfter(t *testing.T) {
	f := &Finding{Due: "2026-12-01"}
	require.False(t, f.Overdue("2026-12-01"))
	require.True(t, f.Overdue("2026-12-02"))
	f.Closed = 1
	require.False(t, f.Overdue("2026-12-02"))
}

func TestMovingAFinding(t *testing.T) {
	c := newClinic(t)
	id, boss, today := openOne(c), c.actor("boss"), c.now.Today()
	due := c.w.Findings[id].Due
	c.refused("role", c.actor("dan"), MoveFinding{Finding: id, Owner: "ada", Due: due, Reason: "x"})
	c.refused("already_done", boss, MoveFinding{Finding: id, Owner: "dan", Due: due, Reason: "x"})
	c.refused("empty", boss, MoveFinding{Finding: id, Owner: "ada", Due: due})
	c.refused("date", boss, MoveFinding{Finding: id, Owner: "ada", Due: today.AddDays(-1), Reason: "x"})
	c.refused("unknown", boss, MoveFinding{Finding: "F0", Owner: "ada", Due: due, Reason: "x"})
	c.do(boss, MoveFinding{Finding: id, Owner: "ada", Due: today, Reason: "Dan is on leave"})
	require.Equal(t, "ada", c.w.Findings[id].Owner)
	require.Equal(t, today, c.w.Findings[id].Due)
}

// Its owner or a judge closes it, with what was done and something that shows it.
func TestClosingAFinding(t *testing.T) {
	c := newClinic(t)
	id, dan := openOne(c), c.actor("dan")
	hash := strings.Repeat("0a", 32)
	c.refused("not_owner", c.actor("ada"), CloseFinding{Finding: id, Done: "x", Evidence: hash})
	c.refused("empty", dan, CloseFinding{Finding: id, Evidence: hash})
	for _, bad := range []string{"", "entry", "entry 0", "entry 007", "-3", "1e3", "entry x",
		hash[1:], strings.ToUpper(hash), "entry " + strconv.FormatInt(c.seq+100, 10)} {
		c.refused("evidence", dan, CloseFinding{Finding: id, Done: "x", Evidence: bad})
	}
	c.refused("evidence", dan, CloseFinding{Finding: id, Done: "x",
		Evidence: strconv.FormatInt(c.seq+1, 10)}) // its own entry shows nothing
	c.do(dan, CloseFinding{Finding: id, Done: "new lamp", Evidence: "3"})
	f := c.w.Findings[id]
	require.Equal(t, "entry 3", f.Evidence)
	require.Equal(t, "dan", f.ClosedBy)
	require.Equal(t, c.now.UTC, f.Closed)
	c.refused("closed", dan, CloseFinding{Finding: id, Done: "again", Evidence: hash})
	c.refused("closed", c.actor("boss"), MoveFinding{Finding: id, Owner: "ada", Due: f.Due, Reason: "x"})
	other := openOne(c)
	c.do(c.actor("ina"), CloseFinding{Finding: other, Done: "new lamp", Evidence: hash})
	require.Equal(t, hash, c.w.Findings[other].Evidence)
}
