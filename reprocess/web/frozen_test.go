package web

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
	"handback/reprocess/lookback"
	"handback/reprocess/sqlite"
)

// freeze freezes the look-back of the clinic's one lot by the page and gives its address.
func (b *browser) freeze() string {
	b.site.t.Helper()
	return b.done("/lookback?lot=W-77", "/lookback", "lot", "W-77", "note", "Lot W-77 was too weak",
		"secret", testSecret)
}

func frozenOf(t *testing.T, c *clinic, at string) (*reprocess.FrozenLookBack, string) {
	t.Helper()
	l, err := sqlite.Get[reprocess.FrozenLookBack](context.Background(), c.store,
		reprocess.TableLookBack, at[strings.LastIndexByte(at, '/')+1:])
	require.NoError(t, err)
	return l, filepath.Join(c.dir, "files", l.SHA256[:2], l.SHA256)
}

// A kit with a wearer: the answer is frozen, signed, kept as a file that says what it was; one
// signature calls the kit back; the desk telephones, the kit comes back and is on hold.
func TestAFrozenLookBackToItsEnd(t *testing.T) {
	c := newClinic(t)
	desk := c.handedOut()
	b := c.person("Ines Control", "ines", reprocess.RoleInfection)
	ask := "/lookback?lot=W-77"
	b.refused("has to be signed", ask, "/lookback", "lot", "W-77", "note", "Weak")
	require.Contains(t, b.body, `value="Weak"`)
	b.refused("What happened is empty", ask, "/lookback", "lot", "W-77", "secret", testSecret)
	require.Contains(t, listsOf(b.body)["Call back"], "Kit 17, recorder R-0017", "the answer stays")
	b.refused("no lot", ask, "/lookback", "lot", "Z9", "note", "Weak", "secret", testSecret)
	at := b.freeze()
	b.get(at)
	lists := listsOf(b.body)
	require.Contains(t, lists["Call back: with a wearer"], "Kit 17, recorder R-0017")
	require.Contains(t, lists["Call back: with a wearer"], "handed out")
	require.Contains(t, lists["Exposed loans"], "of kit 17, out 24 Nov 2026")
	require.Contains(t, lists["Affected cycles"], "cycle 1")
	require.Contains(t, b.text(), "Lot W-77 was too weak.")
	require.Contains(t, b.text(), "2 cycles affected, 1 loan exposed, 1 known wearer behind them. "+
		"To call back 2, to stop 0, to start again 0")
	require.NotContains(t, b.body, "A-1044")
	l, path := frozenOf(t, c, at)
	require.Contains(t, b.text(), l.Root)
	note, size, err := c.store.NewestCheckpoint(context.Background())
	require.NoError(t, err)
	require.Equal(t, l.Seq, size, "a checkpoint over the entry is signed at once")
	require.NotEmpty(t, note)
	b.get(at + "/file")
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(content), b.body)
	f, err := lookback.ReadFrozen(content)
	require.NoError(t, err)
	require.Equal(t, []string{c.phone, c.recorder}, []string{f.Result.Recall[1], f.Result.Recall[0]})

	b.get(at + "/again")
	require.Contains(t, b.text(), "Worked out again over the entries of then: the same answer.")
	require.Contains(t, b.text(), "Nothing differs")

	b.get(at + "/act")
	require.Contains(t, b.text(), "1 kit: 2 to call back, 0 to stop, 0 to start again.")
	b.refused("has to be signed", at+"/act", at+"/act", "reason", "too weak")
	b.refused("The reason is empty", at+"/act", at+"/act", "secret", testSecret)
	require.Equal(t, at, b.done(at+"/act", at+"/act", "reason", "lot too weak", "secret", testSecret))
	b.get(at)
	require.Contains(t, listsOf(b.body)["What was done about it"], "Signed by Ines Control")
	require.Contains(t, listsOf(b.body)["What was done about it"], "Kit 17: being called back")
	require.Equal(t, at, b.done(at+"/act", at+"/act", "reason", "again", "secret", testSecret))
	b.get(at)
	require.Contains(t, b.text(), "0 kits acted on. 1 kit left as it stands")
	require.Contains(t, b.text(), "the recorder is called back already")
	b.get(at + "/again")
	require.Contains(t, listsOf(b.body)["Changed since"], "Then: handed out. Now: being called back.")

	c.telephone(desk)
	desk.get(c.desk())
	require.Contains(t, desk.text(), "It is being called back.")
	desk.get(c.desk())
	desk.post(c.desk("back"), "skin", "no", "fault", "no", "missing", "no", "flags", "none",
		"place", "dirty box")
	require.Equal(t, http.StatusSeeOther, desk.status, desk.text())
	require.Equal(t, "called_back", c.world().Pieces[c.recorder].Holds[0].Reason)
	desk.get("/called-back")
	require.Contains(t, desk.text(), "0 kits are still out.")
	b.still("ines")
	b.get("/kit/" + c.kit + "/history")
	require.Contains(t, b.text(), "lot too weak")
	b.get("/trail")
	require.Contains(t, b.text(), "1 kit: lot too weak")
}

