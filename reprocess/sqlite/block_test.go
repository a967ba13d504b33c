package sqlite

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// textsOf is the independent reading of an entry's texts: by the standard library.
func textsOf(t testing.TB, body []byte) []string {
	t.Helper()
	var top map[string]any
	require.NoError(t, json.Unmarshal(body, &top))
	for _, own := range []string{"boot", "key", "kit_prev"} {
		delete(top, own)
	}
	var all []string
	var walk func(v any)
	walk = func(v any) {
		switch v := v.(type) {
		case string:
			all = append(all, strings.Map(unicode.ToLower, v))
		case []any:
			for _, x := range v {
				walk(x)
			}
		case map[string]any:
			for _, x := range v {
				walk(x)
			}
		}
	}
	walk(top)
	slices.Sort(all)
	return all
}

func readTexts(body []byte) []string {
	var all []string
	eachText(body, func(text []byte) bool { all = append(all, string(text)); return true })
	slices.Sort(all)
	return all
}

// Every text of the kept history, which has every kind of event, and of entries made up to be
// awkward, is read as the standard library reads it.
func TestTextsAreThoseOfTheStandardLibrary(t *testing.T) {
	for i, body := range historyBodies(t) {
		require.Equal(t, textsOf(t, body), readTexts(body), i)
	}
	for _, body := range []string{`{}`, `{"a":""}`, `{"a":[],"b":{"key":"deep"}}`,
		`{"a":"say \"key\":","key":"K","b":"after"}`, `{"a":"\\","b":"\\\"","c":"ÄÖÜ ẞ Σ"}`,
		`{"a":["x",["boot",{"boot":"y"}]],"boot":"z"}`, `{"boot":7,"a":"b"}`,
		`{"a":"\u00c4\ud83d\ude00\n\/"}`, `{"a":{"kit_prev":"b"}}`} {
		require.Equal(t, textsOf(t, []byte(body)), readTexts([]byte(body)), body)
	}
}

