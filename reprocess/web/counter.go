package web

import "handback/reprocess"

// counterLines lead to what else the counter can do with a kit as it stands.
func (v *Visit) counterLines(w *reprocess.World, k *reprocess.Kit, released bool) []Line {
	var all []Line
	add := func(act reprocess.Act, path, words string) {
		if acts(act).lets(v.Person) {
			all = append(all, Line{To: deskAt(k.ID) + "/" + path, Words: words})
		}
	}
	l := w.Loans[k.Loan]
	if released && len(w.Settings.WardList()) > 0 {
		add(reprocess.ActIssue, "ward", "A ward keeps it")
	}
	all = append(all, v.wardLines(l)...)
	if l.Open() && !l.OnWard() {
		add(reprocess.ActSwap, "swap", "Swap it for another kit")
	}
	if reprocess.WornOpen(w, k) != nil {
		add(reprocess.ActWardReturn, "worn-by", "Say by how many it was worn on "+l.Ward)
	}
	if !k.Loss.Open() && !k.Retired {
		add(reprocess.ActMissing, "missing", "It is missing")
	}
	return all
}

// wardLines lead to who puts on, or gave back, a kit that a ward keeps.
func (v *Visit) wardLines(l *reprocess.Loan) []Line {
	switch {
	case !l.Open():
	case l.OnWard() && acts(reprocess.ActWardReturn).lets(v.Person):
		return []Line{{To: deskAt(l.Kit) + "/ward-back", Words: "The wearer gave it back on " + l.Ward}}
	case l.ByWard() && l.Worn == 0 && acts(reprocess.ActWardWear).lets(v.Person):
		return []Line{{To: deskAt(l.Kit) + "/worn", Words: "Somebody wears it on " + l.Ward}}
	}
	return nil
}

// keeping is the loan that a return would end: a ward's, when a wearer there has it.
func keeping(w *reprocess.World, k *reprocess.Kit) *reprocess.Loan {
	l := w.Loans[k.Loan]
	if l.OnWard() && w.Loans[l.Under] != nil {
		return w.Loans[l.Under]
	}
	return l
}

// keeperTerms says which ward keeps a loan, and whom to ring there.
func keeperTerms(w *reprocess.World, l *reprocess.Loan) []Term {
	if l.Ward == "" {
		return nil
	}
	terms := []Term{{"Kept by", l.Ward}}
	if l.OnWard() {
		terms[0].Term = "Worn on"
	}
	if ward, _ := w.Settings.Ward(l.Ward); ward.Ring != "" {
		terms = append(terms, Term{"Ring", ward.Ring})
	}
	return terms
}

// ringWords says, in a list of what is overdue, which ward has it and whom to ring.
func ringWords(w *reprocess.World, l *reprocess.Loan) string {
	if l.Ward == "" {
		return ""
	}
	if ward, _ := w.Settings.Ward(l.Ward); ward.Ring != "" {
		return " On " + l.Ward + ": ring " + ward.Ring + "."
	}
	return " On " + l.Ward + "; whom to ring there is not entered."
}
