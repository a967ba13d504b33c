package web

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestTrailInABrowser plays the auditor's screens at the size of a phone: axe-core finds
// nothing, nothing is wider than 320 px.
func TestTrailInABrowser(t *testing.T) {
	c := newClinic(t)
	c.handedOut()
	c.must(reprocess.Move{Kit: c.kit, Place: "ward 4"})
	released := c.entryCount() - 3
	c.clock.step(24 * time.Hour)
	c.person("Gil Auditor", "gil", reprocess.RoleAuditor)
	_, err := c.store.Checkpoint(context.Background())
	require.NoError(t, err)
	p := c.newPhone()
	p.open("/sign-in")
	p.signedIn("gil", testSecret)
	see := func(name string) {
		t.Helper()
		p.axe()
		p.shoot("trail-" + name)
		p.width(320, 568)
		p.fits()
		p.shoot("trail-" + name + "-320")
		p.width(360, 740)
	}
	p.open("/trail")
	see("list")
	p.open("/trail?kit=17&act=step")
	see("filter")
	p.open("/trail?kit=99")
	see("refused")
	p.open(fmt.Sprintf("/trail/%d", released))
	ask[bool](p, `document.querySelectorAll("details").forEach(d => d.open = true); true`)
	see("entry")
	p.open("/trail/copy?kit=17")
	see("copy")
	pick(p, "print")
	p.press("Take it out")
	see("print")
	p.open("/trail/copy?kit=17")
	pick(p, "entries")
	p.press("Take it out")
	see("ready")
	p.open("/trail/checks")
	p.press("Check everything now")
	see("checks")
	p.press("Make a checkpoint now")
	see("note")
	p.open("/lookback")
	see("lookback-ask")
	p.open("/lookback?lot=W-77")
	see("lookback")
	p.open("/sample?from=2026-11-24&to=2026-11-24&rate=5%25&confidence=95%25&failures=0")
	see("sample")
	p.press("Draw them")
	see("drawn")
}

// pick chooses a form of copy.
func pick(p *phone, value string) {
	p.t.Helper()
	require.True(p.t, ask[bool](p, fmt.Sprintf(
		`(() => { const i = document.querySelector("input[value=%s]"); i.click(); return i.checked; })()`,
		value)))
}
