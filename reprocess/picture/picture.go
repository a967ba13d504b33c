// Package picture makes a photograph fit to be kept: decoded within bounds, turned upright,
// made smaller and encoded anew, so that nothing but its pixels is left. Where and by whom it
// was taken travels in the metadata of a camera's file and goes with it.
//
// The package does no I/O and reads no clock. Errors are whole sentences.
package picture

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
)

// Limits of what is taken and kept.
const (
	MostPixels = 24_000_000 // checked before a pixel is decoded
	MostBytes  = 2 << 20    // of what is kept
	LongSide   = 2000       // px; larger ones are made smaller
)

// Clean gives the picture as a JPEG without any metadata, upright, at most LongSide long and
// MostBytes large. It takes JPEG and PNG.
func Clean(raw []byte) ([]byte, error) {
	if len(raw) == 0 {
		return nil, errors.New("no picture was chosen")
	}
	config, format, err := image.DecodeConfig(bytes.NewReader(raw))
	if err != nil || (format != "jpeg" && format != "png") {
		return nil, errors.New("this is no picture that can be read here: JPEG and PNG are")
	}
	if config.Width < 1 || config.Height < 1 ||
		int64(config.Width)*int64(config.Height) > MostPixels {
		return nil, fmt.Errorf("the picture has %d × %d points, more than the 24 million that "+
			"are taken: take it at a smaller size", config.Width, config.Height)
	}
	img, err := decode(format, raw)
	if err != nil {
		return nil, errors.New("the picture is damaged")
	}
	turn := 1
	if format == "jpeg" {
		turn = orientation(raw)
	}
	small := upright(shrink(img, LongSide), turn)
	for _, quality := range []int{85, 70, 50, 30} {
		var out bytes.Buffer
		if err := jpeg.Encode(&out, small, &jpeg.Options{Quality: quality}); err != nil {
			return nil, errors.New("the picture cannot be kept")
		}
		if out.Len() <= MostBytes {
			return out.Bytes(), nil
		}
	}
	return nil, errors.New("the picture stays larger than 2 MB: take it at a smaller size")
}

func decode(format string, raw []byte) (image.Image, error) {
	if format == "png" {
		return png.Decode(bytes.NewReader(raw))
	}
	return jpeg.Decode(bytes.NewReader(raw))
}

// shrink averages blocks of whole pixels, so that the long side is at most long; transparent
// parts become white. Cost: one look at every pixel.
func shrink(img image.Image, long int) *image.RGBA {
	b := img.Bounds()
	step := (max(b.Dx(), b.Dy()) + long - 1) / long
	out := image.NewRGBA(image.Rect(0, 0, (b.Dx()+step-1)/step, (b.Dy()+step-1)/step))
	for y := 0; y < out.Rect.Dy(); y++ {
		for x := 0; x < out.Rect.Dx(); x++ {
			r := image.Rect(x*step, y*step, (x+1)*step, (y+1)*step).Add(b.Min).Intersect(b)
			out.SetRGBA(x, y, mean(img, r))
		}
	}
	return out
}

// mean is the mean colour of a block over white.
func mean(img image.Image, r image.Rectangle) color.RGBA {
	var sum [3]uint64
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			red, green, blue, alpha := img.At(x, y).RGBA() // premultiplied, 16 bits
			white := 0xffff - alpha
			sum[0] += uint64(red + white)
			sum[1] += uint64(green + white)
			sum[2] += uint64(blue + white)
		}
	}
	n := uint64(r.Dx()*r.Dy()) << 8
	return color.RGBA{uint8(sum[0] / n), uint8(sum[1] / n), uint8(sum[2] / n), 255}
}

// upright turns a picture as its camera said (Exif 2.3, tag Orientation, 1 to 8).
func upright(in *image.RGBA, turn int) *image.RGBA {
	if turn == 1 {
		return in
	}
	w, h := in.Rect.Dx(), in.Rect.Dy()
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	if turn >= 5 {
		out = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	for y := 0; y < h; y++ {
		for x := 0; x < w; x++ {
			tx, ty := target(turn, x, y, w, h)
			out.SetRGBA(tx, ty, in.RGBAAt(x, y))
		}
	}
	return out
}

// target is where a stored pixel is seen.
func target(turn, x, y, w, h int) (tx, ty int) {
	switch turn {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6:
		return h - 1 - y, x
	case 7:
		return h - 1 - y, w - 1 - x
	case 8:
		return y, w - 1 - x
	}
	return x, y
}
