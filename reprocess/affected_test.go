package reprocess

import (
	"fmt"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func nothingKnown(string) bool { return false }

// readOf gives what a list was understood as: "1200", "1200..1260", or "?" with the fault.
func readOf(t require.TestingT, text string, known func(string) bool) []string {
	items, p := ReadAffected(text, known)
	require.Nil(t, p)
	var all []string
	for _, i := range items {
		switch {
		case i.Fault != "":
			require.Empty(t, i.From)
			all = append(all, "?"+i.Text)
		case i.From == i.To:
			all = append(all, i.From)
		default:
			all = append(all, i.From+".."+i.To)
		}
	}
	return all
}

// Lists as makers write them: common practice. What cannot be read is kept and told.
func TestListsOfAMaker(t *testing.T) {
	for text, want := range map[string][]string{
		"":                         nil,
		" \n ; , \r\n":             nil,
		"1200":                     {"1200"},
		"1200-1260":                {"1200..1260"},
		"1200 - 1260":              {"1200..1260"},
		"1200–1260":                {"1200..1260"},
		"1200 – 1260":              {"1200..1260"},
		"1200..1260":               {"1200..1260"},
		"1200 to 1260":             {"1200..1260"},
		"R-0017-R-0020":            {"R-0017..R-0020"},
		"R-0017..r-0020":           {"R-0017..r-0020"},
		"R-0017":                   {"R-0017"},
		"A1, A2; A3\nA4":           {"A1", "A2", "A3", "A4"},
		"E70-1":                    {"E70-1"},
		"1200\u20111260":           {"1200..1260"},
		"1200\u00a0-\u00a01260":    {"1200..1260"},
		"1260-1200":                {"?1260-1200"},
		"R-17..20":                 {"?R-17..20"},
		"R-17 to S-20":             {"?R-17 to S-20"},
		"1..":                      {"?1.."},
		"serials 1200":             {"?serials 1200"},
		"1-10000":                  {"1..10000"},
		"0-10000":                  {"?0-10000"},
		"1..99999999999999999999":  {"?1..99999999999999999999"},
		"١٢٠٠":                     {"?١٢٠٠"},
		"１２００":                     {"?１２００"},
		"12\u200b00":               {"?12\u200b00"},
		"12²":                      {"?12²"},
		strings.Repeat("9", 80):    {strings.Repeat("9", 80)},
		strings.Repeat("9", 81):    {"?" + strings.Repeat("9", 81)},
		"1200, all of lot, 1300":   {"1200", "?all of lot", "1300"},
		"4-4":                      {"4"},
		"1200-1210, \u0661-\u0662": {"1200..1210", "?\u0661-\u0662"},
		"12-34-56":                 {"12-34-56"},
		"Ä1..Ä9":                   {"Ä1..Ä9"},
		"1200-1260-1300":           {"1200-1260-1300"},
		"ab..cd":                   {"?ab..cd"},
		"the lot 7 (only some)":    {"?the lot 7 (only some)"},
		"1200\t-\t1260":            {"1200..1260"},
		"9223372036854775807..9223372036854775807": {"9223372036854775807"},
	} {
		require.Equal(t, want, readOf(t, text, nothingKnown), "%q", text)
	}
	// What is ours as it stands is one number, and a range too where it reads like one.
	ours := func(s string) bool { return s == "1200-1260" || s == "A,1" || s == "L 6" || s == "9-1" }
	require.Equal(t, []string{"1200-1260", "1200..1260"}, readOf(t, "1200-1260", ours))
	require.Equal(t, []string{"A,1"}, readOf(t, "A,1", ours))
	require.Equal(t, []string{"A", "2"}, readOf(t, "A,2", ours))
	require.Equal(t, []string{"L 6"}, readOf(t, "L 6", ours))
	require.Equal(t, []string{"9-1"}, readOf(t, "9-1", ours))
}

// The record keeps no control characters: what cannot be seen is marked and told, and a kept
// list reads as the typed one did.
func TestKeptLinesReadTheSame(t *testing.T) {
	require.Nil(t, ListLines(" \n\r\n"))
	require.Equal(t, []string{"", "a b", "c\uFFFD"}, ListLines("\r\na\tb\r\nc\x00\n"))
	require.Equal(t, []string{"x\uFFFD"}, ListLines("x\xff"))
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.SampledFrom([]rune("01R-. ,;\n\r\t\x00\x7f\u0085–"))).Draw(t, "text")
		typed, p := ReadAffected(text, nothingKnown)
		require.Nil(t, p)
		kept, p := ReadAffected(strings.Join(ListLines(text), "\n"), nothingKnown)
		require.Nil(t, p)
		require.Equal(t, typed, kept)
		for _, line := range ListLines(text) {
			require.False(t, strings.ContainsFunc(line, unicode.IsControl))
		}
	})
}

func TestListsAreBounded(t *testing.T) {
	_, p := ReadAffected(strings.Repeat("1", 20001), nothingKnown)
	require.Equal(t, "list", p.Rule)
	_, p = ReadAffected(strings.Repeat("1\n", 2001), nothingKnown)
	require.Equal(t, "list", p.Rule)
	items, p := ReadAffected(strings.Repeat("1\n", 2000), nothingKnown)
	require.Nil(t, p)
	require.Len(t, items, 2000)
	require.Equal(t, 2000, items[1999].Line)
}

