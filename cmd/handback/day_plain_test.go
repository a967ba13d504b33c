package main

import (
	"crypto/rand"
	"html"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// plainBrowser is a browser that runs no script: cookies, forms and links, nothing else.
type plainBrowser struct {
	day    *dayClinic
	client *http.Client
	body   string
	at     *url.URL
	status int
	after  func(b *plainBrowser, method string) // looks at each page that was answered
}

func (c *dayClinic) plain() *plainBrowser {
	jar, err := cookiejar.New(nil)
	require.NoError(c.t, err)
	b := &plainBrowser{day: c, client: &http.Client{Jar: jar}}
	c.t.Cleanup(b.client.CloseIdleConnections)
	return b
}

func (b *plainBrowser) took(res *http.Response, err error) {
	b.day.t.Helper()
	require.NoError(b.day.t, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	require.NoError(b.day.t, err)
	b.body, b.at, b.status = string(body), res.Request.URL, res.StatusCode
	if b.after != nil {
		b.after(b, res.Request.Method)
	}
}

func (b *plainBrowser) open(path string) {
	b.day.t.Helper()
	b.took(b.client.Get("http://" + b.day.addr + path))
	require.Equal(b.day.t, http.StatusOK, b.status, b.body)
}

var (
	aForm    = regexp.MustCompile(`(?s)<form method="post"(?: action="([^"]*)")?[^>]*>(.*?)</form>`)
	anInput  = regexp.MustCompile(`<input [^>]*>`)
	anAttr   = regexp.MustCompile(`([a-z]+)="([^"]*)"`)
	aButton  = regexp.MustCompile(`(?s)<button class="[^"]*"(?: name="([^"]*)" value="([^"]*)")?>(.*?)</button>`)
	aChecked = regexp.MustCompile(` checked[ >]`)
)

// press sends the form of the first button with these words, as it stands but for the pairs.
func (b *plainBrowser) press(words string, pairs ...string) {
	b.day.t.Helper()
	for _, form := range aForm.FindAllStringSubmatch(b.body, -1) {
		for _, button := range aButton.FindAllStringSubmatch(form[2], -1) {
			if !strings.HasPrefix(html.UnescapeString(button[3]), words) {
				continue
			}
			v := asItStands(form[2])
			if button[1] != "" {
				v.Add(button[1], html.UnescapeString(button[2]))
			}
			for i := 0; i+1 < len(pairs); i += 2 {
				v.Set(pairs[i], pairs[i+1])
			}
			to, err := b.at.Parse(html.UnescapeString(form[1]))
			require.NoError(b.day.t, err)
			b.took(b.client.PostForm(to.String(), v))
			b.day.clock.step(20 * time.Second)
			return
		}
	}
	require.Failf(b.day.t, "no such button", "%q on\n%s", words, b.words())
}

var aTag = regexp.MustCompile(`<[^>]*>`)

// words are the page as it reads, for a test that failed.
func (b *plainBrowser) words() string {
	_, main, _ := strings.Cut(b.body, "<main")
	return strings.Join(strings.Fields(html.UnescapeString(aTag.ReplaceAllString(main, " "))), " ")
}

// asItStands is what a browser sends of a form that nobody touched.
func asItStands(form string) url.Values {
	v := url.Values{}
	for _, input := range anInput.FindAllString(form, -1) {
		a := map[string]string{}
		for _, m := range anAttr.FindAllStringSubmatch(input, -1) {
			a[m[1]] = html.UnescapeString(m[2])
		}
		picks := a["type"] == "radio" || a["type"] == "checkbox"
		if a["name"] != "" && (!picks || aChecked.MatchString(input)) {
			v.Add(a["name"], a["value"])
		}
	}
	return v
}

// enrol enrols this browser and signs somebody in.
func (b *plainBrowser) enrol(name, secret string) {
	b.day.t.Helper()
	b.day.phones++
	code, err := b.day.store.InvitePhone(b.day.t.Context(), sqlite.By{Actor: b.day.boss}, name)
	require.NoError(b.day.t, err)
	b.open("/phone")
	b.press("Enrol this phone", "code", code)
	b.press("Sign in", "name", name, "secret", secret)
	require.Equal(b.day.t, http.StatusOK, b.status, b.body)
	require.Equal(b.day.t, "/", b.at.Path)
}

// TestADayWithoutScript: one whole cycle by plain form posts, from taking back to handing out;
// every answer is read from the page that a browser without script shows.
func TestADayWithoutScript(t *testing.T) {
	c := newDay(t)
	code := c.labelled("18")
	desk := c.plain()
	desk.enrol("dario", dayPIN)
	desk.open("/desk")
	desk.press("Look it up", "find", code)
	require.Contains(t, desk.body, "It is out, due back 24 Nov 2026.")
	desk.press("Take back", "skin", "no", "fault", "no", "missing", "no")
	require.Contains(t, desk.body, "Taken back: kit 18")

	bench := c.plain()
	bench.enrol("ada", dayPassword)
	bench.open("/d/" + code)
	for _, words := range []string{"It has arrived; old cell out", "Both: visibly clean",
		"Both are wet now"} {
		bench.press(words)
		require.Equal(t, http.StatusOK, bench.status, bench.body)
	}
	c.clock.step(41 * time.Second) // 61 s with the 20 s after the tap
	for _, words := range []string{"Yes, both still look wet", "Both: fully dry", "Both: seals"} {
		bench.press(words)
		require.Equal(t, http.StatusOK, bench.status, bench.body)
	}
	bench.press("New cell from LR03", "a-charge", "93")
	bench.press("Both: last assignment ended")
	bench.press("Recorder: bench source")
	bench.open("/d/" + code)
	bench.press("Kit complete")
	require.Contains(t, bench.body, "Every step is done, but nobody has released it yet.")
	bench.open("/kit/" + c.kits["18"] + "/release")
	require.Contains(t, bench.body, "61 s of 60 s")
	bench.press("Release kit 18", "secret", "wrong secret here")
	require.Equal(t, http.StatusForbidden, bench.status, "a wrong secret releases nothing")
	require.Empty(t, c.entries("18", reprocess.ActRelease))
	bench.press("Release kit 18", "secret", dayPassword)
	require.Contains(t, bench.body, `<h1 class="state released"><span>Released</span></h1>`)

	desk.open("/desk")
	desk.press("Look it up", "find", "18")
	require.Contains(t, desk.body, "Released")
	desk.open("/desk/kit/" + c.kits["18"] + "/out")
	desk.press("Hand out 18", "reference", "B-2077")
	require.Contains(t, desk.body, "Out: kit 18, due back")
	require.Len(t, c.entries("18", reprocess.ActIssue), 1)
}

// labelled gives the recorder of a kit a label and its code.
func (c *dayClinic) labelled(number string) string {
	c.t.Helper()
	fresh, err := labels.NewCode(rand.Reader)
	require.NoError(c.t, err)
	code := string(fresh)
	w, err := c.store.KitWorld(c.t.Context(), c.kits[number])
	require.NoError(c.t, err)
	c.must(reprocess.Reissue{Kit: c.kits[number], Kind: reprocess.CodePiece,
		Target: w.Kits[c.kits[number]].Pieces[0], Code: code, Reason: "first label"})
	return code
}
