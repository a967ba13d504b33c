package web

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// act does a command as the supervisor, signed and competent, who may also release here.
func (c *clinic) act(cmd reprocess.Command) *reprocess.Entry {
	c.t.Helper()
	w, err := c.store.SetUp(context.Background())
	require.NoError(c.t, err)
	for _, p := range w.People {
		if p.SignIn == "ben" {
			actor := reprocess.Actor{Person: p, Signed: true}
			e, err := c.store.Do(context.Background(), sqlite.Request{Actor: actor, Cmd: cmd})
			require.NoError(c.t, err, "%T", cmd)
			return e
		}
	}
	c.t.Fatal("nobody works here")
	return nil
}

// step records one step with its answers, half a minute later.
func (c *clinic) step(pieces []string, s reprocess.StepID, pairs ...string) {
	c.t.Helper()
	c.clock.step(30 * time.Second)
	cmd := reprocess.RecordStep{Kit: c.kit, Pieces: pieces, Step: s}
	for i := 0; i < len(pairs); i += 2 {
		cmd.Answers = append(cmd.Answers, reprocess.Answer{Ask: pairs[i], Value: pairs[i+1]})
	}
	c.act(cmd)
}

// toDrying brings the kit through a conforming disinfection.
func (c *clinic) toDrying() {
	c.t.Helper()
	both := []string{c.recorder, c.phone}
	c.step(both, reprocess.StepReceipt, "condition", "whole", "recording", "arrived", "old_cell", "yes")
	c.step(both, reprocess.StepCleaning, "clean", "yes", "parts_clean", "yes")
	c.act(reprocess.WetNow{Kit: c.kit, Pieces: both, Container: c.tub})
	c.clock.step(61 * time.Second)
	c.act(reprocess.Look{Kit: c.kit, Pieces: both, Saw: reprocess.RecLooksWet})
}

// toRelease brings the kit to just before its release.
func (c *clinic) toRelease() {
	c.t.Helper()
	c.toDrying()
	c.afterWet()
}

// afterWet brings a disinfected kit to just before its release.
func (c *clinic) afterWet() {
	c.t.Helper()
	both, rec, phone := []string{c.recorder, c.phone}, []string{c.recorder}, []string{c.phone}
	c.step(both, reprocess.StepDrying, "dry", "yes")
	c.step(both, reprocess.StepInspection, "sound", "yes")
	c.step(rec, reprocess.StepBattery, "cell", c.cells, "latched", "yes")
	c.step(phone, reprocess.StepBattery, "charge", "93")
	c.step(both, reprocess.StepAssignment, "ended", "yes", "wiped", "yes",
		"app_there", "yes", "lock", "yes", "updates", "yes")
	c.step(rec, reprocess.StepFunction, "worn_by", "bench", "signal", "usable", "memory", "yes")
	c.step(both, reprocess.StepPacking, "complete", "yes", "sealed", "yes", "label", c.codeR)
}

func (c *clinic) release() {
	c.t.Helper()
	c.toRelease()
	c.act(reprocess.ReleaseKit{Kit: c.kit})
}

// handedOut hands the kit out for 7 days by the page, and gives the desk's browser.
func (c *clinic) handedOut() *browser {
	c.t.Helper()
	c.release()
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get(c.desk("out"))
	b.post(c.desk("out"), "reference", "A-1044", "days", "7", "checks", "all")
	require.Equal(c.t, http.StatusSeeOther, b.status, b.body)
	require.Equal(c.t, c.desk("loan"), b.header.Get("Location"))
	return b
}

func (c *clinic) desk(rest ...string) string {
	return strings.Join(append([]string{"/desk/kit", c.kit}, rest...), "/")
}

// world reads everything as it stands.
func (c *clinic) world() *reprocess.World {
	c.t.Helper()
	w, err := c.store.Everything(context.Background())
	require.NoError(c.t, err)
	return w
}

// newest is the newest entry of an act about the kit.
func (c *clinic) newest(act reprocess.Act) *reprocess.Entry {
	c.t.Helper()
	list, err := c.store.Entries(context.Background(), sqlite.Filter{Act: act}, 0, 1)
	require.NoError(c.t, err)
	require.Len(c.t, list, 1)
	return list[0]
}

func (c *clinic) count(act reprocess.Act, result string) int {
	c.t.Helper()
	n, err := c.store.Count(context.Background(), sqlite.Filter{Act: act, Result: result})
	require.NoError(c.t, err)
	return int(n)
}

