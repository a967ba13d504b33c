package sqlite

import (
	"bytes"

	"handback/reprocess"
)

// Full blocks of entries are searched through a sieve: bits for every two, three and four
// bytes that follow each other in a text of the block. A word can only stand in a block where
// the bits of all its pieces are set; the entries of such a block are then read. So the sieve
// passes some blocks for nothing and never holds back one that matters, any part of a word is
// found as before, and a row is a few microseconds to make and to check. An index of three
// letters by the database's own full-text search took 74 microseconds and 137 bytes for each
// entry, could not find two letters, and took 176 microseconds more for each entry to compare
// with the entries. What sets which bit must never change without a schema step that empties
// the table.
const (
	blockLength = 64               // entries
	blockBytes  = blockLength * 31 // two rows to a page of the database
	blockBits   = 8 * blockBytes   // about one in five is set in a busy clinic
	pieceMin    = 2                // bytes of the shortest piece
	pieceMax    = 4                // bytes of the longest
)

// block gathers what the table says of the entries from 64 k + 1 on.
type block struct {
	n           int // entries so far
	first, last reprocess.Instant
	bits        [blockBytes]byte
}

// add takes the next entry; it tells whether the block is now full.
func (b *block) add(at reprocess.Instant, body []byte) (full bool) {
	if b.n == 0 || at < b.first {
		b.first = at
	}
	if b.n == 0 || at > b.last {
		b.last = at
	}
	b.n++
	eachText(body, func(text []byte) bool {
		eachPiece(text, func(bit uint32) { b.bits[bit/8] |= 1 << (bit % 8) })
		return true
	})
	return b.n == blockLength
}

// row is the block's row, number k.
func (b *block) row(k int64) []any { return []any{k, int64(b.first), int64(b.last), b.bits[:]} }

// eachPiece gives the bit of every piece of a folded text, and two for pieces of two bytes, which
// a word of two letters is looked for by alone.
func eachPiece(text []byte, yield func(bit uint32)) {
	for i := range text {
		h := uint32(2166136261) // FNV-1a, and two rounds of mixing for the remainder
		for n := 1; n <= pieceMax && i+n <= len(text); n++ {
			h = (h ^ uint32(text[i+n-1])) * 16777619
			if n >= pieceMin {
				m := (h ^ h>>15) * 0x2c1b3c6d
				yield((m ^ m>>13) % blockBits)
			}
			if n == pieceMin {
				m := (h ^ h>>16) * 0x45d9f3b5
				yield((m ^ m>>15) % blockBits)
			}
		}
	}
}

// bitsOf lists the bits of the pieces of folded words; none for words of one byte.
func bitsOf(words [][]byte) []uint32 {
	var all []uint32
	for _, word := range words {
		eachPiece(word, func(bit uint32) { all = append(all, bit) })
	}
	return all
}

// mayHold tells whether a block with these bits can hold all of the pieces. Bits of another
// length are not the program's and hold back nothing.
func mayHold(bits []byte, pieces []uint32) bool {
	if len(bits) != blockBytes {
		return true
	}
	for _, p := range pieces {
		if bits[p/8]>>(p%8)&1 == 0 {
			return false
		}
	}
	return true
}

// same compares a stored row with the block.
func (b *block) same(k int64, row []any) bool {
	bits, ok := row[3].([]byte)
	return ok && row[0] == k && row[1] == int64(b.first) && row[2] == int64(b.last) &&
		bytes.Equal(bits, b.bits[:])
}
