package web

import (
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/spectrum"
)

// everyReturn is the address of what every return needs besides the procedure's own claims.
const everyReturn = "every-return"

// claimRoutes are the pages of the policy: which claims which return needs.
func claimRoutes() []Route {
	sets := acts(reprocess.ActPolicy)
	return []Route{
		office(get, "/claims", signedIn, showClaims),
		office(get, "/claims/:flag", sets, showClaimRow),
		office(post, "/claims/:flag", sets, setClaimRow),
	}
}

// claimRow is one line of the policy with the default beside what is in force.
type claimRow struct {
	flag, about   string
	now, standard []string
	stop          bool
	remark        string
}

// claimRows are every return, then the flags in the order pages offer them.
func claimRows(p *reprocess.Policy) []claimRow {
	every := claimRow{flag: everyReturn, about: "every return, besides the claims of its procedure"}
	if p != nil {
		every.now = p.Base
	}
	rows := []claimRow{every}
	standard := spectrum.Rows()
	for i, r := range p.Rows() {
		if r.Flag == spectrum.None {
			continue
		}
		rows = append(rows, claimRow{flag: string(r.Flag), about: r.About, stop: r.Stop,
			now: claimTexts(r.Adds), standard: claimTexts(standard[i].Adds), remark: r.Remark})
	}
	return rows
}

func claimTexts(tokens []spectrum.Token) []string {
	var all []string
	for _, t := range tokens {
		all = append(all, string(t))
	}
	return all
}

// claimNames writes claims with their plain words, "nothing more" for none.
func claimNames(claims []string) string {
	var all []string
	for _, c := range claims {
		all = append(all, c+" ("+spectrum.Token(c).Words()+")")
	}
	if len(all) == 0 {
		return "nothing more"
	}
	return strings.Join(all, ", ")
}

func (r claimRow) notes() []string {
	if r.stop {
		return []string{"On hold: infection control decides, whatever is claimed."}
	}
	notes := []string{"Needed: " + claimNames(r.now)}
	if slices.Equal(r.now, r.standard) {
		return append(notes, "This is the default.")
	}
	return append(notes, "Default: "+claimNames(r.standard))
}

func showClaims(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	p := titledOffice("What must a disinfectant claim for each return?",
		"The claims of the procedure are always needed; these come on top.")
	if s := w.Settings.Policy; s != nil && s.Reason != "" {
		p.Lead = append(p.Lead, "The last time that less was asked for than before, it was "+
			"signed, because: "+s.Reason)
	}
	var rows []ruledLine
	for _, r := range claimRows(w.Settings.Policy) {
		line := ruledLine{Words: capital(r.about), Notes: r.notes()}
		if !r.stop && v.entitled(reprocess.ActPolicy) {
			line.To = "/claims/" + r.flag
		}
		rows = append(rows, line)
	}
	p.list("", "", rows...)
	return v.Show(p)
}

// claimRow finds the row of the address.
func (v *Visit) claimRow() (claimRow, *reprocess.Policy, error) {
	w, err := v.setUp()
	if err != nil {
		return claimRow{}, nil, err
	}
	for _, r := range claimRows(w.Settings.Policy) {
		if r.flag == v.Param("flag") && !r.stop {
			return r, w.Settings.Policy, nil
		}
	}
	return claimRow{}, nil, notFound("row of claims that can be changed")
}

func claimPage(r claimRow, picked []string, reason string) *officePage {
	p := titledOffice("What must be claimed for " + r.about + "?")
	p.Lead = []string{"Default: " + claimNames(r.standard) + "."}
	if r.remark != "" {
		p.Lead = append(p.Lead, r.remark)
	}
	f := &form{To: "/claims/" + r.flag, Act: "Ask for these claims"}
	var options []Choice
	for _, t := range spectrum.Tokens() {
		options = append(options, Choice{Value: string(t), Words: string(t), Note: t.Words()})
	}
	f.many("adds", "Claims needed besides those of the procedure", "", picked, options...)
	f.text("reason", "Reason", reason, "Only where less is asked for than now")
	secret := SignField()
	secret.Required = false
	secret.Hint = "Only where less is asked for than now"
	f.field(secret)
	p.form(f)
	return p
}

func showClaimRow(v *Visit) error {
	r, _, err := v.claimRow()
	if err != nil {
		return err
	}
	return v.Show(claimPage(r, r.now, ""))
}

// setClaimRow changes one row and leaves the others; signed when a secret was typed.
func setClaimRow(v *Visit) error {
	r, now, err := v.claimRow()
	if err != nil {
		return err
	}
	adds := v.Fields("adds")
	page := claimPage(r, adds, v.Field("reason"))
	actor := v.Actor()
	if v.raw("secret") != "" {
		if actor, err = v.Sign(); err != nil {
			return v.Refuse(err, page)
		}
	}
	next := policyWith(now, r.flag, adds)
	next.Reason = v.Field("reason")
	if _, err := v.DoAs(reprocess.SetPolicy{Policy: next}, actor); err != nil {
		return v.Refuse(err, page)
	}
	return v.Went("/claims", "The claims for "+r.about+" are kept.")
}

// policyWith is a policy with one row changed.
func policyWith(now *reprocess.Policy, flag string, adds []string) reprocess.Policy {
	var next reprocess.Policy
	if now != nil {
		next.Base = now.Base
		for _, f := range now.Flags {
			if f.Flag != flag {
				next.Flags = append(next.Flags, f)
			}
		}
	}
	if flag == everyReturn {
		next.Base = adds
		return next
	}
	next.Flags = append(next.Flags, reprocess.PolicyFlag{Flag: flag, Adds: adds})
	return next
}

// policyWords tells a change of the policy by what it now asks for beyond the default.
func policyWords(p *reprocess.Policy) string {
	words := "Claims that returns need set"
	for _, r := range claimRows(p) {
		if !slices.Equal(r.now, r.standard) {
			words += "; " + r.about + ": " + claimNames(r.now)
		}
	}
	if p != nil && p.Reason != "" {
		words += "; reason of the last loosening: " + p.Reason
	}
	return words
}
