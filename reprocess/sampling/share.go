// Package sampling tells an auditor how many records to read, draws them so that anyone can
// draw the same ones again, and judges what was found: sample sizes, exact intervals, control
// limits, yields and percentiles. The package knows no clock, no files and no network.
package sampling

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"
)

// Share is a part of a whole in units of 10^-8, exact; above 0 and below Whole.
type Share int64

// Whole is the share of everything, 100 %.
const Whole Share = 100_000_000

// Percent is one hundredth of the whole.
const Percent = Whole / 100

// ParseShare reads a percentage above 0 and below 100 with its sign, such as 5%, 99.9% or
// 0,5 %; at most six decimal places. The sign is mandatory: 0.05 and 5 could be the same.
func ParseShare(s string) (Share, error) {
	bad := fmt.Errorf("%q is not a percentage above 0 and below 100; write it like 5%%", s)
	figure, found := strings.CutSuffix(s, "%")
	figure = strings.TrimSuffix(figure, " ")
	whole, part, cut := strings.Cut(strings.Replace(figure, ",", ".", 1), ".")
	if !found || whole == "" || len(whole) > 3 || len(part) > 6 || cut && part == "" {
		return 0, bad
	}
	if strings.Trim(whole+part, "0123456789") != "" {
		return 0, bad
	}
	n, err := strconv.ParseInt(whole+part+strings.Repeat("0", 6-len(part)), 10, 64)
	if err != nil || Share(n).check() != nil {
		return 0, bad
	}
	return Share(n), nil
}

// String prints the shortest percentage that ParseShare reads as the same share.
func (s Share) String() string {
	text := fmt.Sprintf("%d.%06d", s/Percent, s%Percent)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".") + "%"
}

// Float is the share as a number from 0 to 1.
func (s Share) Float() float64 { return float64(s) / float64(Whole) }

func (s Share) rat() *big.Rat { return big.NewRat(int64(s), int64(Whole)) }

func (s Share) check() error {
	if s <= 0 || s >= Whole {
		return fmt.Errorf("a rate or a confidence must be above 0%% and below 100%%")
	}
	return nil
}
