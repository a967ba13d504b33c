package web

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// looker opens pages and examines each: axe-core, 320 px, our own checks.
func (p *phone) looker(name string) func(paths ...string) {
	return func(paths ...string) {
		p.t.Helper()
		for _, path := range paths {
			p.open(path)
			require.NotContains(p.t, p.title(), "There is no such page", path)
			p.axe()
			p.shoot("every-" + name + strings.ReplaceAll(strings.SplitN(path, "?", 2)[0], "/", "-"))
			p.width(320, 568)
			p.fits()
			p.width(360, 740)
		}
	}
}

// TestTheLotsPagesInABrowser looks at what a lot reached, at a maker's list from the first
// question to what it holds, at stopping, and at a batch with its readings.
func TestTheLotsPagesInABrowser(t *testing.T) {
	c := newClinic(t)
	c.handedOut()
	c.another("18", 40)
	c.release()
	c.another("19", 60)
	c.toDrying()
	c.must(reprocess.SetProduct{Product: reprocess.Product{Name: "Made here", Use: reprocess.MadeHere,
		OpenDays: 7, Actives: []reprocess.Active{{Agent: "ethanol", Strength: "70%v/v"}},
		Models: c.models, Claims: []reprocess.Claim{{Token: "BAC", Seconds: 60}}}})
	c.person("Ines Control", "ines", reprocess.RoleInfection)
	p := c.newPhone()
	p.signedIn("ines", testSecret)
	see := p.looker("lots")
	lot, con := "/lot/"+c.lot, "/container/"+c.tub
	see(lot+"/reach", lot+"/correct", lot+"/stop", con+"/used", con+"/reading", "/batch", "/stop",
		"/affected/kept", "/claims", "/claims/respiratory", "/affected", "/reckon")
	p.open("/affected")
	p.fill("Which warning is it?", "Letter of 20 Nov")
	p.fill("Serial numbers of recorders and phones", "R-0017 all of batch seven")
	p.fill("Lots", "W-77, Z9")
	p.press("Compare")
	p.axe()
	p.fill("Your own secret, to sign this", testSecret)
	p.press("Hold these pieces")
	p.axe()
	p.width(320, 568)
	p.fits()
	see(lot+"/lift", "/called-back", lot+"/reach")
}

// TestEveryActOnAKitInABrowser looks at the form of every act on a kit where it can be done.
func TestEveryActOnAKitInABrowser(t *testing.T) {
	c := newClinic(t)
	c.competent("Ada All", "all", reprocess.RoleReprocessing, reprocess.RoleRelease,
		reprocess.RoleTechnician, reprocess.RoleInfection, reprocess.RoleSupervisor,
		reprocess.RoleFrontDesk)
	c.released()
	c.another("18", 40)
	c.toDrying()
	c.act(reprocess.Wait{Kit: c.kit, Reason: "charging", Who: "Milo"})
	p := c.newPhone()
	p.signedIn("all", testSecret)
	see := p.looker("act")
	at := func(names ...string) {
		t.Helper()
		for _, name := range names {
			see(c.path(name))
		}
	}
	seq := c.newest(reprocess.ActStep).Seq
	at("place", "wait", "recording", "hold", "repair", "override", "countersign", "send-repair",
		"picture", "papers", "paper", "pair", "test", fmt.Sprintf("correct/%d", seq))
	c.act(reprocess.PutOnHold{Kit: c.kit, Piece: c.recorder, Reason: "cracked"})
	at("decision", "technician", "aside", "stop")
	c.another("19", 60)
	c.release()
	at("broken", "release")
	c.clock.step(31 * 24 * time.Hour)
	p.signedIn("all", testSecret)
	at("re-check", "history")
	c.must(reprocess.StopKit{Kit: c.kit, Reason: "a trial"})
	at("stop-end")
	c.another("20", 80)
	c.act(reprocess.TakeBack{Kit: c.kit})
	at("opened", "give-up")
	c.must(reprocess.SendToRepair{Kit: c.kit, Piece: c.recorder, Declaration: reprocess.StillContaminated,
		Left: "outside, bagged", Reason: "clip broken", To: "Workshop"})
	at("repair-day", "repair-back")
	see("/repairs/" + c.recorder)
	c.another("21", 100)
	c.must(reprocess.DeclareMissing{Kit: c.kit, Pieces: []string{c.phone}, Data: reprocess.DataNo})
	c.must(reprocess.Compose{Kit: c.kit, Pieces: []string{c.recorder}})
	see("/missing", "/missing/found/"+c.phone)
}

// TestTheOfficePagesInABrowser looks at passes, retention, competence, figures and reports, and at
// what of kits, staff and labels no other test opens.
func TestTheOfficePagesInABrowser(t *testing.T) {
	c := newClinic(t)
	c.handedOut()
	c.must(reprocess.Move{Kit: c.kit, Place: "ward 4"})
	boss := c.person("Sue Super", "sue", reprocess.RoleSupervisor, reprocess.RoleAuditor,
		reprocess.RoleInfection, reprocess.RoleReprocessing)
	loan := c.world().Kits[c.kit].Loan
	boss.get("/passes")
	boss.post("/passes", "name", "Inspector", "until", "2026-11-26", "secret", testSecret)
	require.Equal(t, http.StatusOK, boss.status, boss.body)
	code := between(boss.body, `<p class="state figures">`, "</p>")
	pass := ""
	for id, who := range c.world().People {
		if who.Pass {
			pass = id
		}
	}
	boss.done("/retention/hold", "/retention/hold", "number", "17", "reason", "a claim", "secret", testSecret)
	hold := ""
	for id := range c.world().Legal {
		hold = id
	}
	frozen := boss.freeze()
	p := c.newPhone()
	see := p.looker("office")
	see("/phone", "/secret/"+code)
	p.signedIn("sue", testSecret)
	product := ""
	for id := range c.world().Products {
		product = id
	}
	see("/passes", "/passes/"+pass, "/retention", "/retention/hold", "/retention/hold/"+hold,
		"/retention/loan/"+loan, "/competence", "/figures", "/figures/year", "/figures/report",
		"/kits/spare/phone", "/kits/spare/recorder", "/product/"+product+"/change", "/models/new",
		"/staff/new", "/settings/recordings", "/lookback/frozen", frozen, frozen+"/again", frozen+"/act",
		"/labels/kit/"+c.kit, "/labels/container/"+c.tub, "/labels/slip/"+c.kit+"/print?due=2026-12-01",
		"/secret", "/paper", "/paper/released", "/paper/sheet/"+c.kit, "/phones/"+c.aPhone(),
		"/today/call/"+c.kit, "/scan", c.desk("worn-by"))
	c.clock.step(24 * time.Hour) // a sample is drawn of days that are over
	p.signedIn("sue", testSecret)
	p.open("/sample?from=2026-11-24&to=2026-11-24&rate=5%25&confidence=95%25&failures=0")
	p.press("Draw them")
	see(ask[string](p, "location.pathname") + "/1")
}

// aPhone is the id of an enrolled phone.
func (c *clinic) aPhone() string {
	c.t.Helper()
	for id := range c.world().Phones {
		return id
	}
	c.t.Fatal("no phone is enrolled")
	return ""
}
