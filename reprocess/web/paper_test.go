package web

import (
	"bytes"
	"image"
	"image/png"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

func aPicture(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewGray(image.Rect(0, 0, 40, 30))))
	return b.Bytes()
}

// counting lets contact times from paper count under both procedures.
func (c *clinic) paperCounts() {
	c.t.Helper()
	w := c.world()
	for _, m := range c.models {
		p := *w.Procedures[w.InForce[m]]
		p.PaperRelease = true
		c.must(reprocess.ApproveProcedure{Procedure: p})
	}
}

// sheetKept keeps a picture of the sheet and gives its hash.
func (c *clinic) sheetKept(b *browser) string {
	c.t.Helper()
	b.get(c.path("paper"))
	require.Equal(c.t, http.StatusOK, b.status)
	require.Contains(c.t, b.body, "First a picture of the sheet")
	b.sendFile(c.path("paper-sheet"), "file", aPicture(c.t))
	require.Equal(c.t, http.StatusSeeOther, b.status, b.body)
	_, sha, _ := strings.Cut(b.header.Get("Location"), "sheet=")
	require.Len(c.t, sha, 64)
	return sha
}

// enter sends one step of the sheet for both pieces.
func (c *clinic) enter(b *browser, sha, step, at string, pairs ...string) {
	c.t.Helper()
	b.get(c.path("paper") + "?sheet=" + sha)
	form := []string{"what", "step", "step", step, "sheet", sha, "day", "2026-11-24", "time", at,
		"by", c.ben(), "for", "both", "piece", c.recorder, "piece", c.phone}
	b.post(c.path("paper"), append(form, pairs...)...)
}

func (c *clinic) ben() string { return c.idOf("ben") }

func (c *clinic) idOf(short string) string {
	c.t.Helper()
	for id, p := range c.world().People {
		if p.SignIn == short {
			return id
		}
	}
	c.t.Fatal("nobody is called " + short)
	return ""
}

// The server was away from 12:00; Ben wiped by paper, Cora enters it at 14:05.
func TestASheetIsEnteredStepByStep(t *testing.T) {
	c := newClinic(t)
	c.paperCounts()
	c.clock.step(2 * time.Hour)
	b := c.competent("Cora Clerk", "cora", reprocess.RoleReprocessing)
	sha := c.sheetKept(b)
	b.get(c.path("paper") + "?sheet=" + sha)
	require.Contains(t, b.body, "Both: first look")
	c.enter(b, sha, "receipt", "14:10", "a-condition", "whole", "a-recording", "arrived", "a-old_cell", "yes")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Contains(t, b.header.Get("Location"), "by="+c.ben(), "what stays the same is not asked again")
	c.enter(b, sha, "cleaning", "14:12", "a-clean", "yes", "a-parts_clean", "yes")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(c.path("paper") + "?sheet=" + sha)
	require.Contains(t, b.body, "Still wet at")
	wet := []string{"what", "wet", "step", "disinfection", "sheet", sha, "day", "2026-11-24",
		"time", "14:15:10", "until", "14:16:30", "by", c.ben(), "piece", c.recorder, "piece", c.phone,
		"stayed", "yes", "container", c.tub}
	b.post(c.path("paper"), wet...)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	w := c.world()
	require.Equal(t, reprocess.StepDrying, w.NextStep(w.Pieces[c.recorder]))

	b.get(c.path("history"))
	require.Contains(t, b.body, "from paper: 24 Nov 2026 14:15 to 14:16, by Ben Bench")
	require.Contains(t, b.body, "not measured")
	require.Contains(t, b.body, "Cora Clerk", "who entered it stands there too")
	require.Contains(t, b.body, "/picture/"+sha)
	b.get(c.path("picture", sha))
	require.Equal(t, http.StatusOK, b.status)
}

