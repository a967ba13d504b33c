package figures

import (
	"cmp"
	"slices"

	"handback/reprocess"
)

// Returns is how loans due in the period came back.
type Returns struct {
	Due           int // due in the period and not later than yesterday
	OnTime, Later int // came back by the day, or after it
	Still         int // not back yet
	After         int // went out without a record, entered after the fact, whenever due
}

// Returns counts the loans of the choice by their due day. A loan that was undone never was; a
// ward returns its own loan, not those of its wearers.
func (f *Facts) Returns(c Choice) Returns {
	var r Returns
	from, to := reprocess.DateIn(c.From, c.Zone), reprocess.DateIn(c.end(), c.Zone)
	for _, l := range f.Loans {
		if l.Undone || !f.loan(c, l) {
			continue
		}
		r.After += one(l.After && c.within(l.Out))
		if l.OnWard() || l.Due == "" || l.Due < from || l.Due >= to {
			continue
		}
		r.Due++
		switch {
		case l.Back == 0:
			r.Still++
		case reprocess.DateIn(l.Back, c.Zone) > l.Due:
			r.Later++
		default:
			r.OnTime++
		}
	}
	return r
}

// Refusals are refused acts of one kind by one rule.
type Refusals struct {
	Act  reprocess.Act
	Rule string
	N    int
}

// Refusals counts the refusals of the choice, the most frequent first.
func (f *Facts) Refusals(c Choice) []Refusals {
	counts := map[Refusals]int{}
	for _, r := range f.Refused {
		if c.within(r.At) && (c.Model == "" || r.Kit != "" && f.kit(c, r.Kit)) {
			counts[Refusals{Act: r.Act, Rule: r.Rule}]++
		}
	}
	var list []Refusals
	for k, n := range counts {
		k.N = n
		list = append(list, k)
	}
	slices.SortFunc(list, func(a, b Refusals) int {
		return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(a.Act, b.Act), cmp.Compare(a.Rule, b.Rule))
	})
	return list
}

// Limit is how near a piece is to the number of cycles its maker allows.
type Limit struct {
	Piece         string
	Cycles, Limit int
	AtLeast       bool // earlier cycles are not known
}

// Limits lists the pieces in use of models with a limit, the nearest to it first. open counts
// the pieces whose maker states none.
func (f *Facts) Limits(c Choice) (list []Limit, open int) {
	for id, p := range f.World.Pieces {
		m := f.World.Models[p.Model]
		switch {
		case p.State == reprocess.Retired || !f.piece(c, id):
		case m == nil || m.CycleLimit == 0:
			open++
		default:
			list = append(list, Limit{id, p.Cycles, m.CycleLimit, p.AtLeast})
		}
	}
	slices.SortFunc(list, func(a, b Limit) int {
		return cmp.Or(cmp.Compare(b.Cycles*a.Limit, a.Cycles*b.Limit), cmp.Compare(a.Piece, b.Piece))
	})
	return list, open
}

// Held is how often a reason put a piece on hold.
type Held struct {
	Reason string
	N      int
}

// Holds counts the holds set within the choice by their reasons, the most frequent first.
func (f *Facts) Holds(c Choice) []Held {
	counts := map[string]int{}
	for piece, list := range f.spans().holds {
		for _, x := range list {
			if c.within(x.from) && f.piece(c, piece) {
				counts[x.reason]++
			}
		}
	}
	var list []Held
	for reason, n := range counts {
		list = append(list, Held{reason, n})
	}
	slices.SortFunc(list, func(a, b Held) int {
		return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(a.Reason, b.Reason))
	})
	return list
}
