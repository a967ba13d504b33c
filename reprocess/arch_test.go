package reprocess_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"text/template/parse"

	"github.com/stretchr/testify/require"
)

// The house, as a test. Source: our own layout (DEVELOPERS.md, "Rooms").

const module = "handback"

// room says what a package may import of this module, and whether it is pure: no I/O, no
// clock, no SQL, no web.
type room struct {
	imports []string
	pure    bool
}

// rooms is the table; a package without a row is a fault.
var rooms = map[string]room{
	"cmd/handback": {imports: []string{"*"}},
	"reprocess": {pure: true, imports: []string{"reprocess/spectrum", "reprocess/strength",
		"reprocess/wear", "reprocess/sampling", "reprocess/recording"}},
	"reprocess/strength":  {pure: true},
	"reprocess/spectrum":  {pure: true},
	"reprocess/wear":      {pure: true},
	"reprocess/sampling":  {pure: true},
	"reprocess/recording": {pure: true},
	"reprocess/picture":   {pure: true},
	"reprocess/ledger":    {pure: true},
	"reprocess/sqlite": {imports: []string{"reprocess", "reprocess/ledger", "reprocess/spectrum",
		"reprocess/strength", "reprocess/wear", "reprocess/sampling", "reprocess/recording", "reprocess/lookback",
		"reprocess/figures"}},
	"reprocess/export": {imports: []string{"reprocess", "reprocess/ledger", "reprocess/sqlite",
		"reprocess/lookback"}},
	"reprocess/web": {imports: []string{"labels", "static", "reprocess", "reprocess/sqlite",
		"reprocess/export", "reprocess/spectrum", "reprocess/strength", "reprocess/wear",
		"reprocess/sampling", "reprocess/recording", "reprocess/lookback",
		"reprocess/picture", "reprocess/figures", "reprocess/report"}},
	"reprocess/figures": {pure: true, imports: []string{"reprocess", "reprocess/sampling",
		"reprocess/wear"}},
	"reprocess/report":   {pure: true, imports: []string{"reprocess/figures"}},
	"reprocess/lookback": {pure: true, imports: []string{"reprocess"}},
	"reprocess/invent":   {pure: true, imports: []string{"reprocess"}},
	"labels":             {pure: true},
	"static":             {},
}

// notInPure are the imports that bring in a machine, a clock's owner or a network.
var notInPure = []string{"os", "net", "database/sql", "log", "embed", "syscall", "io/ioutil",
	"plugin", "github.com/gofiber", "modernc.org"}

// clocks are the calls that read a clock or wait for one.
var clocks = []string{"Now", "Since", "Until", "After", "AfterFunc", "Tick", "NewTimer",
	"NewTicker", "Sleep"}

// comparisons are the template functions that decide; a template only shows.
var comparisons = []string{"eq", "ne", "lt", "le", "gt", "ge"}

// source is one parsed Go file that is not a test.
type source struct {
	path, dir string // from the module's root, with slashes
	file      *ast.File
	set       *token.FileSet
}

func sources(t *testing.T) []source {
	t.Helper()
	var all []source
	walk(t, ".go", func(p string, text []byte) {
		if strings.HasSuffix(p, "_test.go") {
			return
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, p, text, parser.ParseComments)
		require.NoError(t, err)
		all = append(all, source{p, path.Dir(p), f, set})
	})
	require.Greater(t, len(all), 50, "the walk found too few files to mean anything")
	return all
}

// walk visits the files of the module with an ending, in order.
func walk(t *testing.T, ending string, visit func(path string, text []byte)) {
	t.Helper()
	root := os.DirFS("..")
	require.NoError(t, fs.WalkDir(root, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		hidden := p != "." && strings.HasPrefix(d.Name(), ".")
		if d.IsDir() && (hidden || d.Name() == "testdata" || d.Name() == "artefacts") {
			return fs.SkipDir
		}
		if d.IsDir() || filepath.Ext(p) != ending {
			return nil
		}
		text, err := fs.ReadFile(root, p)
		if err == nil {
			visit(p, text)
		}
		return err
	}))
}

