package ledger

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
)

// zeros is the randomness of test keys; never use a key made so.
type zeros byte

func (z zeros) Read(b []byte) (int, error) {
	for i := range b {
		b[i] = byte(z)
	}
	return len(b), nil
}

func testKey(t testing.TB, seed byte, name string) (Signer, Verifier, string) {
	skey, vkey, err := NewKey(zeros(seed), name)
	require.NoError(t, err)
	s, err := ParseSigner(skey)
	require.NoError(t, err)
	v, err := ParseVerifier(vkey)
	require.NoError(t, err)
	return s, v, vkey
}

const origin = "site/8f3a2c"

func goodCheckpoint() Checkpoint {
	return Checkpoint{Origin: origin, Size: 1234, Root: EmptyRoot, At: 1795529100000, Site: "Ward 3"}
}

func TestCheckpointText(t *testing.T) {
	text, err := FormatCheckpoint(goodCheckpoint())
	require.NoError(t, err)
	require.Equal(t, "site/8f3a2c\n1234\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n"+
		"time 2026-11-24T14:05:00.000Z\nsite Ward 3\n", text)
	back, err := ParseCheckpoint(text)
	require.NoError(t, err)
	require.Equal(t, goodCheckpoint(), back)
	_, err = tlog.ParseTree([]byte(text)) // why there is a parser of our own
	require.EqualError(t, err, "malformed tree note")
}

func TestCheckpointRefuses(t *testing.T) {
	good, err := FormatCheckpoint(goodCheckpoint())
	require.NoError(t, err)
	for _, c := range [][2]string{
		{"site/8f3a2c", ""}, {"site/8f3a2c", "a b"}, {"site/8f3a2c", "a+b"}, {"site/8f3a2c", "a\u00a0b"},
		{"site/8f3a2c", "a\tb"}, {"site/8f3a2c", "a\xff"}, {"site/8f3a2c", strings.Repeat("a", 101)},
		{"1234", "01234"}, {"1234", "-1"}, {"1234", "+1"}, {"1234", ""}, {"1234", "1e3"}, {"1234", " 1"},
		{"1234", "9007199254740992"}, {"1234", "99999999999999999999"},
		{"SuFU=", "SuFV="}, {"SuFU=", "SuFU"}, {"SuFU=", "SuFU=="}, {"47DE", "47D\r"}, {"47DE", ""},
		{"time ", "time  "}, {"time ", "Time "}, {"time ", ""}, {".000Z", "Z"}, {".000Z", ",000Z"},
		{"site W", "place W"}, {"Ward 3", ""}, {"Ward 3", " Ward"}, {"Ward 3", "Ward "},
		{"Ward 3", "W\r"}, {"Ward 3", "W\u202eX"}, {"Ward 3\n", "Ward 3"}, {"Ward 3\n", "Ward 3\n\n"},
		{"Ward 3\n", "Ward 3\nmore\n"}, {"Ward 3\n", "Ward 3\r\n"}, {good, ""}, {good, "\n\n\n\n\n"},
	} {
		bad := strings.Replace(good, c[0], c[1], 1)
		require.NotEqual(t, good, bad)
		_, err := ParseCheckpoint(bad)
		require.Error(t, err, "%q -> %q", c[0], c[1])
	}
	for _, broken := range []func(*Checkpoint){
		func(c *Checkpoint) { c.Size = -1 }, func(c *Checkpoint) { c.Origin = "a\nb" },
		func(c *Checkpoint) { c.Site = "a\nb" }, func(c *Checkpoint) { c.At = math.MaxInt64 / 2 },
		func(c *Checkpoint) { c.At = -62167219200001 }, func(c *Checkpoint) { c.Site = "" },
	} {
		c := goodCheckpoint()
		broken(&c)
		_, err := FormatCheckpoint(c)
		require.Error(t, err, "%+v", c)
	}
}

func FuzzCheckpoint(f *testing.F) {
	good, err := FormatCheckpoint(goodCheckpoint())
	require.NoError(f, err)
	f.Add(good)
	f.Add(strings.Replace(good, "1234", "0", 1))
	f.Add(strings.Replace(good, "Ward 3", "Station Süd", 1))
	f.Add("a\n1\n\ntime \nsite \n")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := ParseCheckpoint(text)
		if err != nil {
			return
		}
		again, err := FormatCheckpoint(c)
		require.NoError(t, err)
		require.Equal(t, text, again)
	})
}

