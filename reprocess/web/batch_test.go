package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// stocked describes a concentrate and what is made of it here by the pages; it gives the two
// products, and the lot of the stock.
func (s *clinicSite) stocked() (stock, made, lot string) {
	s.t.Helper()
	s.b.done("/products/new", "/products/new", "name", "Ethanol 96", "use", "concentrate",
		"agent.ethanol", "95.1..96.9%v/v", "claim.BAC.s", "60", "claim.YEA.s", "60",
		"open_days", "365")
	s.b.done("/products/new", "/products/new", "name", "Ethanol 75, made here", "use", "made_here",
		"agent.ethanol", "75%v/v", "claim.BAC.s", "60", "claim.YEA.s", "60",
		"models", s.recorder, "models", s.phone, "open_days", "7")
	for id, d := range s.world().Products {
		switch d.Use {
		case reprocess.Concentrate:
			stock = id
		case reprocess.MadeHere:
			made = id
		}
	}
	s.b.done("/lots/new", "/lots/new", "kind", "disinfectant", "product", stock, "number", "S1",
		"expiry", "2027-11-30")
	for id, l := range s.world().Lots {
		if l.Product == stock {
			lot = id
		}
	}
	return stock, made, lot
}

// Plan, weigh in, read, print: a batch from the first question to its label.
func TestABatchByThePages(t *testing.T) {
	s := newClinicSite(t)
	b := s.b
	b.get("/batch")
	require.Contains(t, b.body, "Nothing is described as prepared here")
	_, made, lot := s.stocked()
	b.get("/supplies")
	require.Contains(t, b.body, `href="/batch"`)
	b.get("/batch?product=" + made)
	require.Contains(t, b.body, "Ethanol 96, lot S1, no sticker")
	require.Contains(t, b.body, `value="75%v/v"`)

	// The plan counts with 95.1: V q2/q1 is 788.6 mL; what is typed stays.
	ask := "/batch?product=" + made + "&stock=lot+" + lot + "&target=75%25v%2Fv&volume=1+L"
	b.get(ask)
	require.Contains(t, b.body, "Measure 788.6 mL of stock")
	require.Contains(t, b.body, "low end of the stock")
	require.Contains(t, b.body, "Throw it away after 1 Dec 2026.")
	require.Contains(t, b.body, `id="answer"`)
	for _, x := range []struct{ address, says string }{
		{"&target=60%25v%2Fv&volume=1+L", "Aim at another strength."},
		{"&target=75%25&volume=1+L", "basis"}, {"&target=75%25v%2Fv&volume=1", "unit"},
	} {
		b.get("/batch?product=" + made + "&stock=lot+" + lot + x.address)
		require.GreaterOrEqual(t, b.status, 400)
		require.Contains(t, b.body, x.says)
		require.NotContains(t, b.body, "What really went in?")
	}

	typed := []string{"product", made, "stock", "lot " + lot, "target", "75%v/v", "volume", "1 L"}
	b.refused("What went in of water", ask, "/batch", append(typed, "in_stock", "639.6 g",
		"in_water", "233.2")...)
	require.Contains(t, b.body, `value="639.6 g"`, "what was typed stays")
	require.Contains(t, b.body, "Measure 788.6 mL of stock")
	at := b.done(ask, "/batch", append(typed, "in_stock", "639.6 g", "in_water", "233.2 g")...)
	require.True(t, strings.HasSuffix(at, "/reading"), at)
	con := strings.TrimSuffix(at, "/reading")
	b.get(con)
	require.Contains(t, b.body, "Nobody has read its strength: it cannot be used yet.")
	require.Contains(t, b.body, "Went in: 639.6g and 233.2g.")
	b.get("/supplies")
	require.Contains(t, b.body, "nobody has read its strength.")

	b.refused("temperature is missing", at, at, "reading", "75%v/v", "glass", "soda-lime")
	require.Contains(t, b.body, `value="75%v/v"`)
	b.refused("outside", at, at, "reading", "780kg/m3", "temperature", "20", "glass", "none")
	b.done(at, at, "reading", "77%v/v", "temperature", "25", "glass", "soda-lime")
	b.get(con)
	require.Contains(t, b.body, "75.4") // 77 read at 25 °C: OIML R 22, about 75.4 % v/v
	require.NotContains(t, b.body, "do not agree")
	require.Contains(t, b.body, "Yes. Keep it wet for 1 min.")
	b.done("/labels"+con, "/labels/again"+con, "reason", "first label")
	b.get("/labels" + con)
	b.get(b.header.Get("Location"))
	require.Equal(t, http.StatusOK, b.status)

	// A weak control reading stops it, says where it is and lists the kits.
	to := b.done(at, at, "reading", "70%v/v", "temperature", "25", "glass", "soda-lime")
	require.True(t, strings.HasSuffix(to, "/reach"), to)
	b.get(to)
	require.Contains(t, b.body, "Too weak by a reading")
	require.Contains(t, b.body, "0 out, 0 ready, 0 in work.")
	b.get(con)
	require.Contains(t, b.body, "do not agree")
	require.Contains(t, b.body, "Do not use it.")
	b.get(con + "/used")
	require.Contains(t, b.body, "No kit was wiped with it.")
	b.get("/lot/" + lot)
	require.Contains(t, b.body, "Prepared from it here")

	desk := s.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
	desk.get("/batch")
	require.Equal(t, http.StatusForbidden, desk.status)
	desk.get(at)
	require.Equal(t, http.StatusForbidden, desk.status)
}

// The kits that a lot touched are listed with the day they are due and without their wearers.
func TestWhereAStoppedLotWent(t *testing.T) {
	c := newClinic(t)
	tub := c.world().Containers[c.tub]
	at := "/lot/" + tub.Lot + "/reach"
	c.release()
	b := c.bench
	b.still("ben")
	b.get(at)
	require.Contains(t, b.body, "0 out, 1 ready, 0 in work.")
	require.Contains(t, b.body, "It is not stopped")
	b.get("/container/" + c.tub + "/used")
	require.Regexp(t, `Entry \d+, by `, b.body)
	require.Contains(t, b.body, `href="/kit/`+c.kit+`/history"`)
	d := newClinic(t)
	d.handedOut()
	d.bench.still("ben")
	d.bench.get("/lot/" + d.world().Containers[d.tub].Lot + "/reach")
	require.Contains(t, d.bench.body, "1 out, 0 ready, 0 in work.")
	require.Contains(t, d.bench.body, "due 1 Dec 2026")
	require.NotContains(t, d.bench.body, "A-1044", "no wearer")
}
