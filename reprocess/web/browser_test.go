package web

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// TestSignInAndHomeInABrowser: a stranger's phone is told so; set-up, sign-in and home work
// with real taps, and axe-core finds nothing on any of them, in any light.
func TestSignInAndHomeInABrowser(t *testing.T) {
	s := newSite(t)
	p := s.newPhone()
	p.open("/sign-in")
	require.Contains(t, p.title(), "not enrolled")
	p.axe()
	p.shoot("phone-not-enrolled")

	s.setUpOn(p)
	require.Contains(t, p.title(), "Ada Okafor")
	p.axe()
	p.shoot("home")

	p.press("Sign out")
	require.Equal(t, "Who are you?", p.title())
	p.axe()
	p.shootAll("sign-in")
	p.fill("Short name", "ada")
	p.fill("Secret", "wrong secret here")
	p.press("Sign in")
	require.Contains(t, p.text(), "The name or the secret is not right.")
	require.Equal(t, "alert", ask[string](p, "document.activeElement.getAttribute('role')"))
	p.axe()
	p.shoot("sign-in-refused")
	p.fill("Secret", bossSecret)
	p.press("Sign in")
	require.Contains(t, p.title(), "What do you want to do, Ada Okafor?")
	p.open("/no/such/page")
	p.axe()
	p.shoot("not-found")

	s.findBoss()
	other := s.newPhone()
	other.signIn("ada", bossSecret)
	require.Contains(t, other.title(), "Ada Okafor")
}

// setUpOn plays the first set-up in a browser.
func (s *testSite) setUpOn(p *phone) {
	s.t.Helper()
	code, err := s.store.FirstCode(p.ctx)
	require.NoError(s.t, err)
	p.open("/start/" + code)
	p.axe()
	p.shoot("start")
	p.fill("Your name", "Ada Okafor")
	p.fill("Short name", "ada")
	p.fill("Password", bossSecret)
	p.fill("Password, once more", bossSecret)
	p.fill("This phone or computer", "Office")
	p.press("Set me up")
}

// shootAll keeps pictures in the dark, at 320 px, on its side, with high contrast and with
// letters twice as large, and checks each.
func (p *phone) shootAll(name string) {
	p.t.Helper()
	p.shoot(name)
	p.dark(true)
	p.axe()
	p.shoot(name + "-dark")
	p.media("prefers-contrast", "more")
	p.fits()
	p.shoot(name + "-contrast")
	p.dark(false)
	p.width(320, 568)
	p.fits()
	p.shoot(name + "-320")
	p.width(740, 360)
	p.fits()
	p.shoot(name + "-landscape")
	p.width(360, 740)
	p.do(chromedp.Evaluate[chromedp.Void](`document.documentElement.style.fontSize = "200%"; undefined`))
	p.fits()
	p.shoot(name + "-200")
	p.do(chromedp.Reload())
}

// TestPartsInABrowser draws every part in each of the three states, and lets the countdown
// run to its end by the server's stamps.
func TestPartsInABrowser(t *testing.T) {
	s := newSite(t)
	pages, a := compiled(t)
	pages = partsTemplates(t, pages)
	handler := http.NewServeMux()
	handler.HandleFunc("GET /a/{name}", func(w http.ResponseWriter, r *http.Request) {
		one := a.byPath[r.URL.Path]
		w.Header().Set("Content-Type", one.kind)
		_, _ = w.Write(one.plain)
	})
	states := map[string]State{
		"/released": ReleasedState("since 24 Nov 14:05, until 8 Dec"),
		"/held":     HeldState("Contact time 41 s of 60 s.", "Ask: Bench, ext. 214"),
		"/unsure":   UnsureState("No answer from the server.", "Treat as not released."),
	}
	for path, state := range states {
		handler.HandleFunc(path, func(w http.ResponseWriter, r *http.Request) {
			parts := sampleParts(state)
			if r.FormValue("run") != "" {
				parts.Run, parts.NowMS = true, parts.Wet.StartMS+60_000
			}
			b, err := pages.render("parts", parts)
			if err != nil {
				http.Error(w, err.Error(), http.StatusInternalServerError)
			}
			w.Header().Set("Content-Security-Policy", strings.Replace(policy, "%", "", 1))
			_, _ = w.Write(b)
		})
	}
	server := httptest.NewServer(handler)
	defer server.Close()
	p := s.newPhone()
	for path := range states {
		p.do(chromedp.Navigate(server.URL + path))
		p.axe()
		p.shoot("parts-" + path[1:])
	}
	p.shootAll("parts")

	// By the server's stamps the needed time is over: words, title, and figures gone.
	p.do(chromedp.Navigate(server.URL + "/held?run=1"))
	p.waitFor(`document.title.startsWith("Long enough: 17 recorder")`)
	require.Equal(t, "none", ask[string](p, `getComputedStyle(document.querySelector(".alone")).display`))
	require.Contains(t, p.text(), "Long enough: 1 min of 1 min")
	require.Equal(t, 12, ask[int](p, `document.querySelectorAll(".wet [data-wet-running] b.past").length`))
	p.axe()
	p.shoot("parts-long-enough")
}

// TestOutboxKeepsAndSendsAgain: a tap that does not reach the server stays visible as not yet
// saved, survives a reload, and is sent with the same key, once.
func TestOutboxKeepsAndSendsAgain(t *testing.T) {
	pages, a := compiled(t)
	set, err := pages["home"].Clone()
	require.NoError(t, err)
	_, err = set.Parse(`{{define "main"}}<form method="post" action="/tap" data-outbox="17 taken back">` +
		`{{template "keys" $}}<div class="acts"><button class="act">Take back</button></div></form>{{end}}`)
	require.NoError(t, err)
	var down atomic.Bool
	var mu sync.Mutex
	keys := map[string]int{}
	handler := http.NewServeMux()
	handler.HandleFunc("GET /a/{name}", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", a.byPath[r.URL.Path].kind)
		_, _ = w.Write(a.byPath[r.URL.Path].plain)
	})
	handler.HandleFunc("POST /tap", func(w http.ResponseWriter, r *http.Request) {
		if down.Load() {
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		mu.Lock()
		keys[r.FormValue("key")]++
		mu.Unlock()
		http.Redirect(w, r, "/done", http.StatusSeeOther)
	})
	handler.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		p := sampleHome().(*homePage)
		p.Title = r.URL.Path
		p.keyStem = randomText(6)
		b, err := templates{"x": set}.render("x", p)
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
		}
		_, _ = w.Write(b)
	})
	server := httptest.NewServer(handler)
	defer server.Close()
	p := newSite(t).newPhone()
	p.do(chromedp.Navigate(server.URL + "/tap"))
	down.Store(true)
	p.do(chromedp.Click(chromedp.CSS("button.act")))
	p.waitFor(`document.getElementById("outbox").innerText.includes("Not yet saved: 17 taken back")`)
	p.axe()
	p.shoot("outbox")
	p.do(chromedp.Reload())
	require.Contains(t, p.text(), "Not yet saved: 17 taken back")
	down.Store(false)
	p.do(chromedp.Evaluate[chromedp.Void](`window.dispatchEvent(new Event("online")); undefined`))
	p.waitFor(`document.readyState === "complete" && document.getElementById("outbox").innerText === ""`)
	mu.Lock()
	defer mu.Unlock()
	require.Len(t, keys, 1)
	for _, n := range keys {
		require.Equal(t, 1, n)
	}
}
