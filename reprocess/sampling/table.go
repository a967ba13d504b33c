package sampling

import "slices"

// reviewRates are the columns of the record-review table, in percent.
var reviewRates = []int{30, 25, 20, 15, 10, 5}

// review is the sample-size table of the US regulator's inspection guide (record review,
// withdrawn 2 February 2026), by confidence and by records found bad, 0 to 2. It is two-sided
// and in its right-hand columns differs from the exact binomial, so it is copied, never
// recomputed.
var review = map[int][3][6]int{
	95: {{11, 13, 17, 23, 35, 72}, {17, 20, 26, 35, 52, 115}, {22, 27, 34, 46, 72, 157}},
	99: {{15, 19, 24, 35, 51, 107}, {22, 27, 34, 47, 73, 161}, {27, 34, 43, 59, 90, 190}},
}

// RecordReview looks the table up: confidence 95 or 99, rate one of 30, 25, 20, 15, 10 and 5
// percent, found 0 to 2. Anything else is not in the table.
func RecordReview(confidence, rate, found int) (n int, ok bool) {
	rows, ok := review[confidence]
	column := slices.Index(reviewRates, rate)
	if !ok || column < 0 || found < 0 || found >= len(rows) {
		return 0, false
	}
	return rows[found][column], true
}
