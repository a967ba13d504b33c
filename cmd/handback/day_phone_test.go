package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"handback/reprocess/sqlite"
)

// A phone in the hand: real Chromium at 360 x 740, touched where a finger would touch.

// dayPatience is how long one step of a browser may take before the test fails.
const dayPatience = 30 * time.Second

// heaviest is the most a page may weigh with everything it loads, compressed, in bytes.
const heaviest = 50_000

// phone is one browser profile with its own cookies, and the count of what was done on it.
type phone struct {
	day           *dayClinic
	ctx           context.Context
	who           string
	taps, scans   int
	typed, secret int
	mu            sync.Mutex
	console       []string
}

// dayBrowser starts one browser for a test; each phone is a profile of its own.
func dayBrowser(t testing.TB) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	require.NoError(t, err, "this test needs chromium; install it with: apt-get install -y chromium")
	alloc, stop := chromedp.NewExecAllocator(context.Background(), chromedp.ExecPath(path),
		chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(func() { cancel(); stop() })
	require.NoError(t, chromedp.Do(ctx))
	return ctx
}

// phone enrols a new phone by a code typed on it.
func (c *dayClinic) phone(in context.Context, who string) *phone {
	c.t.Helper()
	ctx, cancel := chromedp.NewContext(in, chromedp.WithNewBrowserContext())
	c.t.Cleanup(cancel)
	p := &phone{day: c, ctx: ctx, who: who}
	require.NoError(c.t, chromedp.Do(ctx))
	p.do(chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch))
	p.listen()
	c.phones++
	code, err := c.store.InvitePhone(c.t.Context(), sqlite.By{Actor: c.boss}, fmt.Sprintf("Phone %d", c.phones))
	require.NoError(c.t, err)
	p.open("http://" + c.addr + "/phone")
	p.fill("Enrolment code", code)
	p.tap("Enrol this phone")
	*p = phone{day: c, ctx: ctx, who: who, console: p.console}
	return p
}

// listen makes the test fail over whatever the console complains about, but for refusals and
// answers that were lost on purpose.
func (p *phone) listen() {
	messages := chromedp.Console(p.ctx)
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			meant := strings.Contains(m.Text, "the server responded with a status of") ||
				strings.Contains(m.Text, "net::ERR_")
			if (m.IsException() || m.Type == chromedp.ConsoleError) && !meant {
				p.mu.Lock()
				p.console = append(p.console, m.String())
				p.mu.Unlock()
			}
		}
	}()
	p.day.t.Cleanup(func() {
		p.mu.Lock()
		defer p.mu.Unlock()
		require.Empty(p.day.t, p.console, "the console of the browser")
	})
}

// do runs steps, each within patience.
func (p *phone) do(steps ...chromedp.Action[chromedp.Void]) {
	p.day.t.Helper()
	for _, step := range steps {
		ctx, cancel := context.WithTimeout(p.ctx, dayPatience)
		err := chromedp.Do(ctx, step)
		cancel()
		require.NoError(p.day.t, err)
	}
}

// askPage evaluates script in the page.
func askPage[T any](p *phone, script string, options ...chromedp.EvaluateOption) T {
	p.day.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, dayPatience)
	defer cancel()
	out, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, options...))
	require.NoError(p.day.t, err, script)
	return out
}

// waitFor waits until an expression of the page is true; only patience ends it.
func (p *phone) waitFor(expression string) {
	p.day.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, dayPatience)
	defer cancel()
	script := "new Promise(r => setTimeout(() => r(!!(" + expression + ")), 20))"
	for ctx.Err() == nil {
		is, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script, chromedp.EvalAwaitPromise))
		if err == nil && is {
			return
		}
	}
	require.Fail(p.day.t, "it never came", "waiting for %s; the page says: %s", expression, p.text())
}

func (p *phone) open(address string) { p.day.t.Helper(); p.do(chromedp.Navigate(address)) }

func (p *phone) text() string { return askPage[string](p, "document.body?.innerText || ''") }

func (p *phone) title() string { return askPage[string](p, "document.title") }

// says demands a text on the page.
func (p *phone) says(texts ...string) {
	p.day.t.Helper()
	page := strings.Join(strings.Fields(p.title()+"\n"+p.text()), " ")
	for _, text := range texts {
		require.Contains(p.day.t, page, text)
	}
}

// scan opens the very address that a label holds, as the phone's camera does.
func (p *phone) scan(address string) { p.day.t.Helper(); p.scans++; p.open(address) }

// touch touches the middle of what begins with these words.
func (p *phone) touch(words string) {
	p.day.t.Helper()
	p.touchable(words)
	p.waitFor(`!document.documentElement.hasAttribute("data-guard")`)
	p.do(chromedp.Tap(chromedp.CSS("[data-touch]")))
}

// touchable finds and marks what begins with these words, and brings it into view.
func (p *phone) touchable(words string) {
	p.day.t.Helper()
	found := askPage[bool](p, fmt.Sprintf(`(() => {
		document.querySelectorAll("[data-touch]").forEach(e => e.removeAttribute("data-touch"));
		const b = [...document.querySelectorAll("button, a, summary, label")].find(
			b => b.textContent.trim().startsWith(%q) && b.getClientRects().length > 0);
		if (!b) { return false; }
		b.setAttribute("data-touch", "");
		b.scrollIntoView({block: "center"});
		return true; })()`, words))
	require.True(p.day.t, found, "nothing to touch says %q: %s", words, p.text())
}

