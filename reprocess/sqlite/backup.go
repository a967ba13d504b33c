package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"handback/reprocess"
)

// Backup copies a data folder, also beside a running server, into a new folder: the ledger and
// the wearer links each from one moment, and the files. Keys and pepper go along only when
// secrets is true, because a copy of the ledger should not travel with what signs it. The copy
// is written under another name, checked by recomputing everything, put on the disk and only
// then given its name; an error leaves nothing at out.
func Backup(ctx context.Context, dir, out string, secrets bool) (Report, error) {
	if exists(out) {
		return Report{}, unusable("There is something at "+out+" already.",
			errors.New("a backup never overwrites: choose a new name"))
	}
	temp := out + ".part"
	if err := os.RemoveAll(temp); err != nil {
		return Report{}, unusable("The backup cannot be written.", err)
	}
	r, err := backupTo(ctx, dir, temp, secrets)
	if err == nil {
		err = os.Rename(temp, out)
	}
	if err == nil {
		err = syncFolder(filepath.Dir(out))
	}
	if err != nil {
		os.RemoveAll(temp)
		return r, err
	}
	noteBackup(dir, r)
	return r, nil
}

// backupNote is the file whose age is that of the newest backup. It is not part of a backup.
const backupNote = "last-backup.txt"

// noteBackup leaves the note in the folder that was copied. Whoever may only read that folder
// cannot leave one; the copy is none the worse, and the morning page then says too old an age.
func noteBackup(dir string, r Report) {
	text := fmt.Sprintf("A backup of this folder over %d entries was written and checked.\n",
		r.Entries)
	_ = writeFile(filepath.Join(dir, backupNote), []byte(text))
}

// LastBackup is when the newest backup of this folder was written, by the clock of the machine
// that wrote it; 0 when none is known.
func (s *Store) LastBackup() (reprocess.Instant, error) {
	info, err := os.Stat(s.path(backupNote))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return 0, nil
	case err != nil:
		return 0, storeFault(err)
	}
	return reprocess.InstantOf(info.ModTime()), nil
}

func backupTo(ctx context.Context, dir, temp string, secrets bool) (Report, error) {
	if err := os.MkdirAll(temp, 0o700); err != nil {
		return Report{}, unusable("The backup cannot be written.", err)
	}
	for _, name := range []string{ledgerName, wearersName} {
		if err := copyDatabase(ctx, filepath.Join(dir, name), filepath.Join(temp, name)); err != nil {
			return Report{}, unusable("The file "+name+" cannot be copied.", err)
		}
	}
	folders := []string{filesName}
	if secrets {
		folders = append(folders, secretsName)
	}
	for _, name := range folders {
		if err := copyTree(filepath.Join(dir, name), filepath.Join(temp, name)); err != nil {
			return Report{}, unusable("The folder "+name+" cannot be copied.", err)
		}
	}
	r, err := Verify(ctx, temp, VerifyOptions{Files: true})
	if err == nil && r.Difference != "" {
		err = unusable("The copy does not stand the check: "+r.Difference+".",
			errors.New("verify the folder itself"))
	}
	if err != nil {
		return r, err
	}
	return r, syncFolder(temp)
}

// copyDatabase writes a database as one consistent file. SQLite's own copy is not put on the
// disk by SQLite, so it is synced here.
func copyDatabase(ctx context.Context, from, to string) error {
	more := ""
	if !exists(from + "-wal") {
		more = "&immutable=1"
	}
	db, err := openDB(ctx, from, commonPragmas, "&mode=ro"+more)
	if err != nil {
		return err
	}
	defer db.Close()
	if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, to); err != nil {
		return err
	}
	if err := checkCopy(ctx, to); err != nil {
		return err
	}
	return syncFile(to)
}

// checkCopy asks SQLite whether the copy is whole.
func checkCopy(ctx context.Context, path string) error {
	db, err := openDB(ctx, path, commonPragmas, "&mode=ro&immutable=1")
	if err != nil {
		return err
	}
	defer db.Close()
	var said sql.NullString
	if err := db.QueryRowContext(ctx, `PRAGMA integrity_check`).Scan(&said); err != nil {
		return err
	}
	if said.String != "ok" {
		return errors.New(said.String)
	}
	return os.Chmod(path, 0o600)
}

// copyTree copies a folder of plain files; links and the like are none of ours and left out.
func copyTree(from, to string) error {
	return filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		target := filepath.Join(to, rel)
		switch {
		case d.IsDir():
			return os.MkdirAll(target, 0o700)
		case d.Type().IsRegular():
			return copyFile(path, target)
		}
		return nil
	})
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	if _, err := io.Copy(out, in); err != nil {
		out.Close()
		return err
	}
	if err := out.Sync(); err != nil {
		out.Close()
		return err
	}
	return out.Close()
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	return f.Sync()
}
