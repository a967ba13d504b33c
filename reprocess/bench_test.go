package reprocess

import (
	"testing"
	"time"
)

// BenchmarkDecide measures one decision on a kit in the middle of its cycle, facts loaded.
func BenchmarkDecide(b *testing.B) {
	c := newClinic(b)
	c.toWet()
	cmd := WetNow{Kit: "K18", Container: "B16"}
	actor := c.actor("ada")
	b.ReportAllocs()
	for b.Loop() {
		if _, p := Decide(c.w, cmd, actor, c.now, 99); p != nil {
			b.Fatal(p)
		}
	}
}

// BenchmarkRelease measures the whole gate of a kit of two pieces.
func BenchmarkRelease(b *testing.B) {
	c := newClinic(b)
	c.goodSteps(c.actor("ada"))
	c.wait(time.Minute)
	actor := c.actor("ada")
	b.ReportAllocs()
	for b.Loop() {
		if _, p := Decide(c.w, ReleaseKit{Kit: "K18"}, actor, c.now, 99); p != nil {
			b.Fatal(p)
		}
	}
}
