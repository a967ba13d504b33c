package report

import (
	"bytes"
	"fmt"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess/figures"
)

var day = time.Date(2026, 11, 24, 14, 5, 0, 0, time.UTC)

// tool runs a program of poppler (apt-get install poppler-utils), which is no kin of the writer.
func tool(t *testing.T, pdf []byte, name string, args ...string) string {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Stdin = bytes.NewReader(pdf)
	var problems bytes.Buffer
	cmd.Stderr = &problems
	out, err := cmd.Output()
	require.NoError(t, err, "%s: apt-get install poppler-utils", name)
	require.Empty(t, problems.String())
	return string(out)
}

// text is what a reader of the file finds on it; pages are cut by form feeds.
func text(t *testing.T, pdf []byte) string {
	t.Helper()
	return tool(t, pdf, "pdftotext", "-layout", "-", "-")
}

func sample(rows int) Document {
	chart := figures.Chart{Kind: "p", Title: "Shares", Says: "By month.", Unit: "%", Centre: 20}
	for i := range 12 {
		chart.Points = append(chart.Points, figures.Point{Label: fmt.Sprint("month ", i+1),
			Value: float64(10 + i), Low: 5, High: 35})
	}
	chart.Points[3].Signal = "beyond a limit"
	table := Table{Caption: "Entries", Head: []string{"Entry", "What"}, Right: []bool{true}}
	for i := range rows {
		table.Rows = append(table.Rows, []string{fmt.Sprint(i + 1), strings.Repeat("wiped and dried ", 1+i%9)})
	}
	return Document{Title: "Audit report", Foot: "Site, entry 12", Blocks: []Block{
		Terms{{"Clinic", "Moorland Heart Watch"}, {"Root", strings.Repeat("0123456789abcdef", 12)}},
		Heading("Figures"), Text("Größe, façade, Ωμέγα, Привет: letters of other alphabets."), Chart{chart},
		Chart{figures.Chart{Title: "Nothing", Says: "None of 3 cycles."}}, table, Strong("It holds."),
		Options{Lines: []string{"one", "two", "three"}, Chosen: 1}, Code("site\n12\nAbc=\n"),
		QR{{true, false}, {true, true}}, Sign("Signed for the clinic"), Page{}, Text("last")}}
}

func TestTheSameDocumentIsTheSameBytes(t *testing.T) {
	for _, paper := range []Paper{A4, Letter} {
		one, err := PDF(sample(40), paper, day)
		require.NoError(t, err)
		two, err := PDF(sample(40), paper, day)
		require.NoError(t, err)
		require.True(t, bytes.Equal(one, two))
		later, err := PDF(sample(40), paper, day.Add(time.Second))
		require.NoError(t, err)
		require.False(t, bytes.Equal(one, later), "the date is a part of it")
	}
}

// Sizes: ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch.
func TestThePaperIsTheOneAskedFor(t *testing.T) {
	for paper, size := range map[Paper]string{A4: "595.28 x 841.89 pts", Letter: "612 x 792 pts"} {
		pdf, err := PDF(sample(3), paper, day)
		require.NoError(t, err)
		require.Contains(t, tool(t, pdf, "pdfinfo", "-"), size)
	}
	_, err := PDF(sample(3), "A5", day)
	require.EqualError(t, err, `the paper "A5" is not known: use A4 or Letter`)
}

// Everything that was given can be read, on its page, under the head of its table, and the
// pages count themselves.
func TestEverythingIsOnThePaper(t *testing.T) {
	pdf, err := PDF(sample(120), A4, day)
	require.NoError(t, err)
	all := text(t, pdf)
	pages := strings.Split(strings.TrimSuffix(all, "\f"), "\f")
	for i, page := range pages {
		require.Contains(t, page, fmt.Sprintf("page %d of %d", i+1, len(pages)))
		require.Contains(t, page, "Site, entry 12")
	}
	for _, want := range []string{"Audit report", "Größe, façade, Ωμέγα, Привет", "month 12",
		"Empty squares are signals", "None of 3 cycles.", "It holds.", "two", "Signed for the clinic"} {
		require.Contains(t, all, want)
	}
	rows := regexp.MustCompile(`(?m)^ +(\d+) +wiped`).FindAllStringSubmatch(all, -1)
	require.Len(t, rows, 120)
	for i, row := range rows {
		require.Equal(t, fmt.Sprint(i+1), row[1], "in order, none left out")
	}
	heads := strings.Count(all, "Entry What") + len(regexp.MustCompile(`Entry +What`).FindAllString(all, -1))
	require.Greater(t, heads, 2, "the head is repeated")
	require.Contains(t, strings.ReplaceAll(strings.ReplaceAll(all, "\n", ""), " ", ""),
		strings.Repeat("0123456789abcdef", 5), "a long word is broken, not cut off")
	require.Contains(t, pages[len(pages)-1], "last")
}

// No mark lies outside the margins that printers reach: a box of a page's ink, by poppler.
func TestNothingRunsOffThePaper(t *testing.T) {
	pdf, err := PDF(sample(60), Letter, day)
	require.NoError(t, err)
	boxes := regexp.MustCompile(`<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)"`).
		FindAllStringSubmatch(tool(t, pdf, "pdftotext", "-bbox", "-", "-"), -1)
	require.Greater(t, len(boxes), 200)
	for _, b := range boxes {
		var x1, y1, x2, y2 float64
		_, err := fmt.Sscan(b[1]+" "+b[2]+" "+b[3]+" "+b[4], &x1, &y1, &x2, &y2)
		require.NoError(t, err)
		require.True(t, x1 > 40 && y1 > 20 && x2 < 612-40 && y2 < 792-20, b[0])
	}
}
