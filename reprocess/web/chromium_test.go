package web

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// The rig of browser tests: real Chromium at the size of a phone, against the real server.

// installLine is what a failed test tells to run; the README has it for all programs.
const installLine = "sudo apt-get update && sudo apt-get install -y --no-install-recommends chromium"

// patience is how long one step of a browser may take before the test fails.
const patience = 30 * time.Second

// shots asks for pictures of the pages: they prove nothing and cost a sixth of the time.
var shots = flag.Bool("shots", false, "keep pictures of the pages in artefacts/")

var theBrowser struct {
	once   sync.Once
	ctx    context.Context
	cancel context.CancelFunc
	dir    string
	err    error
}

// TestMain ends the browser that tests share, and asks whether they were on every page.
func TestMain(m *testing.M) {
	code := m.Run()
	if code == 0 && !walkedAll() {
		code = 1
	}
	if theBrowser.cancel != nil {
		theBrowser.cancel()
		os.RemoveAll(theBrowser.dir)
	}
	os.Exit(code)
}

// chromium starts one browser for all tests of the package; each phone is a profile of its own.
func chromium(t testing.TB) context.Context {
	t.Helper()
	b := &theBrowser
	b.once.Do(func() {
		path, err := exec.LookPath("chromium")
		if err != nil {
			b.err = err
			return
		}
		if b.dir, b.err = os.MkdirTemp("", "chromium-test-"); b.err != nil {
			return
		}
		alloc, stop := chromedp.NewExecAllocator(context.Background(), headless(path, b.dir)...)
		ctx, cancel := chromedp.NewContext(alloc)
		b.ctx, b.cancel = ctx, func() { cancel(); stop() }
		b.err = chromedp.Do(ctx)
	})
	require.NoError(t, b.err, "this test needs chromium; install with: %s", installLine)
	return b.ctx
}

// headless are the options of a browser of our own, with its profile in dir.
func headless(path, dir string, more ...chromedp.ExecAllocatorOption) []chromedp.ExecAllocatorOption {
	return append([]chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.Headless,
		chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.UserDataDir(dir),
		chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-extensions", true), chromedp.Flag("disable-default-apps", true),
		chromedp.Flag("disable-features", "PreloadTopChromeWebUI,Translate,OptimizationHints,"+
			"MediaRouter,DialMediaRouteProvider")},
		more...)
}

// phone is one tab with its own cookies.
type phone struct {
	t    testing.TB
	site *testSite
	ctx  context.Context
	seen *consoleLog
	axes bool // axe-core waits in every page
}

// consoleLog keeps what the page complained about: errors and violations of the policy.
type consoleLog struct {
	mu    sync.Mutex
	lines []string
}

func (l *consoleLog) add(line string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.lines = append(l.lines, line)
}

func (l *consoleLog) all() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return strings.Join(l.lines, "\n")
}

// turn is the right to use a browser: focus belongs to one test at a time, and two browsers on a
// small machine only wait for each other.
var turn struct {
	sync.Mutex
	holders sync.Map // names of tests
}

// alone waits for the turn and gives it back when the test ends; the same test may ask again.
func alone(t testing.TB) {
	t.Helper()
	if _, has := turn.holders.LoadOrStore(t.Name(), true); !has {
		turn.Lock()
		t.Cleanup(func() { turn.holders.Delete(t.Name()); turn.Unlock() })
	}
}

// newPhone opens a browser profile at 360 x 740, as a phone in the hand.
func (s *testSite) newPhone() *phone {
	s.t.Helper()
	alone(s.t)
	ctx, cancel := chromedp.NewContext(chromium(s.t), chromedp.WithNewBrowserContext())
	s.t.Cleanup(cancel)
	return s.phoneIn(ctx)
}

// phoneIn opens the tab of a context.
func (s *testSite) phoneIn(ctx context.Context) *phone {
	s.t.Helper()
	p := &phone{t: s.t, site: s, ctx: ctx, seen: &consoleLog{}}
	p.do(chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch))
	p.listen()
	return p
}

