package lookback

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func frozenFixture(t *testing.T, asOf string) Frozen {
	t.Helper()
	cycles, loans, q := fixture(t)
	q.AsOf = at(t, asOf)
	return Frozen{Size: 12, Root: "ab12", Keys: []Key{{"lot", "L7"}, {"from", "2027-03-01T09:00:00.000Z"}},
		Unknown: 1, Result: run(t, q, cycles, loans), Facts: []Fact{
			{"cycle", "C5", "K2", "kit 2, recorder D2, cycle 3", "not released", "", "", 0},
			{"piece", "D2", "K2", "kit 2, recorder D2", "issued", "C5", "W5", 0}}}
}

// The bytes are a promise to whoever kept one: they are written out here by hand.
func TestTheBytesOfAFrozenLookBack(t *testing.T) {
	b, err := frozenFixture(t, "03-03 18:00").Bytes()
	require.NoError(t, err)
	require.Equal(t, strings.ReplaceAll(`handback-look-back 1
entries 12 ab12
key lot L7
key from 2027-03-01T09:00:00.000Z
wearers 3 1
cycles C2
cycles C4
cycles C5
exposed W2
exposed W4
exposed W5
recall D2
source W2 W1
source W4 Wx
source W5 Wx
source W5 W4
`, " ", "\t")+"fact\tcycle\tC5\tK2\tkit 2, recorder D2, cycle 3\tnot released\t\t\t0\n"+
		"fact\tpiece\tD2\tK2\tkit 2, recorder D2\tissued\tC5\tW5\t0\n", string(b))
	back, err := ReadFrozen(b)
	require.NoError(t, err)
	require.Equal(t, frozenFixture(t, "03-03 18:00"), back)
	fact, ok := back.Fact("piece", "D2")
	require.True(t, ok)
	require.Equal(t, "issued", fact.State)
	_, ok = back.Fact("loan", "D2")
	require.False(t, ok)
}

// No change of one byte, no line left out, doubled or moved reads as the same answer.
func TestADamagedFrozenLookBackIsSeen(t *testing.T) {
	want := frozenFixture(t, "03-03 18:00")
	good, err := want.Bytes()
	require.NoError(t, err)
	for i := range good {
		bad := bytes.Clone(good)
		bad[i] ^= 1
		if back, err := ReadFrozen(bad); err == nil {
			require.NotEqual(t, want, back, "byte %d", i)
		}
		if back, err := ReadFrozen(good[:i]); err == nil {
			require.NotEqual(t, want, back, "cut at %d", i)
		}
	}
	lines := strings.SplitAfter(string(good), "\n")
	lines = lines[:len(lines)-1]
	for i := range lines {
		twice := strings.Join(lines[:i+1], "") + strings.Join(lines[i:], "")
		_, err := ReadFrozen([]byte(twice))
		require.False(t, err == nil && !strings.HasPrefix(lines[i], "source"), "line %d twice", i+1)
		if i > 0 && !strings.HasPrefix(lines[i], "source") {
			moved := lines[i] + strings.Join(lines[:i], "") + strings.Join(lines[i+1:], "")
			_, err = ReadFrozen([]byte(moved))
			require.Error(t, err, "line %d moved", i+1)
		}
	}
	for _, line := range []string{"entries\tx\tab\n", "wearers\t1\tx\n", "nothing\tC1\n",
		"cycles\n", "fact\tpiece\n", "key\tcolour\tred\n"} {
		_, err := ReadFrozen([]byte(string(good) + line))
		require.Error(t, err, line)
	}
	_, err = Frozen{Root: "a\tb"}.Bytes()
	require.ErrorContains(t, err, "cannot be frozen")
}

func TestFrozenRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringMatching(`[A-Za-z0-9 ,.-]{1,8}`)
		words := rapid.SliceOfN(word, 0, 6)
		f := Frozen{Size: rapid.Int64Range(1, 1e9).Draw(t, "size"), Root: word.Draw(t, "root"),
			Keys:   []Key{{"lot", word.Draw(t, "lot")}},
			Result: Result{Wearers: 2, Sources: map[string][]string{}}}
		for _, l := range f.Result.Lists() {
			*l.IDs = words.Draw(t, l.Name)
		}
		f.Result.tidy()
		if f.Result.Batches = once(f.Result.Batches); len(f.Result.Batches) == 0 {
			f.Result.Batches = nil // as Run leaves it
		}
		for _, id := range f.Result.Exposed {
			f.Result.Sources[id] = append([]string{}, words.Draw(t, "sources")...)
		}
		b, err := f.Bytes()
		require.NoError(t, err)
		back, err := ReadFrozen(b)
		require.NoError(t, err)
		require.Equal(t, f, back)
	})
}

// The worked example at two moments: between them W5 went out and D2 with it.
func TestWhatChangedBetweenTwoMoments(t *testing.T) {
	then, now := frozenFixture(t, "03-03 11:30"), frozenFixture(t, "03-03 18:00")
	require.True(t, Compare(then, then).Same())
	now.Facts[0].State, now.Facts[1].Changes = "released 2027-03-03T11:30:00.000Z", 2
	d := Compare(then, now)
	require.False(t, d.Same())
	require.Equal(t, []string{"W5"}, d.List("exposed").Came)
	require.Equal(t, ListDifference{Name: "recall", Came: []string{"D2"}, Gone: []string{"D1"}},
		d.List("recall"))
	require.Equal(t, []string{"D2"}, d.List("embargo").Gone)
	require.Equal(t, ListDifference{Name: "cycles"}, d.List("cycles"))
	require.Equal(t, [2]int{2, 3}, d.Wearers)
	require.Len(t, d.Changed, 2)
	require.False(t, d.Changed[0].Corrected())
	require.True(t, d.Changed[1].Corrected())
	require.Empty(t, d.Before)

	then.Result.Unresolved, now.Result.Unresolved = []string{"L1", "L2"}, []string{"L2", "L3"}
	d = Compare(then, now)
	require.Equal(t, [2][]string{{"L1", "L2"}, {"L2", "L3"}}, [2][]string{d.Before, d.Now})
	require.Equal(t, ListDifference{"unresolved", []string{"L3"}, []string{"L1"}}, d.List("unresolved"))
}

func TestKeysAsLines(t *testing.T) {
	keys := []Key{{"lot", "E 70"}, {"person", "Ada"}}
	var lines []string
	for _, k := range keys {
		lines = append(lines, k.Line())
	}
	require.Equal(t, []string{"lot E 70", "person Ada"}, lines)
	require.Equal(t, keys, ReadKeys(lines))
}

func TestNamedNamesEverything(t *testing.T) {
	r := frozenFixture(t, "03-03 18:00").Result
	cycles, loans, pieces := r.Named()
	require.Equal(t, []string{"C2", "C4", "C5"}, cycles)
	require.Equal(t, []string{"W1", "W2", "W4", "W5", "Wx"}, loans)
	require.Equal(t, []string{"D2"}, pieces)
}