// tap touches a button or a link, and waits for the next page.
func (p *phone) tap(words string) {
	p.day.t.Helper()
	p.taps++
	askPage[bool](p, `document.documentElement.dataset.before = "1"; true`)
	p.touch(words)
	p.arrive()
}

// arrive waits for the page after the one that was marked.
func (p *phone) arrive() {
	p.day.t.Helper()
	p.waitFor(`document.body && document.readyState === "complete" &&
		!document.documentElement.dataset.before`)
}

// fold opens or picks something on the page; no page follows.
func (p *phone) fold(words string) { p.day.t.Helper(); p.taps++; p.touch(words) }

// fill types into a field found by its visible label.
func (p *phone) fill(label, text string) {
	p.day.t.Helper()
	id := askPage[string](p, fmt.Sprintf(`[...document.querySelectorAll("label")].find(
		l => l.textContent.trim() === %q)?.htmlFor || ""`, label))
	if id == "" {
		require.Fail(p.day.t, "no field", "no field is labelled %q: %s", label, p.text())
	}
	p.do(chromedp.Clear(chromedp.CSS("#"+id)), chromedp.SendKeys(chromedp.CSS("#"+id), text))
	p.typed++
}

// sign types the secret of an act; it is counted apart.
func (p *phone) sign(label, secret string) {
	p.day.t.Helper()
	p.fill(label, secret)
	p.typed--
	p.secret++
}

// signIn signs in where the page asks for it.
func (p *phone) signIn(name, secret string) {
	p.day.t.Helper()
	p.fill("Short name", name)
	p.fill("Secret", secret)
	p.tap("Sign in")
}

// counted ends the routine: what was done since the last count.
func (p *phone) counted() (taps, scans, typed, secrets int) {
	taps, scans, typed, secrets = p.taps, p.scans, p.typed, p.secret
	p.taps, p.scans, p.typed, p.secret = 0, 0, 0, 0
	return taps, scans, typed, secrets
}

// offline cuts this phone from the network, or joins it again, as the browser knows it.
func (p *phone) offline(on bool) {
	p.day.t.Helper()
	all := network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: []*network.Conditions{
		{DownloadThroughput: -1, UploadThroughput: -1, Offline: on}}}
	_, err := chromedp.Call(p.ctx, network.EmulateNetworkConditionsByRule, all)
	require.NoError(p.day.t, err)
	_, err = chromedp.Call(p.ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{
		Offline: on, DownloadThroughput: -1, UploadThroughput: -1})
	require.NoError(p.day.t, err)
}

// download touches what leads to a file and gives its bytes.
func (p *phone) download(words string) []byte {
	p.day.t.Helper()
	p.taps++
	dir, yes := p.day.t.TempDir(), true
	ctx, cancel := context.WithTimeout(p.ctx, dayPatience)
	defer cancel()
	progress := chromedp.Events(ctx, browser.DownloadProgress)
	_, err := chromedp.Call(p.ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
		Behavior: browser.SetDownloadBehaviorBehaviorAllowAndName, DownloadPath: dir,
		BrowserContextID: chromedp.FromContext(p.ctx).BrowserContextID, EventsEnabled: &yes})
	require.NoError(p.day.t, err)
	p.touch(words)
	for ev, err := range progress {
		require.NoError(p.day.t, err, "no file came: %s", p.text())
		if ev.State == browser.DownloadProgressStateCompleted {
			file, err := os.ReadFile(filepath.Join(dir, ev.GUID))
			require.NoError(p.day.t, err)
			return file
		}
	}
	require.Fail(p.day.t, "no file came")
	return nil
}

// look keeps a picture in artefacts/, which is not committed, runs axe-core by the rules of
// WCAG 2.2 A and AA, and weighs the page as it came over the network, compressed.
func (p *phone) look(name string) {
	p.day.t.Helper()
	dir := filepath.Join("..", "..", "artefacts")
	require.NoError(p.day.t, os.MkdirAll(dir, 0o750))
	picture, err := chromedp.Run(p.ctx, chromedp.FullScreenshot(100))
	require.NoError(p.day.t, err)
	require.NoError(p.day.t, os.WriteFile(filepath.Join(dir, "day-"+name+".png"), picture, 0o600))
	script, err := os.ReadFile(filepath.Join("..", "..", "testdata", "axe", "axe.min.js"))
	require.NoError(p.day.t, err)
	askPage[bool](p, string(script)+"\n;true")
	faults := askPage[[]string](p, `axe.run(document, {runOnly: {type: "tag",
		values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}}).then(
		r => r.violations.flatMap(v => v.nodes.map(n => v.id + ": " + n.html + " " + n.failureSummary)))`,
		chromedp.EvalAwaitPromise)
	require.Empty(p.day.t, faults, "axe on %q", p.title())
	weight := askPage[int](p, `[...performance.getEntriesByType("navigation"),
		...performance.getEntriesByType("resource")].reduce((n, e) => n + e.encodedBodySize, 0)`)
	require.Positive(p.day.t, weight, "%s was not weighed", name)
	require.Less(p.day.t, weight, heaviest, "%s weighs too much", name)
	require.Zero(p.day.t, askPage[int](p, `document.documentElement.scrollWidth -
		document.documentElement.clientWidth`), "%s scrolls sideways", name)
	p.day.t.Logf("%-26s %6d bytes, %q", name, weight, p.title())
}
