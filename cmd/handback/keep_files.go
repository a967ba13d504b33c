package main

import (
	"context"
	"log/slog"
	"time"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// removeEvery is how often recordings and pictures are looked through for those that were kept
// long enough.
const removeEvery = 24 * time.Hour

// removeFiles does so at the start and once a day until ctx ends. The entry stands under the
// console: the rule, not a person, removed them.
func removeFiles(ctx context.Context, store *sqlite.Store, log *slog.Logger) {
	every(ctx, removeEvery, func() {
		n, err := store.RemoveOldFiles(ctx, reprocess.Console())
		switch {
		case err != nil && ctx.Err() == nil:
			log.Error("kept files could not be looked through", "cause", err)
		case n > 0:
			log.Info("files removed by the clinic's rule", "files", n)
		}
	})
}
