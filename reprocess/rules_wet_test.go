package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// toWet brings both pieces to the disinfection.
func (c *clinic) toWet() Actor {
	ada := c.actor("ada")
	c.do(ada, RecordStep{Kit: "K18", Step: StepReceipt,
		Answers: answers("condition", "whole", "recording", "arrived", "old_cell", "yes")})
	c.do(ada, RecordStep{Kit: "K18", Step: StepCleaning,
		Answers: answers("clean", "yes", "parts_clean", "yes")})
	return ada
}

func (c *clinic) wetNow(ada Actor) {
	c.do(ada, WetNow{Kit: "K18", Container: "B16"})
}

func (c *clinic) look(ada Actor, saw RecordKind) {
	c.do(ada, Look{Kit: "K18", Saw: saw, Confirmed: true})
}

func (c *clinic) dryRefused(ada Actor) {
	c.refused("order", ada, RecordStep{Kit: "K18", Step: StepDrying, Answers: answers("dry", "yes")})
}

func (c *clinic) dryDone(ada Actor) {
	c.do(ada, RecordStep{Kit: "K18", Step: StepDrying, Answers: answers("dry", "yes")})
}

// Label 60 s: 59 s fails, 60 s passes. Source: CDC guideline 2008, table 1 (at least 1 min),
// check values 21 of the infection-control reference.
func TestContactTimeBoundary(t *testing.T) {
	for ms, enough := range map[int64]bool{59_000: false, 59_999: false, 60_000: true, 60_001: true} {
		c := newClinic(t)
		ada := c.toWet()
		c.wetNow(ada)
		c.wait(time.Duration(ms) * time.Millisecond)
		c.look(ada, RecLooksWet)
		if enough {
			c.dryDone(ada)
		} else {
			c.dryRefused(ada)
		}
	}
}

// Label 30 s, the procedure's floor 60 s, wet 45 s: fails. Source: CDC table 1 and policy,
// check value 22.
func TestTheFloorHoldsWhereTheLabelIsShorter(t *testing.T) {
	c := newClinic(t)
	p := testProduct()
	p.ID, p.Claims = "D14", []Claim{{Token: "BAC", Seconds: 30}, {Token: "YEA", Seconds: 30}}
	c.do(c.actor("boss"), SetProduct{p})
	ada := c.toWet()
	c.wetNow(ada)
	c.wait(45 * time.Second)
	c.look(ada, RecLooksWet)
	c.dryRefused(ada)
	c.wait(15 * time.Second)
	c.look(ada, RecLooksWet)
	c.dryDone(ada)
}

// Wet 40 s, seen dry, wet again 40 s, needed 60 s: the longest unbroken stretch is 40 s.
// Source: check value 23 (contact time is the time the surface stays visibly wet).
func TestSeenDryStartsAnew(t *testing.T) {
	c := newClinic(t)
	ada := c.toWet()
	for range 2 {
		c.wetNow(ada)
		c.wait(40 * time.Second)
		c.look(ada, RecLooksWet)
		c.look(ada, RecSeenDry)
	}
	c.dryRefused(ada)
	best, ok := c.w.Cycles[c.w.Pieces["P18-1"].Cycle].Progress().Wet.Best()
	require.True(t, ok)
	require.Equal(t, int64(40_000), best.MS)
}

// Walking away earns nothing: seen dry counts only up to the last look, with none 0; not
// watched does not count. Common practice (P10).
func TestWalkingAwayEarnsNothing(t *testing.T) {
	for _, saw := range []RecordKind{RecSeenDry, RecNotWatched} {
		c := newClinic(t)
		ada := c.toWet()
		c.wetNow(ada)
		c.wait(5 * time.Minute)
		c.look(ada, saw)
		c.dryRefused(ada)
		best, _ := c.w.Cycles[c.w.Pieces["P18-1"].Cycle].Progress().Wet.Best()
		require.Zero(t, best.MS)
	}
}

// A claim more than a minute longer than needed without a look is asked again and marked.
func TestALongClaimIsAskedAgain(t *testing.T) {
	for seconds, asked := range map[int]bool{119: false, 120: false, 121: true, 600: true} {
		c := newClinic(t)
		ada := c.toWet()
		c.wetNow(ada)
		c.wait(time.Duration(seconds) * time.Second)
		_, p := c.try(ada, Look{Kit: "K18", Saw: RecLooksWet})
		require.Equal(t, asked, p != nil, "%d s", seconds)
		if asked {
			require.Equal(t, "look_again", p.Rule)
			c.do(ada, Look{Kit: "K18", Saw: RecLooksWet, Confirmed: true})
			cy := c.w.Cycles[c.w.Pieces["P18-1"].Cycle]
			require.Equal(t, seconds, cy.Records[len(cy.Records)-1].NotLookS)
		}
	}
}

