package lookback

import "slices"

// Difference is what a look-back answers anew against what was frozen. Every list is in order
// of text; nothing that either answer names and that differs is left out.
type Difference struct {
	Lists   []ListDifference // those that differ, in the order of Lists
	Changed []Change         // named by both, and the record says something else of it now
	Before  []string         // unresolved then
	Now     []string         // unresolved now
	Wearers [2]int           // known wearers, then and now
	Unknown [2]int           // exposed loans without a known wearer, then and now
}

// ListDifference is one list: what came to it and what is no longer on it.
type ListDifference struct {
	Name       string
	Came, Gone []string
}

// Change is one thing of which the record says something else now.
type Change struct{ Then, Now Fact }

// Corrected tells whether records of a cycle were corrected or taken back in between.
func (c Change) Corrected() bool { return c.Now.Changes != c.Then.Changes }

// Same tells whether nothing differs.
func (d Difference) Same() bool {
	return len(d.Lists) == 0 && len(d.Changed) == 0 && d.Wearers[0] == d.Wearers[1] &&
		d.Unknown[0] == d.Unknown[1]
}

// List finds the difference of one list; the zero one when there is none.
func (d Difference) List(name string) ListDifference {
	for _, l := range d.Lists {
		if l.Name == name {
			return l
		}
	}
	return ListDifference{Name: name}
}

// Compare holds an answer against a frozen one. Facts that only one of them has say nothing
// has changed: what came and went is told by the lists.
func Compare(then, now Frozen) Difference {
	d := Difference{Before: then.Result.Unresolved, Now: now.Result.Unresolved,
		Wearers: [2]int{then.Result.Wearers, now.Result.Wearers},
		Unknown: [2]int{then.Unknown, now.Unknown}}
	after := now.Result.Lists()
	for i, l := range then.Result.Lists() {
		x := ListDifference{l.Name, without(*after[i].IDs, *l.IDs), without(*l.IDs, *after[i].IDs)}
		if len(x.Came)+len(x.Gone) > 0 {
			d.Lists = append(d.Lists, x)
		}
	}
	facts := map[[2]string]Fact{}
	for _, f := range now.Facts {
		facts[[2]string{f.Kind, f.ID}] = f
	}
	for _, was := range then.Facts {
		is, found := facts[[2]string{was.Kind, was.ID}]
		if found && (is.State != was.State || is.Changes != was.Changes || is.Kit != was.Kit ||
			is.Cycle != was.Cycle || is.Loan != was.Loan) {
			d.Changed = append(d.Changed, Change{was, is})
		}
	}
	return d
}

// without are those of the first list that the second lacks.
func without(list, other []string) []string {
	var rest []string
	for _, id := range list {
		if !slices.Contains(other, id) {
			rest = append(rest, id)
		}
	}
	return rest
}
