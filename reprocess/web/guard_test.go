package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// Headers as OWASP ASVS 5.0.0 asks: 3.4.1 HSTS, 3.4.3 CSP, 3.4.4 nosniff, 3.4.5 referrer,
// 3.4.6 frame-ancestors; 14.3.2 no-store.
func TestHeadersOfEveryAnswer(t *testing.T) {
	s := newSite(t, func(c *Config) { c.Plain = false })
	b := s.browser()
	for _, path := range []string{"/", "/sign-in", "/healthz", "/no/such/page", "/start/x"} {
		b.get(path)
		csp := b.header.Get("Content-Security-Policy")
		for _, part := range []string{"default-src 'none'", "script-src 'self';", "style-src 'self'",
			"form-action 'self'", "base-uri 'none'", "frame-ancestors 'none'"} {
			require.Contains(t, csp, part, path)
		}
		require.NotContains(t, csp, "unsafe", path)
		require.Equal(t, "nosniff", b.header.Get("X-Content-Type-Options"), path)
		require.Equal(t, "same-origin", b.header.Get("Referrer-Policy"), path)
		require.Contains(t, b.header.Get("Permissions-Policy"), "camera=(self)", path)
		require.Equal(t, "max-age=31536000; includeSubDomains",
			b.header.Get("Strict-Transport-Security"), path)
		require.Equal(t, "no-store", b.header.Get("Cache-Control"), path)
		require.Empty(t, b.header.Get("Server"), path)
		for _, cookie := range b.header.Values("Set-Cookie") {
			require.True(t, strings.HasPrefix(cookie, "__Host-"), cookie)
			low := strings.ToLower(cookie)
			for _, part := range []string{"secure", "httponly", "samesite=lax", "path=/"} {
				require.Contains(t, low, part)
			}
			require.NotContains(t, low, "domain")
		}
	}
}

func TestPlainHTTPSaysSoAndDropsSecure(t *testing.T) {
	s := newSite(t)
	b := s.setUp()
	require.Empty(t, b.header.Get("Strict-Transport-Security"))
	require.NotEmpty(t, b.cookie(cookieSession))
	require.NotContains(t, strings.ToLower(strings.Join(b.header.Values("Set-Cookie"), " ")), "secure")
	b.get("/")
	require.Contains(t, b.body, "Not for real use.")
}

func TestAssetsAreKeptForEver(t *testing.T) {
	s := newSite(t)
	b := s.browser()
	b.get("/sign-in")
	found := regexp.MustCompile(`/a/[a-z]+-[0-9a-f]{16}\.(css|js|svg)`).FindAllString(b.body, -1)
	require.GreaterOrEqual(t, len(found), 3)
	for _, path := range found {
		b.get(path)
		require.Equal(t, http.StatusOK, b.status, path)
		require.Equal(t, "public, max-age=31536000, immutable", b.header.Get("Cache-Control"))
		require.Empty(t, b.header.Values("Set-Cookie"))
		require.NotEmpty(t, b.body)
	}
	b.get("/a/look-0000000000000000.css")
	require.Equal(t, http.StatusNotFound, b.status)
	require.Equal(t, "no-store", b.header.Get("Cache-Control"))
}

// A compressed body would be unpacked without limit (600 MB out of 600 kB with fiber 2.52.15).
func TestCompressedBodiesAreRefused(t *testing.T) {
	s := newSite(t)
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	_, err := w.Write(bytes.Repeat([]byte("a"), 10<<20))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	b := s.browser()
	for _, encoding := range []string{"gzip", "deflate", "br", "identity", "gzip, gzip"} {
		req, err := http.NewRequest(post, s.url("/sign-in"), bytes.NewReader(packed.Bytes()))
		require.NoError(t, err)
		req.Header.Set("Content-Encoding", encoding)
		b.do(req)
		require.Equal(t, http.StatusUnsupportedMediaType, b.status, encoding)
		require.Contains(t, b.body, "Send it uncompressed.")
	}
}

func TestBodiesHaveALimit(t *testing.T) {
	s := newSite(t)
	b := s.browser()
	b.get("/phone")
	// The rest of the form is 8 + 64 + 6 bytes or so; only the two sides of the limit matter.
	token, _ := b.hidden()
	size := func(n int) url.Values {
		head := len(fields("token", token, "code", "").Encode())
		return fields("token", token, "code", strings.Repeat("A", n-head))
	}
	b.send("/phone", size(usualBody))
	require.Equal(t, http.StatusForbidden, b.status, "at the limit the form is read")
	b.send("/phone", size(usualBody+1))
	require.Equal(t, http.StatusRequestEntityTooLarge, b.status)
	require.Contains(t, b.body, "too much at once")
}

