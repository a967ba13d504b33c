package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The edges of days, rights, calls after a call-back, learning and pairs. Sources: ISO 8601 for
// days and moments; P1, P4 and P19 of the practice notes; the figures (1990 to 2199, a day to
// call) are our own.

func TestDaysAreRealAndOfOurTime(t *testing.T) {
	for text, ok := range map[string]bool{"": true, "1989-12-31": false, "1990-01-01": true,
		"2199-12-31": true, "2200-01-01": false, "2026-02-29": false, "2028-02-29": true,
		"2026-11-24": true, "2026-1-24": false, "24.11.2026": false, "2026-11-24 ": false,
		"soon": false, "٢٠٢٦-١١-٢٤": false} {
		d, err := ParseDate(text)
		require.Equal(t, ok, err == nil, "%q", text)
		if ok {
			require.EqualValues(t, text, d)
			continue
		}
		require.Empty(t, d)
		require.ErrorContains(t, err, "is not a day like 2026-11-24")
	}
}

func TestOtherSpellingsOfAMoment(t *testing.T) {
	for text, ok := range map[string]bool{"": true, "2026-11-24T14:05:00.000Z": true,
		"2026-11-24T14:05:00Z": false, "2026-11-24T14:05:00,000Z": false,
		"2026-11-24T24:00:00.000Z": false, "2026-11-24T14:05:00.000+01:00": false, "noon": false} {
		i, err := ParseInstant(text)
		require.Equal(t, ok, err == nil, "%q", text)
		if ok {
			require.Equal(t, text, i.String())
		} else {
			require.Zero(t, i)
		}
	}
}

func TestCountingDaysNeedsBothDays(t *testing.T) {
	for _, x := range []struct {
		from, to Date
		days     int
	}{{"2026-11-24", "2026-11-24", 0}, {"2026-11-24", "2026-11-25", 1},
		{"2026-11-24", "2026-11-23", -1}, {"2026-02-28", "2026-03-01", 1},
		{"2028-02-28", "2028-03-01", 2}, {"", "2026-11-24", 0}, {"2026-11-24", "", 0}, {"", "", 0},
		{"some day", "2026-11-24", 0}, {"2026-11-24", "some day", 0}} {
		require.Equal(t, x.days, x.from.DaysUntil(x.to), "%+v", x)
	}
	require.Empty(t, Date("").AddDays(1))
	require.Empty(t, Date("some day").AddDays(1))
	require.EqualValues(t, "2027-01-01", Date("2026-12-31").AddDays(1))
}

func TestAnActThatIsNobodys(t *testing.T) {
	c := newClinic(t)
	may := func(a Actor) *Problem { return may(&Case{W: c.w, Actor: a, Now: c.now}, "no_such_act") }
	require.Equal(t, "nobody", may(c.actor("boss")).Rule, "no rights but the listed")
	require.Equal(t, "nobody", may(Actor{}).Rule)
}

func TestARoleListReadsAsASentence(t *testing.T) {
	require.Equal(t, "", roleList(nil))
	require.Equal(t, "release", roleList([]Role{RoleRelease}))
	require.Equal(t, "release or a supervisor", roleList([]Role{RoleRelease, RoleSupervisor}))
	require.Equal(t, "release, a technician or a supervisor",
		roleList([]Role{RoleRelease, RoleTechnician, RoleSupervisor}))
}

// --- call-backs ---

// calledBack is one kit of two pieces, out with a wearer and called back by entry 7.
func calledBackKit() (*World, *Kit) {
	w := NewWorld()
	k := &Kit{ID: "K1", Pieces: []string{"a", "b"}, Loan: "L"}
	w.Kits["K1"], w.Loans["L"] = k, &Loan{ID: "L"}
	w.Pieces["a"] = &Piece{ID: "a", State: Recalled, Called: &CalledBack{Seq: 7, At: dayOne}}
	w.Pieces["b"] = &Piece{ID: "b", State: Issued}
	return w, k
}