// listen makes the test fail over whatever the console complains about: a script that throws,
// a violation of the content security policy, a file that is not there.
func (p *phone) listen() {
	messages := chromedp.Console(p.ctx)
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			// A refusal by the server is what many tests ask for.
			page := strings.Contains(m.Text, "the server responded with a status of") ||
				strings.Contains(m.Text, "ERR_INTERNET_DISCONNECTED") // the test cut it off
			if (m.IsException() || m.Type == chromedp.ConsoleError) && !page {
				p.seen.add(m.String())
			}
		}
	}()
	p.t.Cleanup(func() {
		require.Empty(p.t, p.seen.all(), "the console of the browser")
	})
}

// do runs steps, each within patience.
func (p *phone) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	for _, step := range steps {
		if chromedp.FromContext(p.ctx).Target == nil {
			require.NoError(p.t, chromedp.Do(p.ctx)) // opens the tab; its context must not end
		}
		ctx, cancel := context.WithTimeout(p.ctx, patience)
		err := chromedp.Do(ctx, step)
		cancel()
		require.NoError(p.t, err)
	}
}

// ask evaluates script in the page.
func ask[T any](p *phone, script string, options ...chromedp.EvaluateOption) T {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	out, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, options...))
	require.NoError(p.t, err, script)
	return out
}

// waitFor waits until an expression of the page is true. While the page changes there is
// nothing to ask, which is no fault; only patience ends it.
func (p *phone) waitFor(expression string) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	script := "new Promise(r => setTimeout(() => r(!!(" + expression + ")), 20))"
	for ctx.Err() == nil {
		is, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script, chromedp.EvalAwaitPromise))
		if err == nil && is {
			return
		}
	}
	require.Fail(p.t, "it never came", "waiting for %s; the page says: %s", expression, p.text())
}

func (p *phone) open(path string) { p.t.Helper(); p.do(chromedp.Navigate(p.site.url(path))) }

// fill types into a field found by its visible label.
func (p *phone) fill(label, text string) {
	p.t.Helper()
	id := ask[string](p, fmt.Sprintf(`[...document.querySelectorAll("label")].find(
		l => l.textContent.trim() === %q)?.htmlFor || ""`, label))
	if id == "" {
		require.Fail(p.t, "no field", "no field is labelled %q: %s", label, p.text())
	}
	p.do(chromedp.SendKeys(chromedp.CSS("#"+id), text))
}

// press taps the button or link with these words, and waits for the next page.
func (p *phone) press(words string) {
	p.t.Helper()
	found := ask[bool](p, fmt.Sprintf(`(() => {
		document.documentElement.dataset.before = "1";
		const b = [...document.querySelectorAll("button, a, summary, label")].find(
			b => b.textContent.trim().startsWith(%q));
		if (b) { setTimeout(() => b.click(), 0); }
		return !!b; })()`, words))
	if !found { // the page is only read when it stays: after a tap it may be leaving
		require.Fail(p.t, "nothing to tap", "nothing says %q: %s", words, p.text())
	}
	p.waitFor(`document.body && document.readyState === "complete" && !document.documentElement.dataset.before`)
}

func (p *phone) text() string { return ask[string](p, "document.body?.innerText || ''") }

func (p *phone) title() string { return ask[string](p, "document.title") }

// signIn signs somebody in on this phone, which gets the cookie of an enrolled one.
func (p *phone) signIn(name, secret string) {
	p.t.Helper()
	b := p.site.enrolled()
	p.cookie(cookiePhone, b.cookie(cookiePhone))
	p.open("/sign-in")
	p.fill("Short name", name)
	p.fill("Secret", secret)
	p.press("Sign in")
}

// signedIn gives this phone the cookies of somebody who signed in without it, which is quicker
// by a page and fifty keys, and opens the home page.
func (p *phone) signedIn(name, secret string) {
	p.t.Helper()
	b := p.site.enrolled()
	b.signIn(name, secret)
	for _, c := range []string{cookiePhone, cookieSession} {
		p.cookie(c, b.cookie(c))
	}
	p.open("/")
}

func (p *phone) cookie(name, value string) {
	p.t.Helper()
	_, err := chromedp.Call(p.ctx, network.SetCookie, network.SetCookieParams{Name: name,
		Value: value, URL: p.site.url("/")})
	require.NoError(p.t, err)
}

// dark switches to the dark scheme, or back.
func (p *phone) dark(on bool) {
	p.t.Helper()
	scheme := "light"
	if on {
		scheme = "dark"
	}
	p.media("prefers-color-scheme", scheme)
}

