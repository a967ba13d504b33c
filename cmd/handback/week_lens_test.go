package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// The lens looks at what the people of the week open: each kind of page once, as whoever opened
// it sees it, by axe-core, at two widths and on the scales. With weekShots set it also keeps a
// picture of every page that reads differently.

// weekShots names the variable with the folder for pictures; none are taken without it.
const weekShots = "HANDBACK_WEEK_SHOTS"

// lens is one more tab in the same browser. It only reads.
type lens struct {
	*phone
	seen   map[string]bool // by kind of address; true: axe-core found nothing
	shots  string          // folder, empty: none
	read   map[string]bool // by kind of address and of title, for the pictures
	number int
}

func (w *week) newLens(in context.Context) *lens {
	w.t.Helper()
	ctx, cancel := chromedp.NewContext(in, chromedp.WithNewBrowserContext())
	w.t.Cleanup(cancel)
	l := &lens{phone: &phone{day: w.dayClinic, ctx: ctx, who: "lens"}, seen: map[string]bool{},
		read: map[string]bool{}, shots: os.Getenv(weekShots)}
	require.NoError(w.t, chromedp.Do(ctx))
	l.do(chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch))
	l.listen()
	script, err := os.ReadFile(filepath.Join("..", "..", "testdata", "axe", "axe.min.js"))
	require.NoError(w.t, err)
	_, err = chromedp.Call(l.ctx, page.AddScriptToEvaluateOnNewDocument,
		page.AddScriptToEvaluateOnNewDocumentParams{Source: string(script)})
	require.NoError(w.t, err)
	return l
}

// A part of an address that names one thing among many, and a number within a title.
var (
	aName   = regexp.MustCompile(`/[0-9A-Z]{2,}[0-9A-Za-z-]*(/|$)|/[0-9]+(/|$)`)
	aNumber = regexp.MustCompile(`[0-9]+`)
)

// kindOf is an address without the names of single things.
func kindOf(path string) string {
	for {
		next := aName.ReplaceAllString(path, "/:id$1$2")
		if next == path {
			return path
		}
		path = next
	}
}

// after looks at the page that a worker has before them, if its kind is new.
func (l *lens) after(b *plainBrowser, method string) {
	t := l.day.t
	t.Helper()
	if b.status != 200 || !strings.Contains(b.body, "<main") {
		return
	}
	kind := kindOf(b.at.Path)
	_, rest, _ := strings.Cut(b.body, "<title>")
	title, _, _ := strings.Cut(rest, "</title>")
	_, rest, _ = strings.Cut(rest, "<h2>")
	asks, _, _ := strings.Cut(rest, "</h2>")
	name := kind + " " + aNumber.ReplaceAllString(title+asks, "#")
	if l.seen[kind] && (l.shots == "" || l.read[name]) {
		return
	}
	first := !l.seen[kind]
	l.seen[kind], l.read[name] = true, true
	l.show(b, method == "POST")
	if first {
		l.examine(kind, b)
	}
	l.shoot(kind)
}

// show opens the worker's page in the lens; what a post answered is written into it, as it
// cannot be asked for again.
func (l *lens) show(b *plainBrowser, written bool) {
	l.day.t.Helper()
	var cookies []*network.CookieParam
	for _, c := range b.client.Jar.Cookies(b.at) {
		cookies = append(cookies, &network.CookieParam{Name: c.Name, Value: c.Value,
			URL: "http://" + l.day.addr + "/"})
	}
	_, err := chromedp.Call(l.ctx, network.SetCookies, network.SetCookiesParams{Cookies: cookies})
	require.NoError(l.day.t, err)
	if !written {
		l.open(b.at.String())
		return
	}
	l.open("http://" + l.day.addr + "/")
	askPage[bool](l.phone, fmt.Sprintf("document.open(); document.write(%q); document.close(); true",
		b.body))
	l.waitFor(`document.readyState === "complete"`)
}

// examine demands that axe-core finds nothing, that nothing is wider than the phone at 360 and
// 320 px, and that the page itself stays light.
func (l *lens) examine(kind string, b *plainBrowser) {
	t := l.day.t
	t.Helper()
	const tags = `["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]`
	faults := askPage[[]string](l.phone, `axe.run(document, {runOnly: {type: "tag", values: `+tags+
		`}, resultTypes: ["violations"]}).then(r => r.violations.flatMap(v => v.nodes.map(
		n => v.id + ": " + n.html + " " + n.failureSummary)))`, chromedp.EvalAwaitPromise)
	require.Empty(t, faults, "axe on %s, %q", kind, l.title())
	const wider = `document.documentElement.scrollWidth - document.documentElement.clientWidth`
	require.Zero(t, askPage[int](l.phone, wider), "%s scrolls sideways at 360", kind)
	l.width(320)
	require.Zero(t, askPage[int](l.phone, wider), "%s scrolls sideways at 320", kind)
	l.width(360)
	var small bytes.Buffer
	z := gzip.NewWriter(&small)
	_, err := z.Write([]byte(b.body))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	assets := askPage[int](l.phone, `performance.getEntriesByType("resource").reduce(
		(n, e) => n + e.encodedBodySize, 0)`)
	require.Less(t, small.Len()+assets, heaviest, "%s weighs too much", kind)
}

func (l *lens) width(px int64) {
	l.day.t.Helper()
	_, err := chromedp.Call(l.ctx, emulation.SetDeviceMetricsOverride,
		emulation.SetDeviceMetricsOverrideParams{Width: px, Height: 740, DeviceScaleFactor: 1,
			Mobile: true})
	require.NoError(l.day.t, err)
}

// shoot keeps a picture of the whole page.
func (l *lens) shoot(kind string) {
	if l.shots == "" {
		return
	}
	require.NoError(l.day.t, os.MkdirAll(l.shots, 0o750))
	l.number++
	name := strings.NewReplacer(":id", "x", "/", "-").Replace(kind)
	name = fmt.Sprintf("%03d%s.png", l.number, name)
	picture, err := chromedp.Run(l.ctx, chromedp.FullScreenshot(100))
	require.NoError(l.day.t, err)
	require.NoError(l.day.t, os.WriteFile(filepath.Join(l.shots, name), picture, 0o600))
	l.day.t.Logf("%s %q", name, l.title())
}

// print keeps what the page gives on A4 and Letter, for eyes.
func (l *lens) print(b *worker, name string) {
	if l.shots == "" {
		return
	}
	l.show(b.plainBrowser, false)
	for paper, size := range map[string]chromedp.PaperSize{"A4": chromedp.PaperA4,
		"Letter": chromedp.PaperLetter} {
		out, err := chromedp.Run(l.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(size)))
		require.NoError(l.day.t, err)
		file := filepath.Join(l.shots, "print-"+name+"-"+paper)
		require.NoError(l.day.t, os.WriteFile(file+".pdf", out, 0o600))
		tool(l.day.t, "pdftoppm", "poppler-utils", "-png", "-gray", "-r", "60", file+".pdf", file)
	}
}