// The one question has three answers, each the first words of the page.
func TestTheDeskAnswersReleasedOrNotAndWhy(t *testing.T) {
	c := newClinic(t)
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get(c.desk())
	require.Equal(t, http.StatusOK, b.status)
	require.Contains(t, b.body, "<title>Not released: kit 17</title>")
	require.Contains(t, b.body, "It has not been reprocessed since it came back.")
	require.Contains(t, b.body, "Ask the bench.")
	require.NotContains(t, b.body, "Hand out</a>")
	require.Equal(t, "no-store", b.header.Get("Cache-Control"))

	c.release()
	b.get(c.desk())
	require.Contains(t, b.body, "<title>Released: kit 17</title>")
	require.Contains(t, b.body, "since 24 Nov 2026 14:10, until 24 Dec 2026 14:10")
	require.Contains(t, b.body, `<a class="act" href="`+c.desk("out")+`">Hand out</a>`)
	require.Contains(t, b.body, `href="`+c.desk("back")+`"`, "taking back is one tap away")

	c.clock.step(30*24*time.Hour - time.Minute)
	b.still("dana")
	b.get(c.desk())
	require.Contains(t, b.body, "<title>Released: kit 17</title>")
	c.clock.step(time.Minute)
	b.get(c.desk())
	require.Contains(t, b.body, "The release lapsed on 24 Dec 2026.")
	b.get(c.desk("out"))
	require.Equal(t, c.desk(), b.header.Get("Location"), "the form is not shown for a kit that may not go")
}

// Everything that opens a kit, and everything that does not. The code is read as package
// labels reads it.
func TestTheDeskFindsAKit(t *testing.T) {
	c := newClinic(t)
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	grouped := c.codeR[:4] + " " + strings.ToLower(c.codeR[4:8]) + "-" + c.codeR[8:]
	for _, text := range []string{"17", " 17 ", c.codeR, c.codeP, grouped,
		"HTTPS://LABEL.CLINIC.EXAMPLE/D/" + c.codeP} {
		b.get("/desk")
		require.Contains(t, b.body, "autofocus")
		b.post("/desk", "find", text)
		require.Equal(t, http.StatusSeeOther, b.status, "%q: %s", text, b.body)
		require.Equal(t, c.desk(), b.header.Get("Location"), text)
	}
	for text, why := range map[string]string{
		"": "Nothing was scanned or typed.", "99": "There is no kit 99 here.",
		labelCode(t, 99):      "This label is not known here.",
		c.codeR[:16] + "?":    "",
		"two words of a name": "",
		"<b>17</b>":           "",
	} {
		b.get("/desk")
		b.post("/desk", "find", text)
		require.GreaterOrEqual(t, b.status, 400, text)
		require.Contains(t, b.body, "<title>Cannot confirm: ", text)
		require.Contains(t, b.body, why, text)
		require.Contains(t, b.body, "Treat as not released.", text)
		require.NotContains(t, b.body, "<b>17", text)
	}
	b.get("/desk/kit/nothing")
	require.Equal(t, http.StatusNotFound, b.status)
	require.Contains(t, b.body, "<title>Cannot confirm: ")
}

// A withdrawn label and a slip prove nothing, whatever the kit is; it can still be taken back.
func TestALabelThatIsNoProof(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	c.must(reprocess.Reissue{Target: c.phone, Kind: reprocess.CodePiece, Code: labelCode(t, 9),
		Old: []string{c.codeP}, Reason: "came off"})
	b.get("/desk")
	b.post("/desk", "find", c.codeP)
	b.get(b.header.Get("Location"))
	require.Contains(t, b.body, "<title>Cannot confirm: kit 17</title>")
	require.Contains(t, b.body, "This label was withdrawn on 24 Nov 2026.")
	require.NotContains(t, b.body, ">Hand out</a>")
	require.NotContains(t, b.body, `class="state released"`)
	b.get(c.desk("back"))
	b.post(c.desk("back"), "place", "dirty box")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, reprocess.Returned, reprocess.KitState(c.world().Kits[c.kit], c.world().Pieces))
}

// One tap, nothing asked: the form on the answer's own page as it stands.
func TestTakingBackWithOneTap(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut()
	b.get(c.desk())
	require.Contains(t, b.body, "It is out, due back 1 Dec 2026.")
	require.Equal(t, 3, strings.Count(b.body, `value="not_asked" checked`))
	b.tap("Take back", "skin", "not_asked", "fault", "not_asked", "missing", "not_asked",
		"place", "dirty box", "told", "not_known", "came", c.recorder, "came", c.phone, "parcel", "closed")
	require.Equal(t, http.StatusOK, b.status)
	require.Contains(t, b.body, "<title>Taken back: kit 17</title>")
	require.Contains(t, b.body, "not asked")
	require.NotContains(t, b.body, "A-1044", "a receipt names no wearer")
	k := c.world().Kits[c.kit]
	require.Equal(t, "dirty box", k.Place)
	require.Zero(t, k.Opened)
	require.Empty(t, k.Flags)
	require.False(t, c.world().Loans[k.Loan].Open())
}

