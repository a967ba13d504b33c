package sqlite

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// look is one request with a session; it gives the rule of the refusal.
func (c *clinic) look(token string, busy bool) string {
	c.Helper()
	s, err := c.SessionOf(ctx, token, busy)
	require.Equal(c, err == nil, s != nil)
	return rule(err)
}

func (c *clinic) settings(idle int) {
	c.Helper()
	c.do(reprocess.SetSettings{Settings: reprocess.Settings{Site: "Main building", Zone: "UTC",
		IdleMin: idle}})
}

// The times are the project's own (OWASP ASVS 5.0.0 7.3.1, 7.3.2 ask only that they are
// written down): common practice for shared devices.
func TestIdleTime(t *testing.T) {
	c := newClinic(t)
	dan := c.person("Dan", "dan", reprocess.RoleFrontDesk)
	both := c.person("Eve", "eve", reprocess.RoleFrontDesk, reprocess.RoleRelease)
	require.NoError(t, c.GiveSecret(ctx, dan, "739164"))
	require.NoError(t, c.GiveSecret(ctx, both, "739164"))
	for _, w := range []struct {
		setting int
		who     string
		idle    time.Duration
	}{
		{0, c.ida, 10 * time.Minute}, {0, dan, 30 * time.Minute}, {0, both, 10 * time.Minute},
		{3, c.ida, 3 * time.Minute}, {3, dan, 30 * time.Minute}, {45, dan, 45 * time.Minute},
		{60, c.ida, time.Hour},
	} {
		c.settings(w.setting)
		token := c.plant(w.who)
		c.clock.pass(w.idle - time.Millisecond)
		s, err := c.SessionOf(ctx, token, false)
		require.NoError(t, err, w)
		require.Equal(t, c.clock.now().UTC.Add(w.idle), s.Ends)
		c.clock.pass(w.idle - time.Millisecond)
		require.Equal(t, "", c.look(token, false), "each request begins the time anew")
		c.clock.pass(w.idle)
		require.Equal(t, "session_idle", c.look(token, false), w)
		require.Equal(t, "signed_out", c.look(token, true), "over is over")
	}
}

// plant begins a session without the work of a sign-in.
func (c *clinic) plant(personID string) string {
	c.Helper()
	token := newToken()
	mac, err := Get[string](ctx, c.Store, reprocess.TableSecretMAC, personID)
	require.NoError(c, err)
	tx, err := c.writeDB.Begin()
	require.NoError(c, err)
	require.NoError(c, c.beginSession(tx, token, personID, c.phone.ID, *mac))
	require.NoError(c, tx.Commit())
	return token
}

func TestARunningWetTimeKeepsASessionAlive(t *testing.T) {
	c := newClinic(t)
	token := c.plant(c.ida)
	for range 4 {
		c.clock.pass(2 * time.Hour)
		who, err := c.SessionPerson(ctx, token)
		require.NoError(t, err)
		require.Equal(t, c.ida, who)
		require.Equal(t, "", c.look(token, true))
	}
	c.clock.pass(4*time.Hour - time.Millisecond)
	s, err := c.SessionOf(ctx, token, true)
	require.NoError(t, err)
	require.Equal(t, s.Started.Add(12*time.Hour), s.Ends, "no longer than twelve hours")
	c.clock.pass(time.Millisecond)
	require.Equal(t, "session_long", c.look(token, true))
	who, err := c.SessionPerson(ctx, token)
	require.NoError(t, err)
	require.Empty(t, who)
}

func TestLastSeenIsWrittenEveryHalfMinute(t *testing.T) {
	c := newClinic(t)
	token := c.plant(c.ida)
	start := c.clock.now().UTC
	for _, w := range []struct {
		pass time.Duration
		seen time.Duration
	}{{0, 0}, {seenEvery - time.Millisecond, 0}, {time.Millisecond, seenEvery},
		{time.Second, seenEvery}} {
		c.clock.pass(w.pass)
		require.Equal(t, "", c.look(token, false))
		require.EqualValues(t, start.Add(w.seen), c.count(`SELECT seen FROM session
			WHERE person = ?`, c.ida))
	}
}

