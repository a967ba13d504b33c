package web

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// reckon opens a worksheet with these inputs in its address.
func (b *browser) reckon(path string, pairs ...string) string {
	b.site.t.Helper()
	b.get(path + "?" + fields(pairs...).Encode())
	return html.UnescapeString(b.body)
}

func TestTheWorksheetsAnswer(t *testing.T) {
	s := newClinicSite(t)
	size := len(s.world().Lots)
	before, err := s.store.Size(t.Context())
	require.NoError(t, err)
	for _, x := range []struct {
		path  string
		says  []string // source beside each
		pairs []string
	}{
		// 70 % v/v is 62.39 % w/w and 55.25 g/100 mL: OIML R 22, table IVa.
		{"/reckon/label", []string{"62.39 % w/w", "55.25 g/100 mL", "Pass:"},
			[]string{"ethanol", "70%v/v", "min", "70 % v/v"}},
		// A bare 70 % may be 70, 76.95 or 88.69 % v/v (OIML R 22); against 70 % w/w undecided.
		{"/reckon/label", []string{"Undecided:", "states no basis", "77.0 % v/v", "88.7 % v/v"},
			[]string{"ethanol", "70 %", "min", "70%w/w"}},
		// 70 on the stem at 30 °C is 66.67 % v/v: OIML R 22 with the glass of R 44.
		{"/reckon/reading", []string{"66.67 % v/v (give or take 0.57)", "ethanol and water only",
			"Fail:"}, []string{"reading", "70%v/v", "alcohol", "ethanol", "temperature", "30",
			"glass", "soda-lime", "min", "70%v/v"}},
		// A stem for ethanol shows 73.3 in propan-2-ol of 70 % v/v: computed from published densities.
		{"/reckon/reading", []string{"Holds for propan-2-ol", "marked for ethanol",
			"Undecided:", "more exact reading"}, []string{"reading", "73.3%v/v", "alcohol",
			"propan-2-ol", "temperature", "20", "glass", "soda-lime", "min", "70%v/v"}},
		// 1 L of 70 from 96: 729.2 mL, water about 297.4 mL, contraction about 26.5 mL; 729.2 mL
		// with 270.8 mL of water gives 71.79 % v/v: OIML R 22.
		{"/reckon/dilute", []string{"measure 729.2 mL", "make up with water to 1000.0 mL",
			"297.", "26.", "71.79 % v/v", "lammable"}, []string{"alcohol", "ethanol", "stock",
			"96%v/v", "target", "70%v/v", "volume", "1 L"}},
		// 10 L of 75 % propan-2-ol take 7515 mL of 99.8 %: WHO guide to local production, formula 2.
		{"/reckon/dilute", []string{"measure 7515.0 mL", "a stem marked for ethanol should show 78.3"},
			[]string{"alcohol", "propan-2-ol", "stock", "99.8%v/v", "target", "75%v/v", "volume", "10 L"}},
		// 700 g of alcohol are in 875 g at 80 %: balance of masses by hand.
		{"/reckon/dilute", []string{"eigh 875.0 g of stock", "several alcohols apart"},
			[]string{"alcohol", "several", "stock", "80 % w/w", "target", "70%w/w", "volume", "1 kg"}},
		// Pharmacopoeial 96 % is 95.1 to 96.9: planned with 95.1.
		{"/reckon/dilute", []string{"low end of the stock, 95.10 % v/v"}, []string{"alcohol",
			"ethanol", "stock", "95.1..96.9%v/v", "target", "70%v/v", "volume", "1000mL"}},
		// 10 g/m2 of ethanol 70 % at 20 °C holds about 35 s, 17 to 69 s: too short for 60 s for
		// sure only beyond the band. Computed elsewhere, no measurement of the case exists.
		{"/reckon/wet", []string{"Doubtful:", "about 35 s", "no measurement"}, []string{"ethanol",
			"70%v/v", "grams", "10", "temperature", "20", "contact", "60"}},
		{"/reckon/wet", []string{"Likely:"}, []string{"ethanol", "70%v/v", "grams", "40",
			"temperature", "20", "contact", "60"}},
		{"/reckon/wet", []string{"Unlikely:"}, []string{"ethanol", "70%v/v", "grams", "5",
			"temperature", "20", "contact", "60"}},
		// An unknown film: a factor of three either way, 35 s is 12 to 104 s.
		{"/reckon/wet", []string{"Doubtful:", "could be 12 s or 10"}, []string{"ethanol", "70%v/v",
			"temperature", "20", "contact", "60"}},
	} {
		body := s.b.reckon(x.path, x.pairs...)
		require.Equal(t, http.StatusOK, s.b.status, body)
		for _, says := range x.says {
			require.Contains(t, strings.ReplaceAll(body, "Measure", "measure"), says, "%v", x.pairs)
		}
		require.Contains(t, body, `value="`+x.pairs[1]+`"`, "what was typed stands in the form")
	}
	after, err := s.store.Size(t.Context())
	require.NoError(t, err)
	require.Equal(t, before, after, "reckoning makes no entry")
	require.Len(t, s.world().Lots, size)
}

