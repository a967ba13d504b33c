package web

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"net"
	"time"

	"github.com/gofiber/fiber/v2"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// Sizes of requests, in bytes.
const (
	usualBody = 256 << 10 // of a form
	mostBody  = 6 << 20   // of any request; a route asks for more than usual in its row
	headers   = 16 << 10  // of the head of a request
)

// Config is what the caller decides.
type Config struct {
	Store          *sqlite.Store // open; its clock is the clock of every page
	BaseURL        labels.Base   // printed on labels; never taken from a request
	Demo           bool          // invented people and data; any browser may sign in
	Plain          bool          // plain http: cookies without Secure, every page says so
	TrustedProxies []string      // addresses or ranges whose X-Forwarded-For is logged, as hearsay
	Log            *slog.Logger  // nil: nothing is logged
}

// Server answers requests for one store.
type Server struct {
	cfg     Config
	app     *fiber.App
	store   *sqlite.Store
	log     *slog.Logger
	assets  *assets
	pages   templates
	bland   []byte // the page of last resort, drawn at the start
	blandID string // what stands in it where the number of the fault goes

	checking checking // of the whole record, one at a time
	copies   copyRuns // files on their way
	public   perMinute
	tally    tally // of what makes one entry an hour
}

// New compiles every template, draws the error page of last resort and hangs the route table
// into the router. It does not listen yet.
func New(cfg Config) (*Server, error) {
	s := &Server{cfg: cfg, store: cfg.Store, log: cfg.Log}
	if s.store == nil {
		return nil, errors.New("web: Config.Store is missing")
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	var err error
	if s.assets, err = loadAssets(); err != nil {
		return nil, err
	}
	pages, err := compileOnce()
	if err != nil {
		return nil, err
	}
	s.pages = maps.Clone(pages)
	if err = s.drawBland(); err != nil {
		return nil, err
	}
	if err = checkRoutes(routes(), s.pages); err != nil {
		return nil, err
	}
	s.app = s.router(routes())
	return s, nil
}

// router builds fiber with every default that could surprise set on purpose.
func (s *Server) router(table []Route) *fiber.App {
	app := fiber.New(fiber.Config{
		Immutable:               true, // texts outlive their request
		CaseSensitive:           true,
		StrictRouting:           true,
		BodyLimit:               mostBody,
		ReadBufferSize:          headers,
		ReadTimeout:             30 * time.Second,
		WriteTimeout:            2 * time.Minute, // exports are long
		IdleTimeout:             2 * time.Minute,
		EnableTrustedProxyCheck: true,
		TrustedProxies:          s.cfg.TrustedProxies,
		ErrorHandler:            s.failEarly,
		DisableStartupMessage:   true,
	})
	takeDocuments(app)
	app.Use(s.foldLabels, s.outer, refuseCompressed)
	for i := range table {
		r := &table[i]
		handle := []fiber.Handler{s.enter(r), s.allow, s.checkForm, s.handle}
		app.Add(r.Method, r.Path, handle...)
		if r.Method == fiber.MethodGet {
			app.Add(fiber.MethodHead, r.Path, handle...)
		}
	}
	return app
}

// Serve answers on a listener until Shutdown; TLS is the listener's matter.
func (s *Server) Serve(ln net.Listener) error { return s.app.Listener(ln) }

// Shutdown stops taking requests and waits for those under way.
func (s *Server) Shutdown(ctx context.Context) error {
	err := s.app.ShutdownWithContext(ctx)
	s.flush()
	if err != nil {
		return fmt.Errorf("some requests were cut off: %w", err)
	}
	return nil
}

// Places lists the places of a role, for those who print them.
func Places(roles ...reprocess.Role) []Place {
	return placesOf(&reprocess.Person{Roles: roles})
}
