package reprocess

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var aSheet = strings.Repeat("5e", 32)

// paperDay is a clinic at 10:00 whose server was away since 07:30: Ada worked by paper, Bea
// enters the sheets. Sam may release and has done nothing.
func paperDay(t *testing.T, counts bool) *clinic {
	c := newClinic(t)
	for _, p := range c.w.Procedures {
		p.PaperRelease = counts
	}
	sam := *c.w.People["ada"]
	sam.ID, sam.Name, sam.SignIn = "sam", "Sam Second", "sam"
	c.w.People["sam"] = &sam
	c.wait(2 * time.Hour)
	return c
}

// clock is a time of day one.
func clock(h, m, s int) Instant {
	return Instant(time.Date(2026, 11, 24, h, m, s, 0, time.UTC).UnixMilli())
}

var bothPieces = []string{"P18-1", "P18-2"}

func onPaper(at Instant, step StepID, pieces []string, pairs ...string) FromPaper {
	return FromPaper{Kit: "K18", At: at, By: "ada", Sheet: aSheet,
		Step: &RecordStep{Kit: "K18", Pieces: pieces, Step: step, Answers: answers(pairs...)}}
}

func wetOnPaper(from, until Instant) FromPaper {
	return FromPaper{Kit: "K18", At: from, By: "ada", Sheet: aSheet,
		Wet: &PaperWet{Kit: "K18", Pieces: bothPieces, Container: "B16", Until: until, Stayed: "yes"}}
}

// firstSteps enters what comes before the disinfection.
func (c *clinic) firstSteps() {
	c.t.Helper()
	bea := c.actor("boss")
	c.do(bea, onPaper(clock(8, 1, 0), StepReceipt, bothPieces, "condition", "whole", "recording",
		"arrived", "old_cell", "yes"))
	c.do(bea, onPaper(clock(8, 3, 0), StepCleaning, bothPieces, "clean", "yes", "parts_clean", "yes"))
}

// paperSteps enters a whole sheet.
func (c *clinic) paperSteps() {
	c.t.Helper()
	bea, rec, phone := c.actor("boss"), bothPieces[:1], bothPieces[1:]
	c.firstSteps()
	c.do(bea, wetOnPaper(clock(8, 5, 0), clock(8, 7, 0)))
	c.do(bea, onPaper(clock(8, 9, 0), StepDrying, bothPieces, "dry", "yes"))
	c.do(bea, onPaper(clock(8, 10, 0), StepInspection, bothPieces, "sound", "yes"))
	c.do(bea, onPaper(clock(8, 11, 0), StepBattery, rec, "cell", "T17", "latched", "yes"))
	c.do(bea, onPaper(clock(8, 11, 0), StepBattery, phone, "charge", "93"))
	c.do(bea, onPaper(clock(8, 12, 0), StepAssignment, bothPieces, "ended", "yes", "wiped", "yes",
		"app_there", "yes", "lock", "yes", "updates", "yes"))
	c.do(bea, onPaper(clock(8, 13, 0), StepFunction, rec, "worn_by", "bench", "signal", "usable",
		"memory", "yes"))
	c.do(bea, onPaper(clock(8, 14, 0), StepPacking, bothPieces, "complete", "yes", "sealed", "yes",
		"label", "CODE17R"))
}

// Where the procedure lets paper release, a second person is demanded: neither who did it nor
// who entered it, even if both may release (P16).
func TestASheetIsReleasedByAThirdPerson(t *testing.T) {
	c := paperDay(t, true)
	c.paperSteps()
	c.w.People["boss"].Roles = append(c.w.People["boss"].Roles, RoleRelease)
	for _, first := range []string{"ada", "boss"} {
		p := c.refused("second_person", c.actor(first), ReleaseKit{Kit: "K18"})
		require.Contains(t, p.Text, "from paper")
	}
	c.refused("sign_alone", c.actor("sam"), ReleaseKit{Kit: "K18", List: true})
	c.do(c.actor("sam"), ReleaseKit{Kit: "K18"})
	require.Equal(t, []string{"T15", "T17"}, c.w.Kits["K18"].Release.Lots, "a look-back finds them")
}

