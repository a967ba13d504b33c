package web

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestDeskInABrowser plays the counter with real taps and counts them: hand out and take back
// at the size of a phone, each screen also at 320 px, axe-core finding nothing.
func TestDeskInABrowser(t *testing.T) {
	c := newClinic(t)
	c.release()
	c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	p := c.newPhone()
	p.signedIn("dana", testSecret)
	see := func(name string) {
		t.Helper()
		p.axe()
		p.shoot("desk-" + name)
		p.width(320, 568)
		p.fits()
		p.shoot("desk-" + name + "-320")
		p.width(360, 740)
	}
	taps := 0
	tap := func(words string) { t.Helper(); taps++; p.press(words) }
	p.press("Which kits can go out?")
	see("ready")
	p.open("/desk")
	p.waitFor(`document.activeElement.id === "f-find"`) // for a reader that types
	see("ask")
	p.fill("Scan the label, or type the kit’s number", "99")
	p.press("Look it up")
	see("unknown")

	p.open(c.desk())
	see("released")
	tap("Hand out")
	see("out")
	p.fill("The wearer’s reference", "A-1044")
	tap("Hand out 17")
	require.Contains(t, p.title(), "Out: kit 17, due back")
	require.Equal(t, 2, taps, "hand out: two taps after the scan, and the reference")
	see("loan")

	p.open("/desk/kit/" + c.kit)
	see("out-now")
	taps = 0
	tap("Take back")
	require.Equal(t, "Taken back: kit 17", p.title())
	require.Equal(t, 1, taps, "take back: one tap after the scan")
	see("receipt")
	p.open(c.desk("back"))
	p.press2("Precautions, pieces, parcel, a note")
	see("back-open")
	p.open(c.desk("after"))
	see("after")
	p.open("/desk/not-ours")
	see("not-ours")
}

// press2 opens what is folded; no page follows.
func (p *phone) press2(words string) {
	p.t.Helper()
	require.True(p.t, ask[bool](p, `(() => { const s = [...document.querySelectorAll("summary")].find(
		s => s.textContent.trim() === "`+words+`"); if (s) { s.click(); } return !!s; })()`))
}

// TestListsInABrowser looks at the bench, the intake, the list to sign, what is overdue, and
// the page for finders.
func TestListsInABrowser(t *testing.T) {
	c := newClinic(t)
	c.toRelease()
	c.another("18", 20)
	c.act(reprocess.TakeBack{Kit: c.kit, Return: reprocess.Return{Place: "dirty box"}})
	c.another("19", 30)
	c.act(reprocess.PutOnHold{Kit: c.kit, Piece: c.recorder, Reason: "cracked"})
	c.another("20", 40)
	c.step([]string{c.recorder, c.phone}, reprocess.StepReceipt, "condition", "whole",
		"recording", "arrived", "old_cell", "yes")
	c.step([]string{c.recorder, c.phone}, reprocess.StepCleaning, "clean", "yes", "parts_clean", "yes")
	c.act(reprocess.WetNow{Kit: c.kit, Pieces: []string{c.recorder, c.phone}, Container: c.tub})
	c.clock.step(25 * time.Second)
	p := c.newPhone()
	p.signedIn("ben", testSecret)
	see := func(name string) {
		t.Helper()
		p.axe()
		p.shoot("lists-" + name)
		p.width(320, 568)
		p.fits()
		p.shoot("lists-" + name + "-320")
		p.width(360, 740)
	}
	p.open("/bench")
	see("bench")
	p.open("/sign")
	see("sign")
	p.open("/take-in")
	p.fill("Scan the label, or type the kit’s number", "17\r")
	p.waitFor(`document.body.innerText.includes("Taken in by you today: 2 kits")`)
	p.fill("Scan the label, or type the kit’s number", c.codeP+"\r")
	p.waitFor(`document.body.innerText.includes("Taken in by you today: 3 kits")`)
	see("take-in")
	s := c.world().Settings
	s.PublicPage, s.Contact, s.Clinic, s.Hours = true, "555 0100", "Example clinic", "Mon to Fri, 8 to 16"
	c.must(reprocess.SetSettings{Settings: s})
	p.open("/p/" + c.codeR)
	see("finder")
}

func TestOverdueInABrowser(t *testing.T) {
	c := newClinic(t)
	c.handedOut()
	c.clock.step(9 * 24 * time.Hour)
	p := c.newPhone()
	p.signedIn("dana", testSecret)
	p.open("/overdue")
	p.axe()
	p.shoot("lists-overdue")
	p.press("Look up the wearer’s reference")
	require.Contains(t, p.text(), "A-1044")
	p.axe()
	p.shoot("lists-wearer")
}
