package reprocess

// What became of single-use parts that came back: electrodes, opened packs, spare cells.
const (
	LeftDiscarded = "discarded"
	LeftNone      = "none"
)

// What went along to be used up and can be told as not come back: nobody waits for it, for the
// next wearer gets new ones, but small round cells are counted out and in.
const (
	ShortElectrodes = "electrodes"
	ShortCells      = "cells"
)

// Bounds of what is told as missing; more or longer is a slip of the finger.
const (
	mostParts    = 24
	longestPart  = 40
	mostShortOut = 2
)

// checkLeft reads the answer; an empty one is what older returns and quick ones have.
func (r Return) checkLeft() *Problem {
	if !contains([]string{"", LeftDiscarded, LeftNone, NotAsked}, r.Left) {
		return invalid("answer", "Choose thrown away, none left or not asked.",
			"%q does not say what became of single-use parts.", r.Left)
	}
	if len(r.Short) > mostShortOut {
		return invalid("answer", "Tap each once.", "One thing is told twice as not come back.")
	}
	for i, what := range r.Short {
		if what != ShortElectrodes && what != ShortCells || contains(r.Short[:i], what) {
			return invalid("answer", "Choose spare electrodes or spare cells, each once.",
				"%q is nothing that goes along to be used up.", what)
		}
	}
	return nil
}

// checkParts reads what is told as missing; each is a short name without a person in it.
func (r *Return) checkParts() *Problem {
	if len(r.Parts) > mostParts {
		return invalid("parts", "Tap only what is missing.", "%d missing parts cannot be right.",
			len(r.Parts))
	}
	var parts []string
	for _, part := range r.Parts {
		text, p := need("A missing part", part, longestPart)
		if p != nil {
			return p
		}
		parts = append(parts, text)
	}
	r.Parts = parts
	return nil
}

// ShortOf tells whether a return was told without something that goes along to be used up.
func (r *Return) ShortOf(what string) bool { return r != nil && contains(r.Short, what) }
