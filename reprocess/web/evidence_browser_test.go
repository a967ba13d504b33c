package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
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

// chooseFile puts a file that is there already into the upload of the page.
func (p *phone) chooseFile(path string) {
	p.t.Helper()
	p.do(chromedp.SetUploadFiles(chromedp.CSS("form[data-upload] input[type=file]"), []string{path}))
}

// dropping makes every request of the page after the first n fail as a lost connection does, or
// hang as a dead one, and counts the pieces that were sent.
const dropping = `(() => {
	const send = window.fetch; let n = 0; window.sent = 0;
	window.fetch = (to, how) => {
		if (++n > %d && n <= %d) { return Promise.reject(new TypeError("connection lost")); }
		if (n > %d) { return new Promise(() => {}); }
		if (how && how.body && how.body.has("piece")) { window.sent++; }
		return send(to, how);
	}; return true;
})()`

// TestADroppedUploadGoesOn: a connection that is lost twice in the middle is tried again by
// itself; one that dies for good leaves what was sent at the server, and the same file chosen
// again after the page was opened anew sends only the rest. Judged once, nothing lost or doubled.
func TestADroppedUploadGoesOn(t *testing.T) {
	c := newClinic(t)
	c.canExport()
	c.toTest()
	file := benchCSV(240, 1.2, 0.01)
	pieces := (len(file) + mostPiece - 1) / mostPiece
	require.GreaterOrEqual(t, pieces, 3)
	path := filepath.Join(t.TempDir(), "recording.csv")
	require.NoError(t, os.WriteFile(path, file, 0o600))
	p := c.newPhone()
	p.open("/sign-in")
	p.signIn("ben", testSecret)
	p.open(c.path("test"))
	// one request opens the draft, the second sends a piece, two are lost, one more gets through
	require.True(t, ask[bool](p, fmt.Sprintf(dropping, 2, 4, 5)))
	p.chooseFile(path)
	p.upload()
	p.waitFor(`window.sent === 2`)
	p.waitFor(`/^[1-9][0-9]? % uploaded/.test(document.querySelector("[data-upload-words]").textContent)`)
	drafts, err := c.store.Drafts(context.Background(), c.kit)
	require.NoError(t, err)
	require.Len(t, drafts, 1)
	require.Equal(t, int64(2*mostPiece), drafts[0].Have, "two pieces, each once")

	p.open(c.path("test"))
	require.True(t, ask[bool](p, fmt.Sprintf(dropping, 1000, 1000, 1000)))
	require.True(t, ask[bool](p, `(() => { addEventListener("pagehide", () =>
		sessionStorage.setItem("sent", window.sent)); return true; })()`))
	p.chooseFile(path)
	p.upload()
	p.waitFor(`document.title.startsWith("Usable signal")`)
	require.Equal(t, fmt.Sprint(pieces-2), ask[string](p, `sessionStorage.getItem("sent")`),
		"only the rest was sent")
	drafts, err = c.store.Drafts(context.Background(), c.kit)
	require.NoError(t, err)
	require.Len(t, drafts, 1)
	require.True(t, drafts[0].Whole())
	sum := sha256.Sum256(file)
	require.Equal(t, hex.EncodeToString(sum[:]), drafts[0].SHA256)
}

// upload taps the button of the upload; the script sends the file.
func (p *phone) upload() {
	p.t.Helper()
	p.waitFor(`!("guard" in document.documentElement.dataset)`) // it hears no pointer at first
	p.do(chromedp.Click(chromedp.CSS("form[data-upload] button")))
}