// Only what is out and called back now is on the list, however it got there.
func TestWhichKitIsCalledBack(t *testing.T) {
	for name, x := range map[string]struct {
		spoil func(*World)
		ok    bool
	}{
		"called back":       {func(*World) {}, true},
		"no loan":           {func(w *World) { delete(w.Loans, "L") }, false},
		"back again":        {func(w *World) { w.Loans["L"].Back = dayOne }, false},
		"not called":        {func(w *World) { w.Pieces["a"].Called = nil }, false},
		"no longer called":  {func(w *World) { w.Pieces["a"].State = Returned }, false},
		"a piece not known": {func(w *World) { delete(w.Pieces, "b") }, true},
	} {
		w, k := calledBackKit()
		x.spoil(w)
		_, ok := CallBackOf(w, k, Now{UTC: dayOne})
		require.Equal(t, x.ok, ok, name)
	}
	w, k := calledBackKit()
	for seq, newest := range map[int64]int64{6: 7, 8: 8} {
		w.Pieces["b"] = &Piece{State: Recalled, Called: &CalledBack{Seq: seq, At: dayOne}}
		b, _ := CallBackOf(w, k, Now{UTC: dayOne})
		require.Equal(t, newest, b.What.Seq, "the newest of its pieces speaks")
	}
}

// A day to call from the call-back, and again from a call; a promised day is waited for. A call
// of before the call-back was about something else.
func TestUntilWhenSomebodyCalls(t *testing.T) {
	const day = Instant(24 * 3600 * 1000)
	for name, x := range map[string]struct {
		call     *Call
		now      Instant
		by       Instant
		late     bool
		answered bool
	}{
		"not yet":                   {nil, dayOne + day - 1, dayOne + day, false, false},
		"a day later":               {nil, dayOne + day, dayOne + day, true, false},
		"a call before it":          {&Call{At: dayOne - 1}, dayOne + day, dayOne + day, true, false},
		"a call in its millisecond": {&Call{At: dayOne}, dayOne, dayOne + day, false, true},
		"a call since":              {&Call{At: dayOne + 5}, dayOne + day, dayOne + day + 5, false, true},
		"promised for today":        {&Call{At: dayOne, On: "2026-11-24"}, dayOne, 0, false, true},
		"promised for yesterday":    {&Call{At: dayOne, On: "2026-11-23"}, dayOne, 0, true, true},
	} {
		w, k := calledBackKit()
		if x.call != nil {
			w.Loans["L"].Calls = []Call{*x.call}
		}
		b, ok := CallBackOf(w, k, Now{UTC: x.now})
		require.True(t, ok, name)
		require.Equal(t, []any{x.by, x.late, x.answered}, []any{b.By, b.Late, b.Last != nil}, name)
	}
}

// --- learning (P19) ---

func TestTheEndOfLearningIsWarnedAboutToo(t *testing.T) {
	p := Person{Competences: []Competence{{Procedure: "R", From: "2026-01-01", Until: "2026-12-01",
		Learning: true}}}
	require.EqualValues(t, "2026-12-01", p.Ends("R", "2026-11-24"))
	require.Empty(t, p.Ends("R", "2026-12-02"), "it has ended")
	require.Empty(t, p.Ends("S", "2026-11-24"), "it never began")
}

// What was taken back taught nobody anything.
func TestATapTakenBackCountsForNoLearner(t *testing.T) {
	for undone, cycles := range map[bool]int{false: 1, true: 0} {
		w := NewWorld()
		w.People["lea"] = &Person{ID: "lea"}
		w.countSupervised(&Cycle{Procedure: "R12@1",
			Records: []Record{{By: "lea", Learning: true, Undone: undone}, {By: "ada"}}})
		require.Equal(t, cycles, w.People["lea"].SupervisedCycles("R12"))
	}
}