func TestTheWorksheetsRefuseInASentence(t *testing.T) {
	s := newClinicSite(t)
	stem := []string{"reading", "70%v/v", "alcohol", "ethanol", "temperature", "20", "glass", "soda-lime"}
	mix := []string{"alcohol", "ethanol", "stock", "96%v/v", "target", "70%v/v", "volume", "1000mL"}
	wet := []string{"ethanol", "70%v/v", "temperature", "20", "contact", "60"}
	label := []string{"ethanol", "70%v/v"}
	for _, x := range []struct {
		path, name, value, says string
		pairs                   []string
	}{
		{"/reckon/label", "ethanol", "", "strength of an alcohol is missing",
			append(label, "min", "70%v/v")},
		{"/reckon/label", "ethanol", "70", "Ethanol:", label},
		{"/reckon/label", "ethanol", "٧٠%v/v", "Ethanol:", label},
		{"/reckon/label", "ethanol", "101%v/v", "Ethanol:", label},
		{"/reckon/label", "density", "876.5", "Density:", label},
		{"/reckon/label", "max", "NaN%v/v", "Most strength:", label},
		{"/reckon/label", "min", "70 %", "basis", label},
		{"/reckon/reading", "reading", "", "reading is missing", stem},
		{"/reckon/reading", "alcohol", "", "alcohol is missing", stem},
		{"/reckon/reading", "temperature", "", "temperature is missing", stem},
		{"/reckon/reading", "glass", "", "material of the instrument is missing", stem},
		{"/reckon/reading", "glass", "plastic", "lastic", stem},
		{"/reckon/reading", "temperature", "41", "40", stem},
		{"/reckon/reading", "reading", "700kg/m3", "outside the table", stem},
		{"/reckon/dilute", "target", "96%v/v", "stock", mix},
		{"/reckon/dilute", "min", "75%v/v", "75", mix},
		{"/reckon/dilute", "volume", "1,000mL", "1", mix},
		{"/reckon/dilute", "alcohol", "", "alcohol is missing", mix},
		{"/reckon/dilute", "alcohol", "several", "write it as 1000g", mix},
		{"/reckon/wet", "temperature", "", "temperature is missing", wet},
		{"/reckon/wet", "contact", "", "contact time is missing", wet},
		{"/reckon/wet", "contact", "0", "whole number of seconds", wet},
		{"/reckon/wet", "contact", "3601", "whole number of seconds", wet},
		{"/reckon/wet", "ethanol", "70%", "asis", wet},
	} {
		q := fields(x.pairs...)
		q.Set(x.name, x.value)
		s.b.get(x.path + "?" + q.Encode())
		body := html.UnescapeString(s.b.body)
		require.Equal(t, http.StatusBadRequest, s.b.status, "%v", x)
		require.Contains(t, body, x.says, "%v", x)
		require.NotContains(t, body, ">Answer<")
		if x.value != "" && !strings.Contains("ethanol plastic several", x.value) {
			require.Contains(t, body, `value="`+x.value+`"`, "what was typed is kept")
		}
	}
}

