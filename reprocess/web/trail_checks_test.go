package web

import (
	"fmt"
	"html"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/ledger"
)

func TestCheckpointFromThePage(t *testing.T) {
	c := newClinic(t)
	b := c.auditor()
	b.get("/trail/checks")
	require.Contains(t, b.text(), "None has been made yet.")
	b.post("/trail/checks/sign")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	n := c.entryCount()
	require.Equal(t, fmt.Sprintf("/trail/checks/%d", n), b.header.Get("Location"))
	b.get(b.header.Get("Location"))
	m := regexp.MustCompile(`(?s)<pre>(.*?)</pre>`).FindStringSubmatch(b.body)
	key, err := c.store.Verifier()
	require.NoError(t, err)
	cp, err := ledger.OpenCheckpoint([]byte(html.UnescapeString(m[1])), key)
	require.NoError(t, err, "what is printed is the note, byte by byte")
	require.Equal(t, n, cp.Size)
	require.Contains(t, b.text(), c.store.VerifierKey())
	b.get("/trail/checks")
	require.Contains(t, b.text(), "Checkpoint over "+entriesOf(n))
	b.get("/trail/checks/1")
	require.Equal(t, http.StatusNotFound, b.status)
}

// The drawn path is painted again, module by module, and gives the symbol.
func TestTheDrawnCodeIsTheSymbol(t *testing.T) {
	want, err := labels.Matrix("site/8f3a2c\n100\nabc", labels.LevelM)
	require.NoError(t, err)
	q := qrOf(want)
	side := len(want) + 8
	require.Equal(t, fmt.Sprintf("0 0 %d %d", side, side), q.Box)
	got := make([][]bool, len(want))
	for y := range got {
		got[y] = make([]bool, len(want))
	}
	runs := regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-(\d+)z`).FindAllStringSubmatch(q.Path, -1)
	drawn := 0
	for _, r := range runs {
		drawn += len(r[0])
		require.Equal(t, r[3], r[4])
		x, _ := strconv.Atoi(r[1])
		y, _ := strconv.Atoi(r[2])
		n, _ := strconv.Atoi(r[3])
		for i := range n {
			require.False(t, got[y-4][x-4+i], "drawn twice")
			got[y-4][x-4+i] = true
		}
	}
	require.Equal(t, len(q.Path), drawn)
	require.Equal(t, want, got)
}

// Everything is recomputed beside the running server, which the check does not change.
func TestCheckEverythingNow(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.auditor()
	b.get("/trail/checks")
	require.Contains(t, b.text(), "Nobody has checked everything")
	n := c.entryCount()
	b.post("/trail/checks/all")
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, n, c.entryCount())
	b.get("/trail/checks")
	require.Contains(t, b.text(), fmt.Sprintf("No difference in %d entries.", n))
	require.Contains(t, b.text(), "by Gil Auditor")
	for _, table := range []string{"kit", "cycle", "act_ref"} {
		require.Contains(t, b.body, `<span class="figures">`+table+`</span>`)
	}
	b.get(takeOut(t, b, "print", "kit", "17"))
	require.Contains(t, b.text(), "were recomputed without a difference, for Gil Auditor")
}

// One check at a time; the second is told so and nothing runs.
func TestOneCheckAtATime(t *testing.T) {
	c := &checking{}
	require.True(t, c.running.TryLock())
	require.False(t, c.running.TryLock())
	require.Nil(t, c.outcome())
	c.keep(&checkOutcome{by: "Ada"})
	require.Equal(t, "Ada", c.outcome().by)
}

// A difference is said with its place, and the printed list says it too.
func TestADifferenceIsShown(t *testing.T) {
	v := &Visit{}
	o := &checkOutcome{by: "Ada Okafor"}
	o.report.Difference, o.report.Entries = "entry 3: its hash differs", 2
	view := v.outcome(o)
	require.Equal(t, "A difference was found: entry 3: its hash differs. The check stopped there, "+
		"after 2 entries.", view.Said)
	require.Empty(t, view.Recomputed)
}

// askedLots tells each list of the page by its heading.
func listsOf(body string) map[string]string {
	all := map[string]string{}
	for _, part := range strings.Split(body, "<h2>")[1:] {
		heading, rest, _ := strings.Cut(part, "</h2>")
		all[html.UnescapeString(heading)] = html.UnescapeString(rest)
	}
	return all
}

// The kit was released after the lot served it, and is with a wearer: it is to be called back;
// the loan is exposed; no reference of a wearer is on the page.
func TestLookBackByLot(t *testing.T) {
	c := newClinic(t)
	c.handedOut()
	b := c.person("Ines Control", "ines", reprocess.RoleInfection)
	b.get("/lookback?lot=W-77")
	require.Equal(t, http.StatusOK, b.status, b.body)
	lists := listsOf(b.body)
	require.Contains(t, lists["Call back"], "Kit 17, recorder R-0017")
	require.Contains(t, lists["Call back"], "Kit 17, phone F-0017")
	require.NotContains(t, lists["Stop"], "Kit 17")
	require.Contains(t, lists["Affected cycles"], "Kit 17, recorder R-0017, cycle 1")
	require.Contains(t, lists["Exposed loans, with the loans before them since the last good cycle"],
		"kit 17, out 24 Nov 2026 14:")
	require.Contains(t, b.text(), "2 cycles affected, 1 loan exposed, 1 known wearer behind them.")
	require.Contains(t, b.text(), "do not call wearers from it yourself")
	require.NotContains(t, b.body, "A-1044")
	require.Contains(t, b.text(), "Looked back by Ines Control")
	for _, same := range []string{"container=" + c.tub, "procedure=" + c.procedures[0] + "%401",
		"person=" + c.personID("ben"), "from=2026-11-24T14:00&to=2026-11-24T15:00",
		"piece=R-0017", "model=" + c.models[0], "lot=W-77&piece=F-0017"} {
		b.get("/lookback?" + same)
		require.Equal(t, http.StatusOK, b.status, same+b.body)
		require.Contains(t, listsOf(b.body)["Call back"], "Kit 17", same)
	}
	b.get("/lookback?from=2026-11-25T00:00")
	require.Contains(t, b.text(), "0 cycles affected, 0 loans exposed")
}

func TestLookBackOnTheShelfAndOnTheBench(t *testing.T) {
	c := newClinic(t)
	c.toDrying()
	b := c.auditor()
	b.get("/lookback?lot=W-77")
	require.Contains(t, listsOf(b.body)["Start again"], "recorder R-0017")
	c2 := newClinic(t)
	c2.release()
	b = c2.auditor()
	b.get("/lookback?lot=W-77")
	require.Contains(t, listsOf(b.body)["Stop"], "recorder R-0017")
	require.Equal(t, "\n<p>With a wearer now, and the last release is affected.</p>\n<p>None.</p>\n",
		listsOf(b.body)["Call back"], "an empty list says so")
}

func TestLookBackRefusals(t *testing.T) {
	c := newClinic(t)
	b := c.auditor()
	b.get("/lookback")
	require.Equal(t, http.StatusOK, b.status)
	for query, want := range map[string]string{"lot=Z9": "no lot", "container=Z9": "no container",
		"piece=Z9": "no piece", "from=yesterday": "is not a time",
		"from=2026-11-24T15:00&to=2026-11-24T15:00": "holds nothing"} {
		b.get("/lookback?" + query)
		require.Equal(t, http.StatusBadRequest, b.status, query)
		require.Contains(t, b.text(), want, query)
		require.NotContains(t, b.body, "Affected cycles", query)
	}
	b.get("/lookback?piece=17")
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, `/lookback?piece=`+c.recorder)
	require.Contains(t, b.body, `/lookback?piece=`+c.phone)
}

// A sample is drawn once, its seed is in the record, and the seed draws the same again.
func TestSampleOfReleasedCycles(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.auditor()
	period := "from=2026-11-24&to=2026-11-24&rate=5%25&confidence=95%25&failures=0"
	b.get("/sample?" + period)
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.text(), "The period is not over yet.")
	c.clock.step(11 * 3600 * 1e9)
	b.signIn("gil", testSecret)
	b.get("/sample?" + period)
	require.Equal(t, http.StatusOK, b.status, b.body)
	require.Contains(t, b.text(), "Read all of 2 cycles released from 24 Nov 2026 to 24 Nov 2026.")
	pairs := []string{"from", "2026-11-24", "to", "2026-11-24", "rate", "5%", "confidence", "95%",
		"failures", "0", "seed", ""}
	n := c.entryCount()
	b.post("/sample", pairs...)
	require.Equal(t, http.StatusSeeOther, b.status, b.body)
	require.Equal(t, fmt.Sprintf("/sample/A%d", n+1), b.header.Get("Location"))
	c.readWhole(b, b.header.Get("Location"))
}

// readWhole reads a sample of two records: the first holds, the second does not; then it does.
func (c *clinic) readWhole(b *browser, run string) {
	t := c.t
	t.Helper()
	b.get(run)
	for _, want := range []string{"Not decided yet.", "None of 2 records is read yet.",
		"the same records in the same order", "1. Kit 17, ", "2. Kit 17, ", "not read yet"} {
		require.Contains(t, b.text(), want)
	}
	b.get(run + "/1")
	for _, want := range []string{"Does record 1 of 2 hold?", "Watched wet", "Ben Bench", "Its release"} {
		require.Contains(t, b.text(), want)
	}
	b.post(run+"/1", "found", "", "remark", "kept text")
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.text(), "What was found was not chosen.")
	require.Contains(t, b.text(), "kept text")
	b.post(run+"/1", "found", "found", "remark", "")
	require.Equal(t, run+"/2", b.header.Get("Location"))
	b.get(run + "/2")
	b.post(run+"/2", "found", "not_found", "remark", "")
	require.Contains(t, b.text(), "needs a remark")
	b.post(run+"/2", "found", "not_found", "remark", "no lot on the tub")
	require.Equal(t, run, b.header.Get("Location"))
	b.get(run)
	for _, want := range []string{"It does not hold", "50.00 %", "this is the share itself",
		"Does not hold: no lot on the tub. Gil Auditor"} {
		require.Contains(t, b.text(), want)
	}
	b.get(run + "/2")
	require.Contains(t, b.text(), "Read before: Does not hold")
	b.post(run+"/2", "found", "found", "remark", "the lot stands on the lid")
	b.get(run)
	require.Contains(t, b.text(), "It holds: all were read, with bad records below 5%.")
	b.get("/sample")
	require.Contains(t, b.text(), "2 of 2 read. It holds")
	b.get("/trail?act=sample_read")
	require.Contains(t, b.text(), "does not hold: Kit 17")
	for _, none := range []string{run + "/3", run + "/0", run + "/x", "/sample/A1"} {
		b.get(none)
		require.Equal(t, http.StatusNotFound, b.status, none)
	}
}

func TestSampleRefusals(t *testing.T) {
	c := newClinic(t)
	b := c.auditor()
	b.get("/sample")
	require.Equal(t, http.StatusOK, b.status)
	good := map[string]string{"from": "2026-11-01", "to": "2026-11-23", "rate": "5%",
		"confidence": "95%", "failures": "0"}
	for name, x := range map[string][2]string{"rate": {"5", "write it like 5%"},
		"confidence": {"100%", "above 0 and below 100"}, "failures": {"-1", "a whole number from 0 to 100"},
		"from": {"2026-11-24", "ends before it begins"}, "to": {"", "needs a period"},
		"seed": {"ff", "No cycle was released"}} {
		var pairs []string
		for key, value := range good {
			if key == name {
				value = x[0]
			}
			pairs = append(pairs, key, value)
		}
		if name == "seed" {
			pairs = append(pairs, "seed", x[0])
		}
		b.get(trailFilter{}.address("/sample", pairs...))
		require.GreaterOrEqual(t, b.status, 400, name)
		require.Contains(t, b.text(), x[1], name)
	}
}

// TestAnyTwoCheckpointsAreProved: the later goes on from the earlier, with the hashes that show
// it to whoever has both papers (RFC 6962, 2.1.2); the other way round and strangers are refused.
func TestAnyTwoCheckpointsAreProved(t *testing.T) {
	s := newSite(t)
	s.setUp()
	b := s.auditor()
	var sizes []int64
	for range 3 {
		_, err := s.store.Checkpoint(t.Context())
		require.NoError(t, err)
		sizes = append(sizes, s.entryCount())
		s.person(fmt.Sprintf("Person %d", len(sizes)), fmt.Sprintf("p%d", len(sizes)), reprocess.RoleFrontDesk)
	}
	for i, old := range sizes {
		for _, size := range sizes[i+1:] {
			address := fmt.Sprintf("/trail/checks/%d?old=%d", size, old)
			b.get(fmt.Sprintf("/trail/checks/%d", size))
			require.Contains(t, b.text(), address)
			require.NotContains(t, b.text(), "Proved:")
			b.get(address)
			require.Equal(t, http.StatusOK, b.status, b.body)
			require.Contains(t, b.text(), "Proved:")
			proof, err := s.store.PrefixProof(t.Context(), old, size)
			require.NoError(t, err)
			require.NotEmpty(t, proof)
			for _, h := range proof {
				require.Contains(t, b.body, h.String())
			}
			b.get(fmt.Sprintf("/trail/checks/%d?old=%d", old, size))
			require.Equal(t, http.StatusBadRequest, b.status)
		}
	}
	b.get(fmt.Sprintf("/trail/checks/%d?old=%d", sizes[1], sizes[0]-1))
	require.Equal(t, http.StatusNotFound, b.status)
}