func imports(f *ast.File) []string {
	var all []string
	for _, i := range f.Imports {
		p, err := strconv.Unquote(i.Path.Value)
		if err == nil {
			all = append(all, p)
		}
	}
	return all
}

func within(p, tree string) bool { return p == tree || strings.HasPrefix(p, tree+"/") }

// importFault says what is wrong with one import of a package, or nothing.
func importFault(dir, imported string) string {
	r, known := rooms[dir]
	own, inside := strings.CutPrefix(imported, module+"/")
	switch {
	case !known:
		return "package " + dir + " has no row in the table of rooms"
	case inside && !slices.Contains(r.imports, "*") && !slices.Contains(r.imports, own):
		return dir + " may not import " + own
	case within(imported, "github.com/gofiber") && dir != "reprocess/web":
		return dir + " imports fiber: only reprocess/web may"
	case (within(imported, "database/sql") || within(imported, "modernc.org")) &&
		dir != "reprocess/sqlite":
		return dir + " imports SQL: only reprocess/sqlite may"
	}
	if r.pure {
		for _, bad := range notInPure {
			if within(imported, bad) && imported != "net/url" && imported != "net/netip" {
				return dir + " is pure and imports " + imported
			}
		}
	}
	return ""
}

func TestImportsFollowTheRooms(t *testing.T) {
	for _, s := range sources(t) {
		for _, imported := range imports(s.file) {
			require.Empty(t, importFault(s.dir, imported), s.path)
		}
	}
}

// The rule itself is shown to fail.
func TestImportFaultsAreFound(t *testing.T) {
	for _, c := range []struct{ dir, imported string }{
		{"reprocess", "handback/reprocess/sqlite"},
		{"reprocess", "database/sql"},
		{"reprocess", "os"},
		{"reprocess/strength", "net/http"},
		{"reprocess/ledger", "log/slog"},
		{"labels", "embed"},
		{"labels", "handback/reprocess"},
		{"reprocess/sqlite", "github.com/gofiber/fiber/v2"},
		{"reprocess/web", "database/sql"},
		{"cmd/handback", "modernc.org/sqlite"},
		{"reprocess/util", "fmt"},
	} {
		require.NotEmpty(t, importFault(c.dir, c.imported), "%v", c)
	}
	require.Empty(t, importFault("labels", "net/url"), "parsing an address is no network")
	require.Empty(t, importFault("cmd/handback", "handback/reprocess/web"))
}

// clockCalls lists the places where a file reads a clock of package time.
func clockCalls(set *token.FileSet, f *ast.File) []string {
	var found []string
	ast.Inspect(f, func(n ast.Node) bool {
		sel, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		x, ok := sel.X.(*ast.Ident)
		if ok && x.Name == "time" && slices.Contains(clocks, sel.Sel.Name) {
			found = append(found, set.Position(sel.Pos()).String()+": time."+sel.Sel.Name)
		}
		return true
	})
	return found
}

func TestRulesReadNoClock(t *testing.T) {
	for _, s := range sources(t) {
		if rooms[s.dir].pure {
			require.Empty(t, clockCalls(s.set, s.file), s.path)
		}
	}
}

func TestClockCallsAreFound(t *testing.T) {
	set := token.NewFileSet()
	f, err := parser.ParseFile(set, "x.go", `package x
		import "time"
		var a = time.Now
		func b() { time.Sleep(time.Second) }`, 0)
	require.NoError(t, err)
	require.Len(t, clockCalls(set, f), 2)
}

// namesHashKiB tells whether a file names the option that makes hashes of secrets cheap.
func namesHashKiB(f *ast.File) (found bool) {
	ast.Inspect(f, func(n ast.Node) bool {
		id, ok := n.(*ast.Ident)
		found = found || ok && id.Name == "HashKiB"
		return true
	})
	return found
}