// A label printed from a forged host would be poisoned for ever.
func TestForgedHostsNeverAppear(t *testing.T) {
	s := newSite(t)
	b := s.browser()
	for _, name := range []string{"X-Forwarded-Host", "X-Forwarded-Proto", "X-Forwarded-Server",
		"X-Original-URL", "Forwarded", "X-Forwarded-For", "X-Host"} {
		b.extra[name] = "evil.example"
	}
	for _, path := range []string{"/", "/sign-in", "/no/such", "/start/abc", "/sign-in?to=//evil.example/x",
		"/sign-in?to=https://evil.example/x"} {
		b.get(path)
		all := b.body + fmt.Sprint(b.header)
		if !strings.Contains(path, "to=") {
			require.NotContains(t, all, "evil.example", path)
			continue
		}
		require.NotContains(t, all, `value="//evil`, path)
		require.NotContains(t, all, `value="https://evil`, path)
	}
	require.NotContains(t, s.logged(), "evil.example")
}

func TestOnlyLocalAddressesAreFollowed(t *testing.T) {
	for in, want := range map[string]string{"/": "/", "/d/7M2N": "/d/7M2N", "/a?b=c": "/a?b=c", "": "/",
		"//evil.example": "/", "https://evil.example/": "/", `/\evil.example`: "/", "evil": "/",
		"/\r\nSet-Cookie: x=1": "/", "javascript:alert(1)": "/"} {
		require.Equal(t, want, localPath(in), in)
	}
}

// Cases after the Fetch standard (Origin) and the Fetch Metadata draft (Sec-Fetch-Site).
func TestSameOrigin(t *testing.T) {
	for _, c := range []struct {
		site, origin string
		want         bool
	}{
		{"", "", true}, // no browser: it carries nobody's cookies
		{"same-origin", "", true},
		{"none", "", true},
		{"same-origin", "http://h:1", true},
		{"", "http://h:1", true},
		{"", "http://H:1", true},
		{"cross-site", "", false},
		{"same-site", "http://h:1", false},
		{"cross-site", "http://h:1", false},
		{"", "http://evil.example", false},
		{"same-origin", "http://evil.example", false},
		{"", "null", false},
		{"same-origin", "null", true},
		{"", "http://h:2", false},
		{"", "http://h:1.evil.example", false},
	} {
		require.Equal(t, c.want, sameOrigin(c.site, c.origin, "h:1"), "%+v", c)
	}
}

func TestFormsFromElsewhereAreRefused(t *testing.T) {
	s := newSite(t)
	b := s.setUp()
	b.get("/secret")
	b.extra["Origin"] = "http://evil.example"
	b.post("/sign-out")
	require.Equal(t, http.StatusForbidden, b.status)
	require.Contains(t, b.body, "came from another site")
	delete(b.extra, "Origin")
	b.get("/")
	require.Equal(t, http.StatusOK, b.status, "still signed in")

	b.send("/sign-out", fields("token", "forged", "soil", "visible"))
	require.Equal(t, http.StatusConflict, b.status)
	require.Contains(t, b.body, `name="soil" value="visible"`)
	token, _ := b.hidden()
	b.send("/sign-out", fields("token", token))
	require.Equal(t, http.StatusSeeOther, b.status)
	b.get("/")
	require.Equal(t, http.StatusSeeOther, b.status, "signed out")
}

// A restart between opening a form and sending it loses nothing.
func TestRestartKeepsTheForm(t *testing.T) {
	s := newSite(t)
	b := s.setUp()
	b.get("/secret")
	s.restart()
	b.post("/secret", "secret_old", bossSecret, "secret", "orange harbour lamp",
		"secret_again", "orange harbour lamp")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get("/")
	require.Contains(t, b.body, "Your new secret is kept.")
	b.get("/")
	require.NotContains(t, b.body, "Your new secret is kept.", "a notice is told once")
}

// A form sent after the session was over is kept through the sign-in, without its secrets.
func TestAStaleSessionKeepsWhatWasTyped(t *testing.T) {
	s := newSite(t)
	b := s.setUp()
	b.get("/secret")
	s.clock.step(time.Hour)
	b.post("/secret", "secret_old", bossSecret, "secret", "orange harbour lamp",
		"secret_again", "orange harbour lamp", "note", `seen "dry" & wiped`)
	require.Equal(t, http.StatusUnauthorized, b.status)
	require.Contains(t, b.body, "You were signed out because nothing was done")
	require.Contains(t, b.body, `name="kept.note" value="seen &#34;dry&#34; &amp; wiped"`)
	require.NotContains(t, b.body, "orange harbour")
	require.NotContains(t, b.body, bossSecret)
	key := regexp.MustCompile(`name="kept.key" value="([^"]+)"`).FindStringSubmatch(b.body)
	require.NotNil(t, key, "the key stays, so that it counts once")

	b.post("/sign-in", "name", "ada", "secret", bossSecret, "to", "/secret",
		"kept.note", `seen "dry" & wiped`, "kept.key", key[1])
	require.Equal(t, http.StatusOK, b.status, b.body)
	require.Contains(t, b.body, `action="/secret"`)
	require.Contains(t, b.body, `name="note" value="seen &#34;dry&#34; &amp; wiped"`)
	require.Contains(t, b.body, `name="key" value="`+key[1]+`"`)
	token, _ := b.hidden()
	b.send("/secret", fields("token", token, "note", "x"))
	require.NotEqual(t, http.StatusConflict, b.status, "the fresh token holds")
}