func TestSignedCheckpoint(t *testing.T) {
	s, v, _ := testKey(t, 1, origin)
	msg, err := SignCheckpoint(goodCheckpoint(), s)
	require.NoError(t, err)
	back, err := OpenCheckpoint(msg, v)
	require.NoError(t, err)
	require.Equal(t, goodCheckpoint(), back)
	again, err := SignCheckpoint(goodCheckpoint(), s)
	require.NoError(t, err)
	require.Equal(t, msg, again, "the same checkpoint signs to the same bytes")

	for i := range msg {
		for bit := range 8 {
			bad := bytes.Clone(msg)
			bad[i] ^= 1 << bit
			_, err := OpenCheckpoint(bad, v)
			require.Error(t, err, "byte %d bit %d", i, bit)
		}
		_, err = OpenCheckpoint(msg[:i], v)
		require.Error(t, err, "cut at %d", i)
	}
}

func TestOpenRefuses(t *testing.T) {
	s, v, _ := testKey(t, 1, origin)
	s2, v2, _ := testKey(t, 2, "witness/1")
	s3, v3, _ := testKey(t, 3, origin)
	msg, err := SignCheckpoint(goodCheckpoint(), s)
	require.NoError(t, err)

	both, err := Sign("a text\n", s, s2)
	require.NoError(t, err)
	text, err := Open(both, v, v2)
	require.NoError(t, err)
	require.Equal(t, "a text\n", text)
	_, err = Open(both, v)
	require.ErrorContains(t, err, "by a key that was not given")
	_, err = Open(msg)
	require.ErrorContains(t, err, "by a key that was not given")
	_, err = Open(msg, v3)
	require.ErrorContains(t, err, "by a key that was not given")

	line := msg[bytes.LastIndex(msg, []byte("— ")):]
	for what, bad := range map[string][]byte{
		"line twice": append(bytes.Clone(msg), line...), "no signature": msg[:len(msg)-len(line)],
		"CR in the signature": append(append(bytes.Clone(msg[:len(msg)-3]), '\r'), msg[len(msg)-3:]...),
		"spare bits":          respell(t, msg), "LF more": append(bytes.Clone(msg), '\n'),
		"nothing": nil, "too long": bytes.Repeat([]byte("x"), maxNote+1), "LF": []byte("\n"),
	} {
		_, err := Open(bad, v)
		require.Error(t, err, what)
	}

	_, err = SignCheckpoint(goodCheckpoint(), s2)
	require.ErrorContains(t, err, "the key belongs to")
	other := goodCheckpoint()
	other.Origin = "site/other"
	otherText, err := FormatCheckpoint(other)
	require.NoError(t, err)
	forged, err := Sign(otherText, s3)
	require.NoError(t, err)
	_, err = OpenCheckpoint(forged, v3)
	require.ErrorContains(t, err, "the key belongs to")
	_, err = OpenCheckpoint(both, v)
	require.Error(t, err)
	_, err = Sign("a text\n")
	require.Error(t, err)
	_, err = Sign("no line end", s)
	require.Error(t, err)
	other.Size = -1
	_, err = SignCheckpoint(other, s)
	require.Error(t, err)
}

// respell sets a spare bit in the last base64 digit of a signature: 68 bytes leave two digits
// and one =, so the last digit has two spare bits.
func respell(t *testing.T, msg []byte) []byte {
	const digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"
	at := len(msg) - 3
	require.Equal(t, "=\n", string(msg[at+1:]))
	bad := bytes.Clone(msg)
	bad[at] = digits[strings.IndexByte(digits, msg[at])^1]
	return bad
}

func TestKeys(t *testing.T) {
	skey, vkey, err := NewKey(zeros(7), origin)
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(skey, "PRIVATE+KEY+"+origin+"+"))
	_, err = ParseVerifier(vkey)
	require.NoError(t, err)
	last := vkey[len(vkey)-1]
	for _, bad := range []string{"", "x", skey, vkey + "=", " " + vkey, vkey + "\n", vkey[1:],
		strings.ToUpper(vkey), strings.Replace(vkey, "+", "+0", 1), vkey[:len(vkey)-1] + string(last^1),
		strings.Replace(vkey, vkey[12:20], strings.ToUpper(vkey[12:20]), 1)} {
		if bad == vkey {
			continue
		}
		_, err := ParseVerifier(bad)
		require.Error(t, err, bad)
	}
	for _, bad := range []string{"", vkey, skey[:len(skey)-4], "PRIVATE+KEY+secretive"} {
		_, err := ParseSigner(bad)
		require.Error(t, err)
		require.NotContains(t, err.Error(), "secretive")
	}
	for _, name := range []string{"", "a b", "a+b", "a\n"} {
		_, _, err := NewKey(zeros(7), name)
		require.Error(t, err, "%q", name)
	}
}

