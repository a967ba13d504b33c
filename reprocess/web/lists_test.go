package web

import (
	"context"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// another registers one more kit of the same models, and works on it from then on.
func (c *clinic) another(number string, n byte) {
	c.t.Helper()
	c.codeR, c.codeP = labelCode(c.t, n), labelCode(c.t, n+1)
	k := c.must(reprocess.RegisterKit{Number: number, Place: "shelf A",
		Recorder: reprocess.NewPiece{Model: c.models[0], Serial: "R-" + number, Code: c.codeR},
		Phone:    &reprocess.NewPiece{Model: c.models[1], Serial: "F-" + number, Code: c.codeP}}).
		Events[0].Event.(reprocess.KitRegistered)
	c.kit, c.recorder, c.phone = k.Kit.ID, k.Pieces[0].ID, k.Pieces[1].ID
}

// still signs somebody in again when the clock has ended the session.
func (b *browser) still(name string) {
	b.site.t.Helper()
	if b.get("/"); b.status != http.StatusOK {
		b.signIn(name, testSecret)
	}
}

// Two taps from the sign-in: the place at the foot of every page, and the kit.
func TestReadyList(t *testing.T) {
	c := newClinic(t)
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get("/ready")
	require.Contains(t, b.body, "0 ready, 0 coming from the bench, 0 out")
	require.Contains(t, b.body, "No kit can be handed out now.")
	c.another("20", 40)
	c.release()
	first := c.desk()
	c.another("18", 20)
	c.release()
	c.another("19", 30)
	c.toDrying()
	b.still("dana")
	b.get("/")
	require.Contains(t, b.body, `href="/ready"`)
	b.get("/ready")
	require.Contains(t, b.body, "2 ready, 1 coming from the bench, 0 out")
	require.Contains(t, b.body, "<h2>Model recorder</h2>")
	require.Less(t, strings.Index(b.body, first), strings.Index(b.body, c2(t, c, "18")),
		"the oldest release first, not the lowest number")
	require.Regexp(t, `Shelf A, cell lasts 7 days, phone 93\x{00a0}% \d+ min ago. Good until 24 Dec 2026.`, b.body)
	b.get("/ready?days=7")
	require.Contains(t, b.body, first)
	b.get("/ready?days=8")
	require.NotContains(t, b.body, first)
	b.get("/ready?days=x")
	require.Equal(t, http.StatusBadRequest, b.status)
	c.clock.step(31 * 24 * time.Hour)
	b.still("dana")
	b.get("/ready")
	require.Contains(t, b.body, "0 ready", "lapsed ones are not in it")
}

// c2 is the desk's address of a kit by its number.
func c2(t *testing.T, c *clinic, number string) string {
	t.Helper()
	k, err := c.store.KitByNumber(context.Background(), c.world().Settings.Site, number)
	require.NoError(t, err)
	return deskAt(k.ID)
}

// Due on the day itself is not overdue; the reference is shown only after an entry stands.
func TestOverdueAndTheLookUp(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut()
	c.clock.step(7 * 24 * time.Hour)
	b.still("dana")
	b.get("/overdue")
	require.Contains(t, b.body, "Nothing is overdue.")
	c.clock.step(24 * time.Hour)
	b.still("dana")
	b.get("/overdue")
	require.Contains(t, b.body, "Due 1 Dec 2026, 1 day over.")
	require.NotContains(t, b.body, "A-1044")
	require.Equal(t, 0, c.count(reprocess.ActView, reprocess.ResultDone))
	b.tap("Look up the wearer")
	require.Equal(t, http.StatusOK, b.status, b.body)
	require.Contains(t, b.body, "A-1044")
	require.Equal(t, "no-store", b.header.Get("Cache-Control"))
	require.Equal(t, 1, c.count(reprocess.ActView, reprocess.ResultDone))
	e := c.newest(reprocess.ActView)
	require.Equal(t, c.kit, e.Kit)
	require.Equal(t, "Dana Desk", e.Name)

	b.get("/overdue")
	b.post("/overdue/wearer", "kit", c.kit, "loan", "L0")
	require.Equal(t, http.StatusNotFound, b.status)
	require.NotContains(t, b.body, "A-1044")

	c.bench.still("ben")
	c.bench.get("/overdue")
	require.NotContains(t, c.bench.body, "Look up the wearer", "not among his rights")
	c.bench.post("/overdue/wearer", "kit", c.kit, "loan", c.world().Kits[c.kit].Loan)
	require.Equal(t, http.StatusForbidden, c.bench.status)
}

func TestBenchShowsEachKitWhereItStands(t *testing.T) {
	c := newClinic(t)
	c.toDrying()
	half := kitAt(c.kit)
	c.another("18", 20)
	c.step([]string{c.recorder, c.phone}, reprocess.StepReceipt, "condition", "whole",
		"recording", "arrived", "old_cell", "yes")
	c.step([]string{c.recorder, c.phone}, reprocess.StepCleaning, "clean", "yes", "parts_clean", "yes")
	c.act(reprocess.WetNow{Kit: c.kit, Pieces: []string{c.phone}, Container: c.tub})
	c.clock.step(20 * time.Second)
	c.act(reprocess.WetNow{Kit: c.kit, Pieces: []string{c.recorder}, Container: c.tub})
	c.another("19", 30)
	c.act(reprocess.TakeBack{Kit: c.kit, Return: reprocess.Return{Place: "dirty box"}})
	c.act(reprocess.Wait{Kit: c.kit, Reason: "charging", Who: "Ina", Next: "2026-11-24"})
	c.another("21", 40)
	c.act(reprocess.PutOnHold{Kit: c.kit, Piece: c.recorder, Reason: "cracked"})
	c.another("22", 50)
	c.toRelease()
	b := c.bench
	b.still("ben")
	b.get("/bench")
	require.Equal(t, http.StatusOK, b.status, b.body)
	phone, recorder := strings.Index(b.body, "18 phone"), strings.Index(b.body, "18 recorder")
	require.Positive(t, phone)
	require.Less(t, phone, recorder, "the next to finish first")
	for heading, line := range map[string]string{
		"Half done": half, "In the box": "In the house for",
		"Waiting, to look at today": "Charging, Ina, to look at on 24 Nov 2026.",
		"On hold":                   "Housing cracked", "Awaiting release": "Every step is done."} {
		require.Contains(t, b.body, "<h2>"+heading+"</h2>")
		require.Contains(t, b.body, line)
	}
	require.Contains(t, b.body, "not opened.")
	require.Contains(t, b.body, "Ben Bench,")
	require.Contains(t, b.body, `href="/sign"`)
	require.Less(t, len(b.body), 50_000)
}

func TestAnIdleBench(t *testing.T) {
	c := newClinic(t)
	c.release()
	c.bench.get("/bench")
	require.Contains(t, c.bench.body, "Nothing waits at the bench.")
}

// Times are written in their largest unit; our own choice.
func TestSpan(t *testing.T) {
	at := reprocess.InstantOf(testStart)
	for d, want := range map[time.Duration]string{-time.Minute: "0 min", 59 * time.Second: "0 min",
		59 * time.Minute: "59 min", time.Hour: "1 h", 47*time.Hour + 59*time.Minute: "47 h",
		48 * time.Hour: "2 days"} {
		require.Equal(t, want, span(at, at.Add(d)))
	}
	require.Equal(t, "1 day", count(1, "day", "days"))
	require.Equal(t, "Éclair", upper("éclair"))
	require.Empty(t, upper(""))
}

// Scan, scan, scan: each post takes one back; the other label of the same kit does not set
// the clocks anew; what cannot be found leaves the list as it is.
func TestTakingInMany(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut()
	first := c.codeP
	b.get("/take-in")
	require.Contains(t, b.body, "Taken in by you today: 0 kits")
	require.Contains(t, b.body, "autofocus")
	b.post("/take-in", "find", "17", "place", "dirty box")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(b.header.Get("Location"))
	require.Contains(t, b.body, "Taken in by you today: 1 kit")
	back := c.world().Kits[c.kit].Back
	require.Equal(t, reprocess.Return{Skin: "not_asked", Fault: "not_asked", Missing: "not_asked",
		Place: "dirty box"}, *c.world().Loans[c.world().Kits[c.kit].Loan].Return)
	c.clock.step(time.Minute)
	b.post("/take-in", "find", first, "place", "dirty box")
	b.get(b.header.Get("Location"))
	require.Contains(t, b.body, "Kit 17 is in already")
	require.Equal(t, back, c.world().Kits[c.kit].Back)
	b.post("/take-in", "find", "99", "place", "ward 4")
	require.Equal(t, http.StatusNotFound, b.status)
	require.Contains(t, b.body, `value="99"`)
	require.Contains(t, b.body, `value="ward 4"`)
	c.another("18", 20)
	b.get("/take-in")
	b.post("/take-in", "find", c.codeR, "place", "")
	b.get(b.header.Get("Location"))
	require.Contains(t, b.body, "Taken in by you today: 2 kits")
	require.Contains(t, b.body, "It was not recorded as out.")
	b.tap("Parcel opened now")
	require.Contains(t, b.body, "Opened 24 Nov 2026")
	require.Equal(t, c.clock.Now().UTC, c.world().Kits[c.kit].Opened, "the newest line is the first")
	b.post("/take-in/opened", "kit", c.kit)
	require.Equal(t, http.StatusConflict, b.status)
}

// The list takes what is unremarkable; the others are named with their sentence, and what was
// signed before stands, one entry each.
func TestSigningAList(t *testing.T) {
	c := newClinic(t)
	c.toRelease()
	one := c.kit
	c.another("18", 20)
	c.toRelease()
	two := c.kit
	c.another("19", 30)
	c.act(reprocess.TakeBack{Kit: c.kit, Return: reprocess.Return{Flags: []string{"mrsa-vre-cre"}}})
	c.toRelease()
	b := c.bench
	b.still("ben")
	b.get("/sign")
	require.Equal(t, http.StatusOK, b.status, b.body)
	require.Equal(t, 2, strings.Count(b.body, `type="checkbox"`))
	require.NotContains(t, b.body, "checked", "nothing is ticked for anybody")
	require.Contains(t, b.body, "wet 1 min 01 s of 1 min, lot W-77")
	require.Contains(t, b.body, "To be opened one by one")

	b.post("/sign", "secret", testSecret)
	require.Equal(t, http.StatusBadRequest, b.status)
	b.post("/sign", "kit", one)
	require.Equal(t, http.StatusForbidden, b.status)
	require.Contains(t, b.body, `value="`+one+`" checked`, "what was ticked stays")
	b.post("/sign", "kit", one, "secret", "not the secret")
	require.GreaterOrEqual(t, b.status, 400)
	require.Equal(t, 0, c.count(reprocess.ActRelease, reprocess.ResultDone))
	c.clock.step(time.Minute)

	b.get("/sign")
	c.must(reprocess.PutOnHold{Kit: two, Piece: c.world().Kits[two].Pieces[0], Reason: "crack"})
	b.post("/sign", "kit", one, "kit", two, "kit", c.kit, "secret", testSecret)
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "Released: 17. These stand.")
	require.Contains(t, b.body, "Kit 18 is not released. ")
	require.Contains(t, b.body, "Kit 19 is not released. Recorder: precautions were told for it")
	require.Equal(t, 1, c.count(reprocess.ActRelease, reprocess.ResultDone))
	require.Equal(t, 2, c.count(reprocess.ActRelease, reprocess.ResultRefused))
	require.True(t, c.newest(reprocess.ActRelease).Signed)
}

