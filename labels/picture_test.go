package labels

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"image"
	"image/png"
	"os"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/font/gofont/gomonobold"
)

func grayPNG(t *testing.T, data []byte) *image.Gray {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	out := image.NewGray(img.Bounds())
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			out.Set(x, y, img.At(x, y))
		}
	}
	return out
}

// TestPictures: every kind and form at every resolution reads, has its true size in pHYs, and
// whole dots for each module. Dots a metre: 8 a millimetre for "203 dpi", else dpi / 0.0254
// (PNG specification, 11.3.5.3).
func TestPictures(t *testing.T) {
	var pictures []*image.Gray
	for dpi, perMetre := range map[DPI]uint32{203: 8000, 300: 11811, 600: 23622} {
		for _, form := range Forms() {
			for _, l := range mixedLabels([]Code{one, one, one, one}) {
				s := testStyle(t)
				s.Form = form
				data, err := PNG(l, s, dpi)
				require.NoError(t, err)
				at := bytes.Index(data, []byte("pHYs"))
				require.Equal(t, 37, at)
				require.Equal(t, perMetre, binary.BigEndian.Uint32(data[at+4:]))
				require.Equal(t, perMetre, binary.BigEndian.Uint32(data[at+8:]))
				require.Equal(t, byte(1), data[at+12])
				img := grayPNG(t, data)
				w, h := form.Size()
				require.InDelta(t, float64(w)*float64(perMetre)/1000, float64(img.Rect.Dx()), 0.51)
				require.InDelta(t, float64(h)*float64(perMetre)/1000, float64(img.Rect.Dy()), 0.51)
				pictures = append(pictures, img)
			}
		}
	}
	for _, text := range readAll(t, pictures) {
		require.Equal(t, testStyle(t).Base.Address(one), text)
	}
}

// TestPictureModulesAreWhole: dot by dot the symbol is the matrix, 4, 6 and 12 dots a module.
func TestPictureModulesAreWhole(t *testing.T) {
	for dpi, dots := range map[DPI]int{203: 4, 300: 6, 600: 12} {
		s := testStyle(t)
		data, err := PNG(DeviceLabel{one, "17", "recorder", ""}, s, dpi)
		require.NoError(t, err)
		img := grayPNG(t, data)
		matrix, err := Matrix(s.Base.Address(one), LevelM)
		require.NoError(t, err)
		box := (18.5 - float64(dots*29)*float64(dpi.Dot())) / 2
		left, top := Millimetres(1+box).dots(dpi), Millimetres(1.35+box).dots(dpi)
		for y := range 29 * dots {
			for x := range 29 * dots {
				require.Equal(t, matrix[y/dots][x/dots], img.GrayAt(left+x, top+y).Y == 0)
			}
		}
	}
}

// TestPictureIsThePage compares our own outlines with those of poppler and FreeType: in the
// text column, edges in the PNG and in the rasterised PDF lie one dot apart at most.
func TestPictureIsThePage(t *testing.T) {
	s := testStyle(t)
	s.DPI = 600
	for _, l := range []Label{DeviceLabel{one, "17", "Gerät", "Q8&@ Жщ Ωψü"},
		ContainerLabel{one, day, day}} {
		data, err := PNG(l, s, 600)
		require.NoError(t, err)
		ours := grayPNG(t, data)
		pdf, err := LabelPDF(l, s, day)
		require.NoError(t, err)
		path := saved(t, "l.pdf", pdf)
		runTool(t, "pdftoppm", "-gray", "-png", "-r", "600", "-singlefile", path, path)
		smooth, err := os.ReadFile(path + ".png")
		require.NoError(t, err)
		page := grayPNG(t, smooth)
		black, differ := 0, 0
		for y := 1; y < ours.Rect.Dy()-1; y++ {
			for x := Millimetres(19.6).dots(600); x < ours.Rect.Dx()-1; x++ {
				if ours.GrayAt(x, y).Y == 0 {
					black++
				}
				if !near(page, x, y, ours.GrayAt(x, y).Y) ||
					!near(ours, x, y, page.GrayAt(x, y).Y) {
					differ++
				}
			}
		}
		require.Greater(t, black, 20_000)
		require.Less(t, differ, 10, "%T: dots that lie more than one dot apart", l)
	}
}