// telephone works the call-back list at the desk.
func (c *clinic) telephone(desk *browser) {
	t := c.t
	t.Helper()
	desk.get("/called-back")
	require.Contains(t, desk.text(), "Kit 17")
	require.Contains(t, desk.text(), "Not called yet. To be called by 25 Nov 2026 ")
	require.Contains(t, desk.text(), tellWords)
	require.NotContains(t, desk.body, "A-1044", "the reference is looked up, never listed")
	require.NotContains(t, desk.text(), "To call now: overdue")
	c.clock.step(reprocess.CallBackHours * time.Hour)
	desk.still("dana")
	desk.get("/called-back")
	require.Contains(t, desk.text(), "To call now: overdue")
	desk.get("/today")
	require.Contains(t, desk.text(), "Called back, to call")
	call := callAt(c.kit)
	desk.get(call)
	require.Contains(t, desk.text(), "lot too weak")
	loan := regexp.MustCompile(`name="loan" value="([^"]+)"`).FindStringSubmatch(desk.body)[1]
	desk.post(call, "loan", loan, "result", reprocess.CallNotReached)
	require.Equal(t, http.StatusSeeOther, desk.status, desk.text())
	desk.get("/called-back")
	require.Contains(t, desk.text(), "by Dana Desk: not reached")
	c.clock.step(9 * 24 * time.Hour) // over its due day as well
	desk.still("dana")
	desk.get("/today")
	require.Contains(t, desk.text(), "Called back, to call")
	require.NotContains(t, desk.text(), "Overdue, to call", "one line for one call")
}

// What is on the shelf is stopped, what is in work begins again, and the difference is shown.
func TestShelfAndBenchByOneSignature(t *testing.T) {
	c := newClinic(t)
	c.toDrying()
	b := c.person("Ines Control", "ines", reprocess.RoleInfection)
	at := b.freeze()
	b.get(at)
	require.Contains(t, listsOf(b.body)["Start again: being reprocessed"], "recorder R-0017")
	b.done(at+"/act", at+"/act", "reason", "too weak", "secret", testSecret)
	require.Equal(t, reprocess.Returned, c.world().Pieces[c.recorder].State)
	b.get(at)
	require.Contains(t, listsOf(b.body)["What was done about it"], "Kit 17: to start again")

	c2 := newClinic(t)
	c2.toRelease()
	b = c2.person("Ines Control", "ines", reprocess.RoleInfection)
	at = b.freeze()
	c2.act(reprocess.ReleaseKit{Kit: c2.kit})
	b.get(at + "/again")
	lists := listsOf(b.body)
	require.Contains(t, lists["What is to be done"], "To stop now")
	require.Contains(t, lists["What is to be done"], "No longer to start again")
	require.Contains(t, lists["Changed since"], "Now: released")
	require.Contains(t, b.text(), "Worked out again over the entries of then: the same answer.")
	b.done(at+"/act", at+"/act", "reason", "too weak", "secret", testSecret)
	b.get(at)
	require.Contains(t, b.text(), "the recorder was released since")
	require.Equal(t, reprocess.Released, c2.world().Pieces[c2.recorder].State)
	again := b.freeze()
	b.done(again+"/act", again+"/act", "reason", "too weak", "secret", testSecret)
	require.Equal(t, reprocess.Embargoed, c2.world().Pieces[c2.recorder].State)
}

