package labels

import (
	"fmt"
	"io"
	"strings"
	"unicode"
)

// Letters is the alphabet of codes, Crockford's base32: no I, L, O, U. The position of a
// letter is its value; labels in use depend on this order, so it must never change.
const Letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

const (
	bodyLen = 16 // random letters of a code, 5 bits each: 80 bits
	codeLen = bodyLen + 1
)

// Code is 16 random letters and their check letter, always upper case, without separators.
// The zero value is no code.
type Code string

// Kind says by what a code came in. It is a hint only: what a code belongs to is decided by
// the record, because a typed code does not carry its kind.
type Kind string

// The kinds of reading.
const (
	KindTyped   Kind = "typed"   // 17 letters alone
	KindScanned Kind = "scanned" // an address /D/..., of anything printed
)

// Fault is the closed list of what can be wrong with a typed or scanned code.
type Fault string

// The faults.
const (
	FaultEmpty  Fault = "empty"  // nothing was typed
	FaultLength Fault = "length" // not 17 letters
	FaultLetter Fault = "letter" // a sign that no code has
	FaultCheck  Fault = "check"  // the check letter does not fit
	FaultLayout Fault = "layout" // a reader that types with another keyboard layout
)

// CodeError is what Parse and Read return; Text is the sentence for the person.
type CodeError struct {
	Fault Fault
	Text  string
}

// Error gives the sentence.
func (e *CodeError) Error() string { return e.Text }

// NewCode draws 16 letters from random (ten bytes, all 80 bits used) and adds the check
// letter. It fails only when random does.
func NewCode(random io.Reader) (Code, error) {
	var raw [10]byte
	if _, err := io.ReadFull(random, raw[:]); err != nil {
		return "", fmt.Errorf("no random numbers could be drawn for a new code: %w", err)
	}
	body := make([]byte, 0, codeLen)
	bits, held := 0, 0
	for _, b := range raw {
		bits, held = bits<<8|int(b), held+8
		for ; held >= 5; held -= 5 {
			body = append(body, Letters[bits>>(held-5)&31])
		}
		bits &= 1<<held - 1
	}
	return Code(append(body, checkLetter(string(body)))), nil
}

// checkLetter gives the seventeenth letter of a code. With the letters t0 ... t15 as
// elements of GF(32) = GF(2)[x]/(x^5+x^2+1) and a = x (value 2), it is
//
//	c = a^16 t0 + a^15 t1 + ... + a^1 t15
//
// so that all 17 letters with the weights a^16 ... a^0 sum to zero. No weight is zero, so
// one wrong letter always shows; a has order 31, so all 17 weights differ, so any two
// letters exchanged (side by side, one apart, or further) always show, and so does a twin
// changed to another twin, because w1+w2 is not zero when w1 and w2 differ.
func checkLetter(body string) byte {
	sum := 0
	for i := 0; i < len(body); i++ {
		sum = timesX(sum) ^ strings.IndexByte(Letters, body[i])
	}
	return Letters[timesX(sum)]
}

// timesX multiplies by x in GF(32).
func timesX(v int) int {
	v <<= 1
	if v&32 != 0 {
		v ^= 0b100101
	}
	return v
}

// Valid says whether c is 17 letters whose check letter fits.
func (c Code) Valid() bool {
	if len(c) != codeLen {
		return false
	}
	for i := 0; i < codeLen; i++ {
		if strings.IndexByte(Letters, c[i]) < 0 {
			return false
		}
	}
	return checkLetter(string(c[:bodyLen])) == c[bodyLen]
}

// Groups writes the code for the eye, 7M2N-4P6R-8S0T-2W5Y-H. A code of another length is
// returned as it is.
func (c Code) Groups() string {
	if len(c) != codeLen {
		return string(c)
	}
	return strings.Join([]string{string(c[:4]), string(c[4:8]), string(c[8:12]),
		string(c[12:16]), string(c[16:])}, "-")
}

// Parse reads a code as Read does and leaves the kind away.
func Parse(text string) (Code, error) {
	code, _, err := Read(text)
	return code, err
}

// Read takes what a person typed, a camera read or a reader typed as if it were a keyboard:
// 17 letters in either case with any spaces and hyphens, O for 0, I and L for 1, or an
// address of which only the last 17 letters count. Errors are *CodeError.
func Read(text string) (Code, Kind, error) {
	prefix, body, err := lastLetters(text)
	if err != nil {
		return "", "", err
	}
	kind := kindOf(prefix)
	if kind == "" && strings.Contains(prefix, "://") {
		return "", "", foreign()
	}
	if kind == "" {
		return "", "", wrongLength(countLetters(text))
	}
	code := Code(body)
	if !code.Valid() {
		return "", "", checkFault(code, kind)
	}
	return code, kind, nil
}