// The tokens, the flags and what they demand: CDC 2008 and EN test map, as in package spectrum.
func TestTheWorksheetOfClaims(t *testing.T) {
	s := newClinicSite(t)
	for _, x := range []struct {
		says  []string
		pairs []string
	}{
		{[]string{"Yes: all that is needed", "VIR-L is covered by VIR-F, claimed at 300 s.",
			"Keep the surface wet for 300 s"}, []string{"flag", "gastro", "BAC", "60", "YEA", "60",
			"VIR-F", "300"}},
		{[]string{"No: not all", "SPO (spores) is needed and not claimed."},
			[]string{"flag", "c-difficile", "BAC", "60", "YEA", "60"}},
		{[]string{"Stop: no routine cycle", "ask infection control"}, []string{"flag", "prion", "BAC", "60"}},
	} {
		body := s.b.reckon(claimsSheet, x.pairs...)
		require.Equal(t, http.StatusOK, s.b.status)
		for _, says := range x.says {
			require.Contains(t, body, says, "%v", x.pairs)
		}
	}
	for _, x := range [][]string{{"BAC", "60"}, {"flag", "rum", "BAC", "60"}, {"flag", "none", "BAC", "0"},
		{"flag", "none", "BAC", "1.5"}, {"flag", "none", "BAC", "٦٠"}, {"flag", "none", "BAC", "-1"}} {
		body := s.b.reckon(claimsSheet, x...)
		require.Equal(t, http.StatusBadRequest, s.b.status, "%v", x)
		require.NotContains(t, body, ">Answer<")
	}
	// What the clinic demands on top counts here too.
	s.b.done("/claims/every-return", "/claims/every-return", "adds", "MYC")
	require.Contains(t, s.b.reckon(claimsSheet, "flag", "none", "BAC", "60", "YEA", "60"),
		"MYC (mycobacteria) is needed and not claimed.")
	s.b.get("/reckon")
	require.Contains(t, s.b.body, `href="`+claimsSheet+`"`)
}

func TestTheWorksheetsStandUnderSupplies(t *testing.T) {
	s := newClinicSite(t)
	desk := s.person("Dario Moss", "dario", reprocess.RoleFrontDesk)
	desk.get("/supplies")
	require.Contains(t, desk.body, `href="/reckon"`)
	desk.get("/reckon")
	for _, sheet := range worksheets {
		require.Contains(t, desk.body, `href="`+sheet.path+`"`)
		desk.get(sheet.path)
		require.Equal(t, http.StatusOK, desk.status)
		require.Contains(t, desk.body, `method="get"`)
		require.NotContains(t, desk.body, ">Answer<")
		require.Less(t, len(desk.body), 14<<10, "a page stays light")
		desk.get("/reckon")
	}
	nobody := s.browser()
	nobody.get("/reckon/label?" + url.Values{"ethanol": {"70%v/v"}}.Encode())
	require.NotContains(t, nobody.body, "62.39")
}

// The answer stands below the form: the form leads to it and keeps what was typed; a refusal
// has no answer to lead to.
func TestTheAnswerIsLedTo(t *testing.T) {
	s := newClinicSite(t)
	said := s.b.reckon("/reckon/label", "ethanol", "70 %v/v")
	require.Contains(t, said, `action="/reckon/label#answer"`)
	require.Contains(t, said, `<h2 id="answer" tabindex="-1" data-focus>Answer</h2>`)
	require.Contains(t, said, `value="70 %v/v"`)
	require.Equal(t, 1, strings.Count(said, "data-focus"))
	said = s.b.reckon("/reckon/label", "ethanol", "70")
	require.NotContains(t, said, `id="answer"`)
	require.Contains(t, said, `value="70"`)
	require.Equal(t, 1, strings.Count(said, "data-focus"), "the notice alone")
	require.NotContains(t, s.b.reckon("/reckon/label"), "data-focus")
}
