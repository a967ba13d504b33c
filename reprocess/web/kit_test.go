package web

import (
	"bytes"
	"context"
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// clinic is a site with one kit, its supplies and the people who work on it.
type clinic struct {
	*testSite
	kit                string
	recorder, phone    string // piece ids
	codeR, codeP       string // their labels
	tub, lot, cells    string
	models, procedures []string
	bench              *browser
}

// labelCode makes the n-th code of the tests.
func labelCode(t testing.TB, n byte) string {
	t.Helper()
	c, err := labels.NewCode(bytes.NewReader(bytes.Repeat([]byte{n}, 64)))
	require.NoError(t, err)
	return string(c)
}

// must does a command as the supervisor, signed.
func (s *testSite) must(cmd reprocess.Command) *reprocess.Entry {
	s.t.Helper()
	e, err := s.store.Do(context.Background(), sqlite.Request{Actor: s.boss, Cmd: cmd})
	require.NoError(s.t, err, "%T", cmd)
	return e
}

// fullProcedure asks everything that the table of questions has.
func fullProcedure(model string, kind reprocess.Kind) reprocess.Procedure {
	p := reprocess.Procedure{Name: "Everyday, " + string(kind), Model: model, FloorS: 60,
		MinStrength: "70%v/v", MaxGapMin: 120, ReleaseDays: 30, IFU: "booklet, 2nd edition"}
	for _, step := range reprocess.Steps() {
		row := reprocess.StepRow{Step: step.ID, Override: step.Override}
		has := false
		for _, k := range step.For {
			has = has || k == kind
		}
		if step.ID == reprocess.StepRelease || !has {
			continue
		}
		for _, a := range reprocess.Asks(step.ID, kind) {
			if a.When == "" {
				row.Asks = append(row.Asks, a.ID)
			}
		}
		p.Steps = append(p.Steps, row)
	}
	return p
}

// newClinic sets up models, procedures, one tub of wipes, one box of cells and kit 17.
func newClinic(t testing.TB) *clinic {
	t.Helper()
	c := &clinic{testSite: newSite(t)}
	c.setUp()
	for _, kind := range reprocess.Kinds() {
		m := c.must(reprocess.SetModel{Model: reprocess.Model{Name: "Model " + string(kind), Kind: kind,
			WearDays: 7, IFU: "booklet"}}).Events[0].Event.(reprocess.ModelSet).ID
		p := c.must(reprocess.ApproveProcedure{Procedure: fullProcedure(m, kind)}).
			Events[0].Event.(reprocess.ProcedureApproved).ID
		c.models, c.procedures = append(c.models, m), append(c.procedures, p)
	}
	product := c.must(reprocess.SetProduct{Product: reprocess.Product{Name: "Bench wipe",
		Use: reprocess.SoakedWipe, OpenDays: 28, Models: c.models,
		Actives: []reprocess.Active{{Agent: "ethanol", Strength: "70%v/v"}},
		Claims:  []reprocess.Claim{{Token: "BAC", Seconds: 60}, {Token: "YEA", Seconds: 60}}}}).
		Events[0].Event.(reprocess.ProductSet).ID
	c.lot = c.must(reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotDisinfectant, Product: product,
		Number: "W-77", Expiry: "2027-12-31"}}).Events[0].Event.(reprocess.LotSet).ID
	c.tub = c.must(reprocess.OpenContainer{Lot: c.lot}).Events[0].Event.(reprocess.ContainerOpened).ID
	c.cells = c.must(reprocess.SetLot{Lot: reprocess.Lot{Kind: reprocess.LotCells, Name: "LR03",
		Expiry: "2029-01-31"}}).Events[0].Event.(reprocess.LotSet).ID
	c.codeR, c.codeP = labelCode(t, 3), labelCode(t, 5)
	k := c.must(reprocess.RegisterKit{Number: "17", Place: "bench",
		Recorder: reprocess.NewPiece{Model: c.models[0], Serial: "R-0017", Code: c.codeR},
		Phone:    &reprocess.NewPiece{Model: c.models[1], Serial: "F-0017", Code: c.codeP}}).
		Events[0].Event.(reprocess.KitRegistered)
	c.kit, c.recorder, c.phone = k.Kit.ID, k.Pieces[0].ID, k.Pieces[1].ID
	c.bench = c.competent("Ben Bench", "ben", reprocess.RoleReprocessing, reprocess.RoleRelease)
	return c
}

