package sqlite

import (
	"errors"
	"os"
	"syscall"

	"handback/reprocess"
)

// lockFile takes the folder for writing. The lock belongs to the open file, so it goes when
// the process ends, however it ends; the file itself stays.
func lockFile(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, unusable("The data folder cannot be written.", err)
	}
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if err == nil {
		return f, nil
	}
	f.Close()
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return nil, &reprocess.Problem{Code: reprocess.Unavailable, Rule: "locked", Err: err,
			Text: "Another server is using this data folder.",
			Fix:  "Stop it first, or give another folder with --data."}
	}
	return nil, unusable("The data folder cannot be locked.", err)
}
