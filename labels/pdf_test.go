package labels

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/image/font/gofont/gomonobold"
)

// everyPDF makes one of each kind of file.
func everyPDF(t *testing.T, date time.Time) map[string][]byte {
	t.Helper()
	style, all := testStyle(t), mixedLabels(testCodes(6))
	files := map[string][]byte{}
	add := func(name string, pdf []byte, err error) {
		require.NoError(t, err, name)
		files[name] = pdf
	}
	for i, sheet := range Presets() {
		start := 1 + 61*(1-min(i, 1)) // the first goes over to a second page
		pdf, err := SheetPDF(all, Job{Sheet: sheet, Style: style, Start: start, Date: date})
		add(fmt.Sprint("sheet", i), pdf, err)
	}
	corrected, err := SheetPDF(all, Job{Sheet: Presets()[0], Style: style, Date: date,
		Correction: Correction{X: 1, ScaleX: 1.01}})
	add("corrected", corrected, err)
	for _, form := range Forms() {
		style.Form = form
		roll, err := RollPDF(all, style, date)
		add("roll "+string(form), roll, err)
	}
	slips, err := SlipPDF([]Slip{testSlip(), testSlip()}, A4, style, date)
	add("slips", slips, err)
	return files
}

// TestFilesAreSound: qpdf finds no fault, print dialogs are told not to scale (ISO 32000-1,
// 12.2), the fonts travel in the file.
func TestFilesAreSound(t *testing.T) {
	for name, pdf := range everyPDF(t, day) {
		path := saved(t, "x.pdf", pdf)
		check := runTool(t, "qpdf", "--check", path)
		require.Contains(t, check, "PDF Version: 1.7", name)
		require.NotContains(t, strings.ToLower(check), "warning", name)
		root := string(rootOf.FindSubmatch(pdf)[1])
		catalog := runTool(t, "qpdf", "--show-object="+root, path)
		require.Contains(t, catalog, "/ViewerPreferences << /PrintScaling /None >>", name)
		require.Contains(t, catalog, "/Type /Catalog", name)
		fonts := strings.Split(strings.TrimSpace(runTool(t, "pdffonts", path)), "\n")
		require.Greater(t, len(fonts), 2, name)
		for _, font := range fonts[2:] {
			require.Regexp(t, `Identity-H +yes`, font, "embedded")
		}
	}
}

// TestDamageIsFound: the independent checker does object to a file whose update points to a
// wrong place, or that was cut off.
func TestDamageIsFound(t *testing.T) {
	pdf, err := LabelPDF(BlankLabel{one, 1}, testStyle(t), day)
	require.NoError(t, err)
	place := lastXref.FindSubmatchIndex(pdf)
	wrong := bytes.Clone(pdf)
	wrong[place[2]] ^= 1 // another first digit
	runTool(t, "qpdf", "--version")
	for _, damaged := range [][]byte{wrong, pdf[:len(pdf)/2]} {
		cmd := exec.Command("qpdf", "--check", saved(t, "x.pdf", damaged))
		out, err := cmd.CombinedOutput()
		var exit *exec.ExitError
		require.True(t, errors.As(err, &exit), string(out))
		require.Contains(t, strings.ToLower(string(out)), "warning")
	}
}

// TestSameInputSameBytes, and another date gives other bytes.
func TestSameInputSameBytes(t *testing.T) {
	font := sha256.Sum256(gomonobold.TTF)
	first, second := everyPDF(t, day), everyPDF(t, day)
	require.Equal(t, font, sha256.Sum256(gomonobold.TTF), "the shared font was written to")
	other := everyPDF(t, day.AddDate(0, 0, 1))
	for name := range first {
		require.True(t, bytes.Equal(first[name], second[name]), name)
		require.False(t, bytes.Equal(first[name], other[name]), name)
	}
}

// TestOneSymbolOnePath: the symbol is one path in whole modules under one matrix.
func TestOneSymbolOnePath(t *testing.T) {
	matrix, err := Matrix("https://HOST.EXAMPLE/D/7M2N4P6R8S0T2W5YH", LevelM)
	require.NoError(t, err)
	s := symbol{x: 3, y: 3.35, module: 0.5, matrix: matrix}
	path := s.pdfPath(297)
	require.Equal(t, 1, strings.Count(path, " cm"))
	require.Equal(t, 1, strings.Count(path, "f Q"))
	// 0.5 mm = 1.417323 pt; 3 mm = 8.503937 pt; 297-3.35 mm = 832.393701 pt (1 pt = 25.4/72 mm).
	require.True(t, strings.HasPrefix(path,
		"q 0 g 1.417323 0 0 -1.417323 8.503937 832.393701 cm\n"), path[:60])
	drawn := make([][]bool, len(matrix))
	for y := range drawn {
		drawn[y] = make([]bool, len(matrix))
	}
	for _, line := range strings.Split(path, "\n") {
		var x, y, n, h int
		if k, _ := fmt.Sscanf(line, "%d %d %d %d re", &x, &y, &n, &h); k == 4 {
			require.Equal(t, 1, h)
			for i := range n {
				drawn[y][x+i] = true
			}
		}
	}
	require.Equal(t, matrix, drawn)
}

func TestNoScalingRefusesForeignFiles(t *testing.T) {
	for _, text := range []string{"", "%PDF-1.3\n",
		"%PDF-1.3\ntrailer\n<< >>\nstartxref\n5\n%%EOF\n",
		"%PDF-1.3\ntrailer\n<< /Size 3 /Root 2 0 R >>\nstartxref\n5\n%%EOF\n",
		"%PDF-1.3\n2 0 obj\nendobj\ntrailer\n<< /Size 3 /Root 2 0 R >>\nstartxref\n5\n%%EOF\n"} {
		_, err := noScaling([]byte(text))
		require.ErrorIs(t, err, errNoPDF)
	}
}

func TestPageSizes(t *testing.T) {
	files := everyPDF(t, day)
	for name, size := range map[string]string{"sheet0": "595.28 x 841.89 pts (A4)",
		"sheet2": "612 x 792 pts (letter)", "roll wide": "108 x 60.09 pts",
		"roll upright": "58.11 x 107.72 pts", "roll smallest": "58.11 x 85.04 pts"} {
		info := runTool(t, "pdfinfo", saved(t, "x.pdf", files[name]))
		require.Contains(t, info, size, name)
	}
}