// competent adds somebody who may carry out both procedures.
func (c *clinic) competent(name, short string, roles ...reprocess.Role) *browser {
	c.t.Helper()
	b := c.person(name, short, roles...)
	c.compete(short, false)
	return b
}

// compete enters competence, or learning, for both procedures.
func (c *clinic) compete(short string, learning bool) {
	c.t.Helper()
	w, err := c.store.SetUp(context.Background())
	require.NoError(c.t, err)
	for _, p := range w.People {
		if p.SignIn == short {
			person := *p
			person.Competences = nil
			for _, id := range c.procedures {
				person.Competences = append(person.Competences, reprocess.Competence{Procedure: id,
					From: "2026-01-01", Learning: learning})
			}
			c.must(reprocess.SetPerson{Person: person})
		}
	}
}

func (c *clinic) path(rest ...string) string {
	return "/kit/" + strings.Join(append([]string{c.kit}, rest...), "/")
}

var (
	formAt   = regexp.MustCompile(`(?s)<form method="post" action="([^"]*)"[^>]*>(.*?)</form>`)
	inputAt  = regexp.MustCompile(`<input type="hidden" name="([^"]*)" value="([^"]*)">`)
	buttonAt = regexp.MustCompile(`(?s)<button class="[^"]*"(?: name="([^"]*)" value="([^"]*)")?>(.*?)</button>`)
)

// tap presses the button that begins with these words on the page last seen, as a browser
// without script does, with more fields filled in, and follows to the next page.
func (b *browser) tap(words string, pairs ...string) {
	b.site.t.Helper()
	for _, form := range formAt.FindAllStringSubmatch(b.body, -1) {
		for _, button := range buttonAt.FindAllStringSubmatch(form[2], -1) {
			if !strings.HasPrefix(html.UnescapeString(button[3]), words) {
				continue
			}
			v := fields(pairs...)
			for _, in := range inputAt.FindAllStringSubmatch(form[2], -1) {
				v.Add(in[1], html.UnescapeString(in[2]))
			}
			if button[1] != "" {
				v.Add(button[1], html.UnescapeString(button[2]))
			}
			b.send(form[1], v)
			if b.status == http.StatusSeeOther {
				b.get(b.header.Get("Location"))
			}
			return
		}
	}
	require.Failf(b.site.t, "no such button", "%q on\n%s", words, b.body)
}

// TestRoutineKitInTwelveTaps plays the routine kit of the practice page as somebody at the
// bench does: every label scanned opens an address, every tap is one button. The goal stands
// in the practice: 12 taps, 5 scans, one secret.
func TestRoutineKitInTwelveTaps(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	taps, scans := 0, 0
	tap := func(words string, pairs ...string) {
		t.Helper()
		taps++
		b.tap(words, pairs...)
		require.Equal(t, http.StatusOK, b.status, b.body)
		c.clock.step(20 * time.Second)
	}
	scan := func(code string) {
		t.Helper()
		scans++
		b.get("/d/" + code)
		require.Equal(t, http.StatusSeeOther, b.status, b.body)
		b.get(b.header.Get("Location"))
		require.Equal(t, http.StatusOK, b.status, b.body)
	}
	scan(c.codeR)
	tap("Both: whole, nothing unusual")
	tap("Both: visibly clean, no water standing, cable, charger, case clean too")
	require.Contains(t, b.body, "Bench wipe, lot W-77: suits, keep it wet for 60 s.")
	tap("Both are wet now, by container " + c.tub)
	c.clock.step(41 * time.Second)
	tap("Yes, both still look wet")
	tap("Both: fully dry")
	tap("Both: seals, snaps, housing, label edges sound")
	tap("New cell from LR03, good until 31 Jan 2029, door latched", "a-charge", "93")
	tap("Both: last assignment ended, no pictures or accounts left")
	tap("Recorder: bench source, test recording arrived, usable, test record removed, memory seen empty")
	scan(c.codeR)
	tap("Kit complete, bag sealed, label scanned back")
	require.Contains(t, b.body, "Every step is done, but nobody has released it yet.")
	taps++ // the line that leads to the release
	b.get(c.path("release"))
	require.Contains(t, b.body, "61 s of 60 s")
	tap("Release kit 17", "secret", testSecret)
	require.Contains(t, b.body, `<h1 class="state released"><span>Released</span></h1>`)
	require.Equal(t, 12, taps)
	require.Equal(t, 2, scans)
}
