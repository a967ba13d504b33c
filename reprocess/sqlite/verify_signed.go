package sqlite

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// signedSize is a checkpoint to be met when the tree has its size.
type signedSize struct {
	ledger.Checkpoint
	outside bool // kept elsewhere
}

// readCheckpoints reads the stored checkpoints and the one given.
func (c *check) readCheckpoints() error {
	s, err := c.stream(3, `SELECT size, note, at FROM checkpoint ORDER BY size`)
	if err != nil {
		return err
	}
	defer s.rows.Close()
	for s.row != nil {
		note, _ := s.row[1].(string) // another type reads as an empty, broken note
		cp, err := c.openNote([]byte(note))
		if err != nil {
			return rowDiffers("checkpoint", s.row[0], "%v", err)
		}
		if s.row[0] != cp.Size || s.row[2] != cp.At {
			return rowDiffers("checkpoint", s.row[0], "the note says size %d, time %d", cp.Size, cp.At)
		}
		c.signed = append(c.signed, signedSize{Checkpoint: cp})
		c.report.Checkpoints, c.report.Newest = c.report.Checkpoints+1, cp.Size
		if err := s.next(); err != nil {
			return err
		}
	}
	return c.givenCheckpoint()
}

func (c *check) givenCheckpoint() error {
	if len(c.opts.Checkpoint) == 0 {
		return nil
	}
	cp, err := c.openNote(c.opts.Checkpoint)
	if err != nil {
		return &reprocess.Problem{Code: reprocess.Invalid, Rule: "checkpoint", Err: err,
			Text: "The checkpoint that was given is not one of this ledger: " + err.Error() + ".",
			Fix:  "Give the file as it was kept, and the key that belongs to it."}
	}
	c.signed = append(c.signed, signedSize{cp, true})
	slices.SortStableFunc(c.signed, func(a, b signedSize) int { return int(a.Size - b.Size) })
	return nil
}

// openNote checks a signature where there is a key, and reads the checkpoint.
func (c *check) openNote(note []byte) (ledger.Checkpoint, error) {
	if c.key != nil {
		return ledger.OpenCheckpoint(note, c.key)
	}
	text, _, _ := strings.Cut(string(note), "\n\n")
	return ledger.ParseCheckpoint(text + "\n")
}

// atSize compares the root with every checkpoint of this size.
func (c *check) atSize(size int64) error {
	for len(c.signed) > 0 && c.signed[0].Size <= size {
		cp := c.signed[0]
		c.signed = c.signed[1:]
		if cp.Size == 0 {
			continue
		}
		if cp.Root != c.tree.Root() {
			return entryDiffers(size, "the entries up to here are not the ones that were signed "+
				"for at %s%s", ledger.FormatTime(cp.At), cp.where())
		}
	}
	return nil
}

// afterLast finds checkpoints that cover more entries than there are.
func (c *check) afterLast() error {
	for _, cp := range c.signed {
		if cp.Size > c.tree.Size() {
			return entryDiffers(c.tree.Size()+1, "missing; at %s a ledger of %d entries was signed%s",
				ledger.FormatTime(cp.At), cp.Size, cp.where())
		}
	}
	return nil
}

func (s signedSize) where() string {
	if s.outside {
		return " (checkpoint kept elsewhere)"
	}
	return ""
}

func hashFile(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	_, err = io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), err
}

// storedSecrets holds every stored hash of a secret against the HMAC of it in the entries, where
// the folder has the pepper: a hash that was swapped would let somebody sign as another.
func (c *check) storedSecrets(dir string) error {
	line, err := readLine(filepath.Join(dir, secretsName, pepperFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	key, decodeErr := hex.DecodeString(line)
	if err = errors.Join(err, decodeErr); err != nil || len(key) != len(pepper{}) {
		return errors.Join(err, errors.New("the pepper is not 32 bytes in hex"))
	}
	s, err := c.stream(2, `SELECT person, phc FROM secret ORDER BY person`)
	if err != nil {
		return err
	}
	defer s.rows.Close()
	for s.row != nil {
		who, hash := fmt.Sprint(s.row[0]), fmt.Sprint(s.row[1])
		if (*pepper)(key).hashMAC(who, hash) != c.fold.world.Secrets[who] {
			return rowDiffers("secret", who, "is not the hash that the entries know of")
		}
		if err := s.next(); err != nil {
			return err
		}
	}
	return nil
}
