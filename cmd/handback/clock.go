package main

import (
	"crypto/rand"
	"time"

	"handback/reprocess"
)

// systemClock is the one place where the machine's clock is read. Every start of the program
// is a new boot with its own monotonic milliseconds, so that setting the clock forward never
// lengthens a contact time.
func systemClock() func() reprocess.Now {
	boot, started := rand.Text(), time.Now()
	return func() reprocess.Now {
		now := time.Now()
		return reprocess.Now{UTC: reprocess.InstantOf(now), Boot: boot,
			Mono: now.Sub(started).Milliseconds()}
	}
}