// fold gives the letter a person meant, or -1.
func fold(r rune) int {
	switch r {
	case 'O', 'o':
		return 0
	case 'I', 'i', 'L', 'l':
		return 1
	}
	if r >= unicode.MaxASCII {
		return -1
	}
	return strings.IndexByte(Letters, byte(unicode.ToUpper(r)))
}

// separates says whether r may stand between letters or after them.
func separates(r rune) bool {
	return unicode.IsSpace(r) || unicode.Is(unicode.Pd, r) || r == '\u00ad' || r == '\ufeff'
}

// lastLetters walks back from the end until it has 17 letters, and gives what stands before
// them and the folded letters.
func lastLetters(text string) (string, string, error) {
	runes := []rune(strings.TrimRightFunc(text, func(r rune) bool {
		return separates(r) || r == '/'
	}))
	if len(runes) == 0 {
		return "", "", &CodeError{FaultEmpty,
			"There is no code. Scan the label, or type the 17 letters and figures on it."}
	}
	body, at, end := [codeLen]byte{}, codeLen, len(runes)
	for at > 0 && end > 0 {
		end--
		value := fold(runes[end])
		if value < 0 && !separates(runes[end]) {
			return "", "", strangeSign(runes[end], string(runes[:end]))
		}
		if value >= 0 {
			at--
			body[at] = Letters[value]
		}
	}
	if at > 0 {
		return "", "", wrongLength(codeLen - at)
	}
	return string(runes[:end]), string(body[:]), nil
}

// kindOf judges what stands before the letters: nothing, or an address that ends in D
// between two signs (a slash, or what another keyboard layout makes of it). Empty means
// that there are too many letters.
func kindOf(prefix string) Kind {
	runes := []rune(strings.ToUpper(prefix))
	if strings.IndexFunc(prefix, func(r rune) bool { return !separates(r) }) < 0 {
		return KindTyped
	}
	n := len(runes)
	if n < 3 || isLetter(runes[n-1]) || isLetter(runes[n-3]) {
		return ""
	}
	if runes[n-2] == 'D' {
		return KindScanned
	}
	return ""
}

func isLetter(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }

func countLetters(text string) int {
	n := 0
	for _, r := range text {
		if fold(r) >= 0 {
			n++
		}
	}
	return n
}

func wrongLength(n int) error {
	return &CodeError{FaultLength, fmt.Sprintf("A code has 17 letters and figures, and this has "+
		"%d. Compare with the label and type it again.", n)}
}

const layoutFix = "the reader's keyboard layout looks wrong: set the reader and this computer " +
	"to the same keyboard layout, or type the code from the label."

// strangeSign names a sign that no code has. Letters of other layouts and whole addresses
// come from readers, the rest from people.
func strangeSign(r rune, before string) error {
	if strings.Contains(before, "://") {
		return foreign()
	}
	if r == 'U' || r == 'u' {
		return &CodeError{FaultLetter,
			"No code has the letter U. Compare with the label: it may be a V or a 0."}
	}
	return &CodeError{FaultLayout, fmt.Sprintf("No code has the sign %q. If a reader typed "+
		"this, ", r) + layoutFix}
}

// foreign is for a scanned address that came through whole but is none of ours.
func foreign() error {
	return &CodeError{FaultLetter, "This address is not on any label of this clinic. " +
		"Scan the label on the device."}
}

// checkFault tells a wrong layout from a wrong letter. An address comes from a machine, so
// there a wrong check letter can only be the layout; typed letters are tried with the pairs
// that German and French layouts exchange.
func checkFault(c Code, kind Kind) error {
	if kind != KindTyped || c.exchanged("YZZY").Valid() || c.exchanged("AQQAWZZW").Valid() {
		return &CodeError{FaultLayout, "The check letter does not fit, and " + layoutFix}
	}
	return &CodeError{FaultCheck, "One letter is wrong: the last one does not fit the others. " +
		"Compare with the label and type it again."}
}

// exchanged replaces letters by pairs, old before new.
func (c Code) exchanged(pairs string) Code {
	return Code(strings.NewReplacer(strings.Split(pairs, "")...).Replace(string(c)))
}
