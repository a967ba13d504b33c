package main

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// wednesday: an hour without network that is entered from paper, and a lot that is stopped.
func (w *week) wednesday() {
	w.t.Helper()
	w.until(3, 7, 30)
	w.beforehand()
	w.until(3, 10, 0)
	w.withoutNetwork()
	w.until(3, 11, 5)
	w.fromPaper()
	w.until(3, 13, 0)
	w.stopsALot()
	w.afterTheStop()
}

// beforehand: the list of what is released, and a blank bench sheet, are printed in the morning.
func (w *week) beforehand() {
	w.t.Helper()
	w.milo.open("/paper")
	w.milo.open("/paper/released")
	require.Contains(w.t, w.milo.words(), "only as good as its time, 25 Nov 2026 07:30")
	require.Contains(w.t, w.milo.words(), "134 Model recorder shelf A")
	require.Contains(w.t, w.milo.words(), "115 Model recorder shelf B")
	require.Contains(w.t, w.milo.words(), "116 Model recorder place not said since its release")
	require.NotContains(w.t, w.milo.words(), "132 Model recorder", "it is on the ward")
	w.lens.print(w.milo, "released")
	w.milo.open("/paper/sheet/" + w.kits["117"])
	require.Contains(w.t, w.milo.words(), "Wet from, with seconds")
	w.lens.print(w.milo, "sheet")
}

// withoutNetwork: nothing that is tapped without network is taken for done.
func (w *week) withoutNetwork() {
	w.t.Helper()
	w.see(w.desk, "/desk/kit/"+w.kits["126"])
	w.desk.offline(true)
	w.desk.fold("Take back")
	w.desk.notYetSaved("Take back 126")
	require.Empty(w.t, w.entries("126", reprocess.ActReturn))
	w.clock.step(time.Hour)
	w.desk.offline(false)
	w.desk.waitFor(`document.getElementById("outbox").innerText.includes(
		"Sign in again, then it is sent")`)
	w.desk.tap("Sign in again")
	w.desk.signIn("dario", dayPIN)
	w.desk.waitFor(`document.getElementById("outbox").innerText === ""`)
	w.did(reprocess.ActReturn, "126")
	require.Len(w.t, w.entries("126", reprocess.ActReturn), 1, "saved once when the network was back")
}

// fromPaper: the hour's hand-out, return and bench sheet, each with its own time and person.
func (w *week) fromPaper() {
	w.t.Helper()
	w.dario.open("/paper/enter?number=134")
	w.dario.stands("Enter it from paper", "time", "10:10", "by", w.staff["dario"],
		"reference", "W-1010", "days", "14")
	w.dario.open("/paper/enter?number=127")
	w.dario.stands("Enter it from paper", "time", "10:20", "by", w.staff["dario"], "skin", "no",
		"place", "dirty box")
	w.did(reprocess.ActPaper, "134", "127", "117", "117", "117")
	w.sheetOf("117")
	w.ada.open("/kit/" + w.kits["117"] + "/history")
	require.Contains(w.t, w.ada.words(), "from paper: 25 Nov 2026 10:30 to 10:35, by Milo Rask")
	w.neverTimed("117")
}

// sheetOf enters a bench sheet on the phone, with a picture of it.
func (w *week) sheetOf(number string) {
	w.t.Helper()
	w.see(w.bench, "/kit/"+w.kits[number]+"/paper")
	w.bench.look("60-paper-picture")
	w.bench.do(chromedp.SetUploadFiles(chromedp.CSS("input[type=file]"), []string{w.picture()}))
	w.bench.tap("Keep the picture")
	w.bench.look("61-paper-step")
	w.did(reprocess.ActPicture, number)
	w.bench.pick("for", "both", "a-condition", "whole", "a-recording", "arrived", "a-old_cell", "yes",
		"by", w.staff["milo"])
	w.bench.fill("Time on the sheet", "10:25")
	w.bench.tap("Enter it from paper")
	w.bench.says("Entered from paper.", "Both: clean")
	w.bench.pick("for", "both", "a-clean", "yes", "a-parts_clean", "yes")
	w.bench.fill("Time on the sheet", "10:28")
	w.bench.tap("Enter it from paper")
	w.bench.says("Both: disinfect")
	w.bench.look("62-paper-wet")
	w.bench.fill("Wet from", "10:30")
	w.bench.fill("Still wet at", "10:35")
	w.bench.pick("stayed", "yes", "container", w.tub)
	w.bench.tap("Enter it from paper")
	w.bench.says("The contact time of the sheet is kept. Now disinfect it again.")
	w.bench.look("63-paper-again")
}

// pick touches answers by their names and values.
func (p *phone) pick(pairs ...string) {
	p.day.t.Helper()
	for i := 0; i < len(pairs); i += 2 {
		p.do(chromedp.Tap(chromedp.CSS(fmt.Sprintf("label:has(> input[name=%q][value=%q])", pairs[i],
			pairs[i+1]))))
	}
}

