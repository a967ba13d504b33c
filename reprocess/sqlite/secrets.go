package sqlite

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"handback/reprocess/ledger"
)

// secrets are the files of DIR/secrets, read once. Each is one line, mode 0600.
type secrets struct {
	pepper []byte // 32 bytes, mixed into every stored hash and HMAC
	origin string // name of this ledger in checkpoints, never changed
	signer ledger.Signer
	vkey   string
}

// The files in DIR/secrets.
const (
	pepperFile = "pepper" // hex
	originFile = "origin" // such as site/1a2b3c4d5e6f
	keyFile    = "signing-key"
	vkeyFile   = "public-key" // no secret, kept here so that it travels with the other
	signedFile = "signed"     // newest checkpoint ever signed: the ledger may never be shorter
)

// openSecrets reads the secrets and makes them in a new folder. A ledger with entries whose
// secrets are gone is refused: new ones would disown everything signed before.
func (s *Store) openSecrets(ctx context.Context) error {
	var n int64
	err := s.read.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM entry`).Scan(&n)
	if err != nil {
		return err
	}
	for _, load := range []func(bool) error{s.loadPepper, s.loadOrigin, s.loadKey} {
		if err := load(n == 0); err != nil {
			return unusable("A file in the folder of secrets is missing or cannot be read; "+
				"restore it from its own backup.", err)
		}
	}
	return nil
}

func (s *Store) loadPepper(fresh bool) error {
	line, err := s.secretLine(pepperFile, fresh, func() (string, error) {
		b, err := s.random(32)
		return hex.EncodeToString(b), err
	})
	if err != nil {
		return err
	}
	s.secrets.pepper, err = hex.DecodeString(line)
	if err == nil && len(s.secrets.pepper) != 32 {
		err = errors.New("the pepper is not 32 bytes in hex")
	}
	return err
}

func (s *Store) loadOrigin(fresh bool) (err error) {
	s.secrets.origin, err = s.secretLine(originFile, fresh, func() (string, error) {
		b, err := s.random(6)
		return "site/" + hex.EncodeToString(b), err
	})
	if err == nil {
		err = ledger.CheckOrigin(s.secrets.origin)
	}
	return err
}

// loadKey makes both halves at once; the public half is written last, so a pair without it
// was never used and is made again.
func (s *Store) loadKey(fresh bool) error {
	_, err := os.Stat(s.path(secretsName, vkeyFile))
	if fresh && errors.Is(err, fs.ErrNotExist) {
		skey, vkey, err := ledger.NewKey(s.opts.Random, s.secrets.origin)
		if err != nil {
			return err
		}
		if err := writeFile(s.path(secretsName, keyFile), []byte(skey+"\n")); err != nil {
			return err
		}
		if err := writeFile(s.path(secretsName, vkeyFile), []byte(vkey+"\n")); err != nil {
			return err
		}
	}
	skey, err := readLine(s.path(secretsName, keyFile))
	if err != nil {
		return err
	}
	if s.secrets.signer, err = ledger.ParseSigner(skey); err != nil {
		return err
	}
	s.secrets.vkey, err = readLine(s.path(secretsName, vkeyFile))
	return err
}

// secretLine reads one secret; in a fresh folder a missing one is made.
func (s *Store) secretLine(name string, fresh bool, make func() (string, error)) (string, error) {
	path := s.path(secretsName, name)
	line, err := readLine(path)
	if !fresh || !errors.Is(err, fs.ErrNotExist) {
		return line, err
	}
	if line, err = make(); err != nil {
		return "", err
	}
	return line, writeFile(path, []byte(line+"\n"))
}

func (s *Store) random(n int) ([]byte, error) {
	b := make([]byte, n)
	_, err := io.ReadFull(s.opts.Random, b)
	return b, err
}

func readLine(path string) (string, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return "", err
	}
	line, ok := strings.CutSuffix(string(b), "\n")
	if !ok || line == "" || strings.Contains(line, "\n") {
		return "", fmt.Errorf("%s is not one line", filepath.Base(path))
	}
	return line, nil
}

// writeFile puts a whole file in place or none: temporary name, sync, rename, sync the folder.
func writeFile(path string, content []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".new-*") // mode 0600
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // after the rename there is nothing left to remove
	_, err = f.Write(content)
	err = errors.Join(err, f.Sync(), f.Close())
	if err != nil {
		return err
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(path))
}

func syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
