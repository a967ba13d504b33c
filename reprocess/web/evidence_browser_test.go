package web

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// choose puts a file into the upload of the page.
func (p *phone) choose(content []byte) {
	p.t.Helper()
	path := filepath.Join(p.t.TempDir(), "recording.csv")
	require.NoError(p.t, os.WriteFile(path, content, 0o600))
	p.do(chromedp.SetUploadFiles(chromedp.CSS("form[data-upload] input[type=file]"), []string{path}))
}

// TestTheStepInABrowser uploads a good, a bad and a hostile file by script, in pieces, at the
// size of a phone; what one device uploads the other finds.
func TestTheStepInABrowser(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	p := c.newPhone()
	p.open("/sign-in")
	p.signedIn("ben", testSecret)
	see := func(name string) {
		t.Helper()
		p.axe()
		p.shoot("test-" + name)
		p.width(320, 568)
		p.fits()
		p.width(360, 740)
	}
	p.open(c.path())
	p.press("Upload the test recording")
	see("upload")
	p.choose([]byte("no recording at all"))
	p.upload()
	p.waitFor(`document.title.startsWith("No usable signal")`)
	see("hostile")
	p.choose(benchCSV(120, 1.2, 0.3)) // more than one piece
	p.upload()
	p.waitFor(`document.body.innerText.includes("Mains hum")`)
	see("bad")
	p.choose(benchCSV(60, 1.2, 0.01))
	p.upload()
	p.waitFor(`document.title.startsWith("Usable signal")`)
	p.waitFor(`document.querySelector("main img").naturalWidth === 2160`)
	see("good")
	pc := c.newPhone()
	pc.open("/sign-in")
	pc.signedIn("ben", testSecret)
	pc.open(c.path("test"))
	require.Contains(t, pc.text(), "Look at the recording uploaded at")
	p.do(chromedp.Click(chromedp.CSS("input[name=memory][value=yes]")))
	p.press("Use this test")
	require.Contains(t, p.text(), "Test recording usable")
	p.open(c.path("history"))
	p.waitFor(`document.querySelector("main img").naturalWidth === 2160`)
	see("history")
	p.open(c.path("picture"))
	see("picture")
}

// upload taps the button of the upload; the script sends the file.
func (p *phone) upload() {
	p.t.Helper()
	p.do(chromedp.Click(chromedp.CSS("form[data-upload] button")))
}