// neverTimed: a contact time from paper was not measured, so the kit cannot be released on it.
func (w *week) neverTimed(number string) {
	w.t.Helper()
	world, err := w.store.KitWorld(w.t.Context(), w.kits[number])
	require.NoError(w.t, err)
	late := 0
	for _, c := range world.Cycles {
		for _, r := range c.Records {
			if r.Paper == nil {
				continue
			}
			late++
			require.True(w.t, r.Late && !r.Paper.Counts && r.Paper.Sheet != "", "%+v", r)
		}
	}
	require.Equal(w.t, 6, late, "three steps of two pieces")
	w.ada.open("/kit/" + w.kits[number] + "/release")
	require.Contains(w.t, w.ada.words(), "Not released")
}

// picture is a photo of a sheet, as far as a server can tell.
func (w *week) picture() string {
	w.t.Helper()
	var b bytes.Buffer
	require.NoError(w.t, png.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 90))))
	file := filepath.Join(w.t.TempDir(), "sheet.png")
	require.NoError(w.t, os.WriteFile(file, b.Bytes(), 0o600))
	return file
}

// stopsALot: from any page to a stopped lot in three taps, and the list of whom to call.
func (w *week) stopsALot() {
	w.t.Helper()
	w.see(w.desk, "/ready")
	w.desk.counted()
	w.desk.tap("Stop a lot")
	w.desk.look("64-stop")
	w.desk.tap("Bench wipe")
	w.desk.look("65-stop-why")
	w.desk.tap("Skin trouble was told")
	taps, _, typed, secrets := w.desk.counted()
	require.Equal(w.t, [3]int{3, 0, 0}, [3]int{taps, typed, secrets})
	w.did(reprocess.ActLotStop, "")
	w.desk.says("The lot is stopped.")
	w.desk.look("66-reach")
	w.inf.open("/lot/" + w.lot + "/reach")
	said := w.inf.words()
	_, call, _ := strings.Cut(said, "Call: out with a wearer")
	call, fetch, _ := strings.Cut(call, "Fetch: released, in the house")
	fetch, _, _ = strings.Cut(fetch, "Go on with another: in work")
	for _, number := range []string{"111", "112"} {
		require.Contains(w.t, call, "Kit "+number+",")
	}
	for _, number := range []string{"113", "114", "115", "116", "120"} {
		require.Contains(w.t, fetch, "Kit "+number+",")
		require.NotContains(w.t, call, "Kit "+number+",")
	}
	for _, number := range []string{"131", "133", "134"} {
		require.NotContains(w.t, said, "Kit "+number+",", "it was ready on paper before")
	}
	w.lens.print(w.inf, "call-list")
}

// afterTheStop: nothing goes out on that lot; another one is opened and the bench goes on.
func (w *week) afterTheStop() {
	w.t.Helper()
	w.dario.open("/desk/kit/" + w.kits["113"])
	require.Contains(w.t, w.dario.words(), "Not released")
	w.inf.open("/kit/" + w.kits["111"] + "/stop")
	w.inf.stands("Stop it, or call it back", "reason", "lot W-77 stopped", "secret", dayPassword)
	w.did(reprocess.ActEmbargo, "111")
	w.milo.open("/lots/new?kind=disinfectant")
	w.milo.stands("Keep this lot", "number", "W-78", "expiry", "2027-12-31")
	w.did(reprocess.ActLot, "")
	w.milo.open("/containers/open")
	lot := anotherLot.FindStringSubmatch(w.milo.body)
	require.NotEmpty(w.t, lot, w.milo.words())
	w.milo.stands("Opened today", "lot", lot[1])
	w.did(reprocess.ActOpenContainer, "")
	w.timedAgain("117")
	w.doneAgain("113")
}

var anotherLot = regexp.MustCompile(`name="lot" value="([^"]*)"`)

// timedAgain disinfects a kit whose contact time is from paper once more, and this time it is
// measured; yet somebody else has to release it, as the rest was entered from paper.
func (w *week) timedAgain(number string) {
	w.t.Helper()
	w.ada.open("/kit/" + w.kits[number])
	w.wiped(w.ada)
	w.toRelease(w.ada, number)
	require.Contains(w.t, w.ada.words(), "Contact time: 65 s of 60 s")
	require.Contains(w.t, w.ada.words(),
		"something was entered from paper, so a second person is needed")
}

// doneAgain opens a pack that was released on the stopped lot and reprocesses it with another.
func (w *week) doneAgain(number string) {
	w.t.Helper()
	w.ada.open("/kit/" + w.kits[number])
	w.ada.follow("Open the pack, to do it again")
	w.ada.stands("The pack was opened", "why", "opened")
	w.did(reprocess.ActBreakRelease, number)
	w.ada.open("/kit/" + w.kits[number])
	w.ada.stands("Both: whole") // its recording is safe since the first time
	w.toDrying(w.ada)
	w.fromInspection(w.ada, number)
}
