package labels

import (
	"fmt"
	"time"
)

// LabelPDF prints one label on a page of its size.
func LabelPDF(l Label, s Style, date time.Time) ([]byte, error) {
	return RollPDF([]Label{l}, s, date)
}

// RollPDF prints labels for a roll, one a page.
func RollPDF(all []Label, s Style, date time.Time) ([]byte, error) {
	if err := checkCount(len(all)); err != nil {
		return nil, err
	}
	doc := newDocument(date)
	for i, l := range all {
		d, err := drawLabel(l, s)
		if err != nil {
			return nil, numbered(err, i, len(all))
		}
		doc.page(d.width, d.height, Correction{})
		doc.place(d, 0, 0)
	}
	return doc.bytes()
}

// MostNumber is the last number a blank label can have, and the last that fits all forms.
const MostNumber = 9999

// Blanks makes numbered labels to be bound later, for RollPDF or SheetPDF.
func Blanks(first int, codes []Code) ([]Label, error) {
	if err := checkCount(len(codes)); err != nil {
		return nil, err
	}
	if first < 1 || first+len(codes)-1 > MostNumber {
		return nil, fmt.Errorf("blank labels are numbered 1 to %d: these would be %d to %d",
			MostNumber, first, first+len(codes)-1)
	}
	all := make([]Label, len(codes))
	for i, c := range codes {
		all[i] = BlankLabel{Code: c, Number: first + i}
	}
	return all, nil
}
