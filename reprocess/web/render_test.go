package web

import (
	"html/template"
	"io/fs"
	"path"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/static"
)

func compiled(t testing.TB) (templates, *assets) {
	t.Helper()
	a, err := loadAssets()
	require.NoError(t, err)
	pages, err := compile(a)
	require.NoError(t, err)
	return pages, a
}

// samples gives one page of each template: from the route table, and those that no row names.
func samples() map[string]Page {
	all := map[string]Page{
		"problem": problemOf(notFound("kit"), "x1", "/", true),
		"resume":  &resumePage{To: "/kit", Kept: []Kept{{"soil", "visible"}, {"key", "k"}}},
	}
	for _, r := range routes() {
		if r.Page != "" {
			all[r.Page] = r.Sample()
		}
	}
	return all
}

// Every template runs with the zero value of its page and with sample data, gives one h1 and
// no trace of a value that is missing.
func TestEveryTemplateRunsEmptyAndFull(t *testing.T) {
	pages, _ := compiled(t)
	all := samples()
	for name := range pages {
		require.Contains(t, all, name, "no row of the route table and no sample for template %s", name)
	}
	for name, sample := range all {
		zero := reflect.New(reflect.TypeOf(sample).Elem()).Interface().(Page)
		for _, p := range []Page{zero, sample} {
			b, err := pages.render(name, p)
			require.NoError(t, err, name)
			text := string(b)
			if p == sample { // an empty page does not know yet who draws the heading
				require.Equal(t, 1, strings.Count(text, "<h1"), name)
			}
			require.True(t, strings.HasSuffix(strings.TrimSpace(text), "</html>"), name)
			for _, bad := range []string{"ZgotmplZ", "%!", "<no value>", "&lt;nil&gt;", "style=",
				"onclick=", "onsubmit=", "<style", "javascript:", "http://", "https://"} {
				require.NotContains(t, text, bad, name)
			}
			require.Less(t, len(b), 50_000, name)
		}
	}
}

// A page with all its files stays under 50 kB over the wire, the first view of all.
func TestFirstViewIsLight(t *testing.T) {
	pages, a := compiled(t)
	sum := 0
	for file, address := range a.paths {
		if strings.HasPrefix(file, "css/") || path.Base(file) == "page.js" ||
			path.Base(file) == "outbox.js" || path.Base(file) == "wet.js" {
			one := a.byPath[address]
			require.NotEmpty(t, one.plain)
			if sum += len(one.small); one.small == nil {
				sum += len(one.plain)
			}
		}
	}
	b, err := pages.render("home", sampleHome())
	require.NoError(t, err)
	require.Greater(t, sum, 1000)
	require.Less(t, sum+len(b), 50_000)
}

// Rendering is whole or nothing: a template that breaks in the middle gives no bytes.
func TestABrokenTemplateGivesNothing(t *testing.T) {
	pages, _ := compiled(t)
	set, err := pages["home"].Clone()
	require.NoError(t, err)
	_, err = set.Parse(`{{define "main"}}<p>begun {{.NoSuchField}}</p>{{end}}`)
	require.NoError(t, err)
	b, err := templates{"home": set}.render("home", sampleHome())
	require.Error(t, err)
	require.Nil(t, b)
	_, err = pages.render("no-such-page", sampleHome())
	require.Error(t, err)
}

func TestEveryFormHasItsOwnKey(t *testing.T) {
	b := &Base{keyStem: "abc"}
	require.Equal(t, "abc-1", b.NextKey())
	require.Equal(t, "abc-2", b.NextKey())
}

// Every form that posts carries the hidden fields; the check reads the templates themselves.
func TestEveryPostFormCarriesItsToken(t *testing.T) {
	files, err := fs.Glob(static.Files, "tmpl/*.html")
	require.NoError(t, err)
	require.Greater(t, len(files), 5)
	forms := 0
	for _, file := range files {
		text, err := static.Files.ReadFile(file)
		require.NoError(t, err)
		for _, form := range strings.Split(string(text), "<form")[1:] {
			form, _, _ = strings.Cut(form, "</form>")
			if strings.Contains(form, `method="post"`) {
				forms++
				require.True(t, strings.Contains(form, `{{template "keys"`) ||
					strings.Contains(form, `name="token"`), "%s: a form without keys", file)
			}
		}
	}
	require.Greater(t, forms, 4)
}

// The zero value of a state is "cannot confirm", never "released".
func TestZeroStateIsUnsure(t *testing.T) {
	pages, _ := compiled(t)
	p := &problemPage{Unsure: true}
	p.OwnHeading = true
	b, err := pages.render("problem", p)
	require.NoError(t, err)
	require.Contains(t, string(b), `class="state unsure"`)
	require.NotContains(t, string(b), "released")
}

func TestTextIsEscapedEverywhere(t *testing.T) {
	pages, _ := compiled(t)
	p := signInPageOf(`/x"><script>alert(1)</script>`, []Kept{{`a"b`, `<b>`}})
	p.Name.Value = `"><script>alert(2)</script>`
	p.Notice = &Notice{Text: `<script>alert(3)</script>`}
	b, err := pages.render("sign-in", p)
	require.NoError(t, err)
	require.NotContains(t, string(b), "<script>alert")
}

func TestSecretsAreNeverSentBack(t *testing.T) {
	pages, _ := compiled(t)
	p := signInPageOf("/", nil)
	p.Secret.Value = "copper-pencil"
	b, err := pages.render("sign-in", p)
	require.NoError(t, err)
	require.NotContains(t, string(b), "copper-pencil")
}

