package ledger

import (
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// maxNote bounds the text of a signed note; a checkpoint has about 300 bytes.
const maxNote = 64 << 10

// Signer signs notes; made by ParseSigner.
type Signer = note.Signer

// Verifier checks notes; made by ParseVerifier.
type Verifier = note.Verifier

// NewKey makes an Ed25519 key from 32 random bytes. skey is secret; vkey is for everybody and
// belongs on paper, outside the machine. Both are one line without LF:
//
//	PRIVATE+KEY+name+hash+base64        name+hash+base64
//
// where hash is the first four bytes of SHA-256(name LF 0x01 key) in hex.
func NewKey(random io.Reader, name string) (skey, vkey string, err error) {
	if err := CheckOrigin(name); err != nil {
		return "", "", err
	}
	return note.GenerateKey(random, name)
}

// ParseSigner reads a secret key as NewKey prints it. No error shows any part of it.
func ParseSigner(skey string) (Signer, error) {
	s, err := note.NewSigner(skey)
	if err != nil {
		return nil, errors.New("this is not a signing key as this program writes it")
	}
	return s, nil
}

// ParseVerifier reads a public key as NewKey prints it, in its one spelling. (The package
// underneath would let a base64 digit carry spare bits and the hash be in capitals.)
func ParseVerifier(vkey string) (Verifier, error) {
	v, err := note.NewVerifier(vkey)
	parts := strings.SplitN(vkey, "+", 3)
	if err != nil || len(parts) != 3 || CheckOrigin(parts[0]) != nil {
		return nil, fmt.Errorf("%q is not a public key like name+1a2b3c4d+A…", clip(vkey))
	}
	key, _ := base64.StdEncoding.DecodeString(parts[2])
	same := fmt.Sprintf("%s+%08x+%s", v.Name(), v.KeyHash(), base64.StdEncoding.EncodeToString(key))
	if same != vkey {
		return nil, fmt.Errorf("the public key %q is not in its one spelling", clip(vkey))
	}
	return v, nil
}

// Sign signs a text that ends with LF. The same text and keys give the same bytes.
func Sign(text string, signers ...Signer) ([]byte, error) {
	if len(signers) == 0 {
		return nil, errors.New("there is no key to sign with")
	}
	b, err := note.Sign(&note.Note{Text: text}, signers...)
	if err != nil {
		return nil, fmt.Errorf("the text cannot be signed: %w", err)
	}
	return b, nil
}

// Open checks a signed note and answers its text. Every signature line must be by one of the
// given keys and must verify, no key twice, and the whole must print back to the same bytes.
func Open(msg []byte, keys ...Verifier) (string, error) {
	if len(msg) > maxNote {
		return "", fmt.Errorf("a signed note has at most %d bytes, this has %d", maxNote, len(msg))
	}
	n, err := note.Open(msg, note.VerifierList(keys...))
	var unknown *note.UnverifiedNoteError
	var wrong *note.InvalidSignatureError
	switch {
	case errors.As(err, &wrong):
		return "", fmt.Errorf("the signature of %s does not match the text", clip(wrong.Name))
	case errors.As(err, &unknown) || err == nil && len(n.UnverifiedSigs) > 0:
		return "", errors.New("a signature is by a key that was not given")
	case err != nil:
		return "", errors.New("this is not a signed note: text, an empty line, signature lines")
	case printNote(n) != string(msg):
		return "", errors.New("a signature line is not in its one spelling")
	}
	return n.Text, nil
}

// printNote prints an opened note from its decoded signatures.
func printNote(n *note.Note) string {
	var b strings.Builder
	b.WriteString(n.Text + "\n")
	for _, s := range n.Sigs {
		raw, _ := base64.StdEncoding.DecodeString(s.Base64)
		b.WriteString("— " + s.Name + " " + base64.StdEncoding.EncodeToString(raw) + "\n")
	}
	return b.String()
}

// SignCheckpoint prints and signs; the signer must carry the origin's name.
func SignCheckpoint(c Checkpoint, s Signer) ([]byte, error) {
	text, err := FormatCheckpoint(c)
	if err != nil {
		return nil, err
	}
	if s.Name() != c.Origin {
		return nil, errOrigin(c.Origin, s.Name())
	}
	return Sign(text, s)
}

// OpenCheckpoint checks a signed checkpoint and reads it; the key must carry the origin's name.
func OpenCheckpoint(msg []byte, v Verifier) (Checkpoint, error) {
	text, err := Open(msg, v)
	if err != nil {
		return Checkpoint{}, err
	}
	c, err := ParseCheckpoint(text)
	if err == nil && c.Origin != v.Name() {
		err = errOrigin(c.Origin, v.Name())
	}
	return c, err
}

func errOrigin(origin, name string) error {
	return errors.New("the checkpoint is for " + strconv.Quote(clip(origin)) +
		" but the key belongs to " + strconv.Quote(clip(name)))
}
