package web

import (
	"bytes"
	"errors"

	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
)

// statuses turns every code of a problem into an answer; a code that is missing here would
// answer 200, so a test walks them all.
var statuses = map[reprocess.Code]int{
	reprocess.Invalid:     fiber.StatusBadRequest,
	reprocess.NotFound:    fiber.StatusNotFound,
	reprocess.Refused:     fiber.StatusUnprocessableEntity,
	reprocess.Conflict:    fiber.StatusConflict,
	reprocess.Forbidden:   fiber.StatusForbidden,
	reprocess.Unavailable: fiber.StatusServiceUnavailable,
	reprocess.Internal:    fiber.StatusInternalServerError,
}

const (
	blandText = "Something went wrong here."
	blandFix  = "Nothing more was saved than what the pages show. Try once more; if it " +
		"repeats, tell whoever looks after this server."
)

// routerProblems are the faults that the router and the server find by themselves.
var routerProblems = map[int]reprocess.Problem{
	fiber.StatusBadRequest: {Code: reprocess.Invalid, Rule: "unreadable",
		Text: "What was sent cannot be read, and nothing of it was saved.",
		Fix:  "Open the page again and send the form once more."},
	fiber.StatusNotFound: {Code: reprocess.NotFound, Rule: "page",
		Text: "There is no such page here.", Fix: "Go to your places, or scan the label again."},
	fiber.StatusMethodNotAllowed: {Code: reprocess.Invalid, Rule: "method",
		Text: "This address does not take that.", Fix: "Open the page again from your places."},
	fiber.StatusRequestEntityTooLarge: {Code: reprocess.Invalid, Rule: "body_size",
		Text: "This is too much at once, and nothing of it was saved.",
		Fix:  "Send a smaller file or less text."},
	fiber.StatusUnsupportedMediaType: {Code: reprocess.Invalid, Rule: "compressed",
		Text: "Compressed requests are not taken here.", Fix: "Send it uncompressed."},
	fiber.StatusRequestHeaderFieldsTooLarge: {Code: reprocess.Invalid, Rule: "head_size",
		Text: "The address or the cookies are too long.", Fix: "Open the page again from your places."},
}

func notFound(what string) *reprocess.Problem {
	return &reprocess.Problem{Code: reprocess.NotFound, Rule: "unknown",
		Text: "There is no such " + what + " here.",
		Fix:  "Check the number, or scan the label again."}
}

// judge gives the problem and the status of any error.
func judge(err error) (*reprocess.Problem, int) {
	var f *fiber.Error
	var p *reprocess.Problem
	switch {
	case errors.As(err, &p):
		status, ok := statuses[p.Code]
		if !ok {
			status = fiber.StatusInternalServerError
		}
		return p, status
	case errors.As(err, &f):
		if known, ok := routerProblems[f.Code]; ok {
			return &known, f.Code
		}
	}
	return &reprocess.Problem{Code: reprocess.Internal, Rule: "fault", Err: err,
		Text: blandText, Fix: blandFix}, fiber.StatusInternalServerError
}

// problemPage is every error page.
type problemPage struct {
	Base
	Unsure bool  // the front desk and labels: no answer is "Cannot confirm"
	State  State // drawn when Unsure
	Fix    string
	ID     string // number of the fault in the log, only for faults of the program
	To     string // where the act leads
	Act    string
}

// problemOf draws a problem for a path: on the front desk and behind labels whatever fails
// is "Cannot confirm".
func problemOf(p *reprocess.Problem, id, path string, unsure bool) *problemPage {
	page := &problemPage{Base: Titled(p.Text), Fix: p.Fix, To: "/", Act: "All places"}
	if p.Code == reprocess.Internal || p.Code == reprocess.Unavailable {
		page.ID = id
		page.To, page.Act = path, "Try again"
	}
	if unsure {
		page.Unsure, page.OwnHeading = true, true
		page.Title = "Cannot confirm: " + p.Text
		page.State = UnsureState(p.Text, "Treat as not released.")
	}
	return page
}

// fail answers an error. Internal faults are logged in full and shown as one bland sentence
// with the number of the log line.
func (s *Server) fail(v *Visit, err error) {
	p, status := judge(err)
	v.refused = p.Rule
	if status >= fiber.StatusInternalServerError {
		s.log.Error("fault", "id", v.id, "rule", p.Rule, "err", err.Error(), "cause", cause(p))
	}
	v.c.Response().ResetBody()
	s.cleanHeaders(v.c)
	path := "/"
	if v.c.Method() == fiber.MethodGet {
		path = v.c.Path()
	}
	v.page = "problem"
	unsure := v.route != nil && v.route.Unsure
	if err := v.send(status, problemOf(p, v.id, path, unsure)); err != nil {
		s.log.Error("error page", "id", v.id, "err", err.Error())
		s.sendBland(v.c, v.id)
	}
}

func cause(p *reprocess.Problem) string {
	if p.Err == nil {
		return ""
	}
	return p.Err.Error()
}

// cleanHeaders takes away what a handler set before it failed, and sets the usual again.
func (s *Server) cleanHeaders(c *fiber.Ctx) {
	for _, h := range []string{fiber.HeaderContentDisposition, fiber.HeaderContentEncoding,
		fiber.HeaderLocation, fiber.HeaderETag, fiber.HeaderLastModified} {
		c.Response().Header.Del(h)
	}
	s.setHeaders(c, false)
}

// failEarly answers what fails before the outer handler: too large a head or body.
func (s *Server) failEarly(c *fiber.Ctx, err error) error {
	p, status := judge(err)
	s.setHeaders(c, false)
	s.log.Warn("request cut off", "status", status)
	s.sendBland(c, "")
	if page, err := s.pages.render("problem", problemOf(p, "", "/", false)); err == nil {
		c.Response().SetBody(page)
	}
	c.Status(status)
	return nil
}

// drawBland draws the page of last resort, so that a broken template cannot hide a fault.
func (s *Server) drawBland() error {
	s.blandID = "0000000000"
	p := problemOf(&reprocess.Problem{Code: reprocess.Internal, Text: blandText, Fix: blandFix},
		s.blandID, "/", false)
	var err error
	s.bland, err = s.pages.render("problem", p)
	return err
}

func (s *Server) sendBland(c *fiber.Ctx, id string) {
	c.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	c.Status(fiber.StatusInternalServerError)
	c.Response().SetBody(bytes.ReplaceAll(s.bland, []byte(s.blandID), []byte(id)))
}
