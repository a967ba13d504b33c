package reprocess

import "strings"

// UDI is what a GS1 element string on the maker's mark says; other issuing agencies' strings
// are kept as read. Source: GS1 syntax dictionary, AIs 01, 10, 11, 17, 21, 240, 250.
type UDI struct {
	GTIN, Lot, Made, Expires, Serial string
}

// fnc1 ends a field of variable length; readers send it as GS.
const fnc1 = "\x1d"

// aiFixed gives the length of fields that need no separator; aiVariable the greatest length.
var (
	aiFixed    = map[string]int{"01": 14, "11": 6, "17": 6}
	aiVariable = map[string]int{"10": 20, "21": 20, "240": 30, "250": 30}
)

// checkUDI keeps a UDI in characters that can be printed. A string that is a GS1 element string
// must be a right one and is kept in its printed form, (01)...(21)..., because the separator is
// a control character; strings of other agencies (they do not begin with 01 or a GS1 prefix)
// are kept unread.
func checkUDI(text string) (string, *Problem) {
	text = strings.TrimSpace(text)
	gs1 := looksGS1(text)
	if len(text) > 200 || strings.ContainsFunc(text, func(r rune) bool {
		return r < 0x20 && !(gs1 && string(r) == fnc1) || r == 0x7f
	}) {
		return "", invalid("udi", "Scan the maker's mark again.", "That cannot be a UDI.")
	}
	if !gs1 {
		return text, nil
	}
	if _, p := ParseUDI(text); p != nil {
		return "", p
	}
	return gs1Printed(text)
}

// gs1Printed writes a right element string with its AIs in brackets. A value with a bracket of
// its own could not be read back.
func gs1Printed(text string) (string, *Problem) {
	var b strings.Builder
	for rest := gs1Plain(text); rest != ""; {
		ai, value, more, ok := nextField(rest)
		if !ok || strings.ContainsAny(value, "()") {
			return "", invalid("udi", "Leave it empty, and type the serial from the plate.",
				"This UDI holds brackets that cannot be kept apart.")
		}
		b.WriteString("(" + ai + ")" + value)
		rest = strings.TrimPrefix(more, fnc1)
	}
	return b.String(), nil
}

func looksGS1(text string) bool {
	t := gs1Plain(text)
	return strings.HasPrefix(t, "01") && len(t) >= 16
}

// gs1Plain strips the symbology identifier and the brackets of the printed form; the brackets
// end fields as the separator does.
func gs1Plain(text string) string {
	for _, id := range []string{"]d2", "]Q3", "]C1"} {
		text = strings.TrimPrefix(text, id)
	}
	if !strings.HasPrefix(text, "(") {
		return strings.TrimPrefix(text, fnc1)
	}
	var b strings.Builder
	for i, part := range strings.Split(text, "(") {
		if i == 0 {
			continue
		}
		ai, value, _ := strings.Cut(part, ")")
		if i > 1 {
			b.WriteString(fnc1)
		}
		b.WriteString(ai + value)
	}
	return b.String()
}

// ParseUDI reads a GS1 element string and checks the check digit of the GTIN.
func ParseUDI(text string) (UDI, *Problem) {
	var u UDI
	rest := gs1Plain(text)
	for rest != "" {
		ai, value, more, ok := nextField(rest)
		if !ok || !u.set(ai, value) {
			return UDI{}, invalid("udi", "Scan the maker's mark again, or leave it empty.",
				"This UDI cannot be read at %q.", clip(rest))
		}
		rest = strings.TrimPrefix(more, fnc1)
	}
	if len(u.GTIN) != 14 || gs1CheckDigit(u.GTIN[:13]) != u.GTIN[13] {
		return UDI{}, invalid("udi", "Scan the maker's mark again.",
			"The check digit of the UDI's number %q does not fit.", u.GTIN)
	}
	return u, nil
}

// nextField cuts one field off: its AI, its value and what follows.
func nextField(s string) (ai, value, rest string, ok bool) {
	for n := 2; n <= 3 && n <= len(s); n++ {
		if size, fixed := aiFixed[s[:n]]; fixed {
			if len(s) < n+size {
				return "", "", "", false
			}
			return s[:n], s[n : n+size], s[n+size:], true
		}
		if most, variable := aiVariable[s[:n]]; variable {
			value, rest, _ = strings.Cut(s[n:], fnc1)
			return s[:n], value, rest, value != "" && len(value) <= most
		}
	}
	return "", "", "", false
}

func (u *UDI) set(ai, value string) bool {
	field := map[string]*string{"01": &u.GTIN, "10": &u.Lot, "11": &u.Made, "17": &u.Expires,
		"21": &u.Serial}[ai]
	if field == nil {
		return true // 240, 250: further ids, kept only in the string
	}
	if *field != "" || (ai != "10" && ai != "21" && !digits(value)) {
		return false
	}
	*field = value
	return true
}

func digits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// gs1CheckDigit is modulo 10 with weights 3 and 1 from the right (GS1 General Specifications).
func gs1CheckDigit(body string) byte {
	sum := 0
	for i := range len(body) {
		d := int(body[len(body)-1-i] - '0')
		if i%2 == 0 {
			d *= 3
		}
		sum += d
	}
	return byte('0' + (10-sum%10)%10)
}

func clip(s string) string {
	if len(s) > 24 {
		return s[:24] + "…"
	}
	return s
}