// FuzzTexts: canonical bytes with any texts read alike, and no bytes at all make it fall over.
func FuzzTexts(f *testing.F) {
	f.Add("K-17/4", `a "quoted" \ text`, []byte(`{"a":"\ud83d`))
	f.Add("Ä", "\u2028\t", []byte(`"\`))
	f.Fuzz(func(t *testing.T, a, b string, junk []byte) {
		readTexts(junk)
		body, err := ledger.Canonical(map[string]any{"a": a, "key": b,
			"c": []any{b, map[string]any{"boot": a, "d": 1}}})
		if err != nil {
			return // no text that an entry can have
		}
		require.Equal(t, textsOf(t, body), readTexts(body))
	})
}

// longTrail makes a store of n entries with all sorts of texts in them, some out of the order of
// time, as after a clock was put right.
func longTrail(t testing.TB, n int) (*bench, []string) {
	b := newBench(t)
	kit, other := b.register("17"), b.register("18")
	b.work(kit, b.pieceOf(kit), "17")
	size, err := b.Size(context.Background())
	require.NoError(t, err)
	places := []string{"shelf K-17/4", "Schrank Ü, 50%", `drawer "B" \ left`, "Øst_1", "rack 0815",
		"window", "cellar, xq"}
	for i := int(size); i < n; i++ {
		at := b.clock.now()
		if i%40 == 7 {
			at.UTC = at.UTC.Add(-3 * time.Hour)
		}
		b.clock.pass(time.Minute)
		r := b.request(b.boss, reprocess.Move{Kit: []string{kit, other}[i%2],
			Place: fmt.Sprintf("%s %d", places[i/50%len(places)], i%3)})
		r.Now = &at
		_, err := b.Do(context.Background(), r)
		require.NoError(t, err)
	}
	return b, []string{kit, other}
}

// reading is every entry with its texts, the newest first, read without any index.
type reading []struct {
	*reprocess.Entry
	texts []string
}

func walkOf(t testing.TB, b *bench) reading {
	t.Helper()
	size, err := b.Size(context.Background())
	require.NoError(t, err)
	all := make(reading, size)
	for i := range all {
		seq := size - int64(i)
		all[i].Entry, err = b.Entry(context.Background(), seq)
		require.NoError(t, err)
		body, err := b.Body(context.Background(), seq)
		require.NoError(t, err)
		all[i].texts = textsOf(t, body)
	}
	return all
}

// of lists the numbers of the entries of a filter.
func (w reading) of(f Filter) (all []int64) {
	for _, e := range w {
		ok := (f.Kit == "" || e.Kit == f.Kit) && (f.Site == "" || e.Site == f.Site) &&
			e.At >= f.From && (f.To == 0 || e.At < f.To)
		for _, word := range f.Words {
			word = strings.Map(unicode.ToLower, word)
			ok = ok && slices.ContainsFunc(e.texts, func(x string) bool {
				return strings.Contains(x, word)
			})
		}
		if ok {
			all = append(all, e.Seq)
		}
	}
	return all
}

// TestTheIndexHidesNothing: whatever is looked for, in whatever combination and on whatever
// page, the answer is that of a walk over all entries; at sizes around the ends of blocks.
func TestTheIndexHidesNothing(t *testing.T) {
	ctx := context.Background()
	for _, n := range []int{blockLength - 1, blockLength, blockLength + 1, 2 * blockLength,
		5*blockLength + 9} {
		b, kits := longTrail(t, n)
		whole := walkOf(t, b)
		var texts []string
		for _, e := range whole {
			texts = append(texts, e.texts...)
		}
		first, err := b.Entry(ctx, 1)
		require.NoError(t, err)
		rapid.Check(t, func(t *rapid.T) {
			f := Filter{Kit: rapid.SampledFrom([]string{"", kits[0], kits[1]}).Draw(t, "kit"),
				Site: rapid.SampledFrom([]string{"", first.Site, "elsewhere"}).Draw(t, "site")}
			for range rapid.IntRange(0, 2).Draw(t, "words") {
				f.Words = append(f.Words, someWord(t, texts))
			}
			if rapid.Bool().Draw(t, "timed") {
				minutes := rapid.Int64Range(-200, int64(n)).Draw(t, "from")
				f.From = first.At + reprocess.Instant(60_000*minutes)
				f.To = f.From + reprocess.Instant(60_000*rapid.Int64Range(0, 90).Draw(t, "length"))
			}
			agrees(t, b, f, whole.of(f))
		})
	}
}

// someWord is a piece of a text that is there, in other capitals, or one that is nowhere.
func someWord(t *rapid.T, texts []string) string {
	text := []rune(rapid.SampledFrom(texts).Draw(t, "text"))
	if len(text) == 0 {
		return "zebra"
	}
	from := rapid.IntRange(0, len(text)-1).Draw(t, "begin")
	to := rapid.IntRange(from+1, min(len(text), from+9)).Draw(t, "end")
	word := strings.ReplaceAll(string(text[from:to]), "\n", "")
	if rapid.Bool().Draw(t, "capitals") {
		word = strings.ToUpper(word)
		if strings.Map(unicode.ToLower, word) != string(text[from:to]) {
			word = string(text[from:to]) // ß and its like have no one capital
		}
	}
	return word
}

func agrees(t require.TestingT, b *bench, f Filter, want []int64) {
	ctx := context.Background()
	var got []int64
	for before := int64(0); ; {
		page, err := b.Entries(ctx, f, before, 7)
		require.NoError(t, err)
		for _, e := range page {
			got = append(got, e.Seq)
		}
		if len(page) < 7 {
			break
		}
		before = page[6].Seq
	}
	require.Equal(t, want, got, "%+v", f)
	n, err := b.Count(ctx, f)
	require.NoError(t, err)
	require.Equal(t, int64(len(want)), n, "%+v", f)
	n, err = b.CountTo(ctx, f, 3)
	require.NoError(t, err)
	require.Equal(t, min(int64(len(want)), 4), n, "%+v", f)
	size, err := b.Size(ctx)
	require.NoError(t, err)
	numbers, err := b.Numbers(ctx, f, size)
	require.NoError(t, err)
	slices.Reverse(numbers)
	require.Equal(t, want, numbers, "%+v", f)
}

// What people type: lots and numbers with signs in them, umlauts in either case, two letters, a
// part of a word.
func TestWordsAsPeopleTypeThem(t *testing.T) {
	b, _ := longTrail(t, 5*blockLength+9)
	whole := walkOf(t, b)
	for _, word := range []string{"K-17/4", "k-17/4", "17/4", "ü", "SCHRANK", "schränk", "øst_1",
		"ØST_1", `"b"`, `\`, "50%", "xq", "0815", "815", "win", "indow", "zebra", "_"} {
		f := Filter{Words: []string{word}}
		want := whole.of(f)
		require.Equal(t, strings.ContainsAny(word, "ä") || word == "zebra", len(want) == 0, word)
		agrees(t, b, f, want)
	}
	require.Empty(t, whole.of(Filter{Words: []string{"boot"}}), "no names of members")
}

// TestTheIndexReadsLittle: a word that is in one block only has one range beside the end.
func TestTheIndexReadsLittle(t *testing.T) {
	b, _ := longTrail(t, 6*blockLength+9)
	ranges := func(f Filter) (n int64, all []run) {
		require.NoError(t, b.runs(context.Background(), f, 0, func(r run) (bool, error) {
			n, all = n+r.last-r.first+1, append(all, r)
			return true, nil
		}))
		return n, all
	}
	n, all := ranges(Filter{Words: []string{"zebra"}})
	require.Equal(t, int64(9), n, "the entries behind the last block: %v", all)
	n, all = ranges(Filter{Words: []string{"booklet"}})
	require.Equal(t, int64(blockLength+9), n, all)
	n, all = ranges(Filter{Site: "nowhere at all"})
	require.Equal(t, int64(9), n, all)
	first, err := b.Entry(context.Background(), 5)
	require.NoError(t, err)
	n, all = ranges(Filter{From: first.At, To: first.At + 1})
	require.Equal(t, int64(blockLength+9), n, all)
	n, all = ranges(Filter{})
	require.Equal(t, int64(6*blockLength+9), n, all)
}

// TestADamagedIndexIsNamed: a bit that is gone would hide an entry, so verify recomputes every
// row; a row that is gone hides nothing.
func TestADamagedIndexIsNamed(t *testing.T) {
	b, _ := longTrail(t, 3*blockLength+5)
	dir := b.Dir()
	f := Filter{Words: []string{"K-17/4"}}
	want := walkOf(t, b).of(f)
	require.NotEmpty(t, want)
	require.NoError(t, b.Close())
	verified(t, dir)
	for _, x := range []struct{ query, want string }{
		{`UPDATE entry_block SET bits = zeroblob(1984) WHERE block = 1`,
			"table entry_block, row 1: is not what its entries say"},
		{`UPDATE entry_block SET bits = x'00' WHERE block = 1`,
			"table entry_block, row 1: is not what its entries say"},
		{`UPDATE entry_block SET last_at = last_at - 1 WHERE block = 0`,
			"table entry_block, row 0: is not what its entries say"},
		{`UPDATE entry_block SET first_at = first_at + 1 WHERE block = 2`,
			"table entry_block, row 2: is not what its entries say"},
		{`UPDATE entry_block SET block = 3 WHERE block = 2`,
			"table entry_block, row 2: missing"},
		{`UPDATE entry_block SET block = -1 WHERE block = 0`,
			"table entry_block, row -1: follows from no entry"},
		{`INSERT INTO entry_block SELECT 9, first_at, last_at, bits FROM entry_block LIMIT 1`,
			"table entry_block, row 9: follows from no entry"},
	} {
		tamper(t, dir, func(db *sql.DB) {
			_, err := db.Exec(`CREATE TABLE kept AS SELECT * FROM entry_block`)
			require.NoError(t, err)
			mustExec(t, db, x.query)
		})
		r := differsBut(t, dir)
		require.Equal(t, x.want, r)
		tamper(t, dir, func(db *sql.DB) {
			mustExec(t, db, `DELETE FROM entry_block`)
			mustExec(t, db, `INSERT INTO entry_block SELECT * FROM kept`)
			_, err := db.Exec(`DROP TABLE kept`)
			require.NoError(t, err)
		})
		verified(t, dir)
	}
	tamper(t, dir, func(db *sql.DB) { mustExec(t, db, `DELETE FROM entry_block WHERE block = 0`) })
	again := reopened(t, b)
	agrees(t, again, f, want)
	require.NoError(t, again.Close())
	require.Equal(t, "table entry_block, row 0: missing", differsBut(t, dir))
	tamper(t, dir, func(db *sql.DB) { mustExec(t, db, `UPDATE fold SET version = 0`) })
	require.NoError(t, reopened(t, b).Close())
	verified(t, dir) // folding anew makes it anew
}

func differsBut(t testing.TB, dir string) string {
	t.Helper()
	r, err := Verify(context.Background(), dir, VerifyOptions{})
	require.NoError(t, err)
	return r.Difference
}

func reopened(t testing.TB, b *bench) *bench {
	t.Helper()
	s, err := Open(b.Dir(), Options{Clock: b.clock.now})
	require.NoError(t, err)
	return &bench{TB: t, Store: s, clock: b.clock}
}

// TestAFolderFromBeforeTheIndex gets it at its next start; verify before that says what to do
// and calls nothing damaged.
func TestAFolderFromBeforeTheIndex(t *testing.T) {
	b, _ := longTrail(t, 2*blockLength+5)
	dir := b.Dir()
	var want string
	row := `SELECT group_concat(block || ' ' || first_at || ' ' || last_at || ' ' || hex(bits), ';')
		FROM entry_block`
	require.NoError(t, b.read.QueryRow(row).Scan(&want))
	require.Equal(t, 1, strings.Count(want, ";"))
	require.NoError(t, b.Close())
	beforeStep(t, dir, "entry_block")
	_, err := Verify(context.Background(), dir, VerifyOptions{})
	p := reprocess.AsProblem(err)
	require.Equal(t, "fold", p.Rule)
	require.Equal(t, "Start it once, or verify with that version.", p.Fix)
	again := reopened(t, b)
	var got string
	require.NoError(t, again.read.QueryRow(row).Scan(&got))
	require.Equal(t, want, got)
	require.NoError(t, again.Close())
	verified(t, dir)
}

// TestTheSieveKeepsItsBits: which bit a piece sets is part of every folder that exists. To
// change it takes a schema step that empties the table.
func TestTheSieveKeepsItsBits(t *testing.T) {
	var b block
	for _, body := range historyBodies(t)[:blockLength] {
		b.add(1, body)
	}
	sum := sha256.Sum256(b.bits[:])
	require.Equal(t, "3abee10fb3fb082d87b69ac49c7b4cb7522d0e6ef202a0bc98c50bb1bad0fc8c",
		hex.EncodeToString(sum[:]))
	require.True(t, mayHold(b.bits[:], bitsOf([][]byte{[]byte("rosa quint")})))
	require.False(t, mayHold(b.bits[:], bitsOf([][]byte{[]byte("zebra")})))
	require.True(t, mayHold(b.bits[:7], bitsOf([][]byte{[]byte("zebra")})), "not ours: read all")
	require.Empty(t, bitsOf([][]byte{[]byte("z")}))
	require.True(t, mayHold(make([]byte, blockBytes), nil))
}

// No reference of a wearer enters the index: what it knows comes from the entries' bytes.
func TestTheIndexKnowsNoReference(t *testing.T) {
	b, kits := longTrail(t, blockLength-9)
	b.lent(t, kits[1], "QZX-WJYV-8842")
	for i := 0; i < 2*blockLength; i++ {
		b.must(b.boss, reprocess.Move{Kit: kits[0], Place: fmt.Sprint("drawer ", i)})
	}
	rows, err := b.read.Query(`SELECT bits FROM entry_block`)
	require.NoError(t, err)
	defer rows.Close()
	n := 0
	for ; rows.Next(); n++ {
		var bits []byte
		require.NoError(t, rows.Scan(&bits))
		require.False(t, mayHold(bits, bitsOf([][]byte{[]byte("qzx-wjyv-8842")})))
		require.True(t, mayHold(bits, bitsOf([][]byte{bytes.ToLower([]byte("drawer"))})) || n == 0)
	}
	require.NoError(t, rows.Err())
	require.Positive(t, n)
}

// BenchmarkBlock is what the index costs for each entry, reading and writing apart.
func BenchmarkBlock(b *testing.B) {
	bodies := historyBodies(b)
	for i := 0; b.Loop(); i++ {
		var x block
		for _, body := range bodies[:blockLength] {
			x.add(1, body)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/blockLength, "ns/entry")
}