// Setting the clock forward earns nothing and setting it back blocks nothing: within one run
// of the server the lesser of wall and monotonic difference counts (check value 24).
func TestClockJumps(t *testing.T) {
	from := Mark{At: 1_000_000, Boot: "a", Mono: 5_000}
	for _, x := range []struct {
		name  string
		to    Mark
		ms    int64
		exact bool
	}{
		{"both agree", Mark{1_060_000, "a", 65_000}, 60_000, true},
		{"wall forward an hour", Mark{4_660_000, "a", 65_000}, 60_000, true},
		{"wall back an hour", Mark{1_000_000 - 3_540_000, "a", 65_000}, 0, true},
		{"restart between", Mark{1_060_000, "b", 1_000}, 60_000, false},
		{"restart, wall back", Mark{900_000, "b", 1_000}, 0, false},
		{"no boot known", Mark{1_060_000, "", 0}, 60_000, false},
	} {
		ms, exact := Elapsed(from, x.to)
		require.Equal(t, x.ms, ms, x.name)
		require.Equal(t, x.exact, exact, x.name)
	}
}

// The next container of the same product continues the interval and both are on record; the
// same container again, or another product, begins anew (P11).
func TestTheNextContainerContinues(t *testing.T) {
	c := newClinic(t)
	ada := c.toWet()
	next := opened(c.do(ada, OpenContainer{Lot: "T15"}))
	c.wetNow(ada)
	c.wait(35 * time.Second)
	c.do(ada, WetNow{Kit: "K18", Container: next})
	c.wait(30 * time.Second)
	c.look(ada, RecLooksWet)
	wet := c.w.Cycles[c.w.Pieces["P18-1"].Cycle].Progress().Wet
	require.Len(t, wet.Intervals, 1)
	require.Equal(t, []string{"B16", next}, wet.Intervals[0].Containers)
	require.True(t, wet.Conforms())
}

func TestTheSameContainerAgainBeginsAnew(t *testing.T) {
	c := newClinic(t)
	ada := c.toWet()
	c.wetNow(ada)
	c.wait(40 * time.Second)
	c.wetNow(ada)
	c.wait(40 * time.Second)
	c.look(ada, RecLooksWet)
	c.dryRefused(ada)
}

func opened(e *Entry) string {
	for _, b := range e.Events {
		if v, ok := b.Event.(ContainerOpened); ok {
			return v.ID
		}
	}
	return ""
}

// A drying step before the end of the disinfection is rejected (check value 53).
func TestDryingWaitsForTheDisinfection(t *testing.T) {
	c := newClinic(t)
	ada := c.toWet()
	c.dryRefused(ada)
	c.wetNow(ada)
	c.dryRefused(ada)
}

// The gap: at the limit the kit goes on, a minute later the disinfection repeats.
func TestTheLongestGap(t *testing.T) {
	for minutes, on := range map[int]bool{120: true, 121: false} {
		c := newClinic(t)
		ada := c.toWet()
		c.wetNow(ada)
		c.wait(61 * time.Second)
		c.look(ada, RecLooksWet)
		c.dryDone(ada)
		c.wait(time.Duration(minutes) * time.Minute)
		inspect := RecordStep{Kit: "K18", Step: StepInspection, Answers: answers("sound", "yes")}
		if on {
			c.do(ada, inspect)
			continue
		}
		c.refused("gap", ada, inspect)
		c.wetNow(ada)
		c.wait(61 * time.Second)
		c.look(ada, RecLooksWet)
		c.dryDone(ada)
		c.do(ada, inspect)
	}
}

