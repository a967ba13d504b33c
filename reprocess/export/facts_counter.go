package export

import "handback/reprocess"

// handOut adds the short list that was gone through before a kit left, and the cell that was
// fitted there.
func (f *facts) handOut(v reprocess.HandedOut) {
	for _, check := range v.Checks {
		f.add(answerTexts, check.Ask+"="+check.Answer)
		f.add(reasons, check.Why, check.Note)
	}
	f.add(lotIDs, v.Cell, v.Pads)
}
