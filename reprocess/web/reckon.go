package web

import (
	"handback/reprocess"
	"handback/reprocess/strength"
)

// A worksheet asks by its address and answers below its form. It is arithmetic: nothing is
// recorded and no entry is made.
type worksheet struct {
	path, question string
	form           func(f *form, value func(string) string)
	answer         func(value func(string) string) ([]string, error)
}

// worksheets are the calculators for alcohol, in the order they are offered.
var worksheets = []worksheet{
	{"/reckon/label", "What does the figure on the label mean?", labelForm, reckonLabel},
	{"/reckon/reading", "How strong is it really?", readingForm, reckonReading},
	{"/reckon/dilute", "How much stock and how much water?", diluteForm, reckonDilution},
	{"/reckon/wet", "Does one wipe hold long enough?", wetnessForm, reckonWetness},
}

// reckonRoutes are the pages "Reckon with alcohol".
func reckonRoutes() []Route {
	rows := []Route{office(get, "/reckon", signedIn, showReckon)}
	for _, s := range worksheets {
		rows = append(rows, office(get, s.path, signedIn, s.show))
	}
	return append(rows, office(get, claimsSheet, signedIn, showReckonClaims))
}

func showReckon(v *Visit) error {
	p := titledOffice("What do you reckon?", "Nothing here is recorded.")
	var rows []ruledLine
	for _, s := range worksheets {
		rows = append(rows, ruledLine{To: s.path, Words: s.question})
	}
	rows = append(rows, ruledLine{To: claimsSheet, Words: claimsQuestion})
	p.list("", "", rows...)
	return v.Show(p)
}

// show draws the form with what the address says and, when it says anything, the answer.
func (s worksheet) show(v *Visit) error {
	p := titledOffice(s.question)
	f := &form{To: s.path + "#" + answerID, Act: "Reckon", Get: true}
	s.form(f, v.Query)
	if !f.asked(v.Query) {
		p.form(f)
		return v.Show(p)
	}
	said, err := s.answer(v.Query)
	if err != nil {
		p.form(f)
		return v.Refuse(&reprocess.Problem{Code: reprocess.Invalid, Rule: "reckon", Err: err,
			Text: sentenceOf(err), Fix: "Change it and reckon again."}, p)
	}
	p.form(f)
	var rows []ruledLine
	for _, line := range said {
		rows = append(rows, ruledLine{Words: capital(line)})
	}
	p.answer("Answer", "", rows...)
	return v.Show(p)
}

// asked tells whether the address holds any value of the form.
func (f *form) asked(value func(string) string) bool {
	for _, x := range f.Parts {
		if x.Field != nil && value(x.Field.Name) != "" ||
			x.Choices != nil && value(x.Choices.Name) != "" {
			return true
		}
	}
	return false
}

const asPrinted = "As printed, such as 70 % v/v, 62 % w/w or 55 g/100 mL; a bare 70 % if no " +
	"basis is stated"

// alcoholFields asks for the strength of each alcohol in the product.
func alcoholFields(f *form, value func(string) string) {
	for i, a := range alcoholsAsked {
		hint := "Empty if there is none in it"
		if i == 0 {
			hint = asPrinted
		} else {
			hint = capital(everyday(a)) + "; empty if there is none in it"
		}
		f.strength(a.String(), capital(a.String()), value(a.String()), hint)
	}
}

// everyday is the name on most bottles, empty where it is the same.
func everyday(a strength.Alcohol) string {
	return map[strength.Alcohol]string{strength.Propan2ol: "isopropanol",
		strength.Propan1ol: "1-propanol"}[a]
}

var alcoholsAsked = []strength.Alcohol{strength.Ethanol, strength.Propan2ol, strength.Propan1ol}

// strength adds a field for a figure with its unit; nothing corrects what is typed.
func (f *form) strength(name, label, value, hint string) {
	x := TextField(name, label, value)
	x.Hint, x.Plain = hint, true
	f.field(x)
}

// alcoholParts reads the alcohols; at least one is needed.
func alcoholParts(value func(string) string) ([]strength.Part, error) {
	var parts []strength.Part
	for _, a := range alcoholsAsked {
		text := value(a.String())
		if text == "" {
			continue
		}
		figure, err := strength.ParseStrength(text)
		if err != nil {
			return nil, errNamed(capital(a.String()), err)
		}
		parts = append(parts, strength.Part{Alcohol: a, Figure: figure})
	}
	if len(parts) == 0 {
		return nil, errMissing("the strength of an alcohol")
	}
	return parts, nil
}

func labelForm(f *form, value func(string) string) {
	alcoholFields(f, value)
	f.strength("density", "Density at 20 °C, if the data sheet gives it", value("density"),
		"Such as 0.8765 g/mL")
	f.strength("min", "Least strength asked for", value("min"), "Such as 70 % v/v; may be empty")
	f.strength("max", "Most strength allowed", value("max"), "Such as 90 % v/v; may be empty")
}

func reckonLabel(value func(string) string) ([]string, error) {
	parts, err := alcoholParts(value)
	if err != nil {
		return nil, err
	}
	density, err := given(value, "density", "Density", strength.ParseDensity)
	if err != nil {
		return nil, err
	}
	least, err := given(value, "min", "Least strength", strength.ParseStrength)
	if err != nil {
		return nil, err
	}
	most, err := given(value, "max", "Most strength", strength.ParseStrength)
	if err != nil {
		return nil, err
	}
	v, err := strength.Judge(parts, least, most, density)
	if err != nil {
		return nil, err
	}
	if v.Composition == nil && len(parts) == 1 {
		return append(reprocess.StrengthReadings(parts[0], density), v.Lines()...), nil
	}
	return verdictFirst(v.Lines()), nil
}

// verdictFirst puts what somebody asked for before the figures it rests on.
func verdictFirst(lines []string) []string {
	last := len(lines) - 1
	return append([]string{lines[last]}, lines[:last]...)
}