func TestTakingBackWithEverythingTold(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut()
	b.get(c.desk("back"))
	b.post(c.desk("back"), "skin", "yes", "fault", "no", "missing", "yes", "place", "post",
		"told", "some", "flag", "tb", "asked_came", "1", "came", c.recorder, "parcel", "opened",
		"note", "strap wet")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	w := c.world()
	k := w.Kits[c.kit]
	require.Equal(t, []string{"tb"}, k.Flags)
	require.Equal(t, k.Back, k.Opened)
	require.Equal(t, reprocess.Missing, w.Pieces[c.phone].State)
	r := w.Loans[k.Loan].Return
	require.Equal(t, reprocess.Return{Skin: "yes", Fault: "no", Missing: "yes", Place: "post",
		Flags: []string{"tb"}, Note: "strap wet"}, *r)
}

// What contradicts itself is asked again, with everything typed kept.
func TestTakeBackRefusalsKeepWhatWasTyped(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut()
	for why, pairs := range map[string][]string{
		"some are ticked.":                  {"told", "none", "flag", "tb"},
		"none is ticked.":                   {"told", "some"},
		"That is no answer":                 {"told", "perhaps"},
		"No piece is ticked":                {"asked_came", "1"},
		"is no answer.":                     {"skin", "maybe"},
		"is not a flag of a return":         {"told", "some", "flag", "gout"},
		"does not belong to kit":            {"came", "P0"},
		"Note has 201 characters, 200 fit.": {"note", strings.Repeat("x", 201)},
	} {
		b.get(c.desk("back"))
		b.post(c.desk("back"), append([]string{"place", "ward 4"}, pairs...)...)
		if why == "does not belong to kit" {
			require.Equal(t, http.StatusNotFound, b.status, b.body)
			continue
		}
		require.Equal(t, http.StatusBadRequest, b.status, "%s: %s", why, b.body)
		require.Contains(t, b.body, why)
		require.Contains(t, b.body, `value="ward 4"`, why)
		require.Contains(t, b.body, "<details open>", why)
	}
	require.Equal(t, 0, c.count(reprocess.ActReturn, reprocess.ResultDone))
}

// Take-back works from every state: never out, at the bench, released, awaiting, on hold,
// missing, retired or recalled.
func TestTakeBackFromEveryState(t *testing.T) {
	c := newClinic(t)
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	for name, bring := range map[string]func(){
		"registered": func() {},
		"in process": func() { c.toDrying() },
		"awaiting":   func() { c.toRelease() },
		"released":   func() { c.release() },
		"missing": func() {
			c.must(reprocess.Aside{Kit: c.kit, Piece: c.phone, To: reprocess.Missing, Reason: "not found"})
		},
		"recalled": func() { c.act(reprocess.HandOutAfter{Kit: c.kit, Reason: "taken from the shelf"}) },
	} {
		bring()
		c.clock.step(time.Minute)
		b.get(c.desk("back"))
		require.Equal(t, http.StatusOK, b.status, name)
		require.Contains(t, b.body, ">Take back</button>", name)
		b.post(c.desk("back"), "place", "dirty box")
		require.Equal(t, http.StatusSeeOther, b.status, "%s: %s", name, b.body)
		w := c.world()
		require.Equal(t, reprocess.Returned, reprocess.KitState(w.Kits[c.kit], w.Pieces), name)
	}
	b.get(c.desk("receipt"))
	require.Equal(t, http.StatusOK, b.status)
}

func TestNoReceiptWithoutAReturn(t *testing.T) {
	c := newClinic(t)
	c.bench.get(c.desk("receipt"))
	require.Equal(t, http.StatusNotFound, c.bench.status)
	require.Contains(t, c.bench.body, "No return of kit 17 is recorded.")
}

func TestNotOurs(t *testing.T) {
	c := newClinic(t)
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	b.get("/desk/not-ours")
	b.post("/desk/not-ours", "note", "", "place", "post")
	require.Equal(t, http.StatusBadRequest, b.status, c.logged())
	require.Contains(t, b.body, `value="post"`)
	b.post("/desk/not-ours", "note", "grey recorder, serial 5", "place", "post")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, 1, c.count(reprocess.ActNotOurs, reprocess.ResultDone))
}