// Every record says that it is late, when and by whom it was done as the sheet has it, and
// when and by whom it was entered.
func TestWhatASheetSaysStandsBesideTheEntry(t *testing.T) {
	c := paperDay(t, true)
	c.paperSteps()
	cy := c.w.Cycles[c.w.Pieces["P18-1"].Cycle]
	require.Len(t, cy.Records, 9)
	for _, r := range cy.Records {
		require.True(t, r.Late)
		require.False(t, r.Together, "a sheet's minutes cannot tell")
		require.Equal(t, "boss", r.By)
		require.Equal(t, c.now.UTC, r.Mark.At)
		require.Equal(t, "ada", r.Paper.By)
		require.Equal(t, "Ada Bench", r.Paper.Name)
		require.Equal(t, aSheet, r.Paper.Sheet)
		require.Less(t, r.Paper.At, r.Mark.At)
		who, _ := r.Did()
		require.Equal(t, "ada", who)
	}
	require.Equal(t, clock(8, 1, 0), cy.Opened)
	require.Contains(t, cy.Progress().Wipers, "ada")
	require.Contains(t, cy.Progress().Wipers, "boss")
}

// By default a contact time from paper is kept, found by a look-back, and does not count:
// disinfection and everything after it is done again.
func TestByDefaultPaperDoesNotDisinfect(t *testing.T) {
	c := paperDay(t, false)
	c.firstSteps()
	c.do(c.actor("boss"), wetOnPaper(clock(8, 5, 0), clock(8, 59, 0)))
	c.refused("order", c.actor("boss"), onPaper(clock(9, 0, 0), StepDrying, bothPieces, "dry", "yes"))
	p := c.refused("paper", c.actor("sam"), ReleaseKit{Kit: "K18"})
	require.Contains(t, p.Text, "from paper alone")
	best, ok := c.w.Cycles[c.w.Pieces["P18-1"].Cycle].Progress().Wet.Best()
	require.True(t, ok)
	require.True(t, best.Paper)
	require.False(t, best.Exact, "nobody measured it")
	require.Equal(t, []string{"T15"}, best.Lots)

	ada := c.actor("ada")
	c.do(ada, WetNow{Kit: "K18", Pieces: bothPieces, Container: "B16"})
	c.wait(60 * time.Second)
	c.do(ada, Look{Kit: "K18", Pieces: bothPieces, Saw: RecLooksWet})
	c.do(ada, RecordStep{Kit: "K18", Pieces: bothPieces, Step: StepDrying, Answers: answers("dry", "yes")})
	best, _ = c.w.Cycles[c.w.Pieces["P18-1"].Cycle].Progress().Wet.Best()
	require.False(t, best.Paper, "what was watched goes before what was written")
}

// A start in whole minutes may have been up to 59 s later (common practice of writing the
// minute that the clock shows), so it earns a minute less; 60 s are needed here.
func TestHowLongASheetSays(t *testing.T) {
	for _, x := range []struct {
		from, until Instant
		stayed      string
		done        bool
	}{
		{clock(8, 5, 0), clock(8, 7, 0), "yes", true},
		{clock(8, 5, 0), clock(8, 6, 59), "yes", false},
		{clock(8, 5, 0), clock(8, 6, 0), "yes", false},
		{clock(8, 5, 1), clock(8, 6, 1), "yes", true},
		{clock(8, 5, 1), clock(8, 6, 0), "yes", false},
		{clock(8, 5, 0), clock(8, 30, 0), "no", false},
	} {
		c := paperDay(t, true)
		c.firstSteps()
		f := wetOnPaper(x.from, x.until)
		f.Wet.Stayed = x.stayed
		c.do(c.actor("boss"), f)
		next := StepDisinfection
		if x.done {
			next = StepDrying
		}
		require.Equal(t, next, c.w.NextStep(c.w.Pieces["P18-1"]), "%v", x)
	}
}