// Whatever makes a learner competent is a sign-off: a new row, and an old one whose end is moved
// on. What shortens, repeats or adds learning is none.
func TestWhatWouldSkipASignOff(t *testing.T) {
	learning := Competence{Procedure: "R12", From: "2026-11-01", Learning: true}
	old := Competence{Procedure: "R12", From: "2025-01-01", Until: "2025-12-31"}
	later := Competence{Procedure: "R12", From: "2026-12-01"}
	fresh := func(proc string) Competence { return Competence{Procedure: proc, From: "2026-11-02"} }
	until := func(c Competence, day Date) Competence { c.Until = day; return c }
	for name, x := range map[string]struct {
		next []Competence
		ok   bool
	}{
		"unchanged":            {[]Competence{learning, old, later}, true},
		"learning prolonged":   {[]Competence{until(learning, "2027-01-01"), old, later}, true},
		"learning twice":       {[]Competence{learning, learning, old, later}, true},
		"an end put earlier":   {[]Competence{learning, until(old, "2025-06-30"), later}, true},
		"an end put":           {[]Competence{learning, old, until(later, "2027-01-01")}, true},
		"an end moved on":      {[]Competence{learning, until(old, "2027-12-31"), later}, false},
		"an end taken away":    {[]Competence{learning, until(old, ""), later}, false},
		"a row of its own":     {[]Competence{learning, old, later, fresh("R12")}, false},
		"of another procedure": {[]Competence{learning, old, later, fresh("R13")}, true},
	} {
		c := newClinic(t)
		lea := *c.w.People["dan"]
		lea.ID, lea.SignIn, lea.Competences = "lea", "lea", []Competence{learning, old, later}
		c.w.People["lea"] = &lea
		changed := lea
		changed.Competences = x.next
		if !x.ok {
			c.refused("sign_off", c.actor("boss"), SetPerson{changed})
			continue
		}
		_, p := c.try(c.actor("boss"), SetPerson{changed})
		require.Nil(t, p, name)
	}
}

// --- pairs ---

// The recorder's procedure says whether a pair is wanted; without one, or without a phone, no.
func TestWhoseProcedureWantsThePair(t *testing.T) {
	c := newClinic(t)
	k := c.w.Kits["K18"]
	rec, phone := c.w.Procedures["R12@1"], c.w.Procedures["R13@1"]
	for _, pieces := range [][]string{{"P18-1", "P18-2"}, {"P18-2", "P18-1"},
		{"gone", "P18-1", "P18-2"}} {
		k.Pieces = pieces
		for _, wants := range []bool{true, false} {
			rec.PairScan, phone.PairScan = wants, !wants
			require.Equal(t, wants, c.w.WantsPair(k), "%v", pieces)
		}
	}
	rec.PairScan, k.Pieces = true, []string{"P18-1"}
	require.False(t, c.w.WantsPair(k), "nothing to pair it with")
	k.Pieces = []string{"P18-1", "P18-2"}
	delete(c.w.InForce, "M10")
	require.False(t, c.w.WantsPair(k), "no procedure says so")
}

// What is entered from a sheet was packed without a scan; the release asks for it, once.
func TestAPairFromPaperIsAskedAtTheRelease(t *testing.T) {
	c := newClinic(t)
	for _, id := range []string{"R12@1", "R13@1"} {
		c.w.Procedures[id].PairScan = true
	}
	k := c.w.Kits["K18"]
	for past, rule := range map[bool]string{false: "pair", true: ""} {
		p := pack().pairFirst(&Case{W: c.w, Now: c.now, past: past}, k)
		require.Equal(t, rule == "", p == nil)
	}
	p := RecordStep{Step: StepDrying}.pairFirst(&Case{W: c.w, Now: c.now}, k)
	require.Nil(t, p)
	ask := func(piece string) *Problem {
		return gatePair(&gateFacts{c: &Case{W: c.w, Now: c.now}, kit: k, piece: c.w.Pieces[piece]})
	}
	require.Equal(t, "pair", ask("P18-1").Rule)
	require.Nil(t, ask("P18-2"), "it was said with the recorder")
}

// A minute is a minute: what the edges above count in.
func TestAddingToAMoment(t *testing.T) {
	require.Equal(t, dayOne+60000, dayOne.Add(time.Minute))
	require.Equal(t, -time.Minute, dayOne.Sub(dayOne+60000))
}
