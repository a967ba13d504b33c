package web

import (
	"errors"
	"net/url"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// The cookies. Over TLS each name gets the prefix __Host-, which ties it to this host; on
// plain http browsers would drop such a cookie, so there the name stands alone.
const (
	cookieSession = "s" // token of the session; ends with the browser
	cookiePhone   = "p" // token of the enrolled phone; 400 days, the most browsers keep
	cookieForm    = "f" // ties forms before sign-in to this browser; ends with it
	cookieSaid    = "n" // notice for the next page
)

const phoneCookieLife = 400 * 24 * time.Hour

func (v *Visit) cookieName(name string) string {
	if v.server.cfg.Plain {
		return name
	}
	return "__Host-" + name
}

// setCookie sets one; life 0 ends it with the browser.
func (v *Visit) setCookie(name, value string, life time.Duration) {
	v.c.Cookie(&fiber.Cookie{Name: v.cookieName(name), Value: value, Path: "/", HTTPOnly: true,
		Secure: !v.server.cfg.Plain, SameSite: fiber.CookieSameSiteLaxMode,
		MaxAge: int(life / time.Second), SessionOnly: life == 0})
}

func (v *Visit) cookie(name string) string {
	return strings.Clone(v.c.Cookies(v.cookieName(name)))
}

// takeCookie reads a cookie and ends it.
func (v *Visit) takeCookie(name string) string {
	value := v.cookie(name)
	if value != "" {
		v.dropCookie(name)
	}
	return value
}

func (v *Visit) dropCookie(name string) {
	v.c.Cookie(&fiber.Cookie{Name: v.cookieName(name), Path: "/", HTTPOnly: true,
		Secure: !v.server.cfg.Plain, SameSite: fiber.CookieSameSiteLaxMode,
		Expires: time.Unix(1, 0)})
}

// findSession looks up who is asking. A session that is over is no error: then nobody is.
func (v *Visit) findSession() error {
	v.session = v.cookie(cookieSession)
	if v.session == "" {
		v.tieForms()
		return nil
	}
	// The idle time is judged here, not by the store, so that a running wet time counts.
	found, err := v.Store().SessionOf(v.Context(), v.session, true)
	if err == nil {
		err = v.endIfIdle(found)
	}
	var p *reprocess.Problem
	if errors.As(err, &p) && p.Code == reprocess.Forbidden {
		v.ended, v.session, v.refused = p, "", p.Rule
		v.dropCookie(cookieSession)
		v.tieForms()
		return nil
	}
	if err != nil {
		return err
	}
	v.Person, v.phone = found.Person, found.Phone
	v.form = v.Store().FormToken(v.session)
	return nil
}

// endIfIdle ends a session in which nothing was done for too long.
func (v *Visit) endIfIdle(found *sqlite.Session) error {
	over, err := v.lapsed(found)
	if err != nil || !over {
		return err
	}
	if err := v.Store().SignOut(v.Context(), v.session); err != nil {
		return err
	}
	return &reprocess.Problem{Code: reprocess.Forbidden, Rule: "session_idle",
		Text: "You were signed out because nothing was done for a while.",
		Fix:  "Sign in again; what you typed is kept."}
}

// tieForms gives forms before sign-in a token that follows from a cookie of this browser.
func (v *Visit) tieForms() {
	tie := v.cookie(cookieForm)
	if len(tie) < 20 || len(tie) > 64 {
		tie = randomText(18)
		v.setCookie(cookieForm, tie, 0)
	}
	v.tie, v.form = tie, v.Store().FormToken("before/"+tie)
}

// checkForm lets a post through only from our own pages and with the form's token.
func (s *Server) checkForm(c *fiber.Ctx) error {
	v := visitOf(c)
	if c.Method() != fiber.MethodPost || v.route.Bare {
		return c.Next()
	}
	if !v.sameOrigin() {
		return &reprocess.Problem{Code: reprocess.Forbidden, Rule: "other_site",
			Text: "This form came from another site, and nothing of it was saved.",
			Fix:  "Open the page here and fill it in again."}
	}
	known := v.session
	if v.Person == nil {
		known = "before/" + v.tie
	}
	if !v.Store().CheckForm(known, v.raw("token")) {
		return v.oldForm()
	}
	return c.Next()
}

// oldForm answers a form of an earlier session: what was typed comes back with a fresh token,
// to be sent under the name of whoever is signed in now.
func (v *Visit) oldForm() error {
	if v.Person == nil {
		return &reprocess.Problem{Code: reprocess.Conflict, Rule: "old_form",
			Text: "This form is too old, or the browser keeps no cookies.",
			Fix:  "Allow cookies for this address, open the page again and fill it in once more."}
	}
	return v.resume(fiber.StatusConflict, v.c.Path(), v.typed())
}

// Kept is one typed value that outlives a sign-in.
type Kept struct{ Name, Value string }

// own are the fields of every form; they are never shown, and the token never kept.
var own = map[string]bool{"token": true, "key": true, "phone_at": true, "to": true}

// typed lists what was typed in a form, without the token and without secrets. Files do not
// come back: a browser does not let a page choose one.
func (v *Visit) typed() []Kept {
	var all []Kept
	v.eachField(func(name, value string) {
		if name != "token" && !strings.HasPrefix(name, "secret") {
			all = append(all, Kept{name, value})
		}
	})
	return all
}

// keptFields lists what the sign-in form carried along.
func (v *Visit) keptFields() []Kept {
	var all []Kept
	v.eachField(func(name, value string) {
		if n, ok := strings.CutPrefix(name, "kept."); ok && n != "token" {
			all = append(all, Kept{n, value})
		}
	})
	return all
}

// askToSignIn sends a reader to the sign-in and back; a form's values wait there.
func (v *Visit) askToSignIn() error {
	if v.c.Method() != fiber.MethodPost {
		to := "/sign-in"
		if path := strings.Clone(v.c.OriginalURL()); path != "/" && len(path) < 500 {
			to = signInAt(path)
		}
		return v.c.Redirect(to, fiber.StatusSeeOther)
	}
	if !v.sameOrigin() {
		return v.server.checkForm(v.c)
	}
	page := signInPageOf(v.c.Path(), v.typed())
	if v.ended != nil {
		page.Notice = &Notice{Text: v.ended.Text, Urgent: true}
	}
	v.page = "sign-in"
	return v.send(fiber.StatusUnauthorized, page)
}

// resumePage shows what was typed before a sign-in, to be sent with one tap.
type resumePage struct {
	Base
	To, Back string
	Kept     []Kept
}

// Shown are the values worth reading.
func (p *resumePage) Shown() []Kept {
	var all []Kept
	for _, k := range p.Kept {
		if !own[k.Name] && k.Value != "" {
			all = append(all, k)
		}
	}
	return all
}

func (v *Visit) resume(status int, to string, kept []Kept) error {
	v.page = "resume"
	return v.send(status, &resumePage{Base: Titled("Send what was typed?"), To: to,
		Back: back(to), Kept: kept})
}

// back is where the form of a post stands: the rows of the table know.
func back(to string) string {
	for _, r := range routes() {
		if r.Method == get && r.Path == to {
			return to
		}
	}
	return "/"
}

// localPath keeps only an address of this server.
func localPath(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.IsAbs() || u.Host != "" || u.User != nil || !strings.HasPrefix(to, "/") ||
		strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n\t") {
		return "/"
	}
	return to
}
