package ledger

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/gowebpki/jcs"
	"github.com/stretchr/testify/require"
)

// The leaf hash was confirmed with sha256sum over a zero byte and the 134 bytes.
func ExampleCanonical() {
	entry := struct {
		Seq    int64  `json:"seq"`
		At     string `json:"at"`
		By     string `json:"by"`
		Act    string `json:"act"`
		Result string `json:"result"`
		Kit    string `json:"kit"`
		KitSeq int64  `json:"kit_seq"`
		Note   string `json:"note"`
	}{1, FormatTime(1795529100000), "p7", "receive", "done", "K-0042", 1, `strap "worn"`}
	body, err := Canonical(entry)
	fmt.Println(string(body[:54]))
	fmt.Println(string(body[54:]), len(body), err)
	fmt.Println(LeafHash(body))
	// Output:
	// {"act":"receive","at":"2026-11-24T14:05:00.000Z","by":
	// "p7","kit":"K-0042","kit_seq":1,"note":"strap \"worn\"","result":"done","seq":1} 134 <nil>
	// a22ce2d3575ad1b1096d21613c819db63c8048d462b143a3b1acef1e0a980e8b
}

// deep gives n nested objects.
func deep(n int) string {
	return strings.Repeat(`{"a":`, n-1) + "{}" + strings.Repeat("}", n-1)
}

// sized gives an entry of exactly n bytes.
func sized(n int) string { return `{"a":"` + strings.Repeat("x", n-8) + `"}` }

// good and bad entry bytes; limits from the profile at the top of the package, the rest from
// RFC 8785 and RFC 7493 (I-JSON). They seed the fuzz test, too.
var goodBytes = []string{
	`{}`, `{"a":{},"b":[]}`, `{"a":[1,-1,0,true,false,null,"",[],{}]}`,
	`{"a":9007199254740991,"b":-9007199254740991}`,
	`{"kit":1,"kit_prev":2,"kit_seq":3}`, `{"0":1,"_":2,"a":3}`,
	`{"a":"\"\\"}`, `{"a":"/<>&"}`, "{\"a\":\"\x7f\"}", "{\"a\":\"\u2028\u2029\"}",
	"{\"a\":\"\u00e9\U0001F600\uFB33\"}", `{"a":"�"}`,
	deep(8), sized(64 << 10), `{"` + strings.Repeat("k", 32) + `":1}`,
}

