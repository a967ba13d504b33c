package labels

import (
	"errors"
	"image"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const one Code = "7M2N4P6R8S0T2W5YH"

// longHost gives version 4 at level M.
const longHost = "labels.heart-recorders.the-long-hospital.example"

func printed(t *testing.T, l Label, s Style) string {
	t.Helper()
	pdf, err := LabelPDF(l, s, day)
	require.NoError(t, err)
	return runTool(t, "pdftotext", "-layout", saved(t, "l.pdf", pdf), "-")
}

// TestNothingElseOnALabel: exactly these words, no product name, state or date of cleaning.
func TestNothingElseOnALabel(t *testing.T) {
	code := []string{"7M2N 4P6R", "8S0T 2W5Y", "then H"}
	for _, c := range []struct {
		label Label
		form  Form
		words []string
	}{
		{DeviceLabel{one, "17", "recorder", "Ring 555 0100"}, Wide,
			append([]string{"17 recorder", "Ring 555 0100"}, code...)},
		{DeviceLabel{one, "17", "recorder", "Ring 555 0100"}, Upright,
			append([]string{"17 recorder", "Ring 555 0100"}, code...)},
		{DeviceLabel{one, "17", "recorder", "Ring 555 0100"}, Smallest, code},
		{DeviceLabel{one, "17", "phone", ""}, Wide, append([]string{"17 phone"}, code...)},
		{ContainerLabel{one, day, day.AddDate(0, 0, 28)}, Wide,
			append([]string{"opened", "24 Nov 2026", "use by", "22 Dec 2026"}, code...)},
		{ContainerLabel{Code: one}, Upright, append([]string{"opened", "use by"}, code...)},
		{ContainerLabel{one, day, day}, Smallest, code},
		{BatchLabel{one, day, day.AddDate(0, 0, 7)}, Wide,
			append([]string{"prepared", "24 Nov 2026", "discard at", "1 Dec 2026"}, code...)},
		{BatchLabel{Code: one}, Upright, append([]string{"prepared", "discard at"}, code...)},
		{BatchLabel{one, day, day}, Smallest, code},
		{BlankLabel{one, 12}, Wide, append([]string{"no. 12"}, code...)},
		{BlankLabel{one, 9999}, Smallest, []string{code[0], code[1], "then H no. 9999"}},
	} {
		s := testStyle(t)
		s.Form = c.form
		require.ElementsMatch(t, c.words, textLines(printed(t, c.label, s)))
	}
}

// TestMeasuresOfTheTable measures a printed label against the design's table of rows:
// upper and lower edge of the capitals, within 0.12 mm (round letters overshoot).
func TestMeasuresOfTheTable(t *testing.T) {
	pdf, err := LabelPDF(DeviceLabel{one, "17", "recorder", "RING 555 0100"}, testStyle(t), day)
	require.NoError(t, err)
	const dpi = 600
	page := raster(t, pdf, 1, dpi)
	for name, row := range map[string]struct{ from, to, left, right Millimetres }{
		"pool number":   {2.5, 5.1, 19.5, 24},
		"rule":          {6.3, 6.6, 19.5, 38},
		"first row":     {7.6, 9.6, 19.5, 38},
		"second row":    {11.0, 13.0, 19.5, 38},
		"check letter":  {14.4, 16.4, 25.3, 38},
		"clinic's line": {17.9, 19.4, 19.5, 38},
	} {
		place := bar{row.left, row.from - 0.6, row.right - row.left, row.to - row.from + 1.2}
		got := ink(page, place, dpi)
		require.InDelta(t, float64(row.from), float64(got.y), 0.12, name)
		require.InDelta(t, float64(row.to-row.from), float64(got.h), 0.12, name)
		require.LessOrEqual(t, float64(got.x+got.w), 36.6+0.05, name)
	}
	got := ink(page, bar{0, 0, 19.4, 21.2}, dpi)
	for i, want := range []float64{3.0, 3.35, 14.5, 14.5} {
		require.InDelta(t, want, []float64{float64(got.x), float64(got.y), float64(got.w),
			float64(got.h)}[i], 0.1)
	}
}

// TestQuietZone: four modules of white on all sides of the symbol (ISO/IEC 18004), on every
// form and kind of label.
func TestQuietZone(t *testing.T) {
	for _, form := range Forms() {
		for _, dpi := range []DPI{0, 203, 300, 600} {
			for _, l := range mixedLabels([]Code{one, one, one, one}) {
				s := testStyle(t)
				s.Form, s.DPI = form, dpi
				d, err := drawLabel(l, s)
				require.NoError(t, err)
				q := d.symbol.module * quiet
				side := d.symbol.module*Millimetres(len(d.symbol.matrix)) + 2*q
				zone := bar{d.symbol.x - q, d.symbol.y - q, side, side}
				require.GreaterOrEqual(t, float64(zone.x), 0.0)
				require.GreaterOrEqual(t, float64(zone.y), 0.0)
				for _, b := range d.bars {
					require.False(t, overlap(zone, b), "%s %d dpi %T", form, dpi, l)
				}
				for _, w := range d.words {
					require.False(t, overlap(zone, bar{w.x, w.baseline - w.cap, 1, w.cap}),
						"%s %d dpi %T %q", form, dpi, l, w.text)
				}
			}
		}
	}
}

// overlap says whether two places share more than 0.2 mm, what a box grows by for whole dots.
func overlap(a, b bar) bool {
	const grow = 0.2
	return a.x+a.w-grow > b.x && b.x+b.w-grow > a.x && a.y+a.h-grow > b.y && b.y+b.h-grow > a.y
}

// TestTextStaysInside: everything that is accepted lies inside the label, measured in ink.
func TestTextStaysInside(t *testing.T) {
	for _, form := range Forms() {
		for _, l := range mixedLabels([]Code{one, one, one, one}) {
			s := testStyle(t)
			s.Form = form
			pdf, err := LabelPDF(l, s, day)
			require.NoError(t, err)
			page := raster(t, pdf, 1, 300)
			w, h := form.Size()
			got := ink(page, bar{0, 0, w, h}, 300)
			_, container := l.(ContainerLabel)
			require.GreaterOrEqual(t, float64(got.x), 0.9)
			require.LessOrEqual(t, float64(got.x+got.w), float64(w)-0.9)
			require.LessOrEqual(t, float64(got.y+got.h), float64(h)-0.4)
			if !container {
				require.GreaterOrEqual(t, float64(got.y), 0.9)
			}
		}
	}
}

func TestTextTooLongIsRefused(t *testing.T) {
	s := testStyle(t)
	for _, c := range []struct{ number, piece, clinic, says string }{
		{"17", "recorder", "Ring 555 01000", `the clinic's line "Ring 555 01000" is`},
		{"17", "recorder", "Ring 555 0100", ""},
		{"1234", "recorder", "", ""},
		{"12345", "recorder", "", ""},
		{"123456", "recorder", "", `the pool number "123456" is`},
		{"1234", "phone", "", ""},
		{"123456", "phone", "", ""},
		{"1234567", "phone", "", "the pool number"},
		{"1", "a recorder of great length", "", "shorten it"},
		{"17", "recorder", "中文", "use Latin, Greek or Cyrillic letters"},
		{"17", "Rekorder", "Ψ Ж ü ß", ""},
	} {
		_, err := LabelPDF(DeviceLabel{one, c.number, c.piece, c.clinic}, s, day)
		if c.says == "" {
			require.NoError(t, err, c)
			continue
		}
		require.ErrorContains(t, err, c.says, "%v", c)
	}
	_, err := Blanks(MostNumber, []Code{one, one})
	require.ErrorContains(t, err, "numbered 1 to 9999")
	_, err = Blanks(0, []Code{one})
	require.ErrorContains(t, err, "numbered 1 to 9999")
	_, err = Blanks(1, nil)
	require.ErrorContains(t, err, "at least one")
}

// TestRollReads: a roll of blanks on every form, one a page, numbered on; each page reads.
func TestRollReads(t *testing.T) {
	codes := testCodes(6)
	blanks, err := Blanks(9994, codes)
	require.NoError(t, err)
	for _, form := range Forms() {
		s := testStyle(t)
		s.Form = form
		pdf, err := RollPDF(blanks, s, day)
		require.NoError(t, err)
		var pages []*image.Gray
		for i := range codes {
			pages = append(pages, raster(t, pdf, i+1, 203))
		}
		for i, text := range readAll(t, pages) {
			require.Equal(t, s.Base.Address(codes[i]), text)
		}
	}
}

// TestFits: modules as in the table of sizes that whole dots allow.
func TestFits(t *testing.T) {
	for _, c := range []struct {
		host  string
		level Level
		dpi   DPI
		want  Fit
	}{
		{"host.example", LevelM, 0, Fit{3, 0.5, 14.5, 18.5, false}},
		{"host.example", LevelQ, 0, Fit{3, 0.5, 14.5, 18.5, false}},
		{"host.example", LevelM, 203, Fit{3, 0.5, 14.5, 18.5, false}},
		{"host.example", LevelM, 300, Fit{3, 0.508, 14.7, 18.8, false}},
		{"host.example", LevelM, 600, Fit{3, 0.508, 14.7, 18.8, false}},
		{"host.example", LevelL, 203, Fit{2, 0.5, 12.5, 16.5, false}},
		{longHost, LevelM, 0, Fit{4, 0.451, 14.9, 18.5, true}},
		{longHost, LevelM, 203, Fit{4, 0.375, 12.4, 15.4, true}},
	} {
		base, err := ParseBase("https://"+c.host, false)
		require.NoError(t, err)
		got, err := Style{Base: base, Level: c.level, DPI: c.dpi}.Fit()
		require.NoError(t, err)
		require.Equal(t, c.want.Version, got.Version)
		require.Equal(t, c.want.Small, got.Small)
		require.InDelta(t, float64(c.want.Module), float64(got.Module), 0.001)
		require.InDelta(t, float64(c.want.Symbol), float64(got.Symbol), 0.06)
		require.InDelta(t, float64(c.want.Box), float64(got.Box), 0.06)
	}
	base, err := ParseBase("https://department-of-heart."+longHost, false)
	require.NoError(t, err)
	_, err = Style{Base: base}.Fit()
	require.ErrorContains(t, err, "use a shorter host name")
	_, err = Style{}.Fit()
	require.ErrorContains(t, err, "no base address")
}

// TestFitIsTheWorst: no code needs a larger symbol than what Fit said at set-up.
func TestFitIsTheWorst(t *testing.T) {
	codes := testCodes(40)
	for n := 4; n <= 60; n += 7 {
		base, err := ParseBase("https://"+strings.Repeat("a", n)+".example", false)
		require.NoError(t, err)
		for _, level := range []Level{LevelL, LevelM, LevelQ} {
			fit, _ := Style{Base: base, Level: level}.Fit()
			require.NotZero(t, fit.Version)
			for _, c := range codes {
				require.LessOrEqual(t, versionOf(t, base.Address(c), level), fit.Version)
			}
		}
	}
}

// TestLevelsByBox: Q from a box of 18 mm on, H from a symbol of 15 mm on.
func TestLevelsByBox(t *testing.T) {
	_, err := fitBox(29, LevelQ, 18, 0)
	require.NoError(t, err)
	_, err = fitBox(29, LevelQ, 17.9, 0)
	require.ErrorContains(t, err, "use level M")
	_, err = fitBox(33, LevelH, 18.7, 0) // symbol 15.05
	require.NoError(t, err)
	_, err = fitBox(33, LevelH, 18.5, 0) // symbol 14.89
	require.ErrorContains(t, err, "use level M")
}

// TestLeastModule: under 0.375 mm even insisting does not help.
func TestLeastModule(t *testing.T) {
	_, err := fitBox(29, LevelM, 37*0.375, 0)
	require.NoError(t, err)
	_, err = fitBox(29, LevelM, 37*0.374, 0)
	require.ErrorContains(t, err, "nothing reads less than 0.375 mm")
}

// TestInsisting: modules under 0.50 mm are refused until the person insists; then it prints.
func TestInsisting(t *testing.T) {
	base, err := ParseBase("https://"+longHost, false)
	require.NoError(t, err)
	s := Style{Base: base}
	_, err = LabelPDF(BlankLabel{one, 1}, s, day)
	var small *SmallModule
	require.True(t, errors.As(err, &small))
	require.InDelta(t, 18.5/41, float64(small.Fit.Module), 1e-9)
	require.ErrorContains(t, err, "0.451 mm and should be 0.5 mm")
	s.AcceptSmall = true
	pdf, err := LabelPDF(BlankLabel{one, 1}, s, day)
	require.NoError(t, err)
	require.Equal(t, []string{base.Address(one)}, readAll(t, []*image.Gray{raster(t, pdf, 1, 300)}))
}

// TestContainerDiffers: the bar on top, 1.2 mm thick, is on containers only.
func TestContainerDiffers(t *testing.T) {
	for _, form := range Forms() {
		s := testStyle(t)
		s.Form = form
		w, _ := form.Size()
		for _, l := range []Label{ContainerLabel{one, day, time.Time{}}, BatchLabel{one, day, day},
			DeviceLabel{one, "1", "phone", ""}} {
			pdf, err := LabelPDF(l, s, day)
			require.NoError(t, err)
			got := ink(raster(t, pdf, 1, 600), bar{0, 0, w, 1.9}, 600)

			if dated(l) {
				require.InDelta(t, 1.2, float64(got.h), 0.05)
				require.Greater(t, float64(got.w), float64(w)-3)
			} else {
				require.Zero(t, got)
			}
		}
	}
}