func (p *phone) media(name, value string) {
	p.t.Helper()
	_, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: name, Value: value}}})
	require.NoError(p.t, err)
}

// width makes the window as wide as that, in CSS pixels.
func (p *phone) width(px, height int64) {
	p.t.Helper()
	p.do(chromedp.EmulateViewport(px, height, chromedp.EmulateMobile, chromedp.EmulateTouch))
}

// shoot keeps a picture of the whole page in artefacts/, which is not committed, when -shots
// asks for it.
func (p *phone) shoot(name string) {
	p.t.Helper()
	if !*shots {
		return
	}
	dir := filepath.Join("..", "..", "artefacts")
	require.NoError(p.t, os.MkdirAll(dir, 0o750))
	picture, err := chromedp.Run(p.ctx, chromedp.FullScreenshot(100))
	require.NoError(p.t, err)
	require.NoError(p.t, os.WriteFile(filepath.Join(dir, name+".png"), picture, 0o600))
}

// axe runs axe-core, rules of WCAG 2.2 A and AA, and our own: every field has a visible label,
// nothing scrolls sideways, every target is at least 48 px high.
func (p *phone) axe() {
	p.t.Helper()
	p.loadAxe()
	faults := ask[[]string](p, `startAxe(), axe.run(document, {resultTypes: ["violations"],
		runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa",
		"best-practice"]}}).then(
		r => r.violations.flatMap(v => v.nodes.map(n => v.id + ": " + n.html + " " + n.failureSummary)))`,
		chromedp.EvalAwaitPromise)
	require.Empty(p.t, faults, "axe on %q", p.title())
	walked.Store(rowOf(ask[string](p, "location.pathname")), true)
	p.fits()
}

// loadAxe leaves axe-core in this page and in every later one of the tab, as a function that
// nobody has called: half a megabyte goes to the browser once and is read where it is wanted.
func (p *phone) loadAxe() {
	p.t.Helper()
	if p.axes {
		return
	}
	script, err := os.ReadFile(filepath.Join("..", "..", "testdata", "axe", "axe.min.js"))
	require.NoError(p.t, err)
	waiting := "window.startAxe = () => {" + string(script) + "\n};true"
	_, err = chromedp.Call(p.ctx, page.AddScriptToEvaluateOnNewDocument,
		page.AddScriptToEvaluateOnNewDocumentParams{Source: waiting})
	require.NoError(p.t, err)
	p.axes = ask[bool](p, waiting)
}

// fits runs our own checks: visible labels, large targets, nothing sideways.
func (p *phone) fits() {
	p.t.Helper()
	require.Empty(p.t, ask[[]string](p, ownChecks), "own checks on %q", p.title())
}

// ownChecks lists fields without a visible label, targets that are too small, and whatever
// makes the page scroll sideways.
const ownChecks = `(() => {
	const faults = [];
	const seen = e => e.getClientRects().length > 0 && getComputedStyle(e).visibility !== "hidden" &&
		!e.closest(".hidden");
	for (const f of document.querySelectorAll("input, select, textarea")) {
		if (f.type === "hidden" || !seen(f)) { continue; }
		const labels = [...(f.labels || [])];
		if (!labels.some(l => seen(l) && l.textContent.trim())) {
			faults.push("no visible label: " + f.outerHTML);
		}
	}
	for (const e of document.querySelectorAll("a, button, input, select, textarea, summary")) {
		if (e.type === "hidden" || !seen(e)) { continue; }
		const target = e.closest("label") || e;
		if (e.tagName === "A" && e.closest("p")) { continue; }
		if (target.getBoundingClientRect().height < 47.5) {
			faults.push("lower than 48 px: " + e.outerHTML + " " + target.getBoundingClientRect().height);
		}
	}
	if (document.documentElement.scrollWidth > document.documentElement.clientWidth) {
		const edge = document.documentElement.clientWidth;
		const wide = [...document.body.querySelectorAll("*")].filter(
			e => e.getBoundingClientRect().right > edge + 1).map(e => e.outerHTML.slice(0, 80));
		faults.push("scrolls sideways: " + document.documentElement.scrollWidth + " " + wide.join(" | "));
	}
	return faults;
})()`
