package web

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"io"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// visitKey is where the visit of a request is kept.
const visitKey = "visit"

// Visit is one request on its way: who asks, when, what was typed. All texts it gives are
// copies that may be kept.
type Visit struct {
	Now    reprocess.Now
	Person *reprocess.Person // nil when nobody is signed in

	server  *Server
	c       *fiber.Ctx
	route   *Route
	page    string             // template
	id      string             // of this request in the log
	session string             // token of the session, empty without
	phone   string             // id of the enrolled phone, empty without
	form    string             // form token
	tie     string             // cookie that ties forms before sign-in
	ended   *reprocess.Problem // why the session that came along is over
	refused string             // rule of the last refusal
}

// Store is the store.
func (v *Visit) Store() *sqlite.Store { return v.server.store }

// Context ends when the server shuts down. It is not the caller's: what was asked for is
// finished even if the phone goes away.
func (v *Visit) Context() context.Context { return v.c.UserContext() }

// Param gives a part of the path, such as "code" of /d/:code.
func (v *Visit) Param(name string) string { return strings.Clone(v.c.Params(name)) }

// Query gives a value of the address, empty when it is not there.
func (v *Visit) Query(name string) string { return strings.Clone(v.c.Query(name)) }

// Field gives what was typed, without spaces around it. Secrets are read by Secret.
func (v *Visit) Field(name string) string { return strings.TrimSpace(v.raw(name)) }

func (v *Visit) raw(name string) string { return strings.Clone(v.c.FormValue(name)) }

// Fields gives all values of a name, as of ticks, in the order of the form.
func (v *Visit) Fields(name string) []string {
	var all []string
	v.eachField(func(n, value string) {
		if n == name {
			all = append(all, strings.TrimSpace(value))
		}
	})
	return all
}

// eachField visits every field of a form in order.
func (v *Visit) eachField(see func(name, value string)) {
	if form, err := v.c.MultipartForm(); err == nil {
		for name, values := range form.Value {
			for _, value := range values {
				see(strings.Clone(name), strings.Clone(value))
			}
		}
		return
	}
	for name, value := range v.c.Request().PostArgs().All() {
		see(string(name), string(value))
	}
}

// File gives an uploaded file, nil when there is none. Its name is the sender's and is never
// a path.
func (v *Visit) File(name string) ([]byte, string, error) {
	f, err := v.c.FormFile(name)
	if err != nil {
		return nil, "", nil //nolint:nilerr // no file was chosen
	}
	open, err := f.Open()
	if err != nil {
		return nil, "", err
	}
	defer open.Close()
	content := make([]byte, f.Size)
	if _, err = io.ReadFull(open, content); err != nil {
		return nil, "", err
	}
	return content, f.Filename, nil
}

// Files reads up to two chosen files, in the order they were sent; a third is refused.
func (v *Visit) Files(name string) ([][]byte, error) {
	form, err := v.c.MultipartForm()
	if err != nil {
		return nil, nil //nolint:nilerr // no file was chosen
	}
	chosen := form.File[name]
	if len(chosen) > 2 {
		return nil, &reprocess.Problem{Code: reprocess.Invalid, Rule: "files",
			Text: "More than two files were chosen.",
			Fix:  "Choose one recording, or the two files of one record (.hea and .dat)."}
	}
	var all [][]byte
	for _, f := range chosen {
		open, err := f.Open()
		if err != nil {
			return nil, err
		}
		content, err := io.ReadAll(io.LimitReader(open, f.Size))
		if err = errors.Join(err, open.Close()); err != nil {
			return nil, err
		}
		all = append(all, content)
	}
	return all, nil
}

// Key is the idempotency key of the form.
func (v *Visit) Key() string { return v.Field("key") }

// PhoneAt is the phone's own clock as it sent the form, a remark; 0 when it did not say.
func (v *Visit) PhoneAt() reprocess.Instant {
	at, err := time.Parse(time.RFC3339Nano, v.Field("phone_at"))
	if err != nil || at.Year() < 1990 || at.Year() > 2199 {
		return 0
	}
	return reprocess.InstantOf(at)
}

