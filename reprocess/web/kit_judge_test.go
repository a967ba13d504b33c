package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// Containers that do not suit are named with their reason before the wipe; with none that
// suits there is nothing to tap but the way to Supplies.
func TestContainersBeforeTheWipe(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	second := c.must(reprocess.OpenContainer{Lot: c.lot}).Events[0].Event.(reprocess.ContainerOpened).ID
	c.page(b)
	b.tap("Both: whole")
	b.tap("Both: visibly clean")
	require.Contains(t, b.body, "Both are wet now, by container "+c.tub)
	require.Contains(t, b.body, "Both are wet now, by container "+second)
	b.get(c.path() + "?container=" + second)
	require.Less(t, strings.Index(b.body, `value="`+second+`"`), strings.Index(b.body, `value="`+c.tub+`"`),
		"the scanned one first")
	require.Contains(t, b.body, "not validated")
	before := b.body
	c.must(reprocess.StopLot{Lot: c.lot, Reason: "wipes half dry"})
	b.body = before
	b.tap("Both are wet now")
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "Lot W-77 was stopped: wipes half dry")
	require.Contains(t, b.body, "No open container suits.")
	require.Contains(t, b.body, `href="/supplies"`)
}

// Seen dry earns nothing and starts anew; another container of the same product continues.
func TestWetRowsOnThePage(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	second := c.must(reprocess.OpenContainer{Lot: c.lot}).Events[0].Event.(reprocess.ContainerOpened).ID
	c.page(b)
	b.tap("Both: whole")
	b.tap("Both: visibly clean")
	b.tap("Both are wet now, by container " + c.tub)
	require.Contains(t, b.body, `data-wet-need="60"`)
	require.Contains(t, b.body, ">1:00</output>")
	c.clock.step(30 * time.Second)
	b.tap("Seen dry")
	require.Contains(t, b.body, "Both are wet now")
	b.tap("Both are wet now, by container " + c.tub)
	require.Contains(t, b.body, "dry at 0:30")
	c.clock.step(40 * time.Second)
	b.get(c.path() + "?container=" + second)
	b.tap("Both are wet now, by container " + second)
	require.Contains(t, b.body, ">0:20</output>", "the same product goes on")
	require.Contains(t, b.body, c.tub+" and container "+second)
	c.clock.step(19 * time.Second)
	b.tap("Only the phone still looks wet")
	require.Contains(t, c.page(b), "Still looks wet?")
	c.clock.step(time.Second)
	b.tap("Yes, both still look wet")
	require.Contains(t, b.body, "Both: fully dry")
	b.get(c.path() + "?wet=1")
	require.Contains(t, b.body, "Wet now, by which container?")
}

// A claim a minute longer than needed without a look: at 120 s it counts, at 121 s it is asked
// again and kept with the remark.
func TestLongUnseenIsAskedAgain(t *testing.T) {
	for seconds, again := range map[int]bool{120: false, 121: true} {
		c := newClinic(t)
		b := c.bench
		c.page(b)
		b.tap("Both: whole")
		b.tap("Both: visibly clean")
		b.tap("Both are wet now")
		c.clock.step(time.Duration(seconds) * time.Second)
		b.tap("Yes, both still look wet")
		require.Equal(t, again, strings.Contains(b.body, "Nobody looked for 2 min 01 s."), seconds)
		if again {
			require.Equal(t, http.StatusUnprocessableEntity, b.status)
			b.tap("Yes, it stayed wet all that time")
		}
		require.Contains(t, b.body, "Both: fully dry")
	}
}

// An early release says which rule and both figures, and is kept in the history as refused.
func TestEarlyReleaseShowsTheFigures(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	c.page(b)
	b.tap("Both: whole")
	b.tap("Both: visibly clean")
	b.tap("Both are wet now")
	c.clock.step(41 * time.Second)
	b.tap("Yes, both still look wet")
	b.get(c.path("release"))
	require.Contains(t, b.body, "Recorder: Contact time 41 s of 60 s.")
	require.NotContains(t, b.body, "Your own secret")
	b.post(c.path("release"), "secret", testSecret)
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "Contact time 41 s of 60 s.")
	require.Contains(t, b.body, "Wet it again and keep it wet for the whole time.")
	b.get(c.path("history"))
	require.Contains(t, b.body, "Refused: Recorder: Contact time 41 s of 60 s.")
}

// A release wants the own secret; without it, or with a wrong one, nothing is released.
func TestReleaseWantsTheSecret(t *testing.T) {
	c := newClinic(t)
	c.packed()
	b := c.bench
	for _, secret := range []string{"", "wrong secret"} {
		b.get(c.path("release"))
		require.Contains(t, b.body, "80\u00a0%")
		b.tap("Release kit 17", "secret", secret)
		require.GreaterOrEqual(t, b.status, 400)
		require.Contains(t, b.body, `role="alert"`)
		require.NotContains(t, b.body, `class="state released"`)
	}
	require.Contains(t, c.page(b), "nobody has released it yet")
}

