package web

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestTheWorksheetsInABrowser opens the worksheets with answers and the claims on a phone:
// axe-core and our own checks find nothing, also at 320 px.
func TestTheWorksheetsInABrowser(t *testing.T) {
	s := newClinicSite(t)
	p := s.newPhone()
	p.signedIn("ada", bossSecret)
	for name, path := range map[string]string{
		"index": "/reckon", "label": "/reckon/label?ethanol=70+%25&min=70%25w%2Fw",
		"reading": "/reckon/reading?alcohol=ethanol&reading=70%25v%2Fv&temperature=30&glass=soda-lime&min=70%25v%2Fv",
		"refused": "/reckon/reading?alcohol=ethanol&reading=70%25v%2Fv&glass=soda-lime",
		"dilute": "/reckon/dilute?alcohol=ethanol&stock=95.1..96.9%25v%2Fv&target=70%25v%2Fv" +
			"&volume=1000mL",
		"wet": "/reckon/wet?ethanol=70%25v%2Fv&temperature=20&contact=60",
		"propanol": "/reckon/reading?alcohol=propan-2-ol&reading=73.3%25v%2Fv&temperature=20" +
			"&glass=soda-lime&min=70%25v%2Fv",
		"several": "/reckon/dilute?alcohol=several&stock=80%25w%2Fw&target=70%25w%2Fw&volume=1+kg",
		"covers":  "/reckon/claims?flag=gastro&BAC=60&YEA=60&VIR-F=300",
		"claims":  "/claims", "claims-row": "/claims/gastro",
	} {
		p.open(path)
		p.axe()
		p.width(320, 568)
		p.fits()
		p.width(360, 740)
		p.shoot("reckon-" + name)
	}
}

// On a phone the answer stands at the top of the screen after the tap, not below the fold.
func TestTheAnswerIsOnTheScreen(t *testing.T) {
	s := newClinicSite(t)
	p := s.newPhone()
	p.signedIn("ada", bossSecret)
	p.width(360, 740)
	p.open("/reckon/label")
	p.fill("Ethanol", "70 %v/v")
	p.press("Reckon")
	p.waitFor(`!!document.getElementById("answer")`)
	p.waitFor(`scrollY > 0`)
	top := ask[float64](p, `document.getElementById("answer").getBoundingClientRect().top`)
	require.Positive(t, top+1)
	require.Less(t, top, 740.0/2)
	require.Equal(t, "answer", ask[string](p, `document.activeElement.id`))
}
