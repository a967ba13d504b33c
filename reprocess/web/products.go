package web

import (
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/spectrum"
	"handback/reprocess/strength"
)

func showProducts(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	p := titledOffice("Which disinfectant?")
	var rows []ruledLine
	for _, d := range productsOf(w) {
		line := ruledLine{To: "/product/" + d.ID, Words: d.Name, Notes: []string{activesWords(d)}}
		if d.Retired {
			line.Notes = append(line.Notes, "no longer used")
		}
		rows = append(rows, line)
	}
	p.list("", "None is described yet.", rows...)
	if v.entitled(reprocess.ActProduct) {
		p.act("/products/new", "Describe a disinfectant")
	}
	return v.Show(p)
}

func activesWords(d *reprocess.Product) string {
	var all []string
	for _, a := range d.Actives {
		all = append(all, a.Agent+" "+a.Strength)
	}
	return strings.Join(all, ", ")
}

func showProduct(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	d := w.Products[v.Param("id")]
	if d == nil {
		return notFound("disinfectant")
	}
	p := titledOffice(d.Name, useWords[d.Use])
	p.list("Agents", "", ruledLine{Words: activesWords(d), Notes: strengthLines(d)})
	p.list("Claims", "None is recorded.", claimLines(d)...)
	p.list("Suits", "No model is listed: it cannot be used on any.", suitLines(w, d)...)
	p.list("", "", v.documentsLine(w, aboutProduct(d.ID)))
	var remarks []ruledLine
	for _, r := range productRemarks(d) {
		remarks = append(remarks, ruledLine{Words: r})
	}
	p.list("Remarks", "Nothing is missing.", remarks...)
	switch {
	case d.Use == reprocess.MadeHere && v.entitled(reprocess.ActBatch):
		p.act("/batch?product="+d.ID, "Prepare a batch of it")
	case v.entitled(reprocess.ActLot):
		p.act("/lots/new?kind=disinfectant&product="+d.ID, "Record a lot of it")
	}
	if v.entitled(reprocess.ActProduct) {
		p.act("/product/"+d.ID+"/change", "Change the description")
	}
	return v.Show(p)
}

func claimLines(d *reprocess.Product) []ruledLine {
	var rows []ruledLine
	for _, c := range d.Claims {
		rows = append(rows, ruledLine{Words: c.Token + " in " + spoken(c.Seconds),
			Notes: []string{spectrum.Token(c.Token).Words(),
				orText(c.Standard, "test not recorded") + ", " + soilWords(c.Soil)}})
	}
	if d.AsWritten != "" {
		rows = append(rows, ruledLine{Words: "As in the instructions, " + d.AsWritten,
			Notes: []string{orNone(d.WrittenS, "s of contact time", "without a time")}})
	}
	return rows
}

func soilWords(soil string) string {
	return map[string]string{"clean": "clean conditions", "dirty": "dirty conditions",
		"": "soil not recorded"}[soil]
}

func suitLines(w *reprocess.World, d *reprocess.Product) []ruledLine {
	var rows []ruledLine
	for _, m := range modelsOf(w) {
		if slices.Contains(d.Models, m.ID) {
			rows = append(rows, ruledLine{Words: m.Name})
		}
	}
	return rows
}

// productRemarks says what is not recorded. Only what the gate needs stops anything.
func productRemarks(d *reprocess.Product) []string {
	all := d.FigureDoubts()
	if d.OpenDays == 0 {
		all = append(all, "Days after opening are not recorded: no container of it can be used.")
	}
	if len(d.Models) == 0 {
		all = append(all, "No compatible model is recorded: it cannot be used on any.")
	}
	if d.HandRub {
		all = append(all, "It is a hand rub: for hands, not for devices.")
	}
	if d.DensityKg == "" {
		all = append(all, "The density is not recorded; a measured one can decide what a figure "+
			"without basis means.")
	}
	for _, c := range d.Claims {
		if c.Standard == "" || c.Soil == "" {
			all = append(all, "Test or soil of the claim "+c.Token+" is not recorded.")
		}
	}
	if d.Sheet == "" {
		all = append(all, "No data sheet is attached: add it under Documents.")
	}
	if d.Basis == "" {
		all = append(all, "The legal basis is not recorded.")
	}
	return append(all, d.Doubts()...)
}

