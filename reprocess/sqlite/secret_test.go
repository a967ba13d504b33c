package sqlite

import (
	"context"
	"encoding/hex"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Check values of the argon2 reference implementation (P-H-C/phc-winner-argon2, test.c,
// version 0x13, argon2id), from memory; recomputed by this library.
func TestPHCAgreesWithTheReferenceImplementation(t *testing.T) {
	for _, c := range []struct{ password, stored string }{
		{"password", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$" +
			"CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"},
		{"password", "$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$" +
			"nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4"},
		{"differentpassword", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$" +
			"C4TWUs9rDEvq7w3+J4umqA32aWKB1+DSiRuBfYxFj94"},
	} {
		p, err := parsePHC(c.stored)
		require.NoError(t, err)
		require.Equal(t, c.stored, p.String())
		ok, err := p.matches(context.Background(), []byte(c.password))
		require.NoError(t, err)
		require.True(t, ok, c.stored)
		ok, err = p.matches(context.Background(), []byte(c.password+"x"))
		require.NoError(t, err)
		require.False(t, ok)
	}
}

func TestParsePHCRefusesEveryOtherSpelling(t *testing.T) {
	const good = "$argon2id$v=19$m=47104,t=1,p=1$c29tZXNhbHRzb21lc2FsdA$" +
		"CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"
	_, err := parsePHC(good)
	require.NoError(t, err)
	for name, bad := range map[string]string{
		"empty":        "",
		"other kind":   strings.Replace(good, "argon2id", "argon2i", 1),
		"old version":  strings.Replace(good, "v=19", "v=16", 1),
		"spaces":       strings.Replace(good, "t=1", "t= 1", 1),
		"leading zero": strings.Replace(good, "t=1", "t=01", 1),
		"sign":         strings.Replace(good, "t=1", "t=+1", 1),
		"tail":         good + "$",
		"no passes":    strings.Replace(good, "t=1", "t=0", 1),
		"many passes":  strings.Replace(good, "t=1", "t=9", 1),
		"much memory":  strings.Replace(good, "m=47104", "m=188417", 1),
		"little":       strings.Replace(good, "m=47104", "m=7", 1),
		"no lanes":     strings.Replace(good, "p=1", "p=0", 1),
		"order":        strings.Replace(good, "m=47104,t=1", "t=1,m=47104", 1),
		"padding":      good + "=",
		"no salt":      strings.Replace(good, "c29tZXNhbHRzb21lc2FsdA", "", 1),
		"loose bits":   strings.Replace(good, "GRPPc", "GRPPd", 1),
		"short key":    strings.Replace(good, "CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc", "CTFh", 1),
	} {
		_, err := parsePHC(bad)
		require.Error(t, err, name)
	}
}

// RFC 4231 test case 6 and 7 use a longer key; our key is 32 bytes, so the check is against
// `printf 'secret\000482915\000' | openssl dgst -sha256 -mac HMAC -macopt hexkey:000102…1f`.
func TestMACAgreesWithOpenSSL(t *testing.T) {
	var p pepper
	for i := range p {
		p[i] = byte(i)
	}
	require.Equal(t, "b896e09f54d51864b92d5fac31ceb6dad86310bfa0a693a34359811a0a365cc5",
		hex.EncodeToString(p.mac("secret", "482915")))
}

func TestHashAndCheck(t *testing.T) {
	ctx := context.Background()
	var p, other pepper
	other[0] = 1
	a, err := p.hash(ctx, argonKiB, "482915")
	require.NoError(t, err)
	b, err := p.hash(ctx, argonKiB, "482915")
	require.NoError(t, err)
	require.NotEqual(t, a, b, "each hash has its own salt")
	require.True(t, strings.HasPrefix(a, "$argon2id$v=19$m=47104,t=1,p=1$"))
	for _, c := range []struct {
		pepper *pepper
		secret string
		ok     bool
	}{{&p, "482915", true}, {&p, "482916", false}, {&p, "482915 ", false}, {&p, "", false},
		{&other, "482915", false}} {
		ok, err := c.pepper.check(ctx, a, c.secret)
		require.NoError(t, err)
		require.Equal(t, c.ok, ok)
	}
	_, err = p.check(ctx, a[1:], "482915")
	require.Error(t, err)
}

func TestHashMACBindsHashPersonAndPepper(t *testing.T) {
	var p, other pepper
	other[31] = 1
	mac := p.hashMAC("S1", "hash")
	require.Len(t, mac, 64)
	require.Equal(t, mac, p.hashMAC("S1", "hash"))
	require.NotEqual(t, mac, p.hashMAC("S2", "hash"))
	require.NotEqual(t, mac, p.hashMAC("S1", "hasi"))
	require.NotEqual(t, mac, p.hashMAC("S1h", "ash"))
	require.NotEqual(t, mac, other.hashMAC("S1", "hash"))
}

// No more than two hashes at once: with both places taken a third waits until its caller
// gives up.
func TestHashingsAreCounted(t *testing.T) {
	require.Equal(t, 2, cap(hashings))
	hashings <- struct{}{}
	hashings <- struct{}{}
	defer func() { <-hashings; <-hashings }()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := new(pepper).hash(ctx, argonKiB, "482915")
	require.ErrorIs(t, err, context.Canceled)
}

func TestTokens(t *testing.T) {
	a, b := newToken(), newToken()
	require.Len(t, a, 43)
	require.NotEqual(t, a, b)
	h, ok := tokenHash(a)
	require.True(t, ok)
	require.Len(t, h, 32)
	for _, bad := range []string{"", a[1:], a + "A", a + "=", strings.Repeat("+", 43), a[:42] + "\n"} {
		_, ok := tokenHash(bad)
		require.False(t, ok, bad)
	}
}

// The folding is that of Crockford's base 32 (crockford.com/base32.html).
func TestFoldCode(t *testing.T) {
	for typed, want := range map[string]string{
		"7K2M-9QXA-03BD":    "7K2M9QXA03BD",
		"7k2m9qxa03bd":      "7K2M9QXA03BD",
		" 7K2M 9QXA o3bd ":  "7K2M9QXA03BD",
		"ILO1-0000-0000":    "110100000000",
		"7-K-2-M9QXA-03B-D": "7K2M9QXA03BD",
	} {
		got, ok := foldCode(typed)
		require.True(t, ok, typed)
		require.Equal(t, want, got)
	}
	for _, bad := range []string{"", "7K2M-9QXA-03B", "7K2M-9QXA-03BDE", "7K2M-9QXA-03BU",
		"7K2M-9QXA-03B?", "7K2M-9QXA-03Bé", strings.Repeat("-", 100) + "7K2M9QXA03BD"} {
		_, ok := foldCode(bad)
		require.False(t, ok, bad)
	}
	for range 50 {
		code := newLetters(codeLetters)
		got, ok := foldCode(showCode(code))
		require.True(t, ok)
		require.Equal(t, code, got)
	}
}

func TestWaitWords(t *testing.T) {
	for ms, want := range map[int64]string{0: "1 second", 1: "1 second", 1000: "1 second",
		1001: "2 seconds", 30_000: "30 seconds", 90_000: "90 seconds", 90_001: "2 minutes",
		120_000: "2 minutes", 120_001: "3 minutes", 3_600_000: "60 minutes"} {
		require.Equal(t, want, minutesWords(ms), ms)
	}
}
