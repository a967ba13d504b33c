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
// figures of the print equal a count made another way. Each kind of page that anybody opens is
// looked at once, see lens.
func TestTheWeek(t *testing.T) {
	w := newWeek(t)
	w.monday()
	w.tuesday()
	w.wednesday()
	w.thursday()
	w.friday()
	w.found(w.closed())
}

// monday: twelve parcels, some of them reprocessed, a walk-in at two minutes to noon, a cable
// that is missing and a phone that is flat, a kit for a ward, and one that is lost.
func (w *week) monday() {
	w.t.Helper()
	w.until(1, 8, 0)
	w.morning()
	for n := 111; n <= 122; n++ { // the post
		w.dario.open("/take-in")
		w.dario.stands("Take in, next", "find", w.codes[fmt.Sprint(n)])
		w.did(reprocess.ActReturn, fmt.Sprint(n))
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
	w.toWard("132")
	w.lost("101")
	w.handOver()
}

// morning: the day's list, what the clinic sets for its counter, and the numbers wanted.
func (w *week) morning() {
	w.t.Helper()
	w.sunniva.open("/settings/counter")
	w.sunniva.stands("Keep this", "wards", "Ward 4: ext. 2140", "privacy", "Data protection, ext. 300")
	w.ada.open("/today")
	require.Contains(w.t, w.ada.words(), "4 days over")
	w.lens.print(w.ada, "today")
	w.ada.stands("Done now")
	w.ada.open("/today")
	w.ada.stands("Write it into the day", "note", "Lamp over the bench flickers")
	w.sunniva.open("/tomorrow")
	w.sunniva.stands("Put it into the plan", "day", "2026-11-24", "model", w.model[0], "count", "4")
	w.did(reprocess.ActTick, "")
	w.did(reprocess.ActNote, "")
	w.did(reprocess.ActWant, "")
}

// handOver gives the bench to whoever comes next.
func (w *week) handOver() {
	w.t.Helper()
	w.until(1, 16, 0)
	w.ada.open("/today")
	w.ada.stands("Hand the bench over", "to", w.learner)
	w.did(reprocess.ActHandOver, "")
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
	w.did(reprocess.ActIssue, "131")
}

// missingCable: the kit waits for a part, and a spare from stock ends the wait.
func (w *week) missingCable(number string) {
	w.t.Helper()
	w.ada.open("/kit/" + w.kits[number] + "/wait")
	w.ada.stands("It waits for something", "reason", "part", "part", "charging cable", "who", "Milo")
	require.Contains(w.t, w.ada.body, "Waits for a part to come")
	w.ada.open("/kit/" + w.kits[number])
	w.ada.stands("It does not wait for this any more")
	w.did(reprocess.ActWait, number)
	w.did(reprocess.ActWaitEnd, number)
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
	w.did(reprocess.ActWait, number)
	w.did(reprocess.ActWaitEnd, number)
	w.fromInspection(w.ada, number)
}

// toWard lends a kit to a ward, where one person wears it.
func (w *week) toWard(number string) {
	w.t.Helper()
	w.dario.open("/desk/kit/" + w.kits[number])
	w.dario.follow("A ward keeps it")
	w.dario.stands("Hand "+number+" to the ward", "ward", "Ward 4", "days", "4")
	w.dario.follow("Somebody wears it on Ward 4")
	w.dario.stands("Record who wears it", "reference", "W-4410", "told", "none")
	w.dario.follow("The wearer gave it back on Ward 4")
	w.dario.stands("Given back; the ward keeps it")
	w.did(reprocess.ActIssue, number)
	w.did(reprocess.ActWardWear, number)
	w.did(reprocess.ActWardReturn, number)
}

// lost: who has the overdue kit says on the phone that it is gone. Somebody is told at once.
func (w *week) lost(number string) {
	w.t.Helper()
	w.dario.open("/today/call/" + w.kits[number])
	w.dario.stands("Note the call", "result", "reached", "note", "left on a train")
	w.dario.open("/today/call/" + w.kits[number])
	w.dario.follow("It is lost")
	w.dario.stands("Declare it missing", "data", "yes", "note", "left on a train")
	require.Contains(w.t, w.dario.words(), "Nobody is told yet: 0 h of 72 h")
	w.sunniva.open("/missing")
	w.sunniva.stands("They are told")
	require.Contains(w.t, w.sunniva.words(), "Data protection, ext. 300, 0 h after it was known")
	w.did(reprocess.ActCall, number)
	w.did(reprocess.ActMissing, number)
	w.did(reprocess.ActMissingTold, number)
}

// tuesday: a rash of each grade, a swap, a tub that runs dry, a learner.
func (w *week) tuesday() {
	w.until(2, 8, 0)
	w.rashes("123", "124")
	w.swap("125", "133")
	w.tubRunsDry("119")
	w.learns("120")
	for _, number := range []string{"111", "112"} {
		w.handOut(number, "W-2"+number)
	}
}

// handOut hands a released kit out at the desk.
func (w *week) handOut(number, reference string) {
	w.t.Helper()
	w.dario.open("/desk/kit/" + w.kits[number] + "/out")
	w.dario.stands("Hand out "+number, "reference", reference)
	require.Contains(w.t, w.dario.body, "Out: kit "+number)
	w.did(reprocess.ActIssue, number)
}

// swap: the cable of one is frayed; another goes out to the same wearer for what is left.
func (w *week) swap(from, to string) {
	w.t.Helper()
	w.dario.open("/desk/kit/" + w.kits[from])
	w.dario.follow("Swap it for another kit")
	w.dario.follow("Kit " + to)
	w.dario.stands("Swap "+from+" for "+to, "fault", "yes", "note", "cable frayed", "days", "7",
		"recording", "arrived")
	require.Contains(w.t, w.dario.words(), "Swapped. Kit "+from+" is back.")
	w.did(reprocess.ActSwap, from, to)
}

// rashes: redness is noted and the routine goes on; broken skin holds the kit until infection
// control decides. Both stand in the record of the return.
func (w *week) rashes(red, broken string) {
	w.t.Helper()
	for number, told := range map[string]string{red: "redness", broken: "skin_broken"} {
		w.back(w.dario, number, "skin", "yes")
		w.ada.open("/kit/" + w.kits[number] + "?full=1")
		w.ada.stands("Record it", "for", "both", "a-condition", "whole", "a-recording", "arrived",
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
	w.did(reprocess.ActDecision, broken)
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
	w.did(reprocess.ActOpenContainer, "")
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
	w.did(reprocess.ActCountersign, number)
	w.ada.open("/kit/" + w.kits[number])
	w.fromInspection(w.ada, number)
}