// What is no work on the piece hides no gap: neither somebody who stands for a learner's steps, nor
// a version read off, nor a part that was changed too late. Source: own rule.
func TestNothingHidesThatTheGapHasPassed(t *testing.T) {
	for name, hide := range map[string]func(*clinic){
		"countersigned": func(c *clinic) { c.do(c.actor("boss"), Countersign{Kit: "K18"}) },
		"new software": func(c *clinic) {
			c.do(c.actor("ada"), SetVersion{Kit: "K18", Piece: "P18-1", What: VersionSoftware, Version: "2.0"})
			c.do(c.actor("ada"), SetVersion{Kit: "K18", Piece: "P18-1", What: VersionSoftware, Version: "2.1"})
		},
		"a part": func(c *clinic) {
			c.refused("gap", c.actor("ada"), SmallRepair{Kit: "K18", Piece: "P18-1", Part: "clip"})
		},
	} {
		c := newClinic(t)
		c.toWet()
		lea := c.learner()
		c.setCompetence("boss", Competence{From: "2026-01-01"})
		c.wetNow(lea)
		c.wait(61 * time.Second)
		c.look(lea, RecLooksWet)
		c.dryDone(lea)
		c.wait(120 * time.Minute)
		inspect := RecordStep{Kit: "K18", Step: StepInspection, Answers: answers("sound", "yes")}
		c.wait(time.Minute)
		hide(c)
		c.refused("gap", c.actor("ada"), inspect)
		require.NotEmpty(t, c.w.Cycles, name)
	}
}

// A test on a person calls for a disinfection after it: the one allowed loop.
func TestATestOnAPersonIsFollowedByDisinfection(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	c.goodSteps(ada)
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	ada = c.toWet()
	c.wetNow(ada)
	c.wait(61 * time.Second)
	c.look(ada, RecLooksWet)
	c.dryDone(ada)
	c.do(ada, RecordStep{Kit: "K18", Step: StepInspection, Answers: answers("sound", "yes")})
	rec := []string{"P18-1"}
	c.do(ada, RecordStep{Kit: "K18", Pieces: rec, Step: StepBattery, Answers: answers("cell", "T17", "latched", "yes")})
	c.do(ada, RecordStep{Kit: "K18", Pieces: rec, Step: StepAssignment, Answers: answers("ended", "yes")})
	c.do(ada, RecordStep{Kit: "K18", Pieces: rec, Step: StepFunction,
		Answers: answers("worn_by", "person", "signal", "usable", "memory", "yes")})
	require.Equal(t, StepDisinfection, c.w.NextStep(c.w.Pieces["P18-1"]))
	c.do(ada, WetNow{Kit: "K18", Pieces: rec, Container: "B16"})
	c.wait(61 * time.Second)
	c.do(ada, Look{Kit: "K18", Pieces: rec, Saw: RecLooksWet})
	c.do(ada, RecordStep{Kit: "K18", Pieces: rec, Step: StepDrying, Answers: answers("dry", "yes")})
	require.Equal(t, StepPacking, c.w.NextStep(c.w.Pieces["P18-1"]))
}

// The dates of a container: the last usable day is usable. Sources: check values 37 and 38
// (practice tips of a hygiene association on after-opening life).
func TestContainerDates(t *testing.T) {
	day := Date("2026-11-24")
	base := func() (*Product, *Lot, *Container) {
		return &Product{OpenDays: 28, Name: "x"}, &Lot{Expiry: "2027-01-31", Number: "L", Kind: LotDisinfectant},
			&Container{Opened: day.AddDays(-28)}
	}
	for _, x := range []struct {
		name string
		edit func(*Product, *Lot, *Container)
		rule string
	}{
		{"day 28 of 28", func(*Product, *Lot, *Container) {}, ""},
		{"day 29 of 28", func(_ *Product, _ *Lot, c *Container) { c.Opened = day.AddDays(-29) }, "use_by"},
		{"expires today", func(_ *Product, l *Lot, _ *Container) { l.Expiry = day }, ""},
		{"expired yesterday", func(_ *Product, l *Lot, _ *Container) { l.Expiry = day.AddDays(-1) }, "expired"},
		{"after-opening life unknown", func(p *Product, _ *Lot, _ *Container) { p.OpenDays = 0 }, "open_days_unknown"},
		{"nobody knows when it was opened", func(_ *Product, _ *Lot, c *Container) { c.Opened = "" }, "open_date_unknown"},
		{"expiry not recorded", func(_ *Product, l *Lot, _ *Container) { l.Expiry = "" }, "expiry_unknown"},
		{"opened tomorrow", func(_ *Product, _ *Lot, c *Container) { c.Opened = day.AddDays(1) }, "open_date_future"},
		{"stopped", func(_ *Product, l *Lot, _ *Container) { l.Stopped = &Stop{Reason: "r"} }, "lot_stopped"},
		{"closed", func(_ *Product, _ *Lot, c *Container) { c.Closed = 1 }, "container_closed"},
	} {
		p, l, con := base()
		x.edit(p, l, con)
		problem := Suit{Container: con, Lot: l, Product: p, Until: UseBy(p, l, con)}.usable(day)
		if x.rule == "" {
			require.Nil(t, problem, x.name)
			continue
		}
		require.NotNil(t, problem, x.name)
		require.Equal(t, x.rule, problem.Rule, x.name)
	}
}

