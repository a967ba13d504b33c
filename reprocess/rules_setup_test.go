package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// An alcohol-only product with a claim against spores is refused on entry, as is tuberculosis
// for quaternary ammonium. Source: check values 26 and 27 (Rutala and Weber 2016).
func TestImpossibleClaimsAreRefusedOnEntry(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	p := testProduct()
	p.Claims = append(p.Claims, Claim{Token: "SPO", Seconds: 60})
	c.refused("impossible_claim", boss, SetProduct{p})
	p = testProduct()
	p.Name, p.Actives = "Q", []Active{{"quat", "0.4 %"}}
	p.Claims = append(p.Claims, Claim{Token: "MYC", Seconds: 60})
	c.refused("impossible_claim", boss, SetProduct{p})
}

func TestProductsNeedTheLeast(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	for rule, edit := range map[string]func(*Product){
		"empty":    func(p *Product) { p.Name = " " },
		"use":      func(p *Product) { p.Use = "magic" },
		"actives":  func(p *Product) { p.Actives = nil },
		"agent":    func(p *Product) { p.Actives[0].Agent = "gin" },
		"strength": func(p *Product) { p.Actives[0].Strength = "strong" },
		"claims":   func(p *Product) { p.Claims = nil },
		"unknown":  func(p *Product) { p.Models = []string{"M99"} },
		"density":  func(p *Product) { p.DensityKg = "heavy" },
	} {
		p := testProduct()
		edit(&p)
		c.refused(rule, boss, SetProduct{p})
	}
	p := testProduct()
	p.Actives[0].Strength = "70%" // the label states no basis: kept as it is, judged on the worst
	c.do(boss, SetProduct{p})
}

func TestProceduresKeepTheOrderAndTheCore(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	swap := testProcedure("M10", Recorder)
	swap.Steps[1], swap.Steps[2] = swap.Steps[2], swap.Steps[1]
	c.refused("steps", boss, ApproveProcedure{swap})
	for i, row := range testProcedure("M10", Recorder).Steps {
		if row.Step == StepBattery {
			continue
		}
		p := testProcedure("M10", Recorder)
		p.Steps = append(append([]StepRow{}, p.Steps[:i]...), p.Steps[i+1:]...)
		c.refused("steps", boss, ApproveProcedure{p})
	}
	p := testProcedure("M10", Recorder)
	p.Steps[2].Override = true // disinfection
	c.refused("override", boss, ApproveProcedure{p})
	p = testProcedure("M10", Recorder)
	p.FloorS = 0
	c.refused("floor", boss, ApproveProcedure{p})
	p = testProcedure("M10", Recorder)
	p.MinStrength = "70%"
	c.refused("strength", boss, ApproveProcedure{p})
	p = testProcedure("M10", Recorder)
	p.Needed = []string{"BAC", "EVERYTHING"}
	c.refused("claims", boss, ApproveProcedure{p})
	e := c.do(boss, ApproveProcedure{testProcedure("M10", Recorder)})
	v := e.Events[0].Event.(ProcedureApproved)
	require.Equal(t, 2, v.Version)
	require.Equal(t, "R12", v.ID)
	require.Equal(t, []string{"BAC", "YEA"}, v.Needed, "the stated default")
}

// A cycle keeps the version it began under.
func TestACycleKeepsItsVersion(t *testing.T) {
	c := newClinic(t)
	c.toWet()
	p := testProcedure("M10", Recorder)
	p.FloorS = 300
	c.do(c.actor("boss"), ApproveProcedure{p})
	cy := c.w.Cycles[c.w.Pieces["P18-1"].Cycle]
	require.Equal(t, "R12@1", cy.Procedure)
	require.Equal(t, "R12@2", c.w.InForce["M10"])
}

func TestContainersAreOpenedToday(t *testing.T) {
	c := newClinic(t)
	ada, boss := c.actor("ada"), c.actor("boss")
	c.refused("role", ada, OpenContainer{Lot: "T15", Opened: "2026-11-20", Proof: "noted on the tub"})
	c.refused("empty", boss, OpenContainer{Lot: "T15", Opened: "2026-11-20"})
	c.refused("date", boss, OpenContainer{Lot: "T15", Opened: "2026-11-25", Proof: "x"})
	c.do(boss, OpenContainer{Lot: "T15", Opened: "2026-11-20", Proof: "noted on the tub"})
	c.do(ada, StopLot{Lot: "T15", Reason: "smells odd"})
	c.refused("lot_stopped", ada, OpenContainer{Lot: "T15"})
	c.refused("not_disinfectant", ada, OpenContainer{Lot: "T17"})
	c.do(ada, CloseContainer{Container: "B16", Why: "empty"})
	c.refused("already_done", ada, CloseContainer{Container: "B16", Why: "empty"})
}

