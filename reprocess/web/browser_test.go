package web

import (
	"net/http"
	"net/http/httptest"
	"strings"
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
	handler.HandleFunc("/a/{name}", func(w http.ResponseWriter, r *http.Request) {
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
		handler.HandleFunc(path, func(w http.ResponseWriter, _ *http.Request) {
			b, err := pages.render("parts", sampleParts(state))
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
}
