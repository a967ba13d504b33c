package labels

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	"image/png"
	mathrand "math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// day is the date of all files made in tests.
var day = time.Date(2026, 11, 24, 14, 5, 0, 0, time.UTC)

// run calls an independent program; a missing one fails the test and says how to install it.
func runTool(t testing.TB, name string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Fatalf("%s is missing; install with: "+
			"apt-get install -y poppler-utils zbar-tools qpdf", name)
	}
	var out, errs bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	if exit, ok := err.(*exec.ExitError); ok && name == "zbarimg" && exit.ExitCode() == 4 {
		err = nil // zbarimg: 4 means that some image held no symbol
	}
	require.NoError(t, err, "%s %v: %s", name, args, errs.String())
	return out.String()
}

func testStyle(t testing.TB) Style {
	t.Helper()
	base, err := ParseBase("https://host.example", false)
	require.NoError(t, err)
	return Style{Base: base}
}

// testCodes gives the same n codes each time.
func testCodes(n int) []Code {
	r := mathrand.New(mathrand.NewPCG(uint64(n), 5))
	codes := make([]Code, n)
	for i := range codes {
		codes[i] = Code(randomCode(r))
	}
	return codes
}

// mixedLabels are devices, containers and blanks in turn.
func mixedLabels(codes []Code) []Label {
	all := make([]Label, len(codes))
	for i, c := range codes {
		switch i % 4 {
		case 0:
			all[i] = DeviceLabel{c, fmt.Sprint(i + 1), "recorder", "Ring 555 0100"}
		case 1:
			all[i] = DeviceLabel{c, fmt.Sprint(1000 + i), "phone", ""}
		case 2:
			all[i] = ContainerLabel{c, day, day.AddDate(0, 0, 28*(i%3))}
		default:
			all[i] = BlankLabel{c, i + 1}
		}
	}
	return all
}

func saved(t testing.TB, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, data, 0o600))
	return path
}

// raster prints one page as a printer does: one bit a dot, black where ink touches it.
func raster(t testing.TB, pdf []byte, page int, dpi float64) *image.Gray {
	t.Helper()
	path, number := saved(t, "page.pdf", pdf), fmt.Sprint(page)
	runTool(t, "pdftoppm", "-mono", "-r", fmt.Sprint(dpi), "-f", number, "-l", number,
		"-singlefile", path, path)
	data, err := os.ReadFile(path + ".pbm")
	require.NoError(t, err)
	return readPBM(t, data)
}

// readPBM decodes the binary portable bitmap, P4: rows of whole bytes, 1 is black.
func readPBM(t testing.TB, data []byte) *image.Gray {
	t.Helper()
	var width, height int
	_, err := fmt.Sscanf(string(data[:min(len(data), 40)]), "P4\n%d %d\n", &width, &height)
	require.NoError(t, err)
	row := (width + 7) / 8
	data = data[len(data)-row*height:]
	img := image.NewGray(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			if data[y*row+x/8]>>(7-x%8)&1 == 0 {
				img.SetGray(x, y, color.Gray{Y: 255})
			}
		}
	}
	return img
}

// crop cuts out a place given in millimetres.
func crop(img *image.Gray, b bar, dpi float64) *image.Gray {
	px := func(m Millimetres) int { return int(float64(m) * dpi / 25.4) }
	return img.SubImage(image.Rect(px(b.x), px(b.y), px(b.x+b.w), px(b.y+b.h))).(*image.Gray)
}

// readAll decodes each image alone with zbar, "" where it found nothing. An image with two
// symbols fails.
func readAll(t testing.TB, images []*image.Gray) []string {
	t.Helper()
	folder := t.TempDir()
	args := []string{"-q", "--xml", "--nodbus", "-Sdisable", "-Sqrcode.enable"}
	at := map[string]int{}
	for i, img := range images {
		var b bytes.Buffer
		require.NoError(t, png.Encode(&b, img))
		path := filepath.Join(folder, fmt.Sprintf("%04d.png", i))
		require.NoError(t, os.WriteFile(path, b.Bytes(), 0o600))
		args, at[path] = append(args, path), i
	}
	var found struct {
		Source []struct {
			Href string   `xml:"href,attr"`
			Data []string `xml:"index>symbol>data"`
		} `xml:"source"`
	}
	require.NoError(t, xml.Unmarshal([]byte(runTool(t, "zbarimg", args...)), &found))
	texts := make([]string, len(images))
	for _, s := range found.Source {
		i, ok := at[s.Href]
		require.True(t, ok, s.Href)
		require.LessOrEqual(t, len(s.Data), 1, s.Href)
		texts[i] = strings.Join(s.Data, "")
	}
	return texts
}

// ink gives the box of black dots inside a place, in millimetres from the page's corner.
func ink(img *image.Gray, place bar, dpi float64) bar {
	part := crop(img, place, dpi)
	box := image.Rectangle{}
	for y := part.Rect.Min.Y; y < part.Rect.Max.Y; y++ {
		for x := part.Rect.Min.X; x < part.Rect.Max.X; x++ {
			if part.GrayAt(x, y).Y == 0 {
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	mm := func(n int) Millimetres { return Millimetres(float64(n) * 25.4 / dpi) }
	return bar{mm(box.Min.X), mm(box.Min.Y), mm(box.Dx()), mm(box.Dy())}
}