var useWords = map[reprocess.ProductUse]string{reprocess.ReadyToUse: "Ready to use, liquid",
	reprocess.Concentrate: "Concentrate, to be diluted", reprocess.SoakedWipe: "Soaked wipe",
	reprocess.DryWipe:  "Dry wipe, soaked on site",
	reprocess.MadeHere: "Prepared here from a concentrate"}

var agentList = []spectrum.Agent{spectrum.Ethanol, spectrum.Propan2ol, spectrum.Propan1ol,
	spectrum.Quat, spectrum.Chlorine, spectrum.Peroxide, spectrum.Peracetic, spectrum.Other}

func productPage(w *reprocess.World, d reprocess.Product) *officePage {
	p := titledOffice("What do label and data sheet say?",
		"Only what is printed. What is left empty stands as not recorded.")
	f := &form{To: "/products/new", Act: "Keep this disinfectant"}
	if d.ID != "" {
		f.To = "/product/" + d.ID + "/change"
	}
	f.must("name", "Name", d.Name, "Up to 60 characters")
	var uses []Choice
	for _, u := range []reprocess.ProductUse{reprocess.ReadyToUse, reprocess.Concentrate,
		reprocess.SoakedWipe, reprocess.DryWipe, reprocess.MadeHere} {
		uses = append(uses, Choice{Value: string(u), Words: useWords[u]})
	}
	f.one("use", "How does it come?", string(d.Use), uses...)
	f.say("Agents", "Figure and basis as printed, such as 70%v/v, 62.4%w/w, or 70% if none is "+
		"stated. Empty: not in it.")
	for _, a := range agentList {
		hint := ""
		if which, err := strength.ParseAlcohol(string(a)); err == nil {
			hint = capital(everyday(which))
		}
		f.text("agent."+string(a), agentWords[a], strengthOf(d.Actives, string(a)), hint)
	}
	for _, a := range alcoholsAsked {
		f.text("also."+a.String(), capital(a.String())+", second figure", strengthOf(d.Also, a.String()),
			"If the label gives two, such as 62.4%w/w beside 70%v/v: they are compared")
	}
	f.text("density", "Density of the liquid", d.DensityKg, "From the data sheet, such as 0.8765g/mL")
	f.say("Claims", "Seconds for each activity the label claims; empty where it claims none.")
	for _, token := range spectrum.Tokens() {
		claimFields(f, token, claimOf(&d, token))
	}
	f.text("as_written", "In place of claims: as in the instructions of the device", d.AsWritten,
		"The page, such as page 14; has to be signed below")
	f.number("written_s", "Contact time those instructions name, s", d.WrittenS, "")
	var models []Choice
	for _, m := range modelsOf(w) {
		if !m.Retired || slices.Contains(d.Models, m.ID) {
			models = append(models, Choice{Value: m.ID, Words: m.Name, Note: string(m.Kind)})
		}
	}
	if len(models) > 0 {
		f.many("models", "Which models does their maker allow it on?", "", d.Models, models...)
	}
	f.number("open_days", "Days it may be used after opening, or after preparing it here",
		d.OpenDays, "From the label or the data sheet; without it none of it can be used")
	f.number("least", "Unopened containers to be kept", d.Least,
		"Below it the morning page says so; empty: none stated")
	f.text("basis", "Legal basis", d.Basis, "As the label says, free text")
	f.tick("hand_rub", "For hands", "It is a hand rub", d.HandRub)
	if d.ID != "" {
		f.tick("retired", "No longer used", "No new lots of it", d.Retired)
	}
	secret := SignField()
	secret.Required = false
	secret.Hint = "Only for \"as in the instructions\""
	f.field(secret)
	p.form(f)
	return p
}

var agentWords = map[spectrum.Agent]string{spectrum.Ethanol: "Ethanol",
	spectrum.Propan2ol: "Propan-2-ol", spectrum.Propan1ol: "Propan-1-ol",
	spectrum.Quat: "Quaternary ammonium compound", spectrum.Chlorine: "Chlorine",
	spectrum.Peroxide: "Hydrogen peroxide", spectrum.Peracetic: "Peracetic acid",
	spectrum.Other: "Another agent"}

