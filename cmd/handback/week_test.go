package main

import (
	"fmt"
	"path"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestTheWeek plays a working week of 60 kits, six people and two phones from Monday's parcels
// to Friday's count: at the end the folder verifies, every entry of the script is found, and the
// figures of the print equal a count made another way.
func TestTheWeek(t *testing.T) {
	w := newWeek(t)
	w.monday()
	w.tuesday()
	w.wednesday()
	w.thursday()
	w.friday()
}

// monday: twelve parcels, some of them reprocessed, a walk-in at two minutes to noon, a cable
// that is missing and a phone that is flat.
func (w *week) monday() {
	w.t.Helper()
	w.until(1, 8, 0)
	for n := 111; n <= 122; n++ { // the post
		w.dario.open("/take-in")
		w.dario.stands("Take in, next", "find", w.codes[fmt.Sprint(n)])
	}
	w.see(w.desk, "/take-in")
	w.desk.says("Taken in by you today: 12 kits")
	w.desk.look("50-parcels")
	for n := 111; n <= 114; n++ {
		w.routine(w.ada, fmt.Sprint(n))
	}
	w.missingCable("115")
	w.flatPhone("116")
	w.until(1, 11, 58)
	w.walkIn()
}

// walkIn is somebody at the counter just before noon: two taps from the places to a released kit.
func (w *week) walkIn() {
	w.t.Helper()
	w.see(w.desk, "/")
	w.desk.counted()
	w.desk.tap("Which kits can go out?")
	w.desk.look("51-ready")
	w.desk.tap("131")
	w.desk.says("Released")
	taps, _, _, _ := w.desk.counted()
	require.Equal(w.t, 2, taps)
	w.desk.tap("Hand out")
	w.desk.fill("The wearer’s reference", "W-1158")
	w.desk.tap("Hand out 131")
	w.desk.says("Out: kit 131, due back")
}

// missingCable: the kit waits for a part, and a spare from stock ends the wait.
func (w *week) missingCable(number string) {
	w.t.Helper()
	w.ada.open("/kit/" + w.kits[number] + "/wait")
	w.ada.stands("It waits for something", "reason", "part", "part", "charging cable", "who", "Milo")
	require.Contains(w.t, w.ada.body, "Waits for a part to come")
	w.ada.open("/kit/" + w.kits[number])
	w.ada.stands("It does not wait for this any more")
	w.routine(w.ada, number)
}

// flatPhone: the phone charges while the recorder goes on.
func (w *week) flatPhone(number string) {
	w.t.Helper()
	w.ada.open("/kit/" + w.kits[number] + "/wait")
	w.ada.stands("It waits for something", "reason", "charging")
	w.toInspection(w.ada, number)
	w.ada.open("/kit/" + w.kits[number])
	w.ada.stands("It does not wait for this any more")
	w.fromInspection(w.ada, number)
}

// tuesday: a rash of each grade, a kit that was lost is found, a tub that runs dry, a learner.
func (w *week) tuesday() {
	w.until(2, 8, 0)
	w.rashes("123", "124")
	w.tubRunsDry("119")
	w.learns("120")
}

// rashes: redness is noted and the routine goes on; broken skin holds the kit until infection
// control decides. Both stand in the record of the return.
func (w *week) rashes(red, broken string) {
	w.t.Helper()
	for number, told := range map[string]string{red: "redness", broken: "skin_broken"} {
		w.back(w.dario, number, "skin", "yes")
		w.ada.open("/kit/" + w.kits[number] + "?full=1")
		w.ada.stands("Record it", "scope", "both", "a-condition", "whole", "a-recording", "arrived",
			"a-old_cell", "yes", "a-skin", told)
	}
	require.NotContains(w.t, w.page(w.ada, red), "broken or weeping")
	require.Contains(w.t, w.page(w.ada, broken), "skin blistered, broken or weeping under it")
	w.inf.open("/kit/" + w.kits[broken] + "/decision")
	hold := anOption.FindStringSubmatch(w.inf.body)
	require.NotEmpty(w.t, hold, w.inf.words())
	w.inf.stands("Decide on the hold", "hold", hold[1], "to", "go_on", "secret", dayPassword,
		"reason", "housing did not touch the skin")
	require.NotContains(w.t, w.page(w.ada, broken), "broken or weeping")
}

var anOption = regexp.MustCompile(`name="hold" value="([^"]*)"`)

// page is a kit's page as it reads.
func (w *week) page(b *worker, number string) string {
	w.t.Helper()
	b.open("/kit/" + w.kits[number])
	return b.words()
}

// tubRunsDry: in the middle of a wipe the next tub of the same lot is opened; both stand in the
// record, and the interval goes on.
func (w *week) tubRunsDry(number string) {
	w.t.Helper()
	w.ada.open("/d/" + w.codes[number])
	for _, words := range []string{"It has arrived; old cell out", "Both: visibly clean",
		"Both are wet now"} {
		w.ada.stands(words)
	}
	w.ada.open("/containers/open")
	w.ada.stands("Opened today", "lot", w.lot)
	next := path.Base(w.ada.at.Path)
	w.ada.open("/kit/" + w.kits[number] + "?wet=1")
	w.ada.stands("Both", "container", next)
	w.clock.step(30 * time.Second)
	w.ada.open("/kit/" + w.kits[number])
	w.ada.stands("Yes, both still look wet")
	world, err := w.store.KitWorld(w.t.Context(), w.kits[number])
	require.NoError(w.t, err)
	used := map[string]bool{}
	for _, c := range world.Cycles {
		for _, r := range c.Records {
			used[r.Container] = true
		}
	}
	require.True(w.t, used[w.tub] && used[next], "%v", used)
}

// learns: what a learner did is countersigned before it can be released.
func (w *week) learns(number string) {
	w.t.Helper()
	w.toInspection(w.lena, number)
	w.ada.open("/kit/" + w.kits[number] + "/countersign")
	w.ada.stands("Countersign for a learner", "secret", dayPassword)
	w.ada.open("/kit/" + w.kits[number])
	w.fromInspection(w.ada, number)
	require.Len(w.t, w.entries(number, reprocess.ActCountersign), 1)
}

func (w *week) wednesday() { w.until(3, 8, 0) }
func (w *week) thursday()  { w.until(4, 8, 0) }
func (w *week) friday() {
	w.until(5, 8, 0)
	w.stop()
	out := ok(w.t, "verify", "--data", w.dir)
	require.Contains(w.t, out, "entries, no difference")
}
