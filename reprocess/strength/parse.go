package strength

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"
)

// longest is the most characters a quantity may have; labels stay far below it.
const longest = 64

// clip keeps a quoted input short enough for one line.
func clip(s string) string {
	if r := []rune(s); len(r) > longest {
		return string(r[:longest]) + "…"
	}
	return s
}

// strengthUnits are the spellings understood, after lower-casing and taking out spaces.
// Each has one meaning only; what may mean two things is not here ("70°", "proof").
var strengthUnits = map[string]Basis{
	"%v/v": ByVolume, "%(v/v)": ByVolume, "%vol": ByVolume, "%(vol)": ByVolume,
	"%vol.": ByVolume, "vol%": ByVolume, "vol.%": ByVolume, "vol-%": ByVolume,
	"vol.-%": ByVolume, "%byvolume": ByVolume, "%abv": ByVolume,
	"%w/w": ByMass, "%(w/w)": ByMass, "%m/m": ByMass, "%(m/m)": ByMass, "%wt": ByMass,
	"wt%": ByMass, "wt.%": ByMass, "wt-%": ByMass, "%byweight": ByMass, "%bymass": ByMass,
	"g/100g": Per100Grams, "gper100g": Per100Grams,
	"g/100ml": Per100Millis, "gper100ml": Per100Millis, "%w/v": Per100Millis,
	"%(w/v)": Per100Millis, "%m/v": Per100Millis, "%(m/v)": Per100Millis,
	"%": Unstated,
}

const strengthForms = "write a number with %v/v, %w/w, g/100g or g/100mL, such as 70%v/v" +
	", or % alone if the label does not say which"

// ParseStrength reads a strength with its basis: "70%v/v", "62,4 % (w/w)", "70 %vol",
// "95.1..96.9%v/v". Decimal point and comma, ASCII digits only. A bare "%" is Unstated;
// no unit, signs, exponents, NaN, anything over 100 and anything ambiguous are refused.
func ParseStrength(text string) (Figure, error) {
	return parseFigure(text, strengthForms)
}

// parseFigure is ParseStrength with the words that say how it is written.
func parseFigure(text, forms string) (Figure, error) {
	rest, err := prepare(text)
	if err != nil {
		return Figure{}, err
	}
	low, rest, err := number(rest, text)
	if err != nil {
		return Figure{}, fmt.Errorf("%w; %s", err, forms)
	}
	high := low
	if after, isRange := cutRange(rest); isRange {
		if high, rest, err = number(after, text); err != nil {
			return Figure{}, fmt.Errorf("%w; a range is written 95.1..96.9%%v/v", err)
		}
	}
	basis, err := strengthUnit(rest, text, forms)
	if err != nil {
		return Figure{}, err
	}
	f := Figure{low, high, basis}
	return f, f.check()
}

// check refuses figures that no label can mean. NaN fails every comparison below.
func (f Figure) check() error {
	if f.Basis < ByVolume || f.Basis > Unstated {
		return errors.New("the strength has no basis; " + strengthForms)
	}
	if f.Low > f.High {
		return fmt.Errorf("the range %s runs backwards; write the lower figure first", f)
	}
	if !(f.Low >= 0 && f.High <= 100) {
		return fmt.Errorf("%s is not between 0 and 100; check the figure on the label", f)
	}
	return nil
}

func cutRange(s string) (rest string, ok bool) {
	s = strings.TrimLeft(s, " ")
	for _, mark := range []string{"..", "–", "-"} {
		if after, found := strings.CutPrefix(s, mark); found {
			return strings.TrimLeft(after, " "), true
		}
	}
	return s, false
}

func strengthUnit(rest, text, forms string) (Basis, error) {
	unit := squeeze(rest)
	if b, ok := strengthUnits[unit]; ok {
		return b, nil
	}
	switch {
	case unit == "":
		return 0, fmt.Errorf("%q has no unit; %s", clip(text), forms)
	case strings.HasPrefix(unit, "°") || strings.HasPrefix(unit, "º"):
		return 0, fmt.Errorf("%q in degrees may mean several scales; %s", clip(text), forms)
	case looksLikeNumber(unit):
		return 0, fmt.Errorf("%q is not one plain number with a unit; %s", clip(text), forms)
	}
	return 0, fmt.Errorf("the unit %q is not understood; %s", clip(rest), forms)
}

// looksLikeNumber catches exponents, hexadecimal, underscores and second numbers.
func looksLikeNumber(unit string) bool {
	return strings.ContainsRune("0123456789.,_ex+-", rune(unit[0]))
}

// squeeze lower-cases and takes out spaces, but never one that stands between two digits:
// "g/1 00g" stays unknown.
func squeeze(s string) string {
	s = strings.ToLower(strings.Trim(s, " "))
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] == ' ' && !(isDigit(s[i-1]) && isDigit(s[i+1])) {
			continue
		}
		b.WriteByte(s[i])
	}
	return b.String()
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// prepare refuses digits and signs of other scripts, turns the no-break spaces of
// typography into plain ones and trims the ends.
func prepare(text string) (string, error) {
	if len(text) > longest {
		return "", fmt.Errorf("%q is too long for a quantity; write one number and its unit", clip(text))
	}
	for _, r := range text {
		foreign := r > unicode.MaxASCII && unicode.IsDigit(r)
		if foreign || (r >= 0xFF01 && r <= 0xFF5E) || (r >= 0x066A && r <= 0x066C) {
			return "", fmt.Errorf("%q uses signs of another script; write it with the digits 0 to 9, "+
				"a point and %%", text)
		}
		if r == unicode.ReplacementChar || unicode.IsControl(r) {
			return "", fmt.Errorf("%q holds characters that cannot be read; type it again", text)
		}
	}
	plain := strings.NewReplacer("\u00a0", " ", "\u202f", " ", "\u2009", " ").Replace(text)
	return strings.Trim(plain, " "), nil
}

// number takes one plain number from the front of s; text is the whole input, to quote.
func number(s, text string) (value float64, rest string, err error) {
	if strings.HasPrefix(s, "-") || strings.HasPrefix(s, "−") {
		return 0, "", fmt.Errorf("%q is negative", clip(text))
	}
	digits, rest := cutNumber(s)
	if digits == "" {
		return 0, "", fmt.Errorf("%q does not begin with a plain number", clip(text))
	}
	value, err = toFloat(digits)
	return value, rest, err
}

// toFloat reads digits that cutNumber has cut; they cannot be out of range.
func toFloat(digits string) (float64, error) {
	return strconv.ParseFloat(strings.Replace(digits, ",", ".", 1), 64)
}

// cutNumber cuts digits, optionally followed by a point or comma and more digits.
func cutNumber(s string) (digits, rest string) {
	n := 0
	for n < len(s) && isDigit(s[n]) {
		n++
	}
	if n > 0 && n+1 < len(s) && (s[n] == '.' || s[n] == ',') && isDigit(s[n+1]) {
		n++
		for n < len(s) && isDigit(s[n]) {
			n++
		}
	}
	return s[:n], s[n:]
}

// ParsePart reads "ethanol=70%v/v".
func ParsePart(text string) (Part, error) {
	name, figure, ok := strings.Cut(text, "=")
	if !ok {
		return Part{}, fmt.Errorf("%q is not NAME=STRENGTH; write for example ethanol=70%%v/v",
			clip(text))
	}
	alcohol, err := ParseAlcohol(name)
	if err != nil {
		return Part{}, err
	}
	f, err := ParseStrength(figure)
	if err != nil {
		return Part{}, fmt.Errorf("%s: %w", name, err)
	}
	return Part{alcohol, f}, nil
}
