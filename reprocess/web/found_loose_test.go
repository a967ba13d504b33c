package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// A phone that was lost and replaced turns up: by the list of what is missing or by its own label
// it is said to be found, and goes on hold; a second time there is nothing to say.
func TestAReplacedPhoneIsFound(t *testing.T) {
	for _, declared := range []bool{true, false} {
		c := newClinic(t)
		if declared {
			c.must(reprocess.DeclareMissing{Kit: c.kit, Pieces: []string{c.phone}, Data: reprocess.DataNo})
		} else {
			c.must(reprocess.Aside{Kit: c.kit, Piece: c.phone, To: reprocess.Missing, Reason: "not in the box"})
		}
		b, to := c.bench, "/missing/found/"+c.phone
		b.get(to)
		require.Contains(t, b.body, "there is nothing to say here", "its kit is taken back")
		c.must(reprocess.Compose{Kit: c.kit, Pieces: []string{c.recorder}})
		b.get("/missing")
		require.Contains(t, b.body, `href="`+to+`"`)
		require.Contains(t, b.body, "Found: phone F-0017")
		b.get("/d/" + c.codeP)
		require.Equal(t, to, b.header.Get("Location"))
		b.get(to)
		require.Contains(t, b.body, "Is the phone F-0017 found?")
		b.post(to)
		require.Equal(t, "/missing", b.header.Get("Location"), b.body)
		b.get("/missing")
		require.Contains(t, b.body, "Nothing is missing.")
		w := c.world()
		require.Equal(t, reprocess.Quarantined, w.Pieces[c.phone].State)
		require.False(t, w.Kits[c.kit].Loss.Open())
		b.get(to)
		require.Contains(t, b.body, "It is recorded as on hold")
		b.post(to)
		require.Equal(t, http.StatusConflict, b.status)
		b.get("/missing/found/none")
		require.Equal(t, http.StatusNotFound, b.status)
	}
}