func TestWhatTheSheetCannotSay(t *testing.T) {
	c := newClinic(t)
	c.clock.step(2 * time.Hour)
	b := c.competent("Cora Clerk", "cora", reprocess.RoleReprocessing)
	sha := c.sheetKept(b)
	good := []string{"a-condition", "whole", "a-recording", "arrived", "a-old_cell", "yes"}
	for _, x := range []struct{ at, says string }{
		{"25:00", "cannot be read"}, {"", "cannot be read"}, {"14:1", "cannot be read"},
		{"23:00", "still to come"}, {"7:00", "stands before it"}} {
		c.enter(b, sha, "receipt", x.at, good...)
		require.NotEqual(t, http.StatusSeeOther, b.status, x.at)
		require.Contains(t, b.body, x.says, x.at)
		require.Contains(t, b.body, `value="whole" checked`, "what was typed stays")
	}
	c.enter(b, "5e", "receipt", "14:10", good...)
	require.Contains(t, b.body, "was not kept")
	b.get(c.path("paper"))
	b.sendFile(c.path("paper-sheet"), "file", []byte("no picture"))
	require.Equal(t, http.StatusBadRequest, b.status)
	b.get(c.path("paper"))
	b.post(c.path("paper"), "what", "else", "day", "2026-11-24", "time", "14:10", "by", c.ben())
	require.Contains(t, b.body, "not said what is entered")
	b.post(c.path("paper"), "what", "step", "step", "receipt", "day", "2026-11-24", "time", "14:10")
	require.Contains(t, b.body, "Nobody is named")
}

// By default the page says that the contact time does not count, and leads to the bench.
func TestPaperThatDoesNotCountLeadsToTheBench(t *testing.T) {
	c := newClinic(t)
	c.clock.step(2 * time.Hour)
	b := c.competent("Cora Clerk", "cora", reprocess.RoleReprocessing)
	sha := c.sheetKept(b)
	c.enter(b, sha, "receipt", "14:10", "a-condition", "whole", "a-recording", "arrived", "a-old_cell", "yes")
	c.enter(b, sha, "cleaning", "14:12", "a-clean", "yes", "a-parts_clean", "yes")
	wet := func(pairs ...string) {
		b.get(c.path("paper") + "?sheet=" + sha)
		b.post(c.path("paper"), append([]string{"what", "wet", "sheet", sha, "day", "2026-11-24", "time",
			"14:15", "until", "14:30", "by", c.ben(), "piece", c.recorder, "piece", c.phone}, pairs...)...)
	}
	wet("stayed", "yes", "number", "no such")
	require.Contains(t, b.body, "No container is chosen")
	wet("container", c.tub)
	require.Contains(t, b.body, "is not answered")
	wet("container", c.tub, "stayed", "yes")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get(c.path("paper") + "?sheet=" + sha)
	require.Contains(t, b.body, "Now disinfect it again")
	require.NotContains(t, b.body, "Enter it from paper")
	b.get(c.path())
	require.Contains(t, b.body, "from paper alone")
	require.Contains(t, b.body, "wet now, by", "and it can be")
}

func TestLoansOfASheet(t *testing.T) {
	c := newClinic(t)
	c.release()
	c.clock.step(time.Hour)
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	dana := c.idOf("dana")
	b.get(c.path("paper"))
	require.Contains(t, b.body, "It went out")
	out := []string{"what", "out", "day", "2026-11-24", "time", "14:30", "by", dana, "days", "7",
		"told", "none"}
	b.post(c.path("paper"), out...)
	require.NotEqual(t, http.StatusSeeOther, b.status, "no reference")
	b.get(c.path("paper"))
	b.post(c.path("paper"), append(out, "reference", "A-1044")...)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	w := c.world()
	l := w.Loans[w.Kits[c.kit].Loan]
	require.Equal(t, "2026-11-24T14:30:00.000Z", l.Out.String())
	require.Equal(t, dana, l.Paper.By)

	b.get(c.path("paper"))
	require.Contains(t, b.body, "It came back")
	b.post(c.path("paper"), "what", "back", "day", "2026-11-24", "time", "14:40", "by", dana,
		"skin", "yes", "fault", "no", "missing", "not_asked", "place", "dirty box")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	w = c.world()
	require.Equal(t, "yes", w.Kits[c.kit].Return.Skin)
	require.Equal(t, "2026-11-24T14:40:00.000Z", w.Kits[c.kit].Back.String())
	b.get(c.path("paper"))
	require.Contains(t, b.body, "entered by the bench")
	b.get(c.path("history"))
	require.Contains(t, b.body, "from paper: 24 Nov 2026 14:40, by Dana Desk")
}

