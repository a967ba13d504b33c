package spectrum

import "fmt"

// proof is what one claim takes in one test standard: every organism at the pass mark.
type proof struct {
	standard  string
	token     Token
	organisms []string
	lg        float64
}

// proofs follow the published scopes of EN 13727, EN 14476, EN 16615 and EN 17126; EN 13624,
// EN 14348 and EN 16777 are from memory. Pass marks are reductions in powers of ten (lg).
var proofs = []proof{
	{"EN 13727", BAC, []string{"P. aeruginosa", "S. aureus", "E. hirae"}, 5},
	{"EN 13624", YEA, []string{"C. albicans"}, 4},
	{"EN 13624", FUN, []string{"C. albicans", "A. brasiliensis"}, 4},
	{"EN 14348", TUB, []string{"M. terrae"}, 4},
	{"EN 14348", MYC, []string{"M. terrae", "M. avium"}, 4},
	{"EN 14476", VirE, []string{"vaccinia"}, 4},
	{"EN 14476", VirL, []string{"adeno", "murine noro"}, 4},
	{"EN 14476", VirF, []string{"polio", "adeno", "murine noro"}, 4},
	{"EN 16615", BAC, []string{"P. aeruginosa", "S. aureus", "E. hirae"}, 5},
	{"EN 16615", YEA, []string{"C. albicans"}, 4},
	{"EN 16777", VirE, []string{"vaccinia"}, 4},
	{"EN 16777", VirL, []string{"adeno", "murine noro"}, 4},
	{"EN 17126", SPO, []string{"C. difficile", "B. subtilis", "B. cereus"}, 4},
}

// FromTest tells which claims a test report earns: lg is the measured reduction of each
// organism at one contact time. An organism that was not tested counts as not reduced.
func FromTest(standard string, lg map[string]float64) ([]Token, error) {
	known, out := false, []Token{}
	for _, p := range proofs {
		if p.standard != standard {
			continue
		}
		known = true
		if p.met(lg) {
			out = append(out, p.token)
		}
	}
	if !known {
		return nil, fmt.Errorf("the test standard %q is not known here; enter the claims of the"+
			" label instead", standard)
	}
	return sorted(out), nil
}

func (p *proof) met(lg map[string]float64) bool {
	for _, o := range p.organisms {
		if !(lg[o] >= p.lg) {
			return false
		}
	}
	return true
}
