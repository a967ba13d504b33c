package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// Every kind of code leads where it should; the answer to what is not ours is "Cannot confirm".
func TestLabelAddress(t *testing.T) {
	c := newClinic(t)
	b := c.bench
	to := func(code string) string {
		t.Helper()
		b.get("/d/" + code)
		require.Equal(t, http.StatusSeeOther, b.status, b.body)
		return b.header.Get("Location")
	}
	require.Equal(t, c.path()+"?piece="+c.recorder, to(c.codeR))
	require.Equal(t, c.path()+"?piece="+c.phone, to(c.codeP))

	blank, slip, tub := labelCode(t, 11), labelCode(t, 12), labelCode(t, 13)
	c.must(reprocess.IssueBlanks{Codes: []string{blank}, First: 40})
	require.Equal(t, "/label/"+blank+"/bind", to(blank))
	c.must(reprocess.Reissue{Kit: c.kit, Kind: reprocess.CodeSlip, Target: c.kit, Code: slip, Reason: "new slip"})
	require.Equal(t, c.path(), to(slip), "a slip opens the kit and is no scan of the device")
	c.must(reprocess.OpenContainer{Lot: c.lot, Code: tub})
	require.Contains(t, to(tub), "/container/")

	b.get("/d/" + labelCode(t, 99))
	require.Contains(t, b.body, "Cannot confirm")
	require.Contains(t, b.body, "not one of ours")
	b.get("/d/ABC")
	require.Contains(t, b.body, "Cannot confirm")
	require.NotContains(t, b.body, `class="state released"`)

	fresh := labelCode(t, 21)
	c.must(reprocess.Reissue{Kit: c.kit, Kind: reprocess.CodePiece, Target: c.recorder, Code: fresh,
		Old: []string{c.codeR}, Reason: "torn"})
	b.get("/d/" + c.codeR)
	require.Equal(t, http.StatusOK, b.status)
	require.Contains(t, b.body, "This label was withdrawn.")
	require.Contains(t, b.body, `href="`+c.path()+`"`)
	require.Contains(t, to(fresh), "piece="+c.recorder)
}

// Staff on an enrolled phone go to the sign-in and come back to the same address; a finder
// reads whom to call, the same for a known and for an unknown code.
func TestLabelWithoutSession(t *testing.T) {
	c := newClinic(t)
	w := reprocess.Settings{Site: "Test", Zone: "UTC", Contact: "555 0100", Hours: "Mon to Fri, 8 to 16"}
	c.must(reprocess.SetSettings{Settings: w})
	staff := c.enrolled()
	staff.get("/d/" + c.codeR)
	require.Equal(t, http.StatusSeeOther, staff.status)
	require.Equal(t, signInAt("/d/"+c.codeR), staff.header.Get("Location"))
	finder := c.browser()
	for _, code := range []string{c.codeR, labelCode(t, 77)} {
		finder.get("/d/" + code)
		require.Equal(t, http.StatusOK, finder.status)
		require.Contains(t, finder.body, "555 0100")
		require.Contains(t, finder.body, "/sign-in?to=")
		require.NotContains(t, finder.body, "R-0017")
		require.NotContains(t, finder.body, c.path())
		require.NotContains(t, finder.body, "eleased")
	}
}
