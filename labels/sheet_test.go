package labels

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// cells cuts a page into its labels, each by the nominal place of its cell.
func cells(img *image.Gray, s Sheet, from, n int, dpi float64) []*image.Gray {
	all := make([]*image.Gray, n)
	for i := range all {
		x, y := s.Cell(from + i)
		all[i] = crop(img, bar{x, y, s.Width, s.Height}, dpi)
	}
	return all
}

// TestEveryCellReads prints each preset full, rasterises it at one bit, and reads every cell
// alone with zbar, which shares no code with the encoder.
func TestEveryCellReads(t *testing.T) {
	for i, sheet := range Presets() {
		codes := testCodes(sheet.Columns * sheet.Rows)
		style := testStyle(t)
		for _, dpi := range []float64{203, 300} {
			if i > 2 && dpi > 203 {
				continue // the coarser is the harder; one A4 and one Letter do both
			}
			pdf, err := SheetPDF(mixedLabels(codes), Job{Sheet: sheet, Style: style, Date: day})
			require.NoError(t, err, sheet.Name)
			texts := readAll(t, cells(raster(t, pdf, 1, dpi), sheet, 0, len(codes), dpi))
			for i, text := range texts {
				require.Equal(t, style.Base.Address(codes[i]), text,
					"%s, %g dpi, cell %d", sheet.Name, dpi, i+1)
			}
		}
	}
}

// TestAlignedCellsRead: the printer's dots are known, so modules have whole dots.
func TestAlignedCellsRead(t *testing.T) {
	sheet, style := Presets()[0], testStyle(t)
	codes := testCodes(65)
	for _, dpi := range []DPI{203, 300, 600} {
		style.DPI = dpi
		pdf, err := SheetPDF(mixedLabels(codes), Job{Sheet: sheet, Style: style, Date: day})
		require.NoError(t, err)
		page := raster(t, pdf, 1, float64(dpi))
		for i, text := range readAll(t, cells(page, sheet, 0, 65, float64(dpi))) {
			require.Equal(t, style.Base.Address(codes[i]), text, "%d dpi, cell %d", dpi, i+1)
		}
	}
}

// TestPrintedTooSmall is for information: a print dialog that scales to 97 %. What is read
// must be the cell's own code; how many are read is only told.
func TestPrintedTooSmall(t *testing.T) {
	sheet, style := Presets()[0], testStyle(t)
	codes := testCodes(65)
	pdf, err := SheetPDF(mixedLabels(codes), Job{Sheet: sheet, Style: style, Date: day})
	require.NoError(t, err)
	for _, dpi := range []float64{203, 300} {
		read := 0
		page := raster(t, pdf, 1, 0.97*dpi) // fewer dots for the same length
		for i, text := range readAll(t, cells(page, sheet, 0, 65, 0.97*dpi)) {
			if text != "" {
				require.Equal(t, style.Base.Address(codes[i]), text)
				read++
			}
		}
		t.Logf("at 97 %%, %g dpi: %d of 65 read", dpi, read)
		require.Positive(t, read)
	}
}

// TestReaderCanFail: a symbol of which a finder pattern is painted over must not be read, or
// the tests above prove nothing.
func TestReaderCanFail(t *testing.T) {
	sheet, style := Presets()[0], testStyle(t)
	pdf, err := SheetPDF(mixedLabels(testCodes(2)), Job{Sheet: sheet, Style: style, Date: day})
	require.NoError(t, err)
	page := raster(t, pdf, 1, 300)
	x, y := sheet.Cell(0)
	hole := crop(page, bar{x + 2, y + 2, 9, 9}, 300)
	draw.Draw(page, hole.Rect, image.NewUniform(color.White), image.Point{}, draw.Src)
	texts := readAll(t, cells(page, sheet, 0, 3, 300))
	require.Empty(t, texts[0])
	require.NotEmpty(t, texts[1])
	require.Empty(t, texts[2]) // a cell without label
}

