package web

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"handback/labels"
	"handback/reprocess"
)

// frame is one picture of a camera, 1280 x 720, with symbols beside each other, 6 pixels to a
// module, on a grey bench.
func frame(t testing.TB, texts ...string) image.Image {
	t.Helper()
	pic := image.NewGray(image.Rect(0, 0, 1280, 720))
	draw.Draw(pic, pic.Bounds(), image.NewUniform(color.Gray{Y: 150}), image.Point{}, draw.Src)
	for i, text := range texts {
		m, err := labels.Matrix(text, labels.LevelM)
		require.NoError(t, err)
		const px, quiet = 6, 4
		side := (len(m) + 2*quiet) * px
		left, top := 640-side*len(texts)/2+i*side, 360-side/2
		draw.Draw(pic, image.Rect(left, top, left+side, top+side), image.White, image.Point{}, draw.Src)
		for y, row := range m {
			for x, dark := range row {
				if dark {
					at := image.Pt(left+(x+quiet)*px, top+(y+quiet)*px)
					draw.Draw(pic, image.Rectangle{Min: at, Max: at.Add(image.Pt(px, px))},
						image.Black, image.Point{}, draw.Src)
				}
			}
		}
	}
	return pic
}

// photo is one picture as a JPEG file.
func photo(t testing.TB, texts ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, frame(t, texts...), &jpeg.Options{Quality: 85}))
	return b.Bytes()
}

// seeing is a phone whose camera sees these symbols, for ever.
func (s *testSite) seeing(texts ...string) *phone {
	s.t.Helper()
	path, err := exec.LookPath("chromium")
	require.NoError(s.t, err, "this test needs chromium; install with: %s", installLine)
	alone(s.t)
	clip := filepath.Join(s.t.TempDir(), "clip.mjpeg")
	require.NoError(s.t, os.WriteFile(clip, bytes.Repeat(photo(s.t, texts...), 10), 0o600))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), headless(path, s.t.TempDir(),
		chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-fake-ui-for-media-stream", true),
		chromedp.Flag("use-file-for-fake-video-capture", clip))...)
	ctx, cancel := chromedp.NewContext(alloc)
	s.t.Cleanup(func() { cancel(); stop() })
	return s.phoneIn(ctx)
}

// scanned is the clinic with kit 17 released and the address that its label holds.
func scanned(t *testing.T) (*clinic, string) {
	t.Helper()
	c := newClinic(t)
	c.release()
	c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	return c, labelBase(t).Address(labels.Code(c.codeR))
}

// TestTheCameraAnswersTheDesk: one tap opens the camera, the label answers the question.
func TestTheCameraAnswersTheDesk(t *testing.T) {
	c, address := scanned(t)
	p := c.seeing(address)
	p.signIn("dana", testSecret)
	p.open("/desk")
	p.axe()
	p.tapScan()
	p.waitFor(`document.title.startsWith("Released")`)
	require.Contains(t, p.title(), "kit 17")
}

// tapScan opens the camera of the page; the page stays.
func (p *phone) tapScan() {
	p.t.Helper()
	require.True(p.t, ask[bool](p, `(() => { const b = document.querySelector(".scan > button");
		if (b) { b.click(); } return !!b; })()`), p.text())
}

// TestTheCameraTakesOneLabelOfOurs: two labels in view, another host, another path, another text
// are said in words, and no page is left for them.
func TestTheCameraTakesOneLabelOfOurs(t *testing.T) {
	c, address := scanned(t)
	elsewhere := "https://elsewhere.example/D/" + c.codeR
	for _, see := range []struct {
		texts []string
		says  string
	}{
		{[]string{address, elsewhere}, "More than one label is in view."},
		{[]string{elsewhere}, "That is not one of our labels."},
		{[]string{labelBase(t).String() + "/sign-out"}, "That is not one of our labels."},
	} {
		p := c.seeing(see.texts...)
		p.signIn("dana", testSecret)
		p.open("/desk")
		p.tapScan()
		p.waitFor(`document.querySelector(".scan > p").textContent.startsWith("` + see.says + `")`)
		p.shoot("scan")
		require.Equal(t, "Is it released?", p.title())
		require.Empty(t, ask[string](p, `document.querySelector("#f-find").value`))
	}
}

// labelBase is the host that stands on the labels of the tests.
func labelBase(t testing.TB) labels.Base {
	t.Helper()
	base, err := labels.ParseBase("https://label.clinic.example", false)
	require.NoError(t, err)
	return base
}

// TestAPictureOfTheLabelWillDo: where there is no live camera (plain http beyond this machine) a
// picture is read in its place, and what holds no label is said so.
func TestAPictureOfTheLabelWillDo(t *testing.T) {
	c, address := scanned(t)
	p := c.newPhone()
	p.signIn("dana", testSecret)
	_, err := chromedp.Call(p.ctx, page.AddScriptToEvaluateOnNewDocument,
		page.AddScriptToEvaluateOnNewDocumentParams{
			Source: `Object.defineProperty(window, "isSecureContext", {value: false})`})
	require.NoError(t, err)
	p.open("/desk")
	p.axe()
	p.shoot("scan-picture")
	dir := t.TempDir()
	for name, content := range map[string][]byte{"label.jpg": photo(t, address), "junk.jpg": []byte("junk")} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), content, 0o600))
	}
	upload := func(name string) {
		p.do(chromedp.SetUploadFiles(chromedp.CSS(`.scan input[type=file]`), []string{filepath.Join(dir, name)}))
	}
	upload("junk.jpg")
	p.waitFor(`document.querySelector(".scan > p").textContent.startsWith("No label can be read in this picture")`)
	upload("label.jpg")
	p.waitFor(`document.title.startsWith("Released")`)
}

// TestOnlyPagesThatScanMayCompile: the decoder's compiled code is allowed where a field says so,
// and a field says so only where the row lets it.
func TestOnlyPagesThatScanMayCompile(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	for path, scans := range map[string]bool{"/scan": true, "/take-in": true, "/desk": true,
		"/bench": false, "/": false} {
		b.get(path)
		require.Equal(t, 200, b.status, path)
		require.Equal(t, scans, strings.Contains(b.body, "data-scan="), path)
		require.Equal(t, scans, strings.Contains(b.body, "/a/scan-"), path)
		require.Equal(t, scans, strings.Contains(b.header.Get("Content-Security-Policy"), "wasm"), path)
	}
}

// TestScanLeadsOn: letters, an address and a pool number lead to the kit; what is not known is
// "Cannot confirm".
func TestScanLeadsOn(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	for _, text := range []string{c.codeR, labelBase(t).Address(labels.Code(c.codeR))} {
		require.Equal(t, "/d/"+c.codeR, b.done("/scan", "/scan", "find", text))
	}
	require.Equal(t, "/kit/"+c.kit, b.done("/scan", "/scan", "find", "17"))
	for _, text := range []string{"", "98", "7M2N4P6R8S0T2W5YX"} {
		b.get("/scan")
		b.post("/scan", "find", text)
		require.GreaterOrEqual(t, b.status, 400, text)
		require.Contains(t, b.body, "Cannot confirm", text)
	}
}
