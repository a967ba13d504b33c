package labels

import (
	"image"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func textLines(text string) []string {
	var all []string
	for _, line := range strings.Split(text, "\n") {
		if line = strings.Join(strings.Fields(line), " "); line != "" {
			all = append(all, line)
		}
	}
	return all
}

func daysOn(after ...int) []time.Time {
	var all []time.Time
	for _, n := range after {
		all = append(all, day.AddDate(0, 0, n))
	}
	return all
}

func testSlip() Slip {
	return Slip{Kit: "17", Code: one, Contents: []Item{{"Recorder", 1}, {"Phone", 1},
		{"Electrodes", 18}, {"Cells", 2}}, Electrodes: daysOn(3, 6, 9), Battery: daysOn(7),
		BringBack: day.AddDate(0, 0, 14), AskUs: "555 0100, Mon to Fri 8 to 16", CoinCells: true,
		Cycle: "17-0042", Released: day, Until: day.AddDate(0, 0, 14)}
}

func slipText(t *testing.T, s Slip) []string {
	t.Helper()
	pdf, err := SlipPDF([]Slip{s}, A4, testStyle(t), day)
	require.NoError(t, err)
	return textLines(runTool(t, "pdftotext", "-layout", saved(t, "s.pdf", pdf), "-"))
}

// TestSlipWords: what the design puts on a slip, from the top, and nothing else. The weekdays
// are those of the calendar: 24 November 2026 is a Tuesday.
func TestSlipWords(t *testing.T) {
	require.Equal(t, []string{
		"In this bag", "Kit 17",
		"Recorder 1 out back", "Phone 1 out back", "Electrodes 18 out back", "Cells 2 out back",
		"Change the electrodes on", "Fri 27 Nov 2026 Mon 30 Nov 2026", "Thu 3 Dec 2026",
		"Change the battery on", "Tue 1 Dec 2026",
		"Bring everything back by", "Tue 8 Dec 2026",
		"Ask us: 555 0100, Mon to Fri 8 to 16",
		"Keep the small round cells away from children.",
		"If swallowed, call the emergency number at once. Do not wait.",
		"Cycle 17-0042. Released 24 Nov 2026 14:05, until 8 Dec 2026",
		"This paper is not proof. Scan the recorder.",
	}, slipText(t, testSlip()))
}

func TestSlipLeavesOutWhatIsNot(t *testing.T) {
	s := testSlip()
	s.Electrodes, s.Battery, s.CoinCells, s.Cycle = nil, nil, false, ""
	text := strings.Join(slipText(t, s), "\n")
	for _, gone := range []string{"Change", "cells away", "Cycle"} {
		require.NotContains(t, text, gone)
	}
	require.Contains(t, text, "Released 24 Nov 2026 14:05, until 8 Dec 2026")
}

// TestSlipKeepsItsPlace: four on a page, each inside 97 x 131 mm in the middle of its quarter,
// on both papers, with the most that is accepted; the symbol of each reads as a slip.
func TestSlipKeepsItsPlace(t *testing.T) {
	full := testSlip()
	full.CoinCells, full.Electrodes = false, daysOn(1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13)
	full.Contents = append(full.Contents, Item{"Charger", 1})
	style := testStyle(t)
	for _, paper := range []Paper{A4, Letter} {
		pdf, err := SlipPDF([]Slip{testSlip(), full, full, testSlip(), full}, paper, style, day)
		require.NoError(t, err)
		page := raster(t, pdf, 1, 203)
		width, height := paper.Size()
		var symbols []*image.Gray
		for i := range 4 {
			x := width / 2 * Millimetres(i%2)
			y := height / 2 * Millimetres(i/2)
			quarter := bar{x + 0.5, y + 0.5, width/2 - 1, height/2 - 1}
			got := ink(page, quarter, 203)
			require.InDelta(t, float64(x+(width/2-97)/2), float64(got.x), 0.3)
			require.InDelta(t, 97, float64(got.w), 0.4)
			top := y + (height/2-131)/2
			require.GreaterOrEqual(t, float64(got.y), float64(top))
			require.LessOrEqual(t, float64(got.y+got.h), float64(top+131))
			symbols = append(symbols, crop(page, quarter, 203))
		}
		for _, text := range readAll(t, symbols) {
			require.Equal(t, "https://HOST.EXAMPLE/D/7M2N4P6R8S0T2W5YH", text)
			_, kind, err := Read(text)
			require.NoError(t, err)
			require.Equal(t, KindScanned, kind)
		}
		require.Contains(t, runTool(t, "pdfinfo", saved(t, "s.pdf", pdf)), "Pages:           2")
	}
}

func TestSlipRefuses(t *testing.T) {
	for says, change := range map[string]func(*Slip){
		"no kit number":        func(s *Slip) { s.Kit = "" },
		"is no code":           func(s *Slip) { s.Code = "X" },
		"0 rows of contents":   func(s *Slip) { s.Contents = nil },
		"7 rows of contents":   func(s *Slip) { s.Contents = make([]Item, 7) },
		"without a name":       func(s *Slip) { s.Contents[0].Name = "" },
		"without a name or a":  func(s *Slip) { s.Contents[0].Count = 0 },
		"no day to bring":      func(s *Slip) { s.BringBack = time.Time{} },
		"whom to ask":          func(s *Slip) { s.AskUs = "" },
		"is not released":      func(s *Slip) { s.Released = time.Time{} },
		"printed after the":    func(s *Slip) { s.Released = time.Time{} },
		"has no room for so":   func(s *Slip) { s.Electrodes = make([]time.Time, 40) },
		"shorten it":           func(s *Slip) { s.AskUs = strings.Repeat("8 to 16 ", 9) },
		"has room for 38 mm":   func(s *Slip) { s.Contents[0].Name = "Recorder with its parts" },
		"use Latin, Greek or ": func(s *Slip) { s.AskUs = "電話" },
	} {
		s := testSlip()
		change(&s)
		_, err := SlipPDF([]Slip{s}, A4, testStyle(t), day)
		require.ErrorContains(t, err, says)
	}
	_, err := SlipPDF([]Slip{testSlip()}, "A5", testStyle(t), day)
	require.ErrorContains(t, err, "use A4 or Letter")
	_, err = SlipPDF(nil, A4, testStyle(t), day)
	require.ErrorContains(t, err, "at least one")
	_, err = SlipPDF([]Slip{testSlip()}, A4, Style{}, day)
	require.ErrorContains(t, err, "no base address")
}

// TestSlipWordsAreOne: whoever prints a slip otherwise gets the words that are in the file, and
// a symbol of the same address; what the file refuses, the page refuses in the same sentence.
func TestSlipWordsAreOne(t *testing.T) {
	s := testSlip()
	var told []string
	told = append(told, SlipHead, "Kit "+s.Kit)
	for _, c := range s.Changes() {
		told = append(told, c.Heading)
		for _, d := range c.Days {
			told = append(told, SlipDay(d))
		}
	}
	told = append(told, SlipBringBack, SlipDay(s.BringBack))
	told = append(append(told, s.Caution()...), s.ReleasedLine(), SlipNotProof)
	require.Len(t, told, 14)
	text := strings.Join(slipText(t, s), " ")
	for _, words := range told {
		require.Contains(t, text, words)
	}
	modules, err := SlipSymbol(s, testStyle(t))
	require.NoError(t, err)
	want, err := Matrix("HTTPS://HOST.EXAMPLE/D/"+string(one), LevelM)
	require.NoError(t, err)
	require.Len(t, modules, len(want))
	s.AskUs = ""
	_, err = SlipSymbol(s, testStyle(t))
	require.ErrorContains(t, err, "whom to ask")
	require.Empty(t, Slip{}.Changes())
	require.Empty(t, Slip{}.Caution())
}
