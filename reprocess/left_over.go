package reprocess

// What became of single-use parts that came back: electrodes, opened packs, spare cells.
const (
	LeftDiscarded = "discarded"
	LeftNone      = "none"
)

// checkLeft reads the answer; an empty one is what older returns and quick ones have.
func (r Return) checkLeft() *Problem {
	if !contains([]string{"", LeftDiscarded, LeftNone, NotAsked}, r.Left) {
		return invalid("answer", "Choose thrown away, none left or not asked.",
			"%q does not say what became of single-use parts.", r.Left)
	}
	return nil
}
