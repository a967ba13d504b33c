package sqlite

import (
	"bytes"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// ownTexts are the members of an entry that the program writes for itself: random letters and
// hashes, which nobody looks for as words and in which any short word would turn up by chance.
var ownTexts = [][]byte{[]byte("boot"), []byte("key"), []byte("kit_prev")}

// eachText gives every text of an entry's canonical bytes, folded, until yield answers no:
// every value that is a text, however deep, but no names of members and none of ownTexts. The
// bytes given are good until the next. Bytes that are no entry give what can be made out of
// them and never fail: verify is what judges bytes.
func eachText(body []byte, yield func(text []byte) bool) {
	var text []byte
	depth, own := 0, false
	for i := 0; i < len(body); i++ {
		switch body[i] {
		case '{', '[':
			depth++
		case '}', ']':
			depth--
		case '"':
			end := endOfText(body, i+1)
			raw := body[i+1 : end]
			i = end
			if end+1 < len(body) && body[end+1] == ':' { // the name of a member
				own = depth == 1 && isOwn(raw)
				continue
			}
			if own {
				own = false
				continue
			}
			if text = foldText(text[:0], raw); !yield(text) {
				return
			}
		}
	}
}

func isOwn(name []byte) bool {
	for _, own := range ownTexts {
		if bytes.Equal(own, name) {
			return true
		}
	}
	return false
}

// endOfText finds the quotation mark that ends a text, or the end of the bytes.
func endOfText(body []byte, i int) int {
	for ; i < len(body); i++ {
		switch body[i] {
		case '\\':
			i++
		case '"':
			return i
		}
	}
	return len(body)
}

// foldText appends a text as it stands in canonical bytes: escapes undone, every letter small.
func foldText(to, raw []byte) []byte {
	for i := 0; i < len(raw); {
		c := raw[i]
		switch {
		case c == '\\' && i+1 < len(raw):
			r, used := unescape(raw[i:])
			to, i = utf8.AppendRune(to, unicode.ToLower(r)), i+used
		case c < utf8.RuneSelf:
			if 'A' <= c && c <= 'Z' {
				c += 'a' - 'A'
			}
			to, i = append(to, c), i+1
		default:
			r, size := utf8.DecodeRune(raw[i:])
			to, i = utf8.AppendRune(to, unicode.ToLower(r)), i+size
		}
	}
	return to
}

// escapes of one letter (RFC 8259, section 7); every other one stands for itself.
var escapes = map[byte]rune{'b': '\b', 'f': '\f', 'n': '\n', 'r': '\r', 't': '\t'}

// unescape reads the escape that raw begins with and says how many bytes it takes.
func unescape(raw []byte) (r rune, used int) {
	if raw[1] != 'u' {
		if r, ok := escapes[raw[1]]; ok {
			return r, 2
		}
		return rune(raw[1]), 2
	}
	r, ok := hexRune(raw)
	if !ok {
		return utf8.RuneError, 2
	}
	if utf16.IsSurrogate(r) {
		if low, ok := hexRune(raw[6:]); ok {
			return utf16.DecodeRune(r, low), 12
		}
	}
	return r, 6
}

// hexRune reads a backslash, u and four hexadecimal digits.
func hexRune(raw []byte) (r rune, ok bool) {
	if len(raw) < 6 || raw[0] != '\\' || raw[1] != 'u' {
		return 0, false
	}
	for _, c := range raw[2:6] {
		switch {
		case '0' <= c && c <= '9':
			r = r<<4 | rune(c-'0')
		case 'a' <= c|0x20 && c|0x20 <= 'f':
			r = r<<4 | rune(c|0x20-'a'+10)
		default:
			return 0, false
		}
	}
	return r, true
}

// foldWord is a word as it is looked for.
func foldWord(word string) []byte {
	var folded []byte
	for _, r := range word {
		folded = utf8.AppendRune(folded, unicode.ToLower(r))
	}
	return folded
}

// holdsWords tells whether each of the folded words stands in some text of the entry.
func holdsWords(body []byte, words [][]byte) bool {
	var found uint64 // a bit for each word; more than 64 are never looked for
	left := len(words)
	if left == 0 {
		return true
	}
	eachText(body, func(text []byte) bool {
		for i, word := range words {
			if found>>i&1 == 0 && bytes.Contains(text, word) {
				found |= 1 << i
				left--
			}
		}
		return left > 0
	})
	return left == 0
}
