package web

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// concrete gives a path that a route matches, with letters where the row has parameters.
func concrete(r Route) string {
	parts := strings.Split(r.Path, "/")
	for i, p := range parts {
		if strings.HasPrefix(p, ":") {
			parts[i] = "7M2N4P6R8S0T"
		}
	}
	return strings.Join(parts, "/")
}

func describe(r Route, who string) string {
	return fmt.Sprintf("%s %s as %s", r.Method, r.Path, who)
}

// TestEveryRouteForEveryRoleAndForNobody walks the whole table: nobody gets past a row that
// is not open, and each role reaches exactly its rows.
func TestEveryRouteForEveryRoleAndForNobody(t *testing.T) {
	s := newSite(t)
	s.setUp()
	for _, r := range routes() {
		nobody := s.enrolled()
		walkAsNobody(t, nobody, r)
	}
	for i, role := range reprocess.Roles() {
		b := s.person("Person "+string(rune('A'+i)), fmt.Sprintf("p%d", i), role)
		for _, r := range routes() {
			if r.Path == "/sign-out" {
				continue // ends the session; walked by its own test
			}
			walkAs(t, b, r, role)
		}
	}
}

func walkAsNobody(t *testing.T, b *browser, r Route) {
	t.Helper()
	b.get("/sign-in")
	if r.Method == get {
		b.get(concrete(r))
	} else {
		b.post(concrete(r), "soil", "visible")
	}
	name := describe(r, "nobody")
	switch {
	case r.Who.open:
		require.NotEqual(t, http.StatusUnauthorized, b.status, name)
		require.NotEqual(t, http.StatusInternalServerError, b.status, name)
	case r.Method == get:
		require.Equal(t, http.StatusSeeOther, b.status, name)
		require.True(t, strings.HasPrefix(b.header.Get("Location"), "/sign-in"), name)
		require.Empty(t, b.body, name)
	default:
		require.Equal(t, http.StatusUnauthorized, b.status, name)
		require.Contains(t, b.body, `name="kept.soil" value="visible"`, name)
	}
}

func walkAs(t *testing.T, b *browser, r Route, role reprocess.Role) {
	t.Helper()
	name := describe(r, string(role))
	b.get("/")
	require.Equal(t, http.StatusOK, b.status, name)
	if r.Method == get {
		b.get(concrete(r))
	} else {
		b.post(concrete(r))
	}
	if r.Who.lets(&reprocess.Person{Roles: []reprocess.Role{role}}) {
		require.NotContains(t, b.body, "is not among those of", name)
		require.NotEqual(t, http.StatusInternalServerError, b.status, name)
		return
	}
	require.Equal(t, http.StatusForbidden, b.status, name)
	require.Contains(t, b.body, "is not among those of", name)
}

// A row without anybody is nobody's: the check at the start refuses it, and so does the guard.
func TestRowsAreRefusedByDefault(t *testing.T) {
	pages, _ := compiled(t)
	fine := Route{Method: get, Path: "/x", Who: signedIn, Handle: home}
	require.NoError(t, checkRoutes([]Route{fine}, pages))
	require.NoError(t, checkRoutes(routes(), pages))
	for name, bad := range map[string]func(r *Route){
		"nobody":   func(r *Route) { r.Who = Who{} },
		"handler":  func(r *Route) { r.Handle = nil },
		"template": func(r *Route) { r.Page, r.Sample = "no-such", sampleHome },
		"sample":   func(r *Route) { r.Page = "home" },
		"place":    func(r *Route) { r.Question = "What is next?" },
	} {
		r := fine
		bad(&r)
		require.Error(t, checkRoutes([]Route{r}, pages), name)
	}
	require.Error(t, checkRoutes([]Route{fine, fine}, pages))
	require.False(t, Who{}.lets(&reprocess.Person{Roles: reprocess.Roles()}))
	require.False(t, signedIn.lets(nil))
	require.False(t, only(reprocess.RoleRelease).lets(&reprocess.Person{}))
	require.Empty(t, acts("no_such_act").roles)
	require.True(t, acts(reprocess.ActRelease).lets(
		&reprocess.Person{Roles: []reprocess.Role{reprocess.RoleRelease}}))
	require.False(t, acts(reprocess.ActRelease).lets(
		&reprocess.Person{Roles: []reprocess.Role{reprocess.RoleSupervisor}}))
}

