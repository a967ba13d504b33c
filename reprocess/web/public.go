package web

import (
	"strings"
	"sync"

	"github.com/gofiber/fiber/v2"

	"handback/labels"
	"handback/reprocess"
)

// finderPage is what somebody without a session sees behind a label: whom to call, and, where
// the clinic has switched it on, the answer and the time.
type finderPage struct {
	Base
	Answers bool
	State   State
	Lines   []string
	SignIn  string // where staff sign in and come back; empty on the public page
}

// publicPerMinute is how many answers one address gets in a minute.
const publicPerMinute = 60

// perMinute counts requests by address in the minute under way; its zero value is ready.
type perMinute struct {
	mu     sync.Mutex
	minute int64
	seen   map[string]int
}

// allow counts one request and tells whether it is within the limit.
func (m *perMinute) allow(address string, at reprocess.Instant, limit int) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	if minute := int64(at) / 60_000; m.seen == nil || minute != m.minute {
		m.minute, m.seen = minute, map[string]int{}
	}
	if len(m.seen) >= mostAddresses && m.seen[address] == 0 {
		return false
	}
	m.seen[address]++
	return m.seen[address] <= limit
}

// mostAddresses bounds the memory of a minute.
const mostAddresses = 20_000

// caller is the address that is counted: the peer's, or what a trusted proxy says it got the
// request from, which is the last of its list; the ones before it are the caller's own words.
func (v *Visit) caller() string {
	said := v.forwarded()
	if last := strings.TrimSpace(said[strings.LastIndexByte(said, ',')+1:]); last != "" {
		return last
	}
	return v.c.Context().RemoteIP().String()
}

// showPublic answers GET /p/CODE without cookies.
func showPublic(v *Visit) error { return v.public("") }

// finder is what /d/CODE and /s/CODE show to somebody without a session.
func finder(v *Visit) error { return v.public(signInAt(v.c.Path())) }

// public shows whom to call, and the answer where the clinic has switched it on. An unknown
// label, a withdrawn one and a kit that is not released get the same bytes but for the time.
func (v *Visit) public(signIn string) error {
	v.page = "finder"
	v.c.Response().Header.DelAllCookies()
	if !v.server.public.allow(v.caller(), v.Now.UTC, publicPerMinute) {
		page := &finderPage{Base: Titled("Too many questions in a minute"),
			Lines: []string{"Wait a minute and scan again."}}
		v.refused = ruleOften
		return v.bare(fiber.StatusTooManyRequests, page)
	}
	w, err := v.Store().SetUp(v.Context())
	if err != nil {
		return err
	}
	page := &finderPage{Base: Titled("Found something of ours?"), SignIn: signIn,
		Lines: callLines(w.Settings)}
	if w.Settings.PublicPage {
		v.answerPublic(page)
	}
	return v.bare(fiber.StatusOK, page)
}

// bare sends a page without the line that offers the sign-in.
func (v *Visit) bare(status int, p *finderPage) error {
	if err := v.send(status, p); err != nil {
		return err
	}
	v.c.Response().Header.DelAllCookies()
	return nil
}

func (v *Visit) answerPublic(page *finderPage) {
	page.Answers, page.OwnHeading = true, true
	page.State = UnsureState("Treat as not released.")
	if v.releasedBehind(v.Param("code")) {
		page.State = ReleasedState("The steps are recorded as passed.")
	}
	page.Title = page.State.Words
	asked := "Asked at " + reprocess.Clock(v.Now.UTC, v.Now.Zone) + "."
	page.Lines = append([]string{asked}, page.Lines...)
}

// releasedBehind tells whether a code in force leads to a kit that may be handed out now.
// Whatever fails is no.
func (v *Visit) releasedBehind(text string) bool {
	code, err := labels.Parse(text)
	if err != nil {
		return false
	}
	label, err := v.Store().LabelByCode(v.Context(), string(code))
	if err != nil || label.Withdrawn != 0 || label.Kind != reprocess.CodePiece {
		return false
	}
	kit, err := v.kitOfLabel(label)
	if err != nil {
		return false
	}
	w, err := v.Store().KitWorld(v.Context(), kit)
	return err == nil && reprocess.CanHandOut(w, w.Kits[kit], v.Now).Released
}

// callLines says whom a finder calls, as far as the clinic wrote it down.
func callLines(s reprocess.Settings) []string {
	var lines []string
	if s.Clinic != "" {
		lines = append(lines, "It belongs to "+s.Clinic+".")
	}
	switch {
	case s.Contact != "" && s.Hours != "":
		lines = append(lines, "Please call "+s.Contact+", "+s.Hours+".")
	case s.Contact != "":
		lines = append(lines, "Please call "+s.Contact+".")
	default:
		lines = append(lines, "Please hand it in at the clinic whose number is on the label.")
	}
	return lines
}

func sampleFinder() Page {
	p := &finderPage{Base: Titled("Released"), Answers: true, State: ReleasedState(),
		Lines: []string{"Please call 555 0100."}, SignIn: "/sign-in?to=%2Fd%2FX"}
	p.OwnHeading = true
	return p
}
