// Package wear plans what a kit must hold so that it lasts a planned time on the body:
// electrode sets with their change days, and cells with run time and acceptance by voltage.
// The figures are planning values, replaced by the maker's or the clinic's own wherever there
// are any. The package knows no clock, no files and no network.
package wear

import (
	"fmt"
	"strconv"
	"strings"
)

// Days is a length of time on the body, in days, possibly with a fraction.
type Days float64

// Microamps is a current in µA.
type Microamps int64

// MicroampHours is a capacity in µAh.
type MicroampHours int64

// Derating is the share of the printed capacity that is counted on, in millionths.
type Derating int64

// Millivolts is an open or loaded voltage of one cell, mV; negative when reversed.
type Millivolts int

const million = 1_000_000

// maxMV bounds a reading of one cell; the product of nine digits and 1000 still fits.
const maxMV = 100_000

// parseMillionths reads one plain decimal number, point or comma, at most six places, as
// millionths. Signs, exponents, grouping and digits of other scripts are refused.
func parseMillionths(s string) (int64, bool) {
	whole, part, cut := strings.Cut(strings.Replace(s, ",", ".", 1), ".")
	if whole == "" || len(whole) > 9 || len(part) > 6 || cut && part == "" {
		return 0, false
	}
	if strings.Trim(whole+part, "0123456789") != "" {
		return 0, false
	}
	n, err := strconv.ParseInt(whole+part+strings.Repeat("0", 6-len(part)), 10, 64)
	return n, err == nil
}

// ParseDays reads a number of days above 0, such as 14 or 3.5.
func ParseDays(s string) (Days, error) {
	n, ok := parseMillionths(s)
	if !ok || n == 0 {
		return 0, fmt.Errorf("%q is not a number of days above 0; write it like 14 or 3.5", s)
	}
	return Days(float64(n) / million), nil
}

// ParseMilliamps reads a current above 0 that was given in mA, such as 2.0.
func ParseMilliamps(s string) (Microamps, error) {
	n, ok := parseMillionths(s)
	if !ok || n < 1000 || n%1000 != 0 {
		return 0, fmt.Errorf("%q is not a current in mA of at least 0.001; write it like 2.0", s)
	}
	return Microamps(n / 1000), nil
}

// ParseMilliampHours reads a capacity above 0 that was given in mAh, such as 1000.
func ParseMilliampHours(s string) (MicroampHours, error) {
	n, ok := parseMillionths(s)
	if !ok || n < 1000 || n%1000 != 0 {
		return 0, fmt.Errorf("%q is not a capacity in mAh above 0; write it like 1000", s)
	}
	return MicroampHours(n / 1000), nil
}

// ParseDerating reads a share above 0 and up to 1, such as 0.8.
func ParseDerating(s string) (Derating, error) {
	n, ok := parseMillionths(s)
	if !ok || n < 1 || n > million {
		return 0, fmt.Errorf("%q is not a derating above 0 and up to 1; write it like 0.8", s)
	}
	return Derating(n), nil
}

// ParseVolts reads a voltage with its unit, such as 1.52V, 1,52 V or 1520mV; the unit is
// mandatory and anything finer than a millivolt is refused. A minus marks a reversed cell.
func ParseVolts(s string) (Millivolts, error) {
	bad := fmt.Errorf("%q is not a voltage; write it with its unit like 1.52V or 1520mV", s)
	text, negative := strings.CutPrefix(strings.TrimSpace(s), "-")
	perUnit := int64(1000)
	text, found := strings.CutSuffix(text, "mV")
	if found {
		perUnit = 1
	} else if text, found = strings.CutSuffix(text, "V"); !found {
		return 0, bad
	}
	n, ok := parseMillionths(strings.TrimSuffix(text, " "))
	if !ok || n*perUnit > maxMV*million || n*perUnit%million != 0 {
		return 0, bad
	}
	mv := Millivolts(n * perUnit / million)
	if negative {
		mv = -mv
	}
	return mv, nil
}