// Texts of requests must not change under a handler: fiber reuses its buffers unless told
// otherwise, and an entry would carry somebody else's words.
func TestFiftyPostsAtOnceAreNotMixed(t *testing.T) {
	s := newSite(t)
	s.setUp()
	b := s.enrolled()
	b.get("/sign-in")
	token, _ := b.hidden()
	var wg sync.WaitGroup
	for i := range 50 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			one := &browser{site: s, client: b.client, extra: map[string]string{}}
			name := fmt.Sprintf("name-%03d", i)
			one.send("/secret", fields("token", token, "note", name, "to", "/"+name))
			if one.status != http.StatusUnauthorized ||
				strings.Count(one.body, `value="`+name+`"`) != 1 || strings.Count(one.body, "name-") != 2 {
				t.Errorf("%s got %d: %s", name, one.status, one.body)
			}
		}()
	}
	wg.Wait()
}

// A panic and an unknown error become one bland page with a number that the log has too.
func TestFaultsAreBlandAndLogged(t *testing.T) {
	s := newSite(t)
	server, err := New(Config{Store: s.store, Plain: true, Log: nil})
	require.NoError(t, err)
	app := server.router([]Route{
		{Method: get, Path: "/panic", Who: open, Handle: func(*Visit) error { panic("secret detail") }},
		{Method: get, Path: "/error", Who: open, Handle: func(v *Visit) error {
			v.c.Set(fiber.HeaderContentDisposition, "attachment")
			v.c.Set(fiber.HeaderContentType, "text/csv")
			_, _ = v.c.WriteString("half a row")
			return fmt.Errorf("secret detail")
		}},
		{Method: get, Path: "/desk", Who: open, Unsure: true, Handle: func(*Visit) error {
			return &reprocess.Problem{Code: reprocess.Unavailable, Text: "No answer from the store.",
				Fix: "Try again."}
		}},
		{Method: get, Path: "/nobody", Handle: healthy},
	})
	ask := func(path string) (int, string, http.Header) {
		req, err := http.NewRequest(get, "http://h"+path, nil)
		require.NoError(t, err)
		res, err := app.Test(req, -1)
		require.NoError(t, err)
		defer res.Body.Close()
		var body bytes.Buffer
		_, err = body.ReadFrom(res.Body)
		require.NoError(t, err)
		return res.StatusCode, body.String(), res.Header
	}
	for _, path := range []string{"/panic", "/error"} {
		status, body, header := ask(path)
		require.Equal(t, 500, status)
		require.NotContains(t, body, "secret detail")
		require.NotContains(t, body, "half a row")
		require.Contains(t, body, blandText)
		require.Contains(t, body, "say the number")
		require.Empty(t, header.Get("Content-Disposition"))
		require.Equal(t, "text/html; charset=utf-8", header.Get("Content-Type"))
		require.NotEmpty(t, header.Get("Content-Security-Policy"))
	}
	status, body, _ := ask("/desk")
	require.Equal(t, 503, status)
	require.Contains(t, body, "Cannot confirm")
	require.Contains(t, body, "Treat as not released.")
	status, _, _ = ask("/nobody")
	require.Equal(t, http.StatusSeeOther, status, "a row without a Who opens for nobody")

	delete(server.pages, "problem")
	status, body, _ = ask("/error")
	require.Equal(t, 500, status)
	require.Contains(t, body, blandText, "the page of last resort needs no template")
}

// The log names the row, never what is secret: codes of labels and links, tokens, secrets.
func TestTheLogKeepsSecrets(t *testing.T) {
	s := newSite(t)
	code, err := s.store.FirstCode(context.Background())
	require.NoError(t, err)
	b := s.browser()
	b.get("/start/" + code)
	b.get("/phone")
	b.post("/phone", "code", "ABCD-EFGH-JKMN")
	b.get("/d/7M2N4P6R8S0T2W5YH")
	b = s.setUp()
	log := s.logged()
	require.Contains(t, log, `"route":"/start/:code"`)
	for _, secret := range []string{code, "ABCD-EFGH", "7M2N", bossSecret, b.cookie(cookieSession),
		b.cookie(cookiePhone), b.cookie(cookieForm)} {
		require.NotEmpty(t, secret)
		require.NotContains(t, log, secret)
	}
}

