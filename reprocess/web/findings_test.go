package web

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"net/http"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// opened writes a finding down from the kit's page, owned by the first supervisor, and gives
// its address.
func (c *clinic) finding(b *browser) string {
	c.t.Helper()
	b.get("/findings/new?kit=" + c.kit)
	require.Contains(c.t, b.body, "About kit 17.")
	b.post("/findings/new", "kit", c.kit, "text", "Lid does not shut", "action", "new hinge",
		"owner", reprocess.FirstSupervisorID, "due", "2026-11-26")
	require.Equal(c.t, http.StatusSeeOther, b.status, b.body)
	e := c.newest(reprocess.ActFinding)
	return "/finding/" + e.Events[0].Event.(reprocess.FindingOpened).ID
}

func TestAFindingFromOpenToOverdue(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	require.Contains(t, c.page(b), `href="/findings/new?kit=`+c.kit+`"`)
	at := c.finding(b)
	b.get("/findings")
	require.Contains(t, b.body, "1 open finding")
	require.Contains(t, b.body, "Ada Okafor, by 26 Nov 2026. To do: new hinge.")
	require.Less(t, len(b.body), 16_000)
	b.get("/today")
	require.NotContains(t, b.body, "Lid does not shut", "not due yet")
	c.clock.step(48 * time.Hour)
	b.still("ben")
	b.get("/today")
	require.Contains(t, b.body, "Lid does not shut", "due today")
	require.NotContains(t, b.body, "over. To do")
	c.clock.step(24 * time.Hour)
	b.still("ben")
	b.get("/today")
	require.Contains(t, b.body, "by 26 Nov 2026, 1 day over.")
	b.get(at)
	require.Contains(t, b.body, "Its owner, infection control or a supervisor closes it.")
	require.NotContains(t, b.body, "Close it")
	require.Contains(t, b.body, "About kit 17")
	require.Contains(t, c.page(b), "To put right: Lid does not shut")
}

func TestFindingRefusals(t *testing.T) {
	c := newClinic(t)
	b, page := c.bench, "/findings/new"
	owner := reprocess.FirstSupervisorID
	for why, pairs := range map[string][]string{
		"What was found is empty":        {"owner", owner, "due", "2026-11-26"},
		"Nobody on the staff was chosen": {"text", "x", "due", "2026-11-26"},
		"no day to put it right by":      {"text", "x", "owner", owner, "due", "2026-11-23"},
		"is not a day like":              {"text", "x", "owner", owner, "due", "soon"},
		"There is no such kit":           {"text", "x", "owner", owner, "due", "2026-11-26", "kit", "K0"},
		"There is no such entry":         {"text", "x", "owner", owner, "due", "2026-11-26", "entry", "0"},
		"no such entry":                  {"text", "x", "owner", owner, "due", "2026-11-26", "entry", "9999"},
	} {
		b.refused(why, page, page, pairs...)
	}
	b.get("/findings/new?kit=K0")
	require.Equal(t, http.StatusNotFound, b.status)
	b.get("/finding/F0")
	require.Equal(t, http.StatusNotFound, b.status)
	at := c.finding(b)
	b.get(at)
	b.post(at+"/close", "done", "new hinge", "entry", "1")
	require.Equal(t, http.StatusForbidden, b.status, "not its owner")
	b.post(at+"/move", "owner", owner, "due", "2026-11-27", "reason", "x")
	require.Equal(t, http.StatusForbidden, b.status)
}

func TestClosingAFindingByAnEntry(t *testing.T) {
	c := newClinic(t)
	at := c.finding(c.bench)
	ina := c.person("Ina Control", "ina", reprocess.RoleInfection)
	ina.refused("What was done is empty", at, at+"/close", "entry", "1")
	for _, bad := range []string{"", "0", "9999", "x", "entry entry 1"} {
		ina.refused("is not there", at, at+"/close", "done", "new hinge", "entry", bad)
	}
	ina.done(at, at+"/close", "done", "new hinge", "entry", "entry 1")
	ina.get(at)
	require.Contains(t, ina.body, `href="/trail/1"`)
	require.Contains(t, ina.body, "Closed by Ina Control on 24 Nov 2026: new hinge.")
	require.NotContains(t, c.page(c.bench), "To put right:")
	ina.get("/findings")
	require.Contains(t, ina.body, "Nothing is open.")
	require.Contains(t, ina.body, "Closed by Ina Control")
	ina.refused("was closed on 24 Nov 2026", at, at+"/close", "done", "again", "entry", "1")
	ina.get("/trail/1")
	require.Contains(t, ina.body, `href="/findings/new?entry=1"`)
	ina.get("/findings/new?entry=1")
	require.Contains(t, ina.body, "About entry 1.")
}

// A picture is kept before the entry that names it, and shown from the finding.
func TestClosingAFindingByAPicture(t *testing.T) {
	c := newClinic(t)
	at := c.finding(c.bench)
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8))))
	ina := c.person("Ina Control", "ina", reprocess.RoleInfection)
	ina.get(at)
	ina.sendFile(at+"/close", "file", b.Bytes(), "done", "new hinge", "entry", "1")
	require.Equal(t, http.StatusBadRequest, ina.status)
	require.Contains(t, ina.body, "An entry and a picture were both given.")
	ina.sendFile(at+"/close", "file", []byte("no picture"), "done", "new hinge", "entry", "")
	require.GreaterOrEqual(t, ina.status, 400)
	require.Less(t, ina.status, 500)
	ina.sendFile(at+"/close", "file", b.Bytes(), "done", "new hinge", "entry", "")
	require.Equal(t, http.StatusSeeOther, ina.status, ina.body)
	ina.get(at)
	link := regexp.MustCompile(fmt.Sprintf(`href="(%s/picture/[0-9a-f]{64})"`, at)).
		FindStringSubmatch(ina.body)
	require.Len(t, link, 2, ina.body)
	ina.get(link[1])
	require.Equal(t, http.StatusOK, ina.status)
	require.Regexp(t, `^image/`, ina.header.Get("Content-Type"))
}

func TestMovingAFindingByThePage(t *testing.T) {
	c := newClinic(t)
	at := c.finding(c.bench)
	ina := c.person("Ina Control", "ina", reprocess.RoleInfection)
	owner := reprocess.FirstSupervisorID
	ina.refused("has this owner and this day already", at, at+"/move", "owner", owner, "due",
		"2026-11-26", "reason", "x")
	ina.refused("The reason is empty", at, at+"/move", "owner", owner, "due", "2026-11-27")
	ina.done(at, at+"/move", "owner", owner, "due", "2026-11-27", "reason", "hinge on order")
	ina.get(at)
	require.Contains(t, ina.body, "Ada Okafor, by 27 Nov 2026.")
}