func TestBlankLabelsBindOnce(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	c.do(ada, IssueBlanks{Codes: []string{"B1", "B2"}, First: 41})
	require.Equal(t, "42", c.w.Labels["B2"].Number)
	c.refused("label_taken", ada, IssueBlanks{Codes: []string{"B1"}, First: 50})
	c.do(ada, OpenContainer{Lot: "T15", Code: "B1"})
	require.Equal(t, CodeContainer, c.w.Labels["B1"].Kind)
	c.refused("label_bound", ada, OpenContainer{Lot: "T15", Code: "B1"})
	c.do(ada, Reissue{Kit: "K18", Kind: CodePiece, Target: "P18-1", Code: "B2", Reason: "worn off"})
	require.NotZero(t, c.w.Labels["CODE17R"].Withdrawn, "the old code ends at once")
	require.Zero(t, c.w.Labels["CODE17P"].Withdrawn)
}

func TestKitsAreRegisteredOnce(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	next := func(number, serial string) RegisterKit {
		return RegisterKit{Number: number, Recorder: NewPiece{Model: "M10", Serial: serial}}
	}
	c.refused("number_taken", boss, next("17", "R-2"))
	c.refused("serial_taken", boss, next("18", "R-0017"))
	c.refused("number", boss, next("", "R-2"))
	c.refused("number", boss, next("a b", "R-2"))
	c.refused("serial", boss, next("18", "R 2"))
	c.refused("unknown", boss, RegisterKit{Number: "18", Recorder: NewPiece{Model: "M99", Serial: "R-2"}})
	c.refused("model", boss, RegisterKit{Number: "18", Recorder: NewPiece{Model: "M11", Serial: "R-2"}})
	c.do(boss, next("18", "R-2"))
}

// Opening balances take kits as they are, marked as taken over (P3).
func TestOpeningBalances(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	kit := func(number string, o Opening) RegisterKit {
		return RegisterKit{Number: number, Opening: &o,
			Recorder: NewPiece{Model: "M10", Serial: "S" + number, Cycles: 12, Least: true}}
	}
	c.do(boss, kit("20", Opening{Out: "2026-11-10", Due: "2026-11-24", Wearer: "w"}))
	c.do(boss, kit("21", Opening{Ready: "2026-12-01"}))
	c.refused("opening", boss, kit("22", Opening{Ready: "2026-12-01", Out: "2026-11-10"}))
	c.refused("date", boss, kit("23", Opening{Out: "2026-11-25"}))
	c.refused("date", boss, kit("24", Opening{Ready: "2026-11-23"}))
	for _, k := range c.w.Kits {
		p := c.w.Pieces[k.Pieces[0]]
		switch k.Number {
		case "20":
			require.Equal(t, Issued, KitState(k, c.w.Pieces))
			require.True(t, c.w.Loans[k.Loan].TakenOver)
			require.True(t, p.TakenOver && p.AtLeast)
			c.do(c.actor("dan"), TakeBack{Kit: k.ID})
			require.False(t, c.w.Pieces[p.ID].TakenOver)
		case "21":
			require.True(t, CanHandOut(c.w, k, c.now).Released)
			later := c.now
			later.UTC = dayStart("2026-12-02", c.now)
			require.Equal(t, "lapsed", CanHandOut(c.w, k, later).Rule)
			c.refusedAt(later, "taken_over", c.actor("ada"), Recheck{Kit: k.ID})
		}
	}
}

func (c *clinic) refusedAt(now Now, rule string, actor Actor, cmd Command) {
	_, p := Decide(c.w, cmd, actor, now, 999)
	require.NotNil(c.t, p)
	require.Equal(c.t, rule, p.Rule)
}

// GS1 element strings: the example number of the GS1 General Specifications, check digits
// computed by its rule (check values of the labels reference); other agencies kept as read.
func TestUDI(t *testing.T) {
	for body, digit := range map[string]byte{"950600013435": '2', "0950600013435": '2',
		"9638507": '4', "0952123454321": '3', "10614141123456789": '7'} {
		require.Equal(t, digit, gs1CheckDigit(body), body)
	}
	for _, text := range []string{"]d201095060001343521725113010AB\x1d21S-7/9",
		"(01)09506000134352(17)251130(10)AB(21)S-7/9", "0109506000134352" + "17251130" + "10AB\x1d21S-7/9"} {
		u, p := ParseUDI(text)
		require.Nil(t, p, text)
		require.Equal(t, UDI{GTIN: "09506000134352", Expires: "251130", Lot: "AB", Serial: "S-7/9"}, u)
	}
	for _, bad := range []string{"0109506000134353", "01095060001343521725", "(01)0950600013435",
		"010950600013435299X"} {
		_, p := ParseUDI(bad)
		require.NotNil(t, p, bad)
	}
	kept, p := checkUDI("+A123BJC5D6E71G")
	require.Nil(t, p)
	require.Equal(t, "+A123BJC5D6E71G", kept)
}

