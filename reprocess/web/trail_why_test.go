package web

import (
	"cmp"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// A row whose sentences do not hold what was looked for says where it stands; one that does
// says nothing more. Nothing to take out is not offered.
func TestARowSaysWhyItIsThere(t *testing.T) {
	c := newClinic(t)
	c.release()
	c.must(reprocess.Move{Kit: c.kit, Place: "Schrank ÜBER 4"})
	b := c.auditor()
	lots := 0
	for id, l := range c.world().Lots {
		number := cmp.Or(l.Number, id)
		b.get("/trail?act=release&lot=" + number)
		there := !strings.Contains(b.text(), "There is no such entry.")
		require.Equal(t, there, strings.Contains(b.body, "/trail/copy"), number)
		require.Equal(t, there, strings.Contains(b.text(), fmt.Sprintf("Names lot %s.", number)), number)
		if there {
			lots++
		}
		b.get("/trail?act=lot&lot=" + number)
		require.Equal(t, l.Number == "", strings.Contains(b.text(), "Names lot"), number)
	}
	require.Positive(t, lots, "a release names the lots it stands on")
	b.get("/trail?words=über")
	require.Contains(t, b.text(), "1 entry: ")
	require.NotContains(t, b.text(), "Holds", "the sentence has the word")
	b.get("/trail?act=register&words=cabinet+FRIDGE")
	require.Contains(t, b.text(), "0 entries")
	first, err := c.store.Entry(t.Context(), c.entryCount())
	require.NoError(t, err)
	b.get("/trail?words=" + first.By + "+shelf")
	require.Equal(t, 200, b.status)
}

func TestThePartOfALongText(t *testing.T) {
	long := strings.Repeat("a", 40) + " Ölung " + strings.Repeat("b", 40)
	require.Equal(t, "…"+strings.Repeat("a", 29)+" Ölung "+strings.Repeat("b", 29)+"…", around(long, "öLUNG"))
	require.Equal(t, "short Text", around("short Text", "text"))
	require.Equal(t, strings.Repeat("x", 31)+"…", around(strings.Repeat("x", 70), "x"))
	require.Equal(t, "ab", shortestWith([]string{"cab", "xab", "ab", "zz"}, "AB"))
	require.Equal(t, "cab", shortestWith([]string{"xab", "cab"}, "ab"))
	require.Empty(t, shortestWith([]string{"zz"}, "ab"))
	e := &reprocess.Entry{Seq: 3, Name: "Ada", Boot: "b00t", Key: "k3y", KitPrev: "cafe",
		Refusal: &reprocess.Refusal{Text: "No."}}
	texts := textsOfEntry(e)
	require.Contains(t, texts, "Ada")
	require.Contains(t, texts, "No.")
	for _, own := range []string{"b00t", "k3y", "cafe"} {
		require.NotContains(t, texts, own)
	}
	require.Equal(t, "b00t", e.Boot, "the entry stays as it was")
}

// The remark for a word: of several texts the shortest, once for words of the same text.
func TestTheRemarkForWords(t *testing.T) {
	list := []*reprocess.Entry{{Name: "Ada", Site: "Main building", Act: reprocess.ActMove}}
	rows := []trailRow{{Lines: []string{"Lies now: shelf."}, Who: "Ada"}}
	trailFilter{Words: "shelf MAIN build", Container: "B7"}.foundBy(list, rows)
	require.Equal(t, "Names container B7. Holds “Main building”.", rows[0].Why)
	trailFilter{Words: "ada"}.foundBy(list, rows)
	require.Empty(t, rows[0].Why)
}