// TestCheckRuleIsTrue: 100 mm within 0.2 mm, on both papers and under a correction.
func TestCheckRuleIsTrue(t *testing.T) {
	for _, c := range []struct {
		sheet int
		fix   Correction
		want  float64
	}{
		{0, Correction{}, 100}, {3, Correction{}, 100},
		{0, Correction{X: 2, Y: -1, ScaleX: 1.02, ScaleY: 0.99}, 102},
	} {
		sheet := Presets()[c.sheet]
		pdf, err := SheetPDF(mixedLabels(testCodes(1)),
			Job{Sheet: sheet, Style: testStyle(t), Date: day, Correction: c.fix})
		require.NoError(t, err)
		page := raster(t, pdf, 1, 300)
		require.InDelta(t, c.want, longestRun(page, 9)*25.4/300, 0.2)
	}
}

// longestRun is the longest row of black dots in the uppermost millimetres.
func longestRun(img *image.Gray, millimetres float64) float64 {
	longest := 0
	for y := range int(millimetres * 300 / 25.4) {
		n := 0
		for x := range img.Rect.Dx() {
			if img.GrayAt(x, y).Y == 0 {
				n++
				longest = max(longest, n)
			} else {
				n = 0
			}
		}
	}
	return float64(longest)
}

// TestPlacesAreTrue measures first and last symbol of the 65 sheet: from the cell's corner
// 3.0 and 3.35 mm, side 14.5 mm, within a quarter of a millimetre; with a correction the
// last one moves as the arithmetic says.
func TestPlacesAreTrue(t *testing.T) {
	sheet := Presets()[0]
	for _, fix := range []Correction{{}, {X: 1.5, Y: 0.8, ScaleX: 0.99, ScaleY: 1.01}} {
		pdf, err := SheetPDF(mixedLabels(testCodes(65)),
			Job{Sheet: sheet, Style: testStyle(t), Date: day, Correction: fix})
		require.NoError(t, err)
		page := raster(t, pdf, 1, 300)
		fix = fix.orNone()
		for _, i := range []int{0, 4, 60, 64} {
			x, y := sheet.Cell(i)
			wantX := float64(fix.X) + fix.ScaleX*float64(x+3)
			wantY := float64(fix.Y) + fix.ScaleY*float64(y+3.35)
			got := ink(page, bar{Millimetres(wantX - 1), Millimetres(wantY - 1), 16.5, 16.5}, 300)
			require.InDelta(t, wantX, float64(got.x), 0.25)
			require.InDelta(t, wantY, float64(got.y), 0.25)
			require.InDelta(t, 14.5*fix.ScaleX, float64(got.w), 0.25)
			require.InDelta(t, 14.5*fix.ScaleY, float64(got.h), 0.25)
		}
	}
}

// TestStartAndPages: a sheet already begun goes on at its cell and over to a second page.
func TestStartAndPages(t *testing.T) {
	sheet, style := Presets()[0], testStyle(t)
	codes := testCodes(5)
	pdf, err := SheetPDF(mixedLabels(codes), Job{Sheet: sheet, Style: style, Start: 63, Date: day})
	require.NoError(t, err)
	texts := readAll(t, cells(raster(t, pdf, 1, 300), sheet, 61, 4, 300))
	require.Empty(t, texts[0])
	for i := range 3 {
		require.Equal(t, style.Base.Address(codes[i]), texts[1+i])
	}
	texts = readAll(t, cells(raster(t, pdf, 2, 300), sheet, 0, 3, 300))
	require.Equal(t, style.Base.Address(codes[3]), texts[0])
	require.Equal(t, style.Base.Address(codes[4]), texts[1])
	require.Empty(t, texts[2])
	require.Contains(t, runTool(t, "pdfinfo", saved(t, "s.pdf", pdf)), "Pages:           2")
}

func TestPresetsFit(t *testing.T) {
	for _, sheet := range Presets() {
		require.NoError(t, sheet.check(), sheet.Name)
		got, err := Preset(sheet.Name)
		require.NoError(t, err)
		require.Equal(t, sheet, got)
		width, height := sheet.Paper.Size()
		x, y := sheet.Cell(sheet.Columns*sheet.Rows - 1)
		require.GreaterOrEqual(t, float64(width-x-sheet.Width), 4.0, sheet.Name)
		require.GreaterOrEqual(t, float64(height-y-sheet.Height), 6.0, sheet.Name)
		count := fmt.Sprint(sheet.Columns * sheet.Rows)
		require.Contains(t, sheet.Name, ", "+count+" ", "the name says how many")
		require.True(t, strings.HasSuffix(sheet.Name, " "+string(sheet.Paper)))
	}
	// 65 of 38.1 x 21.2 fill A4 evenly: margins of 4.75 and 10.7 mm on both sides.
	first := Presets()[0]
	require.InDelta(t, 210, float64(2*first.Left+5*first.Width+4*first.GapX), 1e-9)
	require.InDelta(t, 297, float64(2*first.Top+13*first.Height), 1e-9)
	_, err := Preset("x")
	require.ErrorContains(t, err, "choose one from the list")
}

