package web

import (
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

const testDay = "2026-11-24"

func TestTheMorningPageTicksNotesAndHandsOver(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	b.get("/today")
	require.Equal(t, http.StatusOK, b.status, b.body)
	require.Contains(t, b.body, "As of Tuesday, 24 Nov 2026 14:05.")
	require.Contains(t, b.body, "Looked at, and nothing there: lost, and somebody to tell; half done, and whose;")
	require.Contains(t, b.body, "No backup of this folder is known.")
	require.Contains(t, b.body, "No checkpoint has been signed yet.")
	require.Contains(t, b.body, "no wearers’ names, no references")
	require.NotContains(t, b.body, "What is on the daily list?", "the supervisor's")
	require.Less(t, len(b.body), 16_000)

	require.Equal(t, "/today", b.done("/today", "/today/tick", "day", testDay, "tick", "Bench wiped"))
	b.get("/today")
	require.Contains(t, b.body, "Ben Bench, 14:05.")
	b.refused("was ticked by Ben Bench", "/today", "/today/tick", "day", testDay, "tick", "Bench wiped")
	b.refused("not on the daily list", "/today", "/today/tick", "day", testDay, "tick", "Windows")
	b.refused("This page was of 23 Nov 2026", "/today", "/today/tick", "day", "2026-11-23", "tick",
		"Station phone wiped")
	b.done("/today", "/today/tick", "day", testDay, "tick", "Bench wiped", "not", "yes")
	b.get("/today")
	require.NotContains(t, b.body, "Ben Bench, 14:05.")

	b.done("/today", "/today/note", "day", testDay, "note", "The lamp flickers")
	b.refused("The note is empty", "/today", "/today/note", "day", testDay, "note", " ")
	b.refused("Nobody on the staff was chosen", "/today", "/today/hand-over", "day", testDay, "to", "")
	b.done("/today", "/today/hand-over", "day", testDay, "to", reprocess.FirstSupervisorID)
	b.get("/today")
	require.Regexp(t, `(?s)The lamp flickers.*Handed over to Ada Okafor`, b.body)
	require.Equal(t, reprocess.HandedOver{Day: testDay, From: c.newest(reprocess.ActHandOver).By,
		To: reprocess.FirstSupervisorID}, c.newest(reprocess.ActHandOver).Events[0].Event)
}

func TestWhoHasTheMorning(t *testing.T) {
	c := newClinic(t)
	auditor := c.person("Al Audit", "al", reprocess.RoleAuditor)
	auditor.get("/today")
	require.Equal(t, http.StatusForbidden, auditor.status)
	auditor.post("/today/tick", "day", testDay, "tick", "Bench wiped")
	require.Equal(t, http.StatusForbidden, auditor.status)
	c.bench.get("/settings/day")
	require.Equal(t, http.StatusForbidden, c.bench.status)
	c.bench.post("/settings/day", "ticks", "A")
	require.Equal(t, http.StatusForbidden, c.bench.status)
}

func TestTheDailyListIsTheClinics(t *testing.T) {
	s := newSite(t)
	b := s.setUp()
	b.get("/settings/day")
	require.Contains(t, b.body, "Dirty boxes emptied and wiped")
	require.Contains(t, b.body, `value="14:00"`)
	b.refused("is no time of the day", "/settings/day", "/settings/day", "ticks", "Floor mopped",
		"short_from", "2 pm")
	require.Contains(t, b.body, "Floor mopped", "what was typed stays")
	b.refused("stands twice", "/settings/day", "/settings/day", "ticks", "A\nB\n A ")
	b.done("/settings/day", "/settings/day", "ticks", "Floor mopped\r\n\r\nLids shut", "short_from",
		"12:00", "keep_until", "16:30")
	b.get("/today")
	require.Contains(t, b.body, "<strong>Floor mopped</strong>")
	require.Contains(t, b.body, "<strong>Lids shut</strong>")
	require.NotContains(t, b.body, "Bench wiped")
	b.done("/settings", "/settings", "clinic", "North", "zone", "UTC")
	require.Equal(t, "16:30", s.world().Settings.KeepUntil(), "the other settings leave it alone")
}

// What is half done, what waits and what is short stand there; the links fit the reader.
func TestTheMorningShowsWhatIsLeft(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	c.toDrying()
	c.act(reprocess.Wait{Kit: c.kit, Reason: "part", Who: "Milo", Next: testDay})
	b.get("/today")
	require.Contains(t, b.body, "<h2>Half done, and whose</h2>")
	require.Contains(t, b.body, "Recorder next: let it dry, phone next: let it dry. Ben Bench, 0 min ago.")
	require.Contains(t, b.body, "A part to come, Milo, to look at on 24 Nov 2026")
	require.Contains(t, b.body, `href="/kit/`+c.kit+`"`)
	d := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	d.get("/today")
	require.Contains(t, d.body, `href="`+c.desk()+`"`)
	require.NotContains(t, d.body, `href="/kit/`+c.kit+`"`)
}

func TestTheAgeOfBackupAndCheckpoint(t *testing.T) {
	c := newClinic(t)
	_, err := c.store.Checkpoint(c.bench.ctx())
	require.NoError(t, err)
	_, err = sqlite.Backup(c.bench.ctx(), c.dir, filepath.Join(t.TempDir(), "copy"), false)
	require.NoError(t, err)
	two := testStart.Add(-50 * time.Hour)
	require.NoError(t, os.Chtimes(filepath.Join(c.dir, "last-backup.txt"), two, two))
	c.clock.step(5 * time.Minute)
	c.bench.get("/today")
	require.Contains(t, c.bench.body, "Last backup 22 Nov 2026 12:05, 2 days ago.")
	require.Contains(t, c.bench.body, "Last checkpoint 24 Nov 2026 14:05, 5 min ago, over ")
}

// A call is an entry about the loan; no reference and no name stands in it or on the page.
func TestCallsAboutOverdueReturns(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut() // due 1 Dec
	at := "/today/call/" + c.kit
	b.refused("is not due yet", at, at, "loan", c.world().Kits[c.kit].Loan, "result", "reached")
	c.clock.step(8 * 24 * time.Hour) // 2 Dec
	b.still("dana")
	b.get("/today")
	require.Contains(t, b.body, "<h2>Overdue, to call</h2>")
	require.Contains(t, b.body, "Due 1 Dec 2026, 1 day over. Not called yet.")
	loan := c.world().Kits[c.kit].Loan
	b.refused("What came of the call was not said", at, at, "loan", loan)
	b.refused("cannot be the day", at, at, "loan", loan, "result", "will_bring", "on", "2026-12-01")
	require.Contains(t, b.body, `value="2026-12-01"`, "what was typed stays")
	b.refused("nobody promised one", at, at, "loan", loan, "result", "reached", "on", "2026-12-04")
	b.refused("not out on this loan", at, at, "loan", "L1", "result", "reached")
	b.done(at, at, "loan", loan, "result", "not_reached")
	b.get("/today")
	require.Contains(t, b.body, "Called 1 time, last 0 min ago: not reached.")
	b.done(at, at, "loan", loan, "result", "will_bring", "on", "2026-12-03", "note", "after work")
	b.get("/today")
	require.NotContains(t, b.body, "Overdue, to call", "not before the promised day is over")
	b.get(at)
	require.Contains(t, b.body, "Will bring it on 3 Dec 2026")
	require.Contains(t, b.body, "after work")
	require.NotContains(t, b.body, "A-1044")
	c.clock.step(48 * time.Hour) // 4 Dec
	b.still("dana")
	b.get("/today")
	require.Contains(t, b.body, "Called 2 times, last 2 days ago: will bring it on 3 Dec 2026.")
	require.Less(t, len(b.body), 16_000)
	b.get(c.desk())
	b.post(c.desk("back"), "skin", "no", "fault", "no", "missing", "no", "place", "desk")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(at)
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	b.get("/today/call/K0")
	require.Equal(t, http.StatusNotFound, b.status)
}

// Checks of pieces that are out or spare stand there too; a lost kit with data is the first.
func TestTheMorningNamesChecksAndLosses(t *testing.T) {
	c := newClinic(t)
	c.must(reprocess.SetChecks{Model: c.models[0], Checks: []reprocess.CheckRule{
		{Words: "maker's maintenance", Months: 12}}})
	c.bench.get("/today")
	require.Contains(t, c.bench.body, "<h2>Technical checks, due or failed</h2>")
	require.Contains(t, c.bench.body, "Maker&#39;s maintenance was never recorded.")
	require.NotContains(t, c.bench.body, "Lost, and somebody to tell</h2>")
	c.act(reprocess.DeclareMissing{Kit: c.kit, Data: reprocess.DataUnknown})
	c.clock.step(5 * time.Hour)
	c.bench.still("ben")
	c.bench.get("/today")
	require.Regexp(t, `(?s)</p>\s*<div class="sheet">\s*<section>\s*<h2>Lost, and somebody to tell</h2>`,
		c.bench.body)
	require.Contains(t, c.bench.body, "Nobody is told yet: 5 h of 72 h.")
}

// The list of what is overdue leads to the call too.
func TestTheOverdueListLeadsToTheCall(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut()
	c.clock.step(8 * 24 * time.Hour)
	b.still("dana")
	b.get("/overdue")
	require.Contains(t, b.body, `href="/today/call/`+c.kit+`"`)
}