func TestSigningAllOfAList(t *testing.T) {
	c := newClinic(t)
	c.toRelease()
	one := c.kit
	c.another("18", 20)
	c.toRelease()
	c.bench.still("ben")
	c.bench.get("/sign")
	c.bench.post("/sign", "kit", one, "kit", c.kit, "secret", testSecret)
	require.Equal(t, http.StatusSeeOther, c.bench.status, c.bench.body)
	c.bench.get("/sign")
	require.Contains(t, c.bench.body, "Released: 17, 18.")
	require.Contains(t, c.bench.body, "No kit can be signed in a list now.")
	require.Equal(t, 2, c.count(reprocess.ActRelease, reprocess.ResultDone))
}

var servedAt = regexp.MustCompile(`data-now="\d+"`)

// public asks the public page as a stranger's browser does.
func (c *clinic) public(code string) (status int, body string) {
	c.t.Helper()
	b := c.browser()
	b.get("/p/" + code)
	require.Empty(c.t, b.header.Values("Set-Cookie"))
	require.Equal(c.t, "no-store", b.header.Get("Cache-Control"))
	require.Contains(c.t, b.header.Get("X-Robots-Tag"), "noindex")
	return b.status, servedAt.ReplaceAllString(b.body, "")
}

// Off by default: whom to call, and nothing about any kit.
func TestThePublicPageIsOffByDefault(t *testing.T) {
	c := newClinic(t)
	c.release()
	for _, code := range []string{c.codeR, labelCode(t, 99), "x"} {
		status, body := c.public(code)
		require.Equal(t, http.StatusOK, status)
		require.NotContains(t, body, "eleased")
		require.Contains(t, body, "Please ")
		require.NotContains(t, body, "17")
		require.NotContains(t, body, "/sign-in")
	}
}

