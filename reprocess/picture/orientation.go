package picture

import (
	"bytes"
	"encoding/binary"
)

// orientation reads how a JPEG is to be turned from its Exif segment (JEITA CP-3451, tag
// 0x0112); 1 where nothing, or nothing believable, is said.
func orientation(raw []byte) int {
	exif := exifOf(raw)
	if len(exif) < 14 {
		return 1
	}
	var order binary.ByteOrder = binary.BigEndian
	switch string(exif[:2]) {
	case "II":
		order = binary.LittleEndian
	case "MM":
	default:
		return 1
	}
	at := uint64(order.Uint32(exif[4:]))
	if at+2 > uint64(len(exif)) {
		return 1
	}
	n := int(order.Uint16(exif[at:]))
	for i := range n {
		row := at + 2 + uint64(i)*12
		if row+12 > uint64(len(exif)) {
			return 1
		}
		if order.Uint16(exif[row:]) == 0x0112 {
			if turn := int(order.Uint16(exif[row+8:])); turn >= 1 && turn <= 8 {
				return turn
			}
			return 1
		}
	}
	return 1
}

// exifOf finds the Exif segment of a JPEG, without its name; nil when there is none before
// the picture begins.
func exifOf(raw []byte) []byte {
	at := 2 // after the start marker
	for at+4 <= len(raw) && raw[at] == 0xff {
		marker, size := raw[at+1], int(binary.BigEndian.Uint16(raw[at+2:]))
		if marker == 0xda || size < 2 || at+2+size > len(raw) {
			return nil
		}
		body := raw[at+4 : at+2+size]
		if marker == 0xe1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")) {
			return body[6:]
		}
		at += 2 + size
	}
	return nil
}
