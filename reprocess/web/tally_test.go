package web

import (
	"context"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// turnedAwayEntries are the hourly counts of refusals, the newest first.
func (s *testSite) turnedAwayEntries() []reprocess.TurnedAway {
	s.t.Helper()
	list, err := s.store.Entries(context.Background(), sqlite.Filter{Act: reprocess.ActTurnedAway}, 0, 50)
	require.NoError(s.t, err)
	var all []reprocess.TurnedAway
	for _, e := range list {
		require.Equal(s.t, reprocess.ConsoleID, e.By)
		all = append(all, e.Events[0].Event.(reprocess.TurnedAway))
	}
	return all
}

// TestRefusalsWithoutASessionAreCountedByTheHour: no entry for each, one for the hour once it is
// over; no name and no address stands in it.
func TestRefusalsWithoutASessionAreCountedByTheHour(t *testing.T) {
	s := newSite(t)
	s.setUp()
	b := s.enrolled()
	before := s.entryCount()
	hour := reprocess.HourOf(s.store.Now().UTC)
	b.get("/sign-in")
	for range 3 {
		b.post("/sign-in", "name", "nobody-zyx", "secret", "wrong wrong wrong")
		require.Equal(t, http.StatusForbidden, b.status)
	}
	stranger := s.browser()
	stranger.get("/secret/AAAA-BBBB-CCCC")
	require.Equal(t, http.StatusForbidden, stranger.status)
	stranger.get("/sign-in")
	stranger.get("/no-such-page")
	require.Equal(t, before, s.entryCount(), "nothing is written while the hour lasts")
	s.clock.step(time.Hour)
	b.get("/sign-in") // any request of a later hour
	require.Equal(t, before+1, s.entryCount())
	got := s.turnedAwayEntries()
	require.Equal(t, []reprocess.TurnedAway{{From: hour, Counts: []reprocess.Counted{
		{Of: "code", N: 1}, {Of: "phone", N: 1}, {Of: "secret", N: 3}}}}, got)
	body, err := s.store.Body(t.Context(), s.entryCount())
	require.NoError(t, err)
	require.NotContains(t, string(body), "zyx")
	require.NotContains(t, string(body), "127.0.0.1")

	b.post("/sign-in", "name", "nobody-zyx", "secret", "wrong wrong wrong")
	s.restart()
	b.get("/sign-in")
	require.Len(t, s.turnedAwayEntries(), 2, "the end of the server writes what is left")
	a := s.turnedAwayEntries()[0]
	require.Equal(t, []reprocess.Counted{{Of: "secret", N: 1}}, a.Counts)
}

// TestTheTallyByItself: the boundary of the hour, and a clock set back.
func TestTheTallyByItself(t *testing.T) {
	hour := reprocess.HourOf(1_790_000_000_000)
	var x tally
	require.Nil(t, x.add(hour, "secret", "", ""))
	require.Nil(t, x.add(hour+3_599_999, "secret", "S1", "trail"))
	require.Equal(t, []reprocess.Counted{{Of: "trail", N: 1}}, x.soFar("S1"))
	require.Empty(t, x.soFar("S2"))
	due := x.add(hour+3_600_000, "wait", "", "")
	require.NotNil(t, due)
	require.Equal(t, hour, due.hour)
	require.Equal(t, map[string]int64{"secret": 2}, due.turned)
	require.Equal(t, map[string]map[string]int64{"S1": {"trail": 1}}, due.read)
	require.Empty(t, x.soFar("S1"))
	back := x.add(hour, "", "", "") // set back: what was counted goes out under its own hour
	require.Equal(t, hour+3_600_000, back.hour)
	require.Nil(t, x.add(hour+7_200_000, "", "", ""), "an hour without any makes no entry")
}

// TestEveryKindOfRefusalHasWords keeps the rules and the list of kinds together.
func TestEveryKindOfRefusalHasWords(t *testing.T) {
	for rule, kind := range turnedAway {
		_, ok := reprocess.TurnedAwayWords(kind)
		require.True(t, ok, "%s: %s", rule, kind)
	}
}

// TestTheOwnerHearsOfACodeThatWasUsed: a supervisor resets a secret and uses the code in their
// own browser; the entry names them, and the owner is told at the next sign-in, once.
func TestTheOwnerHearsOfACodeThatWasUsed(t *testing.T) {
	s := newSite(t)
	boss := s.setUp()
	dana := s.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	dana.get("/")
	require.NotContains(t, dana.body, "one-time code", "nothing happened to it yet")
	code, err := s.store.ResetSecret(t.Context(), byBoss(s), s.personID("dana"), "")
	require.NoError(t, err)
	boss.get("/secret/" + code)
	boss.post("/secret/"+code, "secret", "another long secret", "secret_again", "another long secret")
	require.Equal(t, http.StatusSeeOther, boss.status, boss.body)
	list, err := s.store.Entries(t.Context(), sqlite.Filter{Act: reprocess.ActSecret}, 0, 1)
	require.NoError(t, err)
	set := list[0].Events[0].Event.(reprocess.SecretSet)
	require.True(t, set.Code)
	require.Equal(t, s.boss.Person.ID, set.Beside)
	dana.get("/sign-in")
	dana.post("/sign-in", "name", "dana", "secret", "another long secret")
	require.Equal(t, http.StatusSeeOther, dana.status, dana.body)
	dana.get("/")
	require.Contains(t, dana.text(), "Ada Okafor"+" ended your secret and made a one-time code")
	require.Contains(t, dana.text(), "in a browser in which "+"Ada Okafor"+" was signed in,")
	require.Contains(t, dana.text(), "tell a supervisor at once")
	dana.post("/sign-out")
	dana.signIn("dana", "another long secret")
	dana.get("/")
	require.NotContains(t, dana.text(), "tell a supervisor at once")
}

// TestACountOfReadingsSaysWhatWasRead: no two places share a name, but the pages of one place.
func TestACountOfReadingsSaysWhatWasRead(t *testing.T) {
	for path, want := range map[string]string{"/": "home", "/trail": "trail",
		"/trail/:seq": "trail-entry", "/trail/checks": "trail-checks", "/kits": "kits",
		"/passes/:id": "passes", "/lookback": "lookback"} {
		found := false
		for _, r := range routes() {
			if r.Path == path && r.Method == get {
				found = true
				require.Equal(t, want, r.name(), path)
			}
		}
		require.True(t, found, path)
	}
	require.Equal(t, "kits-old", (&Route{Path: "/kits/:id/old", Page: "office"}).name())
	for _, r := range routes() {
		require.NotEmpty(t, r.name(), r.Path)
		require.NotEqual(t, "office", r.name(), r.Path)
	}
}

// TestThePassAndTheCommandLineInWords: a pass is nobody on the staff, and ends in its own words.
func TestThePassAndTheCommandLineInWords(t *testing.T) {
	w := reprocess.NewWorld()
	pass := reprocess.PersonSet{Person: reprocess.Person{Name: "Ina Spector", Pass: true,
		Roles: []reprocess.Role{reprocess.RoleAuditor}, Left: "2026-11-26"}}
	require.Equal(t, "Pass of Ina Spector, to read until 26 Nov 2026", setUpWords(w, pass))
	pass.Pass, pass.Left = false, ""
	require.Equal(t, "Ina Spector on the staff: an auditor", setUpWords(w, pass))
	require.Equal(t, "console", byWhom(&reprocess.Entry{Name: "console", By: "console"}))
	require.Equal(t, "Ada Lind, S2", byWhom(&reprocess.Entry{Name: "Ada Lind", By: "S2"}))
}
