package ledger

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"
)

// This file writes and reads the one form of zip that evidence.go describes. It is not built
// on a zip library: libraries look for members wherever a directory points and pass over what
// lies between; here the bytes in front of, between and behind the members are printed again
// and compared.

// sectionHead is the part of a member that its zip headers repeat.
type sectionHead struct {
	name string
	crc  uint32
	size uint32
}

const localLen = 30

// local prints the local header.
func (s sectionHead) local() []byte {
	b := []byte("PK\x03\x04")
	b = append(b, 20, 0)
	b = s.appendCommon(b)
	return append(b, s.name...)
}

// appendCommon prints what both headers share: flags, method, time and date, sums, lengths.
func (s sectionHead) appendCommon(b []byte) []byte {
	b = append(b, 0, 0, 0, 0, 0, 0, 33, 0)
	b = binary.LittleEndian.AppendUint32(b, s.crc)
	b = binary.LittleEndian.AppendUint32(b, s.size)
	b = binary.LittleEndian.AppendUint32(b, s.size)
	b = binary.LittleEndian.AppendUint16(b, uint16(len(s.name)))
	return append(b, 0, 0)
}

// central prints the member's record in the directory.
func (s sectionHead) central(offset uint32) []byte {
	b := []byte("PK\x01\x02")
	b = append(b, 20, 3, 20, 0)
	b = s.appendCommon(b)
	b = append(b, 0, 0, 0, 0, 0, 0)
	b = binary.LittleEndian.AppendUint32(b, 0o100644<<16)
	b = binary.LittleEndian.AppendUint32(b, offset)
	return append(b, s.name...)
}

// directory prints all that follows the last member.
func directory(heads []sectionHead) ([]byte, error) {
	var dir []byte
	var offset uint64
	for _, h := range heads {
		if offset > math.MaxUint32 {
			return nil, errTooLarge
		}
		dir = append(dir, h.central(uint32(offset))...)
		offset += localLen + uint64(len(h.name)) + uint64(h.size)
	}
	if offset+uint64(len(dir)) > math.MaxUint32 {
		return nil, errTooLarge
	}
	end := append([]byte("PK\x05\x06"), 0, 0, 0, 0, byte(len(heads)), 0, byte(len(heads)), 0)
	end = binary.LittleEndian.AppendUint32(end, uint32(len(dir)))
	end = binary.LittleEndian.AppendUint32(end, uint32(offset))
	return append(append(dir, end...), 0, 0), nil
}

var errTooLarge = errors.New("an evidence file stays below 4 GiB; choose a shorter period")

// section is a member found in a file.
type section struct {
	sectionHead
	at int64 // offset of its bytes
}

// sections reads the frame of the file: the nine members in order and the directory behind
// them, every byte as this package would print it. The members' own bytes are not read.
func sections(r io.ReaderAt, size int64) ([memberCount]section, error) {
	var found [memberCount]section
	var heads []sectionHead
	var at int64
	for i, name := range memberNames {
		head := make([]byte, localLen+len(name))
		if err := readAt(r, head, at, size); err != nil {
			return found, err
		}
		crc, length := binary.LittleEndian.Uint32(head[14:]), binary.LittleEndian.Uint32(head[18:])
		h := sectionHead{name, crc, length}
		if err := differs(h.local(), head, at, "before "+name); err != nil {
			return found, err
		}
		at += int64(len(head))
		found[i] = section{h, at}
		heads = append(heads, h)
		at += int64(h.size)
	}
	want, err := directory(heads)
	if err != nil {
		return found, err
	}
	got := make([]byte, len(want))
	if err := readAt(r, got, at, size); err != nil {
		return found, err
	}
	if err := differs(want, got, at, "in the directory at the end"); err != nil {
		return found, err
	}
	if extra := size - at - int64(len(want)); extra != 0 {
		return found, fmt.Errorf("the file goes on after its end (bytes more: %d)", extra)
	}
	return found, nil
}

// differs names the first byte of the frame that is not as it must be.
func differs(want, got []byte, at int64, where string) error {
	for i := range want {
		if want[i] != got[i] {
			return fmt.Errorf("byte %d of the file, %s, is not as an evidence file has it "+
				"(a member is missing, added, or in another place, or the frame was changed)",
				at+int64(i), where)
		}
	}
	return nil
}

// readAt fills b or says that the file ends too early.
func readAt(r io.ReaderAt, b []byte, at, size int64) error {
	if at+int64(len(b)) > size {
		return errors.New("the file ends before its last member does")
	}
	n, err := r.ReadAt(b, at)
	if n == len(b) {
		return nil
	}
	return &Unreadable{fmt.Errorf("the file cannot be read: %w", err)}
}

// looksLikeZip tells a damaged evidence file from another kind of file: it begins or ends as
// a zip does.
func looksLikeZip(r io.ReaderAt, size int64) bool {
	var head, tail [4]byte
	_ = readAt(r, head[:], 0, size)
	if size >= 22 {
		_ = readAt(r, tail[:], size-22, size)
	}
	return bytes.Equal(head[:], []byte("PK\x03\x04")) || bytes.Equal(tail[:], []byte("PK\x05\x06"))
}

// zipWriter writes members one after the other; sums are put in front of a member when it is
// complete, which is why it must be able to go back.
type zipWriter struct {
	w     io.WriteSeeker
	at    int64 // next byte
	start int64 // of the open member's header
	crc   uint32
	size  int64
	heads []sectionHead
}

// open begins the next member.
func (z *zipWriter) open() error {
	z.start, z.crc, z.size = z.at, 0, 0
	h := sectionHead{name: memberNames[len(z.heads)]}
	return z.raw(h.local())
}

// Write adds to the open member.
func (z *zipWriter) Write(b []byte) (int, error) {
	z.crc = crc32.Update(z.crc, crc32.IEEETable, b)
	z.size += int64(len(b))
	if z.size > math.MaxUint32 {
		return 0, errTooLarge
	}
	return len(b), z.raw(b)
}

func (z *zipWriter) raw(b []byte) error {
	_, err := z.w.Write(b)
	z.at += int64(len(b))
	return err
}

// close puts the sums in front of the open member.
func (z *zipWriter) close() error {
	h := sectionHead{memberNames[len(z.heads)], z.crc, uint32(z.size)}
	z.heads = append(z.heads, h)
	if _, err := z.w.Seek(z.start, io.SeekStart); err != nil {
		return err
	}
	if _, err := z.w.Write(h.local()); err != nil {
		return err
	}
	_, err := z.w.Seek(z.at, io.SeekStart)
	return err
}

// finish writes the directory.
func (z *zipWriter) finish() error {
	dir, err := directory(z.heads)
	if err != nil {
		return err
	}
	return z.raw(dir)
}