func TestAStrangePhoneIsToldSo(t *testing.T) {
	s := newSite(t)
	s.setUp()
	b := s.browser()
	b.get("/sign-in")
	require.Equal(t, http.StatusForbidden, b.status)
	require.Contains(t, b.body, "not enrolled")
	require.NotContains(t, b.body, `type="password"`, "only enrolled phones reach the secret")
	b.post("/sign-in", "name", "ada", "secret", bossSecret)
	require.Equal(t, http.StatusForbidden, b.status)
	require.Empty(t, b.cookie(cookieSession))
}

// Signing in gives a new session, and the one before is over at once, also on the server.
func TestSessionsAreRenewed(t *testing.T) {
	s := newSite(t)
	b := s.setUp()
	first := b.cookie(cookieSession)
	b.get("/")
	b.post("/sign-out")
	require.Empty(t, b.cookie(cookieSession))
	b.signIn("ada", bossSecret)
	require.NotEqual(t, first, b.cookie(cookieSession))
	thief := s.browser()
	thief.extra["Cookie"] = cookieSession + "=" + first
	thief.get("/")
	require.Equal(t, http.StatusSeeOther, thief.status)
	require.Contains(t, thief.header.Get("Location"), "/sign-in")
}

func TestFirstSetUpWorksOnce(t *testing.T) {
	s := newSite(t)
	code, err := s.store.FirstCode(context.Background())
	require.NoError(t, err)
	b := s.browser()
	b.get("/start/" + code)
	b.post("/start/"+code, "name", "Ada", "sign_in", "ada", "secret", bossSecret, "secret_again", "x",
		"phone", "Office")
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, "The two secrets are not the same.")
	require.Contains(t, b.body, `value="Office"`, "what was typed is kept")
	b.post("/start/"+code, "name", "Ada", "sign_in", "ada", "secret", "1234", "secret_again", "1234",
		"phone", "Office")
	require.Equal(t, http.StatusBadRequest, b.status)
	b.post("/start/"+code, "name", "Ada", "sign_in", "ada", "secret", bossSecret,
		"secret_again", bossSecret, "phone", "Office")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get("/start/" + code)
	require.Equal(t, http.StatusForbidden, b.status)
	b.get("/secret/" + code)
	require.Equal(t, http.StatusForbidden, b.status)
}

// A new member of staff sets their own secret with a one-time link and is signed in.
func TestOwnSecretByLink(t *testing.T) {
	s := newSite(t)
	s.setUp()
	ben := s.person("Ben Ito", "ben", reprocess.RoleReprocessing)
	id, err := s.store.SessionPerson(context.Background(), ben.cookie(cookieSession))
	require.NoError(t, err)
	p, err := s.store.ResetSecret(context.Background(), byBoss(s), id, "Bench 2")
	require.NoError(t, err)
	b := s.browser()
	b.get("/secret/" + p)
	require.Contains(t, b.body, "Which secret will be yours, Ben Ito?")
	b.post("/secret/"+p, "secret", "739164", "secret_again", "739164")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get("/")
	require.Equal(t, http.StatusOK, b.status)
	require.Contains(t, b.body, "Ben Ito")
}

func TestNewRefusesAMissingStore(t *testing.T) {
	_, err := New(Config{})
	require.Error(t, err)
}

func TestNoFileOutsideArtefactsIsWritten(t *testing.T) {
	ignored, err := os.ReadFile("../../.gitignore")
	require.NoError(t, err)
	require.Contains(t, string(ignored), "/artefacts/")
}

// What fails before any page is asked for is the sender's fault and says so, in a sentence.
func TestUnreadableRequestsAreRefusedInWords(t *testing.T) {
	s := newSite(t)
	send := func(kind, body string) (int, string) {
		r, err := http.NewRequest(http.MethodPost, s.url("/sign-in"), strings.NewReader(body))
		require.NoError(t, err)
		r.Header.Set("Content-Type", kind)
		answer, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		defer answer.Body.Close()
		text, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		return answer.StatusCode, string(text)
	}
	status, text := send("multipart/form-data; boundary=x", "--x\r\njunk")
	require.Equal(t, http.StatusBadRequest, status)
	require.Contains(t, text, "What was sent cannot be read")
	many := strings.Repeat("--x\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\n1\r\n", 3000)
	status, text = send("multipart/form-data; boundary=x", many+"--x--\r\n")
	require.Equal(t, http.StatusBadRequest, status)
	require.NotContains(t, text, "Something went wrong")
}