// Actor is who acts, not yet signing.
func (v *Visit) Actor() reprocess.Actor {
	return reprocess.Actor{Person: v.Person, Phone: v.phone}
}

// Do has the store decide a command of this visitor, with the form's key.
func (v *Visit) Do(cmd reprocess.Command) (*reprocess.Entry, error) {
	return v.DoAs(cmd, v.Actor())
}

// DoAs is Do for an actor who signs; see Sign.
func (v *Visit) DoAs(cmd reprocess.Command, actor reprocess.Actor) (*reprocess.Entry, error) {
	return v.Store().Do(v.Context(), sqlite.Request{Cmd: cmd, Actor: actor, Key: v.Key(),
		PhoneAt: v.PhoneAt()})
}

// Show draws the page of the route and sends it.
func (v *Visit) Show(p Page) error { return v.send(fiber.StatusOK, p) }

// Refuse draws the page again with the problem on top and the problem's status, for a form
// whose values are kept. Faults of the program become the error page instead.
func (v *Visit) Refuse(err error, p Page) error {
	problem, status := judge(err)
	if problem.Code == reprocess.Internal {
		return err
	}
	v.refused = problem.Rule
	p.base().Notice = noticeOf(problem)
	return v.send(status, p)
}

// Went redirects after an act that stands; say is told on the next page, once.
func (v *Visit) Went(to, say string) error {
	v.tellNext(say)
	return v.c.Redirect(to, fiber.StatusSeeOther)
}

// tellNext says something on the next page, once; empty: nothing.
func (v *Visit) tellNext(say string) {
	if say != "" {
		v.setCookie(cookieSaid, base64.RawURLEncoding.EncodeToString([]byte(say)), time.Minute)
	}
}

// Download sends bytes as a file to keep; kind is their content type.
func (v *Visit) Download(name, kind string, content []byte) error {
	v.c.Set(fiber.HeaderContentType, kind)
	v.c.Set(fiber.HeaderContentDisposition, `attachment; filename="`+name+`"`)
	return v.c.Send(content)
}

// send draws a page whole, or gives an error and sends nothing.
func (v *Visit) send(status int, p Page) error {
	v.fill(p.base())
	b, err := v.server.pages.render(v.page, p)
	if err != nil {
		return err
	}
	v.c.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	return v.c.Status(status).Send(b)
}

// fill sets what the author of a page does not have to know.
func (v *Visit) fill(b *Base) {
	b.NowMS = int64(v.Now.UTC)
	b.FormToken = v.form
	b.keyStem = randomText(12)
	b.Warnings = v.warnings()
	if v.route != nil && v.route.Camera {
		b.Scans = v.server.cfg.BaseURL.Host()
	}
	if said := v.takeCookie(cookieSaid); said != "" && b.Notice == nil {
		if text, err := base64.RawURLEncoding.DecodeString(said); err == nil {
			b.Notice = &Notice{Text: string(text)}
		}
	}
	if v.Person == nil {
		b.OfferSignIn = v.route == nil || v.route.Path != "/sign-in" && !v.route.Bare
		return
	}
	b.Person, b.PersonID, b.Places = v.Person.Name, v.Person.ID, placesOf(v.Person)
	b.StopsLots = v.entitled(reprocess.ActLotStop)
}

// warnings stand on top of every page that is not for real use.
func (v *Visit) warnings() []string {
	var all []string
	if v.server.demo() {
		all = append(all, "Invented people and kits, for trying out. Not for real use.")
	}
	if v.server.cfg.Plain {
		all = append(all, "Sent without encryption (plain http). Not for real use.")
	}
	return all
}

// randomText gives n random bytes as letters of base64url.
func randomText(n int) string {
	b := make([]byte, n)
	_, _ = rand.Read(b) // never fails
	return base64.RawURLEncoding.EncodeToString(b)
}
