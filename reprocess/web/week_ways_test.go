package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// Ways that a working week asked for, so that nobody is sent round or left at a dead end.

// A pack that was released on a lot that is stopped since is opened and done again from its page.
func TestAStoppedLotLeavesAWayOn(t *testing.T) {
	c := newClinic(t)
	c.released()
	c.must(reprocess.StopLot{Lot: c.lot, Reason: "smells odd"})
	require.Contains(t, c.page(c.bench), "was stopped: smells odd")
	require.Contains(t, c.bench.body, `class="act" href="`+c.path("broken")+`"`)
	c.bench.get(c.path("broken"))
	c.bench.tap("The pack was opened, wet or dropped", "why", "opened")
	require.Contains(t, c.page(c.bench), "Both: whole")
}

// A released kit does not lie in the dirty box: until somebody says where it was put, lists say
// that nobody did. What was said at the release, or of any other place, stands.
func TestAReleasedKitIsNotInTheDirtyBox(t *testing.T) {
	c := newClinic(t)
	c.act(reprocess.TakeBack{Kit: c.kit, Return: reprocess.Return{Place: dirtyBox}})
	b := c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	c.page(b)
	require.Contains(t, b.body, "Dirty box since")
	c.release()
	for _, path := range []string{"/ready", "/paper/released", c.desk()} {
		b.get(path)
		require.Contains(t, b.body, "lace not said since its release", path)
		require.NotContains(t, b.body, "irty box", path)
	}
	require.Contains(t, c.page(b), "Nobody said where it lies now.")
	c.act(reprocess.Move{Kit: c.kit, Place: "shelf B"})
	for _, path := range []string{"/ready", "/paper/released", c.desk(), c.path()} {
		b.get(path)
		require.Contains(t, b.body, "helf B", path)
	}
}

// Who hears on the phone that it is lost goes on from there; a lost one is not declared twice.
func TestACallLeadsToTheLoss(t *testing.T) {
	c := newClinic(t)
	b := c.handedOut()
	b.get(callAt(c.kit))
	require.Contains(t, b.body, `href="`+c.desk("missing")+`"`)
	c.act(reprocess.DeclareMissing{Kit: c.kit, Data: reprocess.DataNo})
	b.get(callAt(c.kit))
	require.NotContains(t, b.body, `href="`+c.desk("missing")+`"`)
}

// The only disinfectant is proposed; a lot of none is refused in its own words.
func TestALotOfTheOnlyDisinfectant(t *testing.T) {
	c := newClinic(t)
	c.bench.get("/lots/new?kind=disinfectant")
	require.Regexp(t, `name="product" value="[^"]+" checked`, c.bench.body)
	c.bench.post("/lots/new", "kind", "disinfectant", "number", "W-9", "expiry", "2027-12-31")
	require.Equal(t, http.StatusBadRequest, c.bench.status)
	require.Contains(t, c.bench.body, "It is not said which disinfectant it is.")
	require.Contains(t, c.bench.body, `value="W-9"`)
}

// Whoever enters a sheet with many kits goes from one to the next.
func TestASheetHasMoreThanOneKit(t *testing.T) {
	c := newClinic(t)
	c.bench.get(c.path("paper"))
	require.Contains(t, c.bench.body, `href="/paper">Enter another kit`)
}