// The claimed time lies between the kit's newest entry and now, both included, so that the
// order of the entries stays the order of what happened.
func TestTheClaimedTime(t *testing.T) {
	c := paperDay(t, true)
	bea := c.actor("boss")
	first := func(at Instant) FromPaper {
		return onPaper(at, StepReceipt, bothPieces, "condition", "whole", "recording", "arrived",
			"old_cell", "yes")
	}
	c.refused("paper_time", bea, first(0))
	c.refused("paper_time", bea, first(c.now.UTC+1))
	c.refused("paper_order", bea, first(c.w.Kits["K18"].Since-1))
	c.do(bea, first(clock(8, 30, 0)))
	second := func(at Instant) FromPaper {
		return onPaper(at, StepCleaning, bothPieces, "clean", "yes", "parts_clean", "yes")
	}
	c.refused("paper_order", bea, second(clock(8, 29, 59)))
	c.do(bea, second(clock(8, 30, 0)))
	c.refused("paper_time", bea, wetOnPaper(clock(8, 31, 0), c.now.UTC+1))
	c.refused("paper_time", bea, wetOnPaper(clock(8, 31, 0), clock(8, 30, 59)))
	c.do(bea, wetOnPaper(clock(8, 31, 0), clock(8, 40, 0)))
	c.refused("paper_order", bea, onPaper(clock(8, 39, 59), StepDrying, bothPieces, "dry", "yes"))
	c.do(bea, onPaper(clock(8, 40, 0), StepDrying, bothPieces, "dry", "yes"))
	// Once somebody went on with the kit, an older sheet stands before what was done.
	c.do(c.actor("ada"), RecordStep{Kit: "K18", Pieces: bothPieces, Step: StepInspection,
		Answers: answers("sound", "yes")})
	c.refused("paper_order", bea, onPaper(clock(8, 41, 0), StepBattery, bothPieces[1:], "charge", "9"))
}

// A wrong time that was taken back does not stand in the way of the right one.
func TestAWrongTimeIsTakenBack(t *testing.T) {
	c := paperDay(t, true)
	bea := c.actor("boss")
	e := c.do(bea, onPaper(clock(9, 1, 0), StepReceipt, bothPieces, "condition", "whole",
		"recording", "arrived", "old_cell", "yes"))
	c.do(bea, Undo{Kit: "K18", Of: e.Seq})
	c.firstSteps()
}

// The longest gap of the procedure, 120 min, is measured between the sheet's own times, and
// from the last of them to the next tap.
func TestGapsAreMeasuredByTheSheet(t *testing.T) {
	for _, x := range []struct {
		dry Instant
		ok  bool
	}{{clock(10, 7, 59), true}, {clock(10, 8, 0), false}} {
		c := paperDay(t, true)
		c.wait(4 * time.Hour)
		c.firstSteps()
		c.do(c.actor("boss"), wetOnPaper(clock(8, 5, 0), clock(8, 7, 0)))
		dry := onPaper(x.dry, StepDrying, bothPieces, "dry", "yes")
		if x.ok {
			c.do(c.actor("boss"), dry)
			c.refused("gap", c.actor("ada"), RecordStep{Kit: "K18", Pieces: bothPieces,
				Step: StepInspection, Answers: answers("sound", "yes")})
			continue
		}
		c.refused("gap", c.actor("boss"), dry)
	}
}