// Strength against the default minimum of 70 % v/v. Source: CDC guideline 2008, table 1, and
// check values 14 to 17 (OIML R 22 for the conversions).
func TestStrengthAtTheStep(t *testing.T) {
	proc := &Procedure{}
	for _, x := range []struct{ agent, strength, min, rule string }{
		{"ethanol", "45%v/v", "", "strength"},
		{"ethanol", "69.9%v/v", "", "strength"},
		{"ethanol", "70%v/v", "", ""},
		{"ethanol", "90%v/v", "", ""},
		{"ethanol", "60%w/w", "60%v/v", ""},
		{"ethanol", "60%w/w", "70%v/v", "strength"},
		{"ethanol", "70%", "70%v/v", ""},
		{"ethanol", "70%", "70%w/w", "strength_undecided"},
		{"propan-2-ol", "70%w/w", "70%v/v", ""},
		{"quat", "0.4 %", "", ""},
	} {
		proc.MinStrength = x.min
		s := Suit{Product: &Product{Name: "x", Actives: []Active{{x.agent, x.strength}}}}
		p := s.strongEnough(proc)
		if x.rule == "" {
			require.Nil(t, p, "%v: %v", x, p)
			continue
		}
		require.NotNil(t, p, "%v", x)
		require.Equal(t, x.rule, p.Rule, "%v", x)
	}
}

// Claims against what the receipt demands: check values 25, 27 and 28.
func TestClaimsAtTheStep(t *testing.T) {
	alcohol := testProduct()
	quat := testProduct()
	quat.Actives = []Active{{"quat", "0.4 %"}}
	bac := testProduct()
	bac.Claims = []Claim{{Token: "BAC", Seconds: 60}}
	written := Product{Name: "w", AsWritten: "instructions, page 12", WrittenS: 90,
		Actives: []Active{{"ethanol", "70%v/v"}}}
	for _, x := range []struct {
		name    string
		product Product
		flags   []string
		rule    string
		needed  int
	}{
		{"nothing known", alcohol, nil, "", 60},
		{"respiratory, claimed", alcohol, []string{"respiratory"}, "", 60},
		{"C. difficile and alcohol", alcohol, []string{"c-difficile"}, "claims", 0},
		{"TB and quat", quat, []string{"tb"}, "claims", 0},
		{"bactericidal only", bac, nil, "claims", 0},
		{"prion", alcohol, []string{"prion"}, "stop_flag", 0},
		{"as in the instructions", written, nil, "", 90},
		{"as in the instructions, but a flag", written, []string{"gastro"}, "claims", 0},
	} {
		p := x.product
		s, problem := (Suit{Product: &p}).covers(nil, &Procedure{FloorS: 60, Needed: []string{"BAC", "YEA"}}, x.flags)
		if x.rule != "" {
			require.NotNil(t, problem, x.name)
			require.Equal(t, x.rule, problem.Rule, x.name)
			continue
		}
		require.Nil(t, problem, "%s: %v", x.name, problem)
		require.Equal(t, x.needed, s.NeededS, x.name)
	}
}

// Wetting a dry piece again starts the disinfection anew, it has to dry again, and the kit it was
// taken out of is packed again.
func TestWettingAgainNeedsDryingAgain(t *testing.T) {
	c := newClinic(t)
	c.goodSteps(c.actor("ada"))
	ada := c.actor("ada")
	c.wetNow(ada)
	c.refused("steps", ada, ReleaseKit{Kit: "K18"})
	c.wait(61 * time.Second)
	c.look(ada, RecLooksWet)
	require.Equal(t, StepDrying, c.w.NextStep(c.w.Pieces["P18-1"]))
	c.refused("steps", ada, ReleaseKit{Kit: "K18"})
	c.dryDone(ada)
	c.refused("steps", ada, ReleaseKit{Kit: "K18"})
	c.do(ada, pack())
	c.do(ada, ReleaseKit{Kit: "K18"})
}
