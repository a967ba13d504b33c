package web

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestTheWeekInABrowser looks at the morning, the plan, kept kits, findings, technical checks and
// campaigns at the size of a phone: axe-core finds nothing, nothing is wider than 320 px.
func TestTheWeekInABrowser(t *testing.T) {
	c := newClinic(t)
	d := c.handedOut()
	c.finding(c.bench)
	d.done("/tomorrow", "/tomorrow", "day", "2026-12-04", "model", c.models[0], "count", "4")
	c.another("18", 40)
	c.toDrying()
	c.act(reprocess.Wait{Kit: c.kit, Reason: "part", Who: "Milo", Next: "2026-12-01"})
	c.another("19", 50)
	c.clock.step(9 * 24 * time.Hour)
	c.release()
	campaign := c.technical()
	p := c.newPhone()
	p.signedIn("ada", bossSecret)
	see := func(path, name string) {
		t.Helper()
		p.open(path)
		p.axe()
		p.shoot("week-" + name)
		p.width(320, 568)
		p.fits()
		p.width(360, 740)
	}
	see("/today", "today")
	p.shootAll("week-today")
	see("/tomorrow", "tomorrow")
	see("/findings", "findings")
	see("/findings/new?kit="+c.kit, "finding-new")
	see("/finding/"+c.newest(reprocess.ActFinding).Events[0].Event.(reprocess.FindingOpened).ID, "finding")
	see("/settings/day", "settings")
	see("/checks", "checks")
	see("/checks/"+c.recorder, "checks-piece")
	see("/models/"+c.models[0]+"/checks", "checks-model")
	see("/campaigns/new", "campaign-new")
	see("/campaigns/"+campaign, "campaign")
	see(c.desk("keep"), "keep")
	p.fill("The appointment’s reference", "A-77")
	p.press("Keep kit 19")
	require.Contains(t, p.text(), "Kept for an appointment")
	see(c.desk(), "kept")
	see(c.desk("out"), "out-kept")
	see("/ready", "ready")
	see("/kept", "find-kept")
	p.open("/today")
	p.press("Done now")
	require.Contains(t, p.text(), "Not done after all")
}

// technical gives the recorders a check that is due and a campaign, and its id.
func (c *clinic) technical() string {
	m, d := c.models[0], c.person("Sue Super", "sue", reprocess.RoleSupervisor)
	d.done("/models/"+m+"/checks", "/models/"+m+"/checks", "words", "maintenance", "on", "piece",
		"months", "12", "basis", "the maker's booklet, page 31")
	d.done("/campaigns/new", "/campaigns", "name", "Recorders to 2.1", "model", m, "what", "software",
		"target", "2.1")
	return c.world().Settings.Campaigns[0].ID
}