// Everything that reads is GET and everything that acts is POST; nothing else is routed.
func TestOnlyGetAndPost(t *testing.T) {
	for _, r := range routes() {
		require.Contains(t, []string{get, post}, r.Method, r.Path)
	}
	s := newSite(t)
	b := s.browser()
	for _, method := range []string{"PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"} {
		req, err := http.NewRequest(method, s.url("/sign-in"), nil)
		require.NoError(t, err)
		b.do(req)
		require.GreaterOrEqual(t, b.status, 400, method)
		require.Less(t, b.status, 500, method)
	}
}

// Label addresses arrive in capitals, with hyphens, with letters that look like figures, with
// a slash at the end; everything else is case-sensitive and strict. The code is that of
// package labels: 7M2N 4P6R 8S0T 2W5Y with its check letter.
func TestLabelAddressesAreFolded(t *testing.T) {
	const code = "7M2N4P6R8S0T2W5YH"
	for in, want := range map[string]string{
		"/D/" + code:                       "/d/" + code,
		"/d/" + strings.ToLower(code):      "/d/" + code,
		"/d/" + code + "/":                 "/d/" + code,
		"/D/7m2n-4p6r-8s0t-2w5y-h/":        "/d/" + code,
		"/d/7M2N4P6R8SOT2W5YH":             "/d/" + code,            // O for 0
		"/S/" + code:                       "/S/" + code,            // one address form for all kinds
		"/d/" + code[:16] + "J":            "/d/" + code[:16] + "J", // check letter wrong: kept as read
		"/D/other":                         "/d/other",
		"/d/":                              "/d/",
		"/d":                               "/d",
		"/D/a/b":                           "/D/a/b",
		"/DD/" + code:                      "/DD/" + code,
		"/sign-in":                         "/sign-in",
		"/Sign-In":                         "/Sign-In",
		"/x/" + strings.ToLower(code) + "": "/x/" + strings.ToLower(code),
	} {
		require.Equal(t, want, foldLabel(in), in)
		require.Equal(t, want, foldLabel(foldLabel(in)), "folding twice is folding once: %s", in)
	}
	s := newSite(t)
	b := s.browser()
	for path, status := range map[string]int{"/Sign-In": 404, "/sign-in/": 404, "/SIGN-IN": 404,
		"//sign-in": 404, "/healthz": 200, "/HEALTHZ": 404, "/sign-in%2F": 404} {
		b.get(path)
		require.Equal(t, status, b.status, path)
	}
}

// Every code of a problem has a status of its own kind; 200 would be what fiber answers for
// none.
func TestEveryProblemHasAStatus(t *testing.T) {
	for _, code := range reprocess.Codes() {
		_, status := judge(&reprocess.Problem{Code: code, Text: "x"})
		require.GreaterOrEqual(t, status, 400, code)
		require.Contains(t, statuses, code)
	}
	require.Len(t, statuses, len(reprocess.Codes()))
	_, status := judge(&reprocess.Problem{Code: "unheard of"})
	require.Equal(t, fiber.StatusInternalServerError, status)
	p, status := judge(fmt.Errorf("disk /secret/path is full"))
	require.Equal(t, fiber.StatusInternalServerError, status)
	require.NotContains(t, p.Text+p.Fix, "secret")
	for code, problem := range routerProblems {
		_, status := judge(fiber.NewError(code))
		require.Equal(t, code, status)
		require.NotEmpty(t, problem.Fix)
	}
}
