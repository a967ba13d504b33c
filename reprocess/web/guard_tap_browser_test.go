package web

import (
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// holdTheGuard keeps the guard's timer until the test lets it go, so that nothing depends on
// how fast the machine is.
const holdTheGuard = `(() => {
	const real = window.setTimeout;
	window.held = [];
	window.setTimeout = (f, ms, ...rest) => ms === 400 ? (window.held.push(f), 0) : real(f, ms, ...rest);
})()`

// touch taps with a finger what begins with these words, without waiting for anything.
func (p *phone) touch(words string) {
	p.t.Helper()
	require.True(p.t, ask[bool](p, `(() => {
		const b = [...document.querySelectorAll("button, a")].find(
			b => b.textContent.trim().startsWith("`+words+`"));
		if (b) { b.setAttribute("data-touch", ""); b.scrollIntoView({block: "center"}); }
		return !!b; })()`), "%q on %s", words, p.text())
	p.do(chromedp.Tap(chromedp.CSS("[data-touch]")))
}

// TestASlowDoubleTapHitsNothing: the second tap of a double tap finds another page's main act
// at the same place and does nothing; a key and a later tap are heard.
func TestASlowDoubleTapHitsNothing(t *testing.T) {
	c := newClinic(t)
	p := c.newPhone()
	p.signedIn("ben", testSecret)
	_, err := chromedp.Call(p.ctx, page.AddScriptToEvaluateOnNewDocument,
		page.AddScriptToEvaluateOnNewDocumentParams{Source: holdTheGuard})
	require.NoError(t, err)
	steps := func(n int) {
		t.Helper()
		require.Equal(t, n, c.count(reprocess.ActStep, reprocess.ResultDone))
	}
	p.open(c.path())
	require.False(t, ask[bool](p, `document.documentElement.hasAttribute("data-guard")`),
		"opened by an address, not left by a tap")
	p.touch("Both: whole")
	p.waitFor(`document.querySelector("h2")?.textContent.startsWith("Visibly clean") &&
		document.readyState === "complete" && window.held.length === 1`)
	require.True(t, ask[bool](p, `document.documentElement.hasAttribute("data-guard")`))
	steps(1)
	ask[bool](p, `window.clicks = 0; window.sent = 0;
		document.querySelector(".act").addEventListener("pointerup", () => window.clicks++);
		document.addEventListener("submit", () => window.sent++, true); true`)
	p.touch("Both: visibly clean")
	p.waitFor(`window.clicks === 1`)
	require.Equal(t, 0, ask[int](p, `window.sent`), "too early: nothing was sent")
	p.axe()
	ask[bool](p, `window.held.forEach(f => f()); true`)
	require.False(t, ask[bool](p, `document.documentElement.hasAttribute("data-guard")`))
	steps(1)
	p.touch("Both: visibly clean")
	p.waitFor(`document.body.innerText.includes("Is the whole surface wet?")`)
	steps(2)
	// While the guard stands again, the keyboard is heard at once.
	p.waitFor(`document.readyState === "complete" && window.held.length === 1`)
	require.True(t, ask[bool](p, `document.documentElement.hasAttribute("data-guard")`))
	ask[bool](p, `document.querySelector(".act").focus(); true`)
	p.do(chromedp.KeyEvent("\r"))
	p.waitFor(`document.body.innerText.includes("Still looks wet?")`)
	require.Equal(t, 1, c.count(reprocess.ActWet, reprocess.ResultDone))
	// A page left by a key leaves no guard behind.
	require.False(t, ask[bool](p, `document.documentElement.hasAttribute("data-guard")`))
}