// Holds: put on hold by the desk, decided by infection control with a secret; what was typed
// stays when the secret is wrong.
func TestHoldAndDecision(t *testing.T) {
	c := newClinic(t)
	desk := c.person("Dora Desk", "dora", reprocess.RoleFrontDesk)
	ic := c.competent("Ines Control", "ines", reprocess.RoleInfection)
	desk.get(c.path("hold"))
	desk.tap("Put on hold", "piece", c.recorder, "reason", "infestation", "note", "in the case")
	require.Contains(t, desk.body, "Recorder is on hold: infestation, faeces or chemicals.")
	boss := c.enrolled()
	boss.signIn("ada", bossSecret)
	hold := c.holdOf(c.recorder)
	boss.get(c.path("decision"))
	require.Contains(t, boss.body, "in the case")
	boss.tap("Decide on the hold", "hold", hold, "to", "go_on", "reason", "cleaned", "secret", bossSecret)
	require.Equal(t, http.StatusForbidden, boss.status)
	require.Contains(t, boss.body, "This hold is for infection control to decide.")
	ic.get(c.path())
	require.Contains(t, ic.body, "Decide on the hold")
	ic.get(c.path("decision"))
	ic.tap("Decide on the hold", "hold", hold, "to", "go_on", "reason", "looked at twice", "secret", "wrong one")
	require.Contains(t, ic.body, `value="looked at twice"`)
	require.NotContains(t, ic.body, "wrong one")
	ic.tap("Decide on the hold", "hold", hold, "to", "go_on", "reason", "looked at twice", "secret", testSecret)
	require.Contains(t, ic.body, "The hold is decided.")
	require.NotContains(t, ic.body, "is on hold")
}

// holdOf is the form's value of the first open hold of a piece.
func (c *clinic) holdOf(piece string) string {
	c.t.Helper()
	w, err := c.store.KitWorld(context.Background(), c.kit)
	require.NoError(c.t, err)
	require.NotEmpty(c.t, w.Pieces[piece].Holds)
	return holdKey(piece, w.Pieces[piece].Holds[0].Seq)
}

// The same failed test three times waits for a technician (the first try and two repeats).
func TestTechnicianAfterTwoRepeats(t *testing.T) {
	c := newClinic(t)
	c.wiped()
	b := c.bench
	b.tap("Both: fully dry")
	b.tap("Both: seals")
	b.tap("New cell", "a-charge", "80")
	b.tap("Both: last")
	for range 3 {
		require.NotContains(t, b.body, "is on hold")
		b.get(c.path() + "?full=1")
		b.tap("Record it", "a-worn_by", "bench", "a-signal", "no_signal", "a-memory", "yes")
	}
	require.Contains(t, b.body, "the function test failed again the same way")
	tech := c.competent("Theo Tech", "theo", reprocess.RoleTechnician)
	c.page(tech)
	require.Contains(t, tech.body, "The technician is done")
	tech.get(c.path("technician"))
	tech.tap("The technician is done", "hold", c.holdOf(c.recorder), "reason", "cable changed", "secret", testSecret)
	require.Contains(t, tech.body, "the test is to be passed again")
	require.Contains(t, tech.body, "Recorder: bench source")
}

// A learner's steps are countersigned by somebody else; only then the kit can be released.
func TestLearnerIsCountersigned(t *testing.T) {
	c := newClinic(t)
	learner := c.person("Lea Learner", "lea", reprocess.RoleReprocessing)
	c.compete("lea", true)
	c.page(learner)
	learner.tap("Both: whole")
	require.NotContains(t, c.page(c.competent("Nia New", "nia", reprocess.RoleFrontDesk)), "/countersign")
	c.page(c.bench)
	require.Contains(t, c.bench.body, c.path("countersign"))
	c.bench.get(c.path("countersign"))
	require.Contains(t, c.bench.body, "Looked at on receipt. Lea Learner")
	c.bench.tap("Countersign for a learner", "secret", testSecret)
	require.Contains(t, c.bench.body, "Countersigned.")
	require.NotContains(t, c.bench.body, c.path("countersign"))
}

