package picture

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"

	"github.com/stretchr/testify/require"
)

// corner is a white picture with a red upper left quarter.
func corner(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.Set(x, y, color.White)
			if x < w/2 && y < h/2 {
				img.Set(x, y, color.RGBA{220, 0, 0, 255})
			}
		}
	}
	return img
}

// withExif is a JPEG with an Exif segment: orientation, and a comment that names somebody.
func withExif(t *testing.T, img image.Image, turn uint16) []byte {
	t.Helper()
	var plain bytes.Buffer
	require.NoError(t, jpeg.Encode(&plain, img, nil))
	body := []byte("Exif\x00\x00II*\x00\x08\x00\x00\x00\x01\x00\x12\x01\x03\x00\x01\x00\x00\x00")
	body = binary.LittleEndian.AppendUint16(body, turn)
	body = append(body, 0, 0, 0, 0, 0, 0)
	body = append(body, "GPS 52.5200 13.4050 Anna Miller"...)
	out := append([]byte{0xff, 0xd8, 0xff, 0xe1}, 0, 0)
	binary.BigEndian.PutUint16(out[4:], uint16(len(body)+2))
	return append(append(out, body...), plain.Bytes()[2:]...)
}

// Nothing of the metadata is left: no segment but those a plain JPEG needs, no text of it.
func TestNoPlaceAndNoNameTravel(t *testing.T) {
	raw := withExif(t, corner(40, 20), 1)
	require.Contains(t, string(raw), "Anna Miller")
	clean, err := Clean(raw)
	require.NoError(t, err)
	for _, trace := range []string{"Exif", "Miller", "GPS", "52.5200"} {
		require.NotContains(t, string(clean), trace)
	}
	_, format, err := image.Decode(bytes.NewReader(clean))
	require.NoError(t, err)
	require.Equal(t, "jpeg", format)
}

// Where the red quarter is seen after each of the eight turns (Exif 2.3, tag 0x0112: the place
// of row 0 and column 0).
func TestAPictureIsTurnedUpright(t *testing.T) {
	for turn, at := range map[uint16][2]bool{ // right?, bottom?
		1: {false, false}, 2: {true, false}, 3: {true, true}, 4: {false, true},
		5: {false, false}, 6: {true, false}, 7: {true, true}, 8: {false, true}} {
		clean, err := Clean(withExif(t, corner(48, 32), turn))
		require.NoError(t, err)
		img, err := jpeg.Decode(bytes.NewReader(clean))
		require.NoError(t, err)
		w, h := img.Bounds().Dx(), img.Bounds().Dy()
		require.Equal(t, turn >= 5, h > w, "turn %d", turn)
		for _, right := range []bool{false, true} {
			for _, bottom := range []bool{false, true} {
				x, y := w/4, h/4
				if right {
					x = 3 * w / 4
				}
				if bottom {
					y = 3 * h / 4
				}
				_, g, _, _ := img.At(x, y).RGBA()
				require.Equal(t, at == [2]bool{right, bottom}, g < 0x8000, "turn %d", turn)
			}
		}
	}
}

// header is a PNG that promises a size and holds no pixels.
func header(w, h uint32) []byte {
	body := binary.BigEndian.AppendUint32([]byte("IHDR"), w)
	body = append(binary.BigEndian.AppendUint32(body, h), 8, 2, 0, 0, 0)
	out := append([]byte("\x89PNG\r\n\x1a\n"), 0, 0, 0, 13)
	return binary.BigEndian.AppendUint32(append(out, body...), crc32.ChecksumIEEE(body))
}

// 24 million points are the bound, judged by the header before anything is decoded: a promise
// above it is refused for its size, one at it only for the pixels that are not there.
func TestBoundsOfAPicture(t *testing.T) {
	_, err := Clean(header(6000, 4000))
	require.EqualError(t, err, "the picture is damaged")
	_, err = Clean(header(6000, 4001))
	require.ErrorContains(t, err, "more than the 24 million")
	_, err = Clean(header(40_000, 40_000))
	require.ErrorContains(t, err, "more than the 24 million")
	_, err = Clean(header(1<<31-1, 1<<31-1)) // overflows: the decoder's header check says no
	require.Error(t, err)
	for _, bad := range [][]byte{nil, []byte("x"), []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00")} {
		_, err = Clean(bad)
		require.Error(t, err)
	}
}

// Noise is the hardest to make small: it still comes out within 2 MB and 2000 px.
func TestWhatIsKeptIsSmall(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 2400, 1800))
	state := uint32(1)
	for i := range img.Pix {
		state = state*1664525 + 1013904223 // Numerical Recipes' generator
		img.Pix[i] = byte(state >> 24)
	}
	var raw bytes.Buffer
	require.NoError(t, (&png.Encoder{CompressionLevel: png.NoCompression}).Encode(&raw, img))
	clean, err := Clean(raw.Bytes())
	require.NoError(t, err)
	require.LessOrEqual(t, len(clean), MostBytes)
	c, err := jpeg.DecodeConfig(bytes.NewReader(clean))
	require.NoError(t, err)
	require.LessOrEqual(t, max(c.Width, c.Height), LongSide)
}

// Whatever the bytes are, reading the turn ends and is 1 to 8.
func FuzzOrientation(f *testing.F) {
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x10Exif\x00\x00II*\x00\x08\x00\x00\x00"))
	f.Add([]byte{0xff, 0xd8, 0xff, 0xe1, 0, 0})
	f.Fuzz(func(t *testing.T, raw []byte) {
		if n := orientation(raw); n < 1 || n > 8 {
			t.Fatalf("turn %d", n)
		}
	})
}