func TestChoicesPickAndKinds(t *testing.T) {
	c := Choices{Name: "soil", Required: true, Options: []Choice{{Value: "a"}, {Value: "b"}}}
	require.Equal(t, "radio", c.Kind())
	require.True(t, c.OneRequired())
	picked := c.Pick("b")
	require.False(t, picked.Options[0].Picked)
	require.True(t, picked.Options[1].Picked)
	require.False(t, c.Options[1].Picked, "the first list is not changed")
	c.Many = true
	require.Equal(t, "checkbox", c.Kind())
	require.False(t, c.OneRequired(), "required on ticks would mean all of them")
}

// The wet rows show the fold of looks: 41 s of 60 s are eight of twelve blocks (41*12/60 =
// 8.2), and the needed time exactly is all twelve.
func TestWetRows(t *testing.T) {
	at := func(ms int64) reprocess.Mark {
		return reprocess.Mark{At: reprocess.Instant(1_790_000_000_000 + ms), Boot: "b", Mono: ms}
	}
	now := func(ms int64) reprocess.Now {
		return reprocess.Now{UTC: at(ms).At, Boot: "b", Mono: ms}
	}
	w := reprocess.Wet{Open: true, Start: at(40_000), NeededS: 60, Intervals: []reprocess.Interval{
		{From: at(0), To: at(30_000), MS: 30_000, NeededS: 60, DryMS: 35_000},
		{From: at(40_000), To: at(40_000), NeededS: 60}}}
	filled := func(r WetRow) (n int) {
		for _, b := range r.Blocks {
			if b {
				n++
			}
		}
		return n
	}
	v := WetFrom("17 recorder", w, now(81_000), "")
	require.Equal(t, "0:19", v.Left)
	require.False(t, v.Done)
	require.Len(t, v.Rows, 2)
	require.Equal(t, "dry at 0:35", v.Rows[0].Words)
	require.Equal(t, 6, filled(v.Rows[0]))
	require.Equal(t, 8, filled(v.Rows[1]))
	require.True(t, v.Rows[1].Running)
	require.Equal(t, "0:01", WetFrom("", w, now(99_999), "").Left)
	v = WetFrom("", w, now(100_000), "")
	require.True(t, v.Done)
	require.Equal(t, 12, filled(v.Rows[1]))
	require.Equal(t, "Long enough: 1 min of 1 min", v.DoneWords())
	require.Equal(t, "Long enough: 1 min 04 s of 1 min", WetFrom("", w, now(104_000), "").DoneWords())
	w.NeededS, w.Intervals[1].NeededS = 0, 0
	require.False(t, WetFrom("", w, now(200_000), "").Done, "an unknown need is never reached")
}

// partsMain shows every part at once, for the eye and for axe.
const partsMain = `{{define "scripts"}}{{if .Run}}<script src="{{asset "js/wet.js"}}" defer></script>{{end}}{{end}}
{{define "main"}}{{template "state" .State}}
<p class="caution">Alcohol burns: small amounts, air the room, no flame.</p>
{{template "wet" .Wet}}
<ul class="ruled"><li>{{template "wet-line" .Line}}</li><li><a href="/"><span class="lead">17</span><small>on the bench since 13:40</small></a></li></ul>
<form method="post" class="grow">{{template "keys" $}}<div class="fields">{{template "field" .Code}}{{template "field" .Note}}{{template "choices" .Soil}}{{template "choices" .Ticks}}</div>
<div class="acts"><button class="act">Take back</button><button class="edged" name="no" value="1">Put on hold</button></div></form>{{end}}`

type partsPage struct {
	Base
	State       State
	Wet, Line   Wet
	Code, Note  Field
	Soil, Ticks Choices
	Run         bool // with the countdown
}

func sampleParts(state State) *partsPage {
	start := testStart.UnixMilli()
	p := &partsPage{Base: Titled(state.Words), State: state,
		Wet: Wet{Name: "17 recorder", StartMS: start, NeededS: 60, Left: "0:19",
			FootText: "Wet since 14:05:00 by the server, 60 s needed, container 0042",
			Rows:     []WetRow{{Words: "dry at 0:35"}, {Running: true}}},
		Code: CodeField("code", "Code on the label", "7M2N-4P6R-8S0T-2W5Y-H"),
		Note: Field{Name: "note", Label: "What was seen", Lines: 3, Fault: "A sentence is needed."},
		Soil: Choices{Name: "soil", Legend: "How did it come back?", Required: true, Options: []Choice{
			{"clean", "Looks clean", "", true}, {"dirty", "Soiled", "blood, skin cream, food", false}}},
		Ticks: Choices{Name: "parts", Legend: "What came with it?", Many: true, Options: []Choice{
			{"cable", "Cable", "", true}, {"strap", "Strap", "", false}}}}
	p.OwnHeading = true
	p.Line = p.Wet
	for i := range 7 {
		p.Wet.Rows[0].Blocks[i] = true
		p.Wet.Rows[1].Blocks[i] = true
	}
	p.Line.Rows = p.Wet.Rows[1:]
	p.Person, p.PersonID, p.Places = "Ada Okafor", "S1", []Place{{"/bench", "Bench", "What is next?"}}
	p.NowMS = start + 41_000
	return p
}

// partsTemplates are the pages plus one that shows every part.
func partsTemplates(t testing.TB, pages templates) templates {
	t.Helper()
	set, err := pages["home"].Clone()
	require.NoError(t, err)
	_, err = template.Must(set, nil).Parse(partsMain)
	require.NoError(t, err)
	return templates{"parts": set}
}