// near says whether a dot or one of its neighbours has this colour.
func near(img *image.Gray, x, y int, want uint8) bool {
	for i := range 9 {
		if (img.GrayAt(x+i%3-1, y+i/3-1).Y < 128) == (want < 128) {
			return true
		}
	}
	return false
}

// TestWidthsAgree: our reading of the font's tables against the PDF library's own.
func TestWidthsAgree(t *testing.T) {
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.AddUTF8FontFromBytes("mono", "", bytes.Clone(gomonobold.TTF))
	pdf.SetFont("mono", "", 10)
	pdf.SetFontUnitSize(float64(mono.em(2)))
	for _, text := range []string{"17 recorder", "7M2N 4P6R", "Gerät Ж Ω"} {
		wide, err := mono.width(text, 2)
		require.NoError(t, err)
		require.InDelta(t, pdf.GetStringWidth(text), float64(wide), 0.05)
	}
	wide, err := mono.width("", 2)
	require.NoError(t, err)
	require.Zero(t, wide)
}

func TestPictureRefuses(t *testing.T) {
	l, s := DeviceLabel{one, "17", "recorder", ""}, testStyle(t)
	for _, dpi := range []DPI{0, -1, 202, 1201} {
		_, err := PNG(l, s, dpi)
		require.ErrorContains(t, err, "is not between 203 and 1200")
	}
	l.Code = "7M2N4P6R8S0T2W5YJ"
	_, err := PNG(l, s, 300)
	require.ErrorContains(t, err, "is no code")
	_, err = SVG(l, s)
	require.ErrorContains(t, err, "is no code")
	s.Form = "round"
	_, err = SVG(DeviceLabel{one, "17", "recorder", ""}, s)
	require.ErrorContains(t, err, `form "round" is not known`)
}

// TestSVG: well formed, true millimetres, the symbol one path that rebuilds the matrix.
func TestSVG(t *testing.T) {
	s := testStyle(t)
	data, err := SVG(DeviceLabel{one, "17", "recorder", "Ring 555 0100"}, s)
	require.NoError(t, err)
	var svg struct {
		Width  string `xml:"width,attr"`
		Height string `xml:"height,attr"`
		View   string `xml:"viewBox,attr"`
		Title  string `xml:"title"`
		Path   []struct {
			Transform string `xml:"transform,attr"`
			D         string `xml:"d,attr"`
		} `xml:"path"`
	}
	require.NoError(t, xml.Unmarshal(data, &svg))
	require.Equal(t, "38.1mm", svg.Width)
	require.Equal(t, "21.2mm", svg.Height)
	require.Equal(t, "0 0 38.1 21.2", svg.View)
	require.Equal(t, "7M2N-4P6R-8S0T-2W5Y-H", svg.Title)
	require.Len(t, svg.Path, 2)
	require.Equal(t, "matrix(0.5 0 0 0.5 3 3.35)", svg.Path[0].Transform)
	matrix, err := Matrix(s.Base.Address(one), LevelM)
	require.NoError(t, err)
	drawn := make([][]bool, len(matrix))
	for y := range drawn {
		drawn[y] = make([]bool, len(matrix))
	}
	for _, part := range strings.Split(strings.TrimSuffix(svg.Path[0].D, "z"), "z") {
		var x, y, n, back int
		_, err := fmt.Sscanf(part, "M%d %dh%dv1h%d", &x, &y, &n, &back)
		require.NoError(t, err, part)
		require.Equal(t, -n, back)
		for i := range n {
			drawn[y][x+i] = true
		}
	}
	require.Equal(t, matrix, drawn)
	require.NotContains(t, string(data), "<text")
}
