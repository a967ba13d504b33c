package web

import "handback/reprocess"

// documentRulesPage asks what the clinic demands of documents.
func documentRulesPage(v *Visit, demanded bool) *officePage {
	p := titledOffice("Must instructions be on file before a cycle?",
		"Whatever is chosen, the version that counted when a cycle began stands in its record.")
	picked := "remark"
	if demanded {
		picked = "demand"
	}
	f := &form{To: "/settings/documents", Act: "Keep this"}
	f.one("instructions", "A model without instructions on file", picked,
		Choice{Value: "remark", Words: "Is told as a remark", Note: "the cycle begins all the same"},
		Choice{Value: "demand", Words: "Cannot begin a cycle", Note: "until somebody adds them"})
	f.text("reason", "Reason, if less is demanded than now", v.Field("reason"), "")
	secret := SignField()
	secret.Required, secret.Hint = false, "Only needed to demand less"
	f.field(secret)
	p.form(f)
	p.leave("/settings", "Back to the settings")
	return p
}

func showDocumentRules(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	return v.Show(documentRulesPage(v, w.Settings.NeedsInstructions()))
}

func setDocumentRules(v *Visit) error {
	demand := v.Field("instructions") == "demand"
	actor, err := v.Actor(), error(nil)
	switch {
	case !demand && v.Field("instructions") != "remark":
		err = &reprocess.Problem{Code: reprocess.Invalid, Rule: "instructions",
			Text: "It is not said what a model without instructions does.",
			Fix:  "Choose one of the two."}
	case v.raw("secret") != "":
		actor, err = v.Sign()
	}
	if err == nil {
		_, err = v.DoAs(reprocess.SetDocumentRules{DocumentRules: reprocess.DocumentRules{
			NeedInstructions: demand, Reason: v.Field("reason")}}, actor)
	}
	if err != nil {
		return v.Refuse(err, documentRulesPage(v, demand))
	}
	return v.Went("/settings/documents", "What is demanded of documents is set.")
}