func TestAClockSetBackEndsNoSession(t *testing.T) {
	c := newClinic(t)
	token := c.plant(c.ida)
	c.clock.pass(-5 * time.Hour)
	require.Equal(t, "", c.look(token, false))
}

// What ends a session follows from the ledger, so it ends whichever way the entry came.
func TestWhatEndsASessionAtOnce(t *testing.T) {
	person := func(c *clinic, left reprocess.Date) reprocess.SetPerson {
		return reprocess.SetPerson{Person: reprocess.Person{ID: c.ida, Name: "Ida Lund",
			SignIn: "ida", Roles: []reprocess.Role{reprocess.RoleReprocessing}, Left: left}}
	}
	c := newClinic(t)
	token := c.plant(c.ida)
	c.do(person(c, "2026-11-24"))
	require.Equal(t, "", c.look(token, true), "the last day is a working day")
	c.do(person(c, "2026-11-23"))
	require.Equal(t, "left", c.look(token, true))
	c.do(person(c, ""))
	require.Equal(t, "signed_out", c.look(token, true))

	token = c.plant(c.ida)
	c.do(reprocess.ResetSecret{Person: c.ida})
	require.Equal(t, "secret_changed", c.look(token, true))

	token = c.plant(reprocess.FirstSupervisorID)
	c.do(reprocess.RevokePhone{Phone: c.phone.ID, Reason: "lost"})
	require.Equal(t, "phone_ended", c.look(token, true))
	require.Zero(t, c.count(`SELECT count(*) FROM session`))
}

func TestThePresentEndsForTheLastDayInTheClinicsZone(t *testing.T) {
	c := newClinic(t)
	c.do(reprocess.SetSettings{Settings: reprocess.Settings{Site: "Main building",
		Zone: "Pacific/Auckland"}}) // 13 hours ahead of UTC in November
	c.do(reprocess.SetPerson{Person: reprocess.Person{ID: c.ida, Name: "Ida Lund", SignIn: "ida",
		Roles: []reprocess.Role{reprocess.RoleReprocessing}, Left: "2026-11-24"}})
	token := c.plant(c.ida)
	c.clock.pass(3*time.Hour - time.Millisecond) // 23:59:59.999 there
	require.Equal(t, "", c.look(token, true))
	c.clock.pass(time.Millisecond)
	require.Equal(t, "left", c.look(token, true))
}

func TestSessionsAndFormsSurviveARestart(t *testing.T) {
	c := newClinic(t)
	form := c.FormToken(c.maria.Token)
	c.reopen()
	require.Equal(t, "", c.look(c.maria.Token, false))
	require.True(t, c.CheckForm(c.maria.Token, form))
	_, err := c.PhoneOf(ctx, c.maria.PhoneToken)
	require.NoError(t, err)
	for _, bad := range []string{"", form[1:], form + "A", c.FormToken(newToken()), c.maria.Token} {
		require.False(t, c.CheckForm(c.maria.Token, bad))
	}
	require.False(t, c.CheckForm("", c.FormToken("")), "no session, no form")
	require.NotContains(t, form, c.maria.Token)
}

func TestSignOutEverywhere(t *testing.T) {
	c := newClinic(t)
	c.set(`UPDATE session SET phone = 'T0'`) // Maria sits elsewhere
	a := c.plant(c.ida)
	c.set(`UPDATE session SET phone = 'T1' WHERE person = ?`, c.ida)
	b := c.plant(c.ida)
	require.Equal(t, 3, c.count(`SELECT count(*) FROM session`))
	require.NoError(t, c.SignOutEverywhere(ctx, c.ida))
	require.Equal(t, "signed_out", c.look(a, true))
	require.Equal(t, "signed_out", c.look(b, true))
	require.Equal(t, 1, c.count(`SELECT count(*) FROM session`))
}

