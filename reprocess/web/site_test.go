package web

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// fakeClock is the only clock of a test; it moves when it is told to.
type fakeClock struct {
	mu sync.Mutex
	ms int64
}

// Tuesday, 24 November 2026, 14:05 UTC.
var testStart = time.Date(2026, 11, 24, 14, 5, 0, 0, time.UTC)

func newClock() *fakeClock { return &fakeClock{} }

func (c *fakeClock) Now() reprocess.Now {
	c.mu.Lock()
	defer c.mu.Unlock()
	return reprocess.Now{UTC: reprocess.InstantOf(testStart) + reprocess.Instant(c.ms),
		Boot: "test", Mono: c.ms}
}

func (c *fakeClock) step(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.ms += d.Milliseconds()
}

const (
	bossSecret = "walnut kettle ferry"
	testSecret = "copper pencil meadow"
)

// testSite is a real server on a free port with a real database and a fake clock.
type testSite struct {
	t     testing.TB
	clock *fakeClock
	dir   string
	addr  string
	store *sqlite.Store
	log   *bytes.Buffer
	boss  reprocess.Actor
	stop  func()

	phones int
	mu     *sync.Mutex
}

// sideBySide remembers the tests that run beside others.
var sideBySide sync.Map

// beside lets a test run beside others, from its first site on: each site has its own folder,
// port and clock, and nothing else is shared.
func beside(t testing.TB) {
	if test, ok := t.(*testing.T); ok && !strings.Contains(t.Name(), "/") {
		if _, again := sideBySide.LoadOrStore(t.Name(), true); !again {
			test.Parallel()
		}
	}
}

// newSite starts a server of a site without people.
func newSite(t testing.TB, change ...func(*Config)) *testSite {
	t.Helper()
	beside(t)
	s := &testSite{t: t, clock: newClock(), dir: t.TempDir(), log: new(bytes.Buffer),
		mu: new(sync.Mutex)}
	s.start("127.0.0.1:0", change...)
	t.Cleanup(func() { s.stop() })
	return s
}

// Write keeps the log of the server, which writes from many goroutines.
func (s *testSite) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.log.Write(b)
}

func (s *testSite) logged() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.log.String()
}

func (s *testSite) start(addr string, change ...func(*Config)) {
	s.t.Helper()
	store, err := sqlite.Open(s.dir, sqlite.Options{Clock: s.clock.Now, Site: "Test",
		HashKiB: 64})
	require.NoError(s.t, err)
	ln, err := net.Listen("tcp", addr)
	require.NoError(s.t, err)
	base, err := labels.ParseBase("https://label.clinic.example", false)
	require.NoError(s.t, err)
	cfg := Config{Store: store, BaseURL: base, Plain: true, Log: slog.New(slog.NewJSONHandler(s, nil))}
	for _, f := range change {
		f(&cfg)
	}
	server, err := New(cfg)
	require.NoError(s.t, err)
	s.addr, s.store = ln.Addr().String(), store
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(ln) }()
	s.stop = sync.OnceFunc(func() {
		require.NoError(s.t, server.Shutdown(context.Background()))
		_ = ln.Close() // a server that had not begun to listen yet begins, and ends, now
		require.NoError(s.t, <-ended)
		require.NoError(s.t, store.Close())
	})
}

// restart stops the server and starts it again on the same folder and port.
func (s *testSite) restart() {
	s.t.Helper()
	s.stop()
	s.start(s.addr)
}

func (s *testSite) url(path string) string { return "http://" + s.addr + path }

// setUp makes the first supervisor, Ada, by the one-time link.
func (s *testSite) setUp() *browser {
	s.t.Helper()
	code, err := s.store.FirstCode(context.Background())
	require.NoError(s.t, err)
	b := s.browser()
	b.get("/start/" + code)
	b.post("/start/"+code, "name", "Ada Okafor", "sign_in", "ada", "secret", bossSecret,
		"secret_again", bossSecret, "phone", "Office")
	require.Equal(s.t, http.StatusSeeOther, b.status, b.body)
	s.findBoss()
	return b
}

// findBoss notes who signs for the tests: the first supervisor.
func (s *testSite) findBoss() {
	s.t.Helper()
	p, err := sqlite.Get[reprocess.Person](context.Background(), s.store, reprocess.TablePerson,
		reprocess.FirstSupervisorID)
	require.NoError(s.t, err)
	s.boss = reprocess.Actor{Person: p, Signed: true}
}