// The person on the sheet has to be competent on that day; a learner's steps are countersigned
// by somebody else than who entered them.
func TestThePersonOnTheSheet(t *testing.T) {
	c := paperDay(t, true)
	bea := c.actor("boss")
	look := onPaper(clock(8, 1, 0), StepReceipt, bothPieces, "condition", "whole", "recording",
		"arrived", "old_cell", "yes")
	for rule, by := range map[string]string{"paper_by": "", "unknown": "nobody", "role": "dan"} {
		bad := look
		bad.By = by
		c.refused(rule, bea, bad)
	}
	bad := look
	bad.Sheet = ""
	c.refused("paper_sheet", bea, bad)
	bad.Sheet = "5e"
	c.refused("paper_sheet", bea, bad)
	bad = look
	bad.Back = &TakeBack{Kit: "K18"}
	c.refused("paper", bea, bad)
	bad = look
	bad.Kit = "K17"
	c.refused("unknown", bea, bad)
	c.refused("role", c.actor("dan"), look)
	c.setCompetence("ada", Competence{From: "2026-11-25"})
	c.refused("competence_lapsed", bea, look)
	c.setCompetence("ada", Competence{From: "2026-11-24", Learning: true})
	c.do(bea, look)
	c.refused("countersign", bea, Countersign{Kit: "K18"})
	c.refused("countersign", c.actor("ada"), Countersign{Kit: "K18"})
	c.do(c.actor("sam"), Countersign{Kit: "K18"})
}

// A container that has run empty since is no obstacle; one that was stopped is.
func TestTheContainerOnTheSheet(t *testing.T) {
	c := paperDay(t, true)
	c.firstSteps()
	c.do(c.actor("ada"), CloseContainer{Container: "B16", Why: "empty"})
	c.do(c.actor("boss"), wetOnPaper(clock(8, 5, 0), clock(8, 7, 0)))
	c.do(c.actor("dan"), StopLot{Lot: "T15", Reason: "weak"})
	c.refused("lot_stopped", c.actor("boss"), wetOnPaper(clock(8, 8, 0), clock(8, 9, 0)))
	f := wetOnPaper(clock(8, 8, 0), clock(8, 9, 0))
	f.Wet.Stayed = ""
	c.refused("stayed", c.actor("boss"), f)
}

// A hand-out and a take-back from paper keep the time of the sheet, and are judged as of it.
func TestLoansFromPaper(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	released := c.now.UTC
	c.wait(3 * time.Hour)
	out := func(at Instant) FromPaper {
		return FromPaper{Kit: "K18", At: at, By: "dan",
			Out: &HandOut{Kit: "K18", Wearer: "w1", Days: 7}}
	}
	dan := c.actor("dan")
	c.refused("paper_order", dan, out(released-1))
	c.do(dan, out(released+60_000))
	l := c.w.Loans[c.w.Kits["K18"].Loan]
	require.Equal(t, released+60_000, l.Out)
	require.Equal(t, "dan", l.Paper.By)
	require.Equal(t, DateIn(released, nil).AddDays(7), l.Due)
	c.refused("not_released", dan, out(released+61_000))

	back := FromPaper{Kit: "K18", At: released + 90_000, By: "ada",
		Back: &TakeBack{Kit: "K18", Return: Return{Paper: &Paper{By: "forged"}}}}
	c.do(dan, back)
	l = c.w.Loans[l.ID]
	require.Equal(t, released+90_000, l.Back)
	require.Equal(t, "ada", l.Return.Paper.By)
	require.Equal(t, released+90_000, c.w.Kits["K18"].Back)
	c.do(dan, TakeBack{Kit: "K18", Return: Return{Paper: &Paper{By: "forged"}}})
	require.Nil(t, c.w.Kits["K18"].Return.Paper, "only what comes from paper says so")
}

// A lapse is judged as of the time on the sheet.
func TestAHandOutBeforeTheLapse(t *testing.T) {
	for _, x := range []struct {
		after time.Duration
		ok    bool
	}{{30*24*time.Hour - time.Minute, true}, {30 * 24 * time.Hour, false}} {
		c := readyToRelease(t)
		c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
		at := c.now.UTC.Add(x.after)
		c.wait(31 * 24 * time.Hour)
		f := FromPaper{Kit: "K18", At: at, By: "dan", Out: &HandOut{Kit: "K18", Wearer: "w", Days: 3}}
		if x.ok {
			c.do(c.actor("dan"), f)
		} else {
			c.refused("not_released", c.actor("dan"), f)
		}
	}
}
