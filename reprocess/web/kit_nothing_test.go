package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// everybody who may open any page of a kit, in one person.
func (c *clinic) allRoles() *browser {
	c.t.Helper()
	return c.person("All Roles", "all", reprocess.Roles()...)
}

// A page opened by a typed address when its act is not due has no question without answers: it
// says why there is nothing to do, and leads to the kit. Sentences of the page, once each state.
func TestPagesOfActsThatAreNotDueSaySo(t *testing.T) {
	c := newClinic(t)
	b := c.allRoles()
	for path, says := range map[string]string{
		"opened":      "parcel",
		"decision":    "Nothing of kit 17 is on hold, so there is nothing to decide.",
		"stop-end":    "neither stopped nor called back",
		"technician":  "Nothing of kit 17 waits for a technician. It does after two repeats",
		"repair":      "A small repair is made on a clean dry piece",
		"override":    "Recorder: first look is next, and that is never accepted other than as written.",
		"countersign": "waits for a countersignature",
		"broken":      "Kit 17 is not released",
		"re-check":    "has not lapsed",
		"repair-day":  "Nothing of kit 17 is at repair.",
		"repair-back": "nothing can be back from there",
	} {
		b.get(c.path(path))
		require.Equal(t, http.StatusOK, b.status, path)
		require.Contains(t, b.body, says, path)
		require.Contains(t, b.body, "The page of the kit shows where it stands and what is next.", path)
		require.Contains(t, b.body, `<a class="act" href="/kit/`+c.kit+`">To the kit</a>`, path)
		require.NotContains(t, b.body, "<fieldset", path)
		require.NotContains(t, b.body, `name="secret"`, path)
		// Sent all the same, the rule answers, and the page still says why.
		b.post(c.path(path), "secret", testSecret, "reason", "typed", "piece", c.recorder)
		require.NotEqual(t, http.StatusSeeOther, b.status, path)
	}
	for _, path := range []string{"hold", "place", "wait", "aside", "send-repair", "stop"} {
		b.get(c.path(path))
		require.NotContains(t, b.body, "Not now:", path)
	}
}

// Every act that is not always possible has its sentence: none is left with an empty page.
func TestEveryActThatCanBeNotDueHasItsSentence(t *testing.T) {
	c := newClinic(t)
	x := &view{k: &reprocess.Kit{ID: c.kit, Number: "17"}, w: reprocess.NewWorld()}
	free := map[string]bool{"place": true, "wait": true, "hold": true, "aside": true}
	for _, a := range smallActs() {
		say, ok := notNow[a.path]
		require.Equal(t, !free[a.path], ok, a.path)
		if ok {
			require.True(t, strings.HasSuffix(say(x), "."), a.path)
			require.Contains(t, strings.ToLower(say(x)), "kit 17", a.path)
		}
	}
}

// What is on hold for one and opened by the page of the other is sent to the right one.
func TestTheWrongPageForAHoldNamesTheRightOne(t *testing.T) {
	c := newClinic(t)
	b := c.allRoles()
	c.must(reprocess.PutOnHold{Kit: c.kit, Piece: c.recorder, Reason: "skin_broken"})
	b.get(c.path("technician"))
	require.Contains(t, b.body, "Kit 17 is on hold for a decision, not for a technician.")
	b.get(c.path("override"))
	require.Contains(t, b.body, "There is no step of kit 17 to accept now. Recorder: on hold:")
	b.get(c.path("decision"))
	require.Contains(t, b.body, "How does it go on?")
}

// The pair and the test recording by a typed address: the bench is told, a technician may still
// learn a height.
func TestPairAndTestByATypedAddress(t *testing.T) {
	c := newClinic(t)
	c.bench.get(c.path("pair"))
	require.Contains(t, c.bench.body, "Kit 17 is not at the bench; the pair is read before it is packed.")
	require.NotContains(t, c.bench.body, `name="find"`)
	c.bench.get(c.path("test"))
	require.Contains(t, c.bench.body, "The function test is not the recorder’s next step: first look is.")
	require.NotContains(t, c.bench.body, `type="file"`)
	b := c.allRoles()
	b.get(c.path("test"))
	require.Contains(t, b.body, "the beat height of a known good device can still be learnt from one")
	require.Contains(t, b.body, `type="file"`)
	require.NotContains(t, b.body, "answer by hand")
	c.toTest()
	c.bench.get(c.path("test"))
	require.NotContains(t, c.bench.body, "is not the recorder’s next step")
	require.Contains(t, c.bench.body, "answer by hand")
}
