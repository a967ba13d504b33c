package web

import (
	"bytes"
	"fmt"
	"html/template"
	"io/fs"
	"path"
	"strconv"
	"strings"
	"sync"

	"handback/reprocess"
	"handback/static"
)

// Base is what every page has. Authors set Title, OwnHeading when the page draws its own h1
// (the state block does) and PlacesShown; Show fills the rest.
type Base struct {
	Title      string // the question, or the state first: page title and h1
	OwnHeading bool   // the template draws the h1
	Notice     *Notice

	Person      string // printed name, empty when nobody is signed in
	PersonID    string
	Places      []Place // of the person's roles
	PlacesShown bool    // the page itself lists them
	StopsLots   bool    // may stop a lot: offered on every page
	OfferSignIn bool    // nobody is signed in, and the sign-in is another page
	Warnings    []string
	NowMS       int64  // the server's clock when it answered, ms UTC
	Scans       string // host of the labels, where the page may use the camera
	FormToken   string // ties a form to the session
	keyStem     string // random for each rendering
	keys        int
}

// Titled begins a page.
func Titled(title string) Base { return Base{Title: title} }

// base makes every struct that embeds Base a Page.
func (b *Base) base() *Base { return b }

// NextKey gives each form of a page its own idempotency key.
func (b *Base) NextKey() string {
	b.keys++
	return b.keyStem + "-" + strconv.Itoa(b.keys)
}

// Page is a pointer to a struct that embeds Base.
type Page interface{ base() *Base }

// Place is one line at the foot of the page: a place written as its question.
type Place struct{ Path, Name, Question string }

// Notice is what is said on top of a page: something done, or a problem.
type Notice struct {
	Text, Fix string
	Urgent    bool // a problem: announced at once, gets the focus
}

// Role is how the notice is announced.
func (n Notice) Role() string {
	if n.Urgent {
		return "alert"
	}
	return "status"
}

// noticeOf turns a problem into a notice.
func noticeOf(p *reprocess.Problem) *Notice {
	return &Notice{Text: p.Text, Fix: p.Fix, Urgent: true}
}

// templates holds one compiled set for each page.
type templates map[string]*template.Template

// shared are the files that every page is compiled with.
var shared = []string{"tmpl/base.html", "tmpl/parts.html"}

// compile reads every template; an error names the file.
func compile(a *assets) (templates, error) {
	root, err := template.New("").Funcs(template.FuncMap{"asset": a.path}).
		ParseFS(static.Files, shared...)
	if err != nil {
		return nil, err
	}
	files, err := fs.Glob(static.Files, "tmpl/*.html")
	if err != nil {
		return nil, err
	}
	all := templates{}
	for _, file := range files {
		name := strings.TrimSuffix(path.Base(file), ".html")
		if name == "base" || name == "parts" {
			continue
		}
		set, err := root.Clone()
		if err == nil {
			_, err = set.ParseFS(static.Files, file)
		}
		if err == nil && set.Lookup("main") == nil {
			err = fmt.Errorf("it does not define main")
		}
		if err != nil {
			return nil, fmt.Errorf("template %s: %w", file, err)
		}
		all[name] = set
	}
	return all, nil
}

// compileOnce compiles for the process: the embedded files never change, and a set may draw any
// number of pages at once. Reading and escaping all of them costs about 0.1 s.
var compileOnce = sync.OnceValues(func() (templates, error) {
	a, err := loadAssets()
	if err != nil {
		return nil, err
	}
	return compile(a)
})

// render draws a page whole, or gives an error and nothing.
func (t templates) render(name string, p Page) ([]byte, error) {
	set, ok := t[name]
	if !ok {
		return nil, fmt.Errorf("there is no template %q", name)
	}
	var b bytes.Buffer
	if err := set.ExecuteTemplate(&b, "base", p); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
