package web

import (
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestCounterInABrowser plays a ward, a swap, a loss and a repair with real taps at the size of
// a phone; each screen also at 320 px, axe-core finding nothing.
func TestCounterInABrowser(t *testing.T) {
	c := newClinic(t)
	s := c.world().Settings
	s.Clinic, s.Contact, s.Hours = "Moor clinic", "555 0100", "Mon to Fri, 8 to 16"
	c.must(reprocess.SetSettings{Settings: s})
	c.must(reprocess.SetCounter{Counter: reprocess.Counter{Privacy: "Data protection, ext. 300",
		Wards: []reprocess.Ward{{Name: "Ward 4", Ring: "ext. 2140"}, {Name: "Day clinic"}}}})
	proc := fullProcedure(c.models[0], reprocess.Recorder)
	proc.CellAtOut = true
	c.must(reprocess.ApproveProcedure{Procedure: proc})
	c.compete("ben", false)
	c.electrodes("A1")
	c.release()
	first := c.kit
	c.another("18", 40)
	c.release()
	c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	p := c.newPhone()
	p.signedIn("dana", testSecret)
	see := func(name string) {
		t.Helper()
		p.axe()
		p.shoot("counter-" + name)
		p.width(320, 568)
		p.fits()
		p.width(360, 740)
	}
	p.open(deskAt(first) + "/out")
	p.press2("Something of this was not done…")
	see("out-list")
	p.open(deskAt(first))
	see("released")
	p.press("A ward keeps it")
	see("ward")
	p.press2("Something of this was not done…")
	p.answer("ward", "Ward 4")
	p.press("Hand 17 to the ward")
	require.Contains(t, p.title(), "Out: kit 17, due back")
	see("ward-loan")
	p.open(deskAt(first))
	see("on-ward")
	p.press("Somebody wears it on Ward 4")
	p.fill("The wearer’s reference", "W-1")
	see("worn")
	p.press("Record who wears it")
	p.open(deskAt(first))
	p.press("The wearer gave it back on Ward 4")
	see("ward-back")
	p.press("Given back; the ward keeps it")
	see("ward-again")
	p.press("Swap it for another kit")
	see("swap-which")
	p.press("Kit 18")
	p.answer("fault", "yes")
	p.answer("recording", "still_on_device")
	see("swap")
	p.answer("worn", "1")
	p.press("Swap 17 for 18")
	require.Contains(t, p.title(), "Out: kit 18, due back")
	see("swapped")
	p.open(c.desk("missing"))
	p.answer("data", "unknown")
	see("missing-kit")
	p.press("Declare it missing")
	see("missing")
	c.clock.step(10 * time.Minute)
	p.press("They are told")
	see("missing-told")
	p.open("/d/" + c.codeR)
	see("scanned")
}

// TestRepairsInABrowser looks at the declaration, on the screen and on paper, and the list.
func TestRepairsInABrowser(t *testing.T) {
	c := newClinic(t)
	c.toDrying()
	p := c.newPhone()
	p.signedIn("ben", testSecret)
	see := func(name string) {
		t.Helper()
		p.axe()
		p.shoot("repair-" + name)
		p.width(320, 568)
		p.fits()
		p.width(360, 740)
	}
	p.open(c.path("send-repair"))
	p.answer("piece", c.recorder)
	p.answer("declaration", reprocess.Decontaminated)
	p.fill("What is to be repaired", "clip broken")
	p.fill("To whom it is sent", "Workshop, hall 3")
	p.fill("Your own secret, to sign this", testSecret)
	see("send")
	p.press("Send a piece to repair")
	p.open("/kit/" + c.kit + "/declaration/" + c.recorder)
	see("declaration")
	for media, name := range map[string]string{"print": "-print", "": ""} {
		_, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia,
			emulation.SetEmulatedMediaParams{Media: media})
		require.NoError(t, err)
		if media == "print" { // A4 is 688 px wide between our margins, Letter 941 px high
			p.width(688, 600)
			require.LessOrEqual(t, ask[float64](p, "document.querySelector('.page').scrollHeight"), 941.0,
				"one sheet")
		}
		p.shoot("repair-declaration" + name)
		p.width(360, 740)
	}
	p.open("/repairs")
	see("list")
	p.open(c.path("repair-back"))
	see("back")
}

// TestCounterSettingsInABrowser looks at what a supervisor sets.
func TestCounterSettingsInABrowser(t *testing.T) {
	c := newClinic(t)
	p := c.newPhone()
	p.signedIn("ada", bossSecret)
	p.open("/settings/counter")
	p.axe()
	p.shoot("counter-settings")
	p.width(320, 568)
	p.fits()
}

// answer picks one of the answers of a question; no page follows.
func (p *phone) answer(name, value string) {
	p.t.Helper()
	require.True(p.t, ask[bool](p, `(() => { const i = document.querySelector(
		'input[name="`+name+`"][value="`+value+`"]'); if (i) { i.click(); } return !!i && i.checked; })()`),
		"%s=%s is not on the page: %s", name, value, p.text())
}