// A correction takes a cycle off the list, and the page says so.
func TestCorrectedSinceIsShown(t *testing.T) {
	v := &Visit{}
	then := lookback.Fact{Kind: "cycle", ID: "C1", Name: "kit 17", State: "open"}
	now := then
	now.Changes = 2
	was := map[[2]string]lookback.Fact{{"cycle", "C1"}: then}
	rows := v.goneRows(was, map[[2]string]lookback.Fact{{"cycle", "C1"}: now}, "cycle", []string{"C1"}, "")
	require.Contains(t, rows[0].Notes, "Its record was corrected since.")
	require.Equal(t, []string{"b"}, still([]string{"a", "b"}, []string{"a"}))
}

// Two people sign where the clinic asks for two; switching that off is signed.
func TestTwoSignWhatALookBackStops(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.person("Ines Control", "ines", reprocess.RoleInfection)
	at := b.freeze()
	b.done("/lookback/frozen", "/lookback/frozen", "two", "yes")
	b.get("/lookback/frozen")
	require.Contains(t, b.text(), "Two people sign now.")
	require.Contains(t, b.text(), "Lot W-77 was too weak")
	b.get(at + "/act")
	require.Contains(t, b.body, "Who signs beside you?")
	b.refused("wants two people", at+"/act", at+"/act", "reason", "weak", "secret", testSecret)
	b.refused("has not signed", at+"/act", at+"/act", "reason", "weak", "secret", testSecret,
		"second", c.boss.Person.ID)
	require.Equal(t, reprocess.Released, c.world().Pieces[c.recorder].State)
	b.done(at+"/act", at+"/act", "reason", "weak", "secret", testSecret, "second", c.boss.Person.ID,
		"second_secret", bossSecret)
	b.get(at)
	require.Contains(t, b.text(), "Signed by Ines Control and Ada Okafor")
	b.get("/trail")
	require.Contains(t, b.text(), "two people sign what a look-back stops")
	b.refused("has to be signed", "/lookback/frozen", "/lookback/frozen")
	b.done("/lookback/frozen", "/lookback/frozen", "secret", testSecret)
	require.False(t, c.world().Settings.TwoToStop)
}

// Who may: an auditor freezes and reads; only infection control and supervisors act; the bench
// sees none of it; a damaged answer is never shown.
func TestWhoFreezesAndWhoActs(t *testing.T) {
	c := newClinic(t)
	c.release()
	a := c.auditor()
	at := a.freeze()
	a.get(at)
	require.NotContains(t, a.body, at+"/act")
	for path, want := range map[string]int{at + "/act": http.StatusForbidden,
		at + "/again": http.StatusOK, "/lookback/frozen": http.StatusOK,
		"/lookback/frozen/Q0": http.StatusNotFound, "/called-back": http.StatusForbidden} {
		a.get(path)
		require.Equal(t, want, a.status, path)
	}
	for _, path := range []string{at, "/lookback/frozen", at + "/file", at + "/act"} {
		c.bench.get(path)
		require.Equal(t, http.StatusForbidden, c.bench.status, path)
	}
	_, path := frozenOf(t, c, at)
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	content[40] ^= 1
	require.NoError(t, os.WriteFile(path, content, 0o600))
	a.get(at)
	require.Equal(t, http.StatusServiceUnavailable, a.status)
	require.Contains(t, a.text(), "The kept file is damaged")
	a.get(at + "/file")
	require.Equal(t, http.StatusServiceUnavailable, a.status)
}
