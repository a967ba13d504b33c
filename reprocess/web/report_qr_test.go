package web

import (
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// symbolsOn prints a PDF at 200 dots an inch with poppler and reads the QR symbols of its pages
// with ZBar: neither knows this program (apt-get install poppler-utils zbar-tools).
func symbolsOn(t *testing.T, pdf string) string {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "paper.pdf")
	require.NoError(t, os.WriteFile(file, []byte(pdf), 0o600))
	out, err := exec.Command("pdftoppm", "-r", "200", "-gray", file, filepath.Join(dir, "p")).CombinedOutput()
	require.NoError(t, err, "pdftoppm: apt-get install poppler-utils: %s", out)
	pages, err := filepath.Glob(filepath.Join(dir, "p-*.pgm"))
	require.NoError(t, err)
	require.NotEmpty(t, pages)
	read, err := exec.Command("zbarimg", append([]string{"-q", "--raw", "--nodbus", "-Sdisable",
		"-Sqrcode.enable"}, pages...)...).Output()
	if exit, ok := err.(*exec.ExitError); !ok || exit.ExitCode() != 4 { // 4: a page without any
		require.NoError(t, err, "zbarimg: apt-get install zbar-tools")
	}
	return string(read)
}

// TestTheSymbolOfTheReportIsItsCheckpoint: what a reader that is not ours reads off the paper is
// the newest signed checkpoint, to the letter, on both papers.
func TestTheSymbolOfTheReportIsItsCheckpoint(t *testing.T) {
	c := newClinic(t)
	c.release()
	b := c.auditor()
	_, err := c.store.Checkpoint(t.Context())
	require.NoError(t, err)
	for _, paper := range []string{"", "Letter"} {
		b.get("/figures/report")
		b.post("/figures/report", "from", "2026-11", "to", "2026-11", "model", "", "sample", "",
			"paper", paper)
		require.Equal(t, http.StatusSeeOther, b.status, b.body)
		b.get(b.header.Get("Location"))
		require.Equal(t, "application/pdf", b.header.Get("Content-Type"))
		note, _, err := c.store.NewestCheckpoint(t.Context())
		require.NoError(t, err)
		require.Equal(t, strings.TrimSpace(string(note)), strings.TrimSpace(symbolsOn(t, b.body)))
	}
}