// A cheap hash is for tests alone: beside the store itself no file of the program names it.
func TestSecretsAreHashedAtFullCost(t *testing.T) {
	seen := 0
	for _, s := range sources(t) {
		if s.dir != "reprocess/sqlite" {
			require.False(t, namesHashKiB(s.file), s.path)
		} else if namesHashKiB(s.file) {
			seen++
		}
	}
	require.Equal(t, 3, seen, "the files of the store that know it: option, new hash, dummy")
}

// static is embedded bytes and nothing else.
func TestStaticIsOnlyBytes(t *testing.T) {
	for _, s := range sources(t) {
		if s.dir == "static" {
			require.Equal(t, []string{"embed"}, imports(s.file), s.path)
			for _, d := range s.file.Decls {
				_, isFunc := d.(*ast.FuncDecl)
				require.False(t, isFunc, s.path)
			}
		}
	}
}

// Guard rails of size: files at most 650 lines, functions at most 100.
func TestFilesAndFunctionsStaySmall(t *testing.T) {
	walk(t, ".go", func(p string, text []byte) {
		require.LessOrEqual(t, strings.Count(string(text), "\n"), 650, p)
	})
	for _, s := range sources(t) {
		for _, d := range s.file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok {
				lines := s.set.Position(f.End()).Line - s.set.Position(f.Pos()).Line + 1
				require.LessOrEqual(t, lines, 100, "%s: %s", s.path, f.Name.Name)
			}
		}
	}
}

// templateFaults lists the functions in a template that decide something.
func templateFaults(name, text string) ([]string, error) {
	tree := parse.New(name)
	tree.Mode = parse.SkipFuncCheck
	set := map[string]*parse.Tree{}
	if _, err := tree.Parse(text, "", "", set); err != nil {
		return nil, err
	}
	var faults []string
	for _, t := range set {
		for _, word := range words(t.Root) {
			if slices.Contains(comparisons, word) {
				faults = append(faults, name+": "+word)
			}
		}
	}
	return faults, nil
}

// words lists the function names in a template, however deep.
func words(n parse.Node) []string {
	var all []string
	each := func(nodes ...parse.Node) {
		for _, m := range nodes {
			all = append(all, words(m)...)
		}
	}
	branch := func(b *parse.BranchNode) {
		each(b.Pipe, b.List)
		if b.ElseList != nil {
			each(b.ElseList)
		}
	}
	switch n := n.(type) {
	case *parse.ListNode:
		each(n.Nodes...)
	case *parse.ActionNode:
		each(n.Pipe)
	case *parse.PipeNode:
		for _, c := range n.Cmds {
			each(c)
		}
	case *parse.CommandNode:
		each(n.Args...)
	case *parse.IdentifierNode:
		all = append(all, n.Ident)
	case *parse.IfNode:
		branch(&n.BranchNode)
	case *parse.RangeNode:
		branch(&n.BranchNode)
	case *parse.WithNode:
		branch(&n.BranchNode)
	case *parse.TemplateNode:
		if n.Pipe != nil {
			each(n.Pipe)
		}
	}
	return all
}

// A template that compares has a rule in it that no test of the rules can reach.
func TestTemplatesDecideNothing(t *testing.T) {
	seen := 0
	walk(t, ".html", func(p string, text []byte) {
		seen++
		faults, err := templateFaults(p, string(text))
		require.NoError(t, err)
		require.Empty(t, faults)
	})
	require.Greater(t, seen, 5, "the walk found too few templates to mean anything")
}

func TestTemplateComparisonsAreFound(t *testing.T) {
	faults, err := templateFaults("x", `{{define "a"}}{{range .L}}{{if and .B (gt .N 3)}}x
		{{else}}{{with (eq .A "b")}}{{.}}{{end}}{{end}}{{end}}{{end}}`)
	require.NoError(t, err)
	require.ElementsMatch(t, []string{"x: gt", "x: eq"}, faults)
}
