package web

import (
	"fmt"
	"slices"

	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
)

// The methods of routes: reading changes nothing, every act is a post.
const (
	get  = fiber.MethodGet
	post = fiber.MethodPost
)

// Who says who may use a route. The zero value is nobody.
type Who struct {
	open   bool // without a session
	signed bool // anybody who is signed in
	roles  []reprocess.Role
}

var (
	open     = Who{open: true}
	signedIn = Who{signed: true}
)

// only opens a route to people with any of the roles.
func only(roles ...reprocess.Role) Who { return Who{roles: roles} }

// acts opens a route to whoever may do any of the acts by the table of rights.
func acts(list ...reprocess.Act) Who {
	var w Who
	for _, a := range list {
		if right, ok := reprocess.FindRight(a); ok {
			for _, r := range right.Roles {
				if !slices.Contains(w.roles, r) {
					w.roles = append(w.roles, r)
				}
			}
		}
	}
	return w
}

// lets tells whether a person may; nil is nobody signed in.
func (w Who) lets(p *reprocess.Person) bool {
	switch {
	case w.open:
		return true
	case p == nil:
		return false
	}
	return w.signed || p.Has(w.roles...)
}

// Route is one row of the site map: everything the server answers is a row here.
type Route struct {
	Method, Path string
	Who          Who
	Page         string      // template; the form's own page for a post that may be refused
	Sample       func() Page // invented data for the tests of the template
	Handle       func(*Visit) error

	Place    string // name of a place, for rows that are one
	Question string // the place written as its question
	Limit    int    // bytes of a body; 0: 256 KiB
	Camera   bool   // the page scans: its policy allows the decoder
	Unsure   bool   // whatever fails here is "Cannot confirm"
	Bare     bool   // answers without cookies, session or form token, for machines
}

// routes is the site map. One row for each method and path; the tests walk it for every role
// and for nobody.
func routes() []Route {
	return slices.Concat([]Route{
		{Method: get, Path: "/", Who: signedIn, Page: "home", Sample: sampleHome, Handle: home},
		{Method: get, Path: "/healthz", Who: open, Handle: healthy, Bare: true},
		{Method: get, Path: "/a/:name", Who: open, Handle: serveAsset, Bare: true},

		{Method: get, Path: "/sign-in", Who: open, Page: "sign-in", Sample: sampleSignIn, Handle: showSignIn},
		{Method: post, Path: "/sign-in", Who: open, Page: "sign-in", Sample: sampleSignIn, Handle: signIn},
		{Method: post, Path: "/sign-out", Who: signedIn, Handle: signOut},
		{Method: get, Path: "/phone", Who: open, Page: "phone", Sample: samplePhone, Handle: showPhone},
		{Method: post, Path: "/phone", Who: open, Page: "phone", Sample: samplePhone, Handle: enrolPhone},
		{Method: get, Path: "/start/:code", Who: open, Page: "start", Sample: sampleStart, Handle: showStart},
		{Method: post, Path: "/start/:code", Who: open, Page: "start", Sample: sampleStart, Handle: start},
		{Method: get, Path: "/secret/:code", Who: open, Page: "new-secret", Sample: sampleSecret, Handle: showFirstSecret},
		{Method: post, Path: "/secret/:code", Who: open, Page: "new-secret", Sample: sampleSecret, Handle: setFirstSecret},
		{Method: get, Path: "/secret", Who: signedIn, Page: "new-secret", Sample: sampleSecret, Handle: showOwnSecret},
		{Method: post, Path: "/secret", Who: signedIn, Page: "new-secret", Sample: sampleSecret, Handle: setOwnSecret},
	}, kitRoutes(), pairRoutes(), evidenceRoutes(), weekRoutes(), deskRoutes(),
		counterRows(),
		benchRows(),
		documentRoutes(),
		officeRoutes(),
		slipRoutes(),
		keepRoutes(),
		paperRoutes(),
		supplyRoutes(),
		reckonRoutes(), claimRoutes(), trailRoutes(), frozenRoutes(),
		figuresRoutes())
}

// checkRoutes finds at the start what would only fail when somebody opens the page.
func checkRoutes(table []Route, pages templates) error {
	seen := map[string]bool{}
	for _, r := range table {
		name := r.Method + " " + r.Path
		switch {
		case seen[name]:
			return fmt.Errorf("the route %s stands twice in the table", name)
		case r.Handle == nil:
			return fmt.Errorf("the route %s has no handler", name)
		case r.Page != "" && (pages[r.Page] == nil || r.Sample == nil):
			return fmt.Errorf("the route %s has no template %q or no sample", name, r.Page)
		case !r.Who.open && !r.Who.signed && len(r.Who.roles) == 0:
			return fmt.Errorf("the route %s is nobody's", name)
		case r.Question != "" && (r.Method != get || r.Place == ""):
			return fmt.Errorf("the place %s is no page or has no name", name)
		}
		seen[name] = true
	}
	return nil
}

// placesOf lists the places of a person's roles, in the order of the table.
func placesOf(p *reprocess.Person) []Place {
	var all []Place
	for _, r := range routes() {
		if r.Question != "" && r.Who.lets(p) {
			all = append(all, Place{r.Path, r.Place, r.Question})
		}
	}
	return all
}

// enter notes which row was found; everything after it depends on the row alone.
func (s *Server) enter(r *Route) fiber.Handler {
	return func(c *fiber.Ctx) error {
		v := visitOf(c)
		v.route, v.page = r, r.Page
		if r.Camera {
			s.setHeaders(c, true)
		}
		limit := r.Limit
		if limit == 0 {
			limit = usualBody
		}
		if len(c.Request().Body()) > limit {
			return fiber.NewError(fiber.StatusRequestEntityTooLarge)
		}
		if r.Bare {
			return c.Next()
		}
		if err := v.findSession(); err != nil {
			return err
		}
		return c.Next()
	}
}

// allow is the one place where a route is opened: after routing, by the row, or not at all.
func (s *Server) allow(c *fiber.Ctx) error {
	v := visitOf(c)
	switch {
	case v.route.Who.lets(v.Person):
		return c.Next()
	case v.Person == nil:
		return v.askToSignIn()
	}
	return &reprocess.Problem{Code: reprocess.Forbidden, Rule: "role",
		Text: "This place is not among those of " + v.Person.Name + ".",
		Fix:  "Ask a supervisor if it should be, or let somebody sign in who may."}
}

func (s *Server) handle(c *fiber.Ctx) error {
	v := visitOf(c)
	return v.route.Handle(v)
}

func visitOf(c *fiber.Ctx) *Visit { return c.Locals(visitKey).(*Visit) }