// The printed list names every kit that can go out, its place and until when, and says that it
// is only as good as its time. The sheet's rows are the steps of the table.
func TestWhatIsPrintedBeforehand(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	b.get("/paper/released")
	require.Contains(t, b.body, "No kit is released")
	c.release()
	b.get("/paper/released")
	require.Contains(t, b.body, "only as good as its time, 24 Nov 2026 14:")
	require.Contains(t, b.body, "17")
	require.Contains(t, b.body, "bench")
	require.Contains(t, b.body, "24 Dec 2026 14:10", "the lapse comes before the cell's last day")
	b.get("/paper")
	require.Contains(t, b.body, "Model recorder with Model phone")
	b.get("/paper/enter?number=17")
	require.Equal(t, c.path("paper"), b.header.Get("Location"))
	b.get("/paper/enter?number=99")
	require.Equal(t, http.StatusNotFound, b.status)
	b.get("/paper/sheet/" + c.kit)
	for _, step := range reprocess.Steps() {
		if step.ID != reprocess.StepRelease {
			require.Contains(t, b.body, "<strong>"+step.Words+"</strong>", "%s", step.ID)
		}
	}
	require.Contains(t, b.body, "Wet from, with seconds")
	require.Contains(t, b.body, "does not count here")
	require.NotContains(t, b.body, "R-0017", "for any kit of these models")
	b.get("/paper/sheet/" + c.kit + "?own=1")
	require.Contains(t, b.body, "R-0017")
	c.paperCounts()
	b.get("/paper/sheet/" + c.kit)
	auditor := c.person("Ari Audit", "ari", reprocess.RoleAuditor)
	auditor.get(c.path("paper"))
	require.Equal(t, http.StatusForbidden, auditor.status)
}

// What the sheet says of both pieces is proposed for both; each keeps a record of its own, marked
// as from paper. Where nothing is asked of both, nothing is proposed; and it can be one alone.
func TestASheetsLineForBothPieces(t *testing.T) {
	c := newClinic(t)
	c.clock.step(2 * time.Hour)
	b := c.competent("Cora Clerk", "cora", reprocess.RoleReprocessing)
	sha := c.sheetKept(b)
	b.get(c.path("paper") + "?sheet=" + sha)
	require.Contains(t, b.body, `name="for" value="both" checked`)
	c.enter(b, sha, "receipt", "14:10", "a-condition", "whole", "a-recording", "arrived", "a-old_cell", "yes")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	seen := map[string]int{}
	for _, box := range c.newest(reprocess.ActPaper).Events {
		if ev, ok := box.Event.(reprocess.StepRecorded); ok {
			seen[ev.Piece]++
			require.Equal(t, c.ben(), ev.Record.Paper.By)
			require.True(t, ev.Record.Late)
			require.Equal(t, ev.Piece == c.recorder, ev.Record.Answered("old_cell") == "yes",
				"what is asked of the recorder alone stays its own")
		}
	}
	require.Equal(t, map[string]int{c.recorder: 1, c.phone: 1}, seen)

	form := []string{"what", "step", "step", "cleaning", "sheet", sha, "day", "2026-11-24",
		"by", c.ben(), "piece", c.recorder, "piece", c.phone, "a-clean", "yes", "a-parts_clean", "yes"}
	b.get(c.path("paper") + "?sheet=" + sha)
	b.post(c.path("paper"), append(form, "time", "99", "for", c.phone)...)
	require.Contains(t, b.body, `name="for" value="`+c.phone+`" checked`, "what was chosen stays")
	b.get(c.path("paper") + "?sheet=" + sha)
	b.post(c.path("paper"), append(form, "time", "14:12", "for", c.phone)...)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	w := c.world()
	require.Equal(t, reprocess.StepCleaning, w.NextStep(w.Pieces[c.recorder]))
	require.Equal(t, reprocess.StepDisinfection, w.NextStep(w.Pieces[c.phone]))
}