var badBytes = []struct{ why, b string }{
	{"empty", ``}, {"text at the top", `"a"`}, {"array at the top", `[]`}, {"null", `null`},
	{"space before", ` {}`}, {"space after", `{} `}, {"line end after", "{}\n"},
	{"space inside", `{ }`}, {"space after colon", `{"a": 1}`}, {"space before comma",
		`{"a":1 ,"b":2}`},
	{"byte order mark", "\ufeff{}"}, {"second object", `{}{}`}, {"not closed", `{`},
	{"not closed 2", `{"a":1`}, {"not closed 3", `{"a`}, {"comma at the end", `{"a":1,}`},
	{"comma at the start", `{,"a":1}`}, {"array comma", `{"a":[1,]}`}, {"no value", `{"a":}`},
	{"no colon", `{"a"}`}, {"wrong close", `{"a":[1}}`},
	{"unsorted", `{"b":1,"a":2}`}, {"twice", `{"a":1,"a":2}`}, {"prefix order",
		`{"kit_seq":1,"kit":2}`},
	{"twice deep", `{"a":[{"b":1,"b":1}]}`}, {"no name", `{"":1}`}, {"capital", `{"A":1}`},
	{"hyphen", `{"a-b":1}`}, {"accent", `{"é":1}`}, {"escaped name", `{"\u0061":1}`},
	{"long name", `{"` + strings.Repeat("k", 33) + `":1}`},
	{"fraction", `{"a":1.5}`}, {"whole fraction", `{"a":1.0}`}, {"exponent", `{"a":1e3}`},
	{"capital exponent", `{"a":1E3}`}, {"plus", `{"a":+1}`}, {"leading zero", `{"a":01}`},
	{"minus zero", `{"a":-0}`}, {"minus", `{"a":-}`}, {"minus 01", `{"a":-01}`}, {"NaN", `{"a":NaN}`},
	{"above 2^53-1", `{"a":9007199254740992}`}, {"below", `{"a":-9007199254740992}`},
	{"long number", `{"a":` + strings.Repeat("9", 400) + `}`}, {"hex", `{"a":0x1}`},
	{"tab", "{\"a\":\"\t\"}"}, {"line end", "{\"a\":\"\n\"}"}, {"nul", "{\"a\":\"\x00\"}"},
	{"escaped tab", `{"a":"\t"}`}, {"escaped line end", `{"a":"\n"}`},
	{"escaped solidus", `{"a":"\/"}`},
	{"escaped letter", `{"a":"\u0061"}`}, {"escaped control", `{"a":"\u0000"}`},
	{"lone surrogate", `{"a":"\ud800"}`}, {"surrogate in UTF-8", "{\"a\":\"\xed\xa0\x80\"}"},
	{"escaped pair", `{"a":"\ud83d\ude00"}`}, {"bad UTF-8", "{\"a\":\"\xff\"}"},
	{"overlong", "{\"a\":\"\xc0\xaf\"}"}, {"cut UTF-8", "{\"a\":\"\xe2\x82"},
	{"lone backslash", `{"a":"\`},
	{"true", `{"a":True}`}, {"word", `{"a":nulls}`}, {"short word", `{"a":tru`},
	{"too deep", deep(9)}, {"too deep array", `{"a":[[[[[[[[]]]]]]]]}`},
	{"too long", sized(64<<10 + 1)},
}

func TestCheck(t *testing.T) {
	for _, b := range goodBytes {
		require.NoError(t, Check([]byte(b)), clip(b))
		again, err := jcs.Transform([]byte(b)) // an independent canonicaliser changes nothing
		require.NoError(t, err, clip(b))
		require.Equal(t, b, string(again))
	}
	for _, c := range badBytes {
		err := Check([]byte(c.b))
		require.Error(t, err, c.why)
		require.NotContains(t, err.Error(), "\n", c.why)
	}
}

func TestCheckNamesTheByte(t *testing.T) {
	for b, want := range map[string]string{
		`{"a":1.5}`:                  "byte 6: an entry holds whole numbers only",
		`{"a":1,"a":2}`:              "byte 7: the name a stands twice",
		`{"b":1,"a":2}`:              "byte 7: the name a must stand before b",
		`{"a":"` + "\n\"}":           "byte 6: a text holds no control character",
		`{}x`:                        "byte 2: nothing may follow",
		`{"a":99999999999999999999}`: "byte 5: a number is at most 9007199254740991",
	} {
		require.ErrorContains(t, Check([]byte(b)), want)
	}
}

// profile says the same as Check by another way: encoding/json to a tree, jcs for the order
// and spelling. It guards Check against being too strict or too lax.
func profile(b []byte) bool {
	again, err := jcs.Transform(b)
	if err != nil || string(again) != string(b) || len(b) > 64<<10 || b[0] != '{' {
		return false
	}
	d := json.NewDecoder(strings.NewReader(string(b)))
	d.UseNumber()
	var v any
	return d.Decode(&v) == nil && profileOf(v, 1)
}

func profileOf(v any, depth int) bool {
	switch v := v.(type) {
	case map[string]any:
		for k, m := range v {
			if k == "" || len(k) > 32 || strings.Trim(k, "abcdefghijklmnopqrstuvwxyz0123456789_") != "" ||
				!profileOf(m, depth+1) {
				return false
			}
		}
		return depth <= 8
	case []any:
		for _, m := range v {
			if !profileOf(m, depth+1) {
				return false
			}
		}
		return depth <= 8
	case json.Number:
		n, err := v.Int64()
		return err == nil && n <= 9007199254740991 && n >= -9007199254740991
	case string:
		return !strings.ContainsFunc(v, func(r rune) bool { return r < 0x20 })
	}
	return true
}

func FuzzCheck(f *testing.F) {
	for _, b := range goodBytes {
		f.Add([]byte(b))
	}
	for _, c := range badBytes {
		f.Add([]byte(c.b))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		require.Equal(t, profile(b), Check(b) == nil, "%q: %v", b, Check(b))
	})
}

func TestCanonicalRefusesSilentLoss(t *testing.T) {
	type m = map[string]any
	for why, v := range map[string]any{
		"not UTF-8": m{"a": "x\xffy"}, "surrogate": m{"a": "\xed\xa0\x80"}, "fraction": m{"a": 1.5},
		"2^53": m{"a": int64(1) << 53}, "2^53+1": m{"a": int64(1)<<53 + 1}, "float": m{"a": 1e300},
		"raw fraction":  m{"a": json.RawMessage(`1.0`)},
		"raw exponent":  m{"a": json.RawMessage(`1e2`)},
		"raw rounding":  m{"a": json.RawMessage(`9007199254740991.4`)},
		"raw twice":     m{"a": json.RawMessage(`{"b":1,"b":2}`)},
		"raw surrogate": m{"a": json.RawMessage(`"\ud800"`)},
		"control":       m{"a": "line\nline"}, "nul": m{"a": "\x00"}, "name": m{"Ä": 1},
		"array": []int{1}, "text": "x", "bytes": []byte("{}"), "nil": nil, "func": m{"a": func() {}},
		"infinite": m{"a": math.Inf(1)}, "long": m{"a": strings.Repeat("x", 64<<10)},
	} {
		_, err := Canonical(v)
		require.Error(t, err, why)
	}
}

func TestCanonicalKeepsText(t *testing.T) {
	for _, s := range []string{
		"", `"`, `\`, `\ufffd`, `\\ufffd`, "\ufffd", "<>&", "\u2028", "é", "😀", "1.5e3", "\x7f",
		"a/b",
	} {
		b, err := Canonical(map[string]any{"a": s, "n": -7})
		require.NoError(t, err, "%q", s)
		var back struct{ A string }
		require.NoError(t, json.Unmarshal(b, &back))
		require.Equal(t, s, back.A)
		require.NoError(t, Check(b))
	}
}

// RFC 8785 appendix B, the rows of the numbers, as IEEE 754 bits and text.
// Source: https://www.rfc-editor.org/rfc/rfc8785#appendix-B
func TestNumbersOfRFC8785(t *testing.T) {
	rows := []struct {
		bits uint64
		want string
	}{
		{0x0000000000000000, "0"}, {0x8000000000000000, "0"},
		{0x0000000000000001, "5e-324"}, {0x8000000000000001, "-5e-324"},
		{0x7fefffffffffffff, "1.7976931348623157e+308"},
		{0xffefffffffffffff, "-1.7976931348623157e+308"},
		{0x4340000000000000, "9007199254740992"}, {0xc340000000000000, "-9007199254740992"},
		{0x4430000000000000, "295147905179352830000"}, {0x44b52d02c7e14af5, "9.999999999999997e+22"},
		{0x44b52d02c7e14af6, "1e+23"}, {0x44b52d02c7e14af7, "1.0000000000000001e+23"},
		{0x444b1ae4d6e2ef4e, "999999999999999700000"}, {0x444b1ae4d6e2ef4f, "999999999999999900000"},
		{0x444b1ae4d6e2ef50, "1e+21"}, {0x3eb0c6f7a0b5ed8c, "9.999999999999997e-7"},
		{0x3eb0c6f7a0b5ed8d, "0.000001"}, {0x41b3de4355555553, "333333333.3333332"},
		{0x41b3de4355555554, "333333333.33333325"}, {0x41b3de4355555555, "333333333.3333333"},
		{0x41b3de4355555556, "333333333.3333334"}, {0x41b3de4355555557, "333333333.33333343"},
		{0xbecbf647612f3696, "-0.0000033333333333333333"}, {0x43143ff3c1cb0959, "1424953923781206.2"},
	}
	require.Len(t, rows, 24)
	for _, r := range rows {
		got, err := jcs.NumberToJSON(math.Float64frombits(r.bits))
		require.NoError(t, err)
		require.Equal(t, r.want, got, "%x", r.bits)
		// Check takes of these only what the profile allows: 0.
		require.Equal(t, got == "0", Check([]byte(`{"a":`+got+`}`)) == nil, got)
	}
}

// The sample files of RFC 8785's author (github.com/cyberphone/json-canonicalization,
// testdata, Apache-2.0), input, output and the output's bytes in hex.
func TestSamplesOfRFC8785(t *testing.T) {
	files, err := filepath.Glob("testdata/rfc8785/*.in.json")
	require.NoError(t, err)
	require.Len(t, files, 6)
	for _, name := range files {
		in, err := os.ReadFile(name)
		require.NoError(t, err)
		hexText, err := os.ReadFile(strings.Replace(name, ".in.json", ".hex.txt", 1))
		require.NoError(t, err)
		want, err := hex.DecodeString(strings.Join(strings.Fields(string(hexText)), ""))
		require.NoError(t, err)
		got, err := jcs.Transform(in)
		require.NoError(t, err)
		require.Equal(t, string(want), string(got), name)
		require.Equal(t, profile(got), Check(got) == nil, name)
	}
}

// Names U+FB33 and U+1F600: UTF-16 order puts the second first (RFC 8785 section 3.2.3). Our
// profile refuses both names, so that no two readers can disagree about their order.
func TestOrderOfRFC8785(t *testing.T) {
	got, err := jcs.Transform([]byte("{\"\ufb33\":1,\"\U0001f600\":2}"))
	require.NoError(t, err)
	require.Equal(t, "{\"\U0001f600\":2,\"\ufb33\":1}", string(got))
	require.Error(t, Check(got))
	for in, want := range map[string]string{`"\/"`: "/", `"\u007f"`: "\x7f", `"\u2028"`: "\u2028"} {
		got, err := jcs.Transform([]byte(in)) // section 3.2.2.2
		require.NoError(t, err)
		require.Equal(t, `"`+want+`"`, string(got))
		require.NoError(t, Check([]byte(`{"a":`+string(got)+`}`)))
	}
	for _, in := range []string{`{"a":1,"a":2}`, `"\ud800"`, "\"\t\"", "\ufeff{}"} {
		_, err := jcs.Transform([]byte(in))
		require.Error(t, err, in)
	}
	got, err = jcs.Transform([]byte(`{"a":9007199254740993}`))
	require.NoError(t, err)
	require.Equal(t, `{"a":9007199254740992}`, string(got)) // silent in the RFC, so:
	require.Error(t, Check(got))
}

func benchEntry() any {
	return map[string]any{"act": "clean", "at": "2026-11-24T14:05:00.000Z", "boot": "b-1a2b3c4d",
		"by": "p7", "events": []any{map[string]any{"kind": "step", "data": map[string]any{
			"step": "clean", "product": "S-12", "lot": "L-2209", "strength": "70%v/v"}}},
		"kit": "K-0042", "kit_prev": strings.Repeat("ab", 32), "kit_seq": 12, "name": "Ines Marlow",
		"phone": "ph3", "result": "done", "seq": 123456, "signed": true, "site": "s1"}
}

func BenchmarkCanonical(b *testing.B) {
	e := benchEntry()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Canonical(e); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCheck(b *testing.B) {
	body, err := Canonical(benchEntry())
	require.NoError(b, err)
	b.SetBytes(int64(len(body)))
	b.ReportAllocs()
	for b.Loop() {
		if err := Check(body); err != nil {
			b.Fatal(err)
		}
	}
}