func claimFields(f *form, token spectrum.Token, c reprocess.Claim) {
	name := "claim." + string(token)
	f.say(string(token)+": "+token.Words(), "")
	f.number(name+".s", "Seconds", c.Seconds, "")
	f.text(name+".standard", "Test", c.Standard, "Such as EN 16615; empty: not recorded")
	f.choices(Choices{Name: name + ".soil", Legend: "Soil", Options: []Choice{
		{Value: "", Words: "Not recorded"}, {Value: "clean", Words: "Clean conditions"},
		{Value: "dirty", Words: "Dirty conditions"}}}.Pick(c.Soil))
}

func strengthOf(list []reprocess.Active, agent string) string {
	for _, a := range list {
		if a.Agent == agent {
			return a.Strength
		}
	}
	return ""
}

func claimOf(d *reprocess.Product, token spectrum.Token) reprocess.Claim {
	for _, c := range d.Claims {
		if c.Token == string(token) {
			return c
		}
	}
	return reprocess.Claim{}
}

func showNewProduct(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	return v.Show(productPage(w, reprocess.Product{}))
}

func showProductChange(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	d := w.Products[v.Param("id")]
	if d == nil {
		return notFound("disinfectant")
	}
	return v.Show(productPage(w, *d))
}

// setProduct keeps a disinfectant, new (no id) or changed; signed when a secret was typed.
func setProduct(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	d, err := v.typedProduct(w)
	page := productPage(w, d)
	if err != nil {
		return v.Refuse(err, page)
	}
	actor := v.Actor()
	if v.Field("secret") != "" {
		if actor, err = v.Sign(); err != nil {
			return v.Refuse(err, page)
		}
	}
	if _, err := v.DoAs(reprocess.SetProduct{Product: d}, actor); err != nil {
		return v.Refuse(err, page)
	}
	say := d.Name + " is kept."
	if doubts := d.FigureDoubts(); len(doubts) > 0 {
		say += " " + strings.Join(doubts, " ")
	}
	return v.Went("/products", say)
}

func (v *Visit) typedProduct(w *reprocess.World) (reprocess.Product, error) {
	t := v.typing()
	d := reprocess.Product{ID: v.Param("id"), Name: t.text("name"),
		Use: reprocess.ProductUse(t.text("use")), DensityKg: t.text("density"),
		Basis: t.text("basis"), AsWritten: t.text("as_written"), Models: v.Fields("models"),
		WrittenS: t.whole("written_s", "Contact time of the instructions"),
		OpenDays: t.whole("open_days", "Days after opening"),
		Least:    t.whole("least", "Unopened containers to be kept"),
		HandRub:  t.yes("hand_rub"), Retired: t.yes("retired")}
	if old := w.Products[d.ID]; old != nil {
		d.Sheet = old.Sheet
	}
	for _, a := range agentList {
		if text := t.text("agent." + string(a)); text != "" {
			d.Actives = append(d.Actives, reprocess.Active{Agent: string(a), Strength: text})
		}
	}
	for _, a := range alcoholsAsked {
		if text := t.text("also." + a.String()); text != "" {
			d.Also = append(d.Also, reprocess.Active{Agent: a.String(), Strength: text})
		}
	}
	for _, token := range spectrum.Tokens() {
		name := "claim." + string(token)
		text := t.text(name + ".s")
		if text == "" {
			continue
		}
		d.Claims = append(d.Claims, reprocess.Claim{Token: string(token),
			Seconds:  t.whole(name+".s", "Seconds of "+string(token)),
			Standard: t.text(name + ".standard"), Soil: t.text(name + ".soil")})
	}
	return d, t.err()
}

// strengthLines says what the printed figure of each alcohol means in the other units.
func strengthLines(d *reprocess.Product) []string {
	all := d.StrengthWords()
	if len(all) == 0 {
		return []string{"No alcohol: judged by its claims alone."}
	}
	return all
}
