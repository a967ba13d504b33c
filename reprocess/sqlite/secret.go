package sqlite

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/crypto/argon2"
)

// The cost of one hash, as OWASP ASVS 5.0.0 appendix C asks for argon2id at one pass: 46 MiB.
// A row of the database may ask for no more than the bounds, so that a planted one cannot
// exhaust the machine.
const (
	argonTime    = 1
	argonKiB     = 47104
	argonThreads = 1
	argonSalt    = 16 // bytes
	argonKey     = 32 // bytes

	maxArgonTime = 8
	maxArgonKiB  = 4 * argonKiB
)

// hashings lets at most two hashes run at once, in the whole process: each takes 46 MiB.
var hashings = make(chan struct{}, 2)

// phc is a stored hash with its parameters, spelled as a PHC string:
// $argon2id$v=19$m=47104,t=1,p=1$salt$hash, both in base64 without padding.
type phc struct {
	kib, time uint32
	threads   uint8
	salt, key []byte
}

var phc64 = base64.RawStdEncoding.Strict()

// String spells the hash; parsePHC reads exactly this.
func (p phc) String() string {
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, p.kib, p.time,
		p.threads, phc64.EncodeToString(p.salt), phc64.EncodeToString(p.key))
}

// parsePHC reads a stored hash strictly: one spelling, costs within the bounds.
func parsePHC(s string) (p phc, err error) {
	broken := fmt.Errorf("a stored hash is damaged")
	part := strings.Split(s, "$")
	if len(part) != 6 {
		return p, broken
	}
	_, err = fmt.Sscanf(part[3], "m=%d,t=%d,p=%d", &p.kib, &p.time, &p.threads)
	if err != nil {
		return p, broken
	}
	if p.salt, err = phc64.DecodeString(part[4]); err != nil {
		return p, broken
	}
	if p.key, err = phc64.DecodeString(part[5]); err != nil {
		return p, broken
	}
	if p.String() != s || !p.bounded() {
		return phc{}, broken
	}
	return p, nil
}

func (p phc) bounded() bool {
	return p.time >= 1 && p.time <= maxArgonTime && p.threads >= 1 && p.threads <= 4 &&
		p.kib >= 8*uint32(p.threads) && p.kib <= maxArgonKiB &&
		len(p.salt) >= 8 && len(p.salt) <= 64 && len(p.key) >= 16 && len(p.key) <= 64
}

// matches hashes again and compares in constant time. It waits for its turn.
func (p phc) matches(ctx context.Context, peppered []byte) (bool, error) {
	key, err := p.derive(ctx, peppered)
	return err == nil && subtle.ConstantTimeCompare(key, p.key) == 1, err
}

func (p phc) derive(ctx context.Context, peppered []byte) ([]byte, error) {
	select {
	case hashings <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { <-hashings }()
	n := uint32(len(p.key)) //nolint:gosec // bounded by parsePHC
	if n == 0 {
		n = argonKey
	}
	return argon2.IDKey(peppered, p.salt, p.time, p.kib, p.threads, n), nil
}

// pepper is the 32-byte key kept outside the database and its backups. A six-digit secret has
// only a million values: without the pepper a stolen database says nothing about them. Each
// use of the key has its own label, so that no output serves for another use.
type pepper [32]byte

// mac is HMAC-SHA-256 under the pepper over a label and parts, each ended by a zero byte; no
// part may hold one. 32 bytes.
func (p *pepper) mac(label string, parts ...string) []byte {
	h := hmac.New(sha256.New, p[:])
	h.Write([]byte(label + "\x00"))
	for _, s := range parts {
		h.Write([]byte(s + "\x00"))
	}
	return h.Sum(nil)
}

// hash makes the stored hash of a secret with a new salt; at the full cost, argonKiB, about
// 50 ms of one core.
func (p *pepper) hash(ctx context.Context, kib uint32, secret string) (string, error) {
	h := phc{kib: kib, time: argonTime, threads: argonThreads, salt: random(argonSalt)}
	key, err := h.derive(ctx, p.mac("secret", secret))
	if err != nil {
		return "", err
	}
	h.key = key
	return h.String(), nil
}

// check tells whether a secret is the one of a stored hash.
func (p *pepper) check(ctx context.Context, stored, secret string) (bool, error) {
	h, err := parsePHC(stored)
	if err != nil {
		return false, err
	}
	return h.matches(ctx, p.mac("secret", secret))
}

// hashMAC is what stands in the ledger for a stored hash: it binds the hash to the person, so
// that neither a swapped hash nor another person's signs.
func (p *pepper) hashMAC(person, stored string) string {
	return hex.EncodeToString(p.mac("stored-hash", person, stored))
}

// random gives n bytes of the system's randomness; it never fails (crypto/rand, Go 1.24).
func random(n int) []byte {
	b := make([]byte, n)
	_, _ = rand.Read(b)
	return b
}

// newToken makes a 256-bit random token as 43 letters of base64url.
func newToken() string { return base64.RawURLEncoding.EncodeToString(random(32)) }

// tokenHash is what the database keeps of a token; 256 random bits need no slow hash.
// ok is false when the text cannot be a token at all.
func tokenHash(token string) (hash []byte, ok bool) {
	b, err := base64.RawURLEncoding.Strict().DecodeString(token)
	if err != nil || len(b) != 32 {
		return nil, false
	}
	sum := sha256.Sum256(b)
	return sum[:], true
}

// crockford is the alphabet of one-time codes: no I, L, O, U.
const crockford = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// newLetters makes n random Crockford letters, five bits each.
func newLetters(n int) string {
	b := random(n)
	for i := range b {
		b[i] = crockford[b[i]%32]
	}
	return string(b)
}

// codeLetters is the length of a one-time code: 60 bits.
const codeLetters = 12

// foldCode reads a typed one-time code: any case, spaces and dashes anywhere, O for 0 and
// I or L for 1, as Crockford's base 32 says. ok is false when it cannot be a code.
func foldCode(typed string) (code string, ok bool) {
	if len(typed) > 64 {
		return "", false
	}
	fold := strings.NewReplacer(" ", "", "-", "", "O", "0", "I", "1", "L", "1")
	code = fold.Replace(strings.ToUpper(typed))
	if len(code) != codeLetters {
		return "", false
	}
	for _, r := range code {
		if !strings.ContainsRune(crockford, r) {
			return "", false
		}
	}
	return code, true
}

// showCode groups a code in fours for the eye: 7K2M-9QXA-03BD.
func showCode(code string) string {
	return code[:4] + "-" + code[4:8] + "-" + code[8:]
}

// minutesWords says a wait as a person reads it: rounded up, at least "1 second".
func minutesWords(ms int64) string {
	seconds := max((ms+999)/1000, 1)
	if seconds <= 90 {
		return plural(seconds, "second")
	}
	return plural((seconds+59)/60, "minute")
}

func plural(n int64, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return strconv.FormatInt(n, 10) + " " + word + "s"
}