func TestOldSessionsAreCleared(t *testing.T) {
	c := newClinic(t)
	c.set(`UPDATE session SET phone = 'T0'`)
	c.clock.pass(12 * time.Hour)
	c.plant(c.ida)
	require.Equal(t, 1, c.count(`SELECT count(*) FROM session`))
}

func TestNoTokenNoSession(t *testing.T) {
	c := newClinic(t)
	for _, token := range []string{"", "x", newToken(), c.maria.PhoneToken, c.maria.Token + "A"} {
		require.Equal(t, "signed_out", c.look(token, true))
		who, err := c.SessionPerson(ctx, token)
		require.NoError(t, err)
		require.Empty(t, who)
	}
	require.Equal(t, "", c.look(c.maria.Token, false))
}

// A wet time that somebody started keeps them signed in while it has to last; the idle time
// begins when it has.
func TestAStartedWetTimeIsNotIdle(t *testing.T) {
	b := newBench(t)
	b.must(b.boss, reprocess.SetSettings{Settings: reprocess.Settings{Site: "Main building",
		Zone: "UTC", IdleMin: 1}})
	kit := b.register("17")
	for _, s := range b.passOf(kit, b.pieceOf(kit), "17")[:2] {
		b.must(b.boss, s.cmd)
	}
	token := newToken()
	tx, err := b.writeDB.Begin()
	require.NoError(t, err)
	require.NoError(t, b.beginSession(tx, token, reprocess.FirstSupervisorID, "PH1",
		strings.Repeat("0", 64)))
	require.NoError(t, tx.Commit())
	b.must(b.boss, reprocess.WetNow{Kit: kit, Pieces: []string{b.pieceOf(kit)},
		Container: b.container}) // 60 s, as the procedure's floor and the claims of the product
	wet := b.clock.now().UTC
	at := func(after time.Duration) string {
		b.clock.ms.Store(int64(wet.Add(after)))
		_, err := b.writeDB.Exec(`UPDATE session SET seen = ?`, wet)
		require.NoError(t, err)
		_, err = b.SessionOf(ctx, token, false)
		return rule(err)
	}
	require.Equal(t, "", at(time.Minute-time.Millisecond))
	require.Equal(t, "", at(time.Minute), "idle, but the wet time runs")
	require.Equal(t, "", at(2*time.Minute-time.Millisecond))
	require.Equal(t, "session_idle", at(2*time.Minute))
}

func TestWhichWetTimesRun(t *testing.T) {
	rec := func(kind reprocess.RecordKind, by string, at reprocess.Instant) reprocess.Record {
		return reprocess.Record{Kind: kind, By: by, Mark: reprocess.Mark{At: at}, NeededS: 60}
	}
	wetNow, dry := reprocess.RecWetNow, reprocess.RecSeenDry
	undone := rec(wetNow, "S5", 1000)
	undone.Undone = true
	for _, c := range []struct {
		about   string
		records []reprocess.Record
		until   reprocess.Instant
	}{
		{"none", nil, 0},
		{"hers", []reprocess.Record{rec(wetNow, "S5", 1000)}, 61_000},
		{"looked at", []reprocess.Record{rec(wetNow, "S5", 1000),
			rec(reprocess.RecLooksWet, "S6", 5000)}, 61_000},
		{"again", []reprocess.Record{rec(wetNow, "S5", 1000), rec(wetNow, "S5", 9000)}, 69_000},
		{"seen dry", []reprocess.Record{rec(wetNow, "S5", 1000), rec(dry, "S6", 5000)}, 0},
		{"not watched", []reprocess.Record{rec(wetNow, "S5", 1000),
			rec(reprocess.RecNotWatched, "S5", 5000)}, 0},
		{"somebody's", []reprocess.Record{rec(wetNow, "S6", 1000)}, 0},
		{"taken over", []reprocess.Record{rec(wetNow, "S5", 1000), rec(wetNow, "S6", 2000)}, 0},
		{"taken back", []reprocess.Record{undone}, 0},
	} {
		require.Equal(t, c.until, wetRunsUntil(&reprocess.Cycle{Records: c.records}, "S5"), c.about)
	}
}