// On: the answer and the time. Unknown, withdrawn and not released cannot be told apart.
func TestThePublicPageTellsNothingElse(t *testing.T) {
	c := newClinic(t)
	s := c.world().Settings
	s.PublicPage, s.Contact, s.Clinic = true, "555 0100", "Example clinic"
	c.must(reprocess.SetSettings{Settings: s})
	_, held := c.public(c.codeR)
	_, unknown := c.public(labelCode(t, 99))
	_, broken := c.public("x")
	c.must(reprocess.Reissue{Target: c.phone, Kind: reprocess.CodePiece, Code: labelCode(t, 9),
		Old: []string{c.codeP}, Reason: "came off"})
	_, withdrawn := c.public(c.codeP)
	require.Equal(t, held, unknown)
	require.Equal(t, held, withdrawn)
	require.Equal(t, held, broken)
	require.Contains(t, held, "<title>Cannot confirm</title>")
	require.Contains(t, held, "Treat as not released.")
	require.Contains(t, held, "Asked at 24 Nov 2026 14:05.")
	c.release()
	status, body := c.public(c.codeR)
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, body, "<title>Released</title>")
	for _, secret := range []string{"17", "R-0017", "Ben", "shelf", "until", c.kit + `"`} {
		require.NotContains(t, body, secret)
	}
	_, withdrawn = c.public(c.codeP)
	require.Contains(t, withdrawn, "Cannot confirm", "a withdrawn label never says released")
	slip := labels.Code(labelCode(t, 7))
	c.must(reprocess.Reissue{Kit: c.kit, Target: c.kit, Kind: reprocess.CodeSlip,
		Code: string(slip), Reason: "slip"})
	_, body = c.public(string(slip))
	require.Contains(t, body, "Cannot confirm", "a slip is no proof")
}