func TestSheetRefuses(t *testing.T) {
	nan := Millimetres(math.NaN())
	good := func() Job { return Job{Sheet: Presets()[0], Style: testStyle(t), Date: day} }
	for says, change := range map[string]func(*Job){
		"is not known: use A4 or Letter":     func(j *Job) { j.Sheet.Paper = "A5" },
		"label form":                         func(j *Job) { j.Sheet.Form = "round" },
		"1 to 100 columns":                   func(j *Job) { j.Sheet.Columns = 0 },
		"choose a smaller label":             func(j *Job) { j.Sheet.Height = 21.1 },
		"correct margins":                    func(j *Job) { j.Sheet.Left = 9.6 },
		"correct margins, gaps or counts":    func(j *Job) { j.Sheet.Rows = 14 },
		"check line needs 8 mm":              func(j *Job) { j.Sheet.Top = 7.9 },
		"give 0 to 500 mm":                   func(j *Job) { j.Sheet.GapY = -1 },
		"is NaN mm":                          func(j *Job) { j.Sheet.GapX = nan },
		"cells 1 to 65":                      func(j *Job) { j.Start = 66 },
		"cannot begin at -1":                 func(j *Job) { j.Start = -1 },
		"offsets 10.1 mm":                    func(j *Job) { j.Correction.X = 10.1 },
		"scale 1.060":                        func(j *Job) { j.Correction.ScaleY = 1.06 },
		"scale 0.940":                        func(j *Job) { j.Correction.ScaleX = 0.94 },
		"level \"X\" is not known":           func(j *Job) { j.Style.Level = "X" },
		"no base address":                    func(j *Job) { j.Style.Base = Base{} },
		"100 dots an inch are too few":       func(j *Job) { j.Style.DPI = 100 },
		"level H needs a symbol of 15 mm":    func(j *Job) { j.Style.Level = LevelH },
		"one module of the symbol would be ": func(j *Job) { j.Style.DPI = 360 },
	} {
		j := good()
		change(&j)
		_, err := SheetPDF(mixedLabels(testCodes(1)), j)
		require.ErrorContains(t, err, says)
	}
	_, err := SheetPDF(nil, good())
	require.ErrorContains(t, err, "choose at least one")
	_, err = SheetPDF(make([]Label, Most+1), good())
	require.ErrorContains(t, err, "1001 labels are too many at once: print at most 1000")
	_, err = SheetPDF([]Label{BlankLabel{testCodes(1)[0], 1}, BlankLabel{"X", 2}}, good())
	require.ErrorContains(t, err, `label 2 of 2: "X" is no code`)
}

func TestPaperSizes(t *testing.T) {
	sizes := map[Paper][2]Millimetres{A4: {210, 297}, Letter: {8.5 * 25.4, 11 * 25.4}}
	for paper, size := range sizes {
		w, h := paper.Size()
		require.InDelta(t, float64(size[0]), float64(w), 1e-9)
		require.InDelta(t, float64(size[1]), float64(h), 1e-9)
	}
}

func BenchmarkSheetOf65(b *testing.B) {
	all, job := mixedLabels(testCodes(65)), Job{Presets()[0], testStyle(b), 0, Correction{}, day}
	for b.Loop() {
		if _, err := SheetPDF(all, job); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMostLabels(b *testing.B) {
	all, job := mixedLabels(testCodes(Most)), Job{Presets()[0], testStyle(b), 0, Correction{}, day}
	for b.Loop() {
		if _, err := SheetPDF(all, job); err != nil {
			b.Fatal(err)
		}
	}
}