func TestWhatARangeCovers(t *testing.T) {
	items, p := ReadAffected("R-0017..R-0020\n1200-1260\nA1", nothingKnown)
	require.Nil(t, p)
	for number, want := range map[string]int{"R-0016": -1, "R-0017": 0, "r-0018": 0, "R-0020": 0,
		"R-0021": -1, "R-20": 0, "R-00020": 0, "S-0018": -1, "18": -1, "R-": -1, "": -1, "1199": -1,
		"1200": 1, "1260": 1, "1261": -1, "01230": 1, "A1": 2, "a1": 2, "A01": -1, "A11": -1,
		"12300": -1, "99999999999999999999": -1, "1230x": -1} {
		found := -1
		for i, item := range items {
			if item.Covers(number) {
				require.Equal(t, -1, found)
				found = i
			}
		}
		require.Equal(t, want, found, number)
	}
}

// Nothing that was typed is lost, whatever it is: every letter and figure stands in an item.
func TestNothingOfAListIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.SampledFrom([]rune("01aR-. ,;\n–to١"))).Draw(t, "text")
		items, p := ReadAffected(text, nothingKnown)
		require.Nil(t, p)
		kept := ""
		for _, i := range items {
			kept += i.Text
			require.NotEqual(t, i.Fault == "", i.From == "", "%v", i)
			require.False(t, i.Fault != "" && i.Covers(i.Text))
		}
		bare := func(s string) string {
			return strings.Map(func(r rune) rune {
				if strings.ContainsRune(" ,;\n", r) {
					return -1
				}
				return r
			}, s)
		}
		require.Equal(t, bare(text), bare(kept))
	})
}

// A range finds what a walk over its numbers finds.
func TestARangeIsItsNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.IntRange(0, 500).Draw(t, "low")
		high := low + rapid.IntRange(1, 60).Draw(t, "more")
		items, p := ReadAffected(fmt.Sprintf("R%03d-R%03d", low, high), nothingKnown)
		require.Nil(t, p)
		require.Len(t, items, 1)
		for n := range 600 {
			require.Equal(t, low <= n && n <= high, items[0].Covers(fmt.Sprintf("R%03d", n)))
		}
	})
}

func TestAffectedPiecesAndLots(t *testing.T) {
	c := newClinic(t)
	c.w.Lots["T15"].Number = "L6"
	a, p := FindAffected(c.w, "R-0017, R-0099", "l6\nL9")
	require.Nil(t, p)
	require.Len(t, a.Serials, 2)
	require.Len(t, a.Serials[0].Pieces, 1)
	require.Empty(t, a.Serials[1].Pieces, "what is not ours stands there without a piece")
	require.Equal(t, []string{"T15"}, a.LotIDs())
	a, p = FindAffected(c.w, "R-0001..R-0100; R-0017; P-0017", "")
	require.Nil(t, p)
	require.Len(t, a.Pieces(), 2, "each once")
}

// The signed act: noted, held now or as soon as it comes back, decided by those entitled.
func TestAWarningHoldsWhatItNames(t *testing.T) {
	c := newClinic(t)
	ada, dan, ina := c.actor("ada"), c.actor("dan"), c.actor("ina")
	unsigned := ina
	unsigned.Signed = false
	note := NoteWarning{Ref: "Letter of 20 Nov", Serials: "R-0017", Lots: "L6"}
	c.refused("role", ada, note)
	c.refused("signature", unsigned, note)
	c.refused("empty", ina, NoteWarning{Ref: " ", Serials: "R-0017"})
	c.refused("empty", ina, NoteWarning{Ref: "x", Serials: "all of them", Lots: "some lots"})
	c.refused("list", ina, NoteWarning{Ref: "x", Serials: strings.Repeat("1", 20001)})
	seq := c.do(ina, note).Seq

	c.goodSteps(ada)
	c.do(ada, ReleaseKit{Kit: "K18"})
	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 7})
	hold := HoldAffected{Kit: "K18", Pieces: []string{"P18-1"}, Warning: seq, Ref: note.Ref}
	c.refused("role", dan, hold)
	c.refused("signature", unsigned, hold)
	c.refused("other_kit", ina, HoldAffected{Kit: "K99", Pieces: []string{"P18-1"}, Warning: seq, Ref: "x"})
	c.do(ina, hold)
	require.Equal(t, Issued, c.w.Pieces["P18-1"].State, "it is still with the wearer")
	c.refused("already_done", ina, hold)
	c.do(dan, TakeBack{Kit: "K18"})
	require.Equal(t, Quarantined, c.w.Pieces["P18-1"].State)
	require.Equal(t, Returned, c.w.Pieces["P18-2"].State)
	require.Contains(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Reason, "named in a warning")
	require.True(t, HeldFor(c.w.Pieces["P18-1"], seq))
	require.False(t, HeldFor(c.w.Pieces["P18-1"], seq+1))
	require.False(t, HeldFor(c.w.Pieces["P18-2"], seq))
	other := hold
	other.Warning = seq + 1
	c.do(ina, other)
	require.Len(t, c.w.Pieces["P18-1"].Holds, 2, "two warnings are two holds")
}
