package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// A loss from the declaration to the telling: the clock, the contact of the settings, and what
// a finder reads, which is whom to call and nothing else.
func TestALostKit(t *testing.T) {
	c := newClinic(t)
	s := c.world().Settings
	s.Clinic, s.Contact, s.Hours = "Moor clinic", "555 0100", "Mon to Fri, 8 to 16"
	c.must(reprocess.SetSettings{Settings: s})
	b := c.handedOut()
	b.get("/missing")
	require.Contains(t, b.body, "Nothing is missing.")
	require.Contains(t, b.body, "Whom to tell is not entered")
	c.must(reprocess.SetCounter{Counter: reprocess.Counter{Privacy: "Data protection, ext. 300"}})
	for why, pairs := range map[string][]string{
		"No piece is ticked as missing.":         {"data", "yes"},
		"It is not said whether a recording":     {"piece", c.recorder},
		"The time cannot be read.":               {"piece", c.recorder, "data", "yes", "known", "noon"},
		"is still to come.":                      {"piece", c.recorder, "data", "yes", "known", "2027-01-01T08:00"},
		"The note holds characters that cannot ": {"piece", c.recorder, "data", "yes", "note", "a\x01"},
	} {
		b.get(c.desk("missing"))
		b.post(c.desk("missing"), pairs...)
		require.Equal(t, http.StatusBadRequest, b.status, "%s: %s", why, b.body)
		require.Contains(t, b.body, why)
	}
	b.get(c.desk())
	require.Contains(t, b.body, `href="`+c.desk("missing")+`"`)
	b.get(c.desk("missing"))
	b.post(c.desk("missing"), "piece", c.recorder, "piece", c.phone, "data", "unknown",
		"known", "2026-11-24T09:00", "note", "left in a taxi")
	require.Equal(t, "/missing", b.header.Get("Location"), b.body)
	b.get("/missing")
	require.Contains(t, b.body, "Nobody is told yet: 5 h of 72 h (Regulation (EU) 2016/679, Article 33(1)).")
	require.Contains(t, b.body, "Tell Data protection, ext. 300 when")
	require.Contains(t, b.body, "Please call 555 0100, Mon to Fri, 8 to 16.")
	require.Contains(t, b.body, "Ask a supervisor to end it at once")
	require.Contains(t, b.body, "Left in a taxi.")

	finder := c.browser()
	finder.get("/d/" + c.codeR)
	require.Contains(t, finder.body, "Please call 555 0100")
	for _, word := range []string{"missing", "taxi", "kit 17", "Kit 17", "R-0017", "Data protection"} {
		require.NotContains(t, finder.body, word, "the finder's page shows nothing else")
	}

	b.post("/missing/told", "kit", c.kit, "who."+c.kit, "Data protection", "told."+c.kit, "2026-11-24T08:59")
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, "is before the loss was known")
	require.Contains(t, b.body, `value="2026-11-24T08:59"`)
	c.clock.step(67 * time.Hour)
	b.still("dana")
	b.get("/missing")
	require.Contains(t, b.body, "72 h, later than the 72 h of")
	b.post("/missing/told", "kit", c.kit, "who."+c.kit, "Data protection", "told."+c.kit, "2026-11-24T12:30")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get("/missing")
	require.Contains(t, b.body, "Told at 24 Nov 2026 12:30: Data protection, 3 h after it was known.")
	require.NotContains(t, b.body, "Nobody is told yet")
	c.bench.still("ben")
	c.bench.get("/kit/" + c.kit + "/history")
	require.Contains(t, c.bench.body, "Declared missing; Whether data is on it is not known")
	require.Contains(t, c.bench.body, "Told of the loss: Data protection")
	c.bench.get("/missing")
	c.bench.post("/missing/told", "kit", c.kit)
	require.Equal(t, http.StatusForbidden, c.bench.status, "not among his rights")
}

// Found: taken back as any kit; its custody was unknown, and what is on it is asked first.
func TestALostKitIsFound(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut()
	c.must(reprocess.SetRecording{Kit: c.kit, Status: reprocess.RecordingArrived})
	c.must(reprocess.DeclareMissing{Kit: c.kit, Data: reprocess.DataYes})
	b.get(c.desk())
	require.Contains(t, b.body, "A piece of it is missing.")
	require.Contains(t, b.body, "Lost since 24 Nov 2026")
	require.Contains(t, b.body, "erase nothing; the bench secures the recording first")
	require.NotContains(t, b.body, "It is missing</a>", "that is said already")
	require.Contains(t, b.body, ">Take back</button>")
	b.post(c.desk("back"), "place", "dirty box", "asked_came", "1", "came", c.recorder, "came", c.phone)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	k := c.world().Kits[c.kit]
	require.Equal(t, reprocess.RecordingUnknown, k.Recording.Status)
	require.NotZero(t, k.Loss.Found)
	b.get("/missing")
	require.Contains(t, b.body, "Found 24 Nov 2026", "the telling is still open")
	b.post("/missing/told", "kit", c.kit, "who."+c.kit, "")
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, "Nobody is named who was told.")
	b.post("/missing/told", "kit", c.kit, "who."+c.kit, "Data protection")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	b.get("/missing")
	require.Contains(t, b.body, "Nothing is missing.")
	auditor := c.person("Ines Audit", "ines", reprocess.RoleAuditor)
	auditor.get("/missing")
	require.Equal(t, http.StatusForbidden, auditor.status)
}
