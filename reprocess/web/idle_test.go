package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// A wet time keeps its person's session alive until ten minutes past its need; nobody
// else's, not an ended cycle's, not one that was undone. (Our own choice of ten minutes.)
func TestARunningWetTimeIsWork(t *testing.T) {
	mark := func(s int64) reprocess.Mark {
		return reprocess.Mark{At: reprocess.Instant(1_790_000_000_000 + s*1000), Boot: "b", Mono: s * 1000}
	}
	now := func(s int64) reprocess.Now {
		return reprocess.Now{UTC: mark(s).At, Boot: "b", Mono: s * 1000}
	}
	world := func(change func(*reprocess.Cycle)) *reprocess.World {
		w := reprocess.NewWorld()
		c := &reprocess.Cycle{ID: "C1", Records: []reprocess.Record{{Seq: 1, Mark: mark(0), By: "S2",
			Kind: reprocess.RecWetNow, NeededS: 300, Product: "p", Container: "c"}}}
		change(c)
		w.Cycles["C1"] = c
		return w
	}
	same := func(*reprocess.Cycle) {}
	require.True(t, waitsForWet(world(same), "S2", now(300+600)))
	require.False(t, waitsForWet(world(same), "S2", now(300+601)))
	require.False(t, waitsForWet(world(same), "S3", now(60)), "somebody else's")
	require.False(t, waitsForWet(reprocess.NewWorld(), "S2", now(60)))
	for name, change := range map[string]func(*reprocess.Cycle){
		"ended":  func(c *reprocess.Cycle) { c.Ended = mark(10).At },
		"undone": func(c *reprocess.Cycle) { c.Records[0].Undone = true },
		"dry": func(c *reprocess.Cycle) {
			c.Records = append(c.Records, reprocess.Record{Seq: 2, Mark: mark(10), By: "S2",
				Kind: reprocess.RecSeenDry})
		},
	} {
		require.False(t, waitsForWet(world(change), "S2", now(60)), name)
	}
}

// Ten minutes without anything end a session on the bench (our floor; the clinic can set it).
func TestIdleSessionsEnd(t *testing.T) {
	s := newSite(t)
	b := s.setUp()
	s.clock.step(10*time.Minute - time.Second)
	b.get("/")
	require.Equal(t, http.StatusOK, b.status)
	s.clock.step(10 * time.Minute)
	b.get("/")
	require.Equal(t, http.StatusSeeOther, b.status)
	require.Empty(t, b.cookie(cookieSession))
	b.signIn("ada", bossSecret)
	b.get("/")
	require.Equal(t, http.StatusOK, b.status)
}