// A battery step accepted not as written: signed, with a reason, and another person releases.
func TestOverrideAndSmallRepair(t *testing.T) {
	c := newClinic(t)
	c.wiped()
	b := c.bench
	b.tap("Both: fully dry")
	b.get(c.path("repair"))
	b.tap("Record a small repair", "piece", c.recorder, "part", "cover")
	require.Contains(t, b.body, "inspection and test follow again")
	b.tap("Both: seals")
	require.NotContains(t, b.body, c.path("override"), "the bench may not")
	tech := c.competent("Theo Tech", "theo", reprocess.RoleTechnician)
	c.page(tech)
	require.Contains(t, tech.body, c.path("override"))
	tech.get(c.path("override"))
	require.Contains(t, tech.body, "Phone: battery.")
	tech.tap("Accept a step not as written", "piece", c.phone, "reason", "charger broken", "secret", testSecret)
	require.Contains(t, tech.body, "another person has to release")
	tech.get(c.path("history"))
	require.Contains(t, tech.body, "Phone: battery not as written, allowed: charger broken.")
}

// Place, waiting reasons, an opened pack, a re-check, a piece set aside: each a small page.
func TestSmallActs(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	b.get(c.path("place"))
	b.tap("Say where it lies", "place", "shelf B")
	require.Contains(t, b.body, "Shelf B since 14:05, by Ben Bench")
	b.get(c.path("wait"))
	b.tap("It waits for something", "reason", "part", "part", "cable", "who", "Theo", "next", "2026-11-30")
	require.Contains(t, b.body, "Waits for a part to come (cable)")
	require.Contains(t, b.body, "look again 30 Nov 2026")
	b.tap("It does not wait for this any more")
	require.NotContains(t, b.body, "Waits for a part")
	b.get(c.path("wait"))
	b.tap("It waits for something", "reason", "part", "next", "30.11.2026")
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, `value="30.11.2026"`)

	c.released()
	b.get(c.path("broken"))
	b.tap("The pack was opened, wet or dropped", "why", "dropped")
	require.Contains(t, b.body, "Not released any more.")
	b.get(c.path("aside"))
	require.NotContains(t, b.body, "out for repair", "that has a page of its own")
	b.tap("Set a piece aside or bring it back", "piece", c.phone, "to", "returned", "reason", "x")
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, "neither missing nor out for repair")
}

// A lapsed release asks for a re-check, signed; 30 days is the procedure's choice.
func TestRecheckAfterTheLapse(t *testing.T) {
	c := newClinic(t)
	c.released()
	c.clock.step(30 * 24 * time.Hour)
	b := c.enrolled()
	b.signIn("ben", testSecret)
	require.Contains(t, c.page(b), "The release lapsed on 24 Dec 2026.")
	require.Contains(t, b.body, `class="act" href="`+c.path("re-check")+`"`)
	b.get(c.path("re-check"))
	b.tap("Re-check the pack", "secret", testSecret)
	require.Contains(t, b.body, `class="state released"`)
}

// Giving the recording up is signed and says why.
func TestGiveUpTheRecording(t *testing.T) {
	c := newClinic(t)
	c.released()
	c.must(reprocess.HandOut{Kit: c.kit, Wearer: "w", Days: 3})
	c.must(reprocess.TakeBack{Kit: c.kit})
	desk := c.person("Dora Desk", "dora", reprocess.RoleFrontDesk)
	desk.get(c.path("opened"))
	desk.tap("The parcel is open")
	require.Contains(t, desk.body, "recorded as opened")
	require.Contains(t, desk.body, c.path("give-up"))
	desk.get(c.path("give-up"))
	desk.tap("Give the recording up", "reason", "device was flat for a month", "secret", testSecret)
	require.Contains(t, desk.body, "The recording is given up, signed.")
	require.NotContains(t, desk.body, c.path("give-up"))
}

// The history pages: forty entries, then the older ones, none twice and none lost.
func TestHistoryPages(t *testing.T) {
	c := newClinic(t)
	for i := range 45 {
		c.must(reprocess.Move{Kit: c.kit, Place: fmt.Sprintf("spot %d-", i)})
	}
	b := c.bench
	b.get(c.path("history"))
	require.Contains(t, b.body, "spot 44-")
	require.Contains(t, b.body, "spot 5-")
	require.NotContains(t, b.body, "spot 4-")
	at := strings.Index(b.body, "/history?before=")
	require.Positive(t, at)
	rest, _, _ := strings.Cut(b.body[at+1:], `"`)
	b.get(c.path(rest))
	require.Contains(t, b.body, "spot 4-")
	require.NotContains(t, b.body, "spot 5-")
	require.Contains(t, b.body, "Registered as kit 17.")
	b.get(c.path("history") + "?before=abc")
	require.Equal(t, http.StatusOK, b.status)
}

// A kit that does not exist is not found, on every page of it.
func TestUnknownKit(t *testing.T) {
	c := newClinic(t)
	for _, path := range []string{"/kit/K999", "/kit/K999/history", "/kit/K999/hold", "/kit/K999/release"} {
		c.bench.get(path)
		require.Equal(t, http.StatusNotFound, c.bench.status, path)
		require.Contains(t, c.bench.body, "here.", path)
	}
}