// Sixty a minute for an address; the next minute starts anew.
func TestThePublicPageIsLimited(t *testing.T) {
	c := newClinic(t)
	b := c.browser()
	for range publicPerMinute {
		b.get("/p/" + c.codeR)
		require.Equal(t, http.StatusOK, b.status)
	}
	b.get("/p/" + c.codeR)
	require.Equal(t, http.StatusTooManyRequests, b.status)
	require.Contains(t, b.body, "Wait a minute and scan again.")
	c.clock.step(time.Minute)
	b.get("/p/" + c.codeR)
	require.Equal(t, http.StatusOK, b.status)
}

// A trusted proxy tells who asked; the caller's own words before it do not count.
func TestTheLimitBehindAProxy(t *testing.T) {
	c := newClinic(t)
	c.stop()
	c.start(c.addr, func(cfg *Config) { cfg.TrustedProxies = []string{"127.0.0.1"} })
	b := c.browser()
	ask := func(said string) int {
		b.extra["X-Forwarded-For"] = said
		b.get("/p/" + c.codeR)
		return b.status
	}
	for range publicPerMinute {
		require.Equal(t, http.StatusOK, ask("192.0.2.1"))
	}
	require.Equal(t, http.StatusTooManyRequests, ask("192.0.2.77, 192.0.2.1"))
	require.Equal(t, http.StatusOK, ask("192.0.2.1, 192.0.2.2"))
}

func TestPerMinuteCountsEachAddress(t *testing.T) {
	var m perMinute
	for i := range 4 {
		for _, from := range []string{"192.0.2.1", "192.0.2.2"} {
			require.Equal(t, i < 3, m.allow(from, 59_999, 3), from+strconv.Itoa(i))
		}
	}
	require.True(t, m.allow("192.0.2.1", 60_000, 3))
	require.Len(t, m.seen, 1, "an old minute is forgotten")
	for i := range mostAddresses - 1 {
		require.True(t, m.allow(strconv.Itoa(i), 60_000, 3))
	}
	require.False(t, m.allow("192.0.2.9", 60_000, 3), "no more addresses in this minute")
	require.True(t, m.allow("192.0.2.1", 60_000, 3), "a known one goes on")
}

func TestKitsTakenInByOthersAreNotInMyList(t *testing.T) {
	c := newClinic(t)
	c.act(reprocess.TakeBack{Kit: c.kit})
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get("/take-in")
	require.Contains(t, b.body, "Taken in by you today: 0 kits")
	n, err := c.store.Count(context.Background(), sqlite.Filter{Act: reprocess.ActReturn})
	require.NoError(t, err)
	require.EqualValues(t, 1, n)
}

// Behind the label itself: the same page without a session, no cookie, and a way back for
// staff; a phone that is enrolled goes to the sign-in.
func TestALabelShowsAStrangerWhomToCall(t *testing.T) {
	c := newClinic(t)
	c.release()
	stranger := c.browser()
	stranger.get("/d/" + c.codeR)
	require.Equal(t, http.StatusOK, stranger.status)
	require.Contains(t, stranger.body, "Found something of ours?")
	require.Contains(t, stranger.body, "Staff: sign in")
	require.NotContains(t, stranger.body, "eleased")
	require.Empty(t, stranger.header.Values("Set-Cookie"))
	size := len(stranger.body)
	stranger.get("/d/" + labelCode(t, 99))
	require.Len(t, stranger.body, size)
	staff := c.enrolled()
	staff.get("/d/" + c.codeR)
	require.Equal(t, "/sign-in?to=%2Fd%2F"+c.codeR, staff.header.Get("Location"))
}