// The sample of https://c2sp.org/signed-note: the public specification's own note and key.
func TestSampleOfSignedNote(t *testing.T) {
	const vkey = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
	v, err := ParseVerifier(vkey)
	require.NoError(t, err)
	require.Equal(t, "example.com/foo", v.Name())
	require.EqualValues(t, 0x530d903a, v.KeyHash())
	const msg = "This is an example message.\n\n— example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1" +
		"YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n"
	text, err := Open([]byte(msg), v)
	require.NoError(t, err)
	require.Equal(t, "This is an example message.\n", text)
	_, err = Open([]byte(strings.Replace(msg, "example m", "Example m", 1)), v)
	require.ErrorContains(t, err, "does not match the text")
}

func TestTime(t *testing.T) {
	for ms, s := range map[int64]string{
		0: "1970-01-01T00:00:00.000Z", 1795529100000: "2026-11-24T14:05:00.000Z",
		-1: "1969-12-31T23:59:59.999Z", 951782400001: "2000-02-29T00:00:00.001Z",
		2147483648000:   "2038-01-19T03:14:08.000Z", // one past 32 bits
		253402300799999: "9999-12-31T23:59:59.999Z", -62167219200000: "0000-01-01T00:00:00.000Z",
	} {
		require.Equal(t, s, FormatTime(ms))
		back, err := ParseTime(s)
		require.NoError(t, err)
		require.Equal(t, ms, back)
	}
	// The second and third row: what Go's parser lets pass (RFC 3339 section 5.6 does not).
	for _, s := range []string{"", "2026-08-17T10:11:12,500Z", "2026-08-17T5:11:12.000Z",
		"2026-08-17T10:11:12,5Z", "2026-08-17T10:11:12Z", "2026-08-17T10:11:12.5Z",
		"2026-08-17T10:11:12.0000Z", "2026-08-17t10:11:12.000Z", "2026-08-17T10:11:12.000z",
		"2026-08-17T10:11:12.000+00:00", "2026-08-17 10:11:12.000Z", "2026-02-29T00:00:00.000Z",
		"2026-13-01T00:00:00.000Z", "2026-08-17T24:00:00.000Z", "2026-08-17T10:60:00.000Z",
		"٢٠٢٦-08-17T10:11:12.000Z", FormatTime(253402300800000), FormatTime(-62167219200001)} {
		_, err := ParseTime(s)
		require.Error(t, err, s)
	}
	_, err := ParseTime("2016-12-31T23:59:60.000Z") // RFC 3339 section 5.7 allows it
	require.ErrorContains(t, err, "leap second")
}

func FuzzTime(f *testing.F) {
	for _, s := range []string{"2026-11-24T14:05:00.000Z", "2016-12-31T23:59:60.000Z", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if ms, err := ParseTime(s); err == nil {
			require.Equal(t, s, FormatTime(ms))
		}
	})
}

func TestReadEnvelope(t *testing.T) {
	h := LeafHash(nil)
	e, err := ReadEnvelope([]byte(`{"at":"2026-11-24T14:05:00.000Z","kit":"K1","kit_prev":"` +
		h.String() +
		`","kit_seq":2,"more":{"seq":9},"seq":7}`))
	require.NoError(t, err)
	require.Equal(t, Envelope{Seq: 7, At: 1795529100000, Kit: "K1", KitSeq: 2, KitPrev: &h}, e)
	e, err = ReadEnvelope([]byte(`{"at":"1970-01-01T00:00:00.000Z","seq":1}`))
	require.NoError(t, err)
	require.Equal(t, Envelope{Seq: 1}, e)
	const at = `"at":"1970-01-01T00:00:00.000Z"`
	for _, bad := range []string{`{}`, `{"seq":1}`, `{` + at + `}`,
		`{"at":"1970-01-01T00:00:00Z","seq":1}`,
		`{"at":0,"seq":1}`, `{` + at + `,"seq":0}`, `{` + at + `,"seq":-1}`, `{` + at + `,"seq":"1"}`,
		`{` + at + `,"seq":null}`, `{` + at + `,"kit":"K1","seq":1}`, `{` + at + `,"kit_seq":1,"seq":1}`,
		`{` + at + `,"kit":"K1","kit_seq":2,"seq":1}`, `{` + at + `,"kit":"","kit_seq":1,"seq":1}`,
		`{` + at + `,"kit":"K1","kit_prev":"` + h.String() + `","kit_seq":1,"seq":1}`,
		`{` + at + `,"kit":"K1","kit_prev":"00","kit_seq":2,"seq":1}`,
		`{` + at + `,"kit":"K\\1","kit_seq":1,"seq":1}`, `{` + at + `,"kit":1,"kit_seq":1,"seq":1}`,
		`{` + at + `,"seq":1 }`} {
		_, err := ReadEnvelope([]byte(bad))
		require.Error(t, err, bad)
	}
}
