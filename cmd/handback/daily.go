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
	tick := time.NewTicker(checkpointEvery)
	defer tick.Stop()
	for {
		if n, err := store.Size(ctx); err == nil && n > 0 {
			if _, err := store.Checkpoint(ctx); err != nil {
				log.Error("no checkpoint could be signed", "cause", err)
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}