// person adds somebody with roles and a secret, and gives a signed-in browser of theirs on a
// phone enrolled for it.
func (s *testSite) person(name, short string, roles ...reprocess.Role) *browser {
	s.t.Helper()
	ctx := context.Background()
	e, err := s.store.Do(ctx, sqlite.Request{Actor: s.boss, Cmd: reprocess.SetPerson{
		Person: reprocess.Person{Name: name, SignIn: short, Roles: roles}}})
	require.NoError(s.t, err)
	set, ok := e.Events[0].Event.(reprocess.PersonSet)
	require.True(s.t, ok)
	require.NoError(s.t, s.store.GiveSecret(ctx, set.ID, testSecret))
	b := s.enrolled()
	b.signIn(short, testSecret)
	return b
}

// enrolled is a browser on a phone that may reach the sign-in.
func (s *testSite) enrolled() *browser {
	s.t.Helper()
	s.phones++
	code, err := s.store.InvitePhone(context.Background(), sqlite.By{Actor: s.boss},
		fmt.Sprintf("Phone %d", s.phones))
	require.NoError(s.t, err)
	b := s.browser()
	b.get("/phone")
	b.post("/phone", "code", code)
	require.Equal(s.t, http.StatusSeeOther, b.status, b.body)
	return b
}

// browser is a browser without script: cookies, forms, no redirects by itself.
type browser struct {
	site   *testSite
	client *http.Client
	status int
	header http.Header
	body   string
	extra  map[string]string // headers of every request
}

func (s *testSite) browser() *browser {
	jar, err := cookiejar.New(nil)
	require.NoError(s.t, err)
	return &browser{site: s, extra: map[string]string{}, client: &http.Client{Jar: jar,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

func (b *browser) do(req *http.Request) {
	b.site.t.Helper()
	for k, v := range b.extra {
		req.Header.Set(k, v)
	}
	res, err := b.client.Do(req)
	require.NoError(b.site.t, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	require.NoError(b.site.t, err)
	b.status, b.header, b.body = res.StatusCode, res.Header, string(body)
}

func (b *browser) get(path string) {
	b.site.t.Helper()
	req, err := http.NewRequest(http.MethodGet, b.site.url(path), nil)
	require.NoError(b.site.t, err)
	b.do(req)
}

var (
	tokenIn = regexp.MustCompile(`name="token" value="([^"]*)"`)
	keyIn   = regexp.MustCompile(`name="key" value="([^"]*)"`)
)

// hidden gives the form token and the key of the first form on the page last seen.
func (b *browser) hidden() (token, key string) {
	if m := tokenIn.FindStringSubmatch(b.body); m != nil {
		token = m[1]
	}
	if m := keyIn.FindStringSubmatch(b.body); m != nil {
		key = m[1]
	}
	return token, key
}

// post sends a form with the token and key of the page last seen; pairs are its fields.
func (b *browser) post(path string, pairs ...string) {
	b.site.t.Helper()
	token, key := b.hidden()
	b.send(path, fields(append([]string{"token", token, "key", key}, pairs...)...))
}

func fields(pairs ...string) url.Values {
	v := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		v.Add(pairs[i], pairs[i+1])
	}
	return v
}

// send posts exactly these fields.
func (b *browser) send(path string, form url.Values) {
	b.site.t.Helper()
	req, err := http.NewRequest(http.MethodPost, b.site.url(path), strings.NewReader(form.Encode()))
	require.NoError(b.site.t, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	b.do(req)
}

func (b *browser) signIn(name, secret string) {
	b.site.t.Helper()
	b.get("/sign-in")
	b.post("/sign-in", "name", name, "secret", secret, "to", "/")
	require.Equal(b.site.t, http.StatusSeeOther, b.status, b.body)
}

// cookie gives a cookie of the browser, empty when there is none.
func (b *browser) cookie(name string) string {
	u, err := url.Parse(b.site.url("/"))
	require.NoError(b.site.t, err)
	for _, c := range b.client.Jar.Cookies(u) {
		if c.Name == name {
			return c.Value
		}
	}
	return ""
}

func byBoss(s *testSite) sqlite.By { return sqlite.By{Actor: s.boss} }
