package main

import (
	"context"
	"fmt"

	"handback/reprocess/sqlite"
)

func backupCommand() command {
	return command{
		name:  "backup",
		usage: "--data DIR --out NEWDIR [--secrets]",
		about: "copy a data folder, also beside a running server, and check the copy",
		run:   runBackup,
	}
}

// runBackup copies into a new folder. To put it back: stop the server, move the copy to the
// place of the data folder, with the secrets from their own copy, and run verify.
func runBackup(ctx context.Context, args []string, s streams) error {
	f := newFlags("backup")
	data := f.String("data", "", "data folder")
	out := f.String("out", "", "new folder for the copy")
	secrets := f.Bool("secrets", false, "copy keys and pepper too")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if err := f.demand("data", "out"); err != nil {
		return err
	}
	r, err := sqlite.Backup(ctx, *data, *out, *secrets)
	if err != nil {
		return failure{fmt.Errorf("backup: %w", err)}
	}
	kept := "without the keys: keep secrets/ in a copy of its own"
	if *secrets {
		kept = "with the keys"
	}
	_, err = fmt.Fprintf(s.out, "%d entries copied to %s and checked, %s\n", r.Entries, *out, kept)
	return err
}
