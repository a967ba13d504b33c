package sqlite

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"

	"handback/reprocess/ledger"
)

// files hashes every file whose name is a hash, holds what is there against what the entries
// name, and says which no entry names. Others (checkpoints, uploads under way) have nothing to
// be compared with. A damaged file is told before a missing one; among equals the first by
// its hash.
func (c *check) files(dir string) error {
	there, err := c.hashFiles(dir)
	if err != nil {
		return err
	}
	var missing []string
	for name, line := range c.book {
		if !there[name] && !line.Gone() {
			missing = append(missing, name)
		}
	}
	for name := range there {
		if line, named := c.book[name]; !named || line.Gone() {
			c.report.Unnamed = append(c.report.Unnamed, name)
		}
	}
	slices.Sort(c.report.Unnamed)
	if len(missing) == 0 {
		return c.frozenAnswers(dir)
	}
	slices.Sort(missing)
	line := c.book[missing[0]]
	return rowDiffers("files", missing[0], "entry %d names this %s and it is not there%s",
		line.Seq, line.Kind, others(len(missing)))
}

// others says how many more there are than the one that is told.
func others(n int) string {
	if n < 2 {
		return ""
	}
	return fmt.Sprintf("; %d such files in all", n)
}

// hashFiles lists the files there are, each hashed; the damaged ones end it.
func (c *check) hashFiles(dir string) (map[string]bool, error) {
	there := map[string]bool{}
	var damaged []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) && path == dir {
			return filepath.SkipAll // nothing was ever kept
		}
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		name, _, _ := strings.Cut(d.Name(), ".")
		if _, err := ledger.ParseHash(name); err != nil {
			return nil
		}
		sum, err := hashFile(path)
		if err != nil {
			return err
		}
		c.report.Files++
		there[name] = true
		if sum != name {
			damaged = append(damaged, d.Name())
		}
		return nil
	})
	if err == nil && len(damaged) > 0 {
		slices.Sort(damaged)
		err = rowDiffers("files", damaged[0], "its bytes are not the ones it is named by%s",
			others(len(damaged)))
	}
	return there, err
}