func FuzzParseUDI(f *testing.F) {
	f.Add("]d2010950600013435217251130")
	f.Add("(01)09506000134352(10)")
	f.Fuzz(func(t *testing.T, s string) {
		if u, p := ParseUDI(s); p == nil && len(u.GTIN) != 14 {
			t.Fatal(u)
		}
	})
}

func TestSettingsAreChecked(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	good := c.w.Settings
	good.LabelLine = "Ring 555 0100"
	c.do(boss, SetSettings{good})
	for rule, edit := range map[string]func(*Settings){
		"text":   func(s *Settings) { s.LabelLine = "Ring 555 01000" },
		"zone":   func(s *Settings) { s.Zone = "Moon/Base" },
		"number": func(s *Settings) { s.IdleMin = 61 },
	} {
		s := good
		edit(&s)
		c.refused(rule, boss, SetSettings{s})
	}
	s := good
	s.Site, s.Demo = "other", true
	c.do(boss, SetSettings{s})
	require.Equal(t, "s1", c.w.Settings.Site, "a site never changes its name")
	require.False(t, c.w.Settings.Demo, "a real site never becomes a demo")
}

// Every act has a row of rights, and every command belongs to one.
func TestTheTableOfRights(t *testing.T) {
	seen := map[Act]bool{}
	for _, r := range Rights() {
		require.False(t, seen[r.Act], r.Act)
		seen[r.Act] = true
		require.NotEmpty(t, r.Roles, r.Act)
		require.NotEmpty(t, r.Words, r.Act)
	}
	c := newClinic(t)
	_, p := Decide(c.w, ReleaseKit{Kit: "K18"}, Actor{}, c.now, 1)
	require.Equal(t, Forbidden, p.Code)
	gone := *c.w.People["ada"]
	gone.Left = "2026-11-23"
	_, p = Decide(c.w, Move{Kit: "K18", Place: "x"}, Actor{Person: &gone}, c.now, 1)
	require.Equal(t, "left", p.Rule)
}

func TestStatesRoundTrip(t *testing.T) {
	for _, s := range States() {
		back, err := ParseState(s.String())
		require.NoError(t, err)
		require.Equal(t, s, back)
	}
	for _, bad := range []string{"", "Released", "released ", "no state (0)"} {
		_, err := ParseState(bad)
		require.Error(t, err, bad)
	}
	_, err := State(0).MarshalText()
	require.Error(t, err)
}

// One spelling for moments and days (RFC 3339 with three digits and Z).
func TestMomentsHaveOneSpelling(t *testing.T) {
	for _, bad := range []string{"2026-11-24T14:05:00Z", "2026-11-24T14:05:00,000Z",
		"2026-11-24T5:05:00.000Z", "2026-11-24T14:05:00.000+00:00", "2016-12-31T23:59:60.000Z"} {
		_, err := ParseInstant(bad)
		require.Error(t, err, bad)
	}
	i, err := ParseInstant("2026-11-24T14:05:00.123Z")
	require.NoError(t, err)
	require.Equal(t, "2026-11-24T14:05:00.123Z", i.String())
	for _, bad := range []string{"2026-02-30", "26-11-24", "24.11.2026", "2026-11-24 "} {
		_, err := ParseDate(bad)
		require.Error(t, err, bad)
	}
	require.Equal(t, Date("2026-12-08"), Date("2026-11-24").AddDays(14))
	require.Equal(t, 14, Date("2026-11-24").DaysUntil("2026-12-08"))
}

// Only the console makes a demo, and only of a new site.
func TestOnlyTheConsoleMakesADemo(t *testing.T) {
	for _, x := range []struct {
		actor Actor
		demo  bool
	}{{Console(), true}, {Actor{Person: &Person{ID: "S1", Roles: []Role{RoleSupervisor}}}, false}} {
		events, p := Decide(NewWorld(), SetSettings{Settings{Site: "s", Zone: "UTC", Demo: true}},
			x.actor, Now{UTC: dayOne}, 1)
		require.Nil(t, p)
		require.Equal(t, x.demo, events[0].(SettingsSet).Demo)
	}
}
