package web

import (
	"handback/reprocess"
	"handback/reprocess/spectrum"
)

const claimsSheet = "/reckon/claims"

// showReckonClaims lays the claims of a label beside what a return needs at this clinic: the
// worksheet for the question that the step answers for every container.
func showReckonClaims(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	p := titledOffice(claimsQuestion)
	f := claimsForm(v.Query)
	p.form(f)
	if !f.asked(v.Query) {
		return v.Show(p)
	}
	r, err := reckonClaims(w.Settings.Policy, v.Query)
	if err != nil {
		return v.Refuse(&reprocess.Problem{Code: reprocess.Invalid, Rule: "reckon", Err: err,
			Text: sentenceOf(err), Fix: "Change it and reckon again."}, p)
	}
	rows := []ruledLine{{Words: map[spectrum.Verdict]string{
		spectrum.Pass: "Yes: all that is needed is claimed.",
		spectrum.Fail: "No: not all that is needed is claimed.",
		spectrum.Stop: "Stop: no routine cycle, whatever is claimed.",
	}[r.Verdict]}}
	for _, why := range r.Why {
		rows = append(rows, ruledLine{Words: why})
	}
	p.answer("Answer", "", rows...)
	return v.Show(p)
}

const claimsQuestion = "Do its claims cover this return?"

func claimsForm(value func(string) string) *form {
	f := &form{To: claimsSheet + "#" + answerID, Act: "Reckon", Get: true}
	var known []Choice
	for _, r := range spectrum.Rows() {
		known = append(known, Choice{Value: string(r.Flag), Words: capital(r.About)})
	}
	f.one("flag", "What is known of the return?", value("flag"), known...)
	f.say("Claims", "The contact time in seconds for each activity that the label claims; empty where "+
		"it claims none.")
	for _, t := range spectrum.Tokens() {
		f.strength(string(t), string(t)+": "+t.Words()+", s", value(string(t)), "")
	}
	return f
}

// reckonClaims judges by the clinic's own rows and the default base set.
func reckonClaims(policy *reprocess.Policy, value func(string) string) (r spectrum.Result,
	err error) {
	flag, err := must(value, "flag", "what is known of the return", spectrum.ParseFlag)
	if err != nil {
		return r, err
	}
	var offers []spectrum.Offer
	for _, t := range spectrum.Tokens() {
		text := value(string(t))
		if text == "" {
			continue
		}
		o, err := spectrum.ParseOffer(string(t) + ":" + text)
		if err != nil {
			return r, errNamed(string(t), err)
		}
		offers = append(offers, o)
	}
	return policy.Judge([]spectrum.Flag{flag}, offers)
}
