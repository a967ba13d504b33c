package sqlite

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// history lists the requests of several passes of several kits, a year or so of a small
// clinic, each with its own moment and key.
func (b *bench) history(kits, passes int) []Request {
	b.Helper()
	now := b.clock.now()
	var all []Request
	for range passes {
		var longest time.Duration
		for k := range kits {
			number := fmt.Sprintf("A%d", k)
			kit := fmt.Sprintf("K%d", 10+k)
			at := time.Duration(0)
			for _, s := range b.passOf(kit, fmt.Sprintf("P%d-1", 10+k), number) {
				at += s.after
				moment := reprocess.Now{UTC: now.UTC.Add(at), Boot: "h",
					Mono: now.Mono + at.Milliseconds()}
				b.keys++
				all = append(all, Request{Cmd: s.cmd, Actor: b.boss, Now: &moment,
					Key: fmt.Sprintf("h-%d", b.keys)})
			}
			longest = max(longest, at)
		}
		now.UTC, now.Mono = now.UTC.Add(longest+time.Hour), now.Mono+longest.Milliseconds()+3_600_000
	}
	return all
}

// pool registers kits A0, A1, … so that kit n has id K(10+n).
func (b *bench) pool(kits int) {
	b.Helper()
	var all []Request
	for k := range kits {
		all = append(all, b.request(b.boss, registration(b.recorder, fmt.Sprintf("A%d", k))))
	}
	b.bulk(all)
}

func (b *bench) bulk(all []Request) {
	b.Helper()
	answers, err := b.DoMany(context.Background(), all)
	require.NoError(b, err)
	require.Len(b, answers, len(all))
	for i, a := range answers {
		require.Nil(b, a.Problem, "%d: %T %+v", i, all[i].Cmd, all[i].Cmd)
	}
}

func TestBulkHistory(t *testing.T) {
	b := newBench(t)
	b.pool(20)
	b.bulk(b.history(20, 5))
	r := verified(t, b.Dir())
	require.Equal(t, int64(9+20+20*5*13), r.Entries)
	p, err := Get[reprocess.Piece](context.Background(), b.Store, reprocess.TablePiece, "P10-1")
	require.NoError(t, err)
	require.Equal(t, 5, p.Cycles)
}

// BenchmarkDo is one command with its own durable commit.
func BenchmarkDo(b *testing.B) {
	s := newBench(b)
	kit := s.register("17")
	requests := make([]Request, b.N)
	for i := range requests {
		requests[i] = s.request(s.boss, reprocess.Move{Kit: kit, Place: fmt.Sprint("place ", i%7)})
	}
	b.ResetTimer()
	for i := range requests {
		if _, err := s.Do(context.Background(), requests[i]); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkDoMany is one command of a bulk history: 60 kits, 13 commands a pass.
func BenchmarkDoMany(b *testing.B) {
	s := newBench(b)
	s.pool(60)
	all := s.history(60, b.N/(60*13)+1)[:b.N]
	b.ResetTimer()
	s.bulk(all)
	b.StopTimer()
}

// BenchmarkKitWorld is the read of one kit's page.
func BenchmarkKitWorld(b *testing.B) {
	s := newBench(b)
	s.pool(60)
	s.bulk(s.history(60, 5))
	b.ResetTimer()
	for i := range b.N {
		if _, err := s.KitWorld(context.Background(), fmt.Sprintf("K%d", 10+i%60)); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkOpenKits is the read of the bench list of 60 kits that all wait.
func BenchmarkOpenKits(b *testing.B) {
	s := newBench(b)
	s.pool(60)
	s.bulk(s.history(60, 5))
	b.ResetTimer()
	for range b.N {
		w, err := s.OpenKits(context.Background())
		if err != nil || len(w.Kits) != 60 {
			b.Fatal(err, len(w.Kits))
		}
	}
}

// BenchmarkTimeline is a page of 50 entries of one kit.
func BenchmarkTimeline(b *testing.B) {
	s := newBench(b)
	s.pool(60)
	s.bulk(s.history(60, 5))
	b.ResetTimer()
	for range b.N {
		list, err := s.Timeline(context.Background(), "K10", 0, 50)
		if err != nil || len(list) != 50 {
			b.Fatal(err, len(list))
		}
	}
}

// BenchmarkVerify is the check of 3 969 entries; ns/entry is what grows.
func BenchmarkVerify(b *testing.B) {
	s := newBench(b)
	s.pool(60)
	s.bulk(s.history(60, 5))
	b.ResetTimer()
	for range b.N {
		r := verified(b, s.Dir())
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(r.Entries), "ns/entry")
	}
}
