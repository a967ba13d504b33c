package web

import (
	"log/slog"
	"net/url"
	"runtime/debug"
	"strings"

	"github.com/gofiber/fiber/v2"

	"handback/labels"
	"handback/reprocess"
)

// foldLabel gives the one spelling of a label's address, /d/CODE for whatever is printed. Phones and readers deliver it in capitals, with hyphens, with a slash at
// the end, with O for 0. Anything else stays as it is.
func foldLabel(path string) string {
	rest, ok := strings.CutPrefix(path, "/")
	kind, text, two := strings.Cut(rest, "/")
	if !ok || !two || len(kind) != 1 || !strings.Contains("Dd", kind) {
		return path
	}
	text = strings.TrimSuffix(text, "/")
	if text == "" || strings.Contains(text, "/") {
		return path
	}
	if code, err := labels.Parse(text); err == nil {
		text = string(code)
	}
	return "/" + strings.ToLower(kind) + "/" + text
}

// foldLabels puts label addresses into their one spelling before they are routed.
func (s *Server) foldLabels(c *fiber.Ctx) error {
	path := c.Path()
	if folded := foldLabel(path); folded != path {
		c.Path(folded)
		return c.RestartRouting()
	}
	return c.Next()
}

// outer is around everything else: headers, the log line, panics and errors.
func (s *Server) outer(c *fiber.Ctx) error {
	v := &Visit{server: s, c: c, Now: s.store.Now(), id: randomText(6)}
	c.Locals(visitKey, v)
	s.setHeaders(c, false)
	if err := s.guarded(c); err != nil {
		s.fail(v, err)
	}
	s.count(v)
	s.logVisit(v)
	return nil
}

// guarded turns a panic into an error: the process goes on.
func (s *Server) guarded(c *fiber.Ctx) (err error) {
	defer func() {
		if p := recover(); p != nil {
			s.log.Error("panic", "what", p, "stack", string(debug.Stack()))
			err = &reprocess.Problem{Code: reprocess.Internal, Rule: "panic",
				Text: blandText, Fix: blandFix}
		}
	}()
	return c.Next()
}

// logVisit writes one line for a request. The address of a label is a secret of a kind, so
// the row of the route table stands for it; nothing typed and no cookie is logged.
func (s *Server) logVisit(v *Visit) {
	level, route, person := slog.LevelInfo, "", ""
	status := v.c.Response().StatusCode()
	if v.route != nil {
		route = v.route.Path
	}
	if v.Person != nil {
		person = v.Person.ID
	}
	if status >= 500 {
		level = slog.LevelError
	}
	s.log.Log(v.Context(), level, "request", "id", v.id, "method", v.c.Method(), "route", route,
		"status", status, "ms", s.store.Now().Mono-v.Now.Mono, "person", person,
		"from", v.c.Context().RemoteIP().String(), "hearsay", v.forwarded())
}

// forwarded is what a trusted proxy says about the caller: hearsay, cleaned for the log.
func (v *Visit) forwarded() string {
	if !v.c.IsProxyTrusted() {
		return ""
	}
	said := v.c.Get(fiber.HeaderXForwardedFor)
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune("0123456789abcdefABCDEF.:, ", r) {
			return r
		}
		return -1
	}, said[:min(len(said), 200)])
}

// refuseCompressed: a compressed body is unpacked without any limit, so none is taken.
func refuseCompressed(c *fiber.Ctx) error {
	if len(c.Request().Header.Peek(fiber.HeaderContentEncoding)) > 0 {
		return fiber.NewError(fiber.StatusUnsupportedMediaType)
	}
	return c.Next()
}

// policy is the content security policy: nothing but our own files, no inline code.
const policy = "default-src 'none'; script-src 'self'%; style-src 'self'; " +
	"img-src 'self' blob:; connect-src 'self'; manifest-src 'self'; worker-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// setHeaders sets what every answer carries; camera also allows the decoder's compiled code.
func (s *Server) setHeaders(c *fiber.Ctx, camera bool) {
	more := ""
	if camera {
		more = " 'wasm-unsafe-eval'"
	}
	c.Set(fiber.HeaderContentSecurityPolicy, strings.Replace(policy, "%", more, 1))
	c.Set(fiber.HeaderXContentTypeOptions, "nosniff")
	c.Set(fiber.HeaderReferrerPolicy, "same-origin")
	c.Set(fiber.HeaderPermissionsPolicy, "camera=(self), microphone=(), geolocation=()")
	c.Set("Cross-Origin-Opener-Policy", "same-origin")
	c.Set("Cross-Origin-Resource-Policy", "same-origin")
	c.Set("X-Robots-Tag", "noindex")
	c.Set(fiber.HeaderXFrameOptions, "DENY")
	c.Set(fiber.HeaderCacheControl, "no-store")
	if !s.cfg.Plain {
		c.Set(fiber.HeaderStrictTransportSecurity, "max-age=31536000; includeSubDomains")
	}
}

// sameOrigin says whether a post comes from our own pages. Browsers say so by themselves; a
// caller that says nothing is no browser and carries nobody's cookies.
func sameOrigin(site, origin, host string) bool {
	if site != "" && site != "same-origin" && site != "none" {
		return false
	}
	if origin == "" || site == "same-origin" && origin == "null" {
		return true
	}
	u, err := url.Parse(origin)
	return err == nil && u.Host != "" && strings.EqualFold(u.Host, host)
}

func (v *Visit) sameOrigin() bool {
	c := v.c
	// The host as the browser wrote it; what a proxy claims does not count.
	return sameOrigin(c.Get("Sec-Fetch-Site"), c.Get(fiber.HeaderOrigin),
		string(c.Request().Header.Host()))
}
