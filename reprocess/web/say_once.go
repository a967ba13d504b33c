package web

import "slices"

// saidOnce takes out of the notes of all rows what every row says, so that a list says it once on
// top. A single row keeps its own.
func saidOnce(rows []ruledLine) (says []string, rest []ruledLine) {
	if len(rows) < 2 {
		return nil, rows
	}
	for _, note := range rows[0].Notes {
		if !slices.ContainsFunc(rows, func(r ruledLine) bool { return !slices.Contains(r.Notes, note) }) {
			says = append(says, note)
		}
	}
	rest = slices.Clone(rows)
	for i := range rest {
		rest[i].Notes = slices.DeleteFunc(slices.Clone(rest[i].Notes), func(note string) bool {
			return slices.Contains(says, note)
		})
	}
	return says, rest
}

// listOnce adds a list whose common notes are said once.
func (p *officePage) listOnce(heading, none string, rows ...ruledLine) {
	says, rest := saidOnce(rows)
	p.Blocks = append(p.Blocks, block{List: &ruled{Heading: heading, Rows: rest, None: none,
		Says: says}})
}

// listsByFirstNote adds one list for each first note: the kits of one cause stand together. The
// order of the rows, and of the causes by their first row, stays.
func (p *officePage) listsByFirstNote(heading, none string, rows ...ruledLine) {
	var causes []string
	by := map[string][]ruledLine{}
	for _, r := range rows {
		cause := r.Notes[0]
		if by[cause] == nil {
			causes = append(causes, cause)
		}
		by[cause] = append(by[cause], r)
	}
	if len(causes) == 0 {
		p.list(heading, none)
	}
	for i, cause := range causes {
		if i > 0 {
			heading = ""
		}
		p.listOnce(heading, none, by[cause]...)
	}
}
