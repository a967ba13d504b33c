package main

import (
	"context"
	"log/slog"
	"time"

	"handback/reprocess/sqlite"
)

// checkpointEvery is how often a checkpoint is signed while the server runs. The window in
// which a forger with the key could rewrite unseen is what happened since the last one that
// left the machine, so it is kept well under a day.
const checkpointEvery = 6 * time.Hour

// keepCheckpoints signs the ledger now and then until ctx ends. At an unchanged size the
// store gives the note it has, so an idle site collects none.
func keepCheckpoints(ctx context.Context, store *sqlite.Store, log *slog.Logger) {
	every(ctx, checkpointEvery, func() {
		if n, err := store.Size(ctx); err == nil && n > 0 {
			if _, err := store.Checkpoint(ctx); err != nil {
				log.Error("no checkpoint could be signed", "cause", err)
			}
		}
		eraseDue(ctx, store, log)
	})
}

// every does a job at once and then again and again, so far apart, until ctx ends.
func every(ctx context.Context, apart time.Duration, job func()) {
	tick := time.NewTicker(apart)
	defer tick.Stop()
	for {
		job()
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// eraseDue erases the wearer links whose days are over, if the clinic set any.
func eraseDue(ctx context.Context, store *sqlite.Store, log *slog.Logger) {
	n, err := store.EraseDue(ctx)
	if n > 0 {
		log.Info("wearer references were erased, as the clinic set", "links", n)
	}
	if err != nil && ctx.Err() == nil {
		log.Error("wearer references that are due could not be erased", "cause", err)
	}
}
